"""The page to hand on: no positions, no times of day, no names of files."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from gearing.report.retell import shared_names

if TYPE_CHECKING:
    import polars as pl

Results = dict[str, Any]

_CLOCK = re.compile(r"\b\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d{2}:?\d{2})?\b")
_STAMP = re.compile(r"(\d{4}-\d{2}-\d{2})[T ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d{2}:?\d{2})?")
_POSITION = re.compile(r"(?<![\d.])-?\d{1,3}\.\d{4,},\s*-?\d{1,3}\.\d{4,}")
_PATH = re.compile(
    r"(?<![\w<])[\w.~:-]*[/\\][\w./\\~-]*\.\w{2,5}\b|\b[\w-]+\.(csv|tsv|txt|gpx|nmea)\b"
)
_POSITION_COLUMNS = ("latitude", "longitude", "course")
_TELLING_COLUMNS = ("file", "value", "message")  # of what was set aside: names, places, times


def shared(
    results: Results, frames: dict[str, pl.DataFrame]
) -> tuple[Results, dict[str, pl.DataFrame]]:
    """The results and frames without positions, times of day and file names.

    Trips are numbered within their period, since a trip's name is its file's.
    """
    names = shared_names(results)
    # longest first, so that a name within another does not spoil it
    order = sorted(names, key=len, reverse=True)
    known = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, order))})(?!\w)") if order else None
    clean = _cleaned(results, known, names)
    return clean, {name: _without_positions(frame, names) for name, frame in frames.items()}


def _cleaned(value: Any, known: re.Pattern[str] | None, names: dict[str, str]) -> Any:
    if isinstance(value, dict):
        return {
            key: item
            if key == "messages"
            else ""
            if key == "file"
            else _cleaned(item, known, names)
            for key, item in value.items()
        }
    if isinstance(value, list | tuple):
        return [_cleaned(item, known, names) for item in value]
    if not isinstance(value, str):
        return value
    if known is not None:
        value = known.sub(lambda match: names[match[0]], value)
    value = _STAMP.sub(r"\1", value)
    value = _POSITION.sub("a position", value)
    value = _PATH.sub("a file", value)
    return _CLOCK.sub("a time of day", value)


def _without_positions(frame: pl.DataFrame, names: dict[str, str]) -> pl.DataFrame:
    kept = [c for c in frame.columns if not any(word in c for word in _POSITION_COLUMNS)]
    frame = frame.select(c for c in kept if c not in _TELLING_COLUMNS)
    if "trip" in frame.columns and names:
        import polars as pl

        frame = frame.with_columns(
            pl.col("trip").replace_strict(names, default="another trip", return_dtype=pl.String)
        )
    return frame
