"""What the reader of a fleet's answer must know."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from typing import TYPE_CHECKING

from gearing.messages import Message, Quantity, StudyWarning, UserText, field_of, message, warning
from gearing.statistics.comparison import log_of_percent

if TYPE_CHECKING:
    from gearing.analysis.fleet_vehicle import VehicleFigures
    from gearing.statistics.estimate import Estimate
    from gearing.statistics.mixed_effects import MixedEffects

FEW_CONTROLS = 3
HARDLY_KNOWN = 5.0  # so many times the usual interval tells hardly anything beside the others
# Controls whose air warmed by so much more or less than the changed vehicles' stand for another
# season: 5 K is 2 to 3 % of rolling resistance at 0.005 per K, under 1 % of fuel.
OTHER_SEASON_K = 5.0
# A tire worn from new to bald loses 2 to 3 % of its circumference (common practice, no source):
# within one comparison less than this is wear.
CONTROL_CHANGED_PERCENT = 1.5


def fleet_warnings(
    vehicles: Sequence[VehicleFigures],
    changed: Sequence[VehicleFigures],
    controls: Sequence[VehicleFigures],
    unlike: MixedEffects | None,
    margin: float,
) -> tuple[StudyWarning, ...]:
    """What to know of a fleet's answer; `unlike`: how the changed differ, `margin` in percent."""
    found = [
        message(
            "left-out/control" if vehicle.role == "control" else "left-out",
            vehicle=_name(vehicle),
            why=field_of(vehicle.change_percent.why),
        )
        for vehicle in vehicles
        if not vehicle.change_percent.known
    ]
    if changed and not controls:
        named = any(vehicle.role == "control" for vehicle in vehicles)
        found.append(message("no-controls", named=named))
    elif changed and 0 < len(controls) < FEW_CONTROLS:
        found.append(message("few-controls", controls=len(controls), wanted=FEW_CONTROLS))
    found += _same_figures([*changed, *controls])
    found += _hardly_known([*changed, *controls])
    found += _other_season(changed, controls)
    found += _controls_with_new_tires(vehicles)
    found += [
        message("no-change-seen", vehicle=_name(vehicle)) for vehicle in changed if vehicle.unseen
    ]
    if unlike is not None and unlike.heterogeneity > 0.5 and 100 * unlike.between > margin:
        between = Quantity(100 * unlike.between, "-", 1)
        found.append(message("vehicles-differ", between=between))
    return tuple(map(warning, found))


def _name(vehicle: VehicleFigures) -> UserText:
    return UserText(vehicle.name)


def _same_figures(vehicles: Sequence[VehicleFigures]) -> list[Message]:
    """Two vehicles never drive alike to the last digit: their studies name the same logs."""
    found = []
    seen: dict[Estimate, UserText] = {}
    for vehicle in vehicles:
        first = seen.get(vehicle.change_percent)
        if first is not None:
            found.append(message("same-figures", vehicle=first, other=_name(vehicle)))
        seen[vehicle.change_percent] = _name(vehicle)
    return found


def _hardly_known(vehicles: Sequence[VehicleFigures]) -> list[Message]:
    """Vehicles are weighed nearly alike, so one of which little is known moves them all."""
    widths = [
        log_of_percent(v.change_percent.high or 0.0) - log_of_percent(v.change_percent.low or 0.0)
        for v in vehicles
    ]
    usual = statistics.median(widths) if widths else 0.0
    return [
        message("hardly-known", vehicle=_name(vehicle), times=Quantity(width / usual, "-"))
        for vehicle, width in zip(vehicles, widths, strict=True)
        if width > HARDLY_KNOWN * usual
    ]


def _other_season(
    changed: Sequence[VehicleFigures], controls: Sequence[VehicleFigures]
) -> list[Message]:
    """Whether controls saw another change of temperature than the vehicles they stand beside."""
    warmer = [
        [v.temperature_change_k for v in group if v.temperature_change_k is not None]
        for group in (changed, controls)
    ]
    if not all(warmer):
        return []
    with_new, without = (math.fsum(group) / len(group) for group in warmer)
    if abs(with_new - without) <= OTHER_SEASON_K:
        return []
    return [
        message(
            "controls-other-season",
            changed=Quantity(with_new, "K", sign=True),
            controls=Quantity(without, "K", sign=True),
        )
    ]


def has_new_tires(control: VehicleFigures) -> bool:
    """Whether a control's own engine turns show that its tires, too, changed in size."""
    drive = control.final_drive_change_percent
    if drive.figures is None:
        return False
    return abs(drive.figures[0]) >= CONTROL_CHANGED_PERCENT and not drive.holds(0.0)


def _controls_with_new_tires(vehicles: Sequence[VehicleFigures]) -> list[Message]:
    return [
        message(
            "control-changed", vehicle=_name(vehicle), change=Quantity(value, "%", 1, sign=True)
        )
        for vehicle in vehicles
        if vehicle.role == "control" and has_new_tires(vehicle)
        if (value := vehicle.final_drive_change_percent.value) is not None
    ]
