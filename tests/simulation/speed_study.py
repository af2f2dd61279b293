"""Bias and coverage of the speed and final-drive answers over random studies.

    python tests/simulation/speed_study.py [--studies 500] [--first-seed 0] [--kind all]

prints, for studies of `speed_world` drawn with seeds first, first + 1, ...:

plain         odometer factor of both periods and final-drive change: bias, spread, coverage
one-speed     the same where every trip is at one cruise speed
misfiled      share of trips filed under the wrong tires that are flagged, and of right ones
reprogrammed  how far from the true trip a reprogrammed computer is dated, and how far the
              factor in effect lies from that of the trips since
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl

sys.path.insert(0, str(Path(__file__).parent))

from speed_world import AXLE, GEARS, Drives, World, make_drives, one_speed_world, random_world

from gearing.analysis.final_drive import find_final_drive
from gearing.analysis.speed import find_speed
from gearing.analysis.trip_figures import trip_figures
from gearing.study.model import Period, Study, Vehicle
from gearing.trips.declared import Declared
from gearing.trips.motion import make_trip
from gearing.trips.record import TripRecord, record_of

SIDES = ("before", "after")


def declared(world: World, *, ratios: bool = True) -> Study:
    """The study file such an owner might write: published figures off by a percent or so."""
    return Study(
        name="simulated",
        slug="simulated",
        path=Path("simulated.toml"),
        vehicle=Vehicle(
            axle_ratio=AXLE, gear_ratios=GEARS if ratios else (), speed_source="output shaft"
        ),
        before=Period(
            side="before",
            drive_tire="245/70R19.5",
            revolutions_per_km=1010 / world.circumference_before_m,
        ),
        after=Period(
            side="after",
            drive_tire="265/70R19.5",
            revolutions_per_km=993 / world.circumference_after_m,
        ),
    )


def records(drives: Drives, study: Study) -> list[TripRecord]:
    return [
        record_of(make_trip(d.samples, name=d.name, files=(d.name,)), Declared.of(study), d.side)
        for d in drives.drives
    ]


def plain_study(seed: int, *, one_speed: bool = False) -> dict[str, float]:
    """One random study against its truth. Differences in percent or points."""
    rng = np.random.default_rng(seed)
    world = one_speed_world(rng) if one_speed else random_world(rng)
    drives = make_drives(
        world, rng, before=int(rng.integers(4, 13)), after=int(rng.integers(4, 13))
    )
    study = declared(world, ratios=seed % 3 > 0)
    made = records(drives, study)
    figures = trip_figures(study, made)
    speed, final = find_speed(study, made, figures), find_final_drive(study, figures)
    row: dict[str, float] = {"seed": seed}
    for side in SIDES:
        estimate, truth = speed.odometer_factor.of(side), drives.factor[side]
        assert estimate.value is not None
        assert estimate.low is not None
        assert estimate.high is not None
        row[f"{side}_error"] = 100 * (estimate.value / truth - 1)
        row[f"{side}_covered"] = float(estimate.low <= truth <= estimate.high)
        row[f"{side}_half_width"] = 50 * (estimate.high - estimate.low) / estimate.value
    change = final.change_percent
    assert change.value is not None
    assert change.low is not None
    assert change.high is not None
    row["change_error"] = change.value - drives.change_percent
    row["change_covered"] = float(change.low <= drives.change_percent <= change.high)
    row["change_half_width"] = (change.high - change.low) / 2
    row["settled"] = float(all(figures.rounding.of(side).settled for side in SIDES))
    row["false_alarms"] = len(speed.misfiled)
    row["false_steps"] = len(speed.change_points)
    row["trips"] = len(made)
    return row


def misfiled_study(seed: int, *, engine: bool = True) -> dict[str, float]:
    """One trip, sometimes two, filed under the wrong tires."""
    rng = np.random.default_rng(seed)
    world = random_world(rng)
    drives = make_drives(
        world, rng, before=int(rng.integers(4, 13)), after=int(rng.integers(4, 13))
    )
    wrong = rng.choice(len(drives.drives), size=int(rng.integers(1, 3)), replace=False)
    swapped = [
        replace(d, side=SIDES[d.side == "before"]) if i in wrong else d
        for i, d in enumerate(drives.drives)
    ]
    if not engine:
        swapped = [replace(d, samples=d.samples.drop("engine_speed_rpm")) for d in swapped]
    study = declared(world)
    made = records(replace(drives, drives=swapped), study)
    figures = trip_figures(study, made)
    truth = {swapped[i].name for i in wrong}
    told = {t for p in figures.verdicts.change_points for t in p.trips} & truth
    found = set(figures.verdicts.misfiled)
    return {
        "seed": seed,
        "wrong": len(truth),
        "found": len(truth & found),
        "kept_out": len(truth & (found | told)),
        "right": len(made) - len(truth),
        "false_alarms": len(found - truth),
    }


def reprogrammed_study(seed: int) -> dict[str, float]:
    """The computer reprogrammed for other tires within the after period."""
    rng = np.random.default_rng(seed)
    world = random_world(rng)
    after = int(rng.integers(6, 16))
    at = int(rng.integers(2, after - 1))
    by = float(np.exp(rng.uniform(0.015, 0.06) * rng.choice([-1, 1])))
    drives = make_drives(world, rng, before=6, after=after, reprogrammed_at=at, reprogrammed_by=by)
    study = declared(world)
    made = records(drives, study)
    figures = trip_figures(study, made)
    verdicts = figures.verdicts
    since = [d for d in drives.drives if d.side == "after"][at:]
    truth = np.average([d.true_factor for d in since], weights=[d.true_m for d in since])
    now = find_speed(study, made, figures).odometer_factor.after.value
    assert now is not None
    names = [d.name for d in drives.drives]
    dated = [
        names.index(p.trip) - 6 for p in verdicts.change_points if p.kind == "computer reprogrammed"
    ]
    nearest = min((abs(d - at) for d in dated), default=99)
    return {
        "seed": seed,
        "off_by": nearest,
        "points": len(verdicts.change_points),
        "misfiled": len(verdicts.misfiled),
        "now_error": 100 * (now / float(truth) - 1),
    }


def coverage(frame: pl.DataFrame) -> pl.DataFrame:
    """Bias, spread, coverage and median half-width of each figure."""
    rows = []
    for name in ("before", "after", "change"):
        error = frame[f"{name}_error"]
        rows.append(
            {
                "figure": name,
                "bias": error.mean(),
                "spread": error.std(),
                "largest": error.abs().max(),
                "within_0.2": (error.abs() < 0.2).mean(),
                "coverage": frame[f"{name}_covered"].mean(),
                "half_width": frame[f"{name}_half_width"].median(),
            }
        )
    return pl.DataFrame(rows)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--studies", type=int, default=500)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--kind", default="all")
    options = parser.parse_args()
    seeds = range(options.first_seed, options.first_seed + options.studies)
    pl.Config.set_tbl_cols(20)
    pl.Config.set_float_precision(4)
    if options.kind in ("all", "plain"):
        frame = pl.DataFrame([plain_study(seed) for seed in seeds])
        print("plain", coverage(frame))
        print(frame.select("settled", "false_alarms", "false_steps", "trips").sum())
    if options.kind in ("all", "one-speed"):
        frame = pl.DataFrame([plain_study(seed, one_speed=True) for seed in seeds])
        print("one speed", coverage(frame))
        print(frame.select("settled", "false_alarms", "false_steps", "trips").sum())
    if options.kind in ("all", "misfiled"):
        for engine in (True, False):
            frame = pl.DataFrame([misfiled_study(seed, engine=engine) for seed in seeds])
            print("misfiled", "with" if engine else "without", "engine speed", frame.sum())
    if options.kind in ("all", "reprogrammed"):
        frame = pl.DataFrame([reprogrammed_study(seed) for seed in seeds])
        print("reprogrammed", frame.group_by("off_by", "points", "misfiled").len().sort("len"))
        print("largest error of the factor in effect", frame["now_error"].abs().max())


if __name__ == "__main__":
    main()
