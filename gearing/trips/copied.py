"""A speed that is written twice: the receiver's under the vehicle's heading, or the other way."""

from __future__ import annotations

import numpy as np

from gearing.messages import Message, message
from gearing.statistics.arrays import Array
from gearing.trips.clock import Channels
from gearing.trips.receiver import speed_over_positions

RECEIVER, BUS = "gps_speed_mps", "indicated_speed_mps"
# two instruments agree to the last digit in a few rows, a copy in all but stray ones
DRIVES_MPS, MIN_ROWS, SHARE, SAME_MPS = 3.0, 100, 0.98, 1e-3
MIN_VALUES = 20


def without_copy(
    logged: Channels, clock_s: Array, interval_s: float
) -> tuple[Channels, Message | None]:
    """Without the one of two equal speeds that is a copy, and what is told of it.

    Positions tell which: a vehicle's speed is off from their way, a receiver's is not. Where they
    do not tell, nothing is known of the receiver's.
    """
    _, receiver, bus = logged.known(RECEIVER, BUS)
    drives = np.maximum(receiver, bus) > DRIVES_MPS
    same = np.abs(receiver - bus)[drives] < SAME_MPS
    if len(same) < MIN_ROWS or np.mean(same) < SHARE or len(np.unique(bus)) < MIN_VALUES:
        return logged, None
    name = BUS if speed_over_positions(logged, clock_s, interval_s) == 1.0 else RECEIVER
    values = {one: found for one, found in logged.values.items() if one != name}
    told = message("speed-copied/bus" if name == BUS else "speed-copied/receiver")
    return Channels(logged.time_s, values), told
