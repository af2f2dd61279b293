"""Companion files: weather, fill-ups and road profiles, read like logs by the one table."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import polars as pl

from gearing.logs.assign import Candidate, ask_unit, assign, candidates, rule_line
from gearing.logs.channels import seen_range
from gearing.logs.headings import COMPANION_UNITS, dimensions_of, short_name
from gearing.logs.ledger import Ledger
from gearing.logs.moments import read_moments, rises
from gearing.logs.reasons import problem
from gearing.logs.samples import Context
from gearing.logs.table import Table, read_tables
from gearing.logs.text import LogFileError, load_text
from gearing.logs.values import in_unit, to_flags, to_numbers
from gearing.problems import Problem
from gearing.quantities import QUANTITIES
from gearing.study.model import ColumnRule
from gearing.units import BY_NAME

_WEATHER = ("wind_speed_mps", "wind_from_deg", "ambient_temperature_c", "barometric_pressure_kpa")
_FILLUPS = ("indicated_distance_m", "volume_l", "full", "missed", "price", "other_l")
_PROFILE = ("distance_m", "altitude_m", "speed_limit_mps", "stop_s")
_FLAGS = ("full", "missed")
_UNITS_TO_ASK = {
    "speed": ("mph", "km/h", "m/s", "kn"),
    "length": ("mi", "km", "m", "ft"),
    "volume": ("gal", "L"),
    "temperature": ("degF", "degC"),
    "pressure": ("inHg", "hPa", "kPa"),
}
_FOOT_M_PER_KM_PERCENT = 10.0  # a grade of 1 % climbs 10 m a km


@dataclass(frozen=True, slots=True)
class Companion:
    """A companion file's rows, and everything that was set aside, repaired or asked."""

    frame: pl.DataFrame
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class _Read:
    """A companion's table on its way: values by quantity, each a Float64 column."""

    table: Table
    values: dict[str, pl.Series]
    us: pl.Series | None
    ledger: Ledger


def read_weather(path: Path, time_zone: str, rules: tuple[ColumnRule, ...] = ()) -> Companion:
    """Hourly or other weather: `time` (UTC), wind, temperature, pressure; ascending time.

    Columns the file lacks are null.
    """
    read = _read(path, time_zone, rules, _WEATHER, timed=True)
    if isinstance(read, Companion):
        return read
    frame = _timed(read, _WEATHER)
    names = [n for n in _WEATHER if n in frame.columns]
    frame = frame.filter(pl.any_horizontal(pl.col(names).is_not_null()))
    frame = frame.sort("time").unique("time", keep="first", maintain_order=True)
    return Companion(frame, _told(read))


def read_fillups(path: Path, time_zone: str, rules: tuple[ColumnRule, ...] = ()) -> Companion:
    """Fill-ups: `time` (UTC), `indicated_distance_m` (odometer as shown), `volume_l`, `full`,
    `missed` (Boolean), `price`, `other_l`; ascending time. Without a column of its own every
    fill-up counts as full and none as missed."""
    read = _read(path, time_zone, rules, _FILLUPS, timed=True)
    if isinstance(read, Companion):
        return read
    frame = _timed(read, _FILLUPS).with_columns(
        (pl.col("full").fill_null(1.0) > 0.5).alias("full"),
        (pl.col("missed").fill_null(0.0) > 0.5).alias("missed"),
    )
    useless = frame["volume_l"].is_null() | (frame["volume_l"] <= 0)
    if useless.any():
        read.ledger.set_aside_rows("no-values", frame["line"].filter(useless).to_numpy())
    return Companion(frame.filter(~useless).sort("time").drop("line"), _told(read))


def read_profile(path: Path, rules: tuple[ColumnRule, ...] = ()) -> Companion:
    """A road's profile: `distance_m` from its beginning, `altitude_m`, and where given
    `speed_limit_mps` and `stop_s`; ascending distance. A grade in percent instead of altitude is
    summed to an altitude above the beginning."""
    names = (*_PROFILE, "grade_percent")
    read = _read(path, "UTC", rules, names, timed=False)
    if isinstance(read, Companion):
        return read
    frame = pl.DataFrame(
        {"line": pl.Series(read.table.lines, dtype=pl.UInt32)}
        | {n: read.values[n] for n in names if n in read.values}
    )
    if "distance_m" not in frame.columns:
        return Companion(_no_rows(_PROFILE, timed=False), _told(read))
    frame = frame.filter(pl.col("distance_m").is_not_null()).sort("distance_m")
    if "altitude_m" not in frame.columns and "grade_percent" in frame.columns:
        step_km = pl.col("distance_m").diff().fill_null(0.0) / 1000
        rise = step_km * pl.col("grade_percent").shift(1).fill_null(0.0) * _FOOT_M_PER_KM_PERCENT
        frame = frame.with_columns(rise.cum_sum().alias("altitude_m"))
    if "altitude_m" not in frame.columns:
        return Companion(_no_rows(_PROFILE, timed=False), _told(read))
    keep = [n for n in _PROFILE if n in frame.columns]
    frame = frame.filter(pl.col("altitude_m").is_not_null())
    frame = frame.unique("distance_m", keep="first", maintain_order=True).select(keep)
    return Companion(frame, _told(read))


def _told(read: _Read) -> tuple[Problem, ...]:
    ledger = read.ledger
    return (*ledger.questions, *ledger.rows, *ledger.values, *ledger.repairs)


