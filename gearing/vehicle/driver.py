"""Driver and gearbox: which gear for the next piece of road.

A gear is left downwards where the engine turns too slowly for its load and the road ahead still
asks more than the gear gives; where it has settled at full load short of the speed wanted and a
lower gear would pull more; or, on a descent, where what engine and retarder do not hold from here
to its foot would be more than a full stop for the service brakes. It is left upwards for the
highest gear that sustains the grade here and ahead, and in which none of this would call it
back. As many gears are skipped downwards as the speed's fall asks for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.units import STANDARD_GRAVITY_MPS2

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from gearing.vehicle.ensemble import Ensemble
    from gearing.vehicle.ensemble_gears import EnsembleGears, Forces
    from gearing.vehicle.powertrain import Powertrain
    from gearing.vehicle.road import Road

    Array = NDArray[np.float64]
    Gears = NDArray[np.int64]
    Flags = NDArray[np.bool_]

# All of these are common practice, no source.
MIN_SHIFT_INTERVAL_S = 2.0
STAYS_S = 4.0  # a gear changed down to is not one to be left again within this
# Near the speed wanted no more is asked than this, so that regaining it is no cause to change down.
NEAR_TARGET, GENTLE_MPS2 = 0.9, 0.1
SUSTAINS = 1.01  # force of a gear changed up to over what the road asks
HIGHER = 1.03  # engine speed there over that of a shift down
SETTLED_AFTER_S = 20.0
LOSING_MPS2, GAINING_MPS2 = -0.04, 0.005  # outside these the speed has not settled
SHORT_OF_TARGET = 0.98
PULLS_MORE = 1.03
EASED = 0.95
FITS = 0.97  # of governed speed, in a gear changed down to
# What a descent may leave to the service brakes, as a share of the full stops this driver leaves
# them: in the gear one is in, in the one changed down to, in the one changed up to.
LEAVES, ENTERS, RISES = 1.0, 0.5, 0.05
DIP_STOPS = 1.0  # a dip falls no more than that, beyond a grade of 1 % that holds itself
DIP_GRADE = 1
BEYOND_END_M = 1000.0
_GRADES = np.arange(0.0, 0.2001, 0.01)  # what a gear may hold on a descent


@dataclass(frozen=True, slots=True)
class Situation:
    """Where each vehicle is: piece of road, speed and speed limit [m/s], what rolling and air, all
    here and all on the road ahead ask [N], acceleration wanted [m/s2] and the force for it [N],
    the force for no more than a gentle one [N], share of torque left, what the fan
    takes [N m s2]."""

    piece: int
    speed: Array
    limit: Array
    level_n: Array
    resisting_n: Array
    ahead_n: Array
    wanted: Array
    needed_n: Array
    steady_n: Array
    torque_share: Array
    fan_nm: Array | float


class Driver:
    """Chooses gears for all vehicles of an ensemble."""

    def __init__(
        self,
        powertrain: Powertrain,
        gears: EnsembleGears,
        ensemble: Ensemble,
        roads: Sequence[Road],
    ) -> None:
        points, habits = powertrain.shift_points, powertrain.habits
        self.gears, self.habits = gears, habits
        self.up_light = np.asarray(points.up_light)
        self.up_more = np.asarray(points.up_full) - self.up_light
        self.down_light = np.asarray(points.down_light)
        self.down_more = np.asarray(points.down_full) - self.down_light
        self.governed_rpm = powertrain.engine.governed_rpm
        self.gap_s = powertrain.shift_interruption_s
        self.mass_kg, self.road = ensemble.mass_kg, ensemble.road
        shape = ensemble.mass_kg.shape
        self.gears_down = np.broadcast_to(np.asarray(ensemble.gears_down, dtype=np.bool_), shape)
        self.descents_m = descents_ahead_m(roads)
        self.slows = np.diff(np.stack([road.target_mps for road in roads], axis=1), axis=0) < 0
        self.leaves = ensemble.leaves_stops + np.zeros(shape)
        self.top = gears.count - 1
        self.settled_s = np.zeros(shape)
        # the gear found too long for a grade, and what that asked: not tried again until it eases
        self.too_long = np.full(shape, gears.count)
        self.asked_n = np.zeros(shape)

    def _laden(self, load: Array) -> Array:
        """Where between the points of no load and of full load a gear is left, from 0 to 1."""
        knee = self.habits.knee
        share: Array = np.minimum(np.maximum((load - knee) / (1 - knee), 0.0), 1.0)
        return share

    def _down_at(self, gear: Gears, load: Array) -> Array:
        found: Array = self.down_light[gear] + self._laden(load) * self.down_more[gear]
        return found

    def choose(self, gear: Gears, now: Forces, at: Situation, since_s: Array) -> Gears:
        """The gear of each vehicle over the next piece; `now` are the forces in its present one."""
        load = at.needed_n / np.maximum(now.full_n, 1.0)
        laden = self._laden(at.steady_n / np.maximum(now.full_n, 1.0))
        down_light = self.down_light[gear]
        slow = now.rpm < down_light + laden * self.down_more[gear]
        # a crest ahead that the gear carries over is no cause to leave it
        carried = (load > 1) & (at.ahead_n <= now.full_n) & (now.rpm > 0.93 * down_light)
        settled = (self.settled_s >= SETTLED_AFTER_S) & (load > 1)
        unheld = self._unheld_here(at, now.braking_n)
        lower = ((slow & ~carried) | settled | unheld) & (gear > 0)
        over = now.rpm > 1.02 * self.governed_rpm
        rises = (now.rpm > self.up_light[gear] + laden * self.up_more[gear]) & (gear < self.top)
        rises &= ~self.slows[at.piece][self.road]
        ready = since_s >= MIN_SHIFT_INTERVAL_S
        asked = np.flatnonzero((ready & (lower | rises)) | (over & (gear < self.top)))
        if not asked.size:
            return gear
        chosen = gear.copy()
        chosen[asked] = self._among_all(
            asked, gear[asked], at, lower[asked], settled[asked], unheld[asked], over[asked]
        )
        shunned = settled & (chosen < gear)
        self.too_long = np.where(shunned, gear, self.too_long)
        self.asked_n = np.where(shunned, at.resisting_n, self.asked_n)
        return chosen

    def passed(self, load: Array, slope: Array, short: Flags, seconds: Array) -> None:
        """What a piece took: how long each vehicle has been settled at full load."""
        settled = (load >= 0.98) & short & (slope > LOSING_MPS2) & (slope < GAINING_MPS2)
        self.settled_s = (self.settled_s + seconds) * settled

    def _unheld_here(self, at: Situation, braking_n: Array) -> Flags:
        """Whether a driver who lets the engine brake changes down for the descent ahead."""
        found: Flags = self.gears_down & (self._pulls_n(at) < -braking_n)
        who = np.flatnonzero(found)
        if who.size:
            found[who] = self._unheld(at, braking_n[who], LEAVES, who)
        return found

    def _pulls_n(self, at: Situation) -> Array:
        """What the road ahead asks [N]; who changes down at once minds what it asks here too."""
        found: Array = np.where(
            self.leaves < 0.5, np.minimum(at.ahead_n, at.resisting_n), at.ahead_n
        )
        return found

    def _unheld(self, at: Situation, braking_n: Array, share: float, who: Gears) -> Flags:
        """Whether a gear leaves more of the descent ahead than a share of what this driver leaves.

        And is asked of the brakes soon: one changes down before the grade, not a mile before.
        """
        soon = self._pulls_n(at)[who] < -braking_n
        if not soon.any():
            return soon
        table, road = self.descents_m[at.piece], self.road[who]
        weight = self.mass_kg[who] * STANDARD_GRAVITY_MPS2
        holds = np.clip((braking_n + at.level_n[who]) / weight, 0.0, _GRADES[-2])
        place = holds / _GRADES[1]
        low = place.astype(np.int64)
        fall = table[road, low] + (place - low) * (table[road, low + 1] - table[road, low])
        found: Flags = soon & (
            fall * STANDARD_GRAVITY_MPS2 > share * self.leaves[who] * at.limit[who] ** 2 / 2
        )
        return found

    def _among_all(
        self,
        who: Gears,
        gear: Gears,
        at: Situation,
        lower: Flags,
        settled: Flags,
        unheld: Flags,
        over: Flags,
    ) -> Gears:
        """The gear for some of the vehicles, every gear of theirs looked at: shape (g, n)."""
        every = np.arange(self.top + 1)[:, None] + np.zeros_like(gear)
        share = at.torque_share[who]
        fan = at.fan_nm[who] if isinstance(at.fan_nm, np.ndarray) else at.fan_nm
        needed = at.needed_n[who]
        gap = self.gap_s * np.maximum(at.resisting_n[who], 0.0) / self.mass_kg[who]
        speed = np.maximum(at.speed[who] - gap, 0.3)
        found = self.gears.forces(every, speed + np.zeros(every.shape), share, fan, who)
        chosen = gear.copy()
        if not lower.all():
            chosen = np.where(lower, chosen, self._upwards(who, gear, every, found, at, needed))
        if lower.any():
            down = self._downwards(who, gear, every, found, at, speed, settled, unheld)
            chosen = np.where(lower, down, chosen)
        return np.where(over & (chosen <= gear), np.minimum(gear + 1, self.top), chosen)

    def _upwards(
        self, who: Gears, gear: Gears, every: Gears, found: Forces, at: Situation, needed: Array
    ) -> Gears:
        """The highest gear that may be changed up to, else the present one."""
        asks = np.maximum(at.ahead_n[who], at.resisting_n[who])
        # what the shift loses must be regained there
        regains = at.resisting_n[who] + GENTLE_MPS2 * self.mass_kg[who]
        load = np.maximum(at.steady_n[who], regains) / np.maximum(found.full_n, 1.0)
        too_long = (every >= self.too_long[who]) & (asks > EASED * self.asked_n[who])
        here = found.rpm[gear, np.arange(gear.size)]
        # at the end of this gear's range less acceleration is taken, but never none
        hurries = here < 0.98 * (self.up_light[gear] + self.up_more[gear])
        fits = (
            (every > gear)
            & ~too_long
            & (every <= gear + self.habits.most_up)
            & (found.rpm > HIGHER * self._down_at(every, load))
            & (found.full_n >= SUSTAINS * asks)
            & ((found.full_n >= needed) | ~hurries)
        )
        held = ~self._unheld(at, found.braking_n, RISES, who) | ~self.gears_down[who]
        highest: Gears = np.where(fits & held, every, gear).max(axis=0)
        return highest

    def _downwards(
        self,
        who: Gears,
        gear: Gears,
        every: Gears,
        found: Forces,
        at: Situation,
        speed: Array,
        settled: Flags,
        unheld: Flags,
    ) -> Gears:
        """The highest lower gear that need not be left again soon; the present one if none fits."""
        turns = found.rpm / speed
        fits = (every < gear) & (turns * at.speed[who] <= FITS * self.governed_rpm)
        inertia = self.gears.inertia_kg[self.gears.first[who] + every]
        gains = (found.full_n - at.resisting_n[who]) / inertia
        rate = np.minimum(np.minimum(gains, at.wanted[who]), 0.0)
        later = turns * np.maximum(speed + rate * STAYS_S, 0.3)
        load = at.steady_n[who] / np.maximum(found.full_n, 1.0)
        stays = later > self._down_at(every, load)
        pulls = found.full_n[gear, np.arange(gear.size)]
        more = found.full_n > PULLS_MORE * pulls
        held = ~self._unheld(at, found.braking_n, ENTERS, who)
        good = fits & np.where(unheld, held, np.where(settled, more, stays))
        best = np.where(good, every, -1).max(axis=0)
        # where none is good enough: settled stays, a descent takes the lowest that can be driven,
        # a climb the strongest
        strongest = np.argmax(np.where(fits, found.full_n, -np.inf), axis=0)
        lowest = np.argmax(fits, axis=0)
        other = np.where(settled & ~unheld, gear, np.where(unheld, lowest, strongest))
        return np.where(best >= 0, best, np.where(fits.any(axis=0), other, gear))


def descents_ahead_m(roads: Sequence[Road]) -> Array:
    """Drop still ahead [m] that a gear does not hold: shape (pieces, roads, grades held).

    From each piece to the foot of its descent, of what is steeper than a gear holds by itself.
    """
    step = np.stack([road.step_m for road in roads], axis=1)
    fall = -np.stack([road.grade / np.sqrt(1 + road.grade**2) for road in roads], axis=1)
    excess = (fall[:, :, None] - _GRADES) * step[:, :, None]
    # a road that ends on a descent goes on as steep for a while
    left = np.maximum(excess[-1] / step[-1][:, None], 0.0) * BEYOND_END_M
    out = np.empty_like(excess)
    for piece in range(excess.shape[0] - 1, -1, -1):
        left = np.maximum(left + excess[piece], 0.0)
        out[piece] = left
    return out


def dips(roads: Sequence[Road], driver: Driver) -> Flags:
    """Pieces by road where a driver may let the vehicle run over the speed wanted.

    Not on a descent of more than a full stop, nor where a lower speed lies ahead.
    """
    limit = np.stack([road.limit_mps[1:] for road in roads], axis=1)
    drop = driver.descents_m[:, :, DIP_GRADE]
    found: Flags = (drop * STANDARD_GRAVITY_MPS2 < DIP_STOPS * limit**2 / 2) & ~driver.slows
    return found
