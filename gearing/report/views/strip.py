"""A route as a strip of height, with what the new gearing does along it, each way."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from gearing.messages import Items, Message, Span, told_of
from gearing.messages.display import Display, digits
from gearing.report.phrases import counted, said

if TYPE_CHECKING:
    from gearing.analysis.mountain.result import Route
    from gearing.report.views.mountain import Way

OUT, BACK = "this way", "the other way"
WIDTH, HEIGHT = 340.0, 46.0  # of the drawing, in its own units
_POINTS = 90
_BRAKES_KWH = 0.05  # of less work by the service brakes nobody needs to be told


@dataclass(frozen=True, slots=True)
class Track:
    """One way of the route: stretches (from, width) by what is to be seen there."""

    label: str
    lost: tuple[tuple[float, float], ...]  # in a lower gear than on the old tires
    brakes: tuple[tuple[float, float], ...]  # where the service brakes work
    care: tuple[tuple[float, float], ...]  # named in what to watch

    @property
    def arrow(self) -> str:
        """Which way it goes on the drawing."""
        return "←" if self.label == BACK else "→"


@dataclass(frozen=True, slots=True)
class Strip:
    """The drawing of one route, and the same in words."""

    hill: str  # the polygon of the road's height
    tracks: tuple[Track, ...]
    ends: tuple[str, str]  # distance at the right, heights
    alt: str


def strip(route: Route, frame: pl.DataFrame | None, display: Display) -> Strip | None:
    """The strip of a route; None where its road is not at hand.

    `frame`, of all routes, has `route`, `direction`, `distance_m`, `altitude_m` and each period's
    gear.
    """
    if frame is None:
        return None
    of_route = frame.filter(pl.col("route") == said(route.name))
    there, back = (of_route.filter(pl.col("direction") == way) for way in ("forward", "reversed"))
    road = there.drop_nulls("altitude_m").sort("distance_m")
    if road.height < 3:
        return None
    length = float(road["distance_m"][-1])
    ways = ((OUT, there, route), (BACK, back, route.reversed))
    tracks = tuple(
        _track(label, drive, way, length)
        for label, drive, way in ways
        if way is not None and way.after is not None and drive.height
    )
    low, high = float(road["altitude_m"].min()), float(road["altitude_m"].max())  # type: ignore[arg-type]
    far = f"{digits(display.distance(length / 1000), 0)} {display.distance_unit}"
    heights = " to ".join(digits(display.height(end), 0) for end in (low, high))
    heights += f" {display.height_unit}"
    told = " ".join(map(_told, tracks))
    alt = f"The road's height over {far}, {heights}. {told}"
    return Strip(_hill(road, length, low, high), tracks, (far, heights), alt)


def _hill(road: pl.DataFrame, length: float, low: float, high: float) -> str:
    few = pl.concat([road.gather_every(max(1, road.height // _POINTS)), road.tail(1)])
    span = max(high - low, 60.0)  # a level road stays level
    points = [
        f"{x / length * WIDTH:.0f},{HEIGHT - 4 - (y - low) / span * (HEIGHT - 8):.0f}"
        for x, y in few.select("distance_m", "altitude_m").iter_rows()
    ]
    return " ".join([f"0,{HEIGHT:.0f}", *points, f"{WIDTH:.0f},{HEIGHT:.0f}"])


def _track(label: str, drive: pl.DataFrame, way: Way, length: float) -> Track:
    """One way's stretches; the way back begins at the right."""

    def place(low: float, high: float) -> tuple[float, float]:
        """A stretch of road [m] on the drawing."""
        ends = (length - high, length - low) if label == BACK else (low, high)
        return round(ends[0] / length * WIDTH, 1), round((ends[1] - ends[0]) / length * WIDTH, 1)

    braked = [
        place(1000 * part.from_km, 1000 * part.to_km)
        for part in way.sections
        if part.after is not None and part.after.brake_kwh >= _BRAKES_KWH
    ]
    care = [
        place(1000 * span.low, 1000 * span.high)
        for one in way.care
        for span in _spans(told_of(one))
    ]
    lost = tuple(place(*ends) for ends in _lost(drive))
    return Track(label, lost, tuple(braked), tuple(care))


def _lost(drive: pl.DataFrame) -> list[tuple[float, float]]:
    """From where to where [m] the drive is in a lower gear than on the old tires."""
    steps = drive.sort("distance_m").select(
        "distance_m", lower=(pl.col("after_gear") < pl.col("before_gear")).fill_null(False)
    )
    runs = steps.with_columns(run=pl.col("lower").rle_id()).filter("lower")
    ends = runs.group_by("run", maintain_order=True).agg(
        low=pl.col("distance_m").min(), high=pl.col("distance_m").max()
    )
    return [(low, high) for _, low, high in ends.iter_rows() if high > low]


def _spans(told: Any) -> Iterator[Span]:
    """The stretches of road [km] among a message's fields, wherever they stand."""
    if isinstance(told, Span) and told.unit == "km":
        yield told
    elif isinstance(told, Message | Items):
        inner = told.items if isinstance(told, Items) else [value for _, value in told.fields]
        for one in inner:
            yield from _spans(one)


def _told(track: Track) -> str:
    kinds = (
        (track.lost, "in a lower gear than before"),
        (track.brakes, "with the service brakes at work"),
        (track.care, "to watch"),
    )
    parts = [f"{counted(len(one), 'stretch', 'stretches')} {what}" for one, what in kinds if one]
    return f"{track.label.capitalize()}: {', '.join(parts) or 'nothing to mark'}."
