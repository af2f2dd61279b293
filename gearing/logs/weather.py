"""Weather files: columns as archives write them put into ordinary form, and hourly rows."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import polars as pl

from gearing.logs.assign import Candidate
from gearing.logs.channels import read_numbers
from gearing.logs.column_rule import ColumnRule, rule_line
from gearing.logs.companions import Companion, Kind, RowsRead, companion_of, read_rows
from gearing.logs.compound import with_columns
from gearing.logs.headings import fold
from gearing.logs.kinds import WEATHER
from gearing.logs.ledger import answer
from gearing.logs.table import Table
from gearing.logs.values import Numbers
from gearing.messages import UserText, message

_COMPASS = ("n", "nne", "ne", "ene", "e", "ese", "se", "sse",
            "s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw")  # fmt: skip
_POINTS = {point: 22.5 * i for i, point in enumerate(_COMPASS)}
_TOWARD = re.compile(r"\bto(wards?)?\W*$")  # where the wind blows to, not from
MIN_OF_OWN_TIME = 0.5  # of the rows of a weather file

_HOURS = {"hour", "hr", "hrs", "stunde", "heure", "hora"}
_AT_SEA_LEVEL = {"sea", "msl", "mslp", "slp", "alti", "altimeter", "qnh", "qff"}


@dataclass(frozen=True, slots=True)
class _Packed:
    """A value within a field of several: its heading with unit, its place, what stands for none."""

    heading: str
    place: int
    tenths: bool
    none: str


# Integrated Surface Data, Federal Climate Complex: fields with their quality, in tenths (from
# memory of its format document); times are UTC
_SURFACE_DATA = {
    "WND": (
        _Packed("wind direction (deg)", 0, False, "999"),
        _Packed("wind speed (m/s)", 3, True, "9999"),
    ),
    "TMP": (_Packed("air temperature (degC)", 0, True, "+9999"),),
    "SLP": (_Packed("sea level pressure (hPa)", 0, True, "99999"),),
}


def _unpacked(table: Table) -> Table:
    """The table with a column for each value that shares a field with its quality."""
    added: dict[str, pl.Series] = {}
    for index, heading in enumerate(table.layout.headings):
        for one in _SURFACE_DATA.get(heading, ()):
            fields = table.frame[f"c{index}"].str.split(",")
            part = fields.list.get(one.place, null_on_oob=True)
            values = part.set(part == one.none, None).cast(pl.Float64, strict=False)
            if values.null_count() < len(values):
                scaled = values / 10 if one.tenths else values
                added[one.heading] = scaled.cast(pl.String)
    if not added:
        return table
    layout = table.layout
    preamble = (*layout.preamble, "time zone,UTC")
    return with_columns(replace(table, layout=replace(layout, preamble=preamble)), added)


def _with_hours(table: Table, candidates: Sequence[Candidate]) -> Table:
    """The table with bare hours (7, 0700) as times of day."""
    times = {}
    for one in candidates:
        if one.target != "time" or not _HOURS & set(fold(one.heading).split()):
            continue
        cells = table.frame[one.column].cast(pl.String).str.strip_chars()
        if not cells.str.contains(r"^\d{1,4}$").all():
            continue
        short = pl.col(one.column).str.len_chars() <= 2
        clock = pl.when(short).then(pl.col(one.column) + "00").otherwise(one.column)
        shown = clock.str.zfill(4).str.replace(r"^(\d\d)(\d\d)$", "${1}:${2}")
        times[one.column] = cells.to_frame(one.column).select(shown).to_series()
    return replace(table, frame=table.frame.with_columns(**times)) if times else table


def _one_pressure(candidates: list[Candidate]) -> list[Candidate]:
    """Of a station's own pressure and the one brought to sea level the own; of two of the latter
    the first. Either tells how far the day's departs from the standard."""
    pressures = [one for one in candidates if one.target == "barometric_pressure_kpa"]
    own = [one for one in pressures if not _AT_SEA_LEVEL & set(fold(one.heading).split())]
    kept = own or pressures[:1]
    if any(one.rule is not None for one in pressures):
        return candidates
    return [one for one in candidates if one not in pressures or one in kept]


def _chosen(columns: list[Candidate], table: Table) -> tuple[list[Candidate], Table]:
    columns = _one_pressure(columns)
    return columns, _with_hours(table, columns)


def _numbers(c: Candidate, name: str, table: Table) -> Numbers:
    """Directions with the points of the compass (N, NNE, ...) as degrees, and those the wind
    blows to turned round."""
    cells = table.frame[c.column]
    numbers = read_numbers(name, cells, None, table.decimal)
    if name != "wind_from_deg":
        return numbers
    words = cells.str.strip_chars().str.to_lowercase()
    named = words.replace_strict(_POINTS, default=None, return_dtype=pl.Float64)
    values, bad = numbers.values.fill_null(named), numbers.bad & named.is_null()
    to = _TOWARD.search(c.heading.lower())
    return Numbers((values + 180) % 360 if to else values, bad)


_KIND = Kind(
    what=WEATHER,
    names=("wind_speed_mps", "wind_from_deg", "ambient_temperature_c", "barometric_pressure_kpa"),
    means={"temperature": "ambient_temperature_c", "gps_course_deg": "wind_from_deg"},
    unpack=_unpacked,
    choose=_chosen,
    numbers=_numbers,
)


def read_weather(path: Path, time_zone: str, rules: tuple[ColumnRule, ...] = ()) -> Companion:
    """Hourly or other weather: `time` (UTC), wind, temperature, pressure; ascending time.

    Columns the file lacks are null.
    """
    read = read_rows(path, time_zone, rules, _KIND)
    if isinstance(read, Companion):
        return read
    useless = pl.all_horizontal(pl.col(_KIND.names).is_null())
    frame = read.ledger.without(read.frame, useless).sort("time", maintain_order=True)
    if frame["time"].n_unique() < MIN_OF_OWN_TIME * frame.height:
        _ask_hour(read)
        read.ledger.set_aside_rows(message("time-unknown"), frame["line"].to_numpy())
        frame = frame.clear()
    else:
        again = ~pl.col("time").is_first_distinct()
        frame = read.ledger.without(frame, again, message("repeated-time"))
    return companion_of(frame.select("time", *_KIND.names), read.ledger)


def _ask_hour(read: RowsRead) -> None:
    """A day for a time, and many rows a day: the hour must stand in a column of its own."""
    known = {c.heading for c in read.columns.values()}
    others = [h for h in read.headings if h and h not in known]
    lines = answer([rule_line(heading, "time", None) for heading in others])
    file = UserText(read.ledger.file, "file")
    read.ledger.ask(message("which-time/hour", file=file, answer=lines))
