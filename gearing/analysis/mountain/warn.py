"""What a reader of the mountain answer must be warned of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.analysis.mountain.profile import MAX_HOLE_M, missing_points
from gearing.messages import Message, Quantity, StudyWarning, UserText, message, names, warning
from gearing.vehicle.engine import HIGH_IDLE_RATIO

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gearing.analysis.mountain.inputs import Inputs
    from gearing.analysis.mountain.result import ModelCheck, Route
    from gearing.study.model import Side, Study

MODEL_OFF_PERCENT = 8.0
MODEL_BIAS_KMH = 6.0
TORQUE_OFF = 0.12  # three times what is left open of a declared curve
CHECK = (
    "Check the torque curve and its unit (1 lbf*ft is 1.36 N*m), the weight, the axle ratio and "
    "the gear ratios."
)
HEAVIER = 1.02  # what is left open of a declared weight
STEEPEST_PERCENT = 15.0  # of roads a heavy vehicle drives: common practice, no source


def unread_profiles(study: Study, reasons: Mapping[str, Message]) -> tuple[StudyWarning, ...]:
    """Routes without a profile: which file gave none, why, and what to add; `reasons` by route."""
    return tuple(
        warning(message("profile-not-used", route=UserText(route.name), why=reasons[route.name]))
        for route in study.routes
        if route.name in reasons
    )


def mountain_warnings(
    study: Study,
    routes: tuple[Route, ...],
    check: ModelCheck,
    inputs: Inputs,
    revolutions_per_km: Mapping[Side, float],
) -> tuple[StudyWarning, ...]:
    found = _profile_warnings(study, routes)
    found += _grade_warnings(study, routes)
    found += _engine_warnings(study, inputs)
    found += _reach_warnings(study, inputs, revolutions_per_km)
    smoothed = [
        declared.name
        for declared, route in zip(study.routes, routes, strict=True)
        if "smoothed" in route.elevation
    ]
    if smoothed:
        found.append(warning(message("smoothed-profile", routes=names(smoothed, joint=","))))
    off, bias = check.median_absolute_percent, check.bias_kmh
    if off is not None and (off > MODEL_OFF_PERCENT or abs(bias or 0.0) > MODEL_BIAS_KMH):
        found.append(
            warning(
                message(
                    "mountain-model-off",
                    off=Quantity(off, "%"),
                    bias=Quantity(bias or 0.0, "km/h", 1, sign=True),
                    check=message("check-engine"),
                )
            )
        )
    found += _load_warnings(study, inputs)
    return tuple(found)


def _load_warnings(study: Study, inputs: Inputs) -> list[StudyWarning]:
    """Days on which the vehicle weighs more than the routes are reckoned with."""
    if any(load.towing for load in study.loads):
        return [warning(message("mountain-towing"))]
    reckoned = inputs.central("mass_kg")
    heaviest = max((load.mass_kg or 0.0 for load in study.loads), default=0.0)
    if heaviest <= HEAVIER * reckoned:
        return []
    return [
        warning(
            message(
                "mountain-heavier",
                weight=Quantity(reckoned, "kg"),
                heaviest=Quantity(heaviest, "kg"),
            )
        )
    ]


def _profile_warnings(study: Study, routes: tuple[Route, ...]) -> list[StudyWarning]:
    """Holes in profiles, and points so far apart that much may happen between them."""
    found = []
    for declared, route in zip(study.routes, routes, strict=True):
        place = f"{declared.name} ({declared.profile.name})"
        widest = route.widest_spacing_km or 0.0
        if route.missing_km:
            found.append(
                warning(
                    message(
                        "profile-hole",
                        route=UserText(declared.name),
                        file=UserText(declared.profile.name, "file"),
                        holes=missing_points([(a * 1000, b * 1000) for a, b in route.missing_km]),
                        spacing=Quantity(MAX_HOLE_M / 1000, "km", 1),
                    )
                )
            )
        elif widest * 1000 > MAX_HOLE_M + 0.5:
            found.append(
                StudyWarning(
                    "coarse-profile",
                    f"Points of the profile of {place} lie up to {widest:.1f} km apart: the grade "
                    "is taken as even between them, and a steeper stretch there is not seen.",
                )
            )
    return found


def _grade_warnings(study: Study, routes: tuple[Route, ...]) -> list[StudyWarning]:
    """Roads without a grade to speak of, and such as are too steep to be true."""
    found = []
    for declared, route in zip(study.routes, routes, strict=True):
        impossible = route.impossible_grade_percent
        if route.length_km is None and impossible is None:
            continue
        place = f"{declared.name} ({declared.profile.name})"
        steepest = max((abs(one.steepest_grade_percent) for one in route.sections), default=0.0)
        if impossible is not None:
            steepest = impossible
        if not route.sections and impossible is None:
            found.append(
                StudyWarning(
                    "profile-flat",
                    f"The profile of {place} has no climb or descent of 1.5 % and 25 m or more, so "
                    "nothing of a mountain is judged on it. If the road is not so flat, check the "
                    "units of the profile's columns.",
                )
            )
        elif steepest > STEEPEST_PERCENT:
            found.append(
                StudyWarning(
                    "profile-steep",
                    f"The profile of {place} is up to {steepest:.0f} % steep, as hardly "
                    "a road for heavy vehicles is. Check the units of its columns: elevations in "
                    "feet told as meters are 3.3 times too steep.",
                )
            )
    return found


def _engine_warnings(study: Study, inputs: Inputs) -> list[StudyWarning]:
    """A torque curve that does not go with governed speed, or not with the logs."""
    found = []
    engine, declared = inputs.powertrain.engine, study.vehicle.engine
    end, governed = engine.rpm[-1], engine.governed_rpm
    if end < governed / HIGH_IDLE_RATIO:
        found.append(
            StudyWarning(
                "torque-curve-short",
                f"The torque curve ends at {end:.0f} rpm and governed speed is {governed:.0f} rpm: "
                "between the two the torque is taken as at the curve's end, which makes climbs "
                "look better than they are. Check governed_rpm, or add points up to it.",
            )
        )
    elif declared is not None and end > governed * HIGH_IDLE_RATIO:
        found.append(
            StudyWarning(
                "torque-curve-long",
                f"The torque curve goes on to {end:.0f} rpm, and governed speed is "
                f"{governed:.0f} rpm: no gear is run faster than that. Check governed_rpm.",
            )
        )
    shown = inputs.central("torque_factor")
    if study.vehicle.mass_kg is not None:  # torque over weight is what a road can show
        shown *= study.vehicle.mass_kg / inputs.central("mass_kg")
    if abs(shown - 1) > TORQUE_OFF:
        less = "less" if shown < 1 else "more"
        found.append(
            StudyWarning(
                "torque-off",
                f"The logs show {abs(shown - 1) * 100:.0f} % {less} torque at the wheels than the "
                "torque curve gives for this weight, and the routes are reckoned with what they "
                f"show. {CHECK}",
            )
        )
    return found


def _reach_warnings(
    study: Study, inputs: Inputs, revolutions_per_km: Mapping[Side, float]
) -> list[StudyWarning]:
    """A speed wanted that the top gear does not give at governed speed."""
    wanted = [one.target_speed_mps for one in study.routes if one.target_speed_mps is not None]
    powertrain = inputs.powertrain
    top = min(powertrain.gear_ratios) * powertrain.axle_ratio
    reached = {
        side: powertrain.engine.governed_rpm / 60 / (turns / 1000 * top)
        for side, turns in revolutions_per_km.items()
    }
    slow = {side: speed for side, speed in reached.items() if speed < max(wanted, default=0.0)}
    if not slow:
        return []
    tires = " and ".join(
        f"{speed * 3.6:.0f} km/h on the {'old' if side == 'before' else 'new'} tires"
        for side, speed in slow.items()
    )
    return [
        StudyWarning(
            "speed-out-of-reach",
            f"The {max(wanted) * 3.6:.0f} km/h wanted are more than the top gear gives at governed "
            f"speed: {tires}. If the vehicle does go faster, check axle_ratio, gear_ratios "
            "(without the axle in them), governed_rpm and the tires' revolutions.",
        )
    ]
