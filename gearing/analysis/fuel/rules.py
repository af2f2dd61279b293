"""Sufficiency and confounding: one small rule each, with a code and what it does to the answer."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from gearing.analysis.fuel.tread import kept_tires
from gearing.analysis.fuel.verdict import FEWEST_DAYS
from gearing.analysis.fuel.weather import COVERED_LEAST
from gearing.messages import StudyWarning
from gearing.statistics.estimate import NORMAL_95
from gearing.units import GALLON_L, MILE_M

if TYPE_CHECKING:
    from gearing.analysis.fuel.facts import Facts
    from gearing.statistics.estimate import Estimate

Rule = Callable[["Facts"], StudyWarning | None]

SPEED_PERCENT = 3.0
ACCELERATION_PERCENT = 10.0
# One deviation of what a gentler hand saves, or a harder one takes, beyond the work it changes.
# Measured on invented vehicles of known truth: about 1.4 points for a driver 17 % gentler, and 5 %
# slower, in town with an engine that has an island of best efficiency; nothing to be seen on open
# roads (Cell.gentler of tests/simulation).
POINTS_PER_ACCELERATION_PERCENT = 0.07
SHARED_LEAST = 0.3
COLD_C = 0.0
NEW_TIRES_KM = 1600.0
REGENERATION_SHARE = 0.01
ONE_WAY_SHARE = 0.35
TREAD_M = 0.0016
PRESSURE_PERCENT = 3.0
SENSORS_APART_K = 2.0
CLIMATE_APART_K = 3.0
MAX_CHANGE_PERCENT = 20.0  # no change of tires alone does as much: common practice, no source


def _us(facts: Facts) -> bool:
    return facts.study.units == "us"


def _distance(km: float, facts: Facts) -> str:
    return f"{km * 1000 / MILE_M:.0f} mi" if _us(facts) else f"{km:.0f} km"


def _temperature(celsius: float | None, facts: Facts) -> str:
    if celsius is None:
        return "unknown"
    return f"{celsius * 1.8 + 32:.0f} °F" if _us(facts) else f"{celsius:.0f} °C"


def _kelvin(kelvin: float, facts: Facts) -> str:
    """A difference, spelled out: a difference of degrees is not turned as a temperature is."""
    if _us(facts):
        return f"{kelvin * 1.8:.0f} degrees Fahrenheit"
    return f"{kelvin:.0f} degrees Celsius"


def _volume(liters: float, facts: Facts) -> str:
    return f"{liters / GALLON_L:.1f} gal" if _us(facts) else f"{liters:.0f} L"


def too_few_days(facts: Facts) -> StudyWarning | None:
    if facts.fewest_days >= FEWEST_DAYS:
        return None
    before, after = facts.before.amount.days, facts.after.amount.days
    return StudyWarning(
        "too-few-days",
        f"There {'is 1 day' if before == 1 else f'are {before} days'} to compare before the "
        f"change and {after} after; under {FEWEST_DAYS} a side nothing can be called a change.",
    )


def seasons_apart(facts: Facts) -> StudyWarning | None:
    b, a = facts.before, facts.after
    if b.temperature_low_c is None or a.temperature_low_c is None:
        return None
    assert b.temperature_high_c is not None
    assert a.temperature_high_c is not None
    if b.temperature_low_c <= a.temperature_high_c and a.temperature_low_c <= b.temperature_high_c:
        return None
    return StudyWarning(
        "seasons-apart",
        f"It was {_temperature(b.amount.mean_temperature_c, facts)} on average before and "
        f"{_temperature(a.amount.mean_temperature_c, facts)} after, and the two hardly "
        "overlap: how much of the change is the season's rests on what is known of tires and air "
        "alone. The interval carries that doubt; driving at like temperatures would take it away.",
    )


def temperature_unknown(facts: Facts) -> StudyWarning | None:
    if facts.temperature_known >= COVERED_LEAST:
        return None
    apart = _kelvin(facts.climate_apart_k, facts)
    file = "that covers them" if facts.study.weather else "(weather = ...)"
    return StudyWarning(
        "temperature-unknown",
        f"No log and no weather file tells the outside temperature of "
        f"{100 * (1 - facts.temperature_known):.0f} % of the driving. The usual climate of the "
        f"latitude and the dates stands in for it, by which the periods differ by {apart}, and "
        f"the interval carries how far that may be off. A weather file {file} with the "
        "temperature of those days would narrow it, as would logging it (PID 46, SPN 171).",
    )


def sensors_disagree(facts: Facts) -> StudyWarning | None:
    if facts.sensor_stuck:
        return StudyWarning(
            "sensors-disagree",
            "The logged outside temperature never moves in one of the periods: the sensor is "
            "taken as stuck there, and its readings are not used.",
        )
    apart = facts.sensors_apart_k
    if apart is None or abs(apart) < SENSORS_APART_K:
        return None
    return StudyWarning(
        "sensors-disagree",
        f"From one period to the other the logged outside temperature rose by "
        f"{_kelvin(abs(apart), facts)} {'more' if apart > 0 else 'less'} than the weather file's. "
        "One of them is wrong: the adjusted figure takes the middle, and its interval holds both.",
    )


def speeds_differ(facts: Facts) -> StudyWarning | None:
    before, after = facts.before.amount.mean_speed_kmh, facts.after.amount.mean_speed_kmh
    if not before or not after:
        return None
    change = 100 * (after / before - 1)
    if abs(change) < SPEED_PERCENT:
        return None
    return StudyWarning(
        "speeds-differ",
        f"True speed while moving was {abs(change):.1f} % {'higher' if change > 0 else 'lower'} "
        "after the change. An adjusted figure takes it out by way of air resistance; the "
        "figure by true distance does not.",
    )


def acceleration_differs(facts: Facts) -> StudyWarning | None:
    change = facts.harder_percent
    if abs(change) < ACCELERATION_PERCENT:
        return None
    return StudyWarning(
        "acceleration-differs",
        f"Speed was gained {abs(change):.0f} % {'harder' if change > 0 else 'more gently'} after "
        "the change. An adjusted figure takes out the work that makes, not what else an engine "
        "takes by it: part of the figure may be the driver's. That alone may move it by "
        f"{NORMAL_95 * acceleration_doubt(facts):.1f} points either way, which the interval "
        "carries; driving as before would take that away.",
    )


def acceleration_doubt(facts: Facts) -> float:
    """Standard error [%] of the adjusted change from how differently speed was gained."""
    return POINTS_PER_ACCELERATION_PERCENT * abs(facts.harder_percent)


def weight_unknown(facts: Facts) -> StudyWarning | None:
    if facts.study.vehicle.mass_kg is not None:
        return None
    return StudyWarning(
        "weight-unknown",
        "The study gives no weight ([vehicle] mass); a usual one is taken, and its doubt widens "
        "the interval. A scale ticket would narrow it.",
    )


def weight_differs(facts: Facts) -> StudyWarning | None:
    if all(load.mass_kg is None for load in facts.study.loads):
        return None  # a trailer alone says nothing of the vehicle's own weight
    share = [
        side.load_days / side.amount.days if side.amount.days else 0.0
        for side in (facts.before, facts.after)
    ]
    if abs(share[0] - share[1]) < 0.2:
        return None
    return StudyWarning(
        "weight-differs",
        f"A declared other weight was on the road on {100 * share[0]:.0f} % of the days before "
        f"and {100 * share[1]:.0f} % after. An adjusted figure takes it into account; the "
        "others do not.",
    )


def towing_differs(facts: Facts) -> StudyWarning | None:
    b, a = facts.before, facts.after
    share = [s.towing_days / s.amount.days if s.amount.days else 0.0 for s in (b, a)]
    if abs(share[0] - share[1]) < 0.2:
        return None
    return StudyWarning(
        "towing-differs",
        f"A trailer was towed on {b.towing_days} of {b.amount.days} days before and on "
        f"{a.towing_days} of {a.amount.days} after. Its drag "
        "and rolling are unknown, so that the sides cannot be adjusted to each other. As much "
        "driving with it on the one side as on the other, or none with it, could be compared.",
    )


def roads_not_shared(facts: Facts) -> StudyWarning | None:
    if facts.shared_share is None or facts.shared_share >= SHARED_LEAST:
        return None
    return StudyWarning(
        "roads-not-shared",
        f"Only {100 * facts.shared_share:.0f} % of the road after the change was also driven "
        "before it. Hills and surface rest on the model alone; driving the old roads again would "
        "narrow the interval most.",
    )


def several_changes(facts: Facts) -> StudyWarning | None:
    before, after = facts.study.before, facts.study.after
    if before is None or after is None:
        return None
    also = []
    if before.tread_m and after.tread_m and abs(after.tread_m - before.tread_m) > TREAD_M:
        also.append("tread depth")
    if before.pressure_kpa and after.pressure_kpa:
        change = abs(after.pressure_kpa / before.pressure_kpa - 1) * 100
        if change > PRESSURE_PERCENT:
            also.append("pressure")
    if before.fitment and after.fitment and before.fitment != after.fitment:
        also.append(f"{before.fitment} to {after.fitment}")
    if not also:
        return None
    return StudyWarning(
        "several-changes",
        f"Besides the size the tires changed in {', '.join(also)}. The figure is for the whole "
        "package; what the size did by itself is told beside it as far as published figures on "
        "tread wear allow, for new tread against worn can cost 2 to 7 % alone.",
    )


def tread_unknown(facts: Facts) -> StudyWarning | None:
    before, after = facts.study.before, facts.study.after
    if before is None or after is None or (before.tread_m and after.tread_m):
        return None
    if kept_tires(facts.study):
        return None
    return StudyWarning(
        "tread-unknown",
        "The study does not give the tread depth of both sets (tread = ... under [before] and "
        "[after]): new tread against worn costs 2 to 7 % of fuel by itself, as much as any claim. "
        "The figure is for the whole package; with the depths, what the size did could be told.",
    )


def new_tires(facts: Facts) -> StudyWarning | None:
    amount = facts.after.amount
    if not amount.days or not 0 < facts.after.driven_km < NEW_TIRES_KM:
        return None
    if kept_tires(facts.study):
        return None
    return StudyWarning(
        "new-tires",
        f"The {_distance(facts.after.driven_km, facts)} after the change are the tires' first as "
        f"far as the logs show; over the first {'1,000 mi' if _us(facts) else '1,600 km'} new "
        "tread rolls harder than it will later (common practice, no source), so that the saving "
        "may still grow.",
    )


def winter_fuel(facts: Facts) -> StudyWarning | None:
    cold = [
        side.amount.mean_temperature_c is not None and side.amount.mean_temperature_c < COLD_C
        for side in (facts.before, facts.after)
    ]
    if cold[0] == cold[1] or facts.study.vehicle.fuel == "gasoline":
        return None
    return StudyWarning(
        "winter-fuel",
        f"It was freezing {'before' if cold[0] else 'after'} the change and not on the other "
        "side: winter diesel holds up to 2.5 % less energy a liter. The adjusted figure takes half "
        "of that, and its interval the range; no other figure takes it out.",
    )


def regeneration(facts: Facts) -> StudyWarning | None:
    share = max(facts.before.regeneration_share, facts.after.regeneration_share)
    if share < REGENERATION_SHARE:
        return None
    return StudyWarning(
        "regeneration",
        f"The exhaust filter was burned clean during {100 * share:.1f} % of the time on one "
        "side; that driving is left out of every figure but the fill-ups'.",
    )


def other_use(facts: Facts) -> StudyWarning | None:
    if facts.other_use_l <= 0:
        return None
    return StudyWarning(
        "other-use",
        f"{_volume(facts.other_use_l, facts)} of the fuel bought went to a generator or heater "
        "by the fill-up log; they are taken off the fill-ups' figure.",
    )


def one_way_roads(facts: Facts) -> StudyWarning | None:
    share = max(facts.before.course_share, facts.after.course_share)
    if share < ONE_WAY_SHARE or facts.weather_covered >= COVERED_LEAST or facts.fewest_days == 0:
        return None
    if facts.study.weather is None:
        covers = "no weather file covers them. A file of hourly wind (weather = ...)"
    else:
        covers = (
            f"the weather file has wind for {100 * facts.weather_covered:.0f} % of the driving on "
            "the side it covers less. Wind for the rest"
        )
    return StudyWarning(
        "wind-unknown",
        f"Days mostly led one way, so that wind does not cancel, and {covers} would narrow the "
        "interval, as would driving the same road back.",
    )


RULES: tuple[Rule, ...] = (
    too_few_days,
    towing_differs,
    seasons_apart,
    temperature_unknown,
    sensors_disagree,
    speeds_differ,
    acceleration_differs,
    weight_unknown,
    weight_differs,
    roads_not_shared,
    several_changes,
    tread_unknown,
    new_tires,
    winter_fuel,
    regeneration,
    other_use,
    one_way_roads,
)
# where any of these holds, a figure that is not adjusted is not the tires'
UNLIKE: tuple[Rule, ...] = (
    towing_differs,
    seasons_apart,
    speeds_differ,
    acceleration_differs,
    weight_differs,
)
FORBIDS_ADJUSTED = frozenset({"towing-differs", "change-implausible"})


def told(facts: Facts) -> tuple[StudyWarning, ...]:
    """Every rule's warning, in the order of how much it matters."""
    return tuple(warning for rule in RULES if (warning := rule(facts)) is not None)


