"""Companion files: weather, fill-ups and road profiles, read like logs by the one table."""

from __future__ import annotations

import re
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import pi
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl

from gearing.logs.archives import LogFileError
from gearing.logs.assign import Candidate, ask_unit, assign, candidates, rule_line
from gearing.logs.channels import seen_range
from gearing.logs.column_rule import ColumnRule
from gearing.logs.endings import file_name
from gearing.logs.evidence import unit_by_size
from gearing.logs.fillup_rows import as_odometer, fuel_only, in_stops, once
from gearing.logs.headings import COMPANION_UNITS, dimensions_of, short_name, unit_for
from gearing.logs.ledger import Ledger, answer, proposed_lines
from gearing.logs.notebook_columns import (
    FILLUPS,
    as_companion,
    named_by_unit,
    tellers_first,
    unit_by_others,
)
from gearing.logs.profile_rows import climbed, runs_on
from gearing.logs.samples import Context
from gearing.logs.table import Table, read_tables
from gearing.logs.text import load_text
from gearing.logs.timestamps.date_order import (
    DAY_FIRST,
    MONTH_FIRST,
    DateOrder,
    shortened,
)
from gearing.logs.timestamps.utc import read_times, rises
from gearing.logs.values import Numbers, in_unit, to_flags, to_numbers
from gearing.logs.weather_columns import one_pressure, unpacked, with_hours
from gearing.messages import Message, Problem, Severity, UserText, message, problem_of
from gearing.quantities import QUANTITIES
from gearing.units import BY_NAME

Floats = npt.NDArray[np.float64]

_WEATHER = ("wind_speed_mps", "wind_from_deg", "ambient_temperature_c", "barometric_pressure_kpa")
_PROFILE = ("distance_m", "altitude_m", "speed_limit_mps", "stop_s")
_FLAGS = ("full", "partial", "missed")
_PARTIAL = {"partial": "yes", "teil": "yes", "partiel": "yes", "full": "no", "voll": "no"}
_COMPASS = ("n", "nne", "ne", "ene", "e", "ese", "se", "sse",
            "s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw")  # fmt: skip
_POINTS = {point: 22.5 * i for i, point in enumerate(_COMPASS)}
_TOWARD = re.compile(r"\bto(wards?)?\W*$")  # where the wind blows to, not from
_UNITS_TO_ASK = {
    "speed": ("mph", "km/h", "m/s", "kn"),
    "length": ("mi", "km", "m", "ft"),
    "volume": ("gal", "L"),
    "temperature": ("degF", "degC"),
    "pressure": ("inHg", "hPa", "kPa"),
}
_LIKELY_UNITS = {  # no odometer counts in feet, and no road's height in miles
    "distance_m": ("m", "km", "mi"),
    "altitude_m": ("m", "ft"),
    "volume_l": ("gal", "L"),
    "indicated_distance_m": ("mi", "km"),
    "indicated_speed_mps": ("mph", "km/h"),
}
_WORDS = {"indicated_distance_m": "odometer"}
MAX_OUT_OF_STEP = 0.25  # of the odometer's readings; more is another odometer
MIN_OF_OWN_TIME = 0.5  # of the rows of a weather file
MIN_STEPS = 3  # to know how far a tank usually goes
MAX_STEPS = 20.0  # times the usual, and no tank goes so far


@dataclass(frozen=True, slots=True)
class Written:
    """How the keeper of a notebook writes: the units of its columns, as the file's own dates prove
    it the order of day and month, and whether its times name no zone."""

    file: str
    units: Mapping[str, str] = field(default_factory=dict)
    date_order: str = ""
    local: bool = False

    @property
    def order(self) -> DateOrder | None:
        if self.date_order not in (DAY_FIRST, MONTH_FIRST):
            return None
        return DateOrder(self.date_order == DAY_FIRST, shortened([self.file]))


@dataclass(frozen=True, slots=True)
class Companion:
    """A companion file's rows, and everything that was set aside, repaired or asked."""

    frame: pl.DataFrame
    problems: tuple[Problem, ...]
    set_aside_rows: tuple[Problem, ...] = ()  # of the problems, those of rows
    set_aside_values: tuple[Problem, ...] = ()  # and those of single values
    written: Written | None = None  # of a notebook

    @property
    def questions(self) -> tuple[Problem, ...]:
        return tuple(p for p in self.problems if p.severity is Severity.QUESTION)


