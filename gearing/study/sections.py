"""All tables of a study file, each key asked for once."""

from __future__ import annotations

import re
import unicodedata
import zlib
from datetime import UTC, timezone
from pathlib import Path
from typing import Literal, cast
from zoneinfo import ZoneInfo, available_timezones

from gearing.messages import message
from gearing.study.candidates import read_candidates
from gearing.study.columns import read_columns
from gearing.study.files import find_file
from gearing.study.model import Study
from gearing.study.records import (
    read_claim,
    read_dash,
    read_loads,
    read_measured,
    read_money,
    read_routes,
)
from gearing.study.section import Section
from gearing.study.vehicle import read_period, read_vehicle
from gearing.study.words import near_miss, nearest, shown

LONGEST_SLUG = 60
_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)$")  # names no Windows file may have


def read_sections(top: Section, path: Path, *, companions: bool = False) -> Study:
    """The study of all tables below `top`, each key asked for once; faults are noted there."""
    top.zone = _zone(top)
    name = top.text("name", '"bookmobile"')
    top.require("name", '"bookmobile"')
    before, after = top.part("before"), top.part("after")
    units = top.choice("units", ("us", "metric"))
    seed = top.whole("seed", "1", 0, 2**31 - 1)
    margin = top.number("margin_percent", "1", 0, 20)
    columns = read_columns(top.part("columns"))
    fillups = find_file(top, "fillups", '"fillups.csv"', needed=companions)
    dash_file, dash = read_dash(top, columns, fillups)
    return Study(
        name=name or "",
        slug=slug(name or ""),
        path=path,
        units=cast('Literal["us", "metric"]', units or "metric"),
        time_zone=str(top.zone) if isinstance(top.zone, ZoneInfo) else "UTC",
        zone_named="time_zone" in top.values,
        fillups=fillups,
        weather=find_file(top, "weather", '"weather.csv"', needed=companions),
        private_radius_m=top.quantity("private_radius", "m", "0.5 mi", 0, 100_000) or 0.0,
        seed=1 if seed is None else seed,
        margin_percent=1.0 if margin is None else margin,
        vehicle=read_vehicle(top.part("vehicle")),
        before=read_period(before, "before"),
        after=read_period(after, "after"),
        logs=top.texts("logs", '["logs/*.csv"]') or (),
        loads=read_loads(top.parts("load")),
        measured=read_measured(top.parts("measured")),
        dash_file=dash_file,
        dash=dash,
        columns=columns,
        claim=read_claim(top.part("claim")),
        money=read_money(top.part("money")),
        routes=read_routes(top.parts("route")),
        candidates=read_candidates(top.parts("candidate")),
    )


def _zone(top: Section) -> ZoneInfo | timezone:
    text = top.text("time_zone", '"America/Denver"')
    if text is None or text == "UTC":
        return UTC
    try:
        return ZoneInfo(text)
    except (OSError, ValueError, KeyError):  # not found, a path outside, a folder
        known = available_timezones()
    close = nearest(text, known)
    advice = near_miss(f'"{close}"') if close else message("write-a-place")
    told = message("study-time-zone", key=top.called("time_zone"), shown=shown(text), advice=advice)
    top.fault("time_zone", told)
    return UTC


def slug(name: str) -> str:
    """A folder name for a study's name: small letters, digits and hyphens, never empty."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    text = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:LONGEST_SLUG].strip("-")
    if text and not _RESERVED.match(text):
        return text
    return f"study-{zlib.crc32(name.encode()):08x}"
