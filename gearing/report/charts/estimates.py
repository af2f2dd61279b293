"""The chart and the table of the fuel change as each way of working it out gives it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import altair as alt
import polars as pl

from gearing.messages.display import Display, signed
from gearing.report import chart as draw
from gearing.report.phrases import interval_or_value
from gearing.report.tables import Grid, Table
from gearing.report.views.fuel import claimed_percent, decisive

if TYPE_CHECKING:
    from gearing.results.record import Results
    from gearing.statistics.estimate import Estimate

# key of an estimate: what it is called, and what it is
WAYS = {
    "indicated": ("Dash alone", "per indicated distance: what the dash says"),
    "true_distance": (
        "True distance",
        "per true distance, as driven, nothing else corrected",
    ),
    "fillups": (
        "Fill-ups",
        "from the fill-up log alone, odometer corrected and season taken out",
    ),
    "matched": ("Same roads", "on the same roads in the same direction"),
    "adjusted": ("Like for like", "at the same road work, speed, weather and declared load"),
}

_READING = (
    "Each bar is a 95 % interval, its square the best estimate. A bar across the zero line leaves "
    "open whether anything changed. "
)
_DECIDES = {
    "adjusted": "The lowest and thickest one decides: it has corrected distance, road, speed, "
    "weather and load.",
    "matched": "The lowest and thickest one decides: it has corrected distance and road, but not "
    "speed, weather or load.",
    "fillups": "The fill-ups decide: nothing better is known here.",
    "": "None of them decides: none has corrected road, speed, weather and load.",
}


def changes(results: Results) -> dict[str, Estimate]:
    """Every estimate of the change of consumption [%], by its key, in the order of `WAYS`."""
    return {key: getattr(results.fuel.change_percent, key) for key in WAYS}


def estimates_chart(results: Results, display: Display) -> draw.Chart | None:
    """Every way of working out the fuel change, with its interval, against the claim."""
    basis, found = decisive(results)
    deciding = basis if found.known else ""
    rows = [
        {"way": WAYS[key][0], "meaning": WAYS[key][1], "decides": key == deciding}
        | interval_or_value(display.fuel_change(shown))
        for key, shown in changes(results).items()
        if shown.known
    ]
    if not rows:
        return None
    frame = pl.DataFrame(rows)
    claim = claimed_percent(results)
    dotted = "" if claim is None else " The dotted line is the claim."
    told = [
        f"{way} {signed(value)} %, from {signed(low)} to {signed(high)} %"
        for way, value, low, high in frame.select("way", "value", "low", "high").iter_rows()
    ]
    return draw.Chart(
        key="estimates",
        title="The fuel change, worked out in every way there is",
        reading=_READING + _DECIDES[deciding] + dotted,
        alt=f"Interval chart: {'; '.join(told)}.",
        table=estimates_table(results, display),
        panels=(draw.panel(_layers(frame, claim, display), "", 44 * len(rows) + 20),),
    )


def _layers(frame: pl.DataFrame, claim: float | None, display: Display) -> list[draw.Spec]:
    better = "right is better" if display.us else "left is better"
    # short enough for a phone: the figures' table has the whole name
    title = f"Change of {display.fuel_word.removeprefix('fuel ')} [%], {better}"
    width = alt.StrokeWidthValue(2, condition={"test": "datum.decides", "value": 3.5})
    answer = draw.tips(
        ("way:N", "Figure"),
        ("meaning:N", "That is"),
        ("value:Q", "Change [%]", "+.1f"),
        ("low:Q", "From", "+.1f"),
        ("high:Q", "To", "+.1f"),
    )
    drawn = draw.intervals(
        frame,
        # a phone's plot is narrower than the words under it: they end where it ends
        draw.across(title, titleAnchor="end"),
        draw.names("way:N", width=120, sort=[name for name, _ in WAYS.values()]),
        answer,
        bar={"color": "var(--after)"},
        dot={"filled": True, "shape": "square", "size": 90, "color": "var(--after)"},
        strokeWidth=width,
    )
    ends = [*frame["low"], *frame["high"]]
    claimed = _claim(claim, (min(ends) + max(ends)) / 2, display)
    return [draw.line_at(0.0), *claimed, *drawn]


def _claim(claim: float | None, middle: float, display: Display) -> list[draw.Spec]:
    """The claim as a dotted line; its name stands on the side where the picture goes on."""
    if claim is None:
        return []
    at = display.fuel_change_percent(claim)
    x, row = alt.X("at:Q"), [{"at": at, "text": f"claim {signed(at)} %"}]
    look = {"dy": -6, "baseline": "bottom", "align": "right" if at > middle else "left"}
    name = draw.mark("text", row, look, x=x, y=alt.YValue(0), text=alt.Text("text:N"))  # type: ignore[no-untyped-call]
    return [draw.mark("rule", row, draw.CLAIM, x=x), name]


def estimates_table(results: Results, display: Display) -> Table:
    """Every estimate of the change, what it rests on and what it is."""

    def count(row: tuple[str, Estimate]) -> str | None:
        """The days or tanks behind an estimate."""
        unit = "tanks" if row[0] == "fillups" else "days"
        return None if row[1].n is None else f"{row[1].n} {unit}"

    return (
        Grid(changes(results).items())
        .words("Figure", lambda row: WAYS[row[0]][0])
        .spread("Change [%] (95 % interval)", lambda row: display.fuel_change(row[1]), 1, sign=True)
        .words("From", count)
        .words("What it is", lambda row: WAYS[row[0]][1])
        .table(f"Change of {display.fuel_word}, {display.word('new tires against old')}")
    )
