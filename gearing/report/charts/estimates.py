"""The chart and the table of the fuel change as each way of working it out gives it."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, signed
from gearing.report import chart as draw
from gearing.report.phrases import with_interval
from gearing.report.reading import Tree, estimate
from gearing.report.tables import Table, table
from gearing.report.views.fuel import claimed_percent, decisive

ESTIMATES = {
    "indicated": "Dash alone",
    "true_distance": "True distance",
    "fillups": "Fill-ups",
    "matched": "Same roads",
    "adjusted": "Like for like",
}
MEANINGS = {
    "indicated": "per indicated distance: what the dash says",
    "true_distance": "per true distance, as driven, nothing else corrected",
    "fillups": "from the fill-up log alone, odometer corrected and season taken out",
    "matched": "on the same roads in the same direction",
    "adjusted": "at the same road work, speed, weather and declared load",
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


def _deciding(results: Tree) -> str:
    """The key of the figure the verdict rests on, or nothing where there is none."""
    basis, shown = decisive(dict(results))
    return basis if shown.known else ""


def _sense(display: Display) -> str:
    better = "right is better" if display.us else "left is better"
    # short enough for a phone: the figures' table has the whole name
    return f"Change of {display.fuel_word.removeprefix('fuel ')} [%], {better}"


def estimates_chart(results: Tree, display: Display) -> draw.Chart | None:
    """Every way of working out the fuel change, with its interval, against the claim."""
    out: list[dict[str, Any]] = []
    deciding = _deciding(results)
    for key, label in ESTIMATES.items():
        shown = display.fuel_change(estimate(results, "fuel", "change_percent", key))
        if shown.value is not None:
            out.append(
                {
                    "way": label,
                    "meaning": MEANINGS[key],
                    "change": shown.value,
                    "low": shown.low if shown.low is not None else shown.value,
                    "high": shown.high if shown.high is not None else shown.value,
                    "decides": key == deciding,
                }
            )
    if not out:
        return None
    claim = claimed_percent(dict(results))
    return draw.Chart(
        key="estimates",
        title="The fuel change, worked out in every way there is",
        reading=_READING
        + _DECIDES[deciding]
        + (" The dotted line is the claim." if claim is not None else ""),
        alt="Interval chart: "
        + "; ".join(
            f"{row['way']} {signed(row['change'])} %, from {signed(row['low'])} "
            f"to {signed(row['high'])} %"
            for row in out
        )
        + ".",
        table=estimates_table(results, display),
        panels=(draw.finish(_layers(results, out, display), "", 44 * len(out) + 20),),
        sides=False,
    )


def _claim_layers(results: Tree, display: Display, middle: float) -> tuple[alt.Chart, ...]:
    """The claim as a dotted line; its name stands on the side where the picture goes on."""
    claim = claimed_percent(dict(results))
    if claim is None:
        return ()
    at = display.fuel_change_percent(claim)
    base = alt.Chart(draw.data(pl.DataFrame({"at": [at], "text": [f"claim {signed(at)} %"]})))
    return (
        base.mark_rule(strokeDash=[2, 3], strokeWidth=2.5, color="var(--ink)").encode(
            x=alt.X("at:Q")
        ),
        base.mark_text(dy=-6, baseline="bottom", align="right" if at > middle else "left").encode(
            x=alt.X("at:Q"), y=alt.value(0), text=alt.Text("text:N")
        ),
    )


def _layers(results: Tree, out: list[dict[str, Any]], display: Display) -> Any:
    y = draw.names("way:N", width=120, sort=list(ESTIMATES.values()))
    # a phone's plot is narrower than the words under it: they end where it ends
    axis = draw.across(_sense(display), titleAnchor="end")
    base = alt.Chart(draw.data(pl.DataFrame(out)))
    weight = alt.condition("datum.decides", alt.value(3.5), alt.value(2))
    bars = base.mark_rule(color="var(--after)").encode(
        x=alt.X("low:Q", axis=axis), x2=alt.X2("high:Q"), y=y, strokeWidth=weight
    )
    dots = (
        base.mark_point(filled=True, shape="square", size=90, opacity=1, color="var(--after)")
        .encode(
            x=alt.X("change:Q", axis=axis),
            y=y,
            tooltip=draw.tips(
                ("way:N", "Figure"),
                ("meaning:N", "That is"),
                ("change:Q", "Change [%]", "+.1f"),
                ("low:Q", "From", "+.1f"),
                ("high:Q", "To", "+.1f"),
            ),
        )
        .add_params(draw.nearest("y"))
    )
    ends = [row[end] for row in out for end in ("low", "high")]
    claim_layers = _claim_layers(results, display, (min(ends) + max(ends)) / 2)
    return alt.layer(draw.line_at(0.0), *claim_layers, bars, dots)


def estimates_table(results: Tree, display: Display) -> Table:
    cells = []
    for key, label in ESTIMATES.items():
        shown = display.fuel_change(estimate(results, "fuel", "change_percent", key))
        unit = "tanks" if key == "fillups" else "days"
        count = f"{shown.n} {unit}" if shown.n is not None else "-"
        cells.append((label, with_interval(shown, 1, sign=True), count, MEANINGS[key]))
    return table(
        f"Change of {display.fuel_word}, {display.word('new tires against old')}",
        ("Figure", "Change [%] (95 % interval)", "From", "What it is"),
        cells,
        figures=(1,),
    )
