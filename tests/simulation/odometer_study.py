"""Odometer readings beside GPS distance: `python tests/simulation/odometer_study.py [STUDIES]`.

Written apart from the package's errors: a receiver long or short of all distances alike and of each
a little, an odometer that shows tenths or whole miles or kilometers cut off, moves about the yard
that no phone logs, readings by the fill-ups or the dash, some noted by the minute while driving.
A line gives how many intervals of the odometer factor hold the truth, and how wide they are.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np
import polars as pl

from gearing.analysis.speed.odometer_readings import odometer_factors
from gearing.study.model import DashReading, Period, Study, Vehicle
from gearing.trips.record import TripRecord

MILE_M = 1609.344
UNITS = (MILE_M, 1000.0, MILE_M / 10, 100.0)
START = datetime(2027, 3, 1, 8, 0, 10, tzinfo=UTC)
CHANGE = START + timedelta(days=100)
STEP_M = 500.0
CELLS = {"one chain a side": 1, "four chains a side": 4, "twelve chains a side": 12}


class World:
    """An owner's drives on one road up and down, what the odometer shows and the phone logs."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.unit = float(rng.choice(UNITS))
        self.truth = {"before": float(np.exp(rng.normal(0, 0.015)))}
        self.truth["after"] = self.truth["before"] * float(np.exp(rng.normal(0.035, 0.01)))
        self.all_alike = rng.normal(0, 0.0015)
        self.shown_m, self.at_km = rng.uniform(5e7, 3e8), 0.0
        self.records: list[TripRecord] = []
        self.dash: list[DashReading] = []
        self.fills: list[tuple[datetime, float]] = []

    def read(self, at: datetime, shown_m: float | None = None) -> None:
        """A reading of the dash, or one at the pump."""
        shown = np.floor((self.shown_m if shown_m is None else shown_m) / self.unit) * self.unit
        if self.rng.random() < 0.5:
            self.dash.append(DashReading(at=at, odometer_m=shown))
        else:
            self.fills.append((at, shown))

    def drive(self, at: datetime, side: str) -> datetime:
        """One drive; the moment it ends."""
        rng, factor = self.rng, self.truth[side]
        way = rng.uniform(15, 150) * 1000
        speed = rng.uniform(12, 25)
        said = way * (1 + self.all_alike + rng.normal(0, 0.0008))
        count = max(int(way / STEP_M), 2)
        lasts, begins = way / speed / count, at.timestamp()
        north = self.at_km + np.linspace(0, way / 1000, count + 1) * rng.choice([-1, 1])
        degrees = 45 + north / 111.195
        steps = pl.DataFrame(
            {
                "start_s": begins + lasts * np.arange(count),
                "duration_s": lasts,
                "distance_m": said / count,
                "latitude_deg": degrees[:-1],
                "longitude_deg": 7.0,
                "end_latitude_deg": degrees[1:],
                "end_longitude_deg": 7.0,
            }
        )
        end = at + timedelta(seconds=way / speed)
        record = SimpleNamespace(
            side=side, start=at, end=end, has_receiver=True, true_m=said, steps=steps
        )
        self.records.append(cast("TripRecord", record))
        if rng.random() < 0.15:  # the passenger notes the odometer on the way, by the minute
            part = at + (end - at) * rng.uniform(0.2, 0.8)
            shown = self.shown_m + (part - at).total_seconds() * speed / factor
            self.read(part.replace(second=0, microsecond=0), shown)
        self.shown_m += way / factor
        self.at_km = float(north[-1])
        if rng.random() < 0.3:
            self.shown_m += rng.uniform(20, 200) / factor  # about the yard
        return end

    def chain(self, at: datetime, side: str) -> datetime:
        """Drives one after another between two readings, and between chains some not logged."""
        self.read(at - timedelta(minutes=2))
        for _ in range(self.rng.integers(1, 7)):
            end = self.drive(at, side)
            at = end + timedelta(hours=self.rng.uniform(1, 12))
        self.read(end + timedelta(minutes=self.rng.uniform(0, 2)))
        self.shown_m += 60_000
        self.at_km += self.rng.uniform(-50, 50)
        return at + timedelta(hours=6)


def study(chains: int, seed: int) -> dict[str, tuple[bool, float, float]]:
    """Of each side: whether the interval holds the truth, half-width and error [%]."""
    world = World(np.random.default_rng(seed))
    for side, at in (("before", START), ("after", CHANGE + timedelta(days=1))):
        for _ in range(chains):
            at = world.chain(at, side)
    declared = Study(
        name="odometer",
        slug="odometer",
        path=Path("study.toml"),
        vehicle=Vehicle(),
        before=Period(side="before", drive_tire="245/70R19.5"),
        after=Period(side="after", drive_tire="265/70R19.5", start=CHANGE),
        dash=tuple(sorted(world.dash, key=lambda one: one.at)),
    )
    times, shown = zip(*world.fills, strict=True) if world.fills else ((), ())
    fills = pl.DataFrame(
        {"time": list(times), "indicated_distance_m": list(shown)},
        schema={"time": pl.Datetime("us", "UTC"), "indicated_distance_m": pl.Float64},
    )
    found = odometer_factors(declared, world.records, fills)
    answers = {}
    for side in ("before", "after"):
        one, truth = found.of(side), world.truth[side]
        if one.value is not None and one.low is not None and one.high is not None:
            held = one.low <= truth <= one.high
            answers[side] = (held, 50 * (one.high - one.low), 100 * (one.value / truth - 1))
    return answers


def cell(chains: int, studies: int, seed: int = 8000) -> dict[str, float]:
    """Shares and widths over many owners [%]."""
    rows = [row for i in range(studies) for row in study(chains, seed + i).values()]
    held, half, off = zip(*rows, strict=True)
    return {
        "answered": 100 * len(rows) / (2 * studies),
        "held": 100 * float(np.mean(held)),
        "half": float(np.median(half)),
        "bias": float(np.mean(off)),
    }


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    print(f"odometer factor: answered, held, half-width, mean error [%] of {number} owners")
    for name, chains_a_side in CELLS.items():
        got = cell(chains_a_side, number)
        print(f"{name:22}", {k: round(v, 2) for k, v in got.items()}, flush=True)
