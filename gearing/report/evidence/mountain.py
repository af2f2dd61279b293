"""The section of the third question: the mountain, and the gearing behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.display import Display
from gearing.report.charts.grade import grade_chart
from gearing.report.charts.ratio import ratio_chart
from gearing.report.charts.routes import route_charts
from gearing.report.descent_table import gear_speed_table, long_descent_table
from gearing.report.evidence.gears import (
    check_remark,
    cruise_table,
    gear_table,
    held_table,
    input_table,
    logged_climb_table,
    start_table,
)
from gearing.report.evidence.roads_asked import asked_gear_table, asked_grade_table
from gearing.report.evidence.routes import (
    climb_table,
    descent_table,
    grade_table,
    top_gear_table,
    verdict_table,
)
from gearing.report.phrases import count_phrase, with_interval
from gearing.report.reading import SIDES, Tree, branch, dig, estimate, rows, text, why
from gearing.report.section import Item, Section
from gearing.report.tables import Table, table
from gearing.report.views.mountain import CAUTION, calculated_for, mountain_answer

if TYPE_CHECKING:
    import polars as pl


def mountain_section(results: Tree, frames: dict[str, pl.DataFrame], display: Display) -> Section:
    charts = (
        ratio_chart(results, frames.get("trips"), display),
        grade_chart(results, display),
        *route_charts(results, frames.get("routes"), display),
    )
    tables = (
        verdict_table(results, display),
        _ratio_table(results, display),
        top_gear_table(results, display),
        climb_table(results, display),
        descent_table(results, display),
        long_descent_table(results, display),
        grade_table(results, display),
        asked_grade_table(results, display),
        asked_gear_table(results, display),
        logged_climb_table(results, display),
        gear_table(results, display),
        held_table(results, display),
        start_table(results, display),
        gear_speed_table(results, display),
        cruise_table(results, display),
        input_table(results, display),
    )
    remarks = (check_remark(results, display), calculated_for(branch(results, "mountain"), display))
    return Section(
        key="mountain",
        title="Mountain",
        short="Mountain",
        lead=(
            "A taller tire works like a taller axle: it calms the engine on the flat, can cost a "
            "gear uphill, and takes from the engine's braking downhill."
            + (f"{_SAME_DRIVE} {display.word('on both sets')}." if _on_both(results) else ""),
        ),
        charts=tuple(chart for chart in charts if chart is not None),
        tables=tuple(t for t in tables if t.rows),
        remarks=tuple(remark for remark in remarks if remark),
        items=(Item(CAUTION),),
        missing=_missing(results),
        answer=mountain_answer(dict(results), display),
        folded="Evidence: ratio by trip, grades each gear sustains, every route up and down",
    )


_SAME_DRIVE = " Each route the study names is the same drive worked out"


def _on_both(results: Tree) -> bool:
    return any(all(branch(route, side) for side in SIDES) for route in rows(results, "routes"))


def _ratio_table(results: Tree, display: Display) -> Table:
    names = {
        f"Effective axle ratio, {display.tires('before')}": ("effective", "before"),
        f"Effective axle ratio, {display.tires('after')}": ("effective", "after"),
        "Engine speed at the same true speed and gear [% change]": ("change_percent",),
        "Axle ratio that brings the old gearing back": ("restoring_axle_ratio",),
    }
    cells = []
    for name, keys in names.items():
        shown = estimate(results, "final_drive", *keys)
        if shown.known:
            changed = keys == ("change_percent",)
            figure = with_interval(shown, 1, sign=True) if changed else with_interval(shown, 2)
            cells.append((name, figure, count_phrase(shown) or "declared"))
    return table("The gearing", ("What", "Figure (95 % interval)", "From"), cells, figures=(1,))


def _missing(results: Tree) -> tuple[str, ...]:
    out = []
    for name, keys in {
        "Effective axle ratio": ("effective", "after"),
        "Restoring axle ratio": ("restoring_axle_ratio",),
    }.items():
        shown = estimate(results, "final_drive", *keys)
        if not shown.known:
            out.append(f"{name}: {shown.why}.")
    routes = rows(results, "routes")
    if not routes:
        reason = text(dig(results, "routes_why")) or "the study names no [[route]]"
        out.append(f"Routes: {reason}.")
    out.extend(
        f"{text(route.get('name'))}: {why(route, 'verdict')}."
        for route in routes
        if text(route.get("verdict")) in ("", "cannot tell yet")
    )
    return tuple(out)
