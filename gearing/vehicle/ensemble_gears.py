"""What a speed at the wheels means at each vehicle's gearbox, and what comes back from there.

Tables by vehicle and gear are flat: vehicle x count of gears + gear ("place").
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import pi
from typing import TYPE_CHECKING

import numpy as np

from gearing.vehicle.drivetrain import tractive_force_n
from gearing.vehicle.parameters import BRAKING_DRAG_SHARE, driveline_drag_n
from gearing.vehicle.powertrain import Powertrain, shaft_tables
from gearing.vehicle.road_load import engine_equivalent_mass_kg

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

    from gearing.units import Array
    from gearing.vehicle.ensemble import Ensemble

    Places = NDArray[np.int64]

_BY_GEAR = (
    "rpm_per_mps", "rpm_per_mps_below", "drive_per_nm", "friction_per_nm", "retarder_per_nm",
    "drag_n", "drag_n_per_mps", "inertia_kg", "down_light", "down_more", "up_light", "up_more",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Forces:
    """At the wheels [N], in a gear at a speed: full load less the drag of the gears, engine turned
    without fuel, that and the retarder, the drag; the input's speed [rpm]
    and the place in the shaft tables."""

    full_n: Array
    friction_n: Array
    braking_n: Array
    drag_n: Array
    rpm: Array
    index: Places

    def put(self, who: Places, other: Forces) -> None:
        """Replaces what some of the vehicles have, in place."""
        for one in fields(self):
            getattr(self, one.name)[who] = getattr(other, one.name)


class InGear:
    """What vehicles have in a gear each, shapes (n,) or (g, n): the gear (from 0), the row of the
    shaft tables, and by `_BY_GEAR`: input speed [rpm] a m/s in it and in the gear below (none:
    infinite); forces [N] a N m of torque, friction and retarder; drag [N] and more a m/s; inertia
    [kg]; the shift points without load [rpm] and what full load adds."""

    def __init__(self, gear: Places, row: Places, values: Array) -> None:
        self.gear, self.row, self._values = gear, row, values
        (
            self.rpm_per_mps, self.rpm_per_mps_below, self.drive_per_nm, self.friction_per_nm,
            self.retarder_per_nm, self.drag_n, self.drag_n_per_mps, self.inertia_kg,
            self.down_light, self.down_more, self.up_light, self.up_more,
        ) = values  # fmt: skip

    def put(self, who: Places, other: InGear) -> None:
        """Replaces what some of the vehicles have, in place."""
        self.gear[who], self.row[who] = other.gear, other.row
        self._values[:, who] = other._values

    def first(self, count: int) -> InGear:
        """The same of the first vehicles alone."""
        return InGear(self.gear[:count], self.row[:count], self._values[:, :count].copy())


class EnsembleGears:
    """By vehicle and gear: speeds, forces and inertia. Gears count from 0 here."""

    def __init__(self, powertrain: Powertrain, ensemble: Ensemble) -> None:
        shape = ensemble.mass_kg.shape
        ratios, tables = np.asarray(powertrain.gear_ratios), shaft_tables(powertrain)
        self.count = ratios.size
        self.first = np.arange(ensemble.mass_kg.size) * ratios.size
        turns_per_m = ensemble.revolutions_per_km[:, None] / 1000 * powertrain.axle_ratio * ratios
        table = self._losses(powertrain, ensemble, turns_per_m)
        self.drag_n, self.drag_n_per_mps = table["drag_n"], table["drag_n_per_mps"]
        self.drive_per_nm, self.brake_per_nm = table["drive_per_nm"], table.pop("brake_per_nm")
        engine_mass = engine_equivalent_mass_kg(
            powertrain.engine.inertia_kgm2, 2 * pi * turns_per_m
        )
        friction = (ensemble.friction_factor + np.zeros(shape))[:, None]
        retarder = (ensemble.retarder_factor + np.zeros(shape))[:, None]
        rpm_per_mps = turns_per_m * 60
        none_below = np.full((shape[0], 1), np.inf)
        points = powertrain.shift_points
        light = {"down": np.asarray(points.down_light), "up": np.asarray(points.up_light)}
        table |= {
            "rpm_per_mps": rpm_per_mps,
            "rpm_per_mps_below": np.concatenate([none_below, rpm_per_mps[:, :-1]], axis=1),
            "friction_per_nm": friction * self.brake_per_nm,
            "retarder_per_nm": retarder * self.brake_per_nm,
            "inertia_kg": (ensemble.mass_kg + ensemble.rotating_kg)[:, None] + engine_mass,
            "down_light": light["down"] + np.zeros_like(turns_per_m),
            "down_more": points.down_full - light["down"] + np.zeros_like(turns_per_m),
            "up_light": light["up"] + np.zeros_like(turns_per_m),
            "up_more": points.up_full - light["up"] + np.zeros_like(turns_per_m),
        }
        self._table = np.stack([table[name].ravel() for name in _BY_GEAR])
        self.inertia_kg = table["inertia_kg"].ravel()
        self.length = tables.full_torque_nm.shape[1]
        self._row = tables.row_of_gear * self.length
        self._full_nm = tables.full_torque_nm.ravel()
        self._friction_nm = tables.friction_torque_nm
        self._retarder_nm = tables.retarder_torque_nm if tables.retarder_torque_nm.any() else None
        self.engine_rpm = tables.engine_rpm.ravel()
        self.passed_on = np.maximum(tables.passed_on.ravel(), 0.05)
        self._output_nm = tables.output_retarder_nm if tables.output_retarder_nm.any() else None
        self._output_rpm_per_mps = ensemble.revolutions_per_km * powertrain.axle_ratio * 0.06
        self.output_brake_per_nm = tractive_force_n(
            1.0,
            ensemble.revolutions_per_km,
            powertrain.axle_ratio,
            1.0,
            1 / self.axle_efficiency,
        )
        self._output_per_nm = self.output_brake_per_nm * retarder[:, 0]

    def _losses(
        self, powertrain: Powertrain, ensemble: Ensemble, turns_per_m: Array
    ) -> dict[str, Any]:
        """Force a N m both ways, and the drag of gears and axle [N] as a line in speed [m/s]."""
        losses, ratios = powertrain.losses, np.asarray(powertrain.gear_ratios)
        per_km, axle = ensemble.revolutions_per_km[:, None], powertrain.axle_ratio
        scale = (ensemble.loss_factor + np.zeros(ensemble.mass_kg.size))[:, None]
        efficiency = losses.efficiencies(powertrain.gear_ratios, scale)
        self.axle_efficiency = np.asarray(losses.axle_share(scale))[:, 0]
        self.efficiency = efficiency.ravel()
        shaft = per_km / 1000 * axle
        at_rest = driveline_drag_n(losses, scale, shaft, ratios, np.zeros(1))
        at_1000 = driveline_drag_n(losses, scale, shaft, ratios, np.full(1, 1000.0))
        return {
            "drive_per_nm": tractive_force_n(1.0, per_km, axle, ratios, efficiency),
            "brake_per_nm": tractive_force_n(1.0, per_km, axle, ratios, 1 / efficiency),
            "drag_n": at_rest,
            "drag_n_per_mps": (at_1000 - at_rest) * turns_per_m * 0.06,
        }

    def in_gear(self, gear: Places, vehicles: Places | slice = slice(None)) -> InGear:
        """What the vehicles have in gears (n,) or (g, n); `vehicles` says which the n are."""
        return InGear(gear, self._row[gear], self._table[:, self.first[vehicles] + gear])

    def forces(
        self,
        has: InGear,
        speed: Array,
        torque_share: Array,
        taken_nm: Array | None,
        vehicles: Places | slice,
    ) -> Forces:
        """Forces in gears (n,) or (g, n) at speeds (n,).

        `torque_share` (n,) is what altitude and doubt leave of the torque, `taken_nm` what the fan
        takes of it at governed speed; `vehicles` says which of the ensemble the n are.
        """
        rpm = has.rpm_per_mps * speed
        cell = np.minimum(rpm.astype(np.int64), self.length - 1)
        index = has.row + cell
        torque = self._full_nm[index] * torque_share
        if taken_nm is not None:
            torque = np.maximum(torque - taken_nm * self.engine_rpm[index] ** 2, 0.0)
        drag = has.drag_n + has.drag_n_per_mps * speed
        friction = self._friction_nm[cell] * has.friction_per_nm + BRAKING_DRAG_SHARE * drag
        braking = friction
        if self._retarder_nm is not None:
            braking = braking + self._retarder_nm[cell] * has.retarder_per_nm
        if self._output_nm is not None:
            shaft = (self._output_rpm_per_mps[vehicles] * speed).astype(np.int64)
            at_output = self._output_nm[np.minimum(shaft, self.length - 1)]
            braking = braking + at_output * self._output_per_nm[vehicles]
        return Forces(torque * has.drive_per_nm - drag, friction, braking, drag, rpm, index)
