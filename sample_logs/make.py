"""Make the sample study again: `python sample_logs/make.py [FOLDER]`.

Writes the logs, the companion files and truth.json beside the hand-written study.toml. The
seed is fixed: the same files come out each time.
"""

from __future__ import annotations

import json
import sys
from datetime import date
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))

import numpy as np
import polars as pl
from generator import bus, calm, fillups, roads, truth, weather
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


def write_logs(folder: Path, jobs: list[Job], driven: dict[str, Drive]) -> dict[str, Any]:
    """All trips' files; returns where the cut one ends."""
    cut: dict[str, Any] = {}
    for job in jobs:
        name = job.plan.name
        content = log_bytes(job, driven[name])
        if name == CUT_SHORT:
            lines = content.decode().split("\n")
            cut = {"file": f"{job.folder}/{name}.csv", "line": len(lines), "ends_in": lines[-1]}
        path = folder / job.folder / f"{name}.csv"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return cut


def write_fillups(folder: Path, jobs: list[Job], driven: dict[str, Drive]) -> dict[str, float]:
    """The fill-up log; returns true fuel and distance of the periods."""
    pooled = {
        side: truth.pooled([driven[j.plan.name] for j in jobs if j.side == side])
        for side in ("before", "after")
    }
    rows, fill = fillups.fillup_rows(
        days_of(jobs, driven),
        {side: figures["odometer_factor"] for side, figures in pooled.items()},
        # short local runs take about what the long ones do, on the same tires
        {side: figures["liters_per_100km"] / 100 for side, figures in pooled.items()},
    )
    pl.DataFrame(rows).write_csv(folder / "fillups.csv")
    return fill


def make(folder: Path) -> None:
    """All files of the study but study.toml and README.md, under `folder`."""
    jobs, sky = make_jobs(), weather.make_weather()
    driven = {job.plan.name: as_driven(job, sky) for job in jobs}
    after = [job.plan for job in jobs if job.side == "after"]
    wider = bus.NEW.circumference_m / bus.OLD.circumference_m
    # the same trips at the same true speeds on the worn set, and on the new one at the speeds
    # the old dash led to
    on_old = {p.name: drive(p, bus.OLD, sky, done=7, dash=1 / wider) for p in after}
    at_old_speed = {p.name: drive(p, bus.NEW, sky, dash=wider) for p in after}
    cut = write_logs(folder, jobs, driven)
    write_profiles(folder / "routes")
    weather.station_file(sky).write_csv(folder / "weather.csv")
    fill = write_fillups(folder, jobs, driven)
    figures = truth.make_truth(jobs, driven, on_old, at_old_speed, fill, cut)
    # only the first profile tells speed limits
    figures["routes"] = calm.make_routes(((roads.ollerby(), True), (roads.quill(), False)))
    (folder / "truth.json").write_text(json.dumps(figures, indent=1) + "\n")


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
