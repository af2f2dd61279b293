"""Sufficiency and confounding: one small rule each, with a code and what it does to the answer."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeGuard

from gearing.analysis.fuel.tread import kept_tires
from gearing.analysis.fuel.verdict import FEWEST_DAYS
from gearing.analysis.fuel.weather import COVERED_LEAST
from gearing.messages import (
    Items,
    Message,
    Quantity,
    StudyWarning,
    Text,
    UserText,
    message,
    warning,
)
from gearing.statistics.comparison import percent
from gearing.statistics.estimate import NORMAL_95
from gearing.trips.even_rows import ALIKE, SELDOM_S

if TYPE_CHECKING:
    from gearing.analysis.fuel.facts import Facts
    from gearing.statistics.estimate import Estimate
    from gearing.statistics.two_sides import SideChange

Rule = Callable[["Facts"], StudyWarning | None]

SPEED_PERCENT = 3.0
ACCELERATION_PERCENT = 10.0
# One deviation of what a gentler hand saves, or a harder one takes, beyond the work it changes.
# Measured on invented vehicles of known truth: about 1.4 points for a driver 17 % gentler, and 5 %
# slower, in town with an engine that has an island of best efficiency; nothing to be seen on open
# roads (Cell.gentler of tests/simulation).
POINTS_PER_ACCELERATION_PERCENT = 0.07
# One deviation of what the periods' unseen speeding up differs by, for each second between rows.
# Measured on the demo's mountain roads, the drives thinned to 5 and 10 s: 0.2 of a point a second.
POINTS_PER_SECOND = 0.2
ENGINE_PERCENT = 1.0
MISSING_SHARE = 0.05
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


def _percent(share: float, places: int = 0) -> Quantity:
    return Quantity(100 * share, "%", places)


def too_few_days(facts: Facts) -> StudyWarning | None:
    """Fewer days on a side than a verdict needs."""
    if facts.fewest_days >= FEWEST_DAYS:
        return None
    before, after = facts.before.amount.days, facts.after.amount.days
    return warning(message("too-few-days", before=before, after=after, fewest=FEWEST_DAYS))


def seasons_apart(facts: Facts) -> StudyWarning | None:
    """Temperatures of the sides, a tenth off at each end, that do not meet."""
    b, a = facts.before, facts.after
    if b.temperature_low_c is None or a.temperature_low_c is None:
        return None
    assert b.temperature_high_c is not None
    assert a.temperature_high_c is not None
    if b.temperature_low_c <= a.temperature_high_c and a.temperature_low_c <= b.temperature_high_c:
        return None
    means = b.amount.mean_temperature_c, a.amount.mean_temperature_c
    assert means[0] is not None
    assert means[1] is not None
    before, after = Quantity(means[0], "degC"), Quantity(means[1], "degC")
    return warning(message("seasons-apart", before=before, after=after))


def temperature_unknown(facts: Facts) -> StudyWarning | None:
    """Driving whose temperature no log and no weather file tells."""
    if facts.temperature_known >= COVERED_LEAST:
        return None
    return warning(
        message(
            "temperature-unknown",
            share=_percent(1 - facts.temperature_known),
            apart=Quantity(facts.climate_apart_k, "K"),
            named=facts.study.weather is not None,
        )
    )


def sensors_disagree(facts: Facts) -> StudyWarning | None:
    """A logged temperature that never moves, or rose otherwise than the weather file's."""
    if facts.sensor_stuck:
        return warning(message("sensors-disagree/stuck"))
    apart = facts.sensors_apart_k
    if apart is None or abs(apart) < SENSORS_APART_K:
        return None
    shown = Quantity(abs(apart), "K")
    return warning(message("sensors-disagree/apart", apart=shown, more=apart > 0))


def speeds_differ(facts: Facts) -> StudyWarning | None:
    """Mean speed while moving that differs by `SPEED_PERCENT` or more."""
    before, after = facts.before.amount.mean_speed_kmh, facts.after.amount.mean_speed_kmh
    if not before or not after:
        return None
    change = 100 * (after / before - 1)
    if abs(change) < SPEED_PERCENT:
        return None
    shown = Quantity(abs(change), "%", 1)
    return warning(message("speeds-differ", change=shown, faster=change > 0))


def acceleration_differs(facts: Facts) -> StudyWarning | None:
    """Speed gained harder or more gently by `ACCELERATION_PERCENT` or more."""
    change = facts.harder_percent
    if abs(change) < ACCELERATION_PERCENT:
        return None
    return warning(
        message(
            "acceleration-differs",
            change=Quantity(abs(change), "%"),
            harder=change > 0,
            doubt=Quantity(NORMAL_95 * acceleration_doubt(facts), "-", 1),
        )
    )


