"""A fleet's answer: vehicles pooled, and read against those that kept their tires.

Pooling alone keeps what all vehicles share: the season, a change of fuel or of routes. Vehicles
left as they were, split at the date the others changed, show that share by itself, and the
difference of the two groups is free of it (difference in differences).
"""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from gearing.analysis.fleet_vehicle import VehicleFigures
from gearing.analysis.fleet_warnings import fleet_warnings, has_new_tires
from gearing.analysis.fuel.verdict import FEWEST_DAYS, judge
from gearing.messages import StudyWarning, Text, UserText, field_of, message
from gearing.statistics.comparison import Difference, log_of_percent, percent
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown
from gearing.statistics.intervals import t_quantile
from gearing.statistics.mixed_effects import MixedEffects, mixed_effects
from gearing.study.model import Role

MAX_SHARED = 0.95  # of a vehicle's error: some of it is always its own
DAYS_TO_TRUST = 40  # with so many days a vehicle's error counts half, its count of days half
SPREAD_KNOWN = 5  # degrees of freedom from which the spread of vehicles is trusted alone
MAX_UNLIKE = 3.0  # an error is taken as at most so many times what its days would give
FEWEST_TO_SPREAD = 3  # so many vehicles of a kind show by themselves how well they are known
FEWEST_FOR_NEXT = 3  # two vehicles tell next to nothing of a third
SMALLEST_ERROR = 1e-4  # of a logarithm: no estimate is better known than 0.01 %


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetFuel:
    """Change of consumption in percent: the changed vehicles', the controls', their difference.

    `answer` is the difference where there are controls, else the pooled figure. `vehicle_low`
    and `vehicle_high` bound what one more vehicle, driven and logged as these were, would show,
    None under three vehicles; `between_percent` is
    the deviation from vehicle to vehicle that their own errors do not explain, and
    `heterogeneity_percent` its share of the spread seen.
    """

    pooled: Estimate
    controls: Estimate
    difference: Estimate
    answer: Estimate
    vehicle_low: float | None
    vehicle_high: float | None
    between_percent: float | None
    heterogeneity_percent: float | None
    claim_percent: float | None
    verdict: str | None
    verdict_why: Text | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetFinding:
    name: str
    vehicles: tuple[VehicleFigures, ...]
    fuel: FleetFuel
    warnings: tuple[StudyWarning, ...]


def pool(
    name: str,
    vehicles: Sequence[VehicleFigures],
    *,
    claim_percent: float | None = None,
    margin_percent: float = 1.0,
) -> FleetFinding:
    """The fleet's change of consumption with its interval, and what the reader must know.

    `claim_percent` is of consumption, negative for a saving; a change smaller than
    `margin_percent` counts as none.
    """
    changed = [v for v in vehicles if v.role == "changed" and v.change_percent.known]
    kept = [v for v in vehicles if v.role == "control" and not has_new_tires(v)]
    controls = [v for v in kept if v.change_percent.known]
    together = _pooled(changed)
    pooled = _estimate(together, changed, "changed")
    beside = _estimate(_pooled(controls), controls, "control")
    contrast = _contrast(changed, controls)
    silent = [v for v in kept if not v.change_percent.known]
    difference = _difference(contrast, changed, controls, silent)
    answer = difference if controls else pooled
    verdict, why = _verdict(answer, changed, controls, claim_percent, margin_percent)
    unlike = _unlike(changed)
    weights = _weights(changed, together)
    spread = _spread(changed, [weights.get(id(vehicle), 0.0) for vehicle in changed])
    shared = 0.0 if contrast else _shared(changed)
    low, high = _next_vehicle(contrast or together, spread, len(changed), shared)
    return FleetFinding(
        name=name,
        vehicles=tuple(replace(v, weight=weights.get(id(v))) for v in vehicles),
        fuel=FleetFuel(
            pooled=pooled,
            controls=beside,
            difference=difference,
            answer=answer,
            vehicle_low=low,
            vehicle_high=high,
            between_percent=100 * unlike.between if unlike else None,
            heterogeneity_percent=100 * unlike.heterogeneity if unlike else None,
            claim_percent=claim_percent,
            verdict=verdict,
            verdict_why=why,
        ),
        warnings=fleet_warnings(vehicles, changed, controls, unlike, margin_percent),
    )


