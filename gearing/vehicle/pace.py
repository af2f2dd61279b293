"""How hard a driver of a heavy vehicle speeds up and slows down, by speed.

What the declaration data of the European procedure for the CO2 of heavy vehicles (Commission
Regulation (EU) 2017/2400) let the driver of a truck take at most: 1 m/s2 up to 25 km/h, from there
in a straight line to 0.5 m/s2 at 60 km/h and above; slowing down 1 m/s2 up to 50 km/h and 0.5 m/s2
from 60 km/h on. Other drivers take a share of it, their pace.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from typing import TypeVar

    from gearing.units import Array

    _Speed = TypeVar("_Speed", float, Array)

_MAX, _FAST_MAX = 1.0, 0.5
_GAINS = (25 / 3.6, 60 / 3.6)
_LOSES = (50 / 3.6, 60 / 3.6)
GENTLE_PACE = 0.5  # half of either


def acceleration_mps2(speed_mps: Array) -> Array:
    """What is gained at most [m/s2] at each speed; same shape."""
    return np.minimum(np.maximum(_on_line(speed_mps, *_GAINS), _FAST_MAX), _MAX)


def deceleration_mps2(speed_mps: float) -> float:
    """What is lost at most [m/s2] at a speed, ahead of a bend, a limit or a halt."""
    return min(max(_on_line(speed_mps, *_LOSES), _FAST_MAX), _MAX)


def _on_line(speed_mps: _Speed, slow: float, fast: float) -> _Speed:
    return _MAX - (_MAX - _FAST_MAX) / (fast - slow) * (speed_mps - slow)
