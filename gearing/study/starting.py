"""A starting study file, written from a folder of logs for the user to fill in."""

from __future__ import annotations

import glob
import os
import re
from collections.abc import Iterable, Sequence
from datetime import UTC, timedelta
from pathlib import Path

from gearing.logs.beside import Skipped
from gearing.messages import UserText, message
from gearing.messages.render import METRIC
from gearing.study.carries import carried_lines
from gearing.study.discovery import (
    SIDES,
    FolderScan,
    Joined,
    LogSummary,
    each_alone,
    file_error,
    log_suffix,
    look_at,
    look_into,
    stem_of,
)
from gearing.study.words import show

PATTERNS_AT_MOST = 12
FEWEST_FILLS = 4  # fewer tell nothing, whatever the day
BLANK = '"?"'


def write_starting_study(path: Path, folder: Path, joined: Joined = each_alone) -> list[str]:
    """Write a commented study file for the logs in `folder`; what to do next, as lines.

    Nothing that exists is overwritten. The file loads once its blanks, each a `"?"`, are filled.
    `joined` says which logs, by index, a run takes for one recording.

    Raises
    ------
    GearingError
        the file exists or cannot be written, or the folder holds no logs.
    """
    if path.exists():
        raise file_error(path, message("study-files/exists"))
    look = look_at(folder, path)
    seen = look_into(look, joined)
    text = study_text(look, seen, path)
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        words = UserText(error.strerror or str(error), "system")
        raise file_error(path, message("study-files/not-written", system=words)) from None
    return _next_steps(path, text, look, seen)


def quoted(text: str) -> str:
    """A TOML basic string."""
    special = {"\\": "\\\\", '"': '\\"'}
    return (
        '"'
        + "".join(special.get(c) or (c if c.isprintable() else f"\\U{ord(c):08x}") for c in text)
        + '"'
    )


def _relative(path: Path, study: Path) -> str:
    relative = os.path.relpath(path.resolve(), study.resolve().parent)
    # of a byte that is no UTF-8 a study file cannot speak but as of any one
    return re.sub("[\udc80-\udcff]", "?", Path(relative).as_posix())


def patterns(logs: Sequence[Path], folder: Path, study: Path) -> list[str]:
    """Globs, relative to the study file, that match these logs under `folder`."""
    places = sorted({(path.parent, log_suffix(path)) for path in logs})
    if len(places) > PATTERNS_AT_MOST:
        suffixes = sorted({suffix for _, suffix in places})
        return [f"{_base(folder, study)}**/*{glob.escape(suffix)}" for suffix in suffixes]
    return [f"{_base(place, study)}*{glob.escape(suffix)}" for place, suffix in places]


def _base(folder: Path, study: Path) -> str:
    base = glob.escape(_relative(folder, study))
    return "" if base == "." else base + "/"


def study_text(look: FolderScan, seen: LogSummary, study: Path) -> str:
    """The whole file."""
    parts = [
        *_head(look, seen),
        *_top(look, seen, study),
        *_vehicle(us=seen.us),
        *_periods(look, seen, study),
        *_columns(seen),
        *_rest(look, study),
    ]
    return "\n".join(parts) + "\n"


