"""Folders of each kind of evidence: the sample with columns taken away, notebooks of invented
worlds. What is taken away is the vehicle's bus, or the receiver; what stays is as it was."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import polars as pl
from sample_study import SAMPLE, sample_copy
from tank_world import Fills, Plan, make_fills, moment

from gearing.logs.read import read_log
from gearing.study import load_study

GPS = {
    "latitude_deg": "Latitude (deg)",
    "longitude_deg": "Longitude (deg)",
    "altitude_m": "Altitude (m)",
    "gps_speed_mps": "GPS speed (m/s)",
}
BUS = {
    "indicated_speed_mps": "Vehicle speed (m/s)",
    "engine_speed_rpm": "Engine speed (rpm)",
    "fuel_rate_lph": "Engine fuel rate (L/h)",
}
MILE_M, GALLON_L = 1609.344, 3.785411784


def stripped_sample(folder: Path, kept: dict[str, str], periods: Iterable[str]) -> Path:
    """The sample with only these channels in its logs, of these periods; returns the study."""
    copy = sample_copy(
        folder, "generator", "__pycache__", "make.py", "truth.json", "before", "after"
    )
    study = load_study(SAMPLE / "study.toml")
    for period in periods:
        (folder / period).mkdir()
        for path in sorted((SAMPLE / period).glob("*.csv")):
            samples = read_log(path, rules=study.columns, time_zone=study.time_zone).samples
            names = [name for name in kept if name in samples.columns]
            samples.select(
                pl.col("time").dt.strftime("%Y-%m-%dT%H:%M:%S%.3fZ").alias("Time (UTC)"),
                *(pl.col(name).alias(kept[name]) for name in names),
            ).write_csv(folder / period / path.name)
    return copy


def without(study: Path, *tables: str) -> None:
    """Take keys at the top, or whole tables, out of a study file."""
    text = study.read_text(encoding="utf-8")
    for name in tables:
        if name.startswith("["):
            head = re.escape(name)
            text = re.sub(rf"^{head}\n(?:(?!\[).*\n?)*", "", text, flags=re.MULTILINE)
        else:
            text = re.sub(rf"^{name} *=.*\n", "", text, flags=re.MULTILINE)
    study.write_text(text, encoding="utf-8")


def notebook(folder: Path, plan: Plan, seed: int = 3, more: str = "") -> tuple[Path, Fills]:
    """A notebook of fill-ups as a spreadsheet gives it, without `full`, and a study of it."""
    fills = make_fills(plan, np.random.default_rng(seed))
    folder.mkdir(parents=True, exist_ok=True)
    rows = zip(fills.time_s, fills.odometer_m, fills.volume_l, strict=True)
    lines = [
        f"{moment(at):%Y-%m-%d},{odometer / MILE_M:.0f},{volume / GALLON_L:.2f}"
        for at, odometer, volume in rows
    ]
    head = "date,odometer (mi),volume (gal)"
    (folder / "fillups.csv").write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    study = folder / "study.toml"
    study.write_text(
        'name = "notebook"\nunits = "us"\ntime_zone = "America/Denver"\n'
        'fillups = "fillups.csv"\n\n'
        '[before]\ndrive_tire = "245/70R19.5"\n\n'
        f'[after]\ndrive_tire = "265/70R19.5"\nfrom = {moment(fills.changed_s):%Y-%m-%d}\n\n'
        f"[claim]\nconsumption_change_percent = -4\n{more}",
        encoding="utf-8",
    )
    return study, fills
