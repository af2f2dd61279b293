"""Tables of the first question that say what to do: settings, needle, causes, service."""

from __future__ import annotations

from gearing.messages.display import Display, digits, signed
from gearing.report.phrases import with_interval
from gearing.report.reading import NEWEST_FIRST, Tree, dig, estimate, number, rows, text
from gearing.report.tables import Table, table
from gearing.units import convert

_SETTINGS = {
    "in_effect": "works with now",
    "now": "should work with, today's tread",
    "half_worn": "should work with, half worn",
}
_COUNTS = (
    ("tire_rev", "Tire revolutions"),
    ("shaft_rev", "Output-shaft revolutions"),
    ("pulses", "Pulses"),
)


def settings_table(results: Tree, display: Display) -> Table:
    """The same setting as tire turns, shaft turns and pulses, for each computer has its own."""
    per = "mile" if display.us else "km"
    found = {
        name: [estimate(results, "speed", "to_program", key, f"{c}_per_{per}") for c, _ in _COUNTS]
        for key, name in _SETTINGS.items()
    }
    # counts that nothing in the study tells get no column of blanks
    told = [i for i in range(len(_COUNTS)) if any(row[i].known for row in found.values())]
    cells = [
        (name, *(with_interval(row[i], 0) for i in told))
        for name, row in found.items()
        if any(one.known for one in row)
    ]
    step = number(dig(results, "speed", "to_program", "one_turn_percent"))
    notes = [
        "Engine, transmission, brakes, cluster and cruise limiter may each keep a constant of "
        "their own, in units of their own: ask which, and leave setting it to someone qualified."
    ]
    if step is not None:
        # told of one turn a mile: fewer go into a km, so that each is more
        share = step if display.us else step * convert(1.0, "mi", "km")
        notes.append(f"One whole revolution per {per} is {digits(share, 2)} %.")
    tread = text(dig(results, "speed", "to_program", "tread_note"))
    if tread:
        notes.append(f"Half worn: {tread}.")
    return table(
        "What to program",
        ("The computer", *(f"{_COUNTS[i][1]} per {per}" for i in told)),
        cells,
        note=" ".join(notes),
    )


def needle_table(results: Tree, display: Display) -> Table:
    """What to expect at round speeds on the needle."""
    cells = []
    bases = []
    found = rows(results, "speed", "needle")
    # a period of which nothing is known gets no columns of blanks
    sides = [s for s in NEWEST_FIRST if any(dig(row, s, "true_kmh") is not None for row in found)]
    if not sides:
        return table("What to expect at a speed on the needle", (), ())
    for row in found:
        shown = number(row.get("shown_kmh"))
        if shown is None:
            continue
        basis = text(row.get("basis"))
        if basis and basis not in bases:
            bases.append(basis)
        cells.append(
            (
                digits(display.speed(shown), 0),
                *(figure for side in sides for figure in _expected(row, side, display)),
            )
        )
    unit = display.speed_unit
    head = [f"On the needle [{unit}]"]
    for tires in map(display.tires, sides):
        head += [f"True, {tires} [{unit}]", f"Engine, {tires} [rpm]", f"Gear, {tires}"]
    return table(
        "What to expect at a speed on the needle",
        head,
        cells,
        note=f"From {' and '.join(bases)}. Converter locked." if bases else "Converter locked.",
    )


def correction_table(results: Tree, display: Display) -> Table:
    """True speed at speeds shown by the needle, each with its interval."""
    cells = []
    for row in rows(results, "speed", "needle_correction", "table"):
        shown = number(row.get("shown_kmh"))
        true = [estimate(row, "true_kmh", side).map(display.speed) for side in NEWEST_FIRST]
        if shown is not None:
            cells.append(
                (
                    digits(display.speed(shown), 0),
                    *(with_interval(one, 1) if one.known else "not known" for one in true),
                )
            )
    told = text(dig(results, "speed", "relative", "setting_told"))
    return table(
        "The needle against true speed",
        (
            f"The needle shows [{display.speed_unit}]",
            *(f"True, {display.tires(s)}" for s in NEWEST_FIRST),
        ),
        cells,
        note=f"{told[:1].upper()}{told[1:]}." if told else "",
    )


def _expected(row: Tree, side: str, display: Display) -> tuple[str, str, str]:
    true = number(dig(row, side, "true_kmh"))
    rpm = number(dig(row, side, "engine_rpm"))
    gear = number(dig(row, side, "gear"))
    return (
        "-" if true is None else digits(display.speed(true), 1),
        "-" if rpm is None else digits(rpm, 0),
        "-" if gear is None else digits(gear, 0),
    )


def causes_table(results: Tree) -> Table:
    """Every cause that could be behind the figures, and what would tell them apart."""
    cells = [
        (
            text(row.get("cause")),
            "yes" if row.get("fits") else "no",
            with_interval(estimate(row, "by_percent"), 1, sign=True),
            text(row.get("text")),
            text(row.get("tell_apart")),
        )
        for row in rows(results, "speed", "reconciled", "explanations")
    ]
    return table(
        "What could be behind the figures",
        ("Cause", "Fits", "By [%]", "What it says", "What would tell"),
        cells,
        figures=(2,),
        note="Where several fit, the logs alone cannot single one out.",
    )


def circumference_table(results: Tree, display: Display) -> Table:
    """Size arithmetic, published figure and measurement beside one another."""
    cells = []
    for row in rows(results, "speed", "circumferences"):
        turns = estimate(row, "revolutions_per_km").map(display.revolutions)
        difference = number(row.get("difference_percent"))
        cells.append(
            (
                display.tires(text(row.get("period"))),
                text(row.get("basis")),
                with_interval(turns, 0),
                "-" if difference is None else signed(difference, 1),
                text(row.get("note")),
            )
        )
    return table(
        "Size, published figure and measurement",
        (
            display.word("Tires"),
            "From",
            display.revolutions_unit.capitalize(),
            "Circumference off the measured [%]",
            "Why they differ",
        ),
        cells,
        figures=(2, 3),
    )


def months_table(results: Tree, display: Display) -> Table:
    """True distance by month, for service and records."""
    cells = []
    for row in rows(results, "speed", "distance_by_month"):
        true, shown = number(row.get("true_km")), number(row.get("indicated_km"))
        cells.append(
            (
                text(row.get("month")),
                display.tires(text(row.get("side"))),
                "-" if not true else digits(display.distance(true), 0),  # none: not known
                "-" if shown is None else digits(display.distance(shown), 0),
            )
        )
    word = display.distance_unit
    service = estimate(results, "speed", "odometer", "service_true_km")
    note = ""
    if service.value is not None:
        note = (
            f"For service intervals: 10,000 on the odometer are {digits(service.value, 0)} true, "
            "miles or km alike, while the computer stays as it is."
        )
    return table(
        "Distance in the logs by month",
        ("Month", display.word("Tires"), f"True [{word}]", f"By the computer [{word}]"),
        cells,
        figures=(2, 3),
        note=note,
    )
