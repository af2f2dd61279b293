"""The section of the third question: the mountain, and the gearing behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.display import Display
from gearing.report.chart import SIDES
from gearing.report.descent_strip import descent_strips
from gearing.report.descent_table import gear_speed_table, long_descent_table
from gearing.report.gear_charts import engine_chart, gear_table, ratio_chart
from gearing.report.grade_chart import grade_chart, held_table, start_table
from gearing.report.mountain_charts import route_charts
from gearing.report.mountain_words import CAUTION, reckoned_with
from gearing.report.phrases import count_phrase, signed_with_interval, with_interval
from gearing.report.reading import Tree, branch, dig, estimate, rows, text, why
from gearing.report.route_tables import (
    check_remark,
    climb_table,
    cruise_table,
    descent_table,
    grade_table,
    input_table,
    logged_climb_table,
    top_gear_table,
    verdict_table,
)
from gearing.report.section import Section
from gearing.report.tables import Table, table

if TYPE_CHECKING:
    import polars as pl


def mountain_section(results: Tree, frames: dict[str, pl.DataFrame], display: Display) -> Section:
    charts = (
        ratio_chart(results, frames.get("trips")),
        engine_chart(results, display),
        grade_chart(results, display),
        *route_charts(results, frames.get("routes"), display),
        *descent_strips(results, frames.get("routes"), display),
    )
    tables = (
        _ratio_table(results),
        gear_table(results, display),
        top_gear_table(results),
        verdict_table(results),
        climb_table(results, display),
        descent_table(results, display),
        long_descent_table(results, display),
        logged_climb_table(results, display),
    )
    more = (
        grade_table(results, display),
        start_table(results),
        held_table(results, display),
        gear_speed_table(results, display),
        cruise_table(results, display),
        input_table(results, display),
    )
    return Section(
        key="mountain",
        title="Mountain",
        short="Mountain",
        lead=(
            "A taller tire works like a taller axle: it calms the engine on the flat, can cost a "
            "gear uphill, and takes from the engine's braking downhill."
            + (_SAME_DRIVE if _on_both(results) else ""),
        ),
        charts=tuple(chart for chart in charts if chart is not None),
        tables=tuple(t for t in tables if t.rows),
        more=tuple(t for t in more if t.rows),
        remarks=(
            *filter(None, (check_remark(results, display),)),
            *filter(None, (reckoned_with(branch(results, "mountain"), display),)),
            CAUTION,
        ),
        missing=_missing(results),
    )


_SAME_DRIVE = " Each route the study names is the same drive worked out on both sets of tires."


def _on_both(results: Tree) -> bool:
    return any(all(branch(route, side) for side in SIDES) for route in rows(results, "routes"))


def _ratio_table(results: Tree) -> Table:
    names = {
        "Effective axle ratio, old tires": ("effective", "before"),
        "Effective axle ratio, new tires": ("effective", "after"),
        "Engine speed at the same true speed and gear [% change]": ("change_percent",),
        "Axle ratio that brings the old gearing back": ("restoring_axle_ratio",),
    }
    cells = []
    for name, keys in names.items():
        shown = estimate(results, "final_drive", *keys)
        if shown.known:
            changed = keys == ("change_percent",)
            figure = signed_with_interval(shown) if changed else with_interval(shown, 2)
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
