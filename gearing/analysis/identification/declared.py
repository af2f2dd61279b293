"""What the study declares of tires, axle and gears, as evidence: a value with an error each.

Sources of the errors: a size gives its rolling circumference to 2.5 % (UN Regulation 54 and ETRTO
tolerances, `gearing.vehicle.tire`), a published figure to 1 % of one tire (SAE J1025, common
practice), an axle or gear ratio to half a unit of its last digit. Each may be plainly wrong: a
mistyped figure, another vehicle's sheet (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearing.analysis.sides import BySide, by_side
from gearing.statistics.arrays import Array
from gearing.study.model import Period, Study
from gearing.vehicle.tire import parse_size

SIZE_ERROR = 0.0125  # standard error in logs: 2.5 % at 95 %
PUBLISHED_ERROR = 0.005  # 1 % at 95 %
MIN_AXLE_DECIMALS = 2
DIRECT = 1e-4  # a gear of 1.00 is the shaft straight through


@dataclass(frozen=True, slots=True)
class Figure:
    """ln of a declared figure, its standard error, and the study's key for it."""

    log: float
    error: float
    key: str


@dataclass(frozen=True, slots=True)
class Declared:
    """`size` and `published`: rolling circumference [ln m] by either. `axle`: ratio of each
    period. `ratios`: ln of the gear ratios, lowest gear first, with their errors."""

    axle: BySide[Figure | None]
    size: BySide[Figure | None]
    published: BySide[Figure | None]
    ratios: Array
    ratio_errors: Array
    speed_source: str
    own_axle: bool  # the after period declares an axle ratio other than the before period's


def declared_evidence(study: Study) -> Declared:
    """The study's figures of tires, axle and gears."""
    ratios = np.array(study.vehicle.gear_ratios, dtype=np.float64)
    half = 0.5 * 10.0 ** -_decimals(study.vehicle.gear_ratios)
    axle = by_side(lambda side: _axle(study, side))
    return Declared(
        axle=axle,
        size=by_side(lambda side: _size(study.period(side), side)),
        published=by_side(lambda side: _published(study.period(side), side, study.units)),
        ratios=np.log(ratios),
        ratio_errors=np.where(ratios == 1.0, DIRECT, half / np.sqrt(3) / np.maximum(ratios, 0.1)),
        speed_source=study.vehicle.speed_source,
        own_axle=axle.before is not None and axle.after is not None
        and axle.before.log != axle.after.log,
    )  # fmt: skip


def _decimals(values: tuple[float, ...]) -> int:
    """Digits behind the point of the figure given most exactly; TOML keeps no trailing zeros."""
    return max((len(repr(v).partition(".")[2].rstrip("0")) for v in values), default=0)


def _axle(study: Study, side: str) -> Figure | None:
    ratio = study.axle_ratio(side)
    if ratio is None:
        return None
    period = study.period(side)
    own = period is not None and period.axle_ratio is not None
    half = 0.5 * 10.0 ** -max(_decimals((ratio,)), MIN_AXLE_DECIMALS)
    key = f"{side}.axle_ratio" if own else "vehicle.axle_ratio"
    return Figure(float(np.log(ratio)), half / np.sqrt(3) / ratio, key)


def _size(period: Period | None, side: str) -> Figure | None:
    if period is None:
        return None
    try:
        size = parse_size(period.drive_tire)
    except ValueError:
        return None
    return Figure(float(np.log(size.rolling_circumference_m)), SIZE_ERROR, f"{side}.drive_tire")


def _published(period: Period | None, side: str, units: str) -> Figure | None:
    if period is None or period.revolutions_per_km is None:
        return None
    key = "revolutions_per_mile" if units == "us" else "revolutions_per_km"
    value = float(np.log(1000 / period.revolutions_per_km))
    return Figure(value, PUBLISHED_ERROR, f"{side}.{key}")
