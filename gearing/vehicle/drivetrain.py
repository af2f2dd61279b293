"""Engine speed, road speed, axle ratio and tire revolutions: the arithmetic of a drivetrain.

Every function takes floats, numpy arrays or polars expressions alike.

Sources
-------
[1] SAE J2188: engine speed from road speed, tire revolutions per mile and total reduction
    (from its abstract); 40 CFR 1036.540(c)(3)(i) works the same formula as an example.
[2] 40 CFR 1036.545(f)(4): axle efficiency 0.955 in its worked example.
"""

from __future__ import annotations

from math import pi

from gearing.units import MILE_M, Number

AXLE_EFFICIENCY = 0.955  # [2]
# Gear pair in the flow of power or not: common practice, no source.
DIRECT_GEAR_EFFICIENCY = 0.98
INDIRECT_GEAR_EFFICIENCY = 0.96


def per_mile(per_km: Number) -> Number:
    """Revolutions a mile from revolutions a km."""
    return per_km * (MILE_M / 1000)


def per_km(per_mile: Number) -> Number:
    """Revolutions a km from revolutions a mile."""
    return per_mile * (1000 / MILE_M)


def engine_speed_rpm(
    speed_mps: Number,
    revolutions_per_km: float,
    axle_ratio: float,
    gear_ratio: float,
) -> Number:
    """Engine speed [rpm] with the converter locked, at true speed `speed_mps` [m/s].

    `revolutions_per_km` [1/km] are the drive tires'. Source [1].
    """
    return speed_mps * (60 / 1000 * revolutions_per_km * axle_ratio * gear_ratio)


def road_speed_mps(
    engine_speed_rpm: Number,
    revolutions_per_km: float,
    axle_ratio: float,
    gear_ratio: float,
) -> Number:
    """True speed [m/s] at an engine speed [rpm], converter locked. Source [1]."""
    return engine_speed_rpm * (1000 / 60 / (revolutions_per_km * axle_ratio * gear_ratio))


def engine_revolutions_per_km(
    revolutions_per_km: Number, axle_ratio: float, gear_ratio: float
) -> Number:
    """Turns of the engine a km [1/km], converter locked."""
    return revolutions_per_km * (axle_ratio * gear_ratio)


def shaft_revolutions_per_km(revolutions_per_km: Number, axle_ratio: float) -> Number:
    """Turns of the transmission's output shaft a km [1/km]: what speed computers count."""
    return revolutions_per_km * axle_ratio


def pulses_per_km(revolutions_per_km: Number, axle_ratio: float, per_turn: int) -> Number:
    """Pulses a km [1/km] of a sensor that gives `per_turn` a turn of the output shaft."""
    return revolutions_per_km * (axle_ratio * per_turn)


def effective_axle_ratio(axle_ratio: float, before_per_km: Number, after_per_km: Number) -> Number:
    """The declared ratio as the engine feels it after a change of tires.

    `before_per_km`, `after_per_km` [1/km] turns of the drive tires in any one unit.
    """
    return axle_ratio * after_per_km / before_per_km


def restoring_axle_ratio(axle_ratio: float, before_per_km: Number, after_per_km: Number) -> Number:
    """The axle ratio that gives the new tires the engine speed the old ones had."""
    return axle_ratio * before_per_km / after_per_km


def final_drive_change_percent(before_per_km: Number, after_per_km: Number) -> Number:
    """Change of engine speed at the same true speed and gear [%]; negative is taller."""
    return (after_per_km / before_per_km - 1) * 100


def true_over_indicated(programmed_per_km: Number, actual_per_km: Number) -> Number:
    """Odometer factor of a computer programmed for `programmed_per_km` turns a km."""
    return programmed_per_km / actual_per_km


def gear_efficiency(
    gear_ratio: float,
    direct: float = DIRECT_GEAR_EFFICIENCY,
    indirect: float = INDIRECT_GEAR_EFFICIENCY,
) -> float:
    """Share of power a gear passes on: better where the gear is direct (ratio 1)."""
    return direct if abs(gear_ratio - 1) < 1e-3 else indirect


def tractive_force_n(
    torque_nm: Number | float,
    revolutions_per_km: Number,
    axle_ratio: float,
    gear_ratio: Number | float,
    efficiency: Number | float = 1.0,
) -> Number:
    """Force at the drive wheels' contact [N] from torque at the gearbox input [N m].

    Power in equals power out over `efficiency` [-]: force = torque x ratios x 2 pi x turns
    a metre. Where the wheels drive the engine, `efficiency` is one over the gears' own.
    """
    radians_per_m = revolutions_per_km * (2 * pi / 1000)
    force: Number = torque_nm * (axle_ratio * gear_ratio * efficiency * radians_per_m)
    return force
