"""The one table of quantities: name, unit, label, plausible range, meaning, standard, headings.

It drives heading recognition, range checks, the study file's checks, chart axes, table heads
and the glossary. A quantity's name ends in its unit where it has one; inside the program a
value is always in that unit. `headings` are plain words and the open standards' own names,
compared after folding (case, accents, punctuation and the unit taken off).

Sources: SAE J1979 (mode 01 parameter identifiers, PID), SAE J1939 (suspect parameter numbers,
SPN), NMEA 0183 and GPX 1.1 for the receiver's side; plain words are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Quantity:
    """One channel a log may carry.

    `low` and `high` bound what is plausible, in `unit`; values outside are set aside. `codes`
    are values, in `unit`, that the standard reserves for "not available" or "error" (all bits
    set, and the next below, as scaled) or that recorders write for it (-40 degC is byte 0).
    `dimensions` are the units' dimensions a heading may carry, where other than the unit's own.
    """

    name: str
    unit: str
    label: str
    meaning: str
    low: float | None
    high: float | None
    headings: tuple[str, ...]
    pid: str | None = None
    spn: int | None = None
    codes: tuple[float, ...] = ()
    dimensions: tuple[str, ...] = ()
    source: str = "bus"  # bus | receiver | clock


_TABLE = (
    Quantity(
        "time",
        "s",
        "Time",
        "When the sample was taken.",
        None,
        None,
        ("time", "timestamp", "date time", "datetime", "utc", "utc time", "gps time"),
        source="clock",
    ),
    Quantity(
        "latitude_deg",
        "deg",
        "Latitude",
        "Position north of the equator (WGS 84).",
        -90,
        90,
        ("latitude", "lat", "gps latitude", "gps lat", "position latitude"),
        spn=584,
        source="receiver",
    ),
    Quantity(
        "longitude_deg",
        "deg",
        "Longitude",
        "Position east of Greenwich (WGS 84).",
        -180,
        180,
        ("longitude", "lon", "lng", "long", "gps longitude", "gps lon", "position longitude"),
        spn=585,
        source="receiver",
    ),
    Quantity(
        "altitude_m",
        "m",
        "Altitude",
        "Height above the sea as the receiver gives it.",
        -430,
        6000,
        ("altitude", "alt", "elevation", "ele", "gps altitude", "height"),
        spn=580,
        codes=(5691.875,),
        source="receiver",
    ),
    Quantity(
        "gps_speed_mps",
        "m/s",
        "GPS speed",
        "Speed over ground measured by the receiver.",
        0,
        70,
        ("gps speed", "speed over ground", "ground speed", "navigation based vehicle speed"),
        spn=517,
        source="receiver",
    ),
    Quantity(
        "gps_course_deg",
        "deg",
        "GPS course",
        "Direction of travel over ground, clockwise from north.",
        0,
        360,
        ("gps course", "course", "bearing", "gps bearing", "heading", "track", "compass bearing"),
        spn=165,
        source="receiver",
    ),
    Quantity(
        "hdop",
        "-",
        "HDOP",
        "Horizontal dilution of precision: how well the satellites stand; small is good.",
        0,
        100,
        ("hdop", "gps hdop", "horizontal dilution of precision"),
        source="receiver",
    ),
    Quantity(
        "indicated_speed_mps",
        "m/s",
        "Indicated speed",
        "Speed as the vehicle's computer counts it.",
        0,
        70,
        ("vehicle speed", "vehicle speed sensor", "obd speed", "wheel based vehicle speed"),
        pid="0D",
        spn=84,
    ),
    Quantity(
        "indicated_distance_m",
        "m",
        "Indicated distance",
        "Distance as the vehicle's computer counts it.",
        0,
        5e9,
        ("odometer", "total vehicle distance", "high resolution total vehicle distance"),
        pid="A6",
        spn=245,
    ),
    Quantity(
        "output_shaft_rpm",
        "rpm",
        "Output shaft speed",
        "Speed of the transmission's output shaft.",
        0,
        8000,
        ("output shaft speed", "transmission output shaft speed", "propeller shaft speed"),
        spn=191,
    ),
    Quantity(
        "input_shaft_rpm",
        "rpm",
        "Input shaft speed",
        "Speed of the transmission's input shaft, behind the converter.",
        0,
        8000,
        ("input shaft speed", "transmission input shaft speed", "turbine speed"),
        spn=161,
    ),
    Quantity(
        "engine_speed_rpm",
        "rpm",
        "Engine speed",
        "Revolutions of the engine a minute.",
        0,
        8000,
        ("engine speed", "engine rpm", "rpm", "engine revolutions"),
        pid="0C",
        spn=190,
        codes=(16383.75,),
    ),
    Quantity(
        "gear",
        "-",
        "Gear",
        "Gear in mesh, as the transmission reports it.",
        -4,
        20,
        ("gear", "current gear", "transmission current gear"),
        spn=523,
    ),
    Quantity(
        "gear_ratio",
        "-",
        "Gear ratio",
        "Input over output speed of the transmission.",
        -25,
        25,
        ("gear ratio", "actual gear ratio", "transmission actual gear ratio"),
        pid="A4",
        spn=526,
    ),
    Quantity(
        "lockup_engaged",
        "-",
        "Converter locked",
        "1 while the torque converter is locked.",
        0,
        1,
        ("lockup engaged", "torque converter lockup engaged", "converter locked"),
        spn=573,
    ),
    Quantity(
        "shift_in_process",
        "-",
        "Shift in process",
        "1 while the transmission is shifting.",
        0,
        1,
        ("shift in process", "transmission shift in process"),
        spn=574,
    ),
    Quantity(
        "fuel_rate_lph",
        "L/h",
        "Fuel rate",
        "Fuel the engine burns, volume per time.",
        0,
        300,
        ("fuel rate", "engine fuel rate", "fuel flow", "consumption"),
        pid="5E",
        spn=183,
    ),
    Quantity(
        "fuel_mass_rate_gps",
        "g/s",
        "Fuel mass rate",
        "Fuel the engine burns, mass per time; becomes volume by the fuel's density.",
        0,
        70,
        ("fuel mass rate", "engine fuel mass rate", "fuel mass flow"),
        pid="9D",
    ),
    Quantity(
        "fuel_used_l",
        "L",
        "Fuel used",
        "Running count of fuel the engine has burned.",
        0,
        2.2e9,
        ("total fuel used", "engine total fuel used", "fuel used"),
        spn=250,
        codes=(2147483647.5, 2147483647.0),
    ),
    Quantity(
        "mass_air_flow_gps",
        "g/s",
        "Mass air flow",
        "Air the engine draws, mass per time.",
        0,
        700,
        ("mass air flow", "maf", "calculated maf", "maf air flow rate", "air flow rate"),
        pid="10",
        codes=(655.35,),
    ),
    Quantity(
        "engine_torque_percent",
        "%",
        "Engine torque",
        "Actual torque in percent of the reference torque.",
        -125,
        130,
        ("actual engine percent torque", "engine torque", "actual torque"),
        pid="62",
        spn=513,
        codes=(130.0, 129.0),
    ),
    Quantity(
        "reference_torque_nm",
        "N*m",
        "Reference torque",
        "The torque that 100 % stands for.",
        0,
        5000,
        ("engine reference torque", "reference torque"),
        pid="63",
        spn=544,
    ),
    Quantity(
        "engine_load_percent",
        "%",
        "Engine load",
        "Torque in percent of what is available at the present engine speed.",
        0,
        125,
        ("engine load", "calculated load", "calculated engine load", "percent load"),
        pid="04",
        spn=92,
    ),
    Quantity(
        "accelerator_percent",
        "%",
        "Accelerator",
        "Accelerator pedal position.",
        0,
        105,
        ("accelerator pedal position", "accelerator", "pedal position"),
        pid="49",
        spn=91,
        codes=(102.0, 101.6),
    ),
    Quantity(
        "retarder_torque_percent",
        "%",
        "Retarder torque",
        "Retarder torque in percent of its reference; braking is negative.",
        -125,
        0,
        ("actual retarder percent torque", "retarder torque", "retarder"),
        spn=520,
    ),
    Quantity(
        "coolant_temperature_c",
        "degC",
        "Coolant temperature",
        "Temperature of the engine's coolant.",
        -40,
        150,
        ("coolant temperature", "engine coolant temperature", "ect"),
        pid="05",
        spn=110,
        codes=(-40.0,),
    ),
    Quantity(
        "transmission_oil_temperature_c",
        "degC",
        "Transmission oil temperature",
        "Temperature of the transmission's oil.",
        -60,
        180,
        ("transmission oil temperature", "transmission fluid temperature", "trans temp"),
        spn=177,
    ),
    Quantity(
        "intake_air_temperature_c",
        "degC",
        "Intake air temperature",
        "Temperature of the air the engine draws; at a cold start near that outside.",
        -40,
        210,
        ("intake air temperature", "engine air intake temperature", "iat"),
        pid="0F",
        spn=172,
        codes=(-40.0,),
    ),
    Quantity(
        "ambient_temperature_c",
        "degC",
        "Outside temperature",
        "Temperature of the air outside.",
        -50,
        60,
        ("ambient air temperature", "ambient temperature", "outside temperature"),
        pid="46",
        spn=171,
        codes=(-40.0,),
    ),
    Quantity(
        "barometric_pressure_kpa",
        "kPa",
        "Air pressure",
        "Pressure of the air outside.",
        45,
        110,
        ("barometric pressure", "atmospheric pressure", "baro"),
        pid="33",
        spn=108,
    ),
    Quantity(
        "regeneration_active",
        "-",
        "Filter regeneration",
        "1 while the exhaust filter is burned clean, which takes fuel of its own.",
        0,
        1,
        ("regeneration active", "dpf regeneration active", "particulate filter regeneration"),
        spn=3700,
    ),
    Quantity(
        "engine_hours_h",
        "h",
        "Engine hours",
        "Running count of hours the engine has run.",
        0,
        2.2e8,
        ("engine hours", "engine total hours of operation"),
        spn=247,
        codes=(214748364.75, 214748364.7),
        dimensions=("time",),
    ),
)

QUANTITIES: dict[str, Quantity] = {quantity.name: quantity for quantity in _TABLE}


def _beside(
    name: str, unit: str, label: str, low: float | None = None, high: float | None = None
) -> Quantity:
    return Quantity(name, unit, label, "", low, high, ())


# What companion files carry beside the channels: weather, fill-ups, road profiles. No wind blows
# on over 75 m/s (270 km/h, the strongest class of tropical cyclones; from memory)
BESIDE: dict[str, Quantity] = {
    quantity.name: quantity
    for quantity in (
        _beside("wind_speed_mps", "m/s", "wind speed", 0, 75),
        _beside("wind_from_deg", "deg", "wind direction", 0, 360),
        _beside("volume_l", "L", "volume"),
        _beside("full", "-", "full"),
        _beside("partial", "-", "partial"),
        _beside("missed", "-", "missed"),
        _beside("price", "-", "price"),
        _beside("other_l", "L", "other use"),
        _beside("distance_m", "m", "distance"),
        _beside("speed_limit_mps", "m/s", "speed limit"),
        _beside("stop_s", "s", "stop"),
        _beside("grade_percent", "%", "grade"),
    )
}


def quantity_of(name: str) -> Quantity:
    """The row of a channel, or of what companion files carry beside the channels.

    Raises
    ------
    KeyError
        there is none of that name.
    """
    return QUANTITIES.get(name) or BESIDE[name]
