"""A route as a strip of height, with what the new gearing does along it, each way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import polars as pl

from gearing.messages.display import Display, digits
from gearing.report.reading import Tree, branch, number, rows, text

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


@dataclass(frozen=True, slots=True)
class Strip:
    hill: str  # the polygon of the road's height
    tracks: tuple[Track, ...]
    ends: tuple[str, str]  # distance at the right, heights
    alt: str


def strip(
    index: int,
    route: Tree,
    frame: pl.DataFrame | None,
    display: Display,
    messages: Mapping[str, Any],
) -> Strip | None:
    """The strip of route number `index`; None where its road is not at hand.

    `frame`, of all routes, has `route`, `direction`, `distance_m`, `altitude_m` and each period's
    gear; `messages` are the results' own, by their place.
    """
    needed = {"route", "direction", "distance_m", "altitude_m"}
    if frame is None or not needed <= set(frame.columns):
        return None
    of_route = frame.filter(pl.col("route") == text(route.get("name")))
    ways = {way: of_route.filter(pl.col("direction") == way) for way in ("forward", "reversed")}
    road = ways["forward"].drop_nulls("altitude_m").sort("distance_m")
    if road.height < 3:
        return None
    length = float(road["distance_m"][-1])
    tracks = []
    for way, label in (("forward", "there"), ("reversed", "back")):
        drive = branch(route, "reversed") if way == "reversed" else route
        if branch(drive, "after") and ways[way].height:
            at = f"/routes/{index}{'/reversed' if way == 'reversed' else ''}/care/"
            told = [message for place, message in messages.items() if place.startswith(at)]
            tracks.append(_track(label, ways[way], drive, told, length, turned=way == "reversed"))
    low, high = float(road["altitude_m"].min()), float(road["altitude_m"].max())  # type: ignore[arg-type]
    far = f"{digits(display.distance(length / 1000), 0)} {display.distance_unit}"
    heights = " to ".join(digits(display.height(end), 0) for end in (low, high))
    unit = display.height_unit
    return Strip(
        _hill(road, length, low, high),
        tuple(tracks),
        (far, f"{heights} {unit}"),
        f"The road's height over {far}, {heights} {unit}. " + " ".join(map(_told, tracks)),
    )


def _hill(road: pl.DataFrame, length: float, low: float, high: float) -> str:
    few = pl.concat([road.gather_every(max(1, road.height // _POINTS)), road.tail(1)])
    span = max(high - low, 60.0)  # a level road stays level
    points = [
        f"{x / length * WIDTH:.0f},{HEIGHT - 4 - (y - low) / span * (HEIGHT - 8):.0f}"
        for x, y in few.select("distance_m", "altitude_m").iter_rows()
    ]
    return " ".join([f"0,{HEIGHT:.0f}", *points, f"{WIDTH:.0f},{HEIGHT:.0f}"])


def _track(
    label: str, drive: pl.DataFrame, told: Tree, care: list[Any], length: float, *, turned: bool
) -> Track:
    def place(low: float, high: float) -> tuple[float, float]:
        ends = (length - high, length - low) if turned else (low, high)
        return round(ends[0] / length * WIDTH, 1), round((ends[1] - ends[0]) / length * WIDTH, 1)

    braked = [
        place(1000 * low, 1000 * high)
        for part in rows(told, "sections")
        if (number(branch(part, "after").get("brake_kwh")) or 0.0) >= _BRAKES_KWH
        and (low := number(part.get("from_km"))) is not None
        and (high := number(part.get("to_km"))) is not None
    ]
    spans = [place(1000 * span["low"], 1000 * span["high"]) for one in care for span in _spans(one)]
    return Track(label, tuple(place(*ends) for ends in _lost(drive)), tuple(braked), tuple(spans))


def _lost(drive: pl.DataFrame) -> list[tuple[float, float]]:
    """From where to where [m] the drive is in a lower gear than on the old tires."""
    if not {"before_gear", "after_gear"} <= set(drive.columns):
        return []
    steps = drive.sort("distance_m").select(
        "distance_m", lower=(pl.col("after_gear") < pl.col("before_gear")).fill_null(False)
    )
    runs = steps.with_columns(run=pl.col("lower").rle_id()).filter("lower")
    ends = runs.group_by("run", maintain_order=True).agg(
        low=pl.col("distance_m").min(), high=pl.col("distance_m").max()
    )
    return [(low, high) for _, low, high in ends.iter_rows() if high > low]


def _spans(message: Any) -> list[dict[str, Any]]:
    """The stretches of road [km] among a message's fields, wherever they stand."""
    if isinstance(message, Mapping):
        if message.get("type") == "span" and message.get("unit") == "km":
            return [dict(message)]
        return [span for value in message.values() for span in _spans(value)]
    return []


def _told(track: Track) -> str:
    kinds = (
        (track.lost, "in a lower gear than before"),
        (track.brakes, "with the service brakes at work"),
        (track.care, "to watch"),
    )
    parts = [f"{len(found)} {_stretches(len(found))} {what}" for found, what in kinds if found]
    return f"{track.label.capitalize()}: {', '.join(parts) or 'nothing to mark'}."


def _stretches(count: int) -> str:
    return "stretch" if count == 1 else "stretches"
