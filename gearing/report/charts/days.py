"""The chart of fuel day by day, at the same road work, speed, weather and load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from gearing.messages.display import Display, signed
from gearing.report import chart as draw
from gearing.report.tables import Grid
from gearing.report.views.fuel import claimed_percent, decisive

if TYPE_CHECKING:
    from gearing.results.record import Results

_DRAWN = 400


def days_chart(results: Results, days: pl.DataFrame | None, display: Display) -> draw.Chart | None:
    """A mark a day against the mean of the earlier period; the long lines are both means.

    `days` has `side`, `local_day` and the change of consumption [%] by the deciding estimate.
    """
    basis, answer = decisive(results)
    column = f"{basis}_percent"
    if days is None or not {"side", "local_day", column} <= set(days.columns):
        return None
    frame = _marks(days, column, display)
    if frame.is_empty():
        return None
    levels = {"before": 0.0, "after": display.fuel_change(answer).value}
    claim = claimed_percent(results)
    better = "higher is better" if display.us else "lower is better"
    counts = {side: frame.filter(pl.col("side") == side).height for side in draw.SIDES}
    told = [
        f"{counts[side]} days {display.on(side)}"
        + (f", mean {signed(level)} %" if level is not None else "")
        for side, level in levels.items()
        if counts[side]
    ]
    return draw.Chart(
        key="days",
        title="Fuel by day, like for like",
        reading=(
            f"Each mark is one day at the same road work, speed, weather and load, against the "
            f"mean of the days {display.on('before')}; {better}. The long lines are the means of "
            "the two periods." + (" The dotted line is the claim." if claim is not None else "")
        ),
        alt=f"Dot chart in time: {'; '.join(told)}.",
        table=Grid(frame.to_dicts())
        .words("Day", lambda row: row["day"])
        .words(display.word("Tires"), lambda row: row["tires"])
        .figure("Change [%]", lambda row: row["change"], 1, sign=True)
        .table(f"Change of {display.fuel_word} by day [%]"),
        panels=(
            draw.panel(
                _layers(frame, levels, claim, display), f"Change of {display.fuel_word} [%]", 240
            ),
        ),
        sides=draw.sides_of(frame),
    )


def _marks(days: pl.DataFrame, column: str, display: Display) -> pl.DataFrame:
    """Evenly through the days, as many as can be drawn."""
    known = days.drop_nulls(column).sort("local_day")
    few = known.gather_every(known.height // _DRAWN + 1).filter(pl.col("side").is_in(draw.SIDES))
    change = [display.fuel_change_percent(percent) for percent in few[column]]
    return few.select(
        pl.col("side").cast(pl.String),
        tires=pl.col("side").cast(pl.String).replace({s: display.tires(s) for s in draw.SIDES}),
        day=pl.col("local_day").cast(pl.String),
        change=pl.Series(change, dtype=pl.Float64),
    )


def _layers(
    frame: pl.DataFrame, levels: dict[str, float | None], claim: float | None, display: Display
) -> list[draw.Spec]:
    x, y = draw.calendar(), draw.up("change:Q")
    at = None if claim is None else display.fuel_change_percent(claim)
    claimed = [] if at is None else [draw.line_at(at, across=True, **draw.CLAIM)]
    means, look = _means(frame, levels), {"strokeWidth": 2.5}
    answer = draw.tips(
        ("tires:N", display.word("Tires")), draw.day_tip(), ("change:Q", "Change [%]", "+.1f")
    )
    return [
        draw.line_at(0.0, across=True),
        *claimed,
        draw.mark("line", means, look, x=x, y=y, color=draw.colour()),
        draw.dots(frame, x, y, answer),
    ]


def _means(frame: pl.DataFrame, levels: dict[str, float | None]) -> pl.DataFrame:
    """A line over the days of each period, at its mean."""
    spans = frame.group_by("side", maintain_order=True).agg(
        pl.concat_list(pl.col("day").min(), pl.col("day").max()).alias("day")
    )
    return (
        spans.explode("day")
        .with_columns(change=pl.col("side").replace_strict(levels, return_dtype=pl.Float64))
        .drop_nulls()
    )
