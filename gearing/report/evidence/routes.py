"""Tables of the routes: verdicts, top gear, up, down, grade by grade."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gearing.messages.display import Display, digits, signed
from gearing.report.phrases import percent_of, plain
from gearing.report.reading import NEWEST_FIRST, Tree, branch, number, rows, text
from gearing.report.tables import Table, of_rows, table
from gearing.report.views.mountain import brake_work, care, top_gear_number, verdict, ways


@dataclass(frozen=True, slots=True)
class Driven:
    """One way of a route, or a part of it, on one set of tires."""

    route: str
    tires: str
    drive: Tree
    part: Tree


Column = tuple[str, Callable[[Driven], str]]


def _driven(results: Tree, display: Display, part: str = "") -> list[Driven]:
    """Every way on each set of tires; with `part`, every row of that list along it."""
    return [
        Driven(name, display.tires(side), drive, found)
        for name, way in ways(results)
        for found in (rows(way, part) if part else [way])
        for side in NEWEST_FIRST
        if (drive := branch(found, side))
    ]


def _figure(
    head: str, key: str, places: int, turn: Callable[[float], float] | None = None
) -> Column:
    """A column of the drive's figure under `key`."""

    def tell(row: Driven) -> str:
        value = number(row.drive.get(key))
        return plain(turn(value) if turn is not None and value is not None else value, places)

    return head, tell


def _names(display: Display) -> list[Column]:
    return [("Route", lambda row: row.route), (display.word("Tires"), lambda row: row.tires)]


def verdict_table(results: Tree, display: Display) -> Table:
    """Each way's verdict in its two parts, and what to watch."""
    cells = [
        (
            name,
            verdict(way),
            text(way.get("change")) or "-",
            text(way.get("vehicle")) or "-",
            care(way) or "-",
        )
        for name, way in ways(results)
    ]
    heads = ("Route", "Verdict", "The change alone", "The vehicle on this road", "What to watch")
    new = "new " if display.role == "changed" else ""
    return table(f"Does the {new}gearing suit?", heads, cells, words=5)


def top_gear_table(results: Tree, display: Display) -> Table:
    """Does top gear still serve each route?"""

    def places(row: Driven) -> str:
        at = row.drive.get("downshifts_at_km")
        found = [number(km) for km in at] if isinstance(at, list | tuple) else []
        return ", ".join(plain(display.distance(km), 1) for km in found if km is not None) or "-"

    def share(row: Driven) -> str:
        top = branch(row.drive, "gear_time_share").get(top_gear_number(row.drive))
        return percent_of(number(top) or 0.0)

    driven = [row for row in _driven(results, display) if branch(row.drive, "gear_time_share")]
    return of_rows(
        "Does top gear still serve?",
        driven,
        [
            *_names(display),
            _figure("Top gear sustains [%]", "top_gear_sustains_percent", 1),
            ("Top gear's share of the time", share),
            _figure("Downshifts under drive", "downshifts_under_drive", 0),
            (f"at [{display.distance_unit}]", places),
            _figure("Hunting", "hunting", 0),
            _figure("Minutes climbing with the converter open", "converter_open_minutes", 1),
        ],
        words=2,
        note=(
            "The grade that top gear sustains at full load at the speed wanted on most of the "
            "route. Hunting: to and fro between two gears and back within a minute."
        ),
    )


def climb_table(results: Tree, display: Display) -> Table:
    """Time, fuel, the slowest point and the work of the gearbox."""

    def slowest(row: Driven) -> str:
        at = number(row.drive.get("lowest_speed_kmh"))
        return _with_spread(at, branch(row.drive, "spread", "lowest_speed_kmh"), display)

    return of_rows(
        "Up the routes",
        _driven(results, display),
        [
            *_names(display),
            _figure("Minutes", "minutes", 1),
            _figure(f"Fuel [{display.volume_unit}]", "liters", 1, display.volume),
            (f"Slowest [{display.speed_unit}]", slowest),
            _figure("in gear", "gear_at_lowest", 0),
            _figure("at engine [rpm]", "engine_rpm_at_lowest", 0),
            ("Downshifts", _shifts),
            _figure("Minutes at full load", "minutes_at_full_load", 1),
            _figure("Room before the next downshift [%]", "margin_before_downshift_percent", 0),
        ],
        words=2,
    )


def _shifts(row: Driven) -> str:
    """Downshifts, and how many of them are hunting between two gears."""
    hunting = number(row.drive.get("hunting"))
    shown = plain(number(row.drive.get("downshifts")), 0)
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
    """The gear that holds each descent, and what is left to the brakes."""

    def down(row: Driven) -> Tree:
        return branch(row.drive, "descent")

    def held(row: Driven) -> str:
        kmh = number(down(row).get("held_speed_kmh"))
        spread = branch(down(row), "held_spread_kmh")
        return "none holds" if kmh is None else _with_spread(kmh, spread, display)

    steepest = f"Steepest {digits(display.height(500), 0)} {display.height_unit} [%]"
    return of_rows(
        "Down the routes",
        [row for row in _driven(results, display) if down(row)],
        [
            *_names(display),
            (steepest, lambda row: plain(number(down(row).get("steepest_percent")), 1)),
            ("Gear", lambda row: plain(number(down(row).get("gear")), 0)),
            (f"Speed held there [{display.speed_unit}]", held),
            ("Work of the service brakes [kWh]", lambda row: brake_work(row.drive)),
            ("Their share", lambda row: percent_of(number(down(row).get("brake_share")))),
            (
                "Work of the retarder [kWh]",
                lambda row: plain(number(down(row).get("retarder_kwh")) or None, 1),
            ),
        ],
        words=2,
        note=_DESCENT,
    )


_DESCENT = (
    "What engine and retarder do not hold back falls to the service brakes. The gear is the "
    "highest that holds the steepest stretch at or under the speed wanted there, and does so in 95 "
    "of 100 simulated drives; where none does, the lowest that can be driven at that speed. The "
    "work of the brakes is that at the speed wanted, not at the speed held: the mean of the drives "
    "simulated and the range of 95 % of them. In half of them the driver changes down in time, in "
    "half the gear stays as on the level and the brakes do the rest. A retarder that is off leaves "
    "its work to the brakes too, beyond that range, and one that fades a part of it."
)


def grade_table(results: Tree, display: Display) -> Table:
    """Grade by grade along every route."""

    def stretch(row: Driven) -> str:
        ends = (number(row.part.get(key)) for key in ("from_km", "to_km"))
        return " to ".join(plain(None if km is None else display.distance(km), 1) for km in ends)

    return of_rows(
        "Grade by grade",
        [
            row
            for row in _driven(results, display, "sections")
            if None not in (number(row.part.get("from_km")), number(row.part.get("to_km")))
        ],
        [
            ("Route", lambda row: row.route),
            (f"From, to [{display.distance_unit}]", stretch),
            (display.word("Tires"), lambda row: row.tires),
            ("Mean grade [%]", lambda row: signed(number(row.part.get("mean_grade_percent")) or 0)),
            _figure(f"Slowest [{display.speed_unit}]", "lowest_speed_kmh", 0, display.speed),
            _figure("Gear", "gear", 0),
            _figure("Engine [rpm]", "engine_rpm", 0),
            ("Time at full load", lambda row: percent_of(number(row.drive.get("full_load_share")))),
            _figure("Brakes [kWh]", "brake_kwh", 1),
        ],
        words=3,
        limit=80,
    )
