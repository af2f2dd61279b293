"""Charts of what the logs covered: distance by day, and how warm it was."""

from __future__ import annotations

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
from gearing.report import chart as draw
from gearing.report.reading import SIDES
from gearing.report.tables import table

_DAYS = 200
_OVERLAP = (
    " The more the two lines overlap, the less the answer hangs on what cold does to tires and air."
)


def _by_period(trips: pl.DataFrame | None, column: str, display: Display) -> pl.DataFrame:
    """Trips of either period where `column` is known, with `tires` and `distance`."""
    if trips is None or not {"side", "local_day", "true_m", column} <= set(trips.columns):
        return pl.DataFrame()
    side = pl.col("side").cast(pl.String)
    return trips.filter(side.is_in(list(SIDES)) & pl.col(column).is_not_null()).with_columns(
        side=side,
        tires=side.replace({one: display.tires(one) for one in SIDES}),
        distance=pl.col("true_m") / 1000 * display.distance(1.0),
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
    base = alt.Chart(draw.data(days))
    bars = base.mark_rule(strokeWidth=4).encode(
        x=draw.calendar(),
        y=draw.up("distance:Q", tickCount=4),
        y2=alt.datum(0),
        color=draw.colour(),
    )
    answer = draw.tips(
        ("tires:N", display.word("Tires")), draw.day_tip(), ("distance:Q", f"True [{unit}]", ".0f")
    )
    dots = (
        base.mark_point(filled=True, size=50, opacity=1)
        .encode(
            x=draw.calendar(),
            y=draw.up("distance:Q", tickCount=4),
            color=draw.colour(),
            shape=draw.marker(),
            tooltip=answer,
        )
        .add_params(draw.nearest("x"))
    )
    return draw.Chart(
        key="cover",
        title="What was driven, and when",
        reading=f"Each bar is one {span}'s true distance. Gaps are days without logs.",
        alt=f"Bar chart of true distance by {span}: {_totals(days, span, display)}.",
        table=table(
            f"True distance by {span}",
            (span.capitalize(), display.word("Tires"), f"True distance [{unit}]"),
            [(str(r["day"]), r["tires"], digits(r["distance"], 0)) for r in days.to_dicts()],
            words=2,
        ),
        panels=(draw.finish(alt.layer(bars, dots), f"True distance [{unit}]", 170),),
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
    base, y = alt.Chart(draw.data(bins)), draw.up("distance:Q", tickCount=4)
    lines = base.mark_line(interpolate="step", strokeWidth=2).encode(
        x=x, y=y, color=draw.colour(), strokeDash=draw.dash()
    )
    answer = draw.tips(
        ("tires:N", display.word("Tires")),
        ("low:Q", f"From [{unit}]"),
        ("high:Q", f"To [{unit}]"),
        ("distance:Q", f"True [{far}]", ".0f"),
    )
    dots = (
        base.mark_point(filled=True, size=70, opacity=1)
        .encode(x=x, y=y, color=draw.colour(), shape=draw.marker(), tooltip=answer)
        .add_params(draw.nearest())
    )
    return draw.Chart(
        key="temperature",
        title="How warm it was",
        reading=(
            "Distance driven at each outside temperature."
            + (_OVERLAP if bins["side"].n_unique() > 1 else "")
        ),
        alt=f"Step lines over outside temperature: {_spans(bins, unit)}.",
        table=table(
            "True distance by outside temperature",
            (f"Outside [{unit}]", display.word("Tires"), f"True distance [{far}]"),
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
        panels=(draw.finish(alt.layer(lines, dots), f"True distance [{far}]", 170),),
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
    ordered = frame.sort("side", descending=True, maintain_order=True)
    return [(str(t), part) for (t,), part in ordered.group_by("tires", maintain_order=True)]
