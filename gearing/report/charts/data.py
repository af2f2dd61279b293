"""Charts of what the logs covered: distance by day, and how warm it was."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
from gearing.report import chart as draw
from gearing.report.phrases import counted
from gearing.report.tables import Grid

_DAYS = 200
_OVERLAP = (
    " The more the two lines overlap, the less the answer hangs on what cold does to tires and air."
)


def by_tires(trips: pl.DataFrame) -> pl.DataFrame:
    """The trips with `side` that of the tires they were driven on, wherever they are filed."""
    side = pl.col("side").cast(pl.String)
    if "flags" not in trips.columns:
        return trips.with_columns(side=side)
    wrong = pl.col("flags").cast(pl.List(pl.String)).list.contains("misfiled")
    other = side.replace({"before": "after", "after": "before"})
    return trips.with_columns(side=pl.when(wrong).then(other).otherwise(side))


def _by_period(trips: pl.DataFrame | None, column: str, display: Display) -> pl.DataFrame:
    """Trips of either period where `column` is known, with `tires` and `distance`."""
    if trips is None:
        return pl.DataFrame()
    side = pl.col("side")
    known = side.is_in(draw.SIDES) & pl.col(column).is_not_null()
    return (
        by_tires(trips)
        .filter(known)
        .with_columns(
            tires=side.replace({one: display.tires(one) for one in draw.SIDES}),
            distance=pl.col("true_m") / 1000 * display.distance(1.0),
        )
    )


def cover_chart(trips: pl.DataFrame | None, display: Display) -> draw.Chart | None:
    """True distance by day, or by month where there are very many days."""
    known = _by_period(trips, "true_m", display)
    if known.is_empty():
        return None
    step, span = ("1d", "day") if known["local_day"].n_unique() <= _DAYS else ("1mo", "month")
    days = (
        known.group_by("side", "tires", day=pl.col("local_day").dt.truncate(step))
        .agg(pl.col("distance").sum())
        .sort("day", "side")
    )
    unit = display.distance_unit
    x, y, color = draw.calendar(), draw.up("distance:Q", tickCount=4), draw.colour()
    answer = draw.tips(
        ("tires:N", display.word("Tires")), draw.day_tip(), ("distance:Q", f"True [{unit}]", ".0f")
    )
    bars = {"x": x, "y": y, "y2": alt.Y2Datum(0), "color": color}
    layers = [
        draw.mark("rule", days, {"strokeWidth": 4}, **bars),
        draw.dots(days, x, y, answer, ("x",), size=alt.SizeValue(50), **_FILLED),
    ]
    return draw.Chart(
        key="cover",
        title="What was driven, and when",
        reading=f"Each bar is one {span}'s true distance. Gaps are days without logs.",
        alt=f"Bar chart of true distance by {span}: {_totals(days, span, display)}.",
        table=Grid(days.to_dicts())
        .words(span.capitalize(), lambda row: str(row["day"]))
        .words(display.word("Tires"), lambda row: row["tires"])
        .figure(f"True distance [{unit}]", lambda row: row["distance"])
        .table(f"True distance by {span}"),
        panels=(draw.panel(layers, f"True distance [{unit}]", 170),),
        sides=draw.sides_of(days),
    )


_FILLED: dict[str, Any] = {"filled": True, "fill": alt.Undefined, "strokeWidth": alt.Undefined}


def _totals(days: pl.DataFrame, span: str, display: Display) -> str:
    """For those who cannot see the bars: each set of tires' total, and from when to when."""
    told = []
    for tires, part in _parted(days):
        total = f"{digits(float(part['distance'].sum()), 0)} {display.distance_unit}"
        first, last = part["day"][0], part["day"][-1]
        told.append(f"{tires} {total} in {counted(part.height, span)}, {first} to {last}")
    return "; ".join(told)


def temperature_chart(trips: pl.DataFrame | None, display: Display) -> draw.Chart | None:
    """How the two periods overlap in outside temperature, by distance driven."""
    known = _by_period(trips, "ambient_temperature_c", display)
    if known.is_empty():
        return None
    width = 10.0 if display.us else 5.0
    celsius = pl.col("ambient_temperature_c")
    temperature = celsius * 1.8 + 32 if display.us else celsius
    bins = (
        known.group_by("side", "tires", low=(temperature / width).floor() * width)
        .agg(pl.col("distance").sum())
        .with_columns(high=pl.col("low") + width, middle=pl.col("low") + width / 2)
        .sort("low", "side")
    )
    unit, far = display.temperature_unit, display.distance_unit
    x = alt.X("middle:Q", axis=draw.across(f"Outside temperature [{unit}]"))
    y, color = draw.up("distance:Q", tickCount=4), draw.colour()
    answer = draw.tips(
        ("tires:N", display.word("Tires")),
        ("low:Q", f"From [{unit}]"),
        ("high:Q", f"To [{unit}]"),
        ("distance:Q", f"True [{far}]", ".0f"),
    )
    steps, by = {"interpolate": "step", "strokeWidth": 2}, {"color": color, "x": x, "y": y}
    layers = [
        draw.mark("line", bins, steps, **by, strokeDash=draw.dash()),
        draw.dots(bins, x, y, answer, size=alt.SizeValue(70), **_FILLED),
    ]
    overlap = _OVERLAP if bins["side"].n_unique() > 1 else ""
    return draw.Chart(
        key="temperature",
        title="How warm it was",
        reading=f"Distance driven at each outside temperature.{overlap}",
        alt=f"Step lines over outside temperature: {_spans(bins, unit)}.",
        table=Grid(bins.to_dicts())
        .words(f"Outside [{unit}]", lambda r: f"{digits(r['low'], 0)} to {digits(r['high'], 0)}")
        .words(display.word("Tires"), lambda row: row["tires"])
        .figure(f"True distance [{far}]", lambda row: row["distance"])
        .table("True distance by outside temperature"),
        panels=(draw.panel(layers, f"True distance [{far}]", 170),),
        sides=draw.sides_of(bins),
    )


def _spans(bins: pl.DataFrame, unit: str) -> str:
    """For those who cannot see the lines: from where to where each goes, and where most lies."""
    told = []
    for tires, part in _parted(bins):
        most = part.sort("distance").row(-1, named=True)
        ends = (part["low"][0], part["high"][-1], most["low"], most["high"])
        low, high, first, last = (digits(at, 0) for at in ends)
        told.append(f"{tires} from {low} to {high}, most at {first} to {last} {unit}")
    return "; ".join(told)


def _parted(frame: pl.DataFrame) -> list[tuple[str, pl.DataFrame]]:
    """The rows of each set of tires, in their order."""
    ordered = frame.sort("side", descending=True, maintain_order=True)
    return [(str(t), part) for (t,), part in ordered.group_by("tires", maintain_order=True)]
