"""What a speed at the wheels means at each vehicle's gearbox, and what comes back from there.

Arrays by vehicle and gear are flat: vehicle x count of gears + gear ("place").
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING

import numpy as np

from gearing.vehicle.drivetrain import tractive_force_n
from gearing.vehicle.parameters import BRAKING_DRAG_SHARE, driveline_drag_n
from gearing.vehicle.powertrain import Powertrain, ShaftTables, shaft_tables
from gearing.vehicle.road_load import engine_equivalent_mass_kg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.vehicle.ensemble import Ensemble

    Array = NDArray[np.float64]
    Places = NDArray[np.int64]


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
        for name in ("full_n", "friction_n", "braking_n", "drag_n", "rpm", "index"):
            getattr(self, name)[who] = getattr(other, name)


class EnsembleGears:
    """By vehicle and gear: speeds, forces and inertia. Gears count from 0 here."""

    def __init__(self, powertrain: Powertrain, ensemble: Ensemble) -> None:
        ratios = np.asarray(powertrain.gear_ratios)
        per_km, axle = ensemble.revolutions_per_km[:, None], powertrain.axle_ratio
        turns_per_m = per_km / 1000 * axle * ratios[None, :]
        tables = shaft_tables(powertrain)
        self.count = ratios.size
        self.first = np.arange(ensemble.mass_kg.size) * ratios.size
        self.rpm_per_mps = (turns_per_m * 60).ravel()
        self._set_losses(powertrain, ensemble, turns_per_m)
        engine_mass = engine_equivalent_mass_kg(
            powertrain.engine.inertia_kgm2, 2 * pi * turns_per_m
        )
        self.inertia_kg = (ensemble.mass_kg[:, None] + ensemble.rotating_kg + engine_mass).ravel()
        self.length = tables.full_torque_nm.shape[1]
        self.row = tables.row_of_gear * self.length
        self.full_nm = tables.full_torque_nm.ravel()
        self.friction_nm = tables.friction_torque_nm.ravel()
        self.retarder_nm = tables.retarder_torque_nm.ravel()
        self.engine_rpm = tables.engine_rpm.ravel()
        self.passed_on = np.maximum(tables.passed_on.ravel(), 0.05)
        self.friction_factor = ensemble.friction_factor
        self.retarder_factor = ensemble.retarder_factor + np.zeros(ensemble.mass_kg.size)
        self._set_output(powertrain, ensemble, tables)

    def _set_losses(self, powertrain: Powertrain, ensemble: Ensemble, turns_per_m: Array) -> None:
        """Force a N m both ways, and the drag of gears and axle [N] as a line in speed [m/s]."""
        losses, ratios = powertrain.losses, np.asarray(powertrain.gear_ratios)
        per_km, axle = ensemble.revolutions_per_km[:, None], powertrain.axle_ratio
        scale = (ensemble.loss_factor + np.zeros(ensemble.mass_kg.size))[:, None]
        efficiency = losses.efficiencies(powertrain.gear_ratios, scale)
        self.axle_efficiency = np.asarray(losses.axle_share(scale))[:, 0]
        self.efficiency = efficiency.ravel()
        self.drive_per_nm = tractive_force_n(1.0, per_km, axle, ratios, efficiency).ravel()
        self.brake_per_nm = tractive_force_n(1.0, per_km, axle, ratios, 1 / efficiency).ravel()
        shaft = per_km / 1000 * axle
        at_rest = driveline_drag_n(losses, scale, shaft, ratios, np.zeros(1))
        at_1000 = driveline_drag_n(losses, scale, shaft, ratios, np.full(1, 1000.0))
        self.drag_n = at_rest.ravel()
        self.drag_n_per_mps = ((at_1000 - at_rest) * turns_per_m * 0.06).ravel()
        self.has_drag = bool(losses.gearbox_drag_nm or losses.axle_drag_nm)

    def _set_output(self, powertrain: Powertrain, ensemble: Ensemble, tables: ShaftTables) -> None:
        self.has_output_retarder = bool(tables.output_retarder_nm.any())
        self.output_nm = tables.output_retarder_nm
        self.output_rpm_per_mps = ensemble.revolutions_per_km * powertrain.axle_ratio * 0.06
        self.output_brake_per_nm = tractive_force_n(
            1.0,
            ensemble.revolutions_per_km,
            powertrain.axle_ratio,
            1.0,
            1 / self.axle_efficiency,
        )

    def forces(
        self,
        gear: Places,
        speed: Array,
        torque_share: Array,
        taken_nm: Array | float,
        vehicles: Places | slice,
    ) -> Forces:
        """Forces in gears (n,) or (g, n) at speeds of the same shape.

        `torque_share` (n,) is what altitude and doubt leave of the torque, `taken_nm` what the fan
        takes of it at governed speed; `vehicles` says which of the ensemble the n are.
        """
        place = self.first[vehicles] + gear
        rpm = self.rpm_per_mps[place] * speed
        index = self.row[gear] + np.minimum(rpm.astype(np.int64), self.length - 1)
        torque = self.full_nm[index] * torque_share
        if isinstance(taken_nm, np.ndarray):
            torque = np.maximum(torque - taken_nm * self.engine_rpm[index] ** 2, 0.0)
        brake_per_nm = self.brake_per_nm[place]
        drag = self.drag_n[place]
        if self.has_drag:
            drag = drag + self.drag_n_per_mps[place] * speed
        friction = self.friction_nm[index] * self.friction_factor[vehicles] * brake_per_nm
        friction += BRAKING_DRAG_SHARE * drag
        retarder = self.retarder_nm[index] * brake_per_nm
        if self.has_output_retarder:
            shaft = (self.output_rpm_per_mps[vehicles] * speed).astype(np.int64)
            at_output = self.output_nm[np.minimum(shaft, self.length - 1)]
            retarder = retarder + at_output * self.output_brake_per_nm[vehicles]
        return Forces(
            full_n=torque * self.drive_per_nm[place] - drag,
            friction_n=friction,
            braking_n=friction + retarder * self.retarder_factor[vehicles],
            drag_n=drag,
            rpm=rpm,
            index=index,
        )