def acceleration_doubt(facts: Facts) -> float:
    """Standard error [%] of the adjusted change from how differently speed was gained."""
    return POINTS_PER_ACCELERATION_PERCENT * abs(facts.harder_percent)


def rows_seldom(facts: Facts) -> StudyWarning | None:
    """Logs whose rows are so far apart that part of every speeding up lies between them."""
    if facts.steps_s <= SELDOM_S or facts.logged_s is None:
        return None
    before, after = facts.logged_s.before, facts.logged_s.after
    taken = Quantity(facts.steps_s, "s")
    doubt = Quantity(NORMAL_95 * seldom_doubt(facts), "-", 1)
    if max(before, after) < ALIKE * min(before, after):
        return warning(message("rows-seldom/alike", taken=taken, doubt=doubt))
    return warning(
        message(
            "rows-seldom/apart",
            before=Quantity(before, "s"),
            after=Quantity(after, "s"),
            taken=taken,
            doubt=doubt,
        )
    )


def seldom_doubt(facts: Facts) -> float:
    """Standard error [%] of the adjusted change from what the periods' rows did not see."""
    return POINTS_PER_SECOND * (facts.steps_s - 1) if facts.steps_s > SELDOM_S else 0.0


def fuel_missing(facts: Facts) -> StudyWarning | None:
    """Fuel that is not logged where much is burnt."""
    if facts.missing_under_load < MISSING_SHARE:
        return None
    return warning(message("fuel-missing-under-load", share=_percent(facts.missing_under_load)))


def engine_otherwise(facts: Facts) -> StudyWarning | None:
    """An engine that takes more or less fuel at one load and speed, or a meter that says so; or,
    where that is as before, standing."""
    loaded, standing = facts.engine.loaded, facts.engine.standing
    if _otherwise(loaded, 1.0):
        told, more = _size(loaded), loaded.value > 0
        return warning(message("engine-otherwise/loaded", change=told, more=more))
    if _otherwise(standing, facts.engine.standing_share):
        told, more = _size(standing), standing.value > 0
        return warning(message("engine-otherwise/standing", change=told, more=more))
    return None


def _otherwise(change: SideChange | None, share: float) -> TypeGuard[SideChange]:
    """Whether it is no chance, and makes a difference where it is `share` of the fuel."""
    if change is None or change.low <= 0 <= change.high:
        return False
    return share * abs(percent(change.value)) >= ENGINE_PERCENT


def _size(change: SideChange) -> Quantity:
    return Quantity(abs(percent(change.value)), "%", 1)


def weight_unknown(facts: Facts) -> StudyWarning | None:
    """A study without a weight."""
    if facts.study.vehicle.mass_kg is not None:
        return None
    return warning(message("weight-unknown"))


def weight_differs(facts: Facts) -> StudyWarning | None:
    """Declared weights on shares of the days that differ between the sides."""
    if all(load.mass_kg is None for load in facts.study.loads):
        return None  # a trailer alone says nothing of the vehicle's own weight
    share = [
        side.load_days / side.amount.days if side.amount.days else 0.0
        for side in (facts.before, facts.after)
    ]
    if abs(share[0] - share[1]) < 0.2:
        return None
    before, after = map(_percent, share)
    return warning(message("weight-differs", before=before, after=after))


def load_assumed(*, checked: bool) -> StudyWarning:
    """What a change that is called one rests on and no log shows; `checked`: full tanks of both
    periods tell whether the fuel rate still reads alike. Half a percent of fuel for a percent of
    weight: 10 % less is 5 % less fuel (EPA, truck over all roads)."""
    return warning(message("load-assumed", checked=checked))


def towing_differs(facts: Facts) -> StudyWarning | None:
    """Towing on shares of the days that differ between the sides."""
    b, a = facts.before, facts.after
    share = [s.towing_days / s.amount.days if s.amount.days else 0.0 for s in (b, a)]
    if abs(share[0] - share[1]) < 0.2:
        return None
    return warning(
        message(
            "towing-differs",
            before=b.towing_days,
            before_days=b.amount.days,
            after=a.towing_days,
            after_days=a.amount.days,
        )
    )


def roads_not_shared(facts: Facts) -> StudyWarning | None:
    """Little of the way after lies on roads driven before."""
    if facts.shared_share is None or facts.shared_share >= SHARED_LEAST:
        return None
    return warning(message("roads-not-shared", share=_percent(facts.shared_share)))


