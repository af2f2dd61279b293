"""Tables of the gearing and of what the road model rests on."""

from __future__ import annotations

import math
from functools import partial

from gearing.messages.display import Display, digits, minus, signed
from gearing.report.phrases import capital, percent_of, plain, with_interval
from gearing.report.reading import (
    NEWEST_FIRST,
    Tree,
    branch,
    dig,
    estimate,
    number,
    rows,
    text,
)  # fmt: skip
from gearing.report.tables import Table, of_rows, table


def cruise_table(results: Tree, display: Display) -> Table:
    """Level road in the highest gear, and the headwind that costs it."""

    def wind(row: tuple[str, Tree]) -> str:
        kmh = number(row[1].get("headwind_for_downshift_kmh"))
        return "none found" if kmh is None else digits(display.speed(kmh), 0)

    def remark(row: tuple[str, Tree]) -> str:
        if row[1].get("lugging") is True:
            return "lugging"
        return "below peak torque" if row[1].get("below_peak_torque") is True else "-"

    def figure(key: str, row: tuple[str, Tree]) -> str:
        return plain(number(row[1].get(key)), 0)

    def speed(row: tuple[str, Tree]) -> float:
        return display.speed(number(row[1].get("speed_kmh")) or 0.0)

    cruises = [
        (display.tires(side), row)
        for side in NEWEST_FIRST
        for row in rows(results, "mountain", "cruise", side)
    ]
    return of_rows(
        "Level cruise in the highest gear",
        sorted(cruises, key=speed),
        [
            (f"Speed [{display.speed_unit}]", lambda row: digits(speed(row), 0)),
            (display.word("Tires"), lambda row: row[0]),
            ("Remark", remark),
            ("Gear", partial(figure, "gear")),
            ("Engine [rpm]", partial(figure, "engine_rpm")),
            ("Load [%]", partial(figure, "load_percent")),
            (f"Headwind that costs a gear [{display.speed_unit}]", wind),
        ],
        words=3,
    )


def logged_climb_table(results: Tree, display: Display) -> Table:
    """Hills that the logs themselves hold, what was driven on them, and what the model has."""
    unit = display.temperature_unit

    def degrees(key: str, row: tuple[str, Tree, Tree]) -> str:
        c = number(row[2].get(key))
        return plain(None if c is None else display.temperature(c), 0)

    def beside(key: str, row: tuple[str, Tree, Tree]) -> str:
        """A figure of the logs and of the model."""
        pair = [number(row[2].get(key)), number(dig(row[2], "model", key))]
        if key == "lowest_speed_kmh":
            pair = [None if kmh is None else display.speed(kmh) for kmh in pair]
        return " / ".join(plain(value, 0) for value in pair)

    seen = [
        (display.tires(side), hill, drive)
        for key in ("climbs", "logged_descents")
        for hill in rows(results, "mountain", key)
        for side in NEWEST_FIRST
        if (drive := branch(hill, side))
    ]
    return of_rows(
        "Hills in the logs, and the road model driven over them",
        seen,
        [
            ("Hill", lambda row: text(row[1].get("name"))),
            (display.word("Tires"), lambda row: row[0]),
            ("Passes", lambda row: plain(number(row[2].get("passes")), 0)),
            ("Mean grade [%]", lambda row: signed(number(row[1].get("mean_grade_percent")) or 0)),
            (f"Slowest [{display.speed_unit}]", partial(beside, "lowest_speed_kmh")),
            ("Downshifts", partial(beside, "downshifts")),
            ("Usual gear", partial(beside, "gear")),
            ("At full load", lambda row: percent_of(number(row[2].get("full_load_share")))),
            (f"Highest coolant [{unit}]", partial(degrees, "peak_coolant_c")),
            (f"Highest transmission oil [{unit}]", partial(degrees, "peak_transmission_oil_c")),
        ],
        words=2,
        note="Logs / model. A downshift: a lower gear from one 100 m of road to the next.",
    )