def log_change(vehicle: VehicleFigures) -> tuple[float, float, float]:
    """A vehicle's change as a logarithm, its own standard error, and the error it shares.

    The interval is taken as Student's, with the degrees of freedom of two samples of days.
    """
    change = vehicle.change_percent
    assert change.figures is not None
    value, low, high = map(log_of_percent, change.figures)
    degrees = max((change.n or 4) - 2, 2)
    error = (high - low) / 2 / t_quantile(0.975, degrees)
    shared = min(vehicle.shared_points / 100, MAX_SHARED * error)
    own = math.sqrt(error**2 - shared**2)
    return value, max(own, SMALLEST_ERROR), shared


def tempered(errors: Sequence[float], days: Sequence[float]) -> list[float]:
    """Errors to weigh by: each drawn towards what its count of days would give, the more so the
    fewer days it rests on.

    An error from few days is itself poorly known, and weighing by it favours vehicles that
    seemed steady by chance. Measured on simulated fleets where 95 % is meant: weighing by the
    errors as they are covers as little as 86 %, by these 94 to 97 %.
    """
    by_count = statistics.median(e * math.sqrt(n) for e, n in zip(errors, days, strict=True))
    found = []
    for error, n in zip(errors, days, strict=True):
        usual = by_count / math.sqrt(n)
        ratio = min(max(error / usual, 1 / MAX_UNLIKE), MAX_UNLIKE)
        found.append(usual * ratio ** (n / (n + DAYS_TO_TRUST)))
    return found


def _fit(vehicles: Sequence[VehicleFigures], design: list[list[float]]) -> MixedEffects | None:
    """The vehicles' own figures on a design; what they share is no part of it.

    The interval rests on the spread of the vehicles, their errors only weigh; where vehicles
    are few, or one or two of a kind, their own errors set its least width.
    """
    if len(vehicles) <= len(design[0] if design else ()) or not vehicles:
        return None
    figures = [log_change(vehicle) for vehicle in vehicles]
    days = [float(vehicle.change_percent.n or 4) for vehicle in vehicles]
    errors = tempered([own for _, own, _ in figures], days)
    values = [value for value, _, _ in figures]
    fit = mixed_effects(values, errors, design, least_scale=0.0)
    of_a_kind = min(Counter(map(tuple, design)).values())
    if fit.degrees >= SPREAD_KNOWN and of_a_kind >= FEWEST_TO_SPREAD:
        return fit
    # a few vehicles may agree by chance, and one has no other to agree with: never narrower
    # than the normal law with their errors
    student, normal = t_quantile(0.975, fit.degrees), t_quantile(0.975, math.inf)
    stated = mixed_effects(values, _stated(vehicles), design, least_scale=1.0).standard_errors
    least = [normal / student * error for error in stated]
    return replace(fit, standard_errors=tuple(map(max, fit.standard_errors, least)))


def _stated(vehicles: Sequence[VehicleFigures]) -> list[float]:
    """Errors no smaller than each vehicle's own study says: for what is claimed of them, not for
    weighing them."""
    own = [log_change(vehicle)[1] for vehicle in vehicles]
    days = [float(vehicle.change_percent.n or 4) for vehicle in vehicles]
    return list(map(max, own, tempered(own, days)))


def _unlike(vehicles: Sequence[VehicleFigures]) -> MixedEffects | None:
    """How the vehicles differ beyond what their own studies leave open."""
    if len(vehicles) < 2:
        return None
    values = [log_change(vehicle)[0] for vehicle in vehicles]
    return mixed_effects(values, _stated(vehicles), [[1.0]] * len(vehicles))


def _pooled(vehicles: Sequence[VehicleFigures]) -> MixedEffects | None:
    return _fit(vehicles, [[1.0]] * len(vehicles))


def _estimate(
    pooled: MixedEffects | None, vehicles: Sequence[VehicleFigures], role: Role
) -> Estimate:
    """The pooled figure, its interval widened by what the vehicles share, which no count of
    them narrows."""
    if not vehicles:
        control = role == "control"
        return unknown(message("fleet-none/control" if control else "fleet-none/changed"))
    if pooled is None:
        return replace(vehicles[0].change_percent, method="only-vehicle", n=1)
    shared = _shared(vehicles)
    value, error = pooled.coefficients[0], pooled.standard_errors[0]
    widened = Difference(value, error, pooled.degrees, pooled.n, 0).widened(shared)
    low, high = map(percent, widened.interval())
    return Estimate(percent(value), low, high, pooled.n, "random-effects-vehicles")


