"""Charts of what the logs covered: distance by day, and how warm it was."""

from __future__ import annotations

import altair as alt
import polars as pl

from gearing.report.chart import (
    SIDES,
    Chart,
    across,
    calendar,
    colour,
    dash,
    data,
    finish,
    marker,
)
from gearing.report.display import Display, digits
from gearing.report.tables import table

_DAYS = 200


def _by_period(trips: pl.DataFrame | None, column: str) -> pl.DataFrame:
    if trips is None or not {"side", "local_day", column} <= set(trips.columns):
        return pl.DataFrame()
    return trips.filter(
        pl.col("side").cast(pl.String).is_in(list(SIDES)) & pl.col(column).is_not_null()
    ).with_columns(tires=pl.col("side").cast(pl.String).replace(SIDES))


def cover_chart(trips: pl.DataFrame | None, display: Display) -> Chart | None:
    """True distance by day, or by month where there are very many days."""
    known = _by_period(trips, "true_m")
    if known.is_empty():
        return None
    step = "1d" if known["local_day"].n_unique() <= _DAYS else "1mo"
    days = (
        known.group_by("tires", day=pl.col("local_day").dt.truncate(step))
        .agg(distance=pl.col("true_m").sum() / 1000 * display.distance(1.0))
        .sort("day", "tires")
    )
    span = "day" if step == "1d" else "month"
    bars = (
        alt.Chart(data(days))
        .mark_rule(strokeWidth=4)
        .encode(
            x=alt.X("day:T", axis=calendar(), scale=alt.Scale(type="utc")),
            y=alt.Y("distance:Q", axis=alt.Axis(title=None, tickCount=4)),
            y2=alt.datum(0),
            color=colour(),
            tooltip=[
                alt.Tooltip("tires:N", title="Tires"),
                alt.Tooltip("day:N", title=span.capitalize()),
                alt.Tooltip(
                    "distance:Q", title=f"True distance [{display.distance_unit}]", format=".0f"
                ),
            ],
        )
    )
    dots = (
        alt.Chart(data(days))
        .mark_point(filled=True, size=50)
        .encode(
            x=alt.X("day:T", scale=alt.Scale(type="utc")),
            y=alt.Y("distance:Q"),
            color=colour(),
            shape=marker(),
        )
    )
    return Chart(
        key="cover",
        title="What was driven, and when",
        reading=f"Each bar is one {span}'s true distance. Gaps are days without logs.",
        alt=f"Bar chart of true distance by {span}, {days.height} bars.",
        table=table(
            f"True distance by {span}",
            (span.capitalize(), "Tires", f"True distance [{display.distance_unit}]"),
            [(str(r["day"]), r["tires"], digits(r["distance"], 0)) for r in days.to_dicts()],
            words=2,
        ),
        panels=(finish(alt.layer(bars, dots), f"True distance [{display.distance_unit}]", 180),),
    )


def temperature_chart(trips: pl.DataFrame | None, display: Display) -> Chart | None:
    """How the two periods overlap in outside temperature, by distance driven."""
    known = _by_period(trips, "ambient_temperature_c")
    if known.is_empty() or "true_m" not in known.columns:
        return None
    width = 10.0 if display.us else 5.0
    celsius = pl.col("ambient_temperature_c")
    temperature = celsius * 1.8 + 32 if display.us else celsius
    bins = (
        known.group_by("tires", low=(temperature / width).floor() * width)
        .agg(distance=pl.col("true_m").sum() / 1000 * display.distance(1.0))
        .with_columns(high=pl.col("low") + width, middle=pl.col("low") + width / 2)
        .sort("low", "tires")
    )
    unit = display.temperature_unit
    lines = (
        alt.Chart(data(bins))
        .mark_line(interpolate="step", strokeWidth=2)
        .encode(x=alt.X("middle:Q"), y=alt.Y("distance:Q"), color=colour(), strokeDash=dash())
    )
    dots = (
        alt.Chart(data(bins))
        .mark_point(filled=True, size=70)
        .encode(
            x=alt.X("middle:Q", axis=across(f"Outside temperature [{unit}]")),
            y=alt.Y("distance:Q", axis=alt.Axis(title=None, tickCount=4)),
            color=colour(),
            shape=marker(),
            tooltip=[
                alt.Tooltip("tires:N", title="Tires"),
                alt.Tooltip("low:Q", title=f"From [{unit}]"),
                alt.Tooltip("high:Q", title=f"To [{unit}]"),
                alt.Tooltip(
                    "distance:Q", title=f"True distance [{display.distance_unit}]", format=".0f"
                ),
            ],
        )
    )
    return Chart(
        key="temperature",
        title="How warm it was",
        reading=(
            "Distance driven at each outside temperature. The more the two lines overlap, the less "
            "the answer hangs on what cold does to tires and air."
        ),
        alt=f"Two step lines over outside temperature; {bins.height} steps in all.",
        table=table(
            "True distance by outside temperature",
            (f"Outside [{unit}]", "Tires", f"True distance [{display.distance_unit}]"),
            [
                (
                    f"{digits(r['low'], 0)} to {digits(r['high'], 0)}",
                    r["tires"],
                    digits(r["distance"], 0),
                )
                for r in bins.to_dicts()
            ],
            words=2,
        ),
        panels=(finish(alt.layer(lines, dots), f"True distance [{display.distance_unit}]", 180),),
    )
