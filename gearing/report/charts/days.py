"""The chart of fuel day by day, at the same road work, speed, weather and load."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, signed
from gearing.report import chart as draw
from gearing.report.reading import SIDES, Tree
from gearing.report.tables import table
from gearing.report.views.fuel import claimed_percent, decisive

_DRAWN = 400


def days_chart(results: Tree, days: pl.DataFrame | None, display: Display) -> draw.Chart | None:
    """A mark a day against the mean of the earlier period; the long lines are both means."""
    basis, answer = decisive(dict(results))
    column = f"{basis}_percent"
    if days is None or not {"side", "local_day", column} <= set(days.columns):
        return None
    marks = _marks(days.drop_nulls(column).sort("local_day"), column, display)
    if not marks:
        return None
    frame = pl.DataFrame(marks)
    levels = {"before": 0.0, "after": display.fuel_change(answer).value}
    claim = claimed_percent(dict(results))
    at = None if claim is None else display.fuel_change_percent(claim)
    better = "higher is better" if display.us else "lower is better"
    counts = {side: frame.filter(pl.col("side") == side).height for side in SIDES}
    return draw.Chart(
        key="days",
        title="Fuel by day, like for like",
        reading=(
            f"Each mark is one day at the same road work, speed, weather and load, against the "
            f"mean of the days {display.on('before')}; {better}. The long lines are the means of "
            "the two periods." + (" The dotted line is the claim." if claim is not None else "")
        ),
        alt="Dot chart in time: "
        + "; ".join(
            f"{counts[side]} days {display.on(side)}"
            + (f", mean {signed(level)} %" if level is not None else "")
            for side, level in levels.items()
            if counts[side]
        )
        + ".",
        table=table(
            f"Change of {display.fuel_word} by day [%]",
            ("Day", display.word("Tires"), "Change [%]"),
            [(row["day"], row["tires"], signed(row["change"])) for row in marks],
            words=2,
        ),
        panels=(
            draw.finish(
                _layers(frame, levels, at, display), f"Change of {display.fuel_word} [%]", 240
            ),
        ),
    )


def _marks(known: pl.DataFrame, column: str, display: Display) -> list[dict[str, Any]]:
    """Evenly through the days, as many as can be drawn."""
    few = known.gather_every(known.height // _DRAWN + 1)
    return [
        {
            "side": side,
            "tires": display.tires(side),
            "day": str(day),
            "change": display.fuel_change_percent(percent),
        }
        for side, day, percent in few.select("side", "local_day", column).iter_rows()
        if side in SIDES
    ]


def _layers(
    frame: pl.DataFrame, levels: dict[str, float | None], claim: float | None, display: Display
) -> Any:
    x, y = draw.calendar(), draw.up("change:Q")
    claimed = [] if claim is None else [draw.claim_at(claim, across=True)]
    means = alt.Chart(draw.data(_means(frame, levels))).mark_line(strokeWidth=2.5)
    answer = draw.tips(
        ("tires:N", display.word("Tires")), draw.day_tip(), ("change:Q", "Change [%]", "+.1f")
    )
    return alt.layer(
        draw.line_at(0.0, across=True),
        *claimed,
        means.encode(x=x, y=y, color=draw.colour()),
        draw.dots(frame, x, y, answer),
    )


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
