"""What tread depth alone does to fuel, so that what the change of size did can be told apart.

New tread rolls harder than worn. Economy is 6 % better at half of the tread worn and 6.6 % at
80 % (makers' data, TMC RP 1111B); others say 2 to 4 % (common practice, no source). Taken are
eight tenths of the former, with a range that holds both.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.messages import message
from gearing.statistics.comparison import percent
from gearing.statistics.estimate import Estimate, unknown

if TYPE_CHECKING:
    from gearing.statistics.two_sides import SideChange
    from gearing.study.model import Study

WORN, GAINED = (0.0, 0.5, 0.8, 1.0), (0.0, 0.060, 0.066, 0.070)
SHARE, SHARE_ERROR = 0.8, 0.25
NEW_TREAD_M = 0.0145  # 18/32 in, the least of new drive tires; common practice, no source
MIN_TREAD_M = 0.0016  # 2/32 in: 49 CFR 393.75
# of the gain where nothing is declared: tires that are taken off are worn by anything from a
# little to nine tenths, those put on are new or nearly so
UNKNOWN_BEFORE, UNKNOWN_AFTER = (0.043, 0.023), (0.0, 0.010)


def kept_tires(study: Study) -> bool:
    """Whether both periods are declared the same to the tread."""
    before, after = study.before, study.after
    return (
        before is not None
        and after is not None
        and replace(before, logs=())
        == replace(after, side=before.side, logs=(), start=before.start)
    )


def tread_effect(study: Study) -> tuple[float, float]:
    """Logarithm of what the tread alone makes of consumption, after over before, and its error."""
    depths = [period.tread_m if period else None for period in (study.before, study.after)]
    new = max(NEW_TREAD_M, *(depth for depth in depths if depth is not None), 0.0)
    gains = []
    for depth, usual in zip(depths, (UNKNOWN_BEFORE, UNKNOWN_AFTER), strict=True):
        if depth is None:
            gains.append(usual)
        else:
            worn = (new - depth) / (new - MIN_TREAD_M)
            gains.append((float(np.interp(worn, WORN, GAINED)), 0.0))
    (before, before_error), (after, after_error) = gains
    gain = before - after
    return SHARE * gain, math.hypot(
        SHARE_ERROR * gain, SHARE * math.hypot(before_error, after_error)
    )


def size_alone(study: Study, change: SideChange | None) -> Estimate:
    """The adjusted change [%] less what the tread does to it, with the range of that."""
    if change is None:
        return unknown(message("needs-adjusted"))
    if kept_tires(study):
        return unknown(message("same-tires"))
    effect, error = tread_effect(study)
    alone = Estimate(
        change.value - effect,
        change.low - effect,
        change.high - effect,
        change.n_before + change.n_after,
        "adjusted-less-tread",
    )
    return alone.widened(error).map(percent)


def tread_percent(study: Study) -> Estimate:
    """What the tread alone makes of consumption [%], from published figures."""
    if kept_tires(study):
        return unknown(message("same-tires"))
    effect, error = tread_effect(study)
    known = Estimate(effect, effect, effect, None, "published-tread-wear")
    return known.widened(error).map(percent)
