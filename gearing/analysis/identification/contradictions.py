"""What of the study does not fit the logs: which keys, and what would fit."""

from __future__ import annotations

import numpy as np

from gearing.analysis.identification.identify import Identification
from gearing.analysis.identification.judgement import Hypothesis
from gearing.analysis.sides import SIDES
from gearing.messages import StudyWarning
from gearing.study.model import Study

CODE = "declared-contradicts-logs"
MIN_CHANCE = 0.1  # of one reading, to be told what it would take
MIN_FRONT_CHANGE = 0.01  # of the odometer factor, that front wheels left alone cannot make


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
        fits = dict.fromkeys(_fit(study, found, reading) for reading in likely)
        told.append(
            StudyWarning(
                CODE,
                f"What the study declares does not fit the logs: {_joined(keys)}. "
                f"What would fit: {'; or '.join(fits)}. Until it is put right, figures that rest "
                "on it are left out or carry the whole range; the correction from today's setting "
                "rests on none of it.",
                keys=keys,
            )
        )
    if found.undeclared:
        ratios = " and ".join(dict.fromkeys(f"{ratio:.2f}" for ratio in found.undeclared))
        told.append(
            StudyWarning(
                CODE,
                f"The engine was driven at a ratio of {ratios}, which is none of the declared gear "
                "ratios (vehicle.gear_ratios): one of them looks mistyped. The change does not "
                "rest on it.",
                keys=("vehicle.gear_ratios",),
            )
        )
    if _not_front(study, found):
        told.append(
            StudyWarning(
                CODE,
                "The study says that speed is taken at the front wheels (vehicle.speed_source), "
                "but the logged speed follows the drive tires while the steer tires are declared "
                "alike: it looks like the output shaft or the drive wheels.",
                keys=("vehicle.speed_source",),
            )
        )
    return tuple(told)


def _joined(keys: tuple[str, ...]) -> str:
    return keys[0] if len(keys) == 1 else ", ".join(keys[:-1]) + f" or {keys[-1]}"


def _fit(study: Study, found: Identification, reading: Hypothesis) -> str:
    """What one reading takes the wrong figures to be."""
    judgement = found.judgement
    at = judgement.hypotheses.index(reading)
    parts = []
    for name in reading.wrong:
        kind, _, side = name.rpartition(" ")
        if name == "swapped":
            parts.append("the periods [before] and [after] exchanged")
        elif name == "axle":
            parts.append(f"an axle ratio of {_ratio(judgement.axle[0].mean[at])}")
        elif name == "axle change":
            after = _ratio(judgement.axle[1].mean[at])
            parts.append(f"another axle ratio after the change, {after}")
        else:
            period = SIDES.index(side)
            figure = (found.declared.size if kind == "size" else found.declared.published).of(side)
            tire = float(judgement.circumference[period].mean[at])
            if figure is not None:
                what = "size" if kind == "size" else "published figure"
                parts.append(f"a tire {_by(tire - figure.log)} around than the {what} {side} says")
    return " and ".join(parts) or f"nothing of [{study.name}] as declared"


def _ratio(log: float) -> str:
    return f"{float(np.exp(log)):.2f}"


def _by(log: float) -> str:
    percent = 100 * float(np.expm1(log))
    return f"{abs(percent):.1f} % {'larger' if percent > 0 else 'smaller'}"


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
