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
from gearing.vehicle.road_tables import HELD_GRADES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.units import Array
    from gearing.vehicle.ensemble import Ensemble
    from gearing.vehicle.ensemble_gears import EnsembleGears, Forces, InGear
    from gearing.vehicle.powertrain import Powertrain
    from gearing.vehicle.road_tables import RoadTables

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
_OF_VEHICLES = (
    "mass_kg", "road", "speed_factor", "gears_down", "leaves", "here_n", "settled_s", "too_long",
    "asked_n",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Situation:
    """Where each vehicle is: piece of road, speed [m/s], what rolling and air, all here and all on
    the road ahead ask [N], acceleration wanted [m/s2] and the force for it [N], the force for no
    more than a gentle one [N], share of torque left, what the fan takes [N m s2]."""

    piece: int
    speed: Array
    level_n: Array
    resisting_n: Array
    ahead_n: Array
    wanted: Array
    needed_n: Array
    steady_n: Array
    torque_share: Array
    fan_nm: Array | None


class Driver:
    """Chooses gears for all vehicles of an ensemble."""

    def __init__(
        self,
        powertrain: Powertrain,
        gears: EnsembleGears,
        ensemble: Ensemble,
        roads: RoadTables,
    ) -> None:
        self.gears, self.habits, self.roads = gears, powertrain.habits, roads
        self.governed_rpm = powertrain.engine.governed_rpm
        self.gap_s = powertrain.shift_interruption_s
        shape = ensemble.mass_kg.shape
        self.mass_kg, self.road = ensemble.mass_kg, ensemble.road
        self.speed_factor = ensemble.speed_factor + np.zeros(shape)
        self.gears_down = np.broadcast_to(np.asarray(ensemble.gears_down, dtype=np.bool_), shape)
        self.leaves = ensemble.leaves_stops + np.zeros(shape)
        # who changes down at once minds what the road asks here too, others only what it does ahead
        self.here_n = np.where(self.leaves < 0.5, 0.0, np.inf)
        self.top = gears.count - 1
        self.settled_s = np.zeros(shape)
        # the gear found too long for a grade, and what that asked: not tried again until it eases
        self.too_long = np.full(shape, gears.count)
        self.asked_n = np.zeros(shape)

    def keep_first(self, count: int) -> None:
        """Goes on with the first vehicles alone."""
        for name in _OF_VEHICLES:
            setattr(self, name, getattr(self, name)[:count])

    def _laden(self, load: Array) -> Array:
        """Where between the points of no load and of full load a gear is left, from 0 to 1."""
        knee = self.habits.knee
        over = (load - knee) / (1 - knee) if knee else load
        share: Array = np.minimum(np.maximum(over, 0.0), 1.0)
        return share

    def _down_at(self, has: InGear, load: Array) -> Array:
        found: Array = has.down_light + self._laden(load) * has.down_more
        return found

    def choose(
        self, has: InGear, now: Forces, at: Situation, since_s: Array
    ) -> tuple[Gears, Gears]:
        """Which vehicles change gear for the next piece, and to which; `has` and `now` are what
        they have in the present one, and its forces."""
        full = np.maximum(now.full_n, 1.0)
        short = at.needed_n > full
        laden = self._laden(at.steady_n / full)
        slow = now.rpm < has.down_light + laden * has.down_more
        # a crest ahead that the gear carries over is no cause to leave it
        carried = short & (at.ahead_n <= now.full_n) & (now.rpm > 0.93 * has.down_light)
        settled = (self.settled_s >= SETTLED_AFTER_S) & short
        unheld = self._unheld_here(at, now.braking_n)
        lower = ((slow & ~carried) | settled | unheld) & (has.gear > 0)
        may_rise = has.gear < self.top
        over = (now.rpm > 1.02 * self.governed_rpm) & may_rise
        rises = (now.rpm > has.up_light + laden * has.up_more) & may_rise
        rises &= ~self.roads.slows[at.piece][self.road]
        ready = since_s >= MIN_SHIFT_INTERVAL_S
        fits = has.rpm_per_mps_below * at.speed <= FITS * self.governed_rpm
        down = (lower & fits & (ready | over)).nonzero()[0]
        up = ((ready & rises & ~lower) | over).nonzero()[0]
        if not (down.size or up.size):
            return down, down
        chosen = has.gear.copy()
        if down.size:
            chosen[down] = self._downwards(down, has.gear[down], at, settled[down], unheld[down])
            shunned = down[settled[down] & (chosen[down] < has.gear[down])]
            self.too_long[shunned] = has.gear[shunned]
            self.asked_n[shunned] = at.resisting_n[shunned]
        if up.size:
            chosen[up] = self._upwards(up, has, at, lower[up], over[up])
        who = (chosen != has.gear).nonzero()[0]
        return who, chosen[who]

    def passed(self, load: Array, slope: Array, short: Flags, seconds: Array) -> None:
        """What a piece took: how long each vehicle has been settled at full load."""
        settled = (load >= 0.98) & short & (slope > LOSING_MPS2) & (slope < GAINING_MPS2)
        self.settled_s = (self.settled_s + seconds) * settled

    def _unheld_here(self, at: Situation, braking_n: Array) -> Flags:
        """Whether a driver who lets the engine brake changes down for the descent ahead."""
        pulls = np.minimum(at.ahead_n, at.resisting_n + self.here_n)
        found: Flags = self.gears_down & (pulls < -braking_n)
        who = found.nonzero()[0]
        if who.size:
            found[who] = self._leaves_more(at, braking_n[who], LEAVES, who)
        return found

    def _unheld(self, at: Situation, braking_n: Array, share: float, who: Gears) -> Flags:
        """Whether a gear leaves more of the descent ahead than a share of what this driver leaves.

        And is asked of the brakes soon: one changes down before the grade, not a mile before.
        """
        pulls = np.minimum(at.ahead_n[who], at.resisting_n[who] + self.here_n[who])
        soon: Flags = pulls < -braking_n
        return soon & self._leaves_more(at, braking_n, share, who) if soon.any() else soon

    def _leaves_more(self, at: Situation, braking_n: Array, share: float, who: Gears) -> Flags:
        table, road = self.roads.descents_m[at.piece], self.road[who]
        weight = self.mass_kg[who] * STANDARD_GRAVITY_MPS2
        holds = np.clip((braking_n + at.level_n[who]) / weight, 0.0, HELD_GRADES[-2])
        place = holds / HELD_GRADES[1]
        low = place.astype(np.int64)
        held = table[road, low]
        fall = held + (place - low) * (table[road, low + 1] - held)
        limit = self.roads.limit_mps[at.piece][road] * self.speed_factor[who]
        left = share * self.leaves[who] * limit**2 / 2
        found: Flags = fall * STANDARD_GRAVITY_MPS2 > left
        return found

    def _in_gears(self, who: Gears, every: Gears, at: Situation) -> tuple[InGear, Forces, Array]:
        """Some of the vehicles in gears of theirs, shape (g, n), at the speed left by a shift."""
        gap = self.gap_s * np.maximum(at.resisting_n[who], 0.0) / self.mass_kg[who]
        speed = np.maximum(at.speed[who] - gap, 0.3)
        fan = None if at.fan_nm is None else at.fan_nm[who]
        has = self.gears.in_gear(every, who)
        return has, self.gears.forces(has, speed, at.torque_share[who], fan, who), speed

    def _upwards(self, who: Gears, now: InGear, at: Situation, lower: Flags, over: Flags) -> Gears:
        """The highest gear that may be changed up to, else the present one; never that over the
        governed speed."""
        gear = now.gear[who]
        wanted = gear + np.arange(1, self.habits.most_up + 1)[:, None]
        every = np.minimum(wanted, self.top)
        has, found, speed = self._in_gears(who, every, at)
        resisting = at.resisting_n[who]
        asks = np.maximum(at.ahead_n[who], resisting)
        # what the shift loses must be regained there
        regains = resisting + GENTLE_MPS2 * self.mass_kg[who]
        load = np.maximum(at.steady_n[who], regains) / np.maximum(found.full_n, 1.0)
        too_long = (every >= self.too_long[who]) & (asks > EASED * self.asked_n[who])
        here = now.rpm_per_mps[who] * speed
        # at the end of this gear's range less acceleration is taken, but never none
        hurries = here < 0.98 * (now.up_light[who] + now.up_more[who])
        fits = (
            (wanted <= self.top)
            & ~(too_long | lower)
            & (found.rpm > HIGHER * self._down_at(has, load))
            & (found.full_n >= SUSTAINS * asks)
            & ((found.full_n >= at.needed_n[who]) | ~hurries)
        )
        if fits.any():
            fits &= ~(self._unheld(at, found.braking_n, RISES, who) & self.gears_down[who])
        highest: Gears = np.where(fits, every, gear).max(axis=0)
        return np.where(over & (highest == gear), gear + 1, highest)

    def _downwards(
        self, who: Gears, gear: Gears, at: Situation, settled: Flags, unheld: Flags
    ) -> Gears:
        """The highest lower gear that need not be left again soon; the present one if none fits."""
        every = np.arange(gear.max() + 1)[:, None] + np.zeros_like(gear)
        has, found, speed = self._in_gears(who, every, at)
        fits = (every < gear) & (has.rpm_per_mps * at.speed[who] <= FITS * self.governed_rpm)
        gains = (found.full_n - at.resisting_n[who]) / has.inertia_kg
        rate = np.minimum(np.minimum(gains, at.wanted[who]), 0.0)
        later = has.rpm_per_mps * np.maximum(speed + rate * STAYS_S, 0.3)
        load = at.steady_n[who] / np.maximum(found.full_n, 1.0)
        stays = later > self._down_at(has, load)
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
