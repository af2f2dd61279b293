"""The speed answer on logs recorded by others, where they are at hand.

Nothing is known of these vehicles but what their own logs repeat: the factor of one car from
trip to trip, and what happens to it when the second half is multiplied by a known number.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from gearing.analysis.final_drive import find_final_drive
from gearing.analysis.speed import find_speed
from gearing.analysis.trip_figures import TripFigures, trip_figures
from gearing.logs.model import Reading
from gearing.logs.read import read_log
from gearing.study.model import ColumnRule, Period, Study
from gearing.trips.declared import Declared
from gearing.trips.join import describe, group_recordings
from gearing.trips.record import TripRecord, records_of

LOGS = Path(__file__).resolve().parents[3] / "shared" / "logs"
pytestmark = pytest.mark.skipif(not LOGS.is_dir(), reason="the logs by others are not here")

STUDY = Study(
    name="a",
    slug="a",
    path=Path("a.toml"),
    before=Period(side="before", drive_tire="205/55R16"),
    after=Period(side="after", drive_tire="205/55R16"),
)
CARS = ("car_57f7fd", "car_574e78", "car_5c93d2", "car_58395f")


def readings(folder: str, rules: tuple[ColumnRule, ...] = ()) -> list[Reading]:
    return [read_log(path, rules=rules) for path in sorted((LOGS / folder).glob("*.csv"))]


def made(
    some: list[Reading], study: Study = STUDY, sides: dict[str, str] | None = None
) -> list[TripRecord]:
    by_name = {r.file: r for r in some}
    described = [d for r in some if (d := describe(r)) is not None]
    found = []
    for files in group_recordings(described).groups:
        side = (sides or {}).get(files[0], "before")
        found += records_of([by_name[f] for f in files], Declared.of(study), side=side)  # type: ignore[arg-type]
    return found


@pytest.fixture(scope="module")
def cars() -> dict[str, list[Reading]]:
    return {car: readings(f"open_tracks/{car}") for car in CARS}


def used(figures: TripFigures) -> pl.DataFrame:
    return figures.trips.filter(pl.col("factor_used") & pl.col("used")).drop_nulls(
        "odometer_factor"
    )


@pytest.mark.parametrize(
    ("car", "low", "high"),
    [("car_57f7fd", 0.975, 0.995), ("car_574e78", 0.96, 1.01), ("car_5c93d2", 0.97, 1.02),
     ("car_58395f", 1.0, 1.02)],
)  # fmt: skip
def test_each_car_has_its_own_factor(
    cars: dict[str, list[Reading]], car: str, low: float, high: float
) -> None:
    figures = trip_figures(STUDY, made(cars[car]))
    estimate = find_speed(STUDY, made(cars[car]), figures).odometer_factor.before
    assert estimate.value is not None
    assert low < estimate.value < high
    assert estimate.low is not None
    assert estimate.high is not None
    assert 0.0005 < estimate.high - estimate.low < 0.04


def test_the_same_trip_uploaded_twice_is_used_once(cars: dict[str, list[Reading]]) -> None:
    described = [d for r in cars["car_574e78"] if (d := describe(r)) is not None]
    assert len(group_recordings(described).duplicates) == 1
    for other in ("car_57f7fd", "car_5c93d2", "car_58395f"):
        described = [d for r in cars[other] if (d := describe(r)) is not None]
        assert group_recordings(described).duplicates == ()


@pytest.mark.parametrize("car", ["car_57f7fd", "car_574e78", "car_5c93d2"])
def test_trips_agree_within_what_they_state(cars: dict[str, list[Reading]], car: str) -> None:
    """Each trip left out in turn: the others' 95 % range for one more trip holds it."""
    rows = used(trip_figures(STUDY, made(cars[car])))
    value = np.log(rows["odometer_factor"].to_numpy())
    error = rows["odometer_factor_se"].to_numpy()
    assert share_held(value, error) >= 0.85


def share_held(value: np.ndarray, error: np.ndarray) -> float:
    from gearing.statistics.intervals import t_quantile
    from gearing.statistics.mixed_effects import mixed_effects

    held = []
    for i in range(len(value)):
        rest = np.arange(len(value)) != i
        pooled = mixed_effects(value[rest], error[rest])
        spread = np.hypot(pooled.standard_errors[0], np.hypot(pooled.between, error[i]))
        held.append(
            abs(value[i] - pooled.coefficients[0]) < t_quantile(0.975, len(value) - 2) * spread
        )
    return float(np.mean(held))


@pytest.mark.parametrize("every", [1, 2, 4])
@pytest.mark.parametrize("car", CARS)
def test_positions_alone_own_up_to_what_they_hide(
    cars: dict[str, list[Reading]], car: str, every: int
) -> None:
    """A position each 5, 10 or 20 s against the receiver's own speed, of the same trips."""
    alone = [
        replace(one, samples=one.samples[::every].drop("gps_speed_mps", strict=False))
        for one in cars[car]
    ]
    factors = []
    for some in (cars[car], alone):
        records = made(some)
        factors.append(find_speed(STUDY, records, trip_figures(STUDY, records)).odometer_factor)
    by_speed, by_place = (factor.before for factor in factors)
    assert by_speed.value is not None
    assert by_place.low is not None
    assert by_place.high is not None
    assert by_place.low < by_speed.value < by_place.high


