"""What a reader of the mountain answer must be warned of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.analysis.mountain.heights import MAX_HOLE_M, missing_points
from gearing.analysis.mountain.inputs import kind_of, shown_kind
from gearing.analysis.mountain.sections import MIN_GRADE, MIN_RISE_M
from gearing.messages import (
    Items,
    Quantity,
    StudyWarning,
    Text,
    UserText,
    field_of,
    message,
    names,
    warning,
)
from gearing.vehicle.engine import HIGH_IDLE_RATIO

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gearing.analysis.mountain.inputs import Inputs
    from gearing.analysis.mountain.result import ModelCheck, Route
    from gearing.study.model import Side, Study
    from gearing.trips.shifts import Upshifts

MODEL_OFF_PERCENT = 8.0
MODEL_BIAS_KMH = 6.0
TORQUE_OFF = 0.12  # three times what is left open of a declared curve
HEAVIER = 1.02  # what is left open of a declared weight
STEEPEST_PERCENT = 15.0  # of roads a heavy vehicle drives: common practice, no source


def unread_profiles(study: Study, reasons: Mapping[str, Text]) -> tuple[StudyWarning, ...]:
    """Routes without a profile: which file gave none, why, and what to add; `reasons` by route."""
    return tuple(
        warning(
            message(
                "profile-not-used",
                route=UserText(route.name),
                why=field_of(reasons[route.name]),
            )
        )
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
    """What of profiles, engine, speed wanted, model and weight the reader must know."""
    found = _profile_warnings(study, routes)
    found += _grade_warnings(study, routes)
    found += _engine_warnings(study, inputs)
    found += _reach_warnings(study, inputs, revolutions_per_km)
    smoothed = [
        declared.name
        for declared, route in zip(study.routes, routes, strict=True)
        if route.smoothed
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
    """Days on which the vehicle weighs more than the routes are calculated for."""
    if any(load.towing for load in study.loads):
        return [warning(message("mountain-towing"))]
    usual = inputs.central("mass_kg")
    heaviest = max((load.mass_kg or 0.0 for load in study.loads), default=0.0)
    if heaviest <= HEAVIER * usual:
        return []
    return [
        warning(
            message(
                "mountain-heavier",
                weight=Quantity(usual, "kg"),
                heaviest=Quantity(heaviest, "kg"),
            )
        )
    ]


def _profile_warnings(study: Study, routes: tuple[Route, ...]) -> list[StudyWarning]:
    """Holes in profiles, and points so far apart that much may happen between them."""
    found = []
    for declared, route in zip(study.routes, routes, strict=True):
        name, file = UserText(declared.name), UserText(declared.profile.name, "file")
        widest = route.widest_spacing_km or 0.0
        if route.missing_km:
            holes = missing_points([(a * 1000, b * 1000) for a, b in route.missing_km])
            spacing = Quantity(MAX_HOLE_M / 1000, "km", 1)
            found.append(
                message("profile-hole", route=name, file=file, holes=holes, spacing=spacing)
            )
        elif widest * 1000 > MAX_HOLE_M + 0.5:
            apart = Quantity(widest, "km", 1)
            found.append(message("coarse-profile", route=name, file=file, widest=apart))
    return [warning(told) for told in found]


def _grade_warnings(study: Study, routes: tuple[Route, ...]) -> list[StudyWarning]:
    """Roads without a grade to speak of, and such as are too steep to be true."""
    found = []
    for declared, route in zip(study.routes, routes, strict=True):
        impossible = route.impossible_grade_percent
        if route.length_km is None and impossible is None:
            continue
        name, file = UserText(declared.name), UserText(declared.profile.name, "file")
        steepest = max((abs(one.steepest_grade_percent) for one in route.sections), default=0.0)
        if impossible is not None:
            steepest = impossible
        if not route.sections and impossible is None:
            grade, rise = Quantity(100 * MIN_GRADE, "%", 1), Quantity(MIN_RISE_M, "m")
            found.append(message("profile-flat", route=name, file=file, grade=grade, rise=rise))
        elif steepest > STEEPEST_PERCENT:
            grade = Quantity(steepest, "%")
            found.append(message("profile-steep", route=name, file=file, steepest=grade))
    return [warning(told) for told in found]


def _engine_warnings(study: Study, inputs: Inputs) -> list[StudyWarning]:
    """A torque curve that does not go with governed speed, or not with the logs."""
    found = []
    engine, declared = inputs.powertrain.engine, study.vehicle.engine
    end, governed = engine.rpm[-1], engine.governed_rpm
    curve, speed = Quantity(end, "rpm"), Quantity(governed, "rpm")
    if end < governed / HIGH_IDLE_RATIO:
        found.append(message("torque-curve-short", end=curve, governed=speed))
    elif declared is not None and end > governed * HIGH_IDLE_RATIO:
        found.append(message("torque-curve-long", end=curve, governed=speed))
    shown = inputs.central("torque_factor")
    if study.vehicle.mass_kg is not None:  # torque over weight is what a road can show
        shown *= study.vehicle.mass_kg / inputs.central("mass_kg")
    if abs(shown - 1) > TORQUE_OFF:
        off = Quantity(100 * abs(shown - 1), "%")
        check = message("check-engine")
        found.append(message("torque-off", off=off, less=shown < 1, check=check))
    return [warning(told) for told in found]


def kind_warnings(study: Study, upshifts: Upshifts | None) -> tuple[StudyWarning, ...]:
    """A transmission declared that is not the one the logs show."""
    vehicle = study.vehicle
    if upshifts is None or vehicle.transmission is None or not vehicle.gear_ratios:
        return ()
    shown = shown_kind(upshifts, vehicle.gear_ratios[0])
    if shown is None or shown == vehicle.transmission:
        return ()
    told = message(
        "transmission-off",
        declared=kind_of(vehicle.transmission),
        shown=kind_of(shown),
        shifts=upshifts.count,
    )
    return (warning(told, keys=("vehicle.transmission",)),)


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
    tires = []
    for side, mps in slow.items():
        speed = Quantity(mps * 3.6, "km/h")
        old = side == "before"
        tires.append(
            message("speed-out-of-reach/old" if old else "speed-out-of-reach/new", speed=speed)
        )
    most = Quantity(max(wanted) * 3.6, "km/h")
    return [warning(message("speed-out-of-reach", wanted=most, reached=Items(tuple(tires))))]
