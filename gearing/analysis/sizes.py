"""Two tire sizes side by side: what size arithmetic alone can say of a change."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import Literal

from gearing.messages import GearingError, Problem, Severity
from gearing.study.tire_words import suggestion
from gearing.units import INCH_M, convert
from gearing.vehicle.drivetrain import final_drive_change_percent, true_over_indicated
from gearing.vehicle.tire import (
    ROLLING_PER_DIAMETER,
    ROLLING_TOLERANCE_HIGH,
    Construction,
    TireSize,
    parse_size,
)

System = Literal["us", "metric"]

INDICATED_MPH = (55, 60, 65, 70, 75)
INDICATED_KMH = (80, 90, 100, 110)
TEXT_WIDTH = 92


@dataclass(frozen=True, slots=True)
class SizeFigures:
    """What follows from one size by the nominal rules; the range is that of the rolling rule."""

    size: str
    construction: Construction
    diameter_m: float
    diameter_source: str
    rolling_circumference_m: float
    revolutions_per_km: float
    revolutions_per_km_low: float
    revolutions_per_km_high: float


@dataclass(frozen=True, slots=True)
class SpeedRow:
    """True speed where a speedometer that was right on the old size indicates so much."""

    indicated_kmh: float
    true_kmh: float


@dataclass(frozen=True, slots=True)
class SizeComparison:
    """A change from `old` to `new`. Changes are new against old, in percent.

    `low` and `high` of the circumference's change are what the limits of the rolling rule
    allow at worst, each tire at its own end. `odometer_factor` is true over indicated distance
    for a computer left as it was and right before.
    """

    old: SizeFigures
    new: SizeFigures
    diameter_change_percent: float
    circumference_change_percent: float
    circumference_change_percent_low: float
    circumference_change_percent_high: float
    engine_speed_change_percent: float
    odometer_factor: float
    speeds: tuple[SpeedRow, ...]
    cautions: tuple[str, ...]


def compare_sizes(old: str, new: str) -> SizeComparison:
    """Compare two sizes as written on the sidewall.

    Raises
    ------
    GearingError
        for each text that is no size, with what it may have meant.
    """
    sizes: list[TireSize] = []
    problems: list[Problem] = []
    for text in (old, new):
        try:
            sizes.append(parse_size(text))
        except ValueError as error:
            problems.append(_problem(text, str(error)))
    if problems:
        raise GearingError(tuple(problems))
    a, b = _figures(sizes[0]), _figures(sizes[1])
    factor = true_over_indicated(a.revolutions_per_km, b.revolutions_per_km)
    indicated = (*INDICATED_KMH, *(convert(float(mph), "mph", "km/h") for mph in INDICATED_MPH))
    return SizeComparison(
        old=a,
        new=b,
        diameter_change_percent=(b.diameter_m / a.diameter_m - 1) * 100,
        circumference_change_percent=(factor - 1) * 100,
        circumference_change_percent_low=(a.revolutions_per_km_low / b.revolutions_per_km_high - 1)
        * 100,
        circumference_change_percent_high=(a.revolutions_per_km_high / b.revolutions_per_km_low - 1)
        * 100,
        engine_speed_change_percent=final_drive_change_percent(
            a.revolutions_per_km, b.revolutions_per_km
        ),
        odometer_factor=factor,
        speeds=tuple(SpeedRow(kmh, factor * kmh) for kmh in sorted(indicated)),
        cautions=_cautions(sizes[0], sizes[1], (old, new)),
    )


def _figures(size: TireSize) -> SizeFigures:
    low, high = size.revolutions_per_km_range
    return SizeFigures(
        size=size.designation,
        construction=size.construction,
        diameter_m=size.diameter_m,
        diameter_source=size.diameter_source,
        rolling_circumference_m=size.rolling_circumference_m,
        revolutions_per_km=size.revolutions_per_km,
        revolutions_per_km_low=low,
        revolutions_per_km_high=high,
    )


def _problem(text: str, words: str) -> Problem:
    close = suggestion(text)
    return Problem(
        code="study-size",
        severity=Severity.ERROR,
        told=words.replace("'", '"') + ".",
        fix=f"Did you mean {close}?" if close else "",
        value=text,
    )


def _cautions(old: TireSize, new: TireSize, texts: tuple[str, str]) -> tuple[str, ...]:
    found = [
        "Tires of one size differ by over 2 % with make, tread and wear. The maker's published "
        "revolutions per mile or km is better than any arithmetic from the size, and a drive "
        "with GPS better still."
    ]
    for size, text in zip((old, new), texts, strict=True):
        if size.construction == "bias":
            radial = size.designation.replace("-", "R")
            found.append(f"{text} is read as a bias-ply tire; write {radial} for a radial one.")
        rim = size.rim_diameter_m / INCH_M
        if round(rim, 3) in (19.0, 22.0, 24.0) and "/" in text:
            found.append(
                f"{text} has a rim of {rim:.0f} in; wheels of heavy vehicles are {rim:.0f}.5 in."
            )
    found.append(
        "Size says nothing of load: check the load index and pressure of the new tires against "
        "each axle's weight, single and dual, and the tire and vehicle makers' approvals."
    )
    if round(old.rim_diameter_m, 4) != round(new.rim_diameter_m, 4):
        found.append("The rim diameters differ: the new size needs other wheels.")
    if new.section_width_m > old.section_width_m:
        found.append(
            "The new size is wider: check rim width, the gap between duals, and clearance at "
            "full steering lock and full travel."
        )
    return tuple(found)


def as_text(comparison: SizeComparison, units: str) -> str:
    """The comparison as a table for the terminal, in US or metric units."""
    a, b = comparison.old, comparison.new
    us = units == "us"
    inch = 1 / INCH_M if us else 1000.0
    length, per, unit = ("in", "mile", "1/mi") if us else ("mm", "km", "1/km")
    places = 2 if us else 0

    def turns(per_km: float) -> str:
        return f"{convert(per_km, '1/km', unit):.0f}"

    def row(name: str, first: str, second: str, change: float | None = None) -> str:
        last = "" if change is None else f"{_signed(change)} %"
        return f"{name:<32}{first:>14}{second:>14}{last:>10}".rstrip()

    lines = [
        row("", a.size, b.size) + "    change",
        row(
            f"Diameter, {length}",
            f"{a.diameter_m * inch:.{places}f}",
            f"{b.diameter_m * inch:.{places}f}",
            comparison.diameter_change_percent,
        ),
        row(
            f"Rolling circumference, {length}",
            f"{a.rolling_circumference_m * inch:.{places}f}",
            f"{b.rolling_circumference_m * inch:.{places}f}",
            comparison.circumference_change_percent,
        ),
        row(
            f"Revolutions per {per}",
            turns(a.revolutions_per_km),
            turns(b.revolutions_per_km),
            comparison.engine_speed_change_percent,
        ),
        row(
            "  limits of the rule",
            f"{turns(a.revolutions_per_km_low)} to {turns(a.revolutions_per_km_high)}",
            f"{turns(b.revolutions_per_km_low)} to {turns(b.revolutions_per_km_high)}",
        ),
        row("Engine speed, same road speed", "", "", comparison.engine_speed_change_percent),
        "",
        f"A speedometer that is right on {a.size}, left as it is, on {b.size}:",
        *_speed_lines(comparison, us=us),
        "",
        *_notes(comparison),
    ]
    return "\n".join(lines)


def _signed(percent: float) -> str:
    return f"{percent:+.1f}".replace("-", "\N{MINUS SIGN}")


def _speed_lines(comparison: SizeComparison, *, us: bool) -> list[str]:
    unit = "mph" if us else "km/h"
    shown = INDICATED_MPH if us else INDICATED_KMH
    width = 8 if us else 9
    return [
        "  it shows " + "".join(f"{speed:>{width}}" for speed in shown) + f" {unit}",
        "  true     "
        + "".join(f"{speed * comparison.odometer_factor:>{width}.1f}" for speed in shown)
        + f" {unit}",
    ]


def _notes(comparison: SizeComparison) -> list[str]:
    low, high = (
        comparison.circumference_change_percent_low,
        comparison.circumference_change_percent_high,
    )
    kinds = dict.fromkeys((comparison.old.construction, comparison.new.construction))
    rules = " and ".join(f"{ROLLING_PER_DIAMETER[kind]} x diameter ({kind})" for kind in kinds)
    sources = dict.fromkeys((comparison.old.diameter_source, comparison.new.diameter_source))
    first = (
        f"Diameter: {'; '.join(sources)}. Rolling circumference: {rules} at rated load, good to "
        f"{ROLLING_TOLERANCE_HIGH * 100:g} % for one tire; at worst the change lies between "
        f"{_signed(low)} and {_signed(high)} %."
    )
    return [textwrap.fill(note, TEXT_WIDTH) for note in (first, *comparison.cautions)]
