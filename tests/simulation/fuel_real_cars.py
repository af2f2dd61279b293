"""Real cars on their own tires, their drives dealt to two periods at random: nothing changed.

    python tests/simulation/fuel_real_cars.py --splits 40 --seed 7

Logs by others, at ../shared/logs/open_tracks beside the checkout (see the README there): gasoline
cars on daily roads, no outside temperature. Each trip counts as a day of its own ("trips"), or
each local day ("days"). A line for each car says how often its splits are called changed, how often
the interval does not hold "nothing", its median half-width, and with 8 % taken off one side's
fuel how often less fuel is found and the interval holds the 8 %.
"""

from __future__ import annotations

import argparse
import sys
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from gearing.analysis.fuel import FuelFinding, find_fuel
from gearing.analysis.sides import BySide
from gearing.logs.read import read_log
from gearing.statistics.estimate import Estimate
from gearing.study.model import Period, Study, Vehicle
from gearing.trips.declared import Declared
from gearing.trips.record import records_of

LOGS = Path(__file__).resolve().parents[3] / "shared" / "logs" / "open_tracks"
CARS = ("car_57f7fd", "car_574e78", "car_5c93d2", "car_58395f")
CHANGED = ("less fuel", "worse")
MIN_TRIP_M = 5000
STUDY = Study(
    name="car",
    slug="car",
    path=Path("car.toml"),
    vehicle=Vehicle(mass_kg=1400.0, fuel="gasoline"),
    before=Period(side="before", drive_tire="205/55R16"),
    after=Period(side="after", drive_tire="205/55R16"),
)
FACTOR = Estimate(0.988, 0.987, 0.989, 9, "about, by the logs' README")

Drives = tuple[pl.DataFrame, pl.DataFrame]


def drives_of(folder: Path) -> Drives:
    """Trips, each a day of its own, and steps of a car's logs; what was uploaded twice once."""
    records = {
        record.start: record
        for path in sorted(folder.glob("*.csv"))
        for record in records_of([read_log(path)], Declared.of(STUDY), side="before")
        if record.true_m > MIN_TRIP_M and record.steps["fuel_l"].is_not_null().any()
    }
    kept = [records[start] for start in sorted(records)]
    trips = pl.DataFrame(
        {
            "trip": [r.name for r in kept],
            "start": [r.start for r in kept],
            "end": [r.end for r in kept],
            "final_drive": [1.0] * len(kept),
            "interval_s": [r.interval_s for r in kept],
            "steps_s": [r.steps_s for r in kept],
            "true_m": [r.true_m for r in kept],
            "liters": [r.liters for r in kept],
            "used": [True] * len(kept),
            "local_day": [date(2031, 1, 1) + timedelta(days=i) for i in range(len(kept))],
        }
    )
    return trips, pl.concat([record.steps for record in kept])


def by_days(drives: Drives) -> Drives:
    """The same with each date as a day."""
    return drives[0].with_columns(local_day=pl.col("start").dt.date()), drives[1]


def compare(drives: Drives, after: np.ndarray, factor: float = 1.0) -> FuelFinding:
    """The trips with `after` (trips,) against the others, their fuel times `factor`."""
    trips, steps = drives
    sides = trips.with_columns(side=pl.Series(np.where(after, "after", "before")))
    late = pl.col("trip").is_in(sides.filter(pl.col("side") == "after")["trip"].to_list())
    scaled = steps.with_columns(
        pl.when(late).then(pl.col(name) * factor).otherwise(pl.col(name)).alias(name)
        for name in ("fuel_l", "fuel_stopped_l")
    )
    odometer = BySide(FACTOR, FACTOR)
    return find_fuel(STUDY, sides, scaled, odometer=odometer, fillups=None, weather=None)


def dealt(drives: Drives, generator: np.random.Generator) -> np.ndarray:
    """For each trip, whether its day was dealt to the after side: half of the days are."""
    days = drives[0]["local_day"].unique().sort()
    late = days.gather(generator.permutation(days.len())[: days.len() // 2])
    return drives[0]["local_day"].is_in(late.implode()).to_numpy()


def line(name: str, drives: Drives, splits: int, seed: int) -> str:
    generator = np.random.default_rng(seed)
    sides = [dealt(drives, generator) for _ in range(splits)]
    same = [compare(drives, after) for after in sides]
    less = [compare(drives, after, 0.92) for after in sides]
    known = [f.change_percent.adjusted for f in same if f.change_percent.adjusted.known]
    half = np.median([(e.high - e.low) / 2 for e in known]) if known else np.nan
    missed = sum(e.low > 0 or e.high < 0 for e in known)
    held = [f.change_percent.adjusted for f in less if f.change_percent.adjusted.known]
    return (
        f"{name:18s} {drives[0]['local_day'].n_unique():4d}  "
        f"{sum(f.verdict in CHANGED for f in same):3d} of {splits}  {missed:3d} of {len(known)}  "
        f"{half:5.1f}  {sum(f.verdict == 'less fuel' for f in less):3d} of {splits}  "
        f"{sum(e.low <= -8.0 <= e.high for e in held):3d} of {len(held)}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--splits", type=int, default=40)
    parser.add_argument("--seed", type=int, default=7)
    given = parser.parse_args()
    if not LOGS.is_dir():
        sys.exit(f"no real logs at {LOGS}")
    print("car                units  called   outside  half  8 % found  8 % held")
    for name in CARS:
        drives = drives_of(LOGS / name)
        for unit, each in (("trips", drives), ("days", by_days(drives))):
            if each[0]["local_day"].n_unique() >= 4:
                print(line(f"{name} {unit}", each, given.splits, given.seed), flush=True)
            else:
                print(f"{name} {unit}: {each[0]['local_day'].n_unique()}, too few to deal")


if __name__ == "__main__":
    main()
