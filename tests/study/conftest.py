"""A complete study file with every key, and the files it names."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

EXAMPLE = """\
name = "bookmobile"
units = "us"
time_zone = "America/Denver"
fillups = "fillups.csv"
weather = "weather.csv"
private_radius = "0.5 mi"
seed = 7
margin_percent = 1.5

[vehicle]
mass = "26500 lb"
fuel = "diesel"
axle_ratio = 4.88
gear_ratios = [3.51, 1.91, 1.43, 1.00, 0.74, 0.64]
converter = true
speed_source = "output shaft"
shaft_pulses = 16
drag_area = "65 ft^2"
rolling_resistance = 0.007
rolling_temperature_per_k = 0.005

[vehicle.engine]
torque_curve = { rpm = [800, 1600, 2400], torque = ["600 lbf*ft", "900 lbf*ft", "813.5 N*m"] }
governed_rpm = 2500
idle_rpm = 700
derate_above = "5000 ft"
derate_percent_per_km = 8
retarder = { kind = "compression", rpm = [1200, 2400], power = ["60 kW", "200 hp"] }

[before]
drive_tire = "245/70R19.5"
steer_tire = "245/70R19.5"
revolutions_per_mile = 628
logs = ["before/*.csv"]
pressure = "95 psi"
fitment = "dual"
tread = "6/32 in"

[after]
drive_tire = "265/70R19.5"
logs = ["after/*.csv"]

[[load]]
from = 2026-03-01
to = 2026-03-02
mass = "28500 lb"

[[load]]
from = 2026-04-01T08:00:00
to = 2026-04-01T18:00:00-06:00
towing = true

[[measured]]
from = 2026-03-14T09:00:00Z
to = 2026-03-14T09:10:00Z
distance = "5.00 mi"

[[measured]]
from = 2026-03-14T10:00:00
to = 2026-03-14T10:30:00
road = "county road 12"

[[dash]]
at = 2026-03-14T09:30:00
speed = "55 mph"
odometer = "48210 mi"

[columns]
"Speed 2" = { channel = "indicated_speed", unit = "mph" }
"Speed 3" = { channel = "ignore" }
RPM = "engine_speed"

[[columns.Temp]]
channel = "ambient_temperature_c"
unit = "degF"
files = "before/*.csv"

[[columns.Temp]]
channel = "coolant_temperature"
files = "after/*.csv"

[claim]
consumption_change_percent = -4

[money]
fuel_price = "4.10 USD/gal"
distance_per_year = "6000 mi"
cost = "2400 USD"

[[route]]
name = "Cold Spring Pass"
profile = "routes/cold_spring.csv"
target_speed = "60 mph"
"""

FILES = (
    "fillups.csv",
    "weather.csv",
    "routes/cold_spring.csv",
    "before/trip_1.csv",
    "before/trip_2.csv",
    "after/trip_3.csv",
)

Write = Callable[[str], Path]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in FILES:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("time\n")
    return tmp_path


@pytest.fixture
def write(folder: Path) -> Write:
    def write_study(text: str) -> Path:
        path = folder / "study.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write_study


@pytest.fixture
def example() -> str:
    return EXAMPLE
