"""Headings by the open standards' names and numbers and by plain words; doubt stays doubt.

Names are those of SAE J1979 (mode 01) and SAE J1939-71 as decoders print them, from memory; plain
words are common practice, no source.
"""

from __future__ import annotations

import pytest

from gearing.logs.column_rule import rule_line
from gearing.logs.headings import channel_named, fold, recognise, short_name
from gearing.quantities import QUANTITIES

NAMED = {
    "indicated_speed_mps": "Wheel-Based Vehicle Speed|Vehicle speed|Speed (OBD)(km/h)|SPN 84|PID 0D"
    "|Fahrzeuggeschwindigkeit (km/h)|Vitesse véhicule|Velocidad del vehículo|pid_010D"
    "|CCVS1_WheelBasedVehicleSpeed|Veh Spd, kph|vehicle_speed_km_hr|[010D] Vehicle Speed (km/h)",
    "gps_speed_mps": "Navigation-Based Vehicle Speed|GPS Speed|Speed (GPS)|Speed over ground (kn)"
    "|GpsSpeed|Geschwindigkeit (GPS) [km/h]|Vitesse GPS|SPN 517|Vehicle speed / GPS"
    "|VDS_NavigationBasedVehicleSpeed",
    "indicated_distance_m": "Total Vehicle Distance|High Resolution Total Vehicle Distance|Odometer"
    "|SPN 245|SPN917|PID A6|Kilometerstand|Cuentakilómetros"
    "|VDHR_HghRslutionTotalVehicleDistance",
    "output_shaft_rpm": "Transmission Output Shaft Speed|Transmission 1 Output Shaft Speed|SPN 191",
    "input_shaft_rpm": "Transmission Input Shaft Speed|Turbine speed|SPN 161",
    "engine_speed_rpm": "Engine Speed|Engine RPM|rpm|engineSpeed|SPN 190|PID 0C"
    "|Motordrehzahl (U/min)|Régime moteur (tr/min)|Engine speed / ECU"
    "|EEC1_EngSpeed|Eng Spd [1/min]|0x0C Engine RPM",
    "gear": "Transmission Current Gear|Gear|SPN 523|Gang|ETC2_TransCurrentGear",
    "gear_ratio": "Transmission Actual Gear Ratio|SPN 526|PID A4",
    "lockup_engaged": "Transmission Torque Converter Lockup Engaged|SPN 573",
    "shift_in_process": "Transmission Shift In Process|SPN 574",
    "fuel_rate_lph": "Engine Fuel Rate|Fuel Flow (L/hr)|Fuel rate, gal/h|SPN 183|PID 5E"
    "|LFE1_EngFuelRate|fuel_rate_gal_per_hr",
    "fuel_used_l": "Engine Total Fuel Used|SPN 250",
    "mass_air_flow_gps": "MAF air flow rate|Mass Air Flow Rate (g/s)|Calculated MAF [g/s]|PID 10",
    "engine_torque_percent": "Actual Engine - Percent Torque|SPN 513|PID 62",
    "reference_torque_nm": "Engine Reference Torque|SPN 544|PID 63",
    "engine_load_percent": "Engine Percent Load At Current Speed|Calculated load value|PID 04"
    "|SPN 92"
    "|EEC2_EngPercentLoadAtCurrentSpeed|Eng Load pct",
    "accelerator_percent": "Accelerator Pedal Position 1|Accelerator pedal position D|PID 49"
    "|SPN 91"
    "|AccelPedalPos1",
    "retarder_torque_percent": "Actual Retarder - Percent Torque|SPN 520",
    "coolant_temperature_c": "Engine Coolant Temperature|Engine Coolant Temperature 1|Coolant (°F)"
    "|PID 05|SPN 110|Kühlmitteltemperatur (°C)"
    "|ET1_EngCoolantTemp",
    "transmission_oil_temperature_c": "Transmission Oil Temperature 1|SPN 177",
    "ambient_temperature_c": "Ambient Air Temperature|Outside temperature|PID 46|SPN 171"
    "|Température extérieure (°C)|Temperatura exterior"
    "|AMB_AmbientAirTemp|0x46 Ambient air temperature",
    "barometric_pressure_kpa": "Barometric Pressure|Absolute barometric pressure|PID 33|SPN 108",
    "regeneration_active": "Diesel Particulate Filter Active Regeneration Status|SPN 3700",
    "engine_hours_h": "Engine Total Hours of Operation|SPN 247",
    "latitude_deg": "lat|Latitude (deg)|GPS Latitude|Breite [°]|Latitud|VP_Latitude|SPN 584",
    "longitude_deg": "lon|lng|Longitude (deg)|Länge [°]|Longitud|SPN 585",
    "altitude_m": "ele|Altitude|GPS Altitude [m]|Höhe [m]|SPN 580|Altitude / GPS",
    "gps_course_deg": "Compass Bearing|Course over ground|Heading|SPN 165",
    "hdop": "HDOP",
    "intake_air_temperature_c": "Intake Air Temperature|PID 0F|SPN 172|SPN 105",
    "time": "Time|Timestamp|UTC|GPS Time|Zeit|Horodatage|Fecha y hora|Time / trip|Clock / Time",
    "date": "Date|Datum|Fecha",
}
PAIRS = [(heading, name) for name, text in NAMED.items() for heading in text.split("|")]
NOTHING = """Engine Oil Temperature|Fuel Level|Throttle Position
Intake manifold pressure|Wheel speed front left|Speed limit|Target speed|Wind speed|Average speed
Cruise control set speed|Fuel economy|GPS accuracy|Vertical speed|Demanded torque|Battery voltage
Driver's Demand Engine - Percent Torque|Engine's Desired Operating Speed|Max speed|Satellites
DesEngSpeed|AC Compressor Speed
Altitude / Sensor|Distance to empty|Exhaust temperature|SPN 999|Time to destination|x""".replace(
    "\n", "|"
).split("|")


