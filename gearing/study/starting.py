"""A starting study file, written from a folder of logs for the user to fill in."""

from __future__ import annotations

import glob
import itertools
import os
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, cast

from gearing.logs.endings import PLAIN, is_log
from gearing.problems import GearingError, Problem, Severity
from gearing.study.words import show

if TYPE_CHECKING:
    from gearing.logs.model import Reading

PACKED = (".gz", ".zip")
PATTERNS_AT_MOST = 12
READ_AT_MOST = 200  # logs looked into, evenly spread; more would only be slower
SIDES = ("before", "after")
BLANK = '"?"'
_FILLUPS = re.compile(r"fill[-_ ]?ups?|refuel\w*|tankings?", re.IGNORECASE)
_WEATHER = re.compile(r"weather\w*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Look:
    """What a folder holds: logs with their side where subfolders tell it, and companions."""

    folder: Path
    logs: tuple[Path, ...]
    sides: dict[str, tuple[Path, ...]]  # before and after, or empty
    fillups: Path | None
    weather: Path | None
    routes: tuple[Path, ...]


@dataclass(frozen=True, slots=True)
class Seen:
    """What the logs looked into hold."""

    looked: int
    unread: tuple[tuple[str, str], ...]  # file and why
    first: datetime | None
    last: datetime | None
    pause: tuple[datetime, datetime] | None  # the longest without a log
    good_for: dict[str, int]
    missing: dict[str, tuple[str, ...]]
    questions: tuple[Problem, ...]
    us: bool


def write_starting_study(path: Path, folder: Path) -> list[str]:
    """Write a commented study file for the logs in `folder`; what to do next, as lines.

    Nothing that exists is overwritten. The file loads once its blanks, each a `"?"`, are filled.

    Raises
    ------
    GearingError
        the file exists or cannot be written, or the folder holds no logs.
    """
    if path.exists():
        raise _error(path, "this file exists and is left as it is.", "Name another, or move it.")
    look = look_at(folder, path)
    seen = look_into(look)
    text = study_text(look, seen, path)
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise _error(path, f"cannot be written: {error.strerror}.") from None
    return _next_steps(path, text, seen)


def _error(path: Path, message: str, remedy: str = "") -> GearingError:
    return GearingError(
        (
            Problem(
                code="study-files",
                severity=Severity.ERROR,
                file=str(path),
                message=message,
                remedy=remedy,
            ),
        )
    )


def log_suffix(path: Path) -> str:
    """The ending of a log's name, packing included, as written; empty where it is no log."""
    if not is_log(path):
        return ""
    packed = path.suffix if path.suffix.lower() in PACKED else ""
    inner = Path(path.name.removesuffix(packed)).suffix
    return (inner if inner.lower() in PLAIN else "") + packed


def look_at(folder: Path, study: Path) -> Look:
    """Sort the files of a folder into logs, companions and route profiles.

    Raises
    ------
    GearingError
        the folder is not there or holds no logs.
    """
    if not folder.is_dir():
        raise _error(folder, "this is not a folder.", "Name the folder that holds the logs.")
    files = sorted(path for path in folder.rglob("*") if path.is_file() and log_suffix(path))
    files = [
        path
        for path in files
        if not any(part.startswith(".") for part in path.relative_to(folder).parts)
        and path.resolve() != study.resolve()
    ]
    fillups = next((path for path in files if _FILLUPS.fullmatch(_stem(path))), None)
    weather = next((path for path in files if _WEATHER.fullmatch(_stem(path))), None)
    routes = [path for path in files if path.parent.name.lower() in ("routes", "profiles")]
    logs = [path for path in files if path not in (fillups, weather, *routes)]
    if not logs:
        raise _error(
            folder,
            "there are no logs in this folder.",
            f"Logs end in {', '.join(PLAIN)}, or these packed as .gz or .zip.",
        )
    sides = {side: _under(logs, folder, side) for side in SIDES}
    return Look(
        folder=folder,
        logs=tuple(logs),
        sides=sides if all(sides.values()) else {},
        fillups=fillups,
        weather=weather,
        routes=tuple(routes),
    )


def _stem(path: Path) -> str:
    return path.name[: len(path.name) - len(log_suffix(path))]


def _under(logs: Sequence[Path], folder: Path, side: str) -> tuple[Path, ...]:
    return tuple(path for path in logs if path.relative_to(folder).parts[0].lower() == side)


def look_into(look: Look) -> Seen:
    """Read logs of a folder, evenly spread where there are very many."""
    from gearing.logs.read import read_log

    step = max(1, -(-len(look.logs) // READ_AT_MOST))
    readings = [read_log(path) for path in look.logs[::step]]
    spans = sorted(map(_span, (reading for reading in readings if reading.samples.height)))
    unread = tuple(
        (reading.file, reading.failures[0].message)
        for reading in readings
        if reading.failures and not reading.samples.height
    )
    return Seen(
        looked=len(readings),
        unread=unread,
        first=spans[0][0] if spans else None,
        last=max(end for _, end in spans) if spans else None,
        pause=_longest_pause(spans),
        good_for=Counter(part for reading in readings for part in reading.good_for),
        missing=_missing(readings),
        questions=_questions(readings),
        us=any(column.unit in ("mph", "mi") for r in readings for column in r.columns),
    )


def _span(reading: Reading) -> tuple[datetime, datetime]:
    times = reading.samples["time"]
    return cast("datetime", times.min()), cast("datetime", times.max())


def _longest_pause(
    spans: Sequence[tuple[datetime, datetime]],
) -> tuple[datetime, datetime] | None:
    pauses = [
        (after[0] - before[1], before[1], after[0])
        for before, after in itertools.pairwise(spans)
        if after[0] > before[1]
    ]
    return max(pauses)[1:] if pauses else None


def _missing(readings: Iterable[Reading]) -> dict[str, tuple[str, ...]]:
    """For each question no log is good for: what they lack."""
    readings = list(readings)
    answered = {part for reading in readings for part in reading.good_for}
    found: dict[str, tuple[str, ...]] = {}
    for reading in readings:
        for part, lacks in reading.missing.items():
            if part not in answered:
                found.setdefault(part, tuple(lacks))
    return found


def _questions(readings: Iterable[Reading]) -> tuple[Problem, ...]:
    unique: dict[tuple[str, str, str], Problem] = {}
    for reading in readings:
        for question in reading.questions:
            unique.setdefault((question.code, question.column, question.remedy), question)
    return tuple(unique.values())


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
    return Path(relative).as_posix()


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


def study_text(look: Look, seen: Seen, study: Path) -> str:
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


def _head(look: Look, seen: Seen) -> list[str]:
    lines = [
        f"# A study of a change of tires. Fill in each {BLANK}; take the # off what you know.",
        f"# {len(look.logs)} log{'s' * (len(look.logs) != 1)} found"
        + (f", {seen.looked} of them looked into" if seen.looked < len(look.logs) else "")
        + (f", {seen.first:%Y-%m-%d} to {seen.last:%Y-%m-%d} (UTC)." if seen.first else "."),
    ]
    for part, count in seen.good_for.items():
        lines.append(f"# Good for {part}: {count} of {seen.looked}.")
    for part, lacks in seen.missing.items():
        lines.append(f"# Not good for {_safe(part)}; missing: {_safe(', '.join(lacks))}.")
    outside = len(look.logs) - sum(map(len, look.sides.values()))
    if look.sides and outside:
        lines.append(f"# {outside} more lie outside the folders before and after: not listed.")
    for name, why in seen.unread[:5]:
        lines.append(f"# Could not be read: {show(name)}: {_safe(why)}")
    return [*lines, ""]


def _safe(text: str) -> str:
    """Text that cannot leave its comment."""
    return "".join(c if c.isprintable() else " " for c in text)


def _top(look: Look, seen: Seen, study: Path) -> list[str]:
    name = _safe(look.folder.resolve().name).strip() or "my vehicle"
    lines = [
        f"name = {quoted(name)}",
        f'units = "{"us" if seen.us else "metric"}"  # what the report is written in: us, metric',
        '# time_zone = "America/Denver"  # where logs carry local time; else they count as UTC',
    ]
    for key, path, what in (
        ("fillups", look.fillups, "date, odometer as shown, volume"),
        ("weather", look.weather, "time, wind speed, wind direction, temperature, pressure"),
    ):
        mark, value = ("", quoted(_relative(path, study))) if path else ("# ", f'"{key}.csv"')
        lines.append(f"{mark}{key} = {value}  # {what}")
    radius = quoted("0.5 mi" if seen.us else "800 m")
    lines.append(f"# private_radius = {radius}  # trip ends are blurred in the report")
    if not look.sides:
        lines.append(f"logs = {_list(patterns(look.logs, look.folder, study))}")
    return [*lines, ""]


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


def _periods(look: Look, seen: Seen, study: Path) -> list[str]:
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
        elif side == "after":
            lines += _split(seen)
        lines += [f"# pressure = {quoted(pressure)}", f"# tread = {quoted(tread)}"]
        lines += ['# fitment = "dual"  # single, dual, wide-base single', ""]
    return lines


def _split(seen: Seen) -> list[str]:
    lines = [f"from = {BLANK}  # FILL IN the day the new tires went on, as in 2026-03-14"]
    if seen.pause is not None and seen.pause[1] - seen.pause[0] > timedelta(days=1):
        start, end = (moment.astimezone(UTC) for moment in seen.pause)
        lines.append(f"# (the longest pause between logs: {start:%Y-%m-%d} to {end:%Y-%m-%d})")
    return lines


def _columns(seen: Seen) -> list[str]:
    """Each question's lines, commented out: the user takes the # off the right one."""
    if not seen.questions:
        return []
    lines = ["[columns]  # headings that leave doubt: take the # off the line that is right"]
    for question in seen.questions:
        where = f" in {show(question.file)}" if question.file else ""
        lines.append(f"# {_safe(question.message)}{_safe(where)}")
        _, _, choices = question.remedy.partition("\n")
        lines += [f"# {_safe(line)}" for line in choices.splitlines() if line.strip()]
    return [*lines, ""]


def _rest(look: Look, study: Path) -> list[str]:
    lines = [
        "# [claim]  # what the tires are said to save",
        "# consumption_change_percent = -4",
        "",
    ]
    for path in look.routes or (Path("routes/cold_spring.csv"),):
        shown = _relative(path, study) if look.routes else path.as_posix()
        lines += [
            "# [[route]]  # a mountain road: distance and elevation, or GPX",
            f"# name = {quoted(_stem(path).replace('_', ' ').title())}",
            f"# profile = {quoted(shown)}",
        ]
    return lines


def _next_steps(path: Path, text: str, seen: Seen) -> list[str]:
    """What to print: where the file is, which lines to fill in, what else it asks."""
    lines = [f"Wrote {path}."]
    table = ""
    for number, line in enumerate(text.splitlines(), 1):
        table = line if line.startswith("[") else table
        if f"= {BLANK}" in line and not line.startswith("#"):
            key = line.partition(" ")[0]
            lines.append(f"Fill in {key} of {table} in line {number}.")
    if seen.questions:
        count = len(seen.questions)
        lines.append(f"{count} heading{'s' * (count != 1)} left in doubt: see [columns] in it.")
    lines += [f"Could not be read: {name}" for name, _ in seen.unread[:5]]
    return [*lines, f"Then: gearing run {path}"]
