"""Tables of the mountain: up, down, grade by grade, level cruise, logged climbs, the inputs."""

from __future__ import annotations

import math

from gearing.messages.display import Display, digits, minus, signed
from gearing.report.phrases import capital, percent_of, plain, with_interval
from gearing.report.reading import (
    NEWEST_FIRST,
    SIDES,
    Tree,
    branch,
    dig,
    estimate,
    number,
    rows,
    text,
)
from gearing.report.tables import Table, table
from gearing.report.views.mountain import brake_work, care, top_gear_number, verdict, ways


def verdict_table(results: Tree, display: Display) -> Table:
    cells = [
        (
            name,
            verdict(route),
            text(route.get("change")) or "-",
            text(route.get("vehicle")) or "-",
            care(route) or "-",
        )
        for name, route in ways(results)
    ]
    heads = ("Route", "Verdict", "The change alone", "The vehicle on this road", "What to watch")
    changed = display.role == "changed"
    return table(f"Does the {'new ' if changed else ''}gearing suit?", heads, cells, words=5)


def top_gear_table(results: Tree, display: Display) -> Table:
    """Does top gear still serve each route?"""
    cells = []
    for name, route in ways(results):
        for side in NEWEST_FIRST:
            drive = branch(route, side)
            shares = branch(drive, "gear_time_share")
            if not shares:
                continue
            top = number(shares.get(top_gear_number(drive)))
            at = drive.get("downshifts_at_km")
            places = [number(km) for km in at] if isinstance(at, list | tuple) else []
            where = ", ".join(digits(display.distance(km), 1) for km in places if km is not None)
            cells.append(
                (
                    name,
                    display.tires(side),
                    plain(number(drive.get("top_gear_sustains_percent")), 1),
                    percent_of(top or 0.0),
                    plain(number(drive.get("downshifts_under_drive")), 0),
                    where or "-",
                    plain(number(drive.get("hunting")), 0),
                    plain(number(drive.get("converter_open_minutes")), 1),
                )
            )
    return table(
        "Does top gear still serve?",
        (
            "Route",
            display.word("Tires"),
            "Top gear sustains [%]",
            "Top gear's share of the time",
            "Downshifts under drive",
            f"at [{display.distance_unit}]",
            "Hunting",
            "Minutes climbing with the converter open",
        ),
        cells,
        words=2,
        note=(
            "The grade that top gear sustains at full load at the speed wanted on most of the "
            "route. Hunting: to and fro between two gears and back within a minute."
        ),
    )


def climb_table(results: Tree, display: Display) -> Table:
    cells = []
    for name, route in ways(results):
        for side in NEWEST_FIRST:
            drive = branch(route, side)
            if not drive:
                continue
            lowest, liters = number(drive.get("lowest_speed_kmh")), number(drive.get("liters"))
            cells.append(
                (
                    name,
                    display.tires(side),
                    plain(number(drive.get("minutes")), 1),
                    plain(None if liters is None else display.volume(liters), 1),
                    _with_spread(lowest, branch(drive, "spread", "lowest_speed_kmh"), display),
                    plain(number(drive.get("gear_at_lowest")), 0),
                    plain(number(drive.get("engine_rpm_at_lowest")), 0),
                    _shifts(drive),
                    plain(number(drive.get("minutes_at_full_load")), 1),
                    plain(number(drive.get("margin_before_downshift_percent")), 0),
                )
            )
    return table(
        "Up the routes",
        (
            "Route",
            display.word("Tires"),
            "Minutes",
            f"Fuel [{display.volume_unit}]",
            f"Slowest [{display.speed_unit}]",
            "in gear",
            "at engine [rpm]",
            "Downshifts",
            "Minutes at full load",
            "Room before the next downshift [%]",
        ),
        cells,
        words=2,
    )


def _shifts(drive: Tree) -> str:
    """Downshifts, and how many of them are hunting between two gears."""
    hunting = number(drive.get("hunting"))
    shown = plain(number(drive.get("downshifts")), 0)
    return f"{shown}, {digits(hunting, 0)} hunting" if hunting else shown


