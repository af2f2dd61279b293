"""Air pressure, temperature and density with altitude.

Source: U.S. Standard Atmosphere, 1976 (NOAA, NASA, USAF), lowest layer (to 11 km): its
constants, and its geopotential altitude for a geometric one. Floats, numpy arrays and polars
expressions alike.
"""

from __future__ import annotations

from gearing.units import STANDARD_GRAVITY_MPS2, Number

SEA_LEVEL_TEMPERATURE_K = 288.15
SEA_LEVEL_PRESSURE_PA = 101_325.0
LAPSE_K_PER_M = 0.0065
EARTH_RADIUS_M = 6_356_766.0
MOLAR_MASS_KG_PER_MOL = 0.0289644
GAS_CONSTANT_J_PER_MOL_K = 8.31432  # the 1976 atmosphere's own value
DRY_AIR_J_PER_KG_K = GAS_CONSTANT_J_PER_MOL_K / MOLAR_MASS_KG_PER_MOL
ZERO_CELSIUS_K = 273.15
_EXPONENT = STANDARD_GRAVITY_MPS2 / (DRY_AIR_J_PER_KG_K * LAPSE_K_PER_M)


def standard_temperature_k(altitude_m: Number) -> Number:
    """Temperature of the standard atmosphere [K] at geometric altitude [m]."""
    geopotential_m = altitude_m * EARTH_RADIUS_M / (altitude_m + EARTH_RADIUS_M)
    return SEA_LEVEL_TEMPERATURE_K - geopotential_m * LAPSE_K_PER_M


def standard_pressure_pa(altitude_m: Number) -> Number:
    """Pressure of the standard atmosphere [Pa] at geometric altitude [m]."""
    relative = standard_temperature_k(altitude_m) / SEA_LEVEL_TEMPERATURE_K
    pressure_pa: Number = SEA_LEVEL_PRESSURE_PA * relative**_EXPONENT
    return pressure_pa


def density_kgpm3(pressure_pa: Number, temperature_c: Number) -> Number:
    """Density of dry air [kg/m3] from its pressure [Pa] and temperature [degC].

    Moisture is left out: saturated air of 30 degC is 1.6 % lighter than dry, of 10 degC 0.5 %.
    """
    return pressure_pa / ((temperature_c + ZERO_CELSIUS_K) * DRY_AIR_J_PER_KG_K)


def density_at_altitude_kgpm3(altitude_m: Number, temperature_c: Number) -> Number:
    """Density [kg/m3] at the standard pressure of an altitude [m] and the air's own
    temperature [degC], for where no pressure is logged."""
    return density_kgpm3(standard_pressure_pa(altitude_m), temperature_c)