@dataclass(frozen=True, slots=True)
class RowsRead:
    """A companion on its way: `frame` has `line`, `time` where rows are timed, `shown` (the
    odometer as written) and the values by quantity, each a Float64 column; null where missing."""

    frame: pl.DataFrame
    columns: dict[str, Candidate]
    headings: tuple[str, ...]
    ledger: Ledger
    written: Written


def read_weather(path: Path, time_zone: str, rules: tuple[ColumnRule, ...] = ()) -> Companion:
    """Hourly or other weather: `time` (UTC), wind, temperature, pressure; ascending time.

    Columns the file lacks are null.
    """
    read = read_rows(path, time_zone, rules, _WEATHER, timed=True)
    if isinstance(read, Companion):
        return read
    useless = read.frame.select(pl.all_horizontal(pl.col(_WEATHER).is_null())).to_series()
    frame = _without(read.frame, useless, read.ledger).sort("time", maintain_order=True)
    again = ~frame["time"].is_first_distinct()
    if again.sum() > (1 - MIN_OF_OWN_TIME) * frame.height:
        _ask_hour(read)
        read.ledger.set_aside_rows(message("time-unknown"), frame["line"].to_numpy())
        frame = frame.clear()
    else:
        frame = _without(frame, again, read.ledger, message("repeated-time"))
    return companion_of(frame.select("time", *_WEATHER), read.ledger)


def _ask_hour(read: RowsRead) -> None:
    """A day for a time, and many rows a day: the hour must stand in a column of its own."""
    known = {c.heading for c in read.columns.values()}
    others = [h for h in read.headings if h and h not in known]
    lines = answer([rule_line(heading, "time", None) for heading in others])
    file = UserText(read.ledger.file, "file")
    read.ledger.ask(message("which-time/hour", file=file, answer=lines))


def read_fillups(path: Path, time_zone: str, rules: tuple[ColumnRule, ...] = ()) -> Companion:
    """Fill-ups: `time` (UTC), `indicated_distance_m` (odometer as shown), `volume_l`, `full`,
    `missed` (Boolean), `price`, `other_l`; ascending time, on one day ascending distance.

    Without a column of its own every fill-up counts as full and none as missed. Where full ones
    are ticked, those left blank were not; a word that cannot be read is no tick. A fill-up
    without its volume is missed by the next. Rows of one stop are one fill-up in parts, and a
    trip meter set back at each fill-up is summed up to an odometer.
    """
    read = read_rows(path, time_zone, rules, FILLUPS, timed=True)
    if isinstance(read, Companion):
        return read
    ticked = (pl.col("full") > 0.5).any().fill_null(False)
    lost = pl.col("volume_l").is_null() | (pl.col("volume_l") <= 0)
    part = pl.col("partial").fill_null(0.0) > 0.5
    rows = once(read.frame, read.ledger)
    frame = (
        _in_step(as_odometer(rows, read.ledger), read)
        .sort("time", "indicated_distance_m", maintain_order=True)
        .with_columns(
            lost_before=lost.cum_sum(),
            full=pl.coalesce(pl.col("full") > 0.5, ~ticked) & ~part,
            missed=pl.col("missed").fill_null(0.0) > 0.5,
        )
        .drop("partial", "shown")
        .pipe(in_stops)
    )
    frame = _without(frame, frame.select(lost).to_series(), read.ledger)
    since = pl.col("lost_before") > pl.col("lost_before").shift(1, fill_value=0)
    frame = frame.with_columns(missed=pl.col("missed") | since).drop("lost_before", "line")
    return replace(companion_of(frame, read.ledger), written=read.written)


