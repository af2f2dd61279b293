"""Logs with something missing: what can still be told is told, and what cannot says why.

The sample study's readings, with a channel taken out of a part of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import polars as pl
import pytest
from sample_study import SAMPLE

from gearing.analysis.fuel import FuelFinding, find_fuel
from gearing.analysis.speed import find_speed
from gearing.analysis.trip_figures import TripFigures, road_steps_of, trip_figures
from gearing.logs.read import read_log
from gearing.logs.weather import read_weather
from gearing.messages import Items, Message, message
from gearing.run.analyze import conclude
from gearing.study import load_study
from gearing.study.model import Load, Study
from gearing.trips.declared import Declared
from gearing.trips.join import group_recordings
from gearing.trips.record import records_of

pytestmark = pytest.mark.drill

Samples = pl.DataFrame
Damage = Callable[[str, str, Samples], Samples]


@pytest.fixture(scope="module")
def study() -> Study:
    return load_study(SAMPLE / "study.toml")


@pytest.fixture(scope="module")
def logs(study: Study) -> list[tuple[str, str, Samples]]:
    return [
        (side, path.stem, read_log(path, rules=study.columns, time_zone=study.time_zone).samples)
        for side in ("before", "after")
        for path in sorted((SAMPLE / side).glob("*.csv"))
    ]


class _Sampled:
    def __init__(self, file: str, samples: Samples) -> None:
        self.file, self.samples = file, samples


def answered(
    study: Study,
    logs: list[tuple[str, str, Samples]],
    damage: Damage | None = None,
    *,
    weather: pl.DataFrame | None = None,
) -> tuple[FuelFinding, TripFigures]:
    records = [
        record
        for side, name, samples in logs
        for record in records_of(
            [_Sampled(name, samples if damage is None else damage(side, name, samples))],
            Declared.of(study),
            side=side,  # type: ignore[arg-type]
            name=name,
        )
    ]
    figures = trip_figures(study, records)
    found = find_fuel(
        study,
        figures.trips,
        road_steps_of(records, figures),
        odometer=find_speed(study, records, figures).odometer_factor,
        fillups=None,
        weather=weather,
    )
    return found, figures


@pytest.fixture(scope="module")
def whole(study: Study, logs: list[tuple[str, str, Samples]]) -> FuelFinding:
    return answered(study, logs)[0]


def codes(found: FuelFinding) -> set[str]:
    return {warning.code for warning in found.warnings}


def without(*names: str) -> Callable[[Samples], Samples]:
    return lambda samples: samples.drop(names, strict=False)


def test_a_side_without_a_receiver_has_no_true_distance(
    study: Study, logs: list[tuple[str, str, Samples]], whole: FuelFinding
) -> None:
    blind = without("latitude_deg", "longitude_deg", "altitude_m", "gps_speed_mps")
    found, figures = answered(study, logs, lambda side, _, s: blind(s) if side == "after" else s)
    change = found.change_percent
    for estimate in (change.true_distance, change.matched, change.adjusted):
        assert estimate.value is None
        periods = Items((message("period/after"),))
        assert estimate.why == message("distance-not-known", periods=periods)
    # without a receiver nothing tells that whole units were cut, a hundredth of the speed
    assert change.indicated.value == pytest.approx(whole.change_percent.indicated.value, abs=1.5)
    assert found.verdict == "cannot tell yet"
    assert found.sides.after.true_km is None
    assert found.sides.after.liters_per_100km is None
    assert "roads-not-shared" not in codes(found)
    after = figures.trips.filter(pl.col("side") == "after")
    assert after["true_m"].null_count() == after.height


def test_road_without_a_logged_speed_is_drawn_up_for_the_dash(
    study: Study, logs: list[tuple[str, str, Samples]], whole: FuelFinding
) -> None:
    def holed(side: str, _: str, samples: Samples) -> Samples:
        if side == "before":
            return samples
        row = pl.int_range(pl.len())
        lost = (row > 400) & (row < 1000)
        return samples.with_columns(pl.when(~lost).then("indicated_speed_mps"))

    found, figures = answered(study, logs, holed)
    assert found.change_percent.indicated.value == pytest.approx(
        whole.change_percent.indicated.value, abs=0.3
    )
    trips = figures.trips.filter(pl.col("odometer_factor").is_not_null() & pl.col("used"))
    ratio = trips["true_m"] / trips["indicated_m"] / trips["odometer_factor"]
    assert ratio.min() > 0.99
    assert ratio.max() < 1.01


def test_a_trip_that_logs_no_speed_burns_nothing_for_the_dash(
    study: Study, logs: list[tuple[str, str, Samples]], whole: FuelFinding
) -> None:
    """Its litres without its miles made the dash's figure worse by a third."""
    names = [name for side, name, _ in logs if side == "after"][:6]
    silent = without("indicated_speed_mps")
    found, _ = answered(study, logs, lambda _, name, s: silent(s) if name in names else s)
    value = found.change_percent.indicated.value
    assert value == pytest.approx(whole.change_percent.indicated.value, abs=4.0)


