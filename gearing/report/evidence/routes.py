"""Tables of the routes: verdicts, top gear, climbs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits
from gearing.report.phrases import shown
from gearing.report.reader import NEWEST_FIRST, sides_of
from gearing.report.tables import Grid, Table
from gearing.report.views.mountain import top_gear_share, ways

if TYPE_CHECKING:
    from gearing.analysis.mountain.result import GradeSection, RouteSide, SectionSide, Spread
    from gearing.results.record import Results

_TOP_GEAR = (
    "The grade that top gear sustains at full load at the speed wanted on most of the route. "
    "Downshifts while pulling are those with the engine driving, and not those for a descent or to "
    "slow. Hunting: to and fro between two gears and back within a minute."
)


@dataclass(frozen=True, slots=True)
class _Driven:
    """One way of a route on one set of tires."""

    route: str
    tires: str
    drive: RouteSide


def _driven(results: Results, display: Display) -> list[_Driven]:
    return [
        _Driven(name, display.tires(side), drive)
        for name, way in ways(results.routes)
        for side, drive in sides_of(way, NEWEST_FIRST)
    ]


def _grid(rows: list[_Driven], display: Display) -> Grid[_Driven]:
    tires = display.word("Tires")
    return Grid(rows).words("Route", lambda row: row.route).words(tires, lambda row: row.tires)


def verdict_table(results: Results, display: Display) -> Table:
    """Each way's verdict in its two parts."""
    new = "new " if display.role == "changed" else ""
    return (
        Grid(ways(results.routes))
        .words("Route", lambda row: row[0])
        .words("Verdict", lambda row: row[1].verdict)
        .words("The change alone", lambda row: row[1].change)
        .words("The vehicle on this road", lambda row: row[1].vehicle)
        .table(f"Does the {new}gearing suit?")
    )


def top_gear_table(results: Results, display: Display) -> Table:
    """Does top gear still serve each route?"""

    def places(row: _Driven) -> str:
        """Where the downshifts while pulling are."""
        return ", ".join(shown(km, 1, display.distance) for km in row.drive.downshifts_at_km)

    driven = [row for row in _driven(results, display) if row.drive.gear_time_share]
    minutes = "Minutes climbing with the converter open"
    return (
        _grid(driven, display)
        .figure("Top gear sustains [%]", lambda row: row.drive.top_gear_sustains_percent, 1)
        .told("Top gear's share of the time", lambda row: top_gear_share(row.drive))
        .figure("Downshifts while pulling", lambda row: row.drive.downshifts_under_drive)
        .told(f"at [{display.distance_unit}]", places)
        .figure("Hunting", lambda row: row.drive.hunting)
        .figure(minutes, lambda row: row.drive.converter_open_minutes, 1)
        .table("Does top gear still serve?", note=_TOP_GEAR)
    )


def climb_table(results: Results, display: Display) -> Table:
    """Time, fuel, the slowest point and the work of the gearbox."""

    def slowest(row: _Driven) -> str:
        """The slowest point with its range."""
        spread = row.drive.spread.get("lowest_speed_kmh")
        return _with_spread(row.drive.lowest_speed_kmh, spread, display)

    def shifts(row: _Driven) -> str:
        """Downshifts, and how many of them are hunting between two gears."""
        hunting = f", {row.drive.hunting} hunting" if row.drive.hunting else ""
        return f"{row.drive.downshifts}{hunting}"

    room = "Room before the next downshift [%]"
    return (
        _grid(_driven(results, display), display)
        .figure("Minutes", lambda row: row.drive.minutes, 1)
        .figure(f"Fuel [{display.volume_unit}]", lambda row: row.drive.liters, 1, display.volume)
        .told(f"Slowest [{display.speed_unit}]", slowest)
        .figure("in gear", lambda row: row.drive.gear_at_lowest)
        .figure("at engine [rpm]", lambda row: row.drive.engine_rpm_at_lowest)
        .told("Downshifts, all", shifts)
        .figure("Minutes at full load", lambda row: row.drive.minutes_at_full_load, 1)
        .figure(room, lambda row: row.drive.margin_before_downshift_percent)
        .table("Up the routes")
    )


def _with_spread(kmh: float, spread: Spread | None, display: Display) -> str:
    """A speed with the 95 % range over what is not known for sure."""
    told = digits(display.speed(kmh), 0)
    if spread is None:
        return told
    low, high = (digits(display.speed(one), 0) for one in (spread.low, spread.high))
    return f"{told} ({low} to {high})"


def grade_table(results: Results, display: Display) -> Table:
    """Grade by grade up every route; descents have a table of their own."""
    rows: list[tuple[str, GradeSection, str, SectionSide]] = [
        (name, part, display.tires(side), drive)
        for name, way in ways(results.routes)
        for part in way.sections
        if part.mean_grade_percent > 0
        for side, drive in sides_of(part, NEWEST_FIRST)
    ]

    def stretch(part: GradeSection) -> str:
        """From where to where."""
        return " to ".join(shown(km, 1, display.distance) for km in (part.from_km, part.to_km))

    return (
        Grid(rows)
        .words("Route", lambda row: row[0])
        .words(f"From, to [{display.distance_unit}]", lambda row: stretch(row[1]))
        .words(display.word("Tires"), lambda row: row[2])
        .figure("Mean grade [%]", lambda row: row[1].mean_grade_percent, 1, sign=True)
        .figure(
            f"Slowest [{display.speed_unit}]", lambda r: r[3].lowest_speed_kmh, 0, display.speed
        )
        .figure("Gear", lambda row: row[3].gear)
        .figure("Engine [rpm]", lambda row: row[3].engine_rpm)
        .percent("Time at full load", lambda row: row[3].full_load_share)
        .table("Climb by climb", limit=80)
    )
