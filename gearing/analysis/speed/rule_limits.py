"""Which readings of the needle count, and what is said where there is none."""

from __future__ import annotations

from gearing.messages import message
from gearing.units import KMH_MPS

SLOWEST_READ_MPS = 5.0  # slower, a unit either way is too much of it
# beyond what a needle and other tires do together: common practice, no source
MAX_OFF_SHARE, MAX_OFF_KMH = 0.25, 4.0
NO_NEEDLE = message("rule-open/no-reading")


def far_off(shown_mps: float, true_mps: float) -> bool:
    """Whether a reading is too far from the true speed to be a needle's at that moment."""
    return abs(shown_mps - true_mps) > MAX_OFF_SHARE * true_mps + MAX_OFF_KMH * KMH_MPS