def _head(look: FolderScan, seen: LogSummary) -> list[str]:
    lines = [
        f"# A study of a change of tires. Fill in each {BLANK}; take the # off what you know.",
        f"# {len(look.logs)} log{'s' * (len(look.logs) != 1)} found"
        + (f", {seen.looked} of them looked into" if seen.looked < len(look.logs) else "")
        + (f", {seen.first:%Y-%m-%d} to {seen.last:%Y-%m-%d} (UTC)." if seen.first else "."),
    ]
    for part, count in seen.good_for.items():
        lines.append(f"# Good for {part}: {count} of {seen.looked}.")
    for part, count in seen.together.items():
        drives = f"{count} drive{'s' * (count != 1)}"
        lines.append(f"# Good for {part}: {drives} that several logs show, joined by time.")
    for part, lacks in seen.missing.items():
        lines.append(f"# Not good for {_safe(part)}; missing: {_safe(', '.join(map(str, lacks)))}.")
    if seen.by_zone:
        lines.append(
            "# Once time_zone is named, logs that carry local time may join the others and be "
            f"good for {', '.join(seen.by_zone)}."
        )
    lines += [f"# {_safe(line)}" for line in carried_lines(seen.evidence)]
    outside = len(look.logs) - sum(map(len, look.sides.values()))
    if look.sides and outside:
        lines.append(f"# {outside} more lie outside the folders before and after: not listed.")
    for name, why in seen.unread[:5]:
        lines.append(f"# Could not be read: {show(name)}: {_safe(why)}")
    lines += [f"# Skipped: {show(name)}: {why}" for name, why in _not_meant(look)]
    return [*lines, ""]


def _not_meant(look: FolderScan) -> list[Skipped]:
    """What was skipped, but for the companions, which the study names."""
    return [(name, why) for name, why in look.skipped if why.topic != "kept-beside"][:10]


def _safe(text: str) -> str:
    """Text that cannot leave its comment."""
    return "".join(c if c.isprintable() else " " for c in text)


def _top(look: FolderScan, seen: LogSummary, study: Path) -> list[str]:
    name = _safe(look.folder.resolve().name).strip() or "my vehicle"
    lines = [
        f"name = {quoted(name)}",
        f'units = "{"us" if seen.us else "metric"}"  # what the report is written in: us, metric',
        _time_zone(seen),
    ]
    for key, path, what in (
        ("fillups", look.fillups, "date, odometer as shown, volume"),
        ("weather", look.weather, "time, wind speed, wind direction, temperature, pressure"),
    ):
        mark, value = ("", quoted(_relative(path, study))) if path else ("# ", f'"{key}.csv"')
        lines.append(f"{mark}{key} = {value}  # {what}")
    if look.dash:
        shown = quoted(_relative(look.dash, study))
        lines.append(f"dash = {shown}  # time, speed or odometer as shown")
    radius = quoted("0.5 mi" if seen.us else "800 m")
    lines.append(f"# private_radius = {radius}  # trip ends are blurred in the report")
    if look.logs and not look.sides:
        lines.append(f"logs = {_list(patterns(look.logs, look.folder, study))}")
    return [*lines, ""]


def _time_zone(seen: LogSummary) -> str:
    if seen.evidence.local_dash:
        return f'time_zone = {BLANK}  # FILL IN, as in "America/Denver": the dash was read by it'
    if not seen.local:
        return '# time_zone = "America/Denver"  # days are counted by it; else by UTC'
    return (
        '# time_zone = "America/Denver"  # name yours: '
        f"{seen.local} of {seen.looked} logs carry times without a zone, taken for UTC"
    )


def _list(texts: Iterable[str]) -> str:
    return "[" + ", ".join(map(quoted, texts)) + "]"


def _vehicle(*, us: bool) -> list[str]:
    mass = "26500 lb" if us else "12000 kg"
    low, high = ("600 lbf*ft", "900 lbf*ft") if us else ("800 N*m", "1200 N*m")
    return [
        "[vehicle]",
        "# for the effective axle ratio and the gears:",
        "# axle_ratio = 4.88",
        "# gear_ratios = [3.51, 1.91, 1.43, 1.00, 0.74, 0.64]",
        "# for fuel:",
        f"# mass = {quoted(mass)}  # as weighed, laden",
        '# fuel = "diesel"  # diesel, gasoline',
        "# which turns the speed of the vehicle's computer counts:",
        '# speed_source = "output shaft"  # output shaft, drive wheels, front wheels, unknown',
        "# for the mountain routes:",
        "# [vehicle.engine]",
        f"# torque_curve = {{ rpm = [800, 1600, 2400], torque = {_list((low, high, low))} }}",
        "# governed_rpm = 2500",
        "",
    ]