def halved(cars: dict[str, list[Reading]]) -> tuple[list[Reading], list[Reading]]:
    """The trips of the car with most, by time, in two halves."""
    some = sorted(
        (r for r in cars["car_57f7fd"] if r.samples.height > 100),
        key=lambda r: r.samples["time"][0],
    )
    return some[: len(some) // 2], some[len(some) // 2 :]


def scaled(some: list[Reading], factor: float, *channels: str) -> list[Reading]:
    return [
        replace(r, samples=r.samples.with_columns(pl.col(c) / factor for c in channels))
        for r in some
    ]


@pytest.mark.parametrize("factor", [1.02, 1.0464, 0.97])
def test_a_known_factor_on_the_second_half_is_found(
    cars: dict[str, list[Reading]], factor: float
) -> None:
    """Indicated and engine speed divided alike: what tires taller by the factor do."""
    first, second = halved(cars)
    taller = scaled(second, factor, "indicated_speed_mps", "engine_speed_rpm")
    sides = {r.file: "after" for r in taller}
    records = made([*first, *taller], sides=sides)
    plain = made([*first, *second], sides=sides)
    own = drift(trip_figures(STUDY, plain))
    figures = trip_figures(STUDY, records)
    speed, final = find_speed(STUDY, records, figures), find_final_drive(STUDY, figures)
    seen = drift(figures)
    # against the same halves untouched, so that the car's own drift does not count
    assert seen[0] / own[0] == pytest.approx(factor, rel=2e-3)
    assert seen[1] / own[1] == pytest.approx(1 / factor, rel=2e-3)
    assert final.change_percent.value == pytest.approx(100 / factor - 100, abs=0.35)
    assert speed.misfiled == ()


def drift(figures: TripFigures) -> tuple[float, float]:
    """Median factor and axle turns of the after half over the before half's."""
    rows = figures.trips.group_by("side").agg(
        pl.col("odometer_factor").median(), pl.col("log_axle_turns").median()
    )
    by = {row["side"]: row for row in rows.iter_rows(named=True)}
    return (
        by["after"]["odometer_factor"] / by["before"]["odometer_factor"],
        float(np.exp(by["after"]["log_axle_turns"] - by["before"]["log_axle_turns"])),
    )


@pytest.mark.parametrize("factor", [1.03, 0.975])
def test_a_reprogrammed_computer_is_found_and_dated_to_the_trip(
    cars: dict[str, list[Reading]], factor: float
) -> None:
    """Indicated speed alone divided from one trip on, all filed under one period."""
    first, second = halved(cars)
    changed = scaled(second, factor, "indicated_speed_mps")
    records = made([*first, *changed])
    figures = trip_figures(STUDY, records)
    (point,) = figures.verdicts.change_points
    assert point.kind == "computer reprogrammed"
    order = list(figures.trips["trip"])
    truth = next(i for i, t in enumerate(order) if t == Path(changed[0].file).stem)
    assert abs(order.index(point.trip) - truth) <= 1
    assert point.factor_percent == pytest.approx(100 * (factor - 1), abs=0.35)


def test_one_trip_filed_under_the_other_tires_is_named(cars: dict[str, list[Reading]]) -> None:
    first, second = halved(cars)
    taller = scaled(second, 1.0464, "indicated_speed_mps", "engine_speed_rpm")
    wrong = taller[5].file
    sides = {r.file: "after" for r in taller if r.file != wrong}
    verdicts = trip_figures(STUDY, made([*first, *taller], sides=sides)).verdicts
    assert verdicts.misfiled == (Path(wrong).stem,)


def test_the_road_test_agrees_with_its_own_control_unit() -> None:
    """GPS over control-unit distance of that trip is about 1.005."""
    records = made(readings("road_test"))
    estimate = find_speed(STUDY, records, trip_figures(STUDY, records)).odometer_factor.before
    assert estimate.value == pytest.approx(1.0055, abs=0.0015)
    assert records[0].true_m == pytest.approx(91_000, rel=0.005)


def test_a_receiver_that_holds_its_fixes() -> None:
    """Each fix is held for ten seconds and more, so on average it is 5 to 14 s old; taken only
    when it comes, it is not, and the distances of receiver and bus agree to a few percent where
    the bus spoke (for minutes it did not, and its last value stood)."""
    rules = (
        ColumnRule(heading="Speed", channel="indicated_speed_mps", unit="km/h"),
        ColumnRule(heading="GpsSpeed", channel="gps_speed_mps", unit="km/h"),
    )
    records = made(readings("light_ev", rules))
    assert len(records) == 3
    for record in records:
        assert abs(record.lag_s or 0.0) < 3.0
        both = record.steps.drop_nulls("indicated_m").select(pl.sum("distance_m", "indicated_m"))
        true_m, indicated_m = both.row(0)
        assert indicated_m > 0.85 * record.true_m
        assert true_m / indicated_m == pytest.approx(1.015, abs=0.03)


def test_regulation_cycles_have_their_published_lengths() -> None:
    """UDDS 7.45 mi and HWFET 10.26 mi as printed in 40 CFR part 86 and 600 summaries."""
    for name, miles in (("udds", 7.45), ("hwfet", 10.26)):
        frame = pl.read_csv(LOGS / "cycles" / f"{name}.csv")
        speed = frame[frame.columns[1]].cast(pl.Float64).to_numpy()
        seconds = frame[frame.columns[0]].cast(pl.Float64).to_numpy()
        micros = (datetime(2026, 1, 1, tzinfo=UTC).timestamp() + seconds) * 1e6
        samples = pl.DataFrame(
            {
                "time": pl.Series(micros.astype(np.int64)).cast(pl.Datetime("us", "UTC")),
                "line": pl.Series(range(len(speed)), dtype=pl.UInt32),
                "gps_speed_mps": speed,
            }
        )
        from gearing.trips.motion import make_trip

        trip = make_trip(samples, name=name, files=(name,))
        assert trip.motion["true_step_m"].sum() / 1609.344 == pytest.approx(miles, rel=2e-3)
