"""GPX 1.0 and 1.1 tracks as samples of the receiver; what is damaged costs the points it is in.

Elements by the GPX 1.1 schema (topografix.com): `trkpt` and `rtept` with the attributes `lat` and
`lon` [deg], and in them `ele` [m], `time` (UTC), `hdop`. Speed [m/s] and course [deg] are elements
of GPX 1.0, and of extensions since.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from xml.parsers import expat

import numpy as np
import polars as pl

from gearing.logs.archives import LogFileError
from gearing.logs.fixes import read_fixes
from gearing.logs.samples import Context, Part
from gearing.logs.timestamps.dates import TimeRule
from gearing.logs.timestamps.parse import parse_times
from gearing.messages import UserText, message

_CHANNELS = {
    "latitude_deg": "trkpt lat",
    "longitude_deg": "trkpt lon",
    "altitude_m": "ele",
    "gps_speed_mps": "speed",
    "gps_course_deg": "course",
    "hdop": "hdop",
}
_NAMES = ("lat", "lon", "ele", "speed", "course", "hdop")
_EXTENSIONS = ("speed", "course")
MAX_DAMAGES = 10_000  # beyond so many the rest of the file is left
BLOCK = 1 << 18  # bytes handed over at once


def is_gpx(data: bytes) -> bool:
    """Whether the text begins as a GPX file does."""
    head = data[:4096].lstrip()
    return head.startswith(b"<") and b"<gpx" in head


def read_gpx(data: bytes, context: Context) -> Part:
    """One sample a track point; points that are not whole go to the ledger.

    Raises
    ------
    LogFileError
        no GPX that can be read.
    """
    ledger = context.ledger
    points, damaged = read_points(data, "trkpt")
    if points.height == 0:
        raise damaged or LogFileError(message("empty-file/no-points"))
    feeds = np.flatnonzero(np.frombuffer(data, np.uint8) == 10)
    starts = whole = points["at"].to_numpy()
    if damaged is not None:
        starts = np.array([m.start() for m in re.finditer(rb"<trkpt", data)], np.int64)
        cut = starts[~np.isin(starts, whole)]
        ledger.set_aside_rows(message("cut-record"), np.searchsorted(feeds, cut) + 1)
        ledger.repair(message("salvaged-xml"))
    lines = np.searchsorted(feeds, whole) + 1
    stamps = parse_times(points["time"], TimeRule(), None, ".")
    us = stamps.us  # by the standard UTC, with or without a zone
    if stamps.kind != "instant":
        us = us.clear(points.height)
    fixes = pl.DataFrame({"line": pl.Series(lines, dtype=pl.UInt32), "us": us})
    for (channel, heading), name in zip(_CHANNELS.items(), _NAMES, strict=True):
        text = points[name]
        values = text.str.strip_chars().cast(pl.Float64, strict=False)
        values = values.set(~values.is_finite(), None)
        bad = (values.is_null() & (text.fill_null("") != "")).to_numpy()
        if bad.any():
            value = text.filter(pl.Series(bad)).item(0)
            ledger.set_aside_values(message("unreadable-value"), heading, lines[bad], value)
        fixes = fixes.with_columns(values.alias(channel))
    ledger.set_aside_rows(message("no-time"), lines[us.is_null().to_numpy()])
    return read_fixes(
        fixes.filter(pl.col("us").is_not_null()),
        len(starts),
        context,
        _CHANNELS,
        kind="GPX",
        speed_unit="m/s",
        time_form=(message("time-form/iso"),),
    )


def read_points(data: bytes, kind: str) -> tuple[pl.DataFrame, LogFileError | None]:
    """The whole points (`kind` is trkpt or rtept) as text: `at`, the byte each begins at, `time`
    and the columns `lat`, `lon`, `ele`, `speed`, `course`, `hdop`; and what was damaged first.

    Raises
    ------
    LogFileError
        the file declares entities, which no track needs.
    """
    found = _Points(kind)
    start, first = 0, None
    mark = re.compile(rb"<" + kind.encode() + rb"\b")
    for _ in range(MAX_DAMAGES):
        failed = found.parse(data, start)
        if failed is None:
            break
        at, why = failed
        told = message("damaged-xml", system=UserText(why, "system"))
        first = first or LogFileError(told)
        again = mark.search(data, max(at, start + 1))
        if again is None:
            break
        start = again.start()
    schema = {"at": pl.Int64} | dict.fromkeys(("time", *_NAMES), pl.String)
    return pl.DataFrame(found.rows, schema=schema, orient="row"), first


@dataclass(slots=True)
class _Points:
    """Gathers points while a file is parsed, anew behind each damage."""

    kind: str
    rows: list[tuple[int | str | None, ...]] = field(default_factory=list)

    def parse(self, data: bytes, start: int) -> tuple[int, str] | None:
        """Parse from a byte on; where and why it could not be gone on with, or None."""
        parser = expat.ParserCreate("utf-8")
        root = b"" if start == 0 else b"<gpx>"
        offset = start - len(root)
        at, depth = 0, 0
        point: dict[str, str] = {}
        text: list[str] = []

        def begin(tag: str, attributes: dict[str, str]) -> None:
            """A tag opens: a point begins, or something in one."""
            nonlocal at, depth, point
            text.clear()
            if depth:
                depth += 1
            elif tag.rpartition(":")[2] == self.kind:
                at, depth, point = parser.CurrentByteIndex + offset, 1, dict(attributes)

        def end(tag: str) -> None:
            """A tag closes: what it held goes to its point, and a point to the rows."""
            nonlocal depth
            name = tag.rpartition(":")[2].lower()
            if depth == 2 or name in _EXTENSIONS:
                point.setdefault(name, "".join(text).strip())
            text.clear()
            if depth == 1:
                self.rows.append((at, point.get("time"), *(point.get(n) for n in _NAMES)))
            depth = max(depth - 1, 0)

        def refuse(*_: object) -> None:
            raise LogFileError(message("damaged-xml/entities"))

        parser.StartElementHandler, parser.EndElementHandler = begin, end
        parser.CharacterDataHandler, parser.StartDoctypeDeclHandler = text.append, refuse
        try:
            parser.Parse(root)
            for place in range(start, len(data), BLOCK):
                parser.Parse(data[place : place + BLOCK])
            if start == 0:
                parser.Parse(b"", True)
        except expat.ExpatError as error:
            return parser.ErrorByteIndex + offset, str(error)
        return None