def _with_spread(kmh: float | None, spread: Tree, display: Display) -> str:
    """A speed with the 95 % range over what is not known for sure."""
    low, high = number(spread.get("low")), number(spread.get("high"))
    if kmh is None:
        return "-"
    shown = digits(display.speed(kmh), 0)
    if low is None or high is None:
        return shown
    return f"{shown} ({digits(display.speed(low), 0)} to {digits(display.speed(high), 0)})"


def descent_table(results: Tree, display: Display) -> Table:
    cells = []
    for name, route in ways(results):
        for side in NEWEST_FIRST:
            down = branch(route, side, "descent")
            if not down:
                continue
            held = number(down.get("held_speed_kmh"))
            cells.append(
                (
                    name,
                    display.tires(side),
                    plain(number(down.get("steepest_percent")), 1),
                    plain(number(down.get("gear")), 0),
                    "none holds"
                    if held is None
                    else _with_spread(held, branch(down, "held_spread_kmh"), display),
                    brake_work(branch(route, side)),
                    percent_of(number(down.get("brake_share"))),
                    plain(number(down.get("retarder_kwh")) or None, 1),
                )
            )
    return table(
        "Down the routes",
        (
            "Route",
            display.word("Tires"),
            f"Steepest {digits(display.height(500), 0)} {display.height_unit} [%]",
            "Gear",
            f"Speed held there [{display.speed_unit}]",
            "Work of the service brakes [kWh]",
            "Their share",
            "Work of the retarder [kWh]",
        ),
        cells,
        words=2,
        note=(
            "What engine and retarder do not hold back falls to the service brakes. The gear is "
            "the highest that holds the steepest stretch at or under the speed wanted there, and "
            "does so in 95 % of the cases drawn; where none does, the lowest that can be driven at "
            "that speed. The work of the brakes is that at the speed wanted, not at the speed "
            "held: the mean of the cases drawn and the range of 95 % of them. In half of them the "
            "driver changes down in time, in half the gear stays as on the level and the brakes do "
            "the rest. A retarder that is off leaves its work to the brakes too, beyond that "
            "range, and one that fades a part of it."
        ),
    )


def grade_table(results: Tree, display: Display) -> Table:
    """Grade by grade along every route."""
    cells = []
    for name, route in ways(results):
        for part in rows(route, "sections"):
            where = [number(part.get(key)) for key in ("from_km", "to_km")]
            for side in NEWEST_FIRST:
                drive = branch(part, side)
                if not drive or None in where:
                    continue
                lowest = number(drive.get("lowest_speed_kmh"))
                cells.append(
                    (
                        name,
                        " to ".join(digits(display.distance(km or 0.0), 1) for km in where),
                        display.tires(side),
                        signed(number(part.get("mean_grade_percent")) or 0.0, 1),
                        plain(None if lowest is None else display.speed(lowest), 0),
                        plain(number(drive.get("gear")), 0),
                        plain(number(drive.get("engine_rpm")), 0),
                        percent_of(number(drive.get("full_load_share"))),
                        plain(number(drive.get("brake_kwh")), 1),
                    )
                )
    return table(
        "Grade by grade",
        (
            "Route",
            f"From, to [{display.distance_unit}]",
            display.word("Tires"),
            "Mean grade [%]",
            f"Slowest [{display.speed_unit}]",
            "Gear",
            "Engine [rpm]",
            "Time at full load",
            "Brakes [kWh]",
        ),
        cells,
        words=3,
        limit=80,
    )


def cruise_table(results: Tree, display: Display) -> Table:
    cells = []
    for side in NEWEST_FIRST:
        for row in rows(results, "mountain", "cruise", side):
            kmh, wind = number(row.get("speed_kmh")), number(row.get("headwind_for_downshift_kmh"))
            remark = (
                "lugging"
                if row.get("lugging") is True
                else ("below peak torque" if row.get("below_peak_torque") is True else "-")
            )
            cells.append(
                (
                    plain(None if kmh is None else display.speed(kmh), 0),
                    display.tires(side),
                    remark,
                    plain(number(row.get("gear")), 0),
                    plain(number(row.get("engine_rpm")), 0),
                    plain(number(row.get("load_percent")), 0),
                    "none found" if wind is None else digits(display.speed(wind), 0),
                )
            )
    cells.sort(key=lambda cell: float(cell[0]) if cell[0] != "-" else 0.0)
    return table(
        "Level cruise in the highest gear",
        (
            f"Speed [{display.speed_unit}]",
            display.word("Tires"),
            "Remark",
            "Gear",
            "Engine [rpm]",
            "Load [%]",
            f"Headwind that costs a gear [{display.speed_unit}]",
        ),
        cells,
        words=3,
    )


