"""Tire sizes side by side: what size arithmetic, or a published figure, can say of a change."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from gearing.messages import GearingError, Problem, Severity
from gearing.study.tire_words import suggestion
from gearing.study.vehicle import LARGEST_SIZE_DISAGREEMENT
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
PUBLISHED_SHARE = 0.01  # what one tire may differ from the published figure by: common practice
TEXT_WIDTH = 92


@dataclass(frozen=True, slots=True)
class SizeFigures:
    """What follows from one size by the nominal rules; the range is that of the rolling rule.

    `basis` is "published" where a figure stood behind the size: then revolutions and circumference
    are its, the range one tire's of that figure.
    """

    size: str
    construction: Construction
    diameter_m: float
    diameter_source: str
    rolling_circumference_m: float
    revolutions_per_km: float
    revolutions_per_km_low: float
    revolutions_per_km_high: float
    basis: Literal["size", "published"] = "size"


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
    return compare_all((old, new))[0]


def compare_all(texts: Sequence[str]) -> tuple[SizeComparison, ...]:
    """Each size but the first against the first, as `compare_sizes` does; all faults at once.

    Revolutions published for the tire may stand behind its size: `275/70R22.5@541`, a mile or a
    km, whichever the size bears out.
    """
    read: list[tuple[TireSize, SizeFigures]] = []
    problems: list[Problem] = []
    for text in texts:
        try:
            read.append(_read(text))
        except ValueError as error:
            problems.append(_problem(text, str(error)))
    if problems:
        raise GearingError(tuple(problems))
    return tuple(
        _compared(read[0], other, (texts[0], text))
        for other, text in zip(read[1:], texts[1:], strict=True)
    )


def _compared(
    old: tuple[TireSize, SizeFigures], new: tuple[TireSize, SizeFigures], texts: tuple[str, str]
) -> SizeComparison:
    a, b = old[1], new[1]
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
        cautions=_cautions(old[0], new[0], texts),
    )


def _read(text: str) -> tuple[TireSize, SizeFigures]:
    """A size, and its figures by its own rule or as published behind it."""
    name, at, figure = text.partition("@")
    size = parse_size(name)
    by_size = _figures(size)
    if not at:
        return size, by_size
    per_km = _published_per_km(text, figure, by_size.revolutions_per_km)
    return size, replace(
        by_size,
        rolling_circumference_m=1000 / per_km,
        revolutions_per_km=per_km,
        revolutions_per_km_low=per_km * (1 - PUBLISHED_SHARE),
        revolutions_per_km_high=per_km * (1 + PUBLISHED_SHARE),
        basis="published",
    )


def _published_per_km(text: str, figure: str, by_size: float) -> float:
    """Revolutions a km [1/km]; a mile has 1.609 times as many, so the size tells which is meant.

    Raises
    ------
    ValueError
        the figure is no number, or fits the size neither a mile nor a km.
    """
    try:
        number = float(figure.strip())
    except ValueError:
        number = math.nan
    for per_km in (convert(number, "1/mi", "1/km"), number):
        if abs(per_km / by_size - 1) <= LARGEST_SIZE_DISAGREEMENT:
            return per_km
    per_mile = convert(by_size, "1/km", "1/mi")
    raise ValueError(
        f"{text!r}: the figure behind the @ is to be the revolutions published for the tire, near "
        f"{per_mile:.0f} a mile or {by_size:.0f} a km by its size"
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
    close = None if "@" in text else suggestion(text)
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
    by_size = [one for one in (comparison.old, comparison.new) if one.basis == "size"]
    kinds = dict.fromkeys(one.construction for one in by_size)
    rules = " and ".join(f"{ROLLING_PER_DIAMETER[kind]} x diameter ({kind})" for kind in kinds)
    told = [f"{rules} at rated load, good to {ROLLING_TOLERANCE_HIGH * 100:g} % for one tire"]
    if len(by_size) < 2:
        told = told[: len(by_size)]
        told.append(f"as published, good to {PUBLISHED_SHARE * 100:g} % for one tire")
    sources = dict.fromkeys((comparison.old.diameter_source, comparison.new.diameter_source))
    first = (
        f"Diameter: {'; '.join(sources)}. Rolling circumference: {'; '.join(told)}; at worst the "
        f"change lies between {_signed(low)} and {_signed(high)} %."
    )
    return [textwrap.fill(note, TEXT_WIDTH) for note in (first, *comparison.cautions)]
