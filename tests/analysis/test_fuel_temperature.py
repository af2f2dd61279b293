"""The air's temperature where sensors agree, disagree, stand still or are not there."""

from __future__ import annotations

from datetime import date

import numpy as np
import polars as pl
import pytest

from gearing.analysis.fuel.temperature import air_temperature, climate, season_of

DAY_S = 86_400.0
MIDWINTER, MIDSUMMER = 20 * DAY_S, 200 * DAY_S  # of 1970


def steps(
    celsius: list[float | None],
    *,
    coolant: float | None = None,
    intake: float | None = None,
    latitude: float = 41.0,
) -> pl.DataFrame:
    """Two steps a day, one day a value: the first half before, in January, the rest in July."""
    n = len(celsius)
    start = [MIDWINTER + DAY_S * i if i < n / 2 else MIDSUMMER + DAY_S * i for i in range(n)]
    return pl.DataFrame(
        {
            "trip": np.repeat(np.arange(n), 2),
            "side": ["before" if i < n / 2 else "after" for i in range(n) for _ in range(2)],
            "local_day": [
                date.fromordinal(719_163 + int(s // DAY_S)) for s in start for _ in range(2)
            ],
            "start_s": np.repeat(start, 2) + np.tile([0.0, 60.0], n),
            "duration_s": np.full(2 * n, 60.0),
            "latitude_deg": np.full(2 * n, latitude),
            "ambient_temperature_c": pl.Series(np.repeat(np.array(celsius, float), 2)).fill_nan(
                None
            ),
            "coolant_temperature_c": pl.Series(
                [coolant, None if intake else 80.0] * n, dtype=pl.Float64
            ),
            "intake_air_temperature_c": pl.Series([intake, intake and 35.0] * n, dtype=pl.Float64),
        }
    )


LOGGED = [2.0, 4.0, 3.0, 5.0, 22.0, 24.0, 23.0, 25.0]
NOTHING = np.full(16, np.nan)


def test_a_log_alone_is_taken() -> None:
    told = air_temperature(steps(LOGGED), NOTHING)
    assert told.celsius == pytest.approx(np.repeat(LOGGED, 2))
    assert told.known_share == 1.0
    assert told.difference_error_k < 1.0


def test_a_sensor_off_after_the_change_leaves_both_open() -> None:
    file = np.repeat(LOGGED, 2)
    off = [t if i < 4 else t + 4.0 for i, t in enumerate(LOGGED)]
    told = air_temperature(steps(off), file)
    assert told.apart_k == pytest.approx(4.0)
    after = np.arange(16) >= 8
    difference = told.celsius[after].mean() - told.celsius[~after].mean()
    # either sensor's word lies within two standard errors, and the middle is taken
    assert difference == pytest.approx(22.0)
    assert abs(difference - 20.0) <= 2 * told.difference_error_k


def test_a_sensor_that_never_moves_is_not_believed() -> None:
    told = air_temperature(steps([11.0] * 8), NOTHING)
    assert told.stuck
    assert told.known_share == 0.0
    with_file = air_temperature(steps([11.0] * 8), np.repeat(LOGGED, 2))
    assert with_file.celsius == pytest.approx(np.repeat(LOGGED, 2))


def test_an_engine_that_stood_overnight_has_the_airs_temperature() -> None:
    told = air_temperature(steps([None] * 8, coolant=7.0), NOTHING)
    assert told.celsius == pytest.approx(7.0)
    assert told.known_share == 1.0
    assert told.difference_error_k > 1.5
    warm = air_temperature(steps([None] * 8, coolant=70.0), NOTHING)
    assert warm.known_share == 0.0


@pytest.mark.parametrize("coolant", [None, 9.0, 80.0])
def test_so_has_the_air_it_draws_first(coolant: float | None) -> None:
    told = air_temperature(steps([None] * 8, coolant=coolant, intake=7.0), NOTHING)
    assert told.celsius == pytest.approx(7.0)
    assert told.known_share == 1.0
    warm = air_temperature(steps([None] * 8, coolant=coolant, intake=45.0), NOTHING)
    assert warm.known_share == (1.0 if coolant == 9.0 else 0.0)


@pytest.mark.parametrize(
    ("latitude", "winter", "summer"),
    [
        # mean January and July of two stations by a lake and a sea, from memory: 41 N -3 and 24,
        # 53 N 1 and 19; within twice what the range allows
        (41.0, -3.0, 24.0),
        (53.0, 1.0, 19.0),
    ],
)
def test_the_climate_of_a_latitude_holds_known_places(
    latitude: float, winter: float, summer: float
) -> None:
    told = air_temperature(steps([None] * 8, latitude=latitude), NOTHING)
    cold, warm = told.celsius[:8].mean(), told.celsius[8:].mean()
    range_error = 2 * told.half_range_error_k
    assert abs((warm - cold) - (summer - winter)) < 2 * np.hypot(
        range_error, told.difference_error_k
    )
    assert abs(cold - winter) < 2 * np.hypot(told.level_error_k, told.half_range_error_k)
    assert told.difference_error_k > 2.5


def test_the_south_has_its_summer_in_january() -> None:
    told = air_temperature(steps([None] * 8, latitude=-38.0), NOTHING)
    assert told.celsius[:8].mean() > told.celsius[8:].mean()


def test_the_zonal_means_are_those_published() -> None:
    """NCEP 1970-2000: at 60 N it is 39 K colder than at the equator in winter, 12 K in summer."""
    level, half = climate(60.0)
    equator = climate(0.0)[0]
    assert equator - (level - half) == pytest.approx(39.0, abs=6.5)
    assert equator - (level + half) == pytest.approx(12.0, abs=3.0)
    assert season_of(np.array([24.6 * DAY_S]))[0] == pytest.approx(-1.0, abs=0.01)
