"""Make the sample study again: `python sample_logs/make.py [FOLDER]`.

Writes the logs, the companion files and truth.json beside the hand-written study.toml. The
seed is fixed: the same files come out each time.
"""

from __future__ import annotations

import json
import sys
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import numpy as np
import polars as pl
from generator import bus, fillups, roads, truth, weather
from generator.drive import Drive, drive
from generator.plans import CUT_SHORT, Job, make_jobs
from generator.record import file_bytes

HERE = Path(__file__).resolve().parent


def log_bytes(job: Job, driven: Drive) -> bytes:
    """The trip's file; one of them stops where the recorder lost power."""
    whole = file_bytes(driven, job.recording)
    if job.plan.name != CUT_SHORT:
        return whole
    lines = whole.decode().splitlines(keepends=True)
    lines = lines[: int(len(lines) * 0.93)]
    moment, latitude, longitude = lines[-1].split(",")[:3]
    return ("".join(lines[:-1]) + f"{moment},{latitude},{longitude[:7]}").encode()


def as_driven(job: Job, sky: weather.Weather) -> Drive:
    return drive(job.plan, bus.OLD if job.side == "before" else bus.NEW, sky)


def write_profiles(folder: Path) -> None:
    """Both roads as surveyed from Merrow: one in miles and feet, one in kilometres and metres."""
    folder.mkdir(parents=True, exist_ok=True)
    road = roads.ollerby()
    every = slice(None, None, 16)
    pl.DataFrame(
        {
            "distance (mi)": np.round(road.distance_m[every] / 1609.344, 4),
            "elevation (ft)": np.round(road.altitude_m[every] / 0.3048, 1),
            "speed limit (mph)": np.rint(road.posted_mps[every] / 0.44704).astype(int),
        }
    ).write_csv(folder / "ollerby_pass.csv")
    road = roads.quill()
    every = slice(None, None, 20)
    pl.DataFrame(
        {
            "distance (km)": np.round(road.distance_m[every] / 1000, 3),
            "elevation (m)": np.round(road.altitude_m[every], 2),
        }
    ).write_csv(folder / "quill_gap.csv")


def days_of(jobs: list[Job], driven: dict[str, Drive]) -> dict[date, fillups.Day]:
    out: dict[date, fillups.Day] = {}
    for job in jobs:
        d, day = driven[job.plan.name], job.plan.start.date()
        old = out.get(day, fillups.Day(0.0, 0.0, 0.0))
        out[day] = fillups.Day(
            old.true_m + d.true_m,
            old.indicated_m + d.indicated_m,
            old.liters + d.liters,
        )
    return out


def make(folder: Path) -> None:
    jobs, sky = make_jobs(), weather.make_weather()
    wider = bus.NEW.circumference_m / bus.OLD.circumference_m
    driven, on_old, at_old_speed, cut = {}, {}, {}, {}
    for job in jobs:
        name = job.plan.name
        driven[name] = as_driven(job, sky)
        if job.side == "after":
            # the same trip at the same true speeds on the worn set, and on the new one at the
            # speeds a true dash would have led to
            on_old[name] = drive(job.plan, bus.OLD, sky, done=7, dash=1 / wider)
            at_old_speed[name] = drive(job.plan, bus.NEW, sky, dash=wider)
        content = log_bytes(job, driven[name])
        if name == CUT_SHORT:
            text = content.decode().split("\n")
            cut = {"file": f"{job.folder}/{name}.csv", "line": len(text), "ends_in": text[-1]}
        path = folder / job.folder / f"{name}.csv"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        print(f"{path.name}: {driven[name].true_m / 1000:.1f} km", file=sys.stderr)
    write_profiles(folder / "routes")
    weather.station_file(sky).write_csv(folder / "weather.csv")
    factors = {
        side: truth.pooled([driven[j.plan.name] for j in jobs if j.side == side])["odometer_factor"]
        for side in ("before", "after")
    }
    # short local runs take about what the long ones do, and what the tires change with them
    old = truth.pooled([driven[j.plan.name] for j in jobs if j.side == "before"])
    new = truth.pooled([driven[j.plan.name] for j in jobs if j.side == "after"])
    per_km = {
        "before": old["liters_per_100km"] / 100,
        "after": new["liters_per_100km"] / 100,
    }
    rows, fill = fillups.fillup_rows(days_of(jobs, driven), factors, per_km)
    pl.DataFrame(rows).write_csv(folder / "fillups.csv")
    figures = truth.make_truth(jobs, driven, on_old, at_old_speed, fill, cut)
    (folder / "truth.json").write_text(json.dumps(figures, indent=1) + "\n")


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
