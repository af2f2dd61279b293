"""What of the study does not fit the logs: which keys, and what would fit."""

from __future__ import annotations

import numpy as np

from gearing.analysis.identification.identify import Identification
from gearing.analysis.identification.judgement import Hypothesis, tire_figures
from gearing.analysis.sides import SIDES
from gearing.messages import Items, Message, Quantity, StudyWarning, message, names, warning
from gearing.study.model import Study

MIN_CHANCE = 0.1  # of one reading, to be told what it would take
MIN_FRONT_CHANGE = 0.01  # of the odometer factor, that front wheels left alone cannot make
# of turns a distance: worn tread and another make of one size do less (common practice, no source)
MAX_OF_ONE_SIZE = 0.025


def contradictions(
    study: Study, found: Identification, *, swapped: bool = False
) -> tuple[StudyWarning, ...]:
    """Warnings where declared figures do not fit the logs, with the study's keys; none of tires and
    axle where the periods are told to look `swapped` already."""
    told = []
    keys = found.judgement.contradicted
    if keys and not swapped:
        readings = [h for h in found.judgement.hypotheses if h.wrong and h.weight > MIN_CHANCE]
        likely = readings or found.judgement.hypotheses[:1]
        fits = dict.fromkeys(_fit(found, reading) for reading in likely)
        told.append(
            warning(
                message(
                    "declared-contradicts-logs",
                    keys=names(keys, joint="or"),
                    fits=Items(tuple(fits), "or"),
                ),
                keys=keys,
            )
        )
    elif (turns := _changed_in_one_size(study, found)) is not None and not swapped:
        told.append(
            warning(
                message("declared-contradicts-logs/one-size", by=_by(-turns)),
                keys=("before.drive_tire", "after.drive_tire"),
            )
        )
    if found.undeclared:
        ratios = dict.fromkeys(_ratio(float(np.log(ratio))) for ratio in found.undeclared)
        told.append(
            warning(
                message("declared-contradicts-logs/gear-ratio", ratios=Items(tuple(ratios))),
                keys=("vehicle.gear_ratios",),
            )
        )
    if _not_front(study, found):
        told.append(
            warning(
                message("declared-contradicts-logs/front-wheels"),
                keys=("vehicle.speed_source",),
            )
        )
    return tuple(told)


def _fit(found: Identification, reading: Hypothesis) -> Items | Message:
    """What one reading takes the wrong figures to be."""
    judgement = found.judgement
    at = judgement.hypotheses.index(reading)
    parts: list[Message] = []
    for name in reading.wrong:
        if name == "swapped":
            parts.append(message("fit/swapped"))
        elif name == "axle":
            parts.append(message("fit/axle", ratio=_ratio(judgement.axle[0].mean[at])))
        elif name == "axle change":
            parts.append(message("fit/axle-change", ratio=_ratio(judgement.axle[1].mean[at])))
        else:
            figures = tire_figures(found.declared, name)
            (side, figure), both = figures[0], len(figures) > 1
            tire = float(judgement.circumference[SIDES.index(side)].mean[at])
            if figure is None:
                continue
            by, size = _by(tire - figure.log), name.startswith("size")
            if both:
                parts.append(message("fit/size-both" if size else "fit/published-both", by=by))
            else:
                after = side == "after"
                parts.append(message("fit/size" if size else "fit/published", by=by, after=after))
    return Items(tuple(parts)) if parts else message("fit/none")


# figures are rounded as they are shown, so that readings that come to the same are told once
def _ratio(log: float) -> Quantity:
    return Quantity(round(float(np.exp(log)), 2), "-", 2)


def _by(log: float) -> Message:
    percent = round(100 * float(np.expm1(log)), 1)
    by = Quantity(abs(percent), "%", 1)
    return message("change/larger" if percent > 0 else "change/smaller", by=by)


def _changed_in_one_size(study: Study, found: Identification) -> float | None:
    """The change of the log of turns a distance, where both periods declare one size, figure and
    axle, and it is more than tires of one size make; else None."""
    if study.before is None or study.after is None or found.declared.own_axle:
        return None
    figures = found.declared.size, found.declared.published
    if any((one.before and one.before.log) != (one.after and one.after.log) for one in figures):
        return None
    low, high = found.judgement.change.interval()
    apart = min(low, high, key=abs)
    return found.judgement.change.value if low * high > 0 and abs(apart) > MAX_OF_ONE_SIZE else None


def _not_front(study: Study, found: Identification) -> bool:
    """Whether the computer is declared to count at front wheels that were left alone, and counts
    as the drive tires do."""
    if study.vehicle.speed_source != "front wheels" or not study.before or not study.after:
        return False
    steer = (study.before.steer_tire, study.after.steer_tire)
    if None in steer or steer[0] != steer[1]:
        return False
    driven = sum(
        h.weight for h in found.judgement.hypotheses if h.counting in ("driveline", "wheels")
    )
    return driven > 1 - MIN_CHANCE and abs(found.judgement.change.value) > MIN_FRONT_CHANGE
