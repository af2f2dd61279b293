"""Gears side by side: what a speed at the wheels means at each lane's gearbox, and back."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import numpy as np

from gearing.vehicle.drivetrain import tractive_force_n
from gearing.vehicle.powertrain import Powertrain, ShaftTables, shaft_tables
from gearing.vehicle.road_load import engine_equivalent_mass_kg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.vehicle.lanes import Lanes

    Array = NDArray[np.float64]


class LaneGears:
    """Per lane and gear, what a speed at the wheels means at the gearbox, and back."""

    def __init__(self, powertrain: Powertrain, lanes: Lanes) -> None:
        ratios = np.asarray(powertrain.gear_ratios)
        turns_per_m = (
            lanes.revolutions_per_km[:, None] / 1000 * powertrain.axle_ratio * ratios[None, :]
        )
        efficiency = np.asarray(powertrain.efficiencies)
        tables = shaft_tables(powertrain)
        lane = np.arange(lanes.mass_kg.size) * ratios.size
        self.count = ratios.size
        self.offset = lane
        self.rpm_per_mps = (turns_per_m * 60).ravel()
        per_km, axle = lanes.revolutions_per_km[:, None], powertrain.axle_ratio
        self.drive_per_nm = tractive_force_n(1.0, per_km, axle, ratios, efficiency).ravel()
        self.brake_per_nm = tractive_force_n(1.0, per_km, axle, ratios, 1 / efficiency).ravel()
        self.efficiency = efficiency
        engine_mass = engine_equivalent_mass_kg(
            powertrain.engine.inertia_kgm2, 2 * pi * turns_per_m
        )
        self.inertia_kg = (lanes.mass_kg[:, None] + lanes.rotating_kg + engine_mass).ravel()
        self.length = tables.full_torque_nm.shape[1]
        self.row = tables.row_of_gear * self.length
        self.full_nm = tables.full_torque_nm.ravel()
        self.friction_nm = tables.friction_torque_nm.ravel()
        self.retarder_nm = tables.retarder_torque_nm.ravel()
        self.engine_rpm = tables.engine_rpm.ravel()
        self.passed_on = np.maximum(tables.passed_on.ravel(), 0.05)
        self._set_output(powertrain, lanes, tables)

    def _set_output(self, powertrain: Powertrain, lanes: Lanes, tables: ShaftTables) -> None:
        shaft_per_m = lanes.revolutions_per_km / 1000 * powertrain.axle_ratio
        self.has_output_retarder = bool(tables.output_retarder_nm.any())
        self.output_nm = tables.output_retarder_nm
        self.output_rpm_per_mps = shaft_per_m * 60
        self.output_brake_per_nm = tractive_force_n(
            1.0,
            lanes.revolutions_per_km,
            powertrain.axle_ratio,
            1.0,
            1 / powertrain.axle_efficiency,
        )

    def output_retarder_n(self, speed: Array) -> Array | float:
        if not self.has_output_retarder:
            return 0.0
        place = np.minimum((self.output_rpm_per_mps * speed).astype(np.int64), self.length - 1)
        force: Array = self.output_nm[place] * self.output_brake_per_nm
        return force
