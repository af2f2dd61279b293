"""The standard atmosphere against its own tables."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from gearing.vehicle import atmosphere

# U.S. Standard Atmosphere, 1976: geometric altitude [m], temperature [K], pressure [Pa],
# density [kg/m3].
TABLE = [
    (0, 288.150, 101325.0, 1.2250),
    (500, 284.900, 95461.3, 1.16727),
    (1000, 281.651, 89876.3, 1.11166),
    (1609.344, 277.692, 83432.0, 1.0467),
    (2000, 275.154, 79501.4, 1.00655),
    (3000, 268.659, 70121.2, 0.90925),
    (4000, 262.166, 61660.4, 0.81935),
]


@pytest.mark.parametrize(("altitude", "kelvin", "pascal", "density"), TABLE)
def test_table(altitude: float, kelvin: float, pascal: float, density: float) -> None:
    z = float(altitude)
    assert atmosphere.standard_temperature_k(z) == pytest.approx(kelvin, abs=0.001)
    assert atmosphere.standard_pressure_pa(z) == pytest.approx(pascal, rel=2e-5)
    own = atmosphere.density_at_altitude_kgpm3(z, kelvin - 273.15)
    assert own == pytest.approx(density, rel=5e-5)


def test_density_of_warm_and_cold_air() -> None:
    # SAE J2263's reference air, 20 degC and 98.21 kPa: 1.167 kg/m3, the 1.17 of
    # 40 CFR 1066.310.
    assert atmosphere.density_kgpm3(98210.0, 20.0) == pytest.approx(1.167, abs=0.0005)
    # A fall from 70 to 60 degF makes air 1.92 % denser (arithmetic on absolute temperature).
    warm = atmosphere.density_kgpm3(101325.0, (70 - 32) / 1.8)
    cool = atmosphere.density_kgpm3(101325.0, (60 - 32) / 1.8)
    assert (cool / warm - 1) * 100 == pytest.approx(1.92, abs=0.01)


def test_float_array_and_expression_agree() -> None:
    heights = [0.0, 1234.5, 3000.0]
    single = [atmosphere.density_at_altitude_kgpm3(z, 12.0) for z in heights]
    array = atmosphere.density_at_altitude_kgpm3(np.array(heights), np.full(3, 12.0))
    frame = pl.DataFrame({"z": heights, "t": [12.0] * 3})
    column = frame.select(
        atmosphere.density_at_altitude_kgpm3(pl.col("z"), pl.col("t"))
    ).to_series()
    assert array.tolist() == pytest.approx(single, rel=1e-12)
    assert column.to_list() == pytest.approx(single, rel=1e-12)
