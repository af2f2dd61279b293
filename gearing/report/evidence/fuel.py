"""The section of the second question: fuel."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits, rough
from gearing.report.charts.days import days_chart
from gearing.report.charts.estimates import ESTIMATES, estimates_chart, estimates_table
from gearing.report.charts.parts import parts_chart
from gearing.report.evidence.physics import physics_table
from gearing.report.phrases import capital, clause, listed, plain, with_interval
from gearing.report.reading import NEWEST_FIRST, SIDES, Tree, branch, dig, estimate, number, text
from gearing.report.section import Section
from gearing.report.tables import Table, table
from gearing.report.views.fuel import claimed_percent, fuel_answer
from gearing.report.views.fuel_next import SETTLED

if TYPE_CHECKING:
    import polars as pl


def fuel_section(results: Tree, frames: dict[str, pl.DataFrame], display: Display) -> Section:
    charts = (
        days_chart(results, frames.get("days"), display),
        estimates_chart(results, display),
        parts_chart(results, display),
    )
    known = [k for k in ESTIMATES if estimate(results, "fuel", "change_percent", k).known]
    tables = (
        *((estimates_table(results, display),) if known else ()),
        _sides_table(results, display),
        _tanks_table(results, display),
        _worth_table(results, display),
        physics_table(results, display),
        _apart_table(results, display),
    )
    return Section(
        key="fuel",
        title="Fuel",
        short="Fuel",
        lead=(
            "The dash divides fuel by a distance it counts wrong, and no two drives are alike. So "
            "the change is worked out step by step: first the distance is corrected, then the "
            "road, then speed, weather and load. No log holds the load: what the study does not "
            "declare of it passes for a change, about half a percent of fuel for each percent of "
            "weight.",
        ),
        charts=tuple(chart for chart in charts if chart is not None),
        tables=tuple(t for t in tables if t.rows),
        remarks=_remarks(results, display),
        missing=_missing(results),
        answer=fuel_answer(dict(results), display),
        folded="Evidence: fuel by day, every way of comparing, what the dash's change is made of",
    )


def _remarks(results: Tree, display: Display) -> tuple[str, ...]:
    out = []
    smallest = number(dig(results, "fuel", "smallest_detectable_percent"))
    if smallest is not None:
        out.append(
            f"The smallest detectable change with what was driven is {digits(smallest, 1)} %."
        )
    more = number(dig(results, "fuel", "more_driving_km"))
    settled = text(dig(results, "fuel", "verdict")) in SETTLED
    if more is not None and more > 0 and not settled:
        goal = "2 %" if claimed_percent(dict(results)) is None else "half the claim"
        out.append(
            f"About {rough(display.distance(more))} more true {display.distance_word} "
            f"{display.on('after')} would bring it down to {goal}."
        )
    expected = display.fuel_change(estimate(results, "fuel", "expected_percent"))
    if expected.known:
        out.append(
            f"{_revolutions(results)} would be expected to change {display.fuel_word} by "
            f"{with_interval(expected, 1, sign=True)} %."
        )
    for keys in (("disagreement",), ("weather_used",), ("plan", "text")):
        said = capital(text(dig(results, "fuel", *keys)))
        if said == "Not used":  # no comparison that wind could touch
            continue
        out.append(said if not said or said.endswith(".") else f"{said}.")
    chance = number(dig(results, "fuel", "chance", "p"))
    if chance is not None:
        out.append(
            "Shuffling days between the two periods at random, in blocks, gives a gap this "
            f"big {digits(1000 * chance, 0)} times in 1,000."
        )
    return tuple(remark for remark in out if remark)


def _revolutions(results: Tree) -> str:
    """What changed in engine revolutions for the same road: by them alone fuel rises or falls."""
    change = estimate(results, "fuel", "expected_percent").value
    if not change:
        return "The same engine revolutions"
    return f"{'Fewer' if change < 0 else 'More'} engine revolutions alone"


def _sides_table(results: Tree, display: Display) -> Table:
    cells = []
    for side in NEWEST_FIRST:
        tires = display.tires(side)
        amount = branch(results, "fuel", "sides", side)
        idle = branch(results, "fuel", "idle", side)
        scale = estimate(results, "fuel", "engine_computer_scale", side)
        if not amount or not number(amount.get("days")):
            continue
        used = number(amount.get("liters_per_100km"))
        warmth, pace = (
            number(amount.get("mean_temperature_c")),
            number(amount.get("mean_speed_kmh")),
        )
        share = number(idle.get("fuel_share_percent"))
        fuel = None if used is None else display.fuel(used)
        cells.append(
            (
                tires,
                plain(number(amount.get("days")), 0),
                plain(_in(display.distance, number(amount.get("true_km"))), 0),
                plain(fuel, 1),
                plain(_in(display.temperature, warmth), 0),
                plain(_in(display.speed, pace), 0),
                "-" if share is None else f"{digits(share, 1)} %",
                with_interval(scale, 3) if scale.known else "not known",
            )
        )
    return table(
        "What was compared",
        (
            display.word("Tires"),
            "Days",
            f"True {display.distance_word}",
            f"{display.fuel_word.capitalize()} [{display.fuel_unit}]",
            f"Outside [{display.temperature_unit}]",
            f"Mean speed [{display.speed_unit}]",
            "Fuel standing still",
            "Fuel bought over fuel counted",
        ),
        cells,
        note=_scale_note(results, {row[0] for row in cells}, display),
    )


def _tanks_table(results: Tree, display: Display) -> Table:
    """What the fill-up log tells, and what its figure rests on."""
    found = branch(results, "fuel", "tanks")
    cells = []
    for side in NEWEST_FIRST:
        count = number(dig(found, "count", side))
        used = number(dig(found, "liters_per_100km", side))
        fuel = None if used is None else display.fuel(used)
        if count and fuel is not None:
            name = f"{display.fuel_word.capitalize()}, {display.tires(side)} [{display.fuel_unit}]"
            cells.append((name, f"{digits(fuel, 1)} over {digits(count, 0)} tanks"))
    for key, name, shown in (
        ("filling_error_l", f"One fill is off full by [{display.volume_unit}]", display.volume),
        ("scatter_percent", "From tank to tank [%]", None),
        ("season_percent", "Taken off for the season [% consumption]", None),
        ("driving_percent", "Taken off for roads and speeds [% consumption]", None),
        ("smallest_detectable_percent", "Smallest change that would show [%]", None),
    ):
        value = number(found.get(key))
        if value is not None:
            value = value if shown is None else shown(value)
            cells.append((name, plain(value, 1)))
    by = text(found.get("distance_by"))
    note = f"The odometer is corrected by {by}." if by else ""
    return table("From tank to tank", ("What", "Figure"), cells, note=note)


def _scale_note(results: Tree, shown: set[str], display: Display) -> str:
    """Why fuel bought over fuel counted is not known, each reason once."""
    reasons: dict[str, list[str]] = {}
    for side in SIDES:
        tires = display.tires(side)
        scale = estimate(results, "fuel", "engine_computer_scale", side)
        if tires in shown and not scale.known:
            reasons.setdefault(clause(scale.why), []).append(tires.lower())
    if not reasons:
        return ""
    told = (f"{reason} ({listed(tires)})" for reason, tires in reasons.items())
    return f"Fuel bought over fuel counted is not known: {'; '.join(told)}."


def _worth_table(results: Tree, display: Display) -> Table:
    worth = branch(results, "fuel", "worth")
    currency = text(worth.get("currency"))
    cells = []
    for key, name, places in (
        ("saving_per_year", f"Saved a year [{currency}]", 0),
        ("years_to_pay", "Years until it has paid", 1),
        ("co2_kg_per_year", f"CO2 saved a year [{'lb' if display.us else 'kg'}]", 0),
    ):
        shown = estimate(worth, key)
        if key == "co2_kg_per_year":
            shown = shown.map(display.weight)
        if shown.known or text(dig(worth, key, "why")):
            told = with_interval(shown, places) if shown.known else f"not known: {shown.why}"
            if key == "years_to_pay" and shown.known and shown.high is None:
                told = f"{told} ({digits(shown.low or 0.0, places)} to never)"
            cells.append((name, told))
    return table("What it is worth", ("What", "Figure (95 % interval)"), cells, words=2)


def _apart_table(results: Tree, display: Display) -> Table:
    found = branch(results, "fuel", "set_apart_km")
    cells = [
        (str(reason).replace("_", " ").replace("-", " "), digits(display.distance(km), 0))
        for reason, value in found.items()
        if (km := number(value)) is not None and km > 0
    ]
    return table(
        "Driving left out of the fuel comparison",
        ("Why", display.distance_word.capitalize()),
        cells,
    )


def _in(convert: Callable[[float], float], value: float | None) -> float | None:
    return None if value is None else convert(value)


def _missing(results: Tree) -> tuple[str, ...]:
    reasons: dict[str, list[str]] = {}
    for key, label in ESTIMATES.items():
        shown = estimate(results, "fuel", "change_percent", key)
        if not shown.known:
            reasons.setdefault(str(shown.why or ""), []).append(label)
    if len(reasons) == 1 and len(ESTIMATES) == len(next(iter(reasons.values()))):
        return (f"No fuel figure could be worked out: {next(iter(reasons))}.",)
    return tuple(f"{', '.join(labels)}: {reason}." for reason, labels in reasons.items())
