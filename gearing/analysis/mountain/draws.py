"""From inputs to the vehicle ensemble: the same draws on each set of tires."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from gearing.statistics.estimate import NORMAL_95
from gearing.vehicle.atmosphere import LAPSE_K_PER_M, density_at_altitude_kgpm3
from gearing.vehicle.climb import Holding, Load
from gearing.vehicle.ensemble import Ensemble
from gearing.vehicle.parameters import DIP_OVERSPEED_SHARE
from gearing.vehicle.road_load import rolling_coefficient

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearing.analysis.mountain.inputs import Inputs
    from gearing.statistics.arrays import Array, Index, Mask
    from gearing.statistics.estimate import Estimate
    from gearing.study.model import Side

AT_ONCE_STOPS = 0.02  # a driver who changes down as soon as the gear does not hold
DRAWN = (
    "mass_kg", "rolling_at_25c", "rolling_per_k", "drag_area_m2", "headwind_mps",
    "temperature_c", "torque_factor", "friction_factor", "retarder_factor", "speed_factor",
    "loss_factor", "pace",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Draws:
    """Values of shape (n,) by parameter, the first all central, `temperature_c` at sea level; turns
    a km by period, or by whatever else names a set of tires."""

    inputs: Inputs
    values: dict[str, Array]
    revolutions_per_km: dict[str, Array]
    gears_down: Mask  # in every second draw, in the central one where it is usual
    leaves_stops: Array  # one; half of those who change down do so at once
    # by which a dip may exceed the speed wanted: in an eighth of the draws, not the central one
    dip_overspeed_share: Array
    seed: int

    @property
    def count(self) -> int:
        """How many draws there are, the central one included."""
        return int(self.values["mass_kg"].size)

    def first(self, count: int) -> Draws:
        """The first draws alone."""
        turns = {side: values[:count] for side, values in self.revolutions_per_km.items()}
        return replace(
            self,
            values={name: values[:count] for name, values in self.values.items()},
            revolutions_per_km=turns,
            gears_down=self.gears_down[:count],
            leaves_stops=self.leaves_stops[:count],
            dip_overspeed_share=self.dip_overspeed_share[:count],
        )

    def central(self) -> Draws:
        """The central draw alone."""
        return self.first(1)

    @property
    def sides(self) -> tuple[str, ...]:
        """The names of the sets of tires."""
        return tuple(self.revolutions_per_km)


def make_draws(
    inputs: Inputs,
    revolutions_per_km: Mapping[Side, Estimate] | Mapping[str, Estimate],
    count: int,
    seed: int,
) -> Draws:
    """`count` draws besides the central one. Both sides share vehicle, weather and driver."""
    rng = np.random.default_rng(seed)

    def deviates() -> Array:
        return np.concatenate([[0.0], rng.standard_normal(count)])

    values = {name: inputs.draw(name, deviates()) for name in DRAWN if name in inputs.parameters}
    for name in ("retarder_factor", "loss_factor"):
        values.setdefault(name, np.ones(count + 1))
    turns = {side: _revolutions(one, deviates()) for side, one in revolutions_per_km.items()}
    number = np.arange(count + 1) + (0 if inputs.powertrain.changes_down else 1)
    dips = np.where(number % 8 == 4, DIP_OVERSPEED_SHARE, 0.0)
    leaves = np.where(number % 4 == 0, 1.0, AT_ONCE_STOPS)
    return Draws(inputs, values, turns, number % 2 == 0, leaves, dips, seed)


def _revolutions(estimate: Estimate, deviates: Array) -> Array:
    """An estimate's revolutions [1/km] at standard normal deviates, shape (n,).

    Raises
    ------
    ValueError
        it is unknown.
    """
    if estimate.value is None:
        raise ValueError(str(estimate.why))
    low = estimate.value if estimate.low is None else estimate.low
    high = estimate.value if estimate.high is None else estimate.high
    drawn: Array = estimate.value + deviates * (high - low) / 2 / NORMAL_95
    return drawn


def road_of_draws(count: int, roads: int) -> Index:
    """Which of a way's roads each draw is on, shape (n,): the central one on the first."""
    number = np.arange(count)
    which: Index = np.where(number > 0, 1 + (number - 1) % max(roads - 1, 1), 0)
    return np.minimum(which, roads - 1)


def road_ensemble(draws: Draws, *, roads: int = 1, reverse: bool = False) -> Ensemble:
    """All draws of each side one way and the other, side after side; `roads` are those of one way,
    then as many of the other.

    The wind blows along the road: what is ahead one way is behind the other. `reverse`: the first
    way is the named road driven backwards.
    """
    which = road_of_draws(draws.count, roads)
    ways = ((which, -1.0 if reverse else 1.0), (roads + which, 1.0 if reverse else -1.0))
    parts = [(side, road, ahead) for side in draws.sides for road, ahead in ways]
    ensemble = ensemble_of(draws, [(road, side) for side, road, _ in parts])
    wind = ensemble.headwind_mps * np.repeat([ahead for _, _, ahead in parts], draws.count)
    return replace(ensemble, headwind_mps=wind)


def ensemble_of(draws: Draws, parts: Sequence[tuple[Index | int, str]]) -> Ensemble:
    """The draws on the roads and sides of each part, one part after another."""
    values: dict[str, Any] = {name: np.tile(one, len(parts)) for name, one in draws.values.items()}
    return Ensemble(
        **values,
        revolutions_per_km=np.concatenate([draws.revolutions_per_km[s] for _, s in parts]),
        dip_overspeed_share=np.tile(draws.dip_overspeed_share, len(parts)),
        gears_down=np.tile(draws.gears_down, len(parts)),
        leaves_stops=np.tile(draws.leaves_stops, len(parts)),
        road=np.concatenate([np.broadcast_to(road, draws.count) for road, _ in parts]),
        rotating_kg=draws.inputs.rotating_kg,
    )


def holding(draws: Draws, side: str, altitude_m: float, *, headwind: bool = False) -> Holding:
    """What each gear holds at an altitude [m] for all draws of a side; still air unless asked."""
    values = draws.values
    celsius = values["temperature_c"] - LAPSE_K_PER_M * altitude_m
    left = draws.inputs.powertrain.engine.altitude_factor(altitude_m)
    load = Load(
        mass_kg=values["mass_kg"],
        rolling=rolling_coefficient(values["rolling_at_25c"], celsius, values["rolling_per_k"]),
        drag_area_m2=values["drag_area_m2"],
        density_kgpm3=density_at_altitude_kgpm3(np.full(draws.count, altitude_m), celsius),
        revolutions_per_km=draws.revolutions_per_km[side],
        torque_factor=values["torque_factor"] * left,
        friction_factor=values["friction_factor"],
        retarder_factor=values["retarder_factor"],
        loss_factor=values["loss_factor"],
        headwind_mps=values["headwind_mps"] if headwind else np.zeros(draws.count),
    )
    return Holding(draws.inputs.powertrain, load)