def logged_climb_table(results: Tree, display: Display) -> Table:
    cells = []
    for row in rows(results, "mountain", "climbs"):
        for side in NEWEST_FIRST:
            seen = branch(row, side)
            if not seen:
                continue
            lowest = number(seen.get("lowest_speed_kmh"))
            warmth = [
                number(seen.get(f"peak_{what}_c")) for what in ("coolant", "transmission_oil")
            ]
            cells.append(
                (
                    text(row.get("name")),
                    display.tires(side),
                    plain(number(seen.get("passes")), 0),
                    plain(number(row.get("mean_grade_percent")), 1),
                    plain(None if lowest is None else display.speed(lowest), 0),
                    percent_of(number(seen.get("full_load_share"))),
                    *(plain(None if c is None else display.temperature(c), 0) for c in warmth),
                )
            )
    return table(
        "Climbs found in the logs",
        (
            "Climb",
            display.word("Tires"),
            "Passes",
            "Mean grade [%]",
            f"Slowest [{display.speed_unit}]",
            "At full load",
            f"Highest coolant [{display.temperature_unit}]",
            f"Highest transmission oil [{display.temperature_unit}]",
        ),
        cells,
        words=2,
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


def engine_table(results: Tree, display: Display) -> Table:
    """Engine speed by gear at round road speeds."""
    fastest = number(dig(results, "declared", "vehicle", "engine", "governed_rpm")) or 4000.0
    speeds = (30.0, 40.0, 50.0, 60.0, 70.0) if display.us else (50.0, 65.0, 80.0, 90.0, 105.0)
    at = display.speed(1.0)  # of a km/h
    cells = []
    for gear in rows(results, "gears"):
        for side in SIDES:
            per_km = number(dig(gear, side, "rev_per_km"))
            if per_km is None:
                continue
            shown = [per_km * speed / at / 60 for speed in speeds]
            if shown[0] <= fastest:
                told = (digits(rpm, 0) if rpm <= fastest else "-" for rpm in shown)
                cells.append((_gear_name(gear), display.tires(side), *told))
    unnumbered = any(gear.get("labelled") is False for gear in rows(results, "gears"))
    return table(
        "Engine speed [rpm]",
        ("Gear", display.word("Tires"), *(f"at {s:.0f} {display.speed_unit}" for s in speeds)),
        cells,
        words=2,
        note=f"A dash: above {digits(fastest, 0)} rpm." + (_NUMBERED if unnumbered else ""),
    )


_NUMBERED = " The study gives no gear ratios, so gears are numbered as found, the lowest first."


def _gear_name(gear: Tree) -> str:
    found = gear.get("gear")
    return str(found) if isinstance(found, int | str) else digits(number(found) or 0, 0)


_GEAR_USE = ("Turns", "Time", "Distance")


def gear_table(results: Tree, display: Display) -> Table:
    """Gears with their ratio, engine turns per distance, and how they were used."""
    unit = "turns per mile" if display.us else "turns per km"
    cells = []
    for gear in rows(results, "gears"):
        sides = [branch(gear, side) for side in SIDES]
        ratio = number(gear.get("ratio"))
        turns = [number(side.get("rev_per_km")) for side in sides]
        cells.append(
            (
                _gear_name(gear),
                digits(ratio, 2) if ratio is not None else "not known",
                *(digits(display.revolutions(t), 0) if t is not None else "-" for t in turns),
                *(percent_of(number(side.get("time_share"))) for side in sides),
                *(percent_of(number(side.get("distance_share"))) for side in sides),
            )
        )
    return table(
        f"Gears: engine {unit}, and how much of the time and distance each gear was in use",
        (
            "Gear",
            "Ratio",
            *(
                f"{what}, {display.tires(s)}"
                for what in ("Turns", "Time", "Distance")
                for s in SIDES
            ),
        ),
        cells,
    )


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