def test_a_fuel_rate_that_stands_at_zero_was_not_measured(
    study: Study, logs: list[tuple[str, str, Samples]]
) -> None:
    day = max(name[:10] for side, name, _ in logs if side == "after")

    def dead(_: str, name: str, samples: Samples) -> Samples:
        if not name.startswith(day):
            return samples
        return samples.with_columns(pl.col("fuel_rate_lph") * 0.0)

    found, _ = answered(study, logs, dead)
    left, _ = answered(study, [log for log in logs if not log[1].startswith(day)])
    assert found.change_percent.true_distance == left.change_percent.true_distance
    assert found.change_percent.adjusted.value == pytest.approx(
        left.change_percent.adjusted.value, abs=0.2
    )
    assert found.set_apart_km["no fuel logged"] > 20


def test_without_any_temperature_the_same_roads_are_still_compared(
    study: Study, logs: list[tuple[str, str, Samples]], whole: FuelFinding
) -> None:
    """The climate of the latitude and the dates stands in, within a range."""
    cold = without("ambient_temperature_c")
    found, _ = answered(study, logs, lambda _, __, s: cold(s))
    assert found.change_percent.matched.value == pytest.approx(
        whole.change_percent.matched.value, abs=1e-9
    )
    told, bare = whole.change_percent.adjusted, found.change_percent.adjusted
    assert bare.high - bare.low > told.high - told.low
    assert bare.value == pytest.approx(told.value, abs=1.0)
    assert "temperature-unknown" in codes(found)
    assert "roads-not-shared" not in codes(found)
    assert found.segments["temperature_c"].null_count() == found.segments.height


def test_a_dash_whose_unit_is_in_doubt_tells_no_consumption(
    study: Study, logs: list[tuple[str, str, Samples]], whole: FuelFinding
) -> None:
    """Kilometres an hour named miles: by the dash alone a third of the fuel went nowhere."""
    records = [
        record
        for side, name, samples in logs
        for record in records_of(
            [_Sampled(name, samples.with_columns(pl.col("indicated_speed_mps") * 1.609344))],
            Declared.of(study),
            side=side,  # type: ignore[arg-type]
            name=name,
        )
    ]
    fuel = conclude(study, (), group_recordings([]), records).fuel
    assert fuel.change_percent.indicated.value is None
    assert "no change of tires" in str(fuel.change_percent.indicated.why)
    assert fuel.parts == ()
    assert fuel.change_percent.true_distance.value == pytest.approx(
        whole.change_percent.true_distance.value, abs=0.3
    )


def towed(study: Study, logs: list[tuple[str, str, Samples]], hour: int) -> Study:
    """With a trailer on the after days from some hour on."""
    days = sorted({s["time"][0].date() for side, _, s in logs if side == "after"})
    first = [min(s["time"][0] for _, _, s in logs if s["time"][0].date() == d) for d in days]
    loads = tuple(
        Load(start=at + timedelta(hours=hour), end=at + timedelta(hours=14), towing=True)
        for at in first
    )
    return replace(study, loads=loads)


@pytest.mark.parametrize("hour", [0, 1])
def test_a_trailer_on_one_side_is_not_the_tires_doing(
    study: Study, logs: list[tuple[str, str, Samples]], hour: int
) -> None:
    """Hitched up before or after the day's first trip began; 15 % more fuel with it."""
    thirsty, _ = answered(
        towed(study, logs, hour),
        logs,
        lambda side, _, s: s.with_columns(pl.col("fuel_rate_lph") * 1.15) if side == "after" else s,
    )
    assert "towing-differs" in codes(thirsty)
    assert thirsty.verdict == "cannot tell yet"
    assert isinstance(thirsty.verdict_why, Message)
    assert thirsty.verdict_why.topic == "towing-differs"
    assert thirsty.change_percent.adjusted.value is None


def test_days_that_are_not_compared_count_no_load(
    study: Study, logs: list[tuple[str, str, Samples]]
) -> None:
    """A trailer on days whose fuel nobody logged spoils nothing."""
    days = sorted({s["time"][0].date() for side, _, s in logs if side == "before"})[:2]
    loads = tuple(
        Load(
            start=min(s["time"][0] for _, _, s in logs if s["time"][0].date() == day),
            end=max(s["time"][-1] for _, _, s in logs if s["time"][0].date() == day),
            towing=True,
        )
        for day in days
    )
    dry = without("fuel_rate_lph", "fuel_used_l", "mass_air_flow_gps")
    found, _ = answered(
        replace(study, loads=loads),
        logs,
        lambda _, __, s: dry(s) if s["time"][0].date() in days else s,
    )
    assert "towing-differs" not in codes(found)
    assert found.change_percent.adjusted.known


def test_a_weather_file_of_one_side_is_not_compared_with_none(
    study: Study, logs: list[tuple[str, str, Samples]]
) -> None:
    assert study.weather is not None
    weather = read_weather(study.weather, study.time_zone, study.columns).frame
    first_after = min(s["time"][0] for side, _, s in logs if side == "after")
    late = weather.filter(pl.col("time") > first_after - timedelta(hours=6))
    whole, _ = answered(study, logs, weather=weather)
    half, _ = answered(study, logs, weather=late)
    assert "begins from the weather file's" in str(whole.weather_used)
    assert "begins from the weather file's" not in str(half.weather_used)
    assert half.change_percent.adjusted.known
