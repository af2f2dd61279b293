"""Inputs as known: declared, then measured from the logs, the rest assumed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from gearing.analysis.mountain.fuel_line import standing_fuel
from gearing.analysis.mountain.inputs import (
    Inputs,
    make_inputs,
    missing,
    parameter,
    with_temperature,
)
from gearing.analysis.mountain.learned import fuel_by_road, learn
from gearing.analysis.mountain.shifts import see_shifts

if TYPE_CHECKING:
    from gearing.study.model import Side, Study

# Where no mass is declared the search starts from a laden medium truck or bus, with any mass
# from a van's to a tractor-trailer's within its range.
START_MASS_KG = 12_000.0
MASS_ROUNDS = 6
MIN_TEMPERATURE_SPREAD_K = 5.0


def known_inputs(
    study: Study,
    steps: pl.DataFrame,
    sides: pl.DataFrame,
    revolutions_per_km: dict[Side, float],
    *,
    weighed: bool = True,
) -> Inputs:
    """Declared or assumed, then what the logs of these trips add; `weighed` as in `make_inputs`."""
    usual = make_inputs(study, {}, None, weighed=weighed)
    weather = _logged_weather(sides, steps)
    if weather is not None:
        usual = with_temperature(usual, *weather)
    learned = learn(steps, sides, usual, revolutions_per_km)
    learned = learned or fuel_by_road(steps, sides, usual, revolutions_per_km)
    learned |= standing_fuel(steps, sides)
    points = see_shifts(steps, sides, usual.powertrain, revolutions_per_km)
    inputs = make_inputs(study, learned, points, weighed=weighed)
    return inputs if weather is None else with_temperature(inputs, *weather)


def with_mass(
    study: Study,
    steps: pl.DataFrame,
    sides: pl.DataFrame,
    revolutions_per_km: dict[Side, float],
) -> Study:
    """The study, with a mass found from torque, grade and acceleration where none is declared.

    Unchanged where one is declared, or where the logs cannot say.
    """
    if study.vehicle.mass_kg is not None:
        return study
    mass = START_MASS_KG
    for _ in range(MASS_ROUNDS):
        guess = replace(study, vehicle=replace(study.vehicle, mass_kg=mass))
        if missing(guess) is not None:
            return study
        inputs = make_inputs(guess, {}, None)
        wide = parameter("mass_kg", mass, 0.2 * mass, 1.8 * mass, None)
        inputs = replace(inputs, parameters={**inputs.parameters, "mass_kg": wide})
        learned = learn(steps, sides, inputs, revolutions_per_km)
        if not learned:
            return study
        found = learned["mass_kg"].value
        settled = abs(found / mass - 1) < 0.002
        mass = found
        if settled:
            break
    return replace(study, vehicle=replace(study.vehicle, mass_kg=mass))


def _logged_weather(trips: pl.DataFrame, steps: pl.DataFrame) -> tuple[float, float, float] | None:
    """Mean altitude [m], outside temperature [degC] there and its spread over the days [K]."""
    if "ambient_temperature_c" not in trips.columns:
        return None
    known = trips["ambient_temperature_c"].drop_nulls().sort()  # whatever the trips' order
    altitude, mean = steps["altitude_m"].mean(), known.mean()
    if not isinstance(altitude, float) or not isinstance(mean, float):
        return None
    deviation = known.std() if known.len() > 1 else None
    spread = 2 * deviation if isinstance(deviation, float) else 0.0
    return altitude, mean, max(spread, MIN_TEMPERATURE_SPREAD_K)
