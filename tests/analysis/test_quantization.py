"""How a logged speed was quantized, told from logs whose rounding is known.

SAE J1979 parameter 0D reports whole km/h; that some recorders make whole mph of them, and that
some truncate and some round, is common practice, no source. What each way hides is measured here
on speeds drawn here, by floor and round of floor or round, and not taken from the package.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from speed_study import declared, records
from speed_world import Drives, World, make_drives

from gearing.analysis.identification.quantization import quantizations
from gearing.analysis.identification.quantization_fit import quantizers
from gearing.statistics.arrays import Array

MPH = 1 / 1.609344
MADE: dict[str, Callable[[Array], Array]] = {
    "truncated": lambda kmh: np.floor(kmh * MPH),
    "rounded": lambda kmh: np.round(kmh * MPH),
    "km/h truncated, mph truncated": lambda kmh: np.floor(np.floor(kmh) * MPH),
    "km/h rounded, mph truncated": lambda kmh: np.floor(np.round(kmh) * MPH),
    "km/h truncated, mph rounded": lambda kmh: np.round(np.floor(kmh) * MPH),
    "km/h rounded, mph rounded": lambda kmh: np.round(np.round(kmh) * MPH),
}
KMH: dict[str, Callable[[Array], Array]] = {"truncated": np.floor, "rounded": np.round}


@pytest.mark.parametrize("name", MADE)
def test_what_each_whole_mph_stands_for(name: str) -> None:
    kmh = np.random.default_rng(7).uniform(30, 110, 400_000)
    whole = MADE[name](kmh).astype(np.int64)
    (way,) = [one for one in quantizers("mph", 80) if one.name == name]
    for value in np.unique(whole)[2:-2]:
        seen = float(np.mean(kmh[whole == value])) * MPH - value
        assert way.hidden[value] == pytest.approx(seen, abs=0.02)


def logged(wide: World, make: Callable[[Array], Array], unit_mps: float, delay_s: float) -> Drives:
    """Drives whose speed is logged by a computer that filters it (first order, 1.2 s) and reports
    it late, as whole units made by `make` (of km/h); `notes` holds by drive what these hide on its
    mean."""
    made = make_drives(
        replace(wide, cut=True), np.random.default_rng(11), before=7, after=7, km_per_trip=30.0
    )
    drives, hidden = [], {}
    for drive in made.drives:
        frame = drive.samples
        # the world's own engine speed gives a speed finer than whole units, gear by gear: the
        # true speed over the trip's factor is what the computer counted
        t = np.arange(frame.height, dtype=float)
        true = frame["gps_speed_mps"].to_numpy() / drive.true_factor
        back = np.interp(t + wide.lag_s, t, true)
        passed = back.copy()
        for i in range(1, len(passed)):
            passed[i] = passed[i - 1] + (back[i] - passed[i - 1]) * (1 - np.exp(-1 / 1.2))
        late = np.interp(t - delay_s, t, passed)
        shown = make(late * 3.6) * unit_mps
        hidden[drive.name] = float(np.mean((late - shown)[shown > 0]))
        drives.append(replace(drive, samples=frame.with_columns(indicated_speed_mps=shown)))
    return replace(made, drives=drives, notes=hidden)


WIDE = World(one_speed_share=0.0, trip_minutes=(25.0, 35.0), receiver_noise_mps=0.02)


@pytest.mark.parametrize("name", KMH)
def test_whole_km_h_settle_though_the_computer_filters_and_delays(name: str) -> None:
    drives = logged(WIDE, KMH[name], 1 / 3.6, 0.4)
    seen = quantizations(records(drives, declared(WIDE)), "output shaft")
    assert {one.way for one in seen.trips.values()} == {name}


def ending_in_a_leap(frame: pl.DataFrame) -> pl.DataFrame:
    """The drive cut off where it was fast, and ten rows at a standstill from the next second on."""
    fast = frame[: int(np.flatnonzero(frame["gps_speed_mps"].to_numpy() > 20)[-1]) + 1]
    still = frame[:10].with_columns(
        pl.col("time") - frame["time"][0] + fast["time"][-1] + pl.duration(seconds=1),
        pl.lit(0.0).alias("gps_speed_mps"),
        pl.lit(0.0).alias("indicated_speed_mps"),
        pl.lit(fast["latitude_deg"][-1]).alias("latitude_deg"),
        pl.lit(fast["longitude_deg"][-1]).alias("longitude_deg"),
    )
    return pl.concat([fast, still])


def test_a_leap_of_speed_hides_no_delay() -> None:
    """One row of it outweighs a thousand where delay is told by how two speeds differ with their
    rise, and a delay that is left tilts lines as truncating does."""
    drives = logged(WIDE, np.floor, 1 / 3.6, 0.4)
    leaping = [replace(d, samples=ending_in_a_leap(d.samples)) for d in drives.drives]
    before = [replace(d, samples=d.samples[:-10]) for d in leaping]
    of_each = [records(replace(drives, drives=some), declared(WIDE)) for some in (leaping, before)]
    for record, without in zip(*of_each, strict=True):
        met = ["gear", "value", "held"]
        both = record.cells.join(without.cells, on=met, suffix="_without")
        assert both.height > 20
        moved = pl.col("sum") / pl.col("looks") - pl.col("sum_without") / pl.col("looks_without")
        assert float(both.select(moved.abs().mean()).item()) < 0.05


@pytest.mark.parametrize("name", MADE)
def test_whole_mph_are_not_told_wrong(name: str) -> None:
    drives = logged(WIDE, MADE[name], 0.44704, 0.4)
    found = records(drives, declared(WIDE))
    seen = quantizations(found, "output shaft")
    for drive, record in zip(drives.drives, found, strict=True):
        one, hidden = seen.trips[record.name], drives.notes[drive.name]
        assert isinstance(hidden, float)
        assert one.low_mps - 0.03 <= hidden <= one.high_mps + 0.03


def test_trips_at_one_speed_each_stay_open() -> None:
    """Two trips at one speed each meet one place of a unit each: nobody can tell."""
    narrow = replace(WIDE, one_speed_share=1.0)
    drives = make_drives(narrow, np.random.default_rng(2), before=1, after=1)
    some = [
        replace(d, samples=d.samples.with_columns(engine_speed_rpm=pl.lit(None, pl.Float64)))
        for d in drives.drives
    ]
    found = records(replace(drives, drives=some), declared(narrow))
    assert not quantizations(found, "output shaft").of("before").settled
