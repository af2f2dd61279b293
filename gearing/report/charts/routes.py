"""Charts of the mountain: each route's profile with speed, gear and load, old tires over new."""

from __future__ import annotations

import re

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits, minus
from gearing.report.chart import SIDES, Chart, Spec, across, colour, dash, data, finish
from gearing.report.reading import Tree, branch, dig, number, rows, text
from gearing.report.tables import Table, table

_POINTS = 140  # a route's points after putting together
_CHARTS = 8  # more routes than this are in the table only

_READING = (
    "The top picture is the road's height; the ones below are the same drive on both sets of "
    "tires. Where the lines part, the tires make the difference. Look for where the new tires "
    "lose a gear or reach full load."
)
_READING_AGAIN = "Height on top; below it the same drive on both sets of tires."
_READING_ALONE = "Height on top; below it the drive on the only tires there is a figure of."
_WAYS = {"forward": "", "reversed": ", the other way"}


def route_charts(results: Tree, routes: pl.DataFrame | None, display: Display) -> tuple[Chart, ...]:
    """One chart a route and direction: altitude, speed, gear, share of full load."""
    if routes is None or not {"route", "distance_m"} <= set(routes.columns):
        return ()
    if "direction" not in routes.columns:
        routes = routes.with_columns(direction=pl.lit("forward"))
    charts: list[Chart] = []
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
) -> Chart | None:
    thin = _thinned(frame)
    both = all(not _undriven(thin, side) for side in SIDES)
    panels = [
        panel
        for panel in (
            _altitude_panel(thin, display),
            _side_panel(
                thin, display, "speed_mps", f"Speed [{display.speed_unit}]", _speed(display)
            ),
            _side_panel(thin, display, "gear", "Gear", 1.0),
            _side_panel(thin, display, "load", "Share of full load [%], negative: braking", 100.0),
        )
        if panel is not None
    ]
    if len(panels) < 2:
        return None
    return Chart(
        key=f"route-{index}",
        title=f"{name}{_WAYS.get(way, f', {way}')}",
        reading=_READING_ALONE if not both else _READING if index == 0 else _READING_AGAIN,
        alt=_route_alt(thin, driven, display),
        table=_route_table(thin, display),
        panels=tuple(panels),
    )


def _undriven(frame: pl.DataFrame, side: str) -> bool:
    column = f"{side}_speed_mps"
    return column not in frame.columns or frame[column].null_count() == frame.height


def _speed(display: Display) -> float:
    return 3.6 * display.speed(1.0)


def _thinned(frame: pl.DataFrame) -> pl.DataFrame:
    """At most `_POINTS` rows: heights averaged, the slowest speed and lowest gear kept."""
    frame = frame.sort("distance_m")
    group = pl.int_range(pl.len()) * _POINTS // pl.max_horizontal(pl.len(), pl.lit(_POINTS))
    rules = []
    for column in frame.columns:
        if column in ("route", "direction"):
            continue
        if re.search(r"speed|gear", column):
            rules.append(pl.col(column).min())
        elif frame.schema[column].is_numeric():
            rules.append(pl.col(column).mean())
    return frame.group_by(group.alias("_group"), maintain_order=True).agg(rules).drop("_group")


def _x(display: Display, *, last: bool = True) -> alt.X:
    axis = across(f"Distance [{display.distance_unit}]") if last else across(None, labels=False)
    return alt.X("distance:Q", axis=axis, scale=alt.Scale(nice=False))


def _altitude_panel(frame: pl.DataFrame, display: Display) -> Spec | None:
    if "altitude_m" not in frame.columns:
        return None
    shown = frame.select(
        distance=pl.col("distance_m") / 1000 * display.distance(1.0),
        height=pl.col("altitude_m") * display.height(1.0),
        floor=pl.col("altitude_m").min() * display.height(1.0),
    )
    y = alt.Y("height:Q", axis=alt.Axis(title=None, tickCount=3), scale=alt.Scale(zero=False))
    area = (
        alt.Chart(data(shown))
        .mark_area(color="var(--hill)", line={"color": "var(--muted)", "strokeWidth": 1.5})
        .encode(
            x=_x(display, last=False),
            y=y,
            y2=alt.Y2("floor:Q"),
            tooltip=[
                alt.Tooltip("distance:Q", title=f"At [{display.distance_unit}]", format=".1f"),
                alt.Tooltip("height:Q", title=f"Height [{display.height_unit}]", format=",.0f"),
            ],
        )
    )
    return finish(area, f"Height [{display.height_unit}]", 90)