def several_changes(facts: Facts) -> StudyWarning | None:
    """Tread, pressure or fitment changed together with the size."""
    before, after = facts.study.before, facts.study.after
    if before is None or after is None:
        return None
    also: list[Message] = []
    if before.tread_m and after.tread_m and abs(after.tread_m - before.tread_m) > TREAD_M:
        also.append(message("several-changes/tread"))
    if before.pressure_kpa and after.pressure_kpa:
        change = abs(after.pressure_kpa / before.pressure_kpa - 1) * 100
        if change > PRESSURE_PERCENT:
            also.append(message("several-changes/pressure"))
    if before.fitment and after.fitment and before.fitment != after.fitment:
        fitments = UserText(before.fitment), UserText(after.fitment)
        also.append(message("several-changes/fitment", before=fitments[0], after=fitments[1]))
    if not also:
        return None
    return warning(message("several-changes", also=Items(tuple(also), ",")))


def tread_unknown(facts: Facts) -> StudyWarning | None:
    """Tread depths that are not given for both sets."""
    before, after = facts.study.before, facts.study.after
    if before is None or after is None or (before.tread_m and after.tread_m):
        return None
    if kept_tires(facts.study):
        return None
    return warning(message("tread-unknown"))


def new_tires(facts: Facts) -> StudyWarning | None:
    """Tires still on the first kilometers, which roll harder."""
    amount = facts.after.amount
    if not amount.days or not 0 < facts.after.driven_km < NEW_TIRES_KM:
        return None
    if kept_tires(facts.study):
        return None
    return warning(
        message(
            "new-tires",
            driven=Quantity(facts.after.driven_km, "km"),
            usual=Quantity(NEW_TIRES_KM, "km", -2),
        )
    )


def winter_fuel(facts: Facts) -> StudyWarning | None:
    """Frost on one side alone, where diesel holds less energy."""
    cold = [
        side.amount.mean_temperature_c is not None and side.amount.mean_temperature_c < COLD_C
        for side in (facts.before, facts.after)
    ]
    if cold[0] == cold[1] or facts.study.vehicle.fuel == "gasoline":
        return None
    return warning(message("winter-fuel", before=cold[0]))


def regeneration(facts: Facts) -> StudyWarning | None:
    """Filter regeneration that takes a share of the time worth telling."""
    share = max(facts.before.regeneration_share, facts.after.regeneration_share)
    if share < REGENERATION_SHARE:
        return None
    return warning(message("regeneration", share=_percent(share, 1)))


def other_use(facts: Facts) -> StudyWarning | None:
    """Fuel taken from the tank for other than driving."""
    if facts.other_use_l <= 0:
        return None
    return warning(message("other-use", other=Quantity(facts.other_use_l, "L", 1)))


def one_way_roads(facts: Facts) -> StudyWarning | None:
    """Roads driven mostly one way, without wind known on both sides."""
    share = max(facts.before.course_share, facts.after.course_share)
    if share < ONE_WAY_SHARE or facts.weather_covered >= COVERED_LEAST or facts.fewest_days == 0:
        return None
    if facts.study.weather is None:
        return warning(message("wind-unknown/no-file"))
    return warning(message("wind-unknown/in-part", covered=_percent(facts.weather_covered)))


RULES: tuple[Rule, ...] = (
    too_few_days,
    towing_differs,
    fuel_missing,
    seasons_apart,
    temperature_unknown,
    sensors_disagree,
    speeds_differ,
    acceleration_differs,
    rows_seldom,
    engine_otherwise,
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
    fuel_missing,
    towing_differs,
    seasons_apart,
    speeds_differ,
    acceleration_differs,
    engine_otherwise,
    weight_differs,
)
FORBIDS_COMPARING = frozenset({"towing-differs", "fuel-missing-under-load", "change-implausible"})


def told(facts: Facts) -> tuple[StudyWarning, ...]:
    """Every rule's warning, in the order of how much it matters."""
    return tuple(warned for rule in RULES if (warned := rule(facts)) is not None)


def unlike(facts: Facts) -> Text | None:
    """Why a figure that is not adjusted must not decide, if so."""
    for rule in UNLIKE:
        if (warned := rule(facts)) is not None:
            return warned.told
    if abs(facts.climate_apart_k) > CLIMATE_APART_K and (warned := temperature_unknown(facts)):
        return warned.told
    return None


def implausible(change: Estimate) -> StudyWarning | None:
    """Where the whole interval lies beyond what tires can do."""
    if change.ends is None:
        return None
    low, high = change.ends
    if low <= MAX_CHANGE_PERCENT and high >= -MAX_CHANGE_PERCENT:
        return None
    return warning(message("change-implausible", most=Quantity(MAX_CHANGE_PERCENT, "%")))


def seasons(half_width_percent: float, claim_percent: float | None) -> StudyWarning | None:
    """Where what physics leaves open is over half the claim (2 % without one)."""
    bound = abs(claim_percent) / 2 if claim_percent else 1.0
    if half_width_percent <= bound:
        return None
    return warning(message("seasons", half_width=Quantity(half_width_percent, "-", 1)))
