"""The vehicle ensemble driven side by side, and what it did: the road model's input and output."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from numpy.typing import NDArray

    from gearing.units import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Ensemble:
    """Vehicles, each array of shape (n,); `road` says which of the roads each drives.

    `rolling_at_25c` [-] and `rolling_per_k` [1/K] as in `road_load`; `temperature_c` at
    sea level, less the standard atmosphere's 6.5 K a km above it;
    `headwind_mps` along the way driven; `torque_factor`, `friction_factor` and `retarder_factor`
    scale the engine's full-load torque, its friction and the retarder, `loss_factor` the losses of
    gearbox and axle. `speed_factor` is the speed this driver seeks as a share of the road's, `pace`
    how hard it speeds up and slows down as a share of what the module `pace` says,
    `dip_overspeed_share` that by which a dip may carry it over it before the brakes come on;
    `gears_down`: changes down for the engine to brake, else the service brakes do what the gear of
    the level road does not hold; `leaves_stops`: full stops of work on a descent before it does.
    """

    mass_kg: Array
    rolling_at_25c: Array
    rolling_per_k: Array
    drag_area_m2: Array
    headwind_mps: Array
    temperature_c: Array
    revolutions_per_km: Array
    torque_factor: Array
    friction_factor: Array
    road: NDArray[np.int64]
    rotating_kg: Array | float = 0.0
    retarder_factor: Array | float = 1.0
    loss_factor: Array | float = 1.0
    speed_factor: Array | float = 1.0
    pace: Array | float = 1.0
    dip_overspeed_share: Array | float = 0.0
    gears_down: NDArray[np.bool_] | bool = True
    leaves_stops: Array | float = 1.0

    @staticmethod
    def joined(parts: Sequence[Ensemble]) -> Ensemble:
        """All vehicles of some ensembles in order, every value an array of shape (n,)."""

        def all_of(name: str) -> Any:
            shaped = (np.broadcast_to(getattr(one, name), one.mass_kg.shape) for one in parts)
            return np.concatenate(list(shaped))

        return Ensemble(**{one.name: all_of(one.name) for one in fields(Ensemble)})


@dataclass(frozen=True, slots=True)
class Run:
    """What the vehicles did. Time series have shape (k, n), totals (n,). Energies in J.

    `speed_mps`, `gear` (from 1), `engine_rpm` and `load` (share of full load; negative where
    the engine brakes) are those over each piece; the energies are at the wheels. `retarder_j` is
    part of `engine_brake_j`.
    """

    seconds: Array
    speed_mps: NDArray[np.float32]
    gear: NDArray[np.int8]
    engine_rpm: NDArray[np.float32]
    load: NDArray[np.float32]
    service_brake_n: NDArray[np.float32]
    duration_s: NDArray[np.float32]
    fuel_l: NDArray[np.float32]
    liters: Array
    full_load_s: Array
    stalled: NDArray[np.bool_]
    drive_j: Array
    engine_brake_j: Array
    retarder_j: Array
    service_brake_j: Array
    air_j: Array
    rolling_j: Array
    grade_j: Array
    kinetic_j: Array
