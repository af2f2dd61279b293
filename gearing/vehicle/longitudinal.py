"""The road model: an ensemble of vehicles side by side, forward along a road.

Each vehicle is a draw of what is not known for sure, on one set of tires, in one direction; all
advance together, one piece of road at a time. State is kinetic energy, so that over a piece force
times length is energy and the totals close; forces are taken at the piece's middle, reached with
the last piece's slope. Sources of the forces stand in `road_load`, of the engine in `engine`,
of losses in `parameters`; gears are chosen by `driver`.

The driver wants the target speed, asks for full load where it falls short, lets engine and
retarder brake and the service brakes do the rest.
"""

from __future__ import annotations

from dataclasses import replace
from math import pi
from typing import TYPE_CHECKING, Any

import numpy as np

from gearing.vehicle.blocks import CRAWL_MPS, CRAWL_SQUARE, TOTALS, Block, Loads, Part, keep
from gearing.vehicle.driver import (
    GENTLE_MPS2,
    MIN_SHIFT_INTERVAL_S,
    NEAR_TARGET,
    SHORT_OF_TARGET,
    Driver,
    Situation,
)
from gearing.vehicle.ensemble import Ensemble, Run
from gearing.vehicle.ensemble_gears import EnsembleGears, Forces
from gearing.vehicle.pace import acceleration_mps2
from gearing.vehicle.road_load import air_force_n
from gearing.vehicle.road_tables import RoadTables

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearing.units import Array
    from gearing.vehicle.powertrain import Powertrain
    from gearing.vehicle.road import Road

# The fan comes in after a minute and a half of hard work and goes after as long of ease:
# common practice, no source. Its power goes with the cube of its speed (fan laws).
FAN_LOAD = 0.9
FAN_AFTER_S = 90.0
BLOCK_PIECES = 32
_OF_VEHICLES = ("speed", "slope", "since_s", "gap_s", "hard_s", "fan")


def drive(powertrain: Powertrain, ensemble: Ensemble, roads: Sequence[Road]) -> Run:
    """Drives every vehicle along its road, from standstill or the road's first target speed.

    Raises
    ------
    ValueError
        no road, roads of unequal counts of pieces, or a vehicle whose road is not given.
    """
    return drive_all(powertrain, [(ensemble, roads)])[0]


def drive_all(
    powertrain: Powertrain, parts: Sequence[tuple[Ensemble, Sequence[Road]]]
) -> list[Run]:
    """Drives several ensembles, each on roads of its own, side by side: one run for each.

    Same figures as one after another, in a fraction of the time. Errors as of `drive`.
    """
    for ensemble, roads in parts:
        if not roads or len({road.grade.size for road in roads}) != 1:
            raise ValueError("all roads driven together must have the same number of pieces")
        if ensemble.road.min() < 0 or ensemble.road.max() >= len(roads):
            raise ValueError("a vehicle's road is not among the roads given")
    # the longest first, so that those still under way are always the first ones
    order = sorted(range(len(parts)), key=lambda part: -parts[part][1][0].grade.size)
    runs = _Drive(powertrain, [parts[part] for part in order]).run()
    return [runs[order.index(part)] for part in range(len(parts))]


