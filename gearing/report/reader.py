"""Results told for their reader: units, audience, and what a page to hand on must not hold."""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from gearing.analysis.sides import SIDES
from gearing.messages.display import MINUS, Display, System
from gearing.messages.render import Message, Remedy, Renderer
from gearing.messages.told import Told

if TYPE_CHECKING:
    import polars as pl

    from gearing.messages.audience import Role
    from gearing.results.fleet import FleetResults
    from gearing.results.record import Results

Record = TypeVar("Record")
Part = TypeVar("Part", covariant=True)
NEWEST_FIRST = ("after", "before")  # of rows that are read one below another

_POSITION_COLUMNS = ("latitude", "longitude", "course")
_TELLING_COLUMNS = ("file", "value", "message")  # of what was set aside: names, places, times


class Pair(Protocol[Part]):
    """What has a part before the change and one after it, either of them missing."""

    @property
    def before(self) -> Part | None:
        """The earlier part."""

    @property
    def after(self) -> Part | None:
        """The later part."""


def sides_of(pair: Pair[Part], order: Sequence[str] = SIDES) -> list[tuple[str, Part]]:
    """The parts there are, each with its side."""
    return [(side, one) for side in order if (one := getattr(pair, side)) is not None]


def display_of(results: Results | FleetResults, units: System | None = None) -> Display:
    """How results are shown: in `units`, else in those they name, else in metric ones."""
    declared = getattr(results, "declared", None)
    role: Role = declared.role if declared is not None else "changed"
    return Display(units or ("us" if results.units == "us" else "metric"), role)


def shared_names(results: Results) -> dict[str, str]:
    """What stands for each trip's name on a shared page: trips numbered within their period,
    since a trip's name is its file's."""
    counts: dict[str, int] = {}
    names: dict[str, str] = {}
    for trip in results.trips:
        if trip.name and trip.name not in names:
            period = trip.period or "trip"
            counts[period] = counts.get(period, 0) + 1
            names[trip.name] = f"{period} {counts[period]}"
    return names


def for_reader(
    record: Record, display: Display, *, hidden_trips: Mapping[str, str] | None = None
) -> Record:
    """A frozen record with each message as the text its reader has, which remembers the message.

    With `hidden_trips`, from `shared_names`, for a page to be handed on: trips under those names,
    moments as days, no files. Figures that are not finite become None, as `results.json` has
    them, and frames come out empty.
    """
    renderer = Renderer(display, display.role, hidden_trips, MINUS)
    told: Record = _told(record, renderer)
    return told


def _told(value: Any, renderer: Renderer) -> Any:
    make = _BY_TYPE.get(type(value))
    if make is not None:
        return make(value, renderer)
    if isinstance(value, str):
        return value if renderer.trips is None else renderer.trips.get(value) or _day(value)
    if not dataclasses.is_dataclass(value):
        return value.clear() if type(value).__module__.startswith("polars") else value
    changed = {
        name: "" if name == "file" and renderer.trips is not None else new
        for name in _names(value.__class__)
        if (new := _told(old := getattr(value, name), renderer)) is not old or name == "file"
    }
    return dataclasses.replace(value, **changed) if changed else value  # type: ignore[type-var]


@functools.cache
def _names(kind: Any) -> tuple[str, ...]:
    return tuple(one.name for one in dataclasses.fields(kind) if one.init)


def _items(value: Any, renderer: Renderer) -> Any:
    return type(value)(_told(item, renderer) for item in value)


def _mapping(value: Any, renderer: Renderer) -> Any:
    return {key: _told(item, renderer) for key, item in value.items()}


_BY_TYPE: dict[type[Any], Callable[[Any, Renderer], Any]] = {
    Message: lambda value, renderer: Told(value, renderer.text(value)),
    Remedy: lambda value, renderer: Told(value, renderer.remedy(value.of)),
    float: lambda value, _: value if math.isfinite(value) else None,
    tuple: _items,
    list: _items,
    dict: _mapping,
    **dict.fromkeys((int, bool, type(None), datetime), lambda value, _: value),
}


def _day(value: str) -> str:
    """The day of a moment as ISO 8601 writes it; anything else as it is."""
    if "T" not in value:
        return value
    try:
        return datetime.fromisoformat(value).date().isoformat()
    except ValueError:
        return value


def shared_frames(
    frames: Mapping[str, pl.DataFrame], names: Mapping[str, str]
) -> dict[str, pl.DataFrame]:
    """The frames without positions and texts, their trips under the names of `shared_names`."""
    return {name: _shared(frame, names) for name, frame in frames.items()}


def _shared(frame: pl.DataFrame, names: Mapping[str, str]) -> pl.DataFrame:
    kept = [c for c in frame.columns if not any(word in c for word in _POSITION_COLUMNS)]
    frame = frame.select(c for c in kept if c not in _TELLING_COLUMNS)
    if "trip" not in frame.columns or not names:
        return frame
    import polars as pl

    other = pl.col("trip").replace_strict(names, default="another trip", return_dtype=pl.String)
    return frame.with_columns(other)
