"""The sections behind a fleet's answer: vehicle by vehicle, the pooled figures, what to mend."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits, signed
from gearing.report.charts.fleet import fleet_chart
from gearing.report.evidence.warnings import warnings_section
from gearing.report.phrases import said, with_interval
from gearing.report.section import Section, drawn, filled
from gearing.report.tables import Grid, Table

if TYPE_CHECKING:
    from gearing.analysis.fleet import FleetFuel
    from gearing.results.fleet import FleetResults, ToMend
    from gearing.statistics.estimate import Estimate

_TELL_SPREAD = 5  # vehicles; fewer say hardly anything of how vehicles differ
_COMPARED = (
    "Each vehicle is compared with itself, before and after. Unchanged vehicles show what season, "
    "fuel and roads did meanwhile; what the others changed beyond that is the tires'."
)
_NOT_RUN = (
    "These vehicles are in no figure of this page. Mend what is named and run the fleet again: the "
    "others are not read anew."
)


def fleet_sections(results: FleetResults, display: Display) -> tuple[Section, ...]:
    """What is to be mended, the vehicles compared, warnings."""
    vehicles = Section(
        key="vehicles",
        title="Vehicles compared",
        short="Compared",
        lead=(_COMPARED,),
        charts=drawn(fleet_chart(results, display)),
        tables=filled(_pooled_table(results.fuel, display), _weight_table(results, display)),
        remarks=_remarks(results.fuel, display),
    )
    return (*_not_run(results), vehicles, warnings_section(results.warnings))


def _not_run(results: FleetResults) -> tuple[Section, ...]:
    """What is to be mended of the vehicles that could not be run; nothing where all were."""
    rows = [(one.name, problem) for one in results.not_run for problem in one.problems]
    told = (
        Grid(rows)
        .words("Vehicle", lambda row: row[0])
        .words(
            "What is wrong, and what to do",
            lambda row: f"{said(row[1].message)} {said(row[1].remedy)}",
        )
        .words("Where", lambda row: _place(row[1]))
        .table("What is to be mended")
    )
    if not rows:
        return ()
    title = "Vehicles not run"
    return (Section(key="not-run", title=title, short="Not run", lead=(_NOT_RUN,), tables=(told,)),)


def _place(problem: ToMend) -> str:
    where = f"{problem.file}, line {problem.line}" if problem.line is not None else problem.file
    return where if problem.file else ""


def _weight_table(results: FleetResults, display: Display) -> Table:
    return (
        Grid(results.vehicles)
        .words("Vehicle", lambda row: row.name)
        .percent("Weight in the pooled figure", lambda row: row.weight)
        .figure(
            f"True {display.distance_word}", lambda row: row.true_km or None, 0, display.distance
        )
        .spread("Engine speed [% change]", lambda row: row.final_drive_change_percent, 1, sign=True)
        .table(
            "Weight, distance and engine speed of every vehicle",
            note="A vehicle's own verdict is on the claim of its own study, where that states one.",
        )
    )


def _pooled_table(fuel: FleetFuel, display: Display) -> Table:
    rows = (
        ("Vehicles with new tires, pooled", display.fuel_change(fuel.pooled)),
        ("Unchanged vehicles, pooled", display.fuel_change(fuel.controls)),
        ("Difference of the two", display.fuel_change(fuel.difference)),
    )

    def change(shown: Estimate) -> str:
        """The figure, or why there is none."""
        return with_interval(shown, 1, sign=True) if shown.known else f"not known: {shown.why}"

    return (
        Grid(rows)
        .words("What", lambda row: row[0])
        .words(f"Change of {display.fuel_word} [%]", lambda row: change(row[1]))
        .figure("Vehicles", lambda row: row[1].n)
        .table(
            "The fleet together",
            note="In brackets the 95 % interval. What all vehicles share drops out of the "
            "difference, which may be surer than either.",
        )
    )


def _remarks(fuel: FleetFuel, display: Display) -> tuple[str, ...]:
    out = []
    if fuel.vehicle_low is not None and fuel.vehicle_high is not None:
        low, high = sorted(map(display.fuel_change_percent, (fuel.vehicle_low, fuel.vehicle_high)))
        beyond = ", beyond what unchanged ones show" if fuel.difference.known else ""
        out.append(
            f"One more vehicle, driven and logged as these were, would show a change of "
            f"{display.fuel_word} between {signed(low)} and {signed(high)} %{beyond}, in 95 cases "
            "of 100."
        )
    between, share = fuel.between_percent, fuel.heterogeneity_percent
    count = fuel.pooled.n or 0
    if between is None or share is None:
        return tuple(out)
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