def gear_table(results: Tree, display: Display) -> Table:
    """Gears with their ratio, engine turns per distance, and how they were used."""
    unit = "turns per mile" if display.us else "turns per km"

    def name(gear: Tree) -> str:
        found = gear.get("gear")
        return str(found) if isinstance(found, int | str) else digits(number(found) or 0, 0)

    def turns(side: str, gear: Tree) -> str:
        per_km = number(dig(gear, side, "rev_per_km"))
        return plain(None if per_km is None else display.revolutions(per_km), 0)

    def share(side: str, key: str, gear: Tree) -> str:
        return percent_of(number(dig(gear, side, key)))

    def tires(what: str, side: str) -> str:
        return f"{what}, {display.tires(side)}"

    found = rows(results, "gears")
    unnumbered = any(gear.get("labelled") is False for gear in found)
    return of_rows(
        f"Gears: engine {unit}, and how much of the time and distance each gear was in use",
        found,
        [
            ("Gear", name),
            ("Ratio", lambda gear: plain(number(gear.get("ratio")), 2)),
            *((tires("Turns", s), partial(turns, s)) for s in NEWEST_FIRST),
            *((tires("Time", s), partial(share, s, "time_share")) for s in NEWEST_FIRST),
            *((tires("Distance", s), partial(share, s, "distance_share")) for s in NEWEST_FIRST),
        ],
        note=_NUMBERED if unnumbered else "",
    )


_NUMBERED = "The study gives no gear ratios, so gears are numbered as found, the lowest first."


def held_table(results: Tree, display: Display) -> Table:
    """The steepest grade each gear holds up and down at common road speeds."""
    found = rows(results, "mountain", "gears")
    speeds = (
        list(branch(found[0], "after", "up_percent") or branch(found[0], "before", "up_percent"))
        if found
        else []
    )
    cells = []
    for row in found:
        for side in NEWEST_FIRST:
            up, down = branch(row, side, "up_percent"), branch(row, side, "down_percent")
            if all(number(value) is None for value in (*up.values(), *down.values())):
                continue
            cells.append(
                (
                    digits(number(row.get("gear")) or 0, 0),
                    display.tires(side),
                    *(_pair(number(up.get(key)), number(down.get(key))) for key in speeds),
                )
            )
    heads = [f"at {digits(display.speed(float(key)), 0)} {display.speed_unit}" for key in speeds]
    return table(
        "Steepest grades held, up / down [%]",
        ("Gear", display.word("Tires"), *heads),
        cells,
        words=2,
        note="Down: by the engine and retarder alone. A dash: the gear cannot run at that speed.",
    )


def _pair(up: float | None, down: float | None) -> str:
    if up is None and down is None:
        return "-"
    return " / ".join("-" if v is None else digits(v, 1) for v in (up, down))


def start_table(results: Tree, display: Display) -> Table:
    cells = []
    for side in NEWEST_FIRST:
        shown = estimate(results, "mountain", "startability_percent", side)
        if shown.known:
            cells.append((display.tires(side), with_interval(shown, 1)))
    return table(
        "Startability: steepest grade it sets off on [%]",
        (display.word("Tires"), "Grade"),
        cells,
        note=(
            "By torque alone: the grip of the drive tires, which may give out far sooner, is not "
            "looked at."
        ),
    )


def parameter_rows(results: Tree, display: Display) -> list[tuple[str, str, str, str, str]]:
    """What the road model rests on: name, where from, unit, value, range."""
    cells = []
    for row in rows(results, "mountain", "parameters"):
        figures = [number(row.get(key)) for key in ("value", "low", "high")]
        turned = [display.plain(v or 0.0, text(row.get("unit"))) for v in figures]
        places = _places(turned[0][0])
        value, low, high = (
            "-" if figure is None else minus(shown, places)
            for figure, (shown, _) in zip(figures, turned, strict=True)
        )
        cells.append(
            (
                capital(text(row.get("label")) or text(row.get("name"))),
                "assumed" if row.get("assumed") is True else text(row.get("source")),
                turned[0][1],
                value,
                f"{low} to {high}",
            )
        )
    return cells


def input_table(results: Tree, display: Display) -> Table:
    return table(
        "What the road model rests on",
        ("What", "From", "Unit", "Value", "Range"),
        parameter_rows(results, display),
        words=3,
    )


def check_remark(results: Tree, display: Display) -> str:
    """Whether the road model agrees with the logs."""
    check = branch(results, "mountain", "model_check")
    stretches, bias = number(check.get("stretches")), number(check.get("bias_kmh"))
    rms = number(dig(check, "rms_kmh"))
    if not stretches or bias is None or rms is None:
        return ""
    unit = display.speed_unit
    return (
        f"The road model against the logs: over {digits(stretches, 0)} stretches driven at full "
        f"load its speed is off by {signed(display.speed(bias), 1)} {unit} on the mean and "
        f"{digits(display.speed(rms), 1)} {unit} root mean square."
    )


def _places(value: float) -> int:
    """Decimals that show three figures of a value."""
    return 0 if abs(value) >= 100 or value == 0 else max(0, 2 - math.floor(math.log10(abs(value))))
