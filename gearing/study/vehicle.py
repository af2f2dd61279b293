"""The study's `[vehicle]`, `[before]` and `[after]` as declared."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, cast, get_args

from gearing.messages import Message, MessageError, Quantity, UserText, message
from gearing.study.model import (
    Brakes,
    Engine,
    Fitment,
    FuelKind,
    Period,
    Retarder,
    RetarderKind,
    RetarderShaft,
    Side,
    SpeedSource,
    Transmission,
    Vehicle,
)
from gearing.study.moments import read_moment
from gearing.study.tire_words import suggestion
from gearing.study.words import near_miss, shown
from gearing.units import MILE_M
from gearing.vehicle.tire import parse_size

if TYPE_CHECKING:
    from gearing.study.section import Section

# Where a published figure lies further than this from what the size gives, one of the two is
# a slip of the pen, or turns a km were written for turns a mile.
LARGEST_SIZE_DISAGREEMENT = 0.10
# a car's is 0.6 to 0.8 (common practice, no source): less is square feet taken for square meters
MIN_DRAG_AREA_M2 = 1.0


_RATIOS = "[3.51, 1.91, 1.43, 1.00, 0.74, 0.64]"


def read_vehicle(section: Section | None) -> Vehicle:
    """The `[vehicle]` table in SI; all unknown where there is none. Faults are noted."""
    if section is None:
        return Vehicle()
    ratios = section.numbers("gear_ratios", _RATIOS, 0.2, 30)
    if ratios is not None and any(b >= a for a, b in itertools.pairwise(ratios)):
        key, example = section.called("gear_ratios"), UserText(_RATIOS)
        section.fault("gear_ratios", message("study-range/gear-order", key=key, example=example))
    return Vehicle(
        mass_kg=section.quantity("mass", "kg", "26500 lb", 300, 150_000),
        fuel=cast("FuelKind | None", section.choice("fuel", get_args(FuelKind))),
        axle_ratio=read_axle_ratio(section),
        gear_ratios=ratios or (),
        transmission=_transmission(section),
        speed_source=cast(
            "SpeedSource", section.choice("speed_source", get_args(SpeedSource)) or "unknown"
        ),
        shaft_pulses=section.whole("shaft_pulses", "16", 1, 1000),
        drag_area_m2=section.quantity("drag_area", "m^2", "6.0 m^2", MIN_DRAG_AREA_M2, 20),
        rolling_resistance=section.number("rolling_resistance", "0.007", 0.001, 0.05),
        rolling_temperature_per_k=section.number("rolling_temperature_per_k", "0.005", 0, 0.03),
        combination=section.flag("combination") or False,
        axles=section.whole("axles", "5", 2, 20),
        brakes=cast("Brakes | None", section.choice("brakes", get_args(Brakes))),
        engine=read_engine(section.part("engine")),
    )


def _transmission(section: Section) -> Transmission | None:
    """As `transmission` says; `converter = false` alone means a manual one."""
    kind = cast("Transmission | None", section.choice("transmission", get_args(Transmission)))
    converter = section.flag("converter")
    if converter is None:
        return kind
    if kind is not None and converter != (kind == "converter"):
        told = message(
            "study-conflict/converter",
            key=section.called("converter"),
            shown=shown(converter),
            transmission=UserText(kind),
        )
        section.fault("converter", told)
    return kind or ("converter" if converter else "manual")


def read_engine(section: Section | None) -> Engine | None:
    """The engine; None too where its torque curve is missing or faulty (which is noted)."""
    if section is None:
        return None
    curve = section.part("torque_curve")
    rpm = torque = None
    if curve is not None:
        rpm, torque = _curve(curve, "torque", "N*m", "600 lbf*ft", 1, 10_000)
    elif "torque_curve" not in section.faulty:
        section.require(
            "torque_curve",
            '{ rpm = [800, 1600, 2400], torque = ["600 lbf*ft", "...", "..."] }',
            message("needs/torque-curve"),
        )
    governed = section.number("governed_rpm", "2500", 500, 9000)
    idle = section.number("idle_rpm", "700", 300, 2000)
    if governed is not None and idle is not None and idle >= governed:
        section.fault("idle_rpm", message("study-conflict/idle", key=section.called("idle_rpm")))
    derate_above = section.quantity("derate_above", "m", "5000 ft", 0, 6000)
    derate = section.number("derate_percent_per_km", "10", 0, 50)
    retarder = read_retarder(section.part("retarder"))
    if rpm is None or torque is None:
        return None
    return Engine(
        rpm=rpm,
        torque_nm=torque,
        governed_rpm=governed,
        idle_rpm=idle,
        derate_above_m=derate_above,
        derate_percent_per_km=derate,
        retarder=retarder,
    )


def read_retarder(section: Section | None) -> Retarder | None:
    """The retarder, its power in W; None where there is none or a part of it is missing or
    faulty (which is noted)."""
    if section is None:
        return None
    kind = cast("RetarderKind | None", section.choice("kind", get_args(RetarderKind)))
    section.require("kind", '"compression"')
    shaft = section.choice("shaft", get_args(RetarderShaft))
    rpm, power = _curve(section, "power", "W", "60 kW", 0, 2e6, message("needs/retarder-figures"))
    if kind is None or rpm is None or power is None:
        return None
    usual = "engine" if kind in ("compression", "exhaust") else "output shaft"
    return Retarder(kind=kind, shaft=cast("RetarderShaft", shaft or usual), rpm=rpm, power_w=power)


def _curve(
    section: Section,
    key: str,
    unit: str,
    example: str,
    low: float,
    high: float,
    without: Message | None = None,
) -> tuple[tuple[float, ...] | None, tuple[float, ...] | None]:
    """`rpm`, ascending, and as many quantities under `key`; `without`: what to do with neither."""
    rpm = section.numbers("rpm", "[1200, 2400]", 1, 12_000)
    values = section.quantities(key, unit, example, low, high)
    section.require("rpm", "[1200, 2400]", without)
    section.require(key, f'["{example}", "..."]', without)
    if rpm is not None and any(b <= a for a, b in itertools.pairwise(rpm)):
        section.fault("rpm", message("study-range/rpm-order", key=section.called("rpm")))
        return None, None
    if rpm is not None and values is not None and len(rpm) != len(values):
        told = message(
            "study-conflict/curve",
            key=section.called(key),
            figures=len(values),
            speeds=len(rpm),
        )
        section.fault(key, told)
        return None, None
    return rpm, values


def read_period(section: Section | None, side: Side) -> Period | None:
    """One side of the change; None too where its drive tire is missing (which is noted)."""
    if section is None:
        return None
    tire, revolutions = read_tire(section)
    section.require("drive_tire", '"245/70R19.5"', message("needs/tires"))
    steer = _size(section, "steer_tire", published=False)
    logs = section.texts("logs", f'["{side}/*.csv"]')
    axle = read_axle_ratio(section)
    start, end = read_moment(section, "from"), read_moment(section, "to", end_of_day=True)
    if start is not None and end is not None and end <= start:
        section.fault(
            "to",
            message(
                "study-date/order",
                key=section.called("to"),
                shown=shown(section.values["to"]),
            ),
        )
    pressure = section.quantity("pressure", "kPa", "95 psi", 100, 1200)
    fitment = section.choice("fitment", get_args(Fitment))
    tread = section.quantity("tread", "m", "6/32 in", 0, 0.04)
    if tire is None:
        return None
    return Period(
        side=side,
        drive_tire=tire,
        steer_tire=steer,
        revolutions_per_km=revolutions,
        axle_ratio=axle,
        logs=logs or (),
        start=start,
        end=end,
        pressure_kpa=pressure,
        fitment=cast("Fitment | None", fitment),
        tread_m=tread,
    )


def read_tire(section: Section) -> tuple[str | None, float | None]:
    """The drive tire as written and its published revolutions a km, each None where not given."""
    revolutions = _revolutions_per_km(section)
    tire = _size(section, "drive_tire", published=revolutions is not None)
    if tire is not None and revolutions is not None:
        _compare_with_size(section, tire, revolutions)
    return tire, revolutions


def read_axle_ratio(section: Section) -> float | None:
    """The axle ratio [-] of a table; None where it is missing or faulty (which is noted)."""
    return section.number("axle_ratio", "4.88", 1, 20)


def _revolutions_per_km(section: Section) -> float | None:
    per_mile = section.number("revolutions_per_mile", "628", 200, 2000)
    per_km = section.number("revolutions_per_km", "390", 125, 1250)
    if per_mile is not None and per_km is not None:
        key = "revolutions_per_km"
        section.fault(key, message("study-conflict/both-revolutions", key=section.called(key)))
        return None
    return per_km if per_mile is None else per_mile * 1000 / MILE_M


def _size(section: Section, key: str, *, published: bool) -> str | None:
    """A tire size as written; one outside the table passes where revolutions are published."""
    text = section.text(key, '"245/70R19.5"')
    if text is None:
        return None
    try:
        parse_size(text)
    except MessageError as error:
        if published and error.told.code == "no-size/not-in-table":
            return text
        called = section.called(key)
        told = message("study-size/key", key=called, why=error.told)
        if close := suggestion(text):
            advice = near_miss(close)
            told = message("study-size/key-near", key=called, why=error.told, advice=advice)
        section.fault(key, told)
        return None
    return text


def _compare_with_size(section: Section, tire: str, revolutions_per_km: float) -> None:
    key = (
        "revolutions_per_mile" if "revolutions_per_mile" in section.values else "revolutions_per_km"
    )
    try:
        by_size = parse_size(tire).revolutions_per_km
    except ValueError:
        return
    if abs(revolutions_per_km / by_size - 1) > LARGEST_SIZE_DISAGREEMENT:
        per = MILE_M / 1000 if key == "revolutions_per_mile" else 1.0
        told = message(
            "study-conflict/revolutions",
            key=section.called(key),
            given=Quantity(revolutions_per_km * per, "-"),
            by_size=Quantity(by_size * per, "-"),
            tire=UserText(tire),
        )
        section.fault(key, told)
