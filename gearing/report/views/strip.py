"""One way of a route as a strip of height, with what the new gearing does along it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from gearing.messages import Items, Message, Span, told_of
from gearing.messages.display import Display, digits
from gearing.report.phrases import counted
from gearing.report.views.bar import STEPS

if TYPE_CHECKING:
    from gearing.report.views.mountain import Way

    Stretches = tuple[tuple[float, float], ...]

WIDTH, HEIGHT = 340.0, 46.0  # of the drawing, in its own units
_POINTS = 90
_BRAKES_KWH = 0.05  # of less work by the service brakes nobody needs to be told


@dataclass(frozen=True, slots=True)
class Strip:
    """The drawing in the direction driven, its stretches (from, width), and the same in words."""

    hill: str  # the polygon of the road's height
    lost: Stretches  # uphill in a lower gear than on the old tires
    brakes: Stretches  # where the service brakes work
    care: Stretches  # named in what to watch
    ticks: tuple[tuple[float, str], ...]  # of the distance, and its unit at the right
    alt: str


def strip(
    route: str, direction: str, way: Way, frame: pl.DataFrame | None, display: Display
) -> Strip | None:
    """The strip of one way; None where its road is not at hand, or was not driven.

    `frame`, of all routes, has `route`, `direction`, `distance_m`, `altitude_m` and each period's
    gear.
    """
    if frame is None or way.after is None:
        return None
    drive = frame.filter(pl.col("route") == route, pl.col("direction") == direction)
    road = drive.drop_nulls("altitude_m").sort("distance_m")
    if road.height < 3:
        return None
    length = float(road["distance_m"][-1])

    def place(low: float, high: float) -> tuple[float, float]:
        """A stretch of road [m] on the drawing."""
        return round(low / length * WIDTH, 1), round((high - low) / length * WIDTH, 1)

    brakes = tuple(
        place(1000 * part.from_km, 1000 * part.to_km)
        for part in way.sections
        if part.after is not None and part.after.brake_kwh >= _BRAKES_KWH
    )
    spans = [span for one in way.care for span in _spans(told_of(one))]
    care = tuple(dict.fromkeys(place(1000 * span.low, 1000 * span.high) for span in spans))
    lost = tuple(place(*ends) for ends in _lost(road))
    low, high = float(road["altitude_m"].min()), float(road["altitude_m"].max())  # type: ignore[arg-type]
    heights = " to ".join(digits(display.height(end), 0) for end in (low, high))
    heights += f" {display.height_unit}"
    far = display.distance(length / 1000)
    alt = f"The road's height over {digits(far, 0)} {display.distance_unit}, {heights}: {{}}."
    hill = _hill(road, length, low, high)
    told = alt.format(_told(lost, brakes, care))
    return Strip(hill, lost, brakes, care, _ticks(far, display), told)


def _ticks(far: float, display: Display) -> tuple[tuple[float, str], ...]:
    step = next(one for one in STEPS if far / one <= 6)
    places = [step * i for i in range(int(far / step) + 1)]
    labels = [digits(at, 0) for at in places]
    labels[-1] += f" {display.distance_unit}"
    return tuple(
        (round(at / far * WIDTH, 1), label) for at, label in zip(places, labels, strict=True)
    )


def _hill(road: pl.DataFrame, length: float, low: float, high: float) -> str:
    few = pl.concat([road.gather_every(max(1, road.height // _POINTS)), road.tail(1)])
    span = max(high - low, 60.0)  # a level road stays level
    points = [
        f"{x / length * WIDTH:.0f},{HEIGHT - 4 - (y - low) / span * (HEIGHT - 8):.0f}"
        for x, y in few.select("distance_m", "altitude_m").iter_rows()
    ]
    return " ".join([f"0,{HEIGHT:.0f}", *points, f"{WIDTH:.0f},{HEIGHT:.0f}"])


def _lost(road: pl.DataFrame) -> list[tuple[float, float]]:
    """From where to where [m] a drive uphill is in a lower gear than on the old tires: downhill a
    lower gear is what is wanted."""
    lower = (pl.col("after_gear") < pl.col("before_gear")) & (pl.col("altitude_m").diff() > 0)
    steps = road.select("distance_m", lower=lower.fill_null(value=False))
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


def _told(lost: Stretches, brakes: Stretches, care: Stretches) -> str:
    kinds = (
        (lost, "uphill in a lower gear than before"),
        (brakes, "with the service brakes at work"),
        (care, "to watch"),
    )
    parts = [f"{counted(len(one), 'stretch', 'stretches')} {what}" for one, what in kinds if one]
    return ", ".join(parts) or "nothing to mark"