def read_profile(path: Path, rules: tuple[ColumnRule, ...] = ()) -> Companion:
    """A road's profile: `distance_m` from its beginning, `altitude_m`, and where given
    `speed_limit_mps` and `stop_s`; ascending distance. A grade in percent instead of altitude is
    summed to an altitude above the beginning."""
    names = (*_PROFILE, "grade_percent")
    read = read_rows(path, "UTC", rules, names, timed=False)
    if isinstance(read, Companion):
        return read
    given = [n for n in names if read.frame[n].count()]
    if not runs_on(read.frame["distance_m"]):
        back = problem_of(
            message("distance-back-and-forth"), file=file_name(path), count=read.frame.height
        )
        return Companion(no_rows(_PROFILE, timed=False), (back,), (back,))
    ledger, frame = read.ledger, read.frame.select("line", *given)
    if "distance_m" in given:
        frame = _without(frame, frame["distance_m"].is_null(), ledger)
        frame = frame.sort("distance_m", maintain_order=True)
        if "altitude_m" not in given and "grade_percent" in given:
            frame = climbed(frame)
    if not {"distance_m", "altitude_m"} <= {*frame.columns}:
        ledger.set_aside_rows(message("no-values"), frame["line"].to_numpy())
        return companion_of(no_rows(_PROFILE, timed=False), ledger)
    frame = _without(frame, frame["altitude_m"].is_null(), ledger)
    frame = _without(
        frame, ~frame["distance_m"].is_first_distinct(), ledger, message("repeated-distance")
    )
    return companion_of(frame.select(n for n in _PROFILE if n in frame.columns), ledger)


def companion_of(frame: pl.DataFrame, ledger: Ledger) -> Companion:
    rows, values = tuple(ledger.rows), tuple(ledger.values)
    return Companion(frame, (*ledger.questions, *rows, *values, *ledger.repairs), rows, values)


def _without(
    frame: pl.DataFrame, useless: pl.Series, ledger: Ledger, told: Message | None = None
) -> pl.DataFrame:
    """The rows that carry what the file is for; the others are told."""
    told = told or message("no-values")
    ledger.set_aside_rows(told, frame["line"].filter(useless).to_numpy())
    return frame.filter(~useless)


def _in_step(frame: pl.DataFrame, read: RowsRead) -> pl.DataFrame:
    """Fill-ups without the odometer readings that do not fit between those before and behind:
    a digit slipped. What was filled stays, and counts to the next reading."""
    ordered = frame.drop_nulls("indicated_distance_m").sort("time", "indicated_distance_m")
    off = out_of_step(ordered["indicated_distance_m"].to_numpy())
    if not off.any():
        return frame
    lines = ordered["line"].filter(pl.Series(off))
    odometer = read.columns["indicated_distance_m"]
    shown_in = dict(frame.select("line", "shown").iter_rows())
    for line in lines:
        shown = str(shown_in[line])
        told = message("odometer-out-of-step", shown=UserText(shown, "value"))
        read.ledger.set_aside_values(told, odometer.heading, np.array([line]), shown)
    kept = pl.when(~pl.col("line").is_in(lines.implode())).then("indicated_distance_m")
    return frame.with_columns(kept.alias("indicated_distance_m"))


def out_of_step(counted: Floats) -> npt.NDArray[np.bool_]:
    """Which readings of a counter that only rises do not fit with the others.

    The fewest that, left out, let the rest rise, and any that would be a stretch `MAX_STEPS`
    times the usual. Where more than `MAX_OUT_OF_STEP` of them do not fit it is no slip but
    another counter, and none is named.
    """
    n = len(counted)
    best, before = np.ones(n, np.int64), np.full(n, -1)
    for i in range(n):
        fits = np.flatnonzero(counted[:i] <= counted[i])
        if len(fits):
            before[i] = fits[np.argmax(best[fits])]
            best[i] = best[before[i]] + 1
    kept: list[int] = []
    at = int(np.argmax(best)) if n else -1
    while at >= 0:
        kept.append(at)
        at = int(before[at])
    kept.reverse()
    steps = np.diff(counted[kept])
    usual = float(np.median(steps[steps > 0])) if (steps > 0).any() else np.inf
    # of the first and the last one, no other shows by falling that it is too low or too high
    if len(steps) >= MIN_STEPS:
        first, last = (int(step > MAX_STEPS * usual) for step in (steps[0], steps[-1]))
        kept = kept[first : len(kept) - last]
    off = np.ones(n, np.bool_)
    off[kept] = False
    return off if off.sum() <= MAX_OUT_OF_STEP * n else np.zeros(n, np.bool_)