def unlike(facts: Facts) -> str:
    """Why a figure that is not adjusted must not decide, or nothing."""
    for rule in UNLIKE:
        if (warning := rule(facts)) is not None:
            return warning.text
    if abs(facts.climate_apart_k) > CLIMATE_APART_K and (warning := temperature_unknown(facts)):
        return warning.text
    return ""


def implausible(change: Estimate) -> StudyWarning | None:
    """Where the whole interval lies beyond what tires can do."""
    if change.low is None or change.high is None:
        return None
    if change.low <= MAX_CHANGE_PERCENT and change.high >= -MAX_CHANGE_PERCENT:
        return None
    return StudyWarning(
        "change-implausible",
        f"By the figures given, consumption changed by over {MAX_CHANGE_PERCENT:.0f} %, which "
        "tires alone cannot do (common practice, no source): something of one side is wrong, such "
        "as a weight under [[load]] or the unit of the fuel rate.",
    )


def seasons(half_width_percent: float, claim_percent: float | None) -> StudyWarning | None:
    """Where what physics leaves open is over half the claim (2 % without one)."""
    bound = abs(claim_percent) / 2 if claim_percent else 1.0
    if half_width_percent <= bound:
        return None
    return StudyWarning(
        "seasons",
        f"What is not known of rolling resistance, air and wind alone moves the adjusted figure "
        f"by {half_width_percent:.1f} points either way, more than half of what is to be shown, "
        "and no further day of this kind makes that less. Driving at the temperatures and speeds "
        "of the other side would.",
    )