@pytest.mark.parametrize(("heading", "name"), PAIRS, ids=[h for h, _ in PAIRS])
def test_named(heading: str, name: str) -> None:
    match = recognise(heading)
    assert match is not None
    assert (match.target, match.is_open) == (name, False)


@pytest.mark.parametrize("heading", NOTHING)
def test_not_mistaken_for_a_channel(heading: str) -> None:
    assert recognise(heading) is None


@pytest.mark.parametrize("heading", ["Speed", "Geschwindigkeit [km/h]", "Temperature", "Distance"])
def test_open_headings_stay_open(heading: str) -> None:
    match = recognise(heading)
    assert match is not None
    assert match.is_open


@pytest.mark.parametrize(
    ("heading", "unit"),
    [
        ("Speed (OBD)(km/h)", "km/h"),
        ("vehicle_speed_kmh", "km/h"),
        ("GPS Speed mph", "mph"),
        ("gps_speed_mps", "m/s"),
        ("engine_speed_rpm", "rpm"),
        ("mass_air_flow_gps", "g/s"),
        ("Coolant temp F", "degF"),
        ("Latitude [°]", "deg"),
        ("Outside temperature (°C)", "degC"),
        ("Fuel rate, l/h", "L/h"),
        ("Fuel Rate (gph)", "gal/h"),
        ("MAF [l/s]", "L/s"),
        ("Vehicle speed", None),
    ],
)
def test_unit_in_the_heading(heading: str, unit: str | None) -> None:
    match = recognise(heading)
    assert match is not None
    assert match.unit == unit


def test_every_standard_number_of_the_table_is_known() -> None:
    for name, quantity in QUANTITIES.items():
        if quantity.spn is not None:
            for heading in (f"SPN {quantity.spn}", f"Something (SPN{quantity.spn}) [x]"):
                match = recognise(heading)
                assert match is not None
                assert match.target == name
        if quantity.pid is not None:
            match = recognise(f"PID {quantity.pid}")
            assert match is not None
            assert match.target == name


def test_every_heading_of_the_table_names_its_own_quantity() -> None:
    for name, quantity in QUANTITIES.items():
        for heading in (*quantity.headings, name):
            match = recognise(heading)
            assert match is not None, heading
            assert match.target == name, heading


def test_short_names_lead_back_to_their_channel() -> None:
    for name in QUANTITIES:
        assert channel_named(short_name(name)) == name
        assert channel_named(name) == name


def test_folding_takes_off_case_accents_camel_case_and_punctuation() -> None:
    assert fold("Kühlmittel-Temperatur") == "kuhlmittel temperatur"
    assert fold("GpsSpeed") == "gps speed"
    assert fold("ENGINE_SPEED") == "engine speed"


def test_lines_to_add_are_toml() -> None:
    import tomllib

    line = rule_line('Odd "name" \\ 2', "indicated_speed_mps", "mph")
    parsed = tomllib.loads(f"[columns]\n{line}\n")
    assert parsed["columns"] == {'Odd "name" \\ 2': {"channel": "indicated_speed", "unit": "mph"}}


@pytest.mark.parametrize(
    ("heading", "target", "unit"),
    [
        ("Fuel L/hr", "fuel_rate_lph", "L/h"),
        ("Diesel (gal/h)", "fuel_rate_lph", "gal/h"),
        ("GPS km/h", "gps_speed_mps", "km/h"),
        ("GPS_mph", "gps_speed_mps", "mph"),
        ("Outside C", "ambient_temperature_c", "degC"),
        ("Tacho km/h", "indicated_speed_mps", "km/h"),
        ("Tacho rpm", "engine_speed_rpm", "rpm"),
        ("Barometric pressure kPa", "barometric_pressure_kpa", "kPa"),
        ("EngFuelRate mL/s", "fuel_rate_lph", "mL/s"),
        ("EngSpeed min-1", "engine_speed_rpm", "rpm"),
    ],
)
def test_a_noun_and_its_unit_name_a_channel(heading: str, target: str, unit: str) -> None:
    found = recognise(heading)
    assert found is not None
    assert (found.target, found.unit) == (target, unit)


@pytest.mark.parametrize("heading", ["Tacho", "GPS", "Outside", "GPS satellites", "Engine hours"])
def test_a_noun_alone_names_none(heading: str) -> None:
    found = recognise(heading)
    assert found is None or found.target not in ("engine_speed_rpm", "gps_speed_mps")
