"""The page to hand on: no positions, no times of day, no names of files."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from gearing.report.retell import shared_names

if TYPE_CHECKING:
    import polars as pl

Results = dict[str, Any]

_POSITION_COLUMNS = ("latitude", "longitude", "course")
_TELLING_COLUMNS = ("file", "value", "message")  # of what was set aside: names, places, times


def shared(
    results: Results, frames: dict[str, pl.DataFrame]
) -> tuple[Results, dict[str, pl.DataFrame]]:
    """The results and frames without positions, times of day and file names.

    Trips are numbered within their period, since a trip's name is its file's.
    """
    names = shared_names(results)
    clean = {
        key: item if key == "messages" else _clean(item, names) for key, item in results.items()
    }
    return clean, {name: _without_positions(frame, names) for name, frame in frames.items()}


def _clean(value: Any, names: dict[str, str]) -> Any:
    """The tree with trips under their other names, moments as days and no files.

    Texts are messages, which are told anew for a shared page; a value here is a name, a moment or
    a word as a whole.
    """
    if isinstance(value, dict):
        return {key: "" if key == "file" else _clean(item, names) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(item, names) for item in value]
    if not isinstance(value, str):
        return value
    return names.get(value) or _day(value)


def _day(value: str) -> str:
    """The day of a moment as ISO 8601 writes it; anything else as it is."""
    if "T" not in value:
        return value
    try:
        return datetime.fromisoformat(value).date().isoformat()
    except ValueError:
        return value


def _without_positions(frame: pl.DataFrame, names: dict[str, str]) -> pl.DataFrame:
    kept = [c for c in frame.columns if not any(word in c for word in _POSITION_COLUMNS)]
    frame = frame.select(c for c in kept if c not in _TELLING_COLUMNS)
    if "trip" in frame.columns and names:
        import polars as pl

        frame = frame.with_columns(
            pl.col("trip").replace_strict(names, default="another trip", return_dtype=pl.String)
        )
    return frame
