"""The chart of the gearing: each trip's axle ratio against the earlier figure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
from gearing.report import chart as draw
from gearing.report.phrases import said
from gearing.report.tables import Grid
from gearing.statistics.estimate import NORMAL_95

if TYPE_CHECKING:
    from gearing.results.record import Results

_DRAWN_TRIPS = 300
_MISFILED = " A trip that lies with the other tires' marks was filed under the wrong tires."
_CROSS = " A cross is a trip left out, in the color it is filed under."
_UPRIGHT = " A dotted upright line is a day on which something changed."


def ratio_chart(
    results: Results, trips: pl.DataFrame | None, display: Display
) -> draw.Chart | None:
    """How far each trip's ratio lies from the earlier figure; crosses are trips kept out."""
    frame = _trip_ratios(results, trips, display)
    if frame.is_empty():
        return None
    effective = results.final_drive.effective
    declared = effective.before.known or effective.after.known
    # without a declared axle ratio, turns for a distance
    name = "Effective axle ratio" if declared else "Turns per meter, highest gear"
    several, changed = frame["side"].n_unique() > 1, display.role == "changed"
    off = f"{name}, off the earlier figure [%]"
    return draw.Chart(
        key="ratio",
        title=f"{name}, trip by trip",
        reading=(
            "Each mark is one trip, its bar, where longer than the mark, the 95 % interval; the "
            f"long lines are the figures used.{_MISFILED if several and changed else ''}"
            f"{_CROSS if (frame['left_out'] != 'no').any() else ''}"
            f"{_UPRIGHT if results.speed.change_points else ''}"
        ),
        alt=_ratio_alt(results, frame, display),
        table=Grid(frame.to_dicts())
        .words("Trip", lambda row: row["trip"])
        .words("Filed under", lambda row: row["tires"])
        .words("Day", lambda row: row["day"])
        .words("Left out", lambda row: row["left_out"])
        .figure(name, lambda row: row["ratio"], 3)
        .figure("Off the earlier figure [%]", lambda row: row["off"], 2, sign=True)
        .table(f"{name} by trip"),
        panels=(draw.panel(_layers(results, frame, name), off, 240),),
        sides=draw.sides_of(frame),
    )


def _layers(results: Results, frame: pl.DataFrame, name: str) -> list[draw.Spec]:
    x, y, color = draw.calendar(), draw.up("off:Q", zero=False), draw.colour()
    answer = draw.tips(
        ("trip:N", "Trip"),
        ("tires:N", "Filed under"),
        draw.day_tip(),
        ("off:Q", "Off the earlier figure [%]", "+.2f"),
        ("ratio:Q", name, ".3f"),
        ("left_out:N", "Left out"),
    )
    kept, out = (frame.filter((pl.col("left_out") == "no") == used) for used in (True, False))
    layers = _pooled_lines(results)
    if not kept.is_empty():
        ends = {"y": alt.Y("low:Q"), "y2": alt.Y2("high:Q")}
        bar = {"strokeWidth": 1.5, "opacity": 0.7}
        layers.append(draw.mark("rule", kept, bar, x=x, color=color, **ends))
    upright = {"strokeDash": [2, 3], "strokeWidth": 2, "color": "var(--ink)"}
    for day, told in _change_points(results).items():
        change = {"x": alt.X("day:T"), "tooltip": draw.tips(("text:N", "Change"))}
        layers.append(draw.mark("rule", [{"day": day, "text": told}], upright, **change))
    seen = alt.SizeValue(0, condition={"test": "datum.left_out == 'no'", "value": 60})
    layers.append(draw.dots(frame, x, y, answer, size=seen))
    if not out.is_empty():  # over the marks of the tires it was driven on
        cross = {"shape": "cross", "angle": 45, "size": 260, "filled": True, "opacity": 1}
        layers.append(draw.mark("point", out, cross, x=x, y=y, color=color))
    return layers


def _earlier(results: Results) -> float | None:
    """What the deviations are from: the earliest figure there is."""
    found = (results.final_drive.effective.of(side).value for side in draw.SIDES)
    return next((value for value in found if value), None)


def _trip_ratios(results: Results, trips: pl.DataFrame | None, display: Display) -> pl.DataFrame:
    if trips is None:
        return pl.DataFrame()
    known = trips.filter(
        pl.col("final_drive").is_not_null() & pl.col("side").is_in(draw.SIDES)
    ).sort("local_day")
    if known.height > _DRAWN_TRIPS:
        known = _by_month(known)
    used = pl.col("used").fill_null(False) & pl.col("final_drive_used").fill_null(False)
    flags = pl.col("flags").cast(pl.List(pl.String)).list.join(", ")
    middle = _earlier(results) or float(known["final_drive"].median() or 1.0)  # type: ignore[arg-type]

    def off(ratio: pl.Expr) -> pl.Expr:
        """A ratio as percent off the earlier figure."""
        return 100 * (ratio / middle - 1)

    reach = NORMAL_95 * pl.col("final_drive_se").cast(pl.Float64)
    side = pl.col("side").cast(pl.String)
    return known.select(
        "trip",
        side=side,
        tires=side.replace({one: display.tires(one) for one in draw.SIDES}),
        day=pl.col("local_day").cast(pl.String),
        ratio="final_drive",
        off=off(pl.col("final_drive")),
        low=off(pl.col("final_drive") - reach),
        high=off(pl.col("final_drive") + reach),
        left_out=pl.when(used)
        .then(pl.lit("no"))
        .otherwise(pl.when(flags == "").then(pl.lit("yes")).otherwise(flags)),
    )


def _by_month(trips: pl.DataFrame) -> pl.DataFrame:
    """Trips put together by month and side: a mark a trip would be too many to draw."""
    used = pl.col("used") & pl.col("final_drive_used")
    day = pl.col("local_day").dt.truncate("1mo")
    months = trips.filter(used).group_by("side", local_day=day, maintain_order=True)
    marks = months.agg(
        pl.lit(True).first().alias("used"),
        pl.lit(True).first().alias("final_drive_used"),
        trip=pl.format("{} trips", pl.len()),
        final_drive=pl.col("final_drive").median(),
        final_drive_se=pl.col("final_drive").std() / pl.len().sqrt(),
    )
    return pl.concat([marks, trips.filter(~used).head(_DRAWN_TRIPS)], how="diagonal_relaxed")


def _pooled_lines(results: Results) -> list[draw.Spec]:
    middle = _earlier(results)
    return [
        draw.line_at(
            100 * (value / middle - 1),
            across=True,
            strokeWidth=1.5,
            color=draw.LOOKS[side][0],
            strokeDash=draw.LOOKS[side][1],
        )
        for side in draw.SIDES
        if (value := results.final_drive.effective.of(side).value) is not None and middle
    ]


def _change_points(results: Results) -> dict[str, str]:
    """Days on which something changed, and what changed first on each."""
    found = reversed(results.speed.change_points)
    return {one.at.date().isoformat(): said(one.text) for one in found}


def _ratio_alt(results: Results, frame: pl.DataFrame, display: Display) -> str:
    parts = []
    for side in draw.SIDES:
        count = frame.filter(pl.col("side") == side).height
        value = results.final_drive.effective.of(side).value
        if count:
            around = f" around {digits(value, 2)}" if value is not None else ""
            parts.append(f"{count} marks for the {display.tires(side)}{around}")
    out = frame.filter(pl.col("left_out") != "no").height
    return f"Dot chart in time: {'; '.join(parts)}; {out} left out."
