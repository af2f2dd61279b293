"""Candidates in words and cells, for the page and for the terminal alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits, economy_percent, signed
from gearing.report.phrases import capital
from gearing.report.reading import Tree, branch, number, rows, text

if TYPE_CHECKING:
    from collections.abc import Callable

PERIODS = {"before": "before", "after": "after"}

NO_WHOLE = (
    "None is best as a whole: what is gained in one column is paid in another, and only the "
    "owner knows which counts."
)
FUEL = (
    "Fuel is what revolutions and losses change, on the same rolling resistance: what another "
    "tread, width or maker does to it is not known, and may be more."
)
MAKERS = (
    "Load and clearance are not judged here. The load index of each tire, single and dual, and "
    "its pressure against each axle's weight, rim, dual spacing and clearance are for the tire and "
    "vehicle makers' tables; an axle ratio for the makers of axle, engine and transmission. Each "
    "computer that counts wheel turns has to be set anew."
)
SAFETY = (
    "Posted limits, grade signs and the makers' data come first. No speed is recommended, and "
    "the state of the brakes and the grip of the tires are not known here."
)


@dataclass(frozen=True, slots=True)
class Row:
    """One row with how it is named: `label` a number or a period, `name` the user's own."""

    label: str
    name: str
    tree: Tree

    @property
    def period(self) -> str:
        return text(self.tree.get("period"))


def comparison_rows(results: Tree) -> list[Row]:
    """The periods' own tires, then the candidates in the order of the study."""
    found = [
        Row("", PERIODS.get(text(one.get("period")), ""), one)
        for one in rows(results, "candidates_basis", "references")
    ]
    for place, one in enumerate(rows(results, "candidates"), start=1):
        found.append(Row(str(place), text(one.get("name")), one))
    return found


def tire_of(row: Tree, display: Display) -> str:
    """The tire as written, or by its published revolutions where no size was given."""
    named = text(row.get("drive_tire"))
    if named:
        return named
    turns = number(branch(row, "revolutions_per_km"))
    unit = "/mi" if display.us else "/km"
    return "-" if turns is None else f"{digits(display.revolutions(turns), 0)}{unit}"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: key of its figure, heading with its unit, decimals, how it is shown."""

    key: str
    head: str
    places: int = 0
    turned: Callable[[float], float] = float
    sign: bool = False
    interval: bool = False


def gearing_columns(display: Display, at_kmh: float) -> tuple[Column, ...]:
    at = f"{digits(display.speed(at_kmh), 0)} {display.speed_unit}"
    return (
        Column("gearing_change_percent", "Engine speed [%]", 1, sign=True),
        Column("indicated_kmh", f"Dash at a true {at}", 1, display.speed),
        Column("engine_rpm", f"Engine at {at} [rpm]"),
        Column("restoring_axle_ratio", "Restoring axle", 2),
        Column("startability_percent", "Sets off on [%]", 0),
    )


def route_columns(display: Display) -> tuple[Column, ...]:
    """What holds for all routes together and for each."""
    fuel = f"{capital(display.fuel_word)} [%]"
    economy = economy_percent if display.us else float
    return (
        Column("top_gear_share", "Top gear [% of time]", 0, lambda one: 100 * one),
        Column("sustained_lowest_kmh", f"Slowest climb [{display.speed_unit}]", 0, display.speed),
        Column("downshifts_under_drive", "Downshifts", 0),
        Column("fuel_change_percent", fuel, 1, economy, sign=True, interval=True),
        Column("brake_kwh", "Service brakes [kWh]", 1, interval=True),
    )


def sustains_column() -> Column:
    return Column("top_gear_sustains_percent", "Top gear sustains [%]", 1)


def shown(column: Column, figure: Tree, *, marks: tuple[str, str] = ("", "")) -> str:
    """A figure's cell; the mark of the best, or of one of several that may be, goes before it."""
    value = number(figure)
    if value is None:
        return "-"
    told = _told(column, column.turned(value))
    low, high = (number(figure.get(end)) for end in ("low", "high"))
    if column.interval and low is not None and high is not None and low != high:
        ends = sorted((column.turned(low), column.turned(high)))
        told += f" ({_told(column, ends[0])} to {_told(column, ends[1])})"
    standing = text(figure.get("standing"))
    mark = {"best": marks[0], "tie": marks[1]}.get(standing, "")
    return f"{mark}{told}"


def _told(column: Column, value: float) -> str:
    return signed(value, column.places) if column.sign else digits(value, column.places)


def gear_down(drive: Tree, display: Display) -> str:
    """The gear that holds the steepest stretch down and what it holds there."""
    gear, held = number(drive.get("gear_down")), number(drive.get("held_speed_kmh"))
    if gear is None or held is None:
        return "none"
    return f"{digits(gear, 0)} at {digits(display.speed(held), 0)}"


def compared_with(results: Tree, display: Display) -> str:
    """In a sentence, what changes are against."""
    basis = branch(results, "candidates_basis")
    period = text(basis.get("compared_with"))
    row = next((one for one in rows(basis, "references") if text(one.get("period")) == period), {})
    axle = number(row.get("axle_ratio"))
    with_axle = "" if axle is None else f" with the axle of {digits(axle, 2)}"
    return f"Changes are against [{period}]: {tire_of(row, display)}{with_axle}."


def notes_of(row: Row) -> list[str]:
    """What is told of a row in words, and why a figure of its gearing is missing."""
    told = [text(note) for note in row.tree.get("notes", ())]
    why = text(branch(row.tree, "figures", "indicated_kmh").get("why"))
    return [*told, f"{capital(why.rstrip('.'))}."] if why else told


def marked(results: Tree) -> bool:
    """Whether any figure is marked as best or as one that may be."""
    return any(
        text(figure.get("standing"))
        for row in comparison_rows(results)
        for tree in (row.tree, *rows(row.tree, "drives"))
        for figure in branch(tree, "figures").values()
    )


def missing_routes(results: Tree) -> str:
    why = text(branch(results, "candidates_basis").get("why"))
    return f"Routes: {why.rstrip('.')}." if why else ""
