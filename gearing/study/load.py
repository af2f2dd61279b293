"""From a TOML file to a checked study; all that is wrong is told at once."""

from __future__ import annotations

import re
import unicodedata
import zlib
from collections.abc import Mapping
from datetime import UTC, datetime, timezone
from pathlib import Path
from typing import Literal, cast
from zoneinfo import ZoneInfo, available_timezones

from gearing.messages import GearingError, Items, UserText, message, names
from gearing.study.candidates import read_candidates
from gearing.study.columns import read_columns
from gearing.study.document import read_document
from gearing.study.faults import Faults
from gearing.study.files import NAMED_AT_MOST, check_logs, find_file, shared_logs
from gearing.study.model import Side, Study
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


def load_study(path: Path, *, logs_needed: bool = True) -> Study:
    """Read and check a study file. Quantities come out in SI, moments in UTC.

    With `logs_needed` false the logs, fill-ups and weather need not be there: enough for tables
    made from what is declared alone.

    Raises
    ------
    GearingError
        with every fault found, each with its line where it has one.
    """
    document = read_document(path)
    faults = Faults(document)
    top = Section(faults, document.data)
    study = read_sections(top, path, companions=logs_needed)
    _check_periods(top, logs_needed=logs_needed)
    if logs_needed:
        _check_shared(top, study)
    _close(top)
    if faults.found:
        raise GearingError(faults.in_order())
    return study


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


def _check_periods(top: Section, *, logs_needed: bool) -> None:
    """Which tires and which logs belong to which period must be plain."""
    sections = {child.where[0]: child for child in top.children if len(child.where) == 1}
    before, after = sections.get("before"), sections.get("after")
    periods = [section for section in (before, after) if section is not None]
    if not periods:
        if not {"before", "after"} & top.faulty:
            top.require(
                "before",
                '{ drive_tire = "245/70R19.5", logs = ["before/*.csv"] }',
                message("needs/period"),
            )
        return
    own = [section for section in periods if "logs" in section.values]
    if "logs" in top.values and own:
        told = message(
            "study-conflict/logs-twice", key=top.called("logs"), period=UserText(own[0].label)
        )
        top.fault("logs", told)
    elif (
        after is not None
        and "from" in after.values
        and not {"logs", "fillups", "measured"} & set(top.values)
        and logs_needed
    ):
        after.fault("from", message("study-conflict/splits-nothing", key=after.called("from")))
    if after is not None and "from" in after.values and before is None:
        top.require("before", '{ drive_tire = "245/70R19.5" }', message("needs/before"))
    if "logs" in top.values and before is not None and after is not None and not own:
        after.require("from", "2026-03-14", message("needs/from"))
    if not logs_needed:
        return
    if not own and "logs" not in top.values and not _notes_tell(top, before, after):
        reason = message("needs/evidence")
        periods[0].require("logs", f'["{periods[0].where[0]}/*.csv"]', reason)
    for section in (top, *periods):
        if section is top or section in own:
            check_logs(section)


def _notes_tell(top: Section, before: Section | None, after: Section | None) -> bool:
    """Whether what was noted is evidence without logs, fill-ups or the needle over measured
    stretches: it falls into its periods by the date of the change, or there is one period."""
    if "fillups" not in top.values and not {"measured", "dash"} <= set(top.values):
        return False
    return before is None or after is None or "from" in after.values


def _check_shared(top: Section, study: Study) -> None:
    after = next((child for child in top.children if child.where == ("after",)), None)
    shared = shared_logs(study)
    if after is None or not shared:
        return
    files = names([path.name for path in shared[:NAMED_AT_MOST]], "file", ",")
    if (more := len(shared) - NAMED_AT_MOST) > 0:
        files = Items((files, message("more-files", count=more)))
    told = message("study-conflict/shared-logs", key=after.called("logs"), files=files)
    after.fault("logs", told)


# which keys each table knows, so that a key in the wrong table can be sent home
TABLES: Mapping[str, tuple[str, ...]] = {
    "": (
        "name",
        "units",
        "time_zone",
        "fillups",
        "weather",
        "private_radius",
        "seed",
        "logs",
        "margin_percent",
        "vehicle",
        "before",
        "after",
        "load",
        "measured",
        "dash",
        "columns",
        "claim",
        "money",
        "route",
        "candidate",
    ),
    "[vehicle]": (
        "mass",
        "fuel",
        "axle_ratio",
        "gear_ratios",
        "converter",
        "transmission",
        "speed_source",
        "shaft_pulses",
        "drag_area",
        "rolling_resistance",
        "rolling_temperature_per_k",
        "combination",
        "axles",
        "brakes",
        "engine",
    ),
    "[vehicle.engine]": (
        "torque_curve",
        "governed_rpm",
        "idle_rpm",
        "derate_above",
        "derate_percent_per_km",
        "retarder",
    ),
    "[before]": (
        "drive_tire",
        "steer_tire",
        "revolutions_per_mile",
        "revolutions_per_km",
        "axle_ratio",
        "pressure",
        "fitment",
        "tread",
        "from",
        "to",
    ),
    "[after]": (
        "drive_tire",
        "steer_tire",
        "revolutions_per_mile",
        "revolutions_per_km",
        "axle_ratio",
        "pressure",
        "fitment",
        "tread",
        "from",
        "to",
    ),
    "[claim]": ("consumption_change_percent", "economy_change_percent"),
    "[money]": ("fuel_price", "distance_per_year", "cost"),
    "[[route]]": ("profile", "target_speed"),
}


def _close(top: Section) -> None:
    homes: dict[str, list[str]] = {}
    for table, keys in TABLES.items():
        for key in keys:
            homes.setdefault(key, []).append(table)
    top.close(homes)


def slug(name: str) -> str:
    """A folder name for a study's name: small letters, digits and hyphens, never empty."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    text = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:LONGEST_SLUG].strip("-")
    if text and not _RESERVED.match(text):
        return text
    return f"study-{zlib.crc32(name.encode()):08x}"


def side_at(study: Study, moment: datetime) -> Side | None:
    """The period a moment falls in where the study splits its logs by date; else None."""
    if study.after is None or study.after.start is None:
        return None
    return "after" if moment >= study.after.start else "before"