def _shared(vehicles: Sequence[VehicleFigures]) -> float:
    """One standard deviation of what the vehicles' figures have in common, in logarithms."""
    return math.fsum(log_change(vehicle)[2] for vehicle in vehicles) / max(len(vehicles), 1)


def _spread(vehicles: Sequence[VehicleFigures], weights: Sequence[float]) -> float:
    """The deviation of the vehicles' figures from their mean, in logarithms."""
    if len(vehicles) < 2:
        return 0.0
    values = [log_change(vehicle)[0] for vehicle in vehicles]
    mean = math.fsum(w * v for w, v in zip(weights, values, strict=True))
    squares = math.fsum(w * (v - mean) ** 2 for w, v in zip(weights, values, strict=True))
    return math.sqrt(squares * len(values) / (len(values) - 1))


def _next_vehicle(
    fit: MixedEffects | None, spread: float, changed: int, shared: float
) -> tuple[float | None, float | None]:
    """Where one more vehicle's change is to be found, in percent: about the difference to the
    controls, which takes out what is shared, else about the pooled figure with it.

    By the spread of what was found, their errors in it. Taking those off, as is usual [1], leaves
    a deviation that few vehicles hardly tell: on simulated fleets the interval so made holds the
    next vehicle's true change in 80 to 94 % where 95 % is said, this one in 98 % and more.

    [1] Higgins, Thompson and Spiegelhalter (2009); of its failing with few units Nagashima, Noma
        and Furukawa (2019).
    """
    if fit is None or changed < FEWEST_FOR_NEXT:
        return None, None
    value, error = fit.coefficients[-1], fit.standard_errors[-1]
    reach = math.hypot(
        t_quantile(0.975, changed - 1) * math.hypot(error, spread), NORMAL_95 * shared
    )
    return percent(value - reach), percent(value + reach)


def _contrast(
    changed: Sequence[VehicleFigures], controls: Sequence[VehicleFigures]
) -> MixedEffects | None:
    """Changed against controls, the deviation between vehicles common to both."""
    if not changed or not controls:
        return None
    both = [*changed, *controls]
    return _fit(both, [[1.0, float(vehicle.role == "changed")] for vehicle in both])


def _difference(
    contrast: MixedEffects | None,
    changed: Sequence[VehicleFigures],
    controls: Sequence[VehicleFigures],
    silent: Sequence[VehicleFigures],
) -> Estimate:
    """`silent`: the controls whose own change is not known."""
    if contrast is not None:
        return contrast.estimate(1, "changed-against-controls").map(percent)
    if not controls and silent:
        name, why = UserText(silent[0].name), field_of(silent[0].change_percent.why)
        return unknown(message("fleet-silent-control", vehicle=name, why=why))
    if not controls:
        return unknown(message("fleet-without-controls"))
    if not changed:
        return unknown(message("fleet-none-changed"))
    return unknown(message("fleet-too-small"))


def _weights(changed: Sequence[VehicleFigures], pooled: MixedEffects | None) -> dict[int, float]:
    if pooled is None:
        return {}
    own = [log_change(vehicle)[1] for vehicle in changed]
    errors = tempered(own, [float(vehicle.change_percent.n or 4) for vehicle in changed])
    weights = [1 / (error**2 + pooled.between**2) for error in errors]
    return {id(v): w / math.fsum(weights) for v, w in zip(changed, weights, strict=True)}


def _verdict(
    answer: Estimate,
    changed: Sequence[VehicleFigures],
    controls: Sequence[VehicleFigures],
    claim: float | None,
    margin: float,
) -> tuple[str | None, Text | None]:
    """The verdict's word, and why."""
    if answer.figures is None:
        return None, answer.why
    if len(changed) < 2:
        return "cannot tell yet", message("fleet-of-one")
    if not controls and any(vehicle.seasons for vehicle in changed):
        return "cannot tell yet", message("fleet-season-unknown")
    # days are counted in each vehicle's own study; what is counted here is vehicles
    return judge(answer, claim_percent=claim, margin_percent=margin, fewest_days=FEWEST_DAYS)
