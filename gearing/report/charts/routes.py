"""Charts of the mountain: each route's height, speed and gear, old tires over new."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
from gearing.report import chart as draw
from gearing.report.phrases import said
from gearing.report.reader import sides_of
from gearing.report.tables import Grid, Table
from gearing.report.views.mountain import cares, from_to

if TYPE_CHECKING:
    from gearing.report.views.mountain import Way
    from gearing.results.record import Results

_POINTS = 48  # a route's points after putting together
_CHARTS = 8  # more routes than this are in the table only
_TABLE_ROWS = 8

_READING = (
    "The top picture is the road's height; below it is the same drive {both}. Uphill a gear is "
    "lost where its lines part. Shaded descents ask for care. Service brakes: the mean of the "
    "simulated drives; half of the drivers shift down in time, half stay in gear and brake. Point "
    "at a place to read all of it."
)
_READING_AGAIN = "Height on top; below it the same drive {both}."
_READING_ALONE = "Height on top; below it the drive on the only tires there is a figure of."
_WAYS = {"forward": "", "reversed": ", the other way"}


def route_charts(
    results: Results, routes: pl.DataFrame | None, display: Display
) -> tuple[draw.Chart, ...]:
    """A chart a route and direction: height, speed and gear.

    `routes` has a row each piece of each route, as `routes.parquet` has them.
    """
    if routes is None:
        return ()
    known = {said(route.name): route for route in results.routes}
    charts: list[draw.Chart] = []
    for (name, way), frame in routes.group_by("route", "direction", maintain_order=True):
        if len(charts) == _CHARTS:
            break
        route = known.get(str(name))
        driven = route.reversed if route is not None and way == "reversed" else route
        title = f"{name}{_WAYS[str(way)]}"
        chart = _route_chart(title, frame, driven, display, len(charts))
        if chart is not None:
            charts.append(chart)
    return tuple(charts)


def _route_chart(
    title: str, frame: pl.DataFrame, driven: Way | None, display: Display, index: int
) -> draw.Chart | None:
    thin = _thinned(frame, display)
    sides = tuple(side for side in draw.SIDES if f"{side}_speed" in thin.columns)
    if not sides:
        return None
    reading = _READING_ALONE if len(sides) < 2 else _READING_AGAIN if index else _READING
    careful = [one for one in driven.descents if cares(one)] if driven is not None else []
    shades = [
        {"low": display.distance(one.from_km), "high": display.distance(one.to_km)}
        for one in careful
    ]
    told = _alt(frame, driven, display)
    if careful:
        places = ", ".join(from_to(one, display) for one in careful)
        told += f"; care is asked for from {places} {display.distance_unit}"
    return draw.Chart(
        key=f"route-{index}",
        title=title,
        reading=reading.format(both=display.word("on both sets")),
        alt=f"Line charts along the route: {told}.",
        table=_table(thin, sides, display),
        panels=(_picture(thin, sides, shades, display),),
        sides=sides,
    )


def _thinned(frame: pl.DataFrame, display: Display) -> pl.DataFrame:
    """At most `_POINTS` rows in the reader's units: heights averaged, the slowest speed and lowest
    gear kept; a period that was not driven has no columns."""
    frame = frame.sort("distance_m")
    group = pl.int_range(pl.len()) * _POINTS // pl.max_horizontal(pl.len(), pl.lit(_POINTS))
    km = display.distance(1.0) / 1000
    watt = display.plain(1000.0, "W")[0] / 1000  # as the reader has power
    rules = [
        (pl.col("distance_m").mean() * km).round(2).alias("distance"),
        (pl.col("altitude_m").mean() * display.height(1.0)).round(0).alias("height"),
    ]
    for side in draw.SIDES:
        if frame[f"{side}_speed_mps"].count():
            speed = pl.col(f"{side}_speed_mps").min() * 3.6 * display.speed(1.0)
            power = pl.col(f"{side}_service_brake_w").mean() * watt
            rules += [
                speed.round(1).alias(f"{side}_speed"),
                pl.col(f"{side}_gear").min(),
                power.round(0).alias(f"{side}_brakes"),
            ]
    return frame.group_by(group.alias("_group"), maintain_order=True).agg(rules).drop("_group")


def _columns(frame: pl.DataFrame, sides: Sequence[str], what: str) -> list[str]:
    return [f"{side}_{what}" for side in sides if f"{side}_{what}" in frame.columns]


def _heads(frame: pl.DataFrame, sides: Sequence[str], display: Display) -> dict[str, str]:
    """What is told of a place besides its height: columns of the frame, with their headings."""
    power = display.plain(1.0, "W")[1]
    shown = (
        ("speed", f"Speed, {{}} [{display.speed_unit}]"),
        ("gear", "Gear, {}"),
        ("brakes", f"Brakes, {{}} [{power}]"),
    )
    return {
        column: head.format(display.tires(column.split("_")[0]))
        for what, head in shown
        for column in _columns(frame, sides, what)
    }


def _picture(
    frame: pl.DataFrame, sides: Sequence[str], shades: list[dict[str, float]], display: Display
) -> draw.Spec:
    floor = float(frame["height"].min() or 0.0)  # type: ignore[arg-type]
    look = {"color": "var(--hill)", "line": {"color": "var(--muted)", "strokeWidth": 1.5}}
    height, plain = draw.up("height:Q", zero=False, tickCount=3), _x(frame, None)
    hill = draw.mark("area", None, look, x=plain, y=height, y2=alt.Y2Datum(floor))
    layers = [hill]
    if shades:  # over the descents that ask for care
        ends = {"x": alt.X("low:Q"), "x2": alt.X2("high:Q")}
        shade = {"color": "var(--raise)", "opacity": 0.35}
        layers.append(draw.mark("rect", shades, shade, **ends))
    panels = [(layers, f"Height [{display.height_unit}]", 80)]
    below = (
        ("speed", f"Speed [{display.speed_unit}]", 96),
        ("gear", "Gear", 96),
        ("brakes", f"Service brakes [{display.plain(1.0, 'W')[1]}]", 80),
    )
    found = [(what, title, tall) for what, title, tall in below if _columns(frame, sides, what)]
    for what, title, tall in found:
        last = what == found[-1][0]
        x = _x(frame, f"Distance [{display.distance_unit}]" if last else None)
        columns = _columns(frame, sides, what)
        panels.append((_lines(frame, columns, x, step=what == "gear"), title, tall))
    answer = draw.tips(
        ("distance:Q", f"At [{display.distance_unit}]", ".1f"),
        ("height:Q", f"Height [{display.height_unit}]", ",.0f"),
        *((f"{column}:Q", head, ".0f") for column, head in _heads(frame, sides, display).items()),
    )
    return draw.stacked(frame, "distance", panels, answer)


def _x(frame: pl.DataFrame, title: str | None) -> alt.X:
    """The way along the road; the axis is told under the last panel alone."""
    axis = draw.across(title) if title is not None else draw.across(None, labels=False)
    # as it stands: the rule at the place pointed to has no rows to tell it from
    ends = [frame["distance"][0], frame["distance"][-1]]
    return alt.X("distance:Q", axis=axis, scale=alt.Scale(domain=ends, nice=False))


def _lines(frame: pl.DataFrame, columns: list[str], x: alt.X, *, step: bool) -> list[draw.Spec]:
    axis: dict[str, Any] = {"tickCount": 4}
    if step:
        values = [v for column in columns for v in frame[column].drop_nulls().to_list()]
        axis = {"values": list(range(int(min(values)), int(max(values)) + 1)), "format": "d"}
    drawn = []
    for column in reversed(columns):  # the dashed line lies on top
        color, dash = draw.LOOKS[column.split("_")[0]]
        way = "step-after" if step else "linear"
        look = {"strokeWidth": 2, "interpolate": way, "color": color, "strokeDash": dash}
        drawn.append(
            draw.mark("line", None, look, x=x, y=draw.up(f"{column}:Q", zero=False, **axis))
        )
    return drawn


def _alt(frame: pl.DataFrame, driven: Way | None, display: Display) -> str:
    """The slowest point as the answer tells it: setting off and halting are not meant."""
    ends = (frame["altitude_m"].min(), frame["altitude_m"].max())
    low, high = (digits(display.height(float(end or 0.0)), 0) for end in ends)  # type: ignore[arg-type]
    parts = [f"the road lies between {low} and {high} {display.height_unit}"]
    for side, drive in sides_of(driven) if driven is not None else ():
        slowest = digits(display.speed(drive.lowest_speed_kmh), 0)
        gear = f"slowest {slowest} {display.speed_unit} in gear {drive.gear_at_lowest}"
        parts.append(f"{gear} {display.on(side)}")
    return "; ".join(parts)


def _table(frame: pl.DataFrame, sides: Sequence[str], display: Display) -> Table:
    few = frame.gather_every(max(1, frame.height // _TABLE_ROWS))
    return (
        Grid(few.to_dicts())
        .figure(f"Distance [{display.distance_unit}]", lambda row: row["distance"], 1)
        .each(
            _heads(frame, sides[::-1], display).items(),
            lambda grid, one: grid.figure(one[1], lambda row: row[one[0]]),
        )
        .table("Along the route, in coarse steps")
    )
