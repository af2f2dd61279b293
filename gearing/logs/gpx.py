"""GPX 1.0 and 1.1 tracks as samples of the receiver."""

from __future__ import annotations

import re
from datetime import UTC
from typing import Any

import numpy as np
import polars as pl

from gearing.logs.archives import LogFileError
from gearing.logs.fixes import read_fixes
from gearing.logs.samples import Context, Part
from gearing.messages import UserText, message

_CHANNELS = {
    "latitude_deg": "trkpt lat",
    "longitude_deg": "trkpt lon",
    "altitude_m": "ele",
    "gps_speed_mps": "speed",
    "gps_course_deg": "course",
    "hdop": "hdop",
}


def is_gpx(data: bytes) -> bool:
    head = data[:4096].lstrip()
    return head.startswith(b"<") and b"<gpx" in head


def read_gpx(data: bytes, context: Context) -> Part:
    """One sample a track point; a cut file gives its whole points.

    Raises
    ------
    LogFileError
        no GPX that can be read.
    """
    starts = [m.start() for m in re.finditer(rb"<trkpt\b", data)]
    lines = np.searchsorted(
        np.flatnonzero(np.frombuffer(data, np.uint8) == 10), np.array(starts, np.int64)
    )
    lines = np.asarray(lines + 1, dtype=np.int64)
    points = _points(data, context)
    rows = len(starts)
    if rows == 0:
        raise LogFileError(message("empty-file/no-points"))
    if len(points) < rows:  # beyond the last whole point
        context.ledger.set_aside_rows(message("cut-record"), lines[len(points) :])
    lines = lines[: len(points)]
    frame = pl.DataFrame(
        points,
        schema={"us": pl.Int64} | dict.fromkeys(_CHANNELS, pl.Float64),
        orient="row",
    ).with_columns(pl.Series("line", lines, dtype=pl.UInt32))
    timeless = frame["us"].is_null()
    if timeless.any():
        aside = frame["line"].filter(timeless).to_numpy()
        context.ledger.set_aside_rows(message("no-time"), aside)
        frame = frame.filter(~timeless)
    return read_fixes(
        frame,
        rows,
        context,
        _CHANNELS,
        kind="GPX",
        speed_unit="m/s",
        time_form=(message("time-form/iso"),),
    )


def _points(data: bytes, context: Context) -> list[tuple[Any, ...]]:
    import gpxpy

    text = data.decode("utf-8", errors="replace")
    if re.search(r"<!(?:DOCTYPE|ENTITY)", text[:100_000]):
        raise LogFileError(message("damaged-xml/entities"))
    try:
        track = gpxpy.parse(text)
    except Exception as first:  # the parser passes on whatever its XML library raises
        end = text.rfind("</trkpt>")
        if end < 0:
            raise _damaged(first) from None
        try:
            track = gpxpy.parse(text[: end + 8] + "</trkseg></trk></gpx>")
        except Exception as second:
            raise _damaged(second) from None
        context.ledger.repair(message("salvaged-xml"))
    return [_point(p) for t in track.tracks for s in t.segments for p in s.points]


def _damaged(error: Exception) -> LogFileError:
    return LogFileError(message("damaged-xml", system=UserText(str(error)[:120], "system")))


def _point(point: Any) -> tuple[Any, ...]:
    us = None
    if point.time is not None:
        moment = point.time
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=UTC)  # GPX times are UTC by the standard
        us = round(moment.timestamp() * 1e6)
    speed = point.speed if point.speed is not None else _extension(point, "speed")
    course = point.course if point.course is not None else _extension(point, "course")
    return (
        us,
        point.latitude,
        point.longitude,
        point.elevation,
        speed,
        course,
        point.horizontal_dilution,
    )


def _extension(point: Any, name: str) -> float | None:
    for element in point.extensions:
        for part in element.iter():
            if str(part.tag).rsplit("}", 1)[-1].lower() == name and part.text:
                try:
                    return float(part.text)
                except ValueError:
                    return None
    return None
