"""The section of the second question: fuel."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits, rough
from gearing.report.charts.days import days_chart
from gearing.report.charts.estimates import WAYS, changes, estimates_chart, estimates_table
from gearing.report.charts.parts import parts_chart
from gearing.report.evidence.physics import physics_table
from gearing.report.phrases import (
    clause,
    listed,
    said,
    sentence,
    shown,
    with_interval,
)
from gearing.report.reader import NEWEST_FIRST
from gearing.report.section import Section, drawn, filled
from gearing.report.tables import Grid, Table
from gearing.report.views.fuel import claimed_percent, fuel_answer
from gearing.report.views.fuel_next import SETTLED

if TYPE_CHECKING:
    import polars as pl

    from gearing.results.record import Results
    from gearing.statistics.estimate import Estimate

_LEAD = (
    "The dash divides fuel by a distance it counts wrong, and no two drives are alike. So the "
    "change is worked out step by step: first the distance is corrected, then the road, then "
    "speed, weather and load. No log holds the load: what the study does not declare of it passes "
    "for a change, about half a percent of fuel for each percent of weight."
)


_AS_DRIVEN = (
    "By true distance and nothing else: what roads, speeds and weather did is still in these "
    "figures, and is taken out of the answer."
)


def fuel_section(results: Results, frames: dict[str, pl.DataFrame], display: Display) -> Section:
    """Fuel by day, every way of comparing, and what the answer rests on."""
    known = any(one.known for one in changes(results).values())
    return Section(
        key="fuel",
        title="Fuel",
        short="Fuel",
        lead=(_LEAD,),
        charts=drawn(
            days_chart(results, frames.get("days"), display),
            estimates_chart(results, display),
            parts_chart(results, display),
        ),
        tables=filled(
            *((estimates_table(results, display),) if known else ()),
            _sides_table(results, display),
            _tanks_table(results, display),
            _worth_table(results, display),
            physics_table(results, display),
            _apart_table(results, display),
        ),
        remarks=tuple(filter(None, _remarks(results, display))),
        missing=_missing(results),
        answer=fuel_answer(results, display),
        folded="Evidence: fuel by day, every way of comparing, what the dash's change is made of",
    )


def _remarks(results: Results, display: Display) -> list[str]:
    fuel = results.fuel
    out = []
    if fuel.smallest_detectable_percent is not None:
        smallest = digits(fuel.smallest_detectable_percent, 1)
        out.append(f"The smallest detectable change with what was driven is {smallest} %.")
    if fuel.more_driving_km and fuel.verdict not in SETTLED:
        goal = "2 %" if claimed_percent(results) is None else "half the claim"
        more = rough(display.distance(fuel.more_driving_km))
        out.append(
            f"About {more} more true {display.distance_word} {display.on('after')} would bring it "
            f"down to {goal}."
        )
    if fuel.expected_percent.value is not None:
        expected = with_interval(display.fuel_change(fuel.expected_percent), 1, sign=True)
        out.append(
            f"{_revolutions(fuel.expected_percent.value)} would be expected to change "
            f"{display.fuel_word} by {expected} %."
        )
    out.append(sentence(fuel.disagreement))
    weather = sentence(fuel.weather_used)
    if weather != "Not used.":  # no comparison that wind could touch
        out.append(weather)
    out.append(sentence(fuel.plan.text) if fuel.plan is not None else "")
    if fuel.chance is not None:
        out.append(
            "Shuffling days between the two periods at random, in blocks, gives a gap this "
            f"big {digits(1000 * fuel.chance.p, 0)} times in 1,000."
        )
    return out


def _revolutions(expected: float) -> str:
    """What changed in engine revolutions for the same road: by them alone fuel rises or falls."""
    if not expected:
        return "The same engine revolutions"
    return f"{'Fewer' if expected < 0 else 'More'} engine revolutions alone"


def _sides_table(results: Results, display: Display) -> Table:
    fuel = results.fuel
    rows = [
        (side, amount, idle.fuel_share_percent if (idle := fuel.idle.of(side)) else None)
        for side in NEWEST_FIRST
        if (amount := fuel.sides.of(side)).days
    ]

    def scale(side: str) -> str:
        """Fuel bought over fuel counted."""
        return with_interval(fuel.engine_computer_scale.of(side), 3)

    used = f"{display.fuel_word.capitalize()} [{display.fuel_unit}]"
    scale_why = _scale_note(results, [row[0] for row in rows], display)
    return (
        Grid(rows)
        .words(display.word("Tires"), lambda row: display.tires(row[0]))
        .figure("Days", lambda row: row[1].days)
        .figure(f"True {display.distance_word}", lambda row: row[1].true_km, 0, display.distance)
        .figure(used, lambda row: row[1].liters_per_100km, 1, display.fuel)
        .figure(
            f"Outside [{display.temperature_unit}]",
            lambda row: row[1].mean_temperature_c,
            0,
            display.temperature,
        )
        .figure(
            f"Mean speed [{display.speed_unit}]",
            lambda row: row[1].mean_speed_kmh,
            0,
            display.speed,
        )
        .told(
            "Fuel standing still",
            lambda row: "-" if row[2] is None else f"{digits(row[2], 1)} %",
        )
        .told("Fuel bought over fuel counted", lambda row: scale(row[0]))
        .table("What was compared, as driven", note=_AS_DRIVEN + scale_why)
    )


def _tanks_table(results: Results, display: Display) -> Table:
    """What the fill-up log tells, and what its figure rests on."""
    tanks = results.fuel.tanks
    if tanks is None:
        return Grid(()).words("What", str).table("From tank to tank")
    told = []
    for side in NEWEST_FIRST:
        count, used = tanks.count.of(side), tanks.liters_per_100km.of(side)
        fuel = None if used is None else display.fuel(used)
        if count and fuel is not None:
            name = f"{display.fuel_word.capitalize()}, {display.tires(side)} [{display.fuel_unit}]"
            told.append((name, f"{digits(fuel, 1)} over {digits(count, 0)} tanks"))
    filling = tanks.filling_error_l
    figures = {
        f"One fill is off full by [{display.volume_unit}]": filling and display.volume(filling),
        "From tank to tank [%]": tanks.scatter_percent,
        "Taken off for the season [% consumption]": tanks.season_percent,
        "Taken off for roads and speeds [% consumption]": tanks.driving_percent,
        "Smallest change that would show [%]": tanks.smallest_detectable_percent,
    }
    told += [(name, shown(one, 1)) for name, one in figures.items() if one is not None]
    by = said(tanks.distance_by)
    note = f"The odometer is corrected by {by}." if by else ""
    grid = Grid(told).words("What", lambda row: row[0]).told("Figure", lambda row: row[1])
    return grid.table("From tank to tank", note=note)


def _scale_note(results: Results, sides: list[str], display: Display) -> str:
    """Why fuel bought over fuel counted is not known, each reason once."""
    reasons: dict[str, list[str]] = {}
    for side in reversed(sides):
        scale = results.fuel.engine_computer_scale.of(side)
        if not scale.known:
            reasons.setdefault(clause(scale.why), []).append(display.tires(side))
    told = "; ".join(f"{reason} ({listed(tires)})" for reason, tires in reasons.items())
    return f" Fuel bought over fuel counted is not known: {told}." if told else ""


def _worth_table(results: Results, display: Display) -> Table:
    savings = results.fuel.savings
    told: list[tuple[str, str]] = []
    if savings is not None:
        weight = "lb" if display.us else "kg"
        co2, saved = savings.co2_kg_per_year.map(display.weight), savings.saving_per_year
        told = [
            (f"Saved a year [{savings.currency}]", _known(saved, 0)),
            ("Years until it has paid", _known(savings.years_to_pay, 1)),
            (f"CO2 saved a year [{weight}]", _known(co2, 0)),
        ]
    grid = Grid(told).words("What", lambda row: row[0])
    return grid.words("Figure (95 % interval)", lambda row: row[1]).table("What it is worth")


def _known(figure: Estimate, places: int) -> str:
    """A figure with its interval, which may have no end, or why it is not known."""
    if not figure.known:
        return f"not known: {said(figure.why)}"
    told = with_interval(figure, places)
    if figure.low is None or figure.high is not None:
        return told
    return f"{told} ({digits(figure.low, places)} to never)"


def _apart_table(results: Results, display: Display) -> Table:
    left_out = [(reason, km) for reason, km in results.fuel.set_apart_km.items() if km > 0]
    return (
        Grid(left_out)
        .words("Why", lambda row: row[0].replace("_", " ").replace("-", " "))
        .figure(display.distance_word.capitalize(), lambda row: row[1], 0, display.distance)
        .table("Driving left out of the fuel comparison")
    )


def _missing(results: Results) -> tuple[str, ...]:
    reasons: dict[str, list[str]] = {}
    for key, estimate in changes(results).items():
        if not estimate.known:
            reasons.setdefault(said(estimate.why), []).append(WAYS[key][0])
    if len(reasons) == 1 and len(WAYS) == len(next(iter(reasons.values()))):
        return (f"No fuel figure could be worked out: {next(iter(reasons))}.",)
    return tuple(f"{', '.join(labels)}: {reason}." for reason, labels in reasons.items())
