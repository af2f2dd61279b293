"""A starting study file, written from a folder of logs for the user to fill in."""

from __future__ import annotations

import glob
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from gearing.logs.beside import Skipped
from gearing.messages import Items, Message, Moment, UserText, message, names
from gearing.messages.render import METRIC, Field
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
from gearing.study.words import UNFILLED, show

PATTERNS_AT_MOST = 12
FEWEST_FILLS = 4  # fewer tell nothing, whatever the day
BLANK = f'"{UNFILLED}"'


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
        *_rest(look, study, us=seen.us),
    ]
    return "\n".join(parts) + "\n"


def _head(look: FolderScan, seen: LogSummary) -> list[str]:
    logs = message("starting-logs", logs=len(look.logs))
    if seen.looked < len(look.logs):
        logs = message("starting-logs/some", logs=len(look.logs), looked=seen.looked)
    parts = (logs, _span(seen.first, seen.last)) if seen.first and seen.last else (logs,)
    told = [
        message("starting-head", blank=UserText(BLANK, "line")),
        f"{METRIC.field(Items(parts, ','))}.",
        *_good_for(seen),
        *carried_lines(seen.evidence),
    ]
    outside = len(look.logs) - sum(map(len, look.sides.values()))
    if look.sides and outside:
        told.append(message("starting-outside", logs=outside))
    for name, why in seen.unread[:5]:
        told.append(message("starting-unread", what=_of(show(name), why)))
    told += [message("starting-skipped", what=_of(show(n), why)) for n, why in _not_meant(look)]
    return [*(f"# {_safe(str(one))}" for one in told), ""]


def _good_for(seen: LogSummary) -> Iterator[Message]:
    for part, logs in seen.good_for.items():
        yield message("starting-good", part=UserText(part), logs=logs, all=seen.looked)
    for part, drives in seen.together.items():
        yield message("starting-good/joined", part=UserText(part), drives=drives)
    # what notebooks carry is told below, and no log lacks it
    notebooks = seen.evidence.fills or seen.evidence.needle or seen.evidence.odometer
    for part, lacks in () if notebooks else seen.missing.items():
        yield message("starting-lacks", part=UserText(part), lacks=Items(tuple(lacks), ","))
    if seen.by_zone:
        yield message("starting-zone", parts=names(seen.by_zone, joint=","))


def _span(first: datetime, last: datetime) -> Message:
    days = (Moment.day(moment.astimezone(UTC)) for moment in (first, last))
    return message("starting-span", first=next(days), last=next(days))


def _of(file: str, why: Field) -> Message:
    return message("of-a-file", file=UserText(file, "file"), why=why)


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
    told = message("starting-zone/none")
    if seen.local:
        told = message("starting-zone/name", logs=seen.local, all=seen.looked)
    return f'# time_zone = "America/Denver"  # {told}'


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
        first, last = (Moment.day(one.astimezone(UTC)) for one in seen.pause)
        lines.append(f"# {message('starting-pause', first=first, last=last)}")
    return lines


def _columns(seen: LogSummary) -> list[str]:
    """Each question's lines, commented out: the user takes the # off the right one."""
    if not seen.questions and not seen.not_known:
        return []
    lines = [f"[columns]  # {message('starting-doubt')}"]
    for question in seen.questions:
        told = message("question-of", question=question.told, where=question.where)
        lines.append(f"# {_safe(str(told))} {_safe(question.remedy)}".rstrip())
        lines += [f"# {_safe(line)}" for line in question.lines]
    if seen.not_known:
        lines.append(f"# {message('starting-not-known')}")
    lines += [f"# {_safe(line)}" for line in seen.not_known]
    return [*lines, ""]


def _rest(look: FolderScan, study: Path, *, us: bool) -> list[str]:
    us_money, metric_money = (
        ("4.10 USD/gal", "6000 mi", "2400 USD"),
        ("1.70 EUR/L", "10000 km", "2400 EUR"),
    )
    price, year, cost = us_money if us else metric_money
    lines = [
        "# [claim]  # what the tires are said to save",
        "# consumption_change_percent = -4",
        "",
        "# [money]  # for what a saving is worth a year, and when the tires have paid",
        f"# fuel_price = {quoted(price)}",
        f"# distance_per_year = {quoted(year)}",
        f"# cost = {quoted(cost)}",
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
    file = UserText(str(path), "file")
    told = [message("starting-written", file=file)]
    table = ""
    for number, line in enumerate(text.splitlines(), 1):
        table = line if line.startswith("[") else table
        if f"= {BLANK}" in line and not line.startswith("#"):
            key = UserText(line.partition(" ")[0])
            told.append(
                message("starting-fill", key=key, table=UserText(table or "the study"), line=number)
            )
    if seen.local:
        told.append(message("starting-local", logs=seen.local))
    left = len(seen.questions) + len(seen.not_known)
    if left:
        told.append(message("starting-left", headings=left))
    if seen.unread:
        first, more = UserText(seen.unread[0][0], "file"), len(seen.unread) - 1
        what = message("and-like-it", file=first, more=more) if more else first
        told.append(message("starting-unread", what=what))
    told += [message("starting-skipped", what=_of(name, why)) for name, why in _not_meant(look)]
    return [*map(str, told), str(message("starting-then", file=file))]
