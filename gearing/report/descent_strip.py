"""The long way down as a strip: height, gear, brake power, and where care is asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
from gearing.report.chart import Chart, Spec, across, colour, dash, data, finish
from gearing.report.descent_table import cares, present_side, ways_down
from gearing.report.reading import SIDES, Tree, number
from gearing.report.tables import Table, table

if TYPE_CHECKING:
    from collections.abc import Sequence

_POINTS = 140
_STRIPS = 4  # those whose descents ask most of the brakes
_READING = (
    "Height on top, shaded where a descent asks for care; then the gear of the middle case, and "
    "the power of the service brakes, the mean of the simulated drives. In half of these the "
    "driver changes down in time, in half the brakes do what the gear of the level leaves."
)
_AGAIN = "Height with the stretches that ask for care, gear, and power of the service brakes."


def descent_strips(
    results: Tree, routes: pl.DataFrame | None, display: Display
) -> tuple[Chart, ...]:
    """One strip for each way of a route that goes down, those with most braking first."""
    if routes is None or "direction" not in routes.columns:
        return ()
    hardest = sorted(ways_down(results), key=lambda way: -_work(way[3]))[:_STRIPS]
    charts: list[Chart] = []
    for name, direction, route, descents in hardest:
        frame = routes.filter((pl.col("route") == route) & (pl.col("direction") == direction))
        chart = _strip(name, frame, descents, display, len(charts))
        if chart is not None:
            charts.append(chart)
    return tuple(charts)


def _work(descents: Sequence[Tree]) -> float:
    return sum(number(present_side(one).get("brake_kwh")) or 0.0 for one in descents)


def _strip(
    name: str, frame: pl.DataFrame, descents: Sequence[Tree], display: Display, index: int
) -> Chart | None:
    if frame.is_empty() or "after_service_brake_w" not in frame.columns:
        return None
    thin = _thinned(frame, display)
    careful = [one for one in descents if cares(one)]
    return Chart(
        key=f"descent-{index}",
        title=f"The way down: {name}",
        reading=_AGAIN if index else _READING,
        alt=_alt(descents, careful, display),
        table=_table(thin, display),
        panels=(
            _height(thin, careful, display),
            _lines(thin, "gear", "Gear", 62, step=True),
            _lines(
                thin, "brake", f"Service brakes [{display.plain(1.0, 'W')[1]}]", 92, last=display
            ),
        ),
    )


def _thinned(frame: pl.DataFrame, display: Display) -> pl.DataFrame:
    """At most `_POINTS` rows in the reader's units, the lowest gear of those put together."""
    group = pl.int_range(pl.len()) * _POINTS // pl.max_horizontal(pl.len(), pl.lit(_POINTS))
    power = display.plain(1000.0, "W")[0] / 1000  # a watt as the reader has power
    return (
        frame.sort("distance_m")
        .group_by(group.alias("_group"), maintain_order=True)
        .agg(
            distance=pl.col("distance_m").mean() / 1000 * display.distance(1.0),
            height=pl.col("altitude_m").mean() * display.height(1.0),
            before_gear=pl.col("before_gear").min(),
            after_gear=pl.col("after_gear").min(),
            before_brake=pl.col("before_service_brake_w").mean() * power,
            after_brake=pl.col("after_service_brake_w").mean() * power,
        )
        .drop("_group")
    )


def _x(title: str | None) -> alt.X:
    axis = across(None, labels=False) if title is None else across(title)
    return alt.X("distance:Q", axis=axis, scale=alt.Scale(nice=False))


def _height(frame: pl.DataFrame, careful: Sequence[Tree], display: Display) -> Spec:
    floor, top = frame["height"].min(), frame["height"].max()
    y = alt.Y("height:Q", axis=alt.Axis(title=None, tickCount=3), scale=alt.Scale(zero=False))
    area = (
        alt.Chart(data(frame.select("distance", "height").with_columns(floor=pl.lit(floor))))
        .mark_area(color="var(--hill)", line={"color": "var(--muted)", "strokeWidth": 1.5})
        .encode(x=_x(None), y=y, y2=alt.Y2("floor:Q"))
    )
    layers: list[alt.Chart] = [area]
    if careful:
        ends = [
            [display.distance(number(one.get(key)) or 0.0) for key in ("from_km", "to_km")]
            for one in careful
        ]
        spans = pl.DataFrame(
            {
                "distance": [low for low, _ in ends],
                "to": [high for _, high in ends],
                "height": [floor] * len(ends),
                "top": [top] * len(ends),
            }
        )
        shade = (
            alt.Chart(data(spans))
            .mark_rect(color="var(--raise)", opacity=0.35)
            .encode(x=_x(None), x2="to:Q", y=y, y2="top:Q")
        )
        layers.append(shade)
    return finish(alt.layer(*layers), f"Height [{display.height_unit}]", 72)


def _lines(
    frame: pl.DataFrame, what: str, title: str, height: int, *, step: bool = False,
    last: Display | None = None,
) -> Spec:  # fmt: skip
    parts = [
        frame.select("distance", side=pl.lit(side), value=pl.col(f"{side}_{what}")).drop_nulls()
        for side in reversed(SIDES)
    ]
    shown = pl.concat([one.with_columns(pl.col("value").cast(pl.Float64)) for one in parts])
    axis = alt.Axis(title=None, tickCount=3)
    if step:
        low, high = (int(end) for end in (shown["value"].min(), shown["value"].max()))  # type: ignore[arg-type]
        axis = alt.Axis(title=None, values=list(range(low, high + 1)), format="d")
    lines = (
        alt.Chart(data(shown))
        .mark_line(strokeWidth=2, interpolate="step-after" if step else "linear")
        .encode(
            x=_x(None if last is None else f"Distance [{last.distance_unit}]"),
            y=alt.Y("value:Q", axis=axis, scale=alt.Scale(zero=not step)),
            color=colour(),
            strokeDash=dash(),
            tooltip=[
                alt.Tooltip("distance:Q", title="At", format=".1f"),
                alt.Tooltip("value:Q", title=title, format=".0f"),
            ],
        )
    )
    return finish(lines, title, height)


def _alt(descents: Sequence[Tree], careful: Sequence[Tree], display: Display) -> str:
    unit = display.distance_unit

    def places(some: Sequence[Tree]) -> str:
        return "; ".join(
            f"{digits(display.distance(number(one.get('from_km')) or 0.0), 1)} to "
            f"{digits(display.distance(number(one.get('to_km')) or 0.0), 1)} {unit}"
            for one in some
        )

    asked = f"Care is asked for from {places(careful)}." if careful else "None asks for care."
    return f"Height, gear and brake power along the way. Descents from {places(descents)}. {asked}"


def _table(frame: pl.DataFrame, display: Display) -> Table:
    few = frame.gather_every(max(1, frame.height // 24))
    power = display.plain(1.0, "W")[1]
    heads = [f"Distance [{display.distance_unit}]", f"Height [{display.height_unit}]"]
    columns = [("distance", 1), ("height", 0)]
    for side in SIDES:
        tires = display.tires(side)
        heads += [f"Gear, {tires}", f"Brakes, {tires} [{power}]"]
        columns += [(f"{side}_gear", 0), (f"{side}_brake", 0)]
    cells = [
        tuple(
            None if row[key] is None else digits(float(row[key]), places) for key, places in columns
        )
        for row in few.iter_rows(named=True)
    ]
    return table("Along the way, in coarse steps", heads, cells, words=0)
