"""The sections behind a fleet's answer: vehicle by vehicle, the pooled figures, what to mend."""

from __future__ import annotations

from gearing.messages.display import Display, digits, signed
from gearing.report.charts.fleet import fleet_chart
from gearing.report.evidence.warnings import warnings_section
from gearing.report.phrases import with_interval
from gearing.report.reading import Tree, dig, estimate, number, rows, text
from gearing.report.section import Section
from gearing.report.tables import Table, table

_TELL_SPREAD = 5  # vehicles; fewer say hardly anything of how vehicles differ


def fleet_sections(results: Tree, display: Display) -> tuple[Section, ...]:
    """What is to be mended, the vehicles compared, warnings."""
    chart = fleet_chart(results, display)
    tables = (_pooled_table(results, display), _weight_table(results, display))
    vehicles = Section(
        key="vehicles",
        title="Vehicles compared",
        short="Compared",
        lead=(
            "Each vehicle is compared with itself, before and after. Unchanged vehicles "
            "show what season, fuel and roads did meanwhile; what the others changed beyond that "
            "is the tires'.",
        ),
        charts=() if chart is None else (chart,),
        tables=tuple(t for t in tables if t.rows),
        remarks=_remarks(results, display),
    )
    return (*_not_run(results), vehicles, warnings_section(results))


def _not_run(results: Tree) -> tuple[Section, ...]:
    """What is to be mended of the vehicles that could not be run; nothing where all were."""
    cells = [
        (
            text(one.get("name")),
            f"{text(problem.get('message'))} {text(problem.get('remedy'))}".strip(),
            _place(problem),
        )
        for one in rows(results, "not_run")
        for problem in rows(one, "problems")
    ]
    if not cells:
        return ()
    told = table(
        "What is to be mended",
        ("Vehicle", "What is wrong, and what to do", "Where"),
        cells,
        words=3,
    )
    lead = (
        "These vehicles are in no figure of this page. Mend what is named and run the fleet again: "
        "the others are not read anew."
    )
    return (
        Section(
            key="not-run", title="Vehicles not run", short="Not run", lead=(lead,), tables=(told,)
        ),
    )


def _place(problem: Tree) -> str:
    file, line = text(problem.get("file")), number(problem.get("line"))
    return f"{file}, line {line:.0f}" if file and line is not None else file or "-"


def _weight_table(results: Tree, display: Display) -> Table:
    cells = []
    for row in rows(results, "vehicles"):
        weight, driven = number(row.get("weight")), number(row.get("true_km"))
        cells.append(
            (
                text(row.get("name")),
                "-" if weight is None else f"{digits(100 * weight, 0)} %",
                digits(display.distance(driven), 0) if driven else "-",
                with_interval(estimate(row, "final_drive_change_percent"), 1, sign=True),
            )
        )
    return table(
        "Weight, distance and engine speed of every vehicle",
        (
            "Vehicle",
            "Weight in the pooled figure",
            f"True {display.distance_word}",
            "Engine speed [% change]",
        ),
        cells,
        note="A vehicle's own verdict is on the claim of its own study, where that states one.",
    )


def _pooled_table(results: Tree, display: Display) -> Table:
    names = {
        "pooled": "Vehicles with new tires, pooled",
        "controls": "Unchanged vehicles, pooled",
        "difference": "Difference of the two",
    }
    cells = []
    for key, name in names.items():
        shown = display.fuel_change(estimate(results, "fuel", key))
        if shown.known:
            count = str(shown.n) if shown.n is not None else "-"
            cells.append((name, with_interval(shown, 1, sign=True), count))
        else:
            cells.append((name, f"not known: {shown.why}", "-"))
    return table(
        "The fleet together",
        ("What", f"Change of {display.fuel_word} [%]", "Vehicles"),
        cells,
        words=2,
        note="In brackets the 95 % interval. What all vehicles share drops out of the difference, "
        "which may be surer than either.",
    )


def _remarks(results: Tree, display: Display) -> tuple[str, ...]:
    low = number(dig(results, "fuel", "vehicle_low"))
    high = number(dig(results, "fuel", "vehicle_high"))
    between = number(dig(results, "fuel", "between_percent"))
    share = number(dig(results, "fuel", "heterogeneity_percent"))
    out = []
    if low is not None and high is not None:
        ends = sorted(display.fuel_change_percent(end) for end in (low, high))
        known = estimate(results, "fuel", "difference").known
        beyond = ", beyond what unchanged ones show" if known else ""
        out.append(
            f"One more vehicle, driven and logged as these were, would show a change of "
            f"{display.fuel_word} between {signed(ends[0])} and {signed(ends[1])} %{beyond}, in 95 "
            "cases of 100."
        )
    if between is None or share is None:
        return tuple(out)
    count = estimate(results, "fuel", "pooled").n or 0
    if count < _TELL_SPREAD:
        told = f"How much the change differs from vehicle to vehicle, {count} are too few to tell."
    elif between == 0:
        told = (
            "The vehicles differ by no more than their own days explain. That does not make them "
            "alike: a difference between them may be hidden in it."
        )
    else:
        told = (
            f"From vehicle to vehicle the change differs by roughly {digits(between, 1)} points "
            "(standard deviation) beyond what their own days explain; that is "
            f"{digits(share, 0)} % of the spread seen."
        )
    return (*out, told)
