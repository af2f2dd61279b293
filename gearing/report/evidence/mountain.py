"""The section of the third question: the mountain, and the gearing behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.display import Display
from gearing.report.charts.grade import grade_chart
from gearing.report.charts.ratio import ratio_chart
from gearing.report.charts.routes import route_charts
from gearing.report.evidence.descents import long_descent_table
from gearing.report.evidence.gears import (
    check_remark,
    cruise_table,
    gear_table,
    input_table,
    logged_climb_table,
    start_table,
)
from gearing.report.evidence.roads_asked import asked_gear_table, asked_grade_table
from gearing.report.evidence.routes import (
    climb_table,
    grade_table,
    top_gear_table,
    verdict_table,
)
from gearing.report.phrases import count_phrase, counted, said, with_interval
from gearing.report.reader import sides_of
from gearing.report.section import Item, Section, drawn, filled
from gearing.report.tables import Grid, Table
from gearing.report.views.mountain import (
    OPEN,
    TOLD,
    calculated_for,
    mountain_answer,
    told_ways,
    ways,
    worst_first,
)

if TYPE_CHECKING:
    import polars as pl

    from gearing.results.record import Results

_LEAD = (
    "A taller tire works like a taller axle: it calms the engine on the flat, can cost a gear "
    "uphill, and takes from the engine's braking downhill."
)


def mountain_section(
    results: Results, frames: dict[str, pl.DataFrame], display: Display
) -> Section:
    """The gearing trip by trip, what each gear holds, every route up and down."""
    same = ""
    if any(len(sides_of(route)) == 2 for route in results.routes):
        both = display.word("on both sets")
        same = f" Each route the study names is the same drive worked out {both}."
    remarks = (check_remark(results, display), calculated_for(results.mountain, display))
    return Section(
        key="mountain",
        title="Mountain",
        short="Mountain",
        lead=(_LEAD + same,),
        charts=drawn(
            ratio_chart(results, frames.get("trips"), display),
            grade_chart(results, display),
            *route_charts(results, frames.get("routes"), display),
        ),
        tables=filled(
            verdict_table(results, display),
            _ratio_table(results, display),
            top_gear_table(results, display),
            climb_table(results, display),
            long_descent_table(results, display),
            grade_table(results, display),
            asked_grade_table(results, display),
            asked_gear_table(results, display),
            logged_climb_table(results, display),
            gear_table(results, display),
            start_table(results, display),
            cruise_table(results, display),
            input_table(results, display),
        ),
        remarks=tuple(remark for remark in remarks if remark),
        items=_items(results, display),
        missing=_missing(results),
        answer=mountain_answer(results, display),
        folded="Evidence: ratio by trip, grades each gear sustains, every route up and down",
    )


def _items(results: Results, display: Display) -> tuple[Item, ...]:
    """The ways that are judged, the worst first, each with what to watch."""
    judged = [row for row in ways(results.routes) if row[1].verdict != OPEN]
    told = told_ways(worst_first(judged), display)
    more = len(told) - TOLD
    return (
        *(Item(one.text, points=one.care) for one in told[:TOLD]),
        *((Item(f"{counted(more, 'more way')} in the tables below."),) if more > 0 else ()),
    )


def _ratio_table(results: Results, display: Display) -> Table:
    drive = results.final_drive
    change = "Engine speed at the same true speed and gear [% change]"
    figures = {
        f"Effective axle ratio, {display.tires('before')}": drive.effective.before,
        f"Effective axle ratio, {display.tires('after')}": drive.effective.after,
        change: drive.change_percent,
        "Axle ratio that brings the old gearing back": drive.restoring_axle_ratio,
    }
    return (
        Grid((name, shown) for name, shown in figures.items() if shown.known)
        .words("What", lambda row: row[0])
        .told(
            "Figure (95 % interval)",
            lambda row: with_interval(row[1], 1 if row[0] == change else 2, sign=row[0] == change),
        )
        .words("From", lambda row: count_phrase(row[1]) or "declared")
        .table("The gearing")
    )


def _missing(results: Results) -> tuple[str, ...]:
    figures = {
        "Effective axle ratio": results.final_drive.effective.after,
        "Restoring axle ratio": results.final_drive.restoring_axle_ratio,
    }
    out = [f"{name}: {said(shown.why)}." for name, shown in figures.items() if not shown.known]
    if not results.routes:
        reason = said(results.mountain.routes_why) or "the study names no [[route]]"
        out.append(f"Routes: {reason}.")
    out += [
        f"{said(route.name)}: {said(route.verdict_why)}."
        for route in results.routes
        if route.verdict == "cannot tell yet"
    ]
    return tuple(out)