def _side_panel(
    frame: pl.DataFrame,
    display: Display,
    column: str,
    title: str,
    factor: float,
) -> Spec | None:
    parts = [
        frame.select(
            tires=pl.lit(tires),
            distance=pl.col("distance_m") / 1000 * display.distance(1.0),
            value=pl.col(f"{side}_{column}") * factor,
        ).drop_nulls()
        for side, tires in reversed(SIDES.items())  # the dashed line lies on top
        if f"{side}_{column}" in frame.columns
    ]
    shown = pl.concat(parts) if parts else pl.DataFrame()
    if shown.is_empty():
        return None
    step = column == "gear"
    axis = alt.Axis(title=None, tickCount=4)
    if step:
        gears = sorted({round(gear) for gear in shown["value"]})
        axis = alt.Axis(title=None, values=list(range(gears[0], gears[-1] + 1)), format="d")
    lines = (
        alt.Chart(data(shown))
        .mark_line(strokeWidth=2, interpolate="step-after" if step else "linear")
        .encode(
            x=_x(display, last=column == "load"),
            y=alt.Y("value:Q", axis=axis, scale=alt.Scale(zero=False)),
            color=colour(),
            strokeDash=dash(),
            tooltip=[
                alt.Tooltip("tires:N", title="Tires"),
                alt.Tooltip("distance:Q", title=f"At [{display.distance_unit}]", format=".1f"),
                alt.Tooltip("value:Q", title=title, format=".1f"),
            ],
        )
    )
    return finish(lines, title, 96 if column != "load" else 118)


def _route_alt(frame: pl.DataFrame, driven: Tree, display: Display) -> str:
    """The slowest point as the answer tells it: setting off and halting are not meant."""
    parts = []
    if "altitude_m" in frame.columns:
        low, high = frame["altitude_m"].min(), frame["altitude_m"].max()
        parts.append(
            f"the road lies between {digits(display.height(float(low)), 0)} and "  # type: ignore[arg-type]
            f"{digits(display.height(float(high)), 0)} {display.height_unit}"  # type: ignore[arg-type]
        )
    for side, tires in SIDES.items():
        slowest = number(dig(driven, side, "lowest_speed_kmh"))
        if slowest is None:
            continue
        gear = number(dig(driven, side, "gear_at_lowest"))
        shown = f"slowest {digits(display.speed(slowest), 0)} {display.speed_unit}"
        shown += "" if gear is None else f" in gear {digits(gear, 0)}"
        parts.append(f"{shown} on the {tires}")
    return f"Line charts along the route: {'; '.join(parts)}."


_TABLE_ROWS = 24


def _route_table(frame: pl.DataFrame, display: Display) -> Table:
    few = frame.gather_every(max(1, frame.height // _TABLE_ROWS))
    columns = [
        (f"Speed, {tires.split()[0]} [{display.speed_unit}]", f"{side}_speed_mps", _speed(display))
        for side, tires in SIDES.items()
    ]
    columns += [(f"Gear, {tires.split()[0]}", f"{side}_gear", 1.0) for side, tires in SIDES.items()]
    columns += [
        (f"Load, {tires.split()[0]} [%]", f"{side}_load", 100.0) for side, tires in SIDES.items()
    ]
    columns = [column for column in columns if column[1] in frame.columns]
    cells = []
    for row in few.to_dicts():
        values = [row[name] for _, name, _ in columns]
        cells.append(
            (
                digits(display.distance(row["distance_m"] / 1000), 1),
                *(
                    minus(value * factor, 0) if value is not None else "-"
                    for value, (_, _, factor) in zip(values, columns, strict=True)
                ),
            )
        )
    return table(
        "Along the route, in coarse steps",
        (f"Distance [{display.distance_unit}]", *(title for title, _, _ in columns)),
        cells,
        words=0,
    )
