"""What the road asks of the wheels: rolling, air, grade and inertia.

All forces are in N along the road, positive where they hold the vehicle back; `grade` is rise
over horizontal run [-]. Every function takes floats, numpy arrays or polars expressions alike.

Sources
-------
[1] 40 CFR 1066.210(d)(3): road load with its grade term sin(atan G) and normal force
    cos(atan G); 40 CFR 1036.545(f)(4) works one step of it in figures.
[2] ISO 28580: rolling resistance measured at 25 degC ambient; force at another temperature
    through F25 = F (1 + K (t - 25)), K = 0.006 per K for tires of commercial vehicles (from
    memory). SAE J1263 and J2263 use the same form with 0.0086 per K about 20 degC (from
    memory). Both hold for settled tires and moderate temperatures only.
[3] 40 CFR 1066.310(b)(7): rotating tires, wheels and drums count as 56.7 kg a tire.
[4] Logarithmic wind profile over open country; roughness length 0.1 m "roughly open" (WMO
    Guide to Instruments and Methods of Observation, from memory).
"""

from __future__ import annotations

from math import log

from gearing.units import Number

ROTATING_MASS_PER_TIRE_KG = 56.7  # [3]
ROLLING_REFERENCE_C = 25.0  # [2]
WIND_STATION_HEIGHT_M = 10.0
WIND_VEHICLE_HEIGHT_M = 1.8
ROUGHNESS_LENGTH_M = 0.1  # [4]


def along_and_across(grade: Number) -> tuple[Number, Number]:
    """Of a weight on a grade [-], the share along the road and the share across it. Source [1].

    Times weight the first is the force of the grade, the second what presses on the road.
    """
    cosine: Number = 1 / (1 + grade * grade) ** 0.5
    return grade * cosine, cosine


def rolling_coefficient(
    reference: Number,
    temperature_c: Number,
    per_k: Number | float,
) -> Number:
    """Rolling resistance coefficient [-] at an ambient temperature [degC].

    `reference` [-] is the coefficient at 25 degC, `per_k` [1/K] how much of it a kelvin takes
    off. Source [2].
    """
    return reference / (1 + per_k * (temperature_c - ROLLING_REFERENCE_C))


def air_force_n(
    speed_mps: Number,
    density_kgpm3: Number,
    drag_area_m2: Number | float,
    headwind_mps: Number | float = 0.0,
) -> Number:
    """Air drag [N] at a road speed [m/s] against a headwind [m/s]; a tailwind is negative.

    Half density times drag area times the square of the air's speed, with its sign.
    """
    air_speed = speed_mps + headwind_mps
    return 0.5 * density_kgpm3 * drag_area_m2 * air_speed * abs(air_speed)


def wind_at_vehicle_mps(
    station_wind_mps: Number,
    height_m: float = WIND_VEHICLE_HEIGHT_M,
    station_height_m: float = WIND_STATION_HEIGHT_M,
    roughness_m: float = ROUGHNESS_LENGTH_M,
) -> Number:
    """A station's wind [m/s] brought down to the vehicle's height. Source [4]."""
    return station_wind_mps * (log(height_m / roughness_m) / log(station_height_m / roughness_m))


def rotating_mass_kg(tires: int) -> float:
    """Equivalent mass [kg] of that many rotating tires and wheels. Source [3]."""
    return tires * ROTATING_MASS_PER_TIRE_KG


def engine_equivalent_mass_kg(inertia_kgm2: float, engine_radians_per_m: Number) -> Number:
    """Mass at the wheels [kg] that an engine's inertia [kg m2] acts as in a gear.

    `engine_radians_per_m` [rad/m]: 2 pi times the engine's turns a metre in that gear.
    """
    return inertia_kgm2 * engine_radians_per_m * engine_radians_per_m
