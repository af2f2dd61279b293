"""Two tire sizes side by side: what size arithmetic alone can say of a change."""

from __future__ import annotations

from dataclasses import dataclass

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


@dataclass(frozen=True, slots=True)
class SizeFigures:
    """What follows from one size by the nominal rules; the range is that of the rolling rule."""

    size: str
    construction: Construction
    diameter_m: float
    diameter_source: Message
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
        except MessageError as error:
            problems.append(_problem(text, error.told))
    if problems:
        raise GearingError(tuple(problems))
    a, b = _figures(sizes[0]), _figures(sizes[1])
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


def _problem(text: str, why: Message) -> Problem:
    close = suggestion(text)
    told = (
        message("study-size/near", why=why, size=UserText(close))
        if close
        else message("study-size", why=why)
    )
    return problem_of(told, value=text)


def _rule(old: SizeFigures, new: SizeFigures, low: float, high: float) -> Message:
    """What the figures follow from, and how good they are."""
    kinds = dict.fromkeys((old.construction, new.construction))
    rules = tuple(
        message(
            "size-rule/rolling",
            factor=Quantity(ROLLING_PER_DIAMETER[kind], "-", 2),
            radial=kind == "radial",
        )
        for kind in kinds
    )
    return message(
        "size-rule",
        sources=Items(tuple(dict.fromkeys((old.diameter_source, new.diameter_source))), ";"),
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
