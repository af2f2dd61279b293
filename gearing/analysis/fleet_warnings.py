"""What the reader of a fleet's answer must know."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from typing import TYPE_CHECKING

from gearing.messages import StudyWarning
from gearing.statistics.comparison import log_of_percent

if TYPE_CHECKING:
    from gearing.analysis.fleet import VehicleFigures
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
        StudyWarning(
            "left-out",
            f"{vehicle.name} is not in the fleet's figure: {vehicle.change_percent.why}.",
        )
        for vehicle in vehicles
        if not vehicle.change_percent.known
    ]
    if changed and not controls:
        named = any(vehicle.role == "control" for vehicle in vehicles)
        found.append(
            StudyWarning(
                "no-controls",
                f"{'No control tells anything' if named else 'No vehicle was left as it was'}. "
                "What all share, such as the season, the fuel or new routes, stays in the pooled "
                "figure; its interval knows of the weather alone.",
            )
        )
    elif changed and 0 < len(controls) < FEW_CONTROLS:
        found.append(
            StudyWarning(
                "few-controls",
                f"Unchanged vehicles whose fuel could be compared: {len(controls)}, and "
                f"{FEW_CONTROLS} or more are wanted. What the season did rests on hardly anything, "
                "and the interval is wide for it.",
            )
        )
    found.extend(_same_figures([*changed, *controls]))
    found.extend(_hardly_known([*changed, *controls]))
    found.extend(_other_season(changed, controls))
    found.extend(_controls_with_new_tires(vehicles))
    found += [
        StudyWarning(
            "no-change-seen",
            f"{vehicle.name} stands among the vehicles with new tires, but its logs show no other "
            "size after than before: its tires seem to have been kept, or its logs are not what "
            "its study says. It stays in the fleet's figure; if it kept its tires, make it a "
            "control.",
        )
        for vehicle in changed
        if vehicle.unseen
    ]
    if unlike is not None and unlike.heterogeneity > 0.5 and 100 * unlike.between > margin:
        found.append(
            StudyWarning(
                "vehicles-differ",
                f"The vehicles differ by more than their own errors explain (standard deviation "
                f"{100 * unlike.between:.1f} points): the average stands for none of them. Look "
                "at each one's roads, load and tires.",
            )
        )
    return tuple(found)


def _same_figures(vehicles: Sequence[VehicleFigures]) -> list[StudyWarning]:
    """Two vehicles never drive alike to the last digit: their studies name the same logs."""
    found: list[tuple[str, str]] = []
    seen: dict[Estimate, str] = {}
    for vehicle in vehicles:
        if vehicle.change_percent in seen:
            found.append((seen[vehicle.change_percent], vehicle.name))
        seen[vehicle.change_percent] = vehicle.name
    return [
        StudyWarning(
            "same-figures",
            f"{first} and {second} have the same figures to the last digit: their studies seem to "
            "name the same logs, and count twice.",
        )
        for first, second in found
    ]


def _hardly_known(vehicles: Sequence[VehicleFigures]) -> list[StudyWarning]:
    """Vehicles are weighed nearly alike, so one of which little is known moves them all."""
    widths = [
        log_of_percent(v.change_percent.high or 0.0) - log_of_percent(v.change_percent.low or 0.0)
        for v in vehicles
    ]
    usual = statistics.median(widths) if widths else 0.0
    return [
        StudyWarning(
            "hardly-known",
            f"{vehicle.name} is known far less well than the others: its own interval is "
            f"{width / usual:.0f} times as wide as is usual here. It moves the fleet's figure all "
            "the same and widens its interval; more days of it would mend that.",
        )
        for vehicle, width in zip(vehicles, widths, strict=True)
        if width > HARDLY_KNOWN * usual
    ]


def _other_season(
    changed: Sequence[VehicleFigures], controls: Sequence[VehicleFigures]
) -> list[StudyWarning]:
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
        StudyWarning(
            "controls-other-season",
            f"The air changed by {with_new:+.0f} K for the vehicles with new tires and by "
            f"{without:+.0f} K for the controls: these stand for another season. Split them at "
            "the dates the others changed.",
        )
    ]


def has_new_tires(control: VehicleFigures) -> bool:
    """Whether a control's own engine turns show that its tires, too, changed in size."""
    drive = control.final_drive_change_percent
    if drive.value is None or drive.low is None or drive.high is None:
        return False
    return abs(drive.value) >= CONTROL_CHANGED_PERCENT and not drive.low <= 0.0 <= drive.high


def _controls_with_new_tires(vehicles: Sequence[VehicleFigures]) -> list[StudyWarning]:
    return [
        StudyWarning(
            "control-changed",
            f"{vehicle.name} stands as a control, but its effective axle ratio changed by "
            f"{vehicle.final_drive_change_percent.value:+.1f} %: its tires seem to have changed as "
            "well. It is kept out of the fleet's figure; if you agree, make it one of the changed "
            "vehicles.",
        )
        for vehicle in vehicles
        if vehicle.role == "control" and has_new_tires(vehicle)
    ]
