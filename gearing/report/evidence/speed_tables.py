"""Tables of the first question that say what to do: settings, needle, causes, service."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits
from gearing.report.phrases import said, sentence
from gearing.report.reader import NEWEST_FIRST
from gearing.report.tables import Grid, Table
from gearing.units import convert

if TYPE_CHECKING:
    from gearing.analysis.speed.needle import AtSpeed, NeedleRow
    from gearing.results.record import Results
    from gearing.statistics.estimate import Estimate

_COUNTS = {
    "tire_rev": "Tire revolutions",
    "shaft_rev": "Output-shaft revolutions",
    "pulses": "Pulses",
}
_COMPUTERS = (
    "Engine, transmission, brakes, cluster and cruise limiter may each keep a constant of their "
    "own, in units of their own: ask which, and leave setting it to someone qualified."
)


def settings_table(results: Results, display: Display) -> Table:
    """The same setting as tire turns, shaft turns and pulses, for each computer has its own."""
    per = "mile" if display.us else "km"
    told = results.speed.to_program
    settings = (
        ("works with now", told.in_effect),
        ("should work with, today's tread", told.now),
        ("should work with, half worn", told.half_worn),
    )
    found: list[tuple[str, dict[str, Estimate]]] = [
        (name, {count: getattr(one, f"{count}_per_{per}") for count in _COUNTS})
        for name, one in settings
    ]
    known = [row for row in found if any(one.known for one in row[1].values())]
    # counts that nothing in the study tells get no column of blanks
    counts = [count for count in _COUNTS if any(row[1][count].known for row in known)]
    notes = [_COMPUTERS]
    if told.one_revolution_percent is not None:
        # told of one turn a mile: fewer go into a km, so that each is more
        share = told.one_revolution_percent * (1.0 if display.us else convert(1.0, "mi", "km"))
        notes.append(f"One whole revolution per {per} is {digits(share, 2)} %.")
    if tread := said(told.tread_note):
        notes.append(f"Half worn: {tread}.")
    return (
        Grid(known)
        .words("The computer", lambda row: row[0])
        .each(
            counts,
            lambda grid, one: grid.spread(f"{_COUNTS[one]} per {per}", lambda row: row[1][one], 0),
        )
        .table("What to program", note=" ".join(notes))
    )


def _at(row: NeedleRow, side: str) -> AtSpeed:
    return row.before if side == "before" else row.after


def needle_table(results: Results, display: Display) -> Table:
    """What to expect at round speeds on the needle."""
    rows = results.speed.speedometer
    # a period of which nothing is known gets no columns of blanks
    sides = [s for s in NEWEST_FIRST if any(_at(row, s).true_kmh is not None for row in rows)]
    told = results.speed.speedometer_correction.table
    if told and all(_at(row, side).engine_rpm is None for row in rows for side in sides):
        sides = []  # the table above holds all of it
    unit = display.speed_unit

    def add(grid: Grid[NeedleRow], side: str) -> None:
        """The columns of one period."""
        tires = display.tires(side)
        head = f"True, {tires} [{unit}]"
        grid.figure(head, lambda row: _at(row, side).true_kmh, 1, display.speed)
        grid.figure(f"Engine, {tires} [rpm]", lambda row: _at(row, side).engine_rpm)
        grid.figure(f"Gear, {tires}", lambda row: _at(row, side).gear)

    bases = dict.fromkeys(said(row.basis) for row in rows)
    by = f"From {' and '.join(bases)}. " if any(bases) else ""
    return (
        Grid(rows if sides else ())
        .words(f"On the needle [{unit}]", lambda row: digits(display.speed(row.shown_kmh), 0))
        .each(sides, add)
        .table("What to expect at a speed on the needle", note=f"{by}Converter locked.")
    )


def correction_table(results: Results, display: Display) -> Table:
    """True speed at speeds shown by the needle, each with its interval."""
    head = f"The needle shows [{display.speed_unit}]"
    rows = results.speed.speedometer_correction.table
    return (
        Grid(rows)
        .words(head, lambda row: digits(display.speed(row.shown_kmh), 0))
        .each(
            [s for s in NEWEST_FIRST if any(row.true_kmh.of(s).known for row in rows)],
            lambda grid, side: grid.spread(
                f"True, {display.tires(side)}", lambda row: row.true_kmh.of(side), 1, display.speed
            ),
        )
        .table("The needle against true speed", note=sentence(results.speed.relative.setting_told))
    )


def causes_table(results: Results) -> Table:
    """Every cause that could be behind the figures, and what would tell them apart."""
    return (
        Grid(results.speed.reconciled.explanations)
        .words("Cause", lambda row: row.cause)
        .words("Fits", lambda row: "yes" if row.fits else "no")
        .spread("By [%]", lambda row: row.by_percent, 1, sign=True)
        .words("What it says", lambda row: row.text)
        .words("What would tell", lambda row: row.tell_apart)
        .table(
            "What could be behind the figures",
            note="Where several fit, the logs alone cannot single one out.",
        )
    )


def circumference_table(results: Results, display: Display) -> Table:
    """Size arithmetic, published figure and measurement beside one another."""
    unit, off = display.revolutions_unit.capitalize(), "Circumference off the measured [%]"
    return (
        Grid(results.speed.circumferences)
        .words(display.word("Tires"), lambda row: display.tires(row.period))
        .words("From", lambda row: row.basis)
        .spread(unit, lambda row: row.revolutions_per_km, 0, display.revolutions)
        .figure(off, lambda row: row.difference_percent, 1, sign=True)
        .words("Why they differ", lambda row: row.note)
        .table("Size, published figure and measurement")
    )


def months_table(results: Results, display: Display) -> Table:
    """True distance by month, for service and records."""
    unit = display.distance_unit
    service = results.speed.odometer.service_true_km.value
    note = ""
    if service is not None:
        note = (
            f"For service intervals: 10,000 on the odometer are {digits(service, 0)} true, miles "
            "or km alike, while the computer stays as it is."
        )
    return (
        Grid(results.speed.distance_by_month)
        .words("Month", lambda row: row.month)
        .words(display.word("Tires"), lambda row: display.tires(row.side))
        .figure(f"True [{unit}]", lambda row: row.true_km or None, 0, display.distance)
        .figure(f"By the computer [{unit}]", lambda row: row.indicated_km, 0, display.distance)
        .table("Distance in the logs by month", note=note)
    )
