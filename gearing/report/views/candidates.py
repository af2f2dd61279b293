"""Candidates in words and cells, for the page and for the terminal alike."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits, economy_percent, signed
from gearing.report.phrases import capital, said, sentence, shown

if TYPE_CHECKING:
    from gearing.analysis.candidates.result import (
        CandidateDrive,
        CandidateRow,
        CandidatesBasis,
        Figure,
    )

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
class Choice:
    """One row and how it is named: a period, or a number and the user's own name."""

    name: str
    row: CandidateRow


def choices(candidates: Sequence[CandidateRow], basis: CandidatesBasis) -> list[Choice]:
    """The periods' own tires, then the candidates in the order of the study."""
    own = [Choice(one.period or "", one) for one in basis.references]
    return own + [Choice(f"{n} {one.name}", one) for n, one in enumerate(candidates, start=1)]


def tire_of(row: CandidateRow, display: Display) -> str:
    """The tire as written, or by its published revolutions where no size was given."""
    turns = row.revolutions_per_km.value
    if row.drive_tire or turns is None:
        return row.drive_tire or "-"
    return f"{digits(display.revolutions(turns), 0)}{'/mi' if display.us else '/km'}"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: key of its figure, heading with its unit, decimals, how it is shown."""

    key: str
    head: str
    places: int = 0
    turned: Callable[[float], float] = float
    sign: bool = False
    interval: bool = False

    def cell(self, figures: Mapping[str, Figure], marks: tuple[str, str] = ("", "")) -> str:
        """A figure's cell; the mark of the best, or of one of several that may be, before it."""
        figure = figures.get(self.key)
        if figure is None or figure.value is None:
            return "-"
        told = self._told(self.turned(figure.value))
        low, high = figure.low, figure.high
        if self.interval and low is not None and high is not None and low != high:
            first, last = sorted((self.turned(low), self.turned(high)))
            told += f" ({self._told(first)} to {self._told(last)})"
        mark = "" if figure.standing is None else marks[figure.standing != "best"]
        return f"{mark}{told}"

    def _told(self, value: float) -> str:
        return signed(value, self.places) if self.sign else digits(value, self.places)


def gearing_columns(display: Display, at_kmh: float) -> tuple[Column, ...]:
    """What the gearing alone changes, at one true speed [km/h]."""
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
        Column("downshifts_under_drive", "Downshifts while pulling", 0),
        Column("fuel_change_percent", fuel, 1, economy, sign=True, interval=True),
        Column("brake_kwh", "Service brakes [kWh]", 1, interval=True),
    )


SUSTAINS = Column("top_gear_sustains_percent", "Top gear sustains [%]", 1)


def gear_down(drive: CandidateDrive, display: Display) -> str:
    """The gear that holds the steepest stretch down and what it holds there."""
    if drive.gear_down is None or drive.held_speed_kmh is None:
        return "none"
    return f"{drive.gear_down} at {shown(drive.held_speed_kmh, 0, display.speed)}"


def compared_with(basis: CandidatesBasis, display: Display) -> str:
    """In a sentence, what changes are against."""
    found = [one for one in basis.references if one.period == basis.compared_with]
    tire = tire_of(found[0], display) if found else "-"
    axle = found[0].axle_ratio if found else None
    with_axle = "" if axle is None else f" with the axle of {digits(axle, 2)}"
    return f"Changes are against [{basis.compared_with}]: {tire}{with_axle}."


def notes_of(row: CandidateRow) -> list[str]:
    """What is told of a row in words, and why a figure of its gearing is missing."""
    shows = row.figures.get("indicated_kmh")
    told = [*map(said, row.notes), sentence(shows.why if shows is not None else "")]
    return [one for one in told if one]


def marked(every: Sequence[Choice]) -> bool:
    """Whether any figure is marked as best or as one that may be."""
    figures = [one.row.figures for one in every]
    figures += [drive.figures for one in every for drive in one.row.drives]
    return any(figure.standing for part in figures for figure in part.values())


def missing_routes(basis: CandidatesBasis) -> str:
    """Why the routes give no figures; empty where they do."""
    return f"Routes: {said(basis.why).rstrip('.')}." if basis.why else ""
