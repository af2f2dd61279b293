"""Tire sizes side by side: what size arithmetic, or a published figure, can say of a change."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from gearing.messages import (
    GearingError,
    Items,
    Message,
    MessageError,
    Problem,
    Quantity,
    UserText,
    message,
    problem_of,
)
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

INDICATED_MPH = (55, 60, 65, 70, 75)
INDICATED_KMH = (80, 90, 100, 110)
PUBLISHED_SHARE = 0.01  # what one tire may differ from the published figure by: common practice


@dataclass(frozen=True, slots=True)
class SizeFigures:
    """What follows from one size by the nominal rules; the range is that of the rolling rule.

    `basis` is "published" where a figure stood behind the size: then revolutions and circumference
    are its, the range one tire's of that figure.
    """

    size: str
    construction: Construction
    diameter_m: float
    diameter_source: Message
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
    for a computer left as it was and right before. `rule` says what the figures follow from.
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
    rule: Message
    cautions: tuple[Message, ...]


def compare_all(texts: Sequence[str]) -> tuple[SizeComparison, ...]:
    """Each size but the first against the first, as written on the sidewall.

    Revolutions published for the tire may stand behind its size: `275/70R22.5@541`, a mile or a
    km, whichever the size bears out.

    Raises
    ------
    GearingError
        for each text that is no size, with what it may have meant.
    """
    sizes: list[_Read] = []
    problems: list[Problem] = []
    for text in texts:
        try:
            sizes.append(_read(text))
        except MessageError as error:
            problems.append(_problem(text, error.told))
    if problems:
        raise GearingError(tuple(problems))
    first, *others = sizes
    return tuple(_compared(first, one) for one in others)


@dataclass(frozen=True, slots=True)
class _Read:
    """A size as written, what it is and its figures."""

    text: str
    size: TireSize
    figures: SizeFigures


def _compared(old: _Read, new: _Read) -> SizeComparison:
    a, b = old.figures, new.figures
    factor = true_over_indicated(a.revolutions_per_km, b.revolutions_per_km)
    low = (a.revolutions_per_km_low / b.revolutions_per_km_high - 1) * 100
    high = (a.revolutions_per_km_high / b.revolutions_per_km_low - 1) * 100
    indicated = (*INDICATED_KMH, *(convert(float(mph), "mph", "km/h") for mph in INDICATED_MPH))
    return SizeComparison(
        old=a,
        new=b,
        diameter_change_percent=(b.diameter_m / a.diameter_m - 1) * 100,
        circumference_change_percent=(factor - 1) * 100,
        circumference_change_percent_low=low,
        circumference_change_percent_high=high,
        engine_speed_change_percent=final_drive_change_percent(
            a.revolutions_per_km, b.revolutions_per_km
        ),
        odometer_factor=factor,
        speeds=tuple(SpeedRow(kmh, factor * kmh) for kmh in sorted(indicated)),
        rule=_rule(a, b, low, high),
        cautions=_cautions(old.size, new.size, (old.text, new.text)),
    )


def _read(text: str) -> _Read:
    """A size, with its figures by its own rule or as published behind it."""
    name, at, figure = text.partition("@")
    size = parse_size(name)
    figures = _figures(size)
    if at:
        per_km = _published_per_km(text, figure, figures.revolutions_per_km)
        figures = replace(
            figures,
            rolling_circumference_m=1000 / per_km,
            revolutions_per_km=per_km,
            revolutions_per_km_low=per_km * (1 - PUBLISHED_SHARE),
            revolutions_per_km_high=per_km * (1 + PUBLISHED_SHARE),
            basis="published",
        )
    return _Read(text, size, figures)


def _published_per_km(text: str, figure: str, by_size: float) -> float:
    """Revolutions a km [1/km]; a mile has 1.609 times as many, so the size tells which is meant.

    Raises
    ------
    MessageError
        the figure is no number, or fits the size neither a mile nor a km.
    """
    try:
        number = float(figure.strip())
    except ValueError:
        number = math.nan
    for per_km in (convert(number, "1/mi", "1/km"), number):
        if abs(per_km / by_size - 1) <= LARGEST_SIZE_DISAGREEMENT:
            return per_km
    raise MessageError(
        message(
            "no-size/published",
            size=UserText(text),
            per_mile=round(convert(by_size, "1/km", "1/mi")),
            per_km=round(by_size),
        )
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


def _problem(text: str, why: Message) -> Problem:
    close = None if "@" in text else suggestion(text)
    told = (
        message("study-size/near", why=why, size=UserText(close))
        if close
        else message("study-size", why=why)
    )
    return problem_of(told, value=text)


def _rule(old: SizeFigures, new: SizeFigures, low: float, high: float) -> Message:
    """What the figures follow from, and how good they are."""
    by_size = [one for one in (old, new) if one.basis == "size"]
    kinds = dict.fromkeys(one.construction for one in by_size)
    rules = tuple(
        message(
            "size-rule/rolling",
            factor=Quantity(ROLLING_PER_DIAMETER[kind], "-", 2),
            radial=kind == "radial",
        )
        for kind in kinds
    )
    sources = Items(tuple(dict.fromkeys((old.diameter_source, new.diameter_source))), ";")
    if len(by_size) < 2:
        tolerance = Quantity(ROLLING_TOLERANCE_HIGH * 100, "%", 1)
        told = [message("size-rule/by-size", rule=one, tolerance=tolerance) for one in rules]
        told.append(message("size-rule/published", tolerance=Quantity(PUBLISHED_SHARE * 100, "%")))
        return message(
            "size-rule/with-published",
            sources=sources,
            rules=Items(tuple(told), ";"),
            low=Quantity(low, "%", 1, sign=True),
            high=Quantity(high, "%", 1, sign=True),
        )
    return message(
        "size-rule",
        sources=sources,
        rules=Items(rules),
        tolerance=Quantity(ROLLING_TOLERANCE_HIGH * 100, "%", 1),
        low=Quantity(low, "%", 1, sign=True),
        high=Quantity(high, "%", 1, sign=True),
    )


def _cautions(old: TireSize, new: TireSize, texts: tuple[str, str]) -> tuple[Message, ...]:
    found = [message("size-caution/spread")]
    for size, text in zip((old, new), texts, strict=True):
        written = UserText(text)
        if size.construction == "bias":
            radial = UserText(size.designation.replace("-", "R"))
            found.append(message("size-caution/bias", size=written, radial=radial))
        rim = size.rim_diameter_m / INCH_M
        if round(rim, 3) in (19.0, 22.0, 24.0) and "/" in text:
            found.append(message("size-caution/rim", size=written, rim=round(rim)))
    found.append(message("size-caution/load"))
    if round(old.rim_diameter_m, 4) != round(new.rim_diameter_m, 4):
        found.append(message("size-caution/wheels"))
    if new.section_width_m > old.section_width_m:
        found.append(message("size-caution/wider"))
    return tuple(found)
