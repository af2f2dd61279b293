"""When gears change: by shaft speed, with hysteresis, earlier or later with load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.vehicle.powertrain import Powertrain

    Array = NDArray[np.float64]

MIN_SHIFT_INTERVAL_S = 2.0


class Shifting:
    """Shift points as arrays by gear, and the rules of when a gear changes."""

    def __init__(self, powertrain: Powertrain, gears_down: NDArray[np.bool_] | bool = True) -> None:
        points = powertrain.shift_points
        self.up_light = np.asarray(points.up_light)
        self.up_more = np.asarray(points.up_full) - self.up_light
        self.down_light = np.asarray(points.down_light)
        self.down_more = np.asarray(points.down_full) - self.down_light
        self.governed_rpm = powertrain.engine.governed_rpm
        self.leaves_it = np.logical_not(gears_down)  # to the brakes what the gear does not hold
        self.top = len(powertrain.gear_ratios) - 1

    def choose(
        self,
        gear: NDArray[np.int64],
        rpm: Array,
        full: Array,
        braking: Array,
        needed: Array,
        since_s: Array,
    ) -> NDArray[np.int64]:
        """Steps of -1, 0 or 1. `rpm`, `full`, `braking` have shape (3, n): this gear, the next
        lower, the next higher; `needed` is the force wanted at the wheels."""
        load = np.clip(needed / np.maximum(full[0], 1.0), 0.0, 1.0)
        load_up = np.clip(needed / np.maximum(full[2], 1.0), 0.0, 1.0)
        down_at = self.down_light[gear] + load * self.down_more[gear]
        up_at = self.up_light[gear] + load * self.up_more[gear]
        higher = np.minimum(gear + 1, self.top)
        down_at_higher = self.down_light[higher] + load_up * self.down_more[higher]
        held = (-needed <= braking[0]) | self.leaves_it
        held_higher = (-needed <= braking[2]) | self.leaves_it
        up = (
            (rpm[0] > up_at)
            & (rpm[2] > down_at_higher * 1.03)
            & held_higher
            & ((full[2] >= needed) | (rpm[0] > 0.97 * self.governed_rpm))
        )
        over = rpm[0] > 1.02 * self.governed_rpm
        fits = rpm[1] <= self.governed_rpm
        down = ((rpm[0] < down_at) | ~held) & fits & (gear > 0)
        ready = since_s >= MIN_SHIFT_INTERVAL_S
        up = ((up & ready & ~down) | over) & (gear < self.top)
        change: NDArray[np.int64] = up.astype(np.int64) - (down & ready & ~over)
        return change
