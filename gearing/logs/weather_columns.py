"""Columns as weather archives write them, put into ordinary form before they are assigned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import polars as pl

from gearing.logs.assign import Candidate
from gearing.logs.headings import fold
from gearing.logs.table import Table

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


def unpacked(table: Table) -> Table:
    """The table with a column for each value that shares a field with its quality."""
    headings, added = list(table.layout.headings), {}
    for index, heading in enumerate(table.layout.headings):
        for one in _SURFACE_DATA.get(heading, ()):
            fields = table.frame[f"c{index}"].str.split(",")
            part = fields.list.get(one.place, null_on_oob=True)
            values = part.set(part == one.none, None).cast(pl.Float64, strict=False)
            if values.null_count() == len(values):
                continue
            added[f"c{len(headings)}"] = (values / 10 if one.tenths else values).cast(pl.String)
            headings.append(one.heading)
    if not added:
        return table
    layout = replace(
        table.layout,
        headings=tuple(headings),
        named=len(headings),
        preamble=(*table.layout.preamble, "time zone,UTC"),
    )
    frame = table.frame.with_columns(**added)
    return replace(table, layout=layout, frame=frame, head=frame.head(table.head.height))


def with_hours(table: Table, candidates: Sequence[Candidate]) -> Table:
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


def one_pressure(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Of a station's own pressure and the one brought to sea level the own; of two of the latter
    the first. Either tells how far the day's departs from the standard."""
    pressures = [one for one in candidates if one.target == "barometric_pressure_kpa"]
    own = [one for one in pressures if not _AT_SEA_LEVEL & set(fold(one.heading).split())]
    kept = own or pressures[:1]
    if any(one.rule is not None for one in pressures):
        return list(candidates)
    return [one for one in candidates if one not in pressures or one in kept]