def _no_rows(names: tuple[str, ...], *, timed: bool) -> pl.DataFrame:
    schema: dict[str, pl.DataType] = {"time": pl.Datetime("us", "UTC")} if timed else {}
    for name in names:
        schema[name] = pl.Boolean() if name in _FLAGS else pl.Float64()
    return pl.DataFrame(schema=schema)


def _read(
    path: Path,
    time_zone: str,
    rules: tuple[ColumnRule, ...],
    names: tuple[str, ...],
    *,
    timed: bool,
) -> _Read | Companion:
    ledger = Ledger(path.name)
    try:
        text = load_text(path)
        for code, count in text.repairs:
            ledger.repair(code, count)
        table = read_tables(text.data, ledger)[0]
    except LogFileError as fault:
        found = problem(fault.code, file=path.name, detail=fault.detail)
        return Companion(_no_rows(names, timed=timed), (found,))
    decimal = table.decimal
    layout = table.layout
    found_all = candidates(layout.headings, layout.units, rules, str(path), companion=True)
    allowed = (*names, "time", "date", "elapsed")
    mine = [_as_companion(c, names) for c in found_all]
    mine = [c for c in mine if c.target in allowed]
    assignment = assign(mine, table.frame, ledger)
    us = None
    if timed:
        context = Context(path, rules, time_zone, None, ledger, text.name)
        moments = read_moments(
            table.frame,
            table.head,
            table.lines,
            assignment.times,
            assignment.unused,
            decimal,
            layout.preamble,
            context,
            day_is_enough=True,
        )
        us = moments.us
        if us is None:
            return Companion(_no_rows(names, timed=True), (*ledger.questions, *ledger.rows))
    values = {}
    for name, c in assignment.channels.items():
        series = _values(name, c, table, decimal, ledger)
        if series is not None:
            values[name] = series
    _ask_missing(values, names, table, path.name, ledger)
    return _Read(table, values, us, ledger)


def _as_companion(c: Candidate, names: tuple[str, ...]) -> Candidate:
    """Open headings mean what the companion has: a weather file's temperature is the air's."""
    means = {"temperature": "ambient_temperature_c", "distance": "distance_m"}
    if c.target == "distance_m" and "indicated_distance_m" in names:
        return replace(c, target="indicated_distance_m", is_open=False)
    if c.is_open and means.get(c.target or "") in names:
        return replace(c, target=means[c.target or ""], is_open=False)
    if c.target == "gps_course_deg" and "wind_from_deg" in names:
        return replace(c, target="wind_from_deg")
    if c.target == "indicated_distance_m" and "distance_m" in names:
        return replace(c, target="distance_m")
    return c


def _values(
    name: str, c: Candidate, table: Table, decimal: str, ledger: Ledger
) -> pl.Series | None:
    cells = table.frame[c.column]
    numbers = to_flags(cells) if name in _FLAGS else to_numbers(cells, decimal)
    own = QUANTITIES[name].unit if name in QUANTITIES else COMPANION_UNITS[name]
    unit = c.unit or (numbers.unit and numbers.unit)
    if unit is not None and unit in BY_NAME and BY_NAME[unit].dimension in dimensions_of(name):
        pass
    elif own in ("-", "deg", "%", "s"):
        unit = own
    else:
        dimension = dimensions_of(name)[0]
        units = _UNITS_TO_ASK.get(dimension, (own,))
        ask_unit(c, name, units, seen_range(numbers.values), ledger)
        return None
    if numbers.bad.any():
        lines = table.lines[numbers.bad.to_numpy()]
        sample = str(cells.filter(numbers.bad).head(1).to_list()[0])
        if name != "price":
            ledger.set_aside_values("unreadable-value", c.heading, lines, sample)
    return in_unit(numbers.values, unit, own)


def _ask_missing(
    values: dict[str, pl.Series],
    names: tuple[str, ...],
    table: Table,
    file: str,
    ledger: Ledger,
) -> None:
    """What the file cannot do without, and which of its headings there are to choose from."""
    headings, head, decimal = table.layout.headings, table.head, table.decimal
    must: tuple[str, ...] = ()
    if names == _FILLUPS:
        must = ("volume_l",)
    elif names != _WEATHER:
        must = ("distance_m",) if "grade_percent" in values else ("distance_m", "altitude_m")
    for name in must:
        if name in values or any(q.code == "which-unit" for q in ledger.questions):
            continue
        rising = [h for i, h in enumerate(headings) if h and rises(head[f"c{i}"], decimal)]
        others = [h for h in headings if h and h not in rising]
        if name == "distance_m":
            lines = [rule_line(h, name, unit) for h in rising for unit in ("m", "km", "mi")]
        elif name == "altitude_m":
            lines = [rule_line(h, name, unit) for h in others for unit in ("m", "ft")]
            lines += [rule_line(h, "grade_percent", "%") for h in others]
        else:
            lines = [rule_line(h, name, unit) for h in others for unit in ("gal", "L")]
        ledger.ask(
            "which-name",
            f"{file} has no column known as the {short_name(name)}",
            lines,
        )


def _timed(read: _Read, names: tuple[str, ...]) -> pl.DataFrame:
    assert read.us is not None
    time = read.us.cast(pl.Datetime("us")).dt.replace_time_zone("UTC").alias("time")
    frame = pl.DataFrame({"time": time, "line": pl.Series(read.table.lines, dtype=pl.UInt32)})
    empty = pl.lit(None, pl.Float64)
    frame = frame.with_columns(read.values.get(n, empty).alias(n) for n in names)
    frame = frame.filter(pl.col("time").is_not_null())
    return frame if names == _FILLUPS else frame.drop("line")
