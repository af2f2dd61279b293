"""Charts of what the logs covered: distance by day, and how warm it was."""

from __future__ import annotations

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
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
        alt=f"Bar chart of true distance by {span}: {_totals(days, span, display)}.",
        table=table(
            f"True distance by {span}",
            (span.capitalize(), "Tires", f"True distance [{display.distance_unit}]"),
            [(str(r["day"]), r["tires"], digits(r["distance"], 0)) for r in days.to_dicts()],
            words=2,
        ),
        panels=(finish(alt.layer(bars, dots), f"True distance [{display.distance_unit}]", 180),),
    )


def _totals(days: pl.DataFrame, span: str, display: Display) -> str:
    """For those who cannot see the bars: each set of tires' total, and from when to when."""
    told = []
    for tires, part in _parted(days):
        total = f"{digits(float(part['distance'].sum()), 0)} {display.distance_unit}"
        spans = f"{part.height} {span}{'' if part.height == 1 else 's'}"
        first, last = part.row(0, named=True)["day"], part.row(-1, named=True)["day"]
        told.append(f"{tires} {total} in {spans}, {first} to {last}")
    return "; ".join(told)


_OVERLAP = (
    " The more the two lines overlap, the less the answer hangs on what cold does to tires and air."
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
            "Distance driven at each outside temperature."
            + (_OVERLAP if bins["tires"].n_unique() > 1 else "")
        ),
        alt=f"Step lines over outside temperature: {_spans(bins, unit)}.",
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


def _spans(bins: pl.DataFrame, unit: str) -> str:
    """For those who cannot see the lines: from where to where each goes, and where most lies."""
    told = []
    for tires, part in _parted(bins):
        low, high = part.row(0, named=True), part.row(-1, named=True)
        most = part.sort("distance").row(-1, named=True)
        ends = [digits(at, 0) for at in (low["low"], high["high"], most["low"], most["high"])]
        told.append(f"{tires} from {ends[0]} to {ends[1]}, most at {ends[2]} to {ends[3]} {unit}")
    return "; ".join(told)


def _parted(frame: pl.DataFrame) -> list[tuple[str, pl.DataFrame]]:
    """The rows of each set of tires, in their order."""
    found = ((tires, frame.filter(pl.col("tires") == tires)) for tires in SIDES.values())
    return [(tires, part) for tires, part in found if not part.is_empty()]