def no_rows(names: tuple[str, ...], *, timed: bool) -> pl.DataFrame:
    schema: dict[str, pl.DataType] = {"time": pl.Datetime("us", "UTC")} if timed else {}
    for name in names:
        schema[name] = pl.Boolean() if name in _FLAGS else pl.Float64()
    return pl.DataFrame(schema=schema)


def read_rows(
    path: Path,
    time_zone: str,
    rules: tuple[ColumnRule, ...],
    names: tuple[str, ...],
    *,
    timed: bool,
    like: Written | None = None,
) -> RowsRead | Companion:
    """The rows of all tables in the file: whoever keeps it may write new headings half-way.
    `like`: how another notebook of the same owner is written, where this one leaves it open."""
    ledger = Ledger(file_name(path))
    try:
        text = load_text(path)
        for told, count in text.repairs:
            ledger.repair(told, count)
        tables = read_tables(text.data, ledger)
    except LogFileError as fault:
        found = problem_of(fault.told, file=file_name(path))
        return Companion(no_rows(names, timed=timed), (found,))
    like = like or Written(ledger.file)
    context = Context(path, rules, time_zone, None, ledger, text.name, like.order)
    read = [_read_table(table, context, names, like, timed=timed) for table in tables]
    rows = [one.frame for one in read if one.frame.height]
    if not rows:
        return companion_of(no_rows(names, timed=timed), ledger)
    columns = {name: c for one in read for name, c in one.columns.items()}
    headings = tuple(dict.fromkeys(heading for one in read for heading in one.headings))
    units = {name: unit for one in read for name, unit in one.written.units.items()}
    order = next((one.written.date_order for one in read if one.written.date_order), "")
    return RowsRead(
        pl.concat(rows),
        columns,
        headings,
        ledger,
        Written(ledger.file, units, order, ledger.local_times),
    )


def _read_table(
    table: Table, context: Context, names: tuple[str, ...], like: Written, *, timed: bool
) -> RowsRead:
    ledger, units, order = context.ledger, dict(like.units), ""
    if names == _WEATHER:
        table = unpacked(table)
    layout, decimal = table.layout, table.decimal
    found_all = candidates(layout.headings, layout.units, context.rules, companion=True)
    allowed = (*names, "time", "date", "elapsed")
    mine = [as_companion(c, names) for c in found_all]
    mine = named_by_unit(mine, names)
    unknown = tuple(c for c in mine if c.target not in allowed and c.heading and c.rule is None)
    mine = [c for c in mine if c.target in allowed]
    if names == _WEATHER:
        mine, table = one_pressure(mine), with_hours(table, mine)
    assignment = assign(mine, table.frame, ledger)
    frame = pl.DataFrame({"line": pl.Series(table.lines, dtype=pl.UInt32)})
    if timed:
        moments = read_times(
            table.frame,
            table.head,
            table.lines,
            assignment.times,
            (*assignment.unused, *unknown),
            decimal,
            layout.preamble,
            context,
            day_is_enough=True,
        )
        if moments.us is None:
            ledger.set_aside_rows(message("time-unknown"), table.lines)
            _ask_missing(assignment.channels, unknown, names, table, ledger)
            return RowsRead(frame.clear(), assignment.channels, layout.headings, ledger, like)
        order = moments.order
        time = moments.us.cast(pl.Datetime("us")).dt.replace_time_zone("UTC")
        frame = frame.with_columns(time.alias("time"))
    found = {
        name: _values(name, assignment.channels[name], table, units, ledger)
        for name in tellers_first(assignment.channels)
    }
    values = {name: series for name, series in found.items() if series is not None}
    _ask_missing(values, unknown, names, table, ledger)
    empty = pl.lit(None, pl.Float64)
    odometer = assignment.channels.get("indicated_distance_m")
    shown = table.frame[odometer.column] if odometer else pl.lit(None, pl.String)
    frame = frame.with_columns(shown.alias("shown"), *(empty.alias(name) for name in names))
    frame = frame.with_columns(series.alias(name) for name, series in values.items())
    if timed:
        frame = frame.filter(pl.col("time").is_not_null())
    if names == FILLUPS:
        frame = fuel_only(frame, table, ledger)
    written = Written(ledger.file, units, order, ledger.local_times)
    return RowsRead(frame, assignment.channels, layout.headings, ledger, written)