def _periods(look: FolderScan, seen: LogSummary, study: Path) -> list[str]:
    lines = []
    turns = "revolutions_per_mile = 628" if seen.us else "revolutions_per_km = 390"
    pressure, tread = ("95 psi", "6/32 in") if seen.us else ("655 kPa", "5 mm")
    for side in SIDES:
        lines += [
            f"[{side}]",
            f'drive_tire = {BLANK}  # FILL IN, as on the sidewall: "245/70R19.5"',
            f"# {turns}  # the maker's published figure; better than the size",
        ]
        if look.sides:
            logs = look.sides[side]
            folder = look.folder / logs[0].relative_to(look.folder).parts[0]
            lines.append(f"logs = {_list(patterns(logs, folder, study))}")
            if side == "after" and seen.evidence.fills >= FEWEST_FILLS and not seen.evidence.fuel:
                lines += _split(seen)  # tanks between the last drive before and the first after
        elif side == "after":
            lines += _split(seen)
        lines += [f"# pressure = {quoted(pressure)}", f"# tread = {quoted(tread)}"]
        lines += ['# fitment = "dual"  # single, dual, wide-base single', ""]
    return lines


def _split(seen: LogSummary) -> list[str]:
    lines = [f"from = {BLANK}  # FILL IN the day the new tires went on, as in 2026-03-14"]
    if seen.pause is not None and seen.pause[1] - seen.pause[0] > timedelta(days=1):
        start, end = (moment.astimezone(UTC) for moment in seen.pause)
        lines.append(f"# (the longest pause between logs: {start:%Y-%m-%d} to {end:%Y-%m-%d})")
    return lines


def _columns(seen: LogSummary) -> list[str]:
    """Each question's lines, commented out: the user takes the # off the right one."""
    if not seen.questions:
        return []
    lines = ["[columns]  # headings that leave doubt: take the # off the line that is right"]
    for question in seen.questions:
        told = question.message.removesuffix(".")
        where = METRIC.field(question.where)
        lines.append(f"# {_safe(told)} (in {_safe(where)}) {_safe(question.remedy)}")
        lines += [f"# {_safe(line)}" for line in question.lines]
    return [*lines, ""]


def _rest(look: FolderScan, study: Path) -> list[str]:
    lines = [
        "# [claim]  # what the tires are said to save",
        "# consumption_change_percent = -4",
        "",
    ]
    for path in look.routes or (Path("routes/cold_spring.csv"),):
        shown = _relative(path, study) if look.routes else path.as_posix()
        lines += [
            "# [[route]]  # a mountain road: distance and elevation, or GPX",
            f"# name = {quoted(stem_of(path).replace('_', ' ').title())}",
            f"# profile = {quoted(shown)}",
        ]
    return lines


def _next_steps(path: Path, text: str, look: FolderScan, seen: LogSummary) -> list[str]:
    """What to print: where the file is, which lines to fill in, what else it asks."""
    lines = [f"Wrote {path}."]
    table = ""
    for number, line in enumerate(text.splitlines(), 1):
        table = line if line.startswith("[") else table
        if f"= {BLANK}" in line and not line.startswith("#"):
            key = line.partition(" ")[0]
            place = f" of {table}" if table else ""
            lines.append(f"Fill in {key}{place} in line {number}.")
    if seen.local:
        lines.append(f"Name your time_zone: {seen.local} logs carry times without a zone.")
    if seen.questions:
        count = len(seen.questions)
        lines.append(f"{count} heading{'s' * (count != 1)} left in doubt: see [columns] in it.")
    lines += [f"Could not be read: {name}" for name, _ in seen.unread[:5]]
    lines += [f"Skipped: {name}: {why}" for name, why in _not_meant(look)]
    return [*lines, f"Then: gearing run {path}"]
