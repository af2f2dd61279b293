"""Charts of the mountain: each route's height, speed and gear, old tires over new."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits, minus
from gearing.report import chart as draw
from gearing.report.descent_table import cares
from gearing.report.reading import SIDES, Tree, branch, dig, number, rows, text
from gearing.report.tables import Table, table

_POINTS = 48  # a route's points after putting together
_CHARTS = 8  # more routes than this are in the table only
_TABLE_ROWS = 8
Sides = tuple[str, ...]
_LOOKS = {"before": ("var(--before)", [6, 4]), "after": ("var(--after)", [1, 0])}

_READING = (
    "The top picture is the road's height; below it is the same drive {both}. Look for where the "
    "lines part: there a gear is lost. Shaded descents ask for care. The power of the service "
    "brakes is the mean of the simulated drives: in half of these the driver changes down in time, "
    "in half the brakes do what the gear of the level leaves. Point at a place to read all of it."
)
_READING_AGAIN = "Height on top; below it the same drive {both}."
_READING_ALONE = "Height on top; below it the drive on the only tires there is a figure of."
_WAYS = {"forward": "", "reversed": ", the other way"}


def route_charts(
    results: Tree, routes: pl.DataFrame | None, display: Display
) -> tuple[draw.Chart, ...]:
    """One chart a route and direction: height, speed and gear."""
    if routes is None or not {"route", "distance_m", "altitude_m"} <= set(routes.columns):
        return ()
    if "direction" not in routes.columns:
        routes = routes.with_columns(direction=pl.lit("forward"))
    charts: list[draw.Chart] = []
    for (name, way), frame in routes.group_by("route", "direction", maintain_order=True):
        if len(charts) == _CHARTS:
            break
        driven = _driven(results, str(name), str(way))
        chart = _route_chart(str(name), str(way), frame, driven, display, len(charts))
        if chart is not None:
            charts.append(chart)
    return tuple(charts)


def _driven(results: Tree, name: str, way: str) -> Tree:
    """What `results` tells of a route driven one way."""
    route = next((r for r in rows(results, "routes") if text(r.get("name")) == name), {})
    return branch(route, "reversed") if way == "reversed" else route


def _route_chart(
    name: str, way: str, frame: pl.DataFrame, driven: Tree, display: Display, index: int
) -> draw.Chart | None:
    thin = _thinned(frame, display)
    sides = tuple(s for s in SIDES if f"{s}_speed" in thin.columns)
    if not sides:
        return None
    reading = _READING_ALONE if len(sides) < 2 else _READING_AGAIN if index else _READING
    return draw.Chart(
        key=f"route-{index}",
        title=f"{name}{_WAYS.get(way, f', {way}')}",
        reading=reading.format(both=display.word("on both sets")),
        alt=_route_alt(frame, driven, display),
        table=_route_table(thin, sides, display),
        panels=(_picture(thin, sides, driven, display),),
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
    for side in SIDES:
        column = f"{side}_speed_mps"
        if column in frame.columns and frame[column].null_count() < frame.height:
            speed = pl.col(column).min() * 3.6 * display.speed(1.0)
            rules.append(speed.round(1).alias(f"{side}_speed"))
            if f"{side}_gear" in frame.columns:
                rules.append(pl.col(f"{side}_gear").min())
            if f"{side}_service_brake_w" in frame.columns:
                power = pl.col(f"{side}_service_brake_w").mean() * watt
                rules.append(power.round(0).alias(f"{side}_brakes"))
    return frame.group_by(group.alias("_group"), maintain_order=True).agg(rules).drop("_group")


def _answer(sides: Sides, geared: list[str], braked: list[str], display: Display) -> Any:
    """All there is to tell of a place."""
    unit, power = display.speed_unit, display.plain(1.0, "W")[1]
    return draw.tips(
        ("distance:Q", f"At [{display.distance_unit}]", ".1f"),
        ("height:Q", f"Height [{display.height_unit}]", ",.0f"),
        *((f"{s}_speed:Q", f"Speed, {display.tires(s)} [{unit}]", ".0f") for s in sides),
        *((f"{s}_gear:Q", f"Gear, {display.tires(s)}", ".0f") for s in geared),
        *((f"{s}_brakes:Q", f"Brakes, {display.tires(s)} [{power}]", ".0f") for s in braked),
    )


def _picture(
    frame: pl.DataFrame, sides: tuple[str, ...], driven: Tree, display: Display
) -> dict[str, Any]:
    unit = display.speed_unit
    power = display.plain(1.0, "W")[1]
    geared = [s for s in sides if f"{s}_gear" in frame.columns]
    braked = [s for s in sides if f"{s}_brakes" in frame.columns]
    answer = _answer(sides, geared, braked, display)
    # as it stands: the rule at the place pointed to has no rows to tell it from
    distances = frame["distance"].to_list()
    ends = [distances[0], distances[-1]]

    def x(*, last: bool) -> alt.X:
        axis = (
            draw.across(f"Distance [{display.distance_unit}]")
            if last
            else draw.across(None, labels=False)
        )
        return alt.X("distance:Q", axis=axis, scale=alt.Scale(domain=ends, nice=False))

    def lines(columns: list[str], *, last: bool, step: bool) -> list[alt.Chart]:
        axis: dict[str, Any] = {"tickCount": 4}
        if step:
            values = [v for column in columns for v in frame[column].drop_nulls().to_list()]
            axis = {"values": list(range(int(min(values)), int(max(values)) + 1)), "format": "d"}
        return [
            alt.Chart()
            .mark_line(
                strokeWidth=2,
                interpolate="step-after" if step else "linear",
                color=_LOOKS[column.split("_")[0]][0],
                strokeDash=_LOOKS[column.split("_")[0]][1],
            )
            .encode(x=x(last=last), y=draw.up(f"{column}:Q", zero=False, **axis))
            for column in reversed(columns)  # the dashed line lies on top
        ]

    floor = float(frame["height"].min() or 0.0)  # type: ignore[arg-type]
    hill = (
        alt.Chart()
        .mark_area(color="var(--hill)", line={"color": "var(--muted)", "strokeWidth": 1.5})
        .encode(
            x=x(last=False), y=draw.up("height:Q", zero=False, tickCount=3), y2=alt.datum(floor)
        )
    )
    panels: list[tuple[list[alt.Chart], str, int]] = [
        ([hill, *_careful(driven, display)], f"Height [{display.height_unit}]", 80),
        (
            lines([f"{s}_speed" for s in sides], last=not (geared or braked), step=False),
            f"Speed [{unit}]",
            96,
        ),
    ]
    if geared:
        gears = lines([f"{s}_gear" for s in geared], last=not braked, step=True)
        panels.append((gears, "Gear", 96))
    if braked:
        brakes = lines([f"{s}_brakes" for s in braked], last=True, step=False)
        panels.append((brakes, f"Service brakes [{power}]", 80))
    return draw.stacked(draw.data(frame), "distance", panels, answer)


def _careful(driven: Tree, display: Display) -> list[alt.Chart]:
    """Shades over the descents that ask for care."""
    ends = [
        [display.distance(number(one.get(key)) or 0.0) for key in ("from_km", "to_km")]
        for one in rows(driven, "descents")
        if cares(one)
    ]
    if not ends:
        return []
    spans = draw.data(pl.DataFrame(ends, schema=["low", "high"], orient="row"))
    shade = alt.Chart(spans).mark_rect(color="var(--raise)", opacity=0.35)
    return [shade.encode(x=alt.X("low:Q"), x2=alt.X2("high:Q"))]


def _route_alt(frame: pl.DataFrame, driven: Tree, display: Display) -> str:
    """The slowest point as the answer tells it: setting off and halting are not meant."""
    ends = (frame["altitude_m"].min(), frame["altitude_m"].max())
    low, high = (digits(display.height(float(end or 0.0)), 0) for end in ends)  # type: ignore[arg-type]
    parts = [f"the road lies between {low} and {high} {display.height_unit}"]
    for side in SIDES:
        slowest = number(dig(driven, side, "lowest_speed_kmh"))
        if slowest is None:
            continue
        gear = number(dig(driven, side, "gear_at_lowest"))
        shown = f"slowest {digits(display.speed(slowest), 0)} {display.speed_unit}"
        shown += "" if gear is None else f" in gear {digits(gear, 0)}"
        parts.append(f"{shown} {display.on(side)}")
    if careful := [one for one in rows(driven, "descents") if cares(one)]:
        places = (
            " to ".join(
                digits(display.distance(number(one.get(key)) or 0.0), 1)
                for key in ("from_km", "to_km")
            )
            for one in careful
        )
        parts.append(f"care is asked for from {', '.join(places)} {display.distance_unit}")
    return f"Line charts along the route: {'; '.join(parts)}."


def _route_table(frame: pl.DataFrame, sides: tuple[str, ...], display: Display) -> Table:
    columns = [("distance", f"Distance [{display.distance_unit}]", 1)]
    shown = (
        ("speed", f"Speed, {{}} [{display.speed_unit}]"),
        ("gear", "Gear, {}"),
        ("brakes", f"Brakes, {{}} [{display.plain(1.0, 'W')[1]}]"),
    )
    for what, title in shown:
        columns += [
            (f"{side}_{what}", title.format(display.tires(side)), 0)
            for side in reversed(sides)
            if f"{side}_{what}" in frame.columns
        ]
    few = frame.gather_every(max(1, frame.height // _TABLE_ROWS))
    return table(
        "Along the route, in coarse steps",
        [title for _, title, _ in columns],
        [
            ["-" if (v := row[key]) is None else minus(v, places) for key, _, places in columns]
            for row in few.to_dicts()
        ],
        words=0,
    )