class _Drive:
    """One call of `drive_all`: constants, state and what is kept by vehicle."""

    def __init__(
        self, powertrain: Powertrain, parts: Sequence[tuple[Ensemble, Sequence[Road]]]
    ) -> None:
        self.powertrain = powertrain
        vehicles = [one.mass_kg.size for one, _ in parts]
        roads_before = np.cumsum([0, *(len(roads) for _, roads in parts[:-1])])
        ensemble = Ensemble.joined([one for one, _ in parts])
        self.ensemble = replace(ensemble, road=ensemble.road + np.repeat(roads_before, vehicles))
        self.roads = RoadTables.joined([RoadTables.of(roads) for _, roads in parts])
        self.gears = EnsembleGears(powertrain, self.ensemble)
        self.driver = Driver(powertrain, self.gears, self.ensemble, self.roads)
        firsts = np.cumsum([0, *vehicles])
        self.parts = [
            Part.of(int(first), count, roads[0].grade.size)
            for first, count, (_, roads) in zip(firsts, vehicles, parts, strict=False)
        ]
        top = self.gears.in_gear(np.full(firsts[-1], self.gears.count - 1))
        self.loads = Loads(powertrain, self.ensemble, self.roads, top.rpm_per_mps)
        self.runs_dips_out = bool(np.any(self.loads.dip_overspeed_share > 0))
        self._set_state()

    def _set_state(self) -> None:
        count = self.ensemble.mass_kg.size
        start = self.loads.sought(self.roads.start_mps[0, self.ensemble.road], slice(None))
        self.speed: Array = np.maximum(start, CRAWL_MPS)
        self.slope = np.zeros(count)
        self.since_s = np.full(count, MIN_SHIFT_INTERVAL_S)
        self.gap_s = np.zeros(count)  # of a shift under way, without pull
        self.hard_s: Array = np.zeros(count)
        self.fan = np.zeros(count, dtype=np.bool_)
        self.stalled = np.zeros(count, dtype=np.bool_)
        self.totals: dict[str, Any] = {name: np.zeros(count) for name in TOTALS}
        self.under_way = slice(count)
        # the highest gear whose engine speed is above its light downshift point
        every = np.arange(self.gears.count)[:, None] + np.zeros(count, dtype=np.int64)
        has = self.gears.in_gear(every)
        usable = has.rpm_per_mps * self.speed >= has.down_light * 1.1
        self.has = self.gears.in_gear(np.where(usable, every, 0).max(axis=0))

    def run(self) -> list[Run]:
        """Drives all vehicles over all pieces in order, and gives what they did by part."""
        piece = 0
        while under_way := [part for part in self.parts if part.pieces > piece]:
            self._keep_first(under_way[-1].place.stop)
            last = min(piece + BLOCK_PIECES, under_way[-1].pieces)
            block = Block(self.loads, slice(piece, last), self.under_way, self.speed)
            for row in range(last - piece):
                self._advance(block, row)
            keep(self.powertrain, self.gears, block, under_way, self.totals)
            piece = last
        return [
            Run(
                **{name: one[part.place] for name, one in self.totals.items()},
                **part.series,
                stalled=self.stalled[part.place],
            )
            for part in self.parts
        ]

    def _keep_first(self, count: int) -> None:
        """Goes on with the first vehicles alone."""
        if count < self.speed.size:
            for name in _OF_VEHICLES:
                setattr(self, name, getattr(self, name)[:count])
            self.has = self.has.first(count)
            self.driver.keep_first(count)
            self.under_way = slice(count)

    def _advance(self, block: Block, row: int) -> None:
        """One piece: what the road asks, the gear for it, and the speed that comes of it."""
        ensemble, now = self.ensemble, self.under_way
        square = self.speed * self.speed
        reached = np.maximum(square + block.step_m[row] * self.slope, CRAWL_SQUARE)
        middle = np.sqrt(reached, out=block.did["middle_mps"][row])
        air = air_force_n(
            middle,
            block.density_kgpm3[row],
            ensemble.drag_area_m2[now],
            ensemble.headwind_mps[now],
        )
        level = block.rolling_n[row] + air
        resisting = level + block.climbing_n[row]
        most = block.pace * acceleration_mps2(middle)
        wanted = np.minimum((block.aimed[row] - square) / block.twice_m[row], most)
        inertia = self.has.inertia_kg
        gently = wanted.copy()
        near = middle > NEAR_TARGET * block.target_mps[row]
        np.minimum(wanted, GENTLE_MPS2, out=gently, where=near)
        at = Situation(
            piece=block.rows.start + row,
            speed=middle,
            level_n=level,
            resisting_n=resisting,
            ahead_n=level + block.ahead_n[row],
            wanted=wanted,
            needed_n=wanted * inertia + resisting,
            steady_n=gently * inertia + resisting,
            torque_share=block.torque_share[row],
            fan_nm=self._fan_nm(),
        )
        forces = self._choose(at)
        block.did["air_n"][row] = air
        self._move(block, row, square, at, forces)

    def _choose(self, at: Situation) -> Forces:
        """What the gear chosen for this piece gives and takes; sets the vehicles' gears."""
        gears, share, fan = self.gears, at.torque_share, at.fan_nm
        forces = gears.forces(self.has, at.speed, share, fan, self.under_way)
        who, chosen = self.driver.choose(self.has, forces, at, self.since_s)
        if who.size:
            self.gap_s[who] = self.powertrain.shift_interruption_s
            self.since_s[who] = 0.0
            has, taken = gears.in_gear(chosen, who), None if fan is None else fan[who]
            self.has.put(who, has)
            forces.put(who, gears.forces(has, at.speed[who], share[who], taken, who))
        return forces

    def _move(self, block: Block, row: int, square: Array, at: Situation, forces: Forces) -> None:
        """Forces, and the speed they lead to. Sets the vehicles' state."""
        step, twice, inertia = block.step_m[row], block.twice_m[row], self.has.inertia_kg
        needed = at.wanted * inertia + at.resisting_n
        if self.runs_dips_out:
            self._run_out(block, row, square, needed, at.resisting_n, forces.friction_n)
        available, pulls = forces.full_n, None
        if self.powertrain.shift_interruption_s and self.gap_s.any():
            whole = step / at.speed
            part = np.minimum(self.gap_s / whole, 1.0)
            pulls = part < 1
            self.gap_s = np.maximum(self.gap_s - whole, 0.0)
            available = np.where(available > 0, available * (1 - part), available)
        did = {name: one[row] for name, one in block.did.items()}
        at_least = np.maximum(needed, -forces.braking_n)
        service = np.subtract(at_least, needed, out=did["service_n"])
        force = np.minimum(at_least, available, out=did["force_n"])
        slope = (force - service - at.resisting_n) / inertia
        reached = square + twice * slope
        crawls = reached < CRAWL_SQUARE
        if crawls.any():
            stalls = crawls & (needed > available)
            self.stalled[self.under_way] |= stalls if pulls is None else stalls & pulls
            reached = np.maximum(reached, CRAWL_SQUARE)
        speed = np.sqrt(reached, out=did["speed_mps"])
        seconds = np.divide(twice, self.speed + speed, out=did["seconds"])
        self.since_s = self.since_s + seconds
        self.slope, self.speed = slope, speed
        # what the engine gives before the gears' drag, of what it could
        most = np.maximum(forces.full_n + forces.drag_n, 1.0)
        load = np.divide(force + forces.drag_n, most, out=did["load"])
        self.driver.passed(load, slope, speed < SHORT_OF_TARGET * block.target_mps[row], seconds)
        if self.powertrain.fan_w > 0:
            block.fan[row] = self.fan
            self._switch_fan(load, seconds)
        did["friction_n"][:], did["drag_n"][:] = forces.friction_n, forces.drag_n
        block.gear[row], block.index[row] = self.has.gear, forces.index

    def _run_out(
        self,
        block: Block,
        row: int,
        square: Array,
        needed: Array,
        resisting: Array,
        friction: Array,
    ) -> None:
        """Lowers the force needed, in place, where a dip may be run out: brakes come on at the
        overspeed's end only."""
        who = (block.may_run_out[row] & (needed < -friction)).nonzero()[0]
        if who.size:
            most = block.target_mps[row][who] * (1 + self.loads.dip_overspeed_share[who])
            gains = (most * most - square[who]) / block.twice_m[row][who]
            at_most = gains * self.has.inertia_kg[who] + resisting[who]
            needed[who] = np.maximum(needed[who], np.minimum(-friction[who], at_most))

    def _fan_nm(self) -> Array | None:
        """Torque the fan takes where it runs [N m], over the engine's speed squared [rpm]."""
        if not self.fan.any():
            return None
        governed = self.powertrain.engine.governed_rpm
        at_governed_nm = self.powertrain.fan_w / (governed * 2 * pi / 60)
        taken: Array = np.where(self.fan, at_governed_nm / governed**2, 0.0)
        return taken

    def _switch_fan(self, load: Array, seconds: Array) -> None:
        """Whether the fan runs on the next piece."""
        change = np.where(load >= FAN_LOAD, seconds, -seconds)
        self.hard_s = np.minimum(np.maximum(self.hard_s + change, 0.0), FAN_AFTER_S)
        self.fan = np.where(self.fan, self.hard_s > 0, self.hard_s >= FAN_AFTER_S)