def _values(
    name: str, c: Candidate, table: Table, units: dict[str, str], ledger: Ledger
) -> pl.Series | None:
    """A column's numbers in its quantity's own unit, None where that is asked for. `units`: those
    of the columns read before; its own is added."""
    cells = table.frame[c.column]
    if name == "partial":  # which is a yes under this heading, and a no under "full"
        cells = cells.str.strip_chars().str.to_lowercase().replace(_PARTIAL)
    numbers = to_flags(cells) if name in _FLAGS else to_numbers(cells, table.decimal)
    own = QUANTITIES[name].unit if name in QUANTITIES else COMPANION_UNITS[name]
    behind = unit_for(name, numbers.unit or "")
    unit = c.unit or (behind.name if behind else None) or unit_by_size(name, numbers.values)
    if unit is None and not c.unit_text and (others := unit_by_others(name, units, c.heading)):
        unit, told = others
        ledger.repair(told, column=c.heading)
    if unit is not None and unit in BY_NAME and BY_NAME[unit].dimension in dimensions_of(name):
        pass
    elif own in ("-", "deg", "%", "s") and not (name == "grade_percent" and c.unit_text):
        unit = own
    else:
        likely = _UNITS_TO_ASK.get(dimensions_of(name)[0], (own,))
        likely = _LIKELY_UNITS.get(name, likely)
        ask_unit(c, name, likely, seen_range(numbers.values), ledger)
        return None
    units[name] = unit
    if name == "wind_from_deg":
        numbers = _with_points(numbers, cells)
        if _TOWARD.search(c.heading.lower()):
            numbers = replace(numbers, values=(numbers.values + 180) % 360)
    if numbers.bad.any():
        lines = table.lines[numbers.bad.to_numpy()]
        sample = str(cells.filter(numbers.bad).head(1).to_list()[0])
        if name != "price":
            ledger.set_aside_values(message("unreadable-value"), c.heading, lines, sample)
    if name == "grade_percent" and BY_NAME[unit].dimension == "angle":  # its tangent is the grade
        return (in_unit(numbers.values, unit, "deg") * (pi / 180)).tan() * 100
    values = in_unit(numbers.values, unit, own)
    return values.set(numbers.bad, 0.0) if name in _FLAGS else values


def _with_points(numbers: Numbers, cells: pl.Series) -> Numbers:
    """Directions with the points of the compass (N, NNE, ...) as degrees."""
    words = cells.str.strip_chars().str.to_lowercase()
    named = words.replace_strict(_POINTS, default=None, return_dtype=pl.Float64)
    return Numbers(numbers.values.fill_null(named), numbers.bad & named.is_null())


def _ask_missing(
    found: Container[str],
    open_columns: Sequence[Candidate],
    names: tuple[str, ...],
    table: Table,
    ledger: Ledger,
) -> None:
    """What the file cannot do without, and which of its headings there are to choose from."""
    must: tuple[str, ...] = ()
    if names == FILLUPS:
        must = ("volume_l", "indicated_distance_m")
    elif set(_PROFILE) & set(names):
        must = ("distance_m",) if "grade_percent" in found else ("distance_m", "altitude_m")
    numeric = [c for c in open_columns if _is_numeric(table.head[c.column], table.decimal)]
    rising = [c.heading for c in numeric if rises(table.head[c.column], table.decimal)]
    others = [c.heading for c in numeric if c.heading not in rising]
    asked = [line for question in ledger.questions for line in proposed_lines(question)]
    for name in must:
        if name in found or any(short_name(name) in line for line in asked):
            continue
        counts = name in ("distance_m", "indicated_distance_m")
        columns = (rising or others) if counts else (others or rising)
        lines = [rule_line(h, name, unit) for h in columns for unit in _LIKELY_UNITS[name]]
        if name == "altitude_m":
            lines += [rule_line(h, "grade_percent", "%") for h in others]
        told = message(
            "which-name/beside",
            file=UserText(ledger.file, "file"),
            channel=UserText(_WORDS.get(name) or short_name(name)),
            answer=answer(lines),
        )
        ledger.ask(told)


def _is_numeric(cells: pl.Series, decimal: str) -> bool:
    numbers = to_numbers(cells, decimal)
    return numbers.values.null_count() * 2 < len(cells)
