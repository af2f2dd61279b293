"""A speed named in the wrong unit: no change of tires makes a factor of 0.62."""

from __future__ import annotations

import math
from dataclasses import dataclass

from gearing.analysis.sides import SIDES, BySide
from gearing.messages import Message, Quantity, StudyWarning, UserText, message, warning
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import Study
from gearing.trips.record import declared_revolutions_per_km
from gearing.units import KMH_MPS, MPH_MPS, NAUTICAL_MILE_M

CHANNEL = "indicated_speed_mps"
# tires, wear and a wrong setting together move the factor by less: common practice, no source
LARGEST_TRUE_STEP = math.log(1.14)
# a factor this near to the ratio of two units is taken for it, the tires' own part included
NEAR = 0.08
_MPS = {"km/h": KMH_MPS, "mph": MPH_MPS, "m/s": 1.0, "kn": NAUTICAL_MILE_M / 3600}
# (unit the values are in, unit they were taken for)
_MIXED = (
    ("km/h", "mph"), ("mph", "km/h"), ("m/s", "km/h"), ("km/h", "m/s"), ("m/s", "mph"),
    ("mph", "m/s"), ("kn", "km/h"), ("km/h", "kn"), ("kn", "mph"), ("mph", "kn"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class UnitDoubt:
    """`factor` as it came out; `looks_like` the unit the values seem to be in and `taken_for`
    what they were read as, both None where no two units are so far apart; `line` for the study
    file's [columns]."""

    factor: float
    looks_like: str | None
    taken_for: str | None
    line: str | None


def unit_doubts(study: Study, factor: BySide[Estimate]) -> BySide[UnitDoubt | None]:
    """The doubt of each period; None where the factor is one that tires can make, or unknown."""
    larger = _declared_step(study)
    found = BySide(_mixed(factor.before, 0.0), _mixed(factor.after, larger))
    alone = found.before != found.after
    return BySide(
        _doubt(study, "before", factor.before, found.before, alone=alone),
        _doubt(study, "after", factor.after, found.after, alone=alone),
    )


def _declared_step(study: Study) -> float:
    """How much larger around the new tires are declared to be, in logs; 0 where not known."""
    turns = [declared_revolutions_per_km(one) for one in (study.before, study.after)]
    return math.log(turns[0] / turns[1]) if turns[0] and turns[1] else 0.0


def _mixed(factor: Estimate, declared: float) -> tuple[str, str] | tuple[()] | None:
    """The two units mixed up, nothing where none fit, None where there is no doubt: the factor
    is near to one, or to what the `declared` tires make of it."""
    if factor.value is None:
        return None
    step = math.log(factor.value)
    if min(abs(step), abs(step - declared)) < LARGEST_TRUE_STEP:
        return None
    return nearest_units(step, NEAR) or ()


def nearest_units(log_factor: float, near: float) -> tuple[str, str] | None:
    """The unit that speeds are in and the one they were taken for, whose ratio, in logs, is within
    `near` of ln of the factor; None where no two are."""
    off = {
        (own, taken): abs(log_factor + math.log(_MPS[taken] / _MPS[own])) for own, taken in _MIXED
    }
    best = min(off, key=lambda pair: off[pair])
    return best if off[best] <= near else None


def _doubt(
    study: Study,
    side: str,
    factor: Estimate,
    mixed: tuple[str, str] | tuple[()] | None,
    *,
    alone: bool,
) -> UnitDoubt | None:
    if mixed is None or factor.value is None:
        return None
    if not mixed:
        return UnitDoubt(factor.value, None, None, None)
    return UnitDoubt(factor.value, *mixed, _line(study, side, mixed[0], alone=alone))


def withheld(doubt: UnitDoubt) -> Estimate:
    """The factor while its unit is in doubt."""
    return unknown(_told(doubt))


def unit_warnings(study: Study, doubts: BySide[UnitDoubt | None]) -> list[StudyWarning]:
    """What was seen, what it looks like, and the line that would put it right."""
    known = any(rule.channel == CHANNEL for rule in study.columns)
    found = []
    for side in SIDES:
        doubt = doubts.of(side)
        if doubt is None:
            continue
        after, told = side == "after", _told(doubt)
        found.append(
            warning(
                message(
                    "speed-unit-doubtful/line",
                    after=after,
                    doubt=told,
                    named=known,
                    line=UserText(doubt.line, "line"),
                )
                if doubt.line
                else message("speed-unit-doubtful", after=after, doubt=told)
            )
        )
    return found


def _told(doubt: UnitDoubt) -> Message:
    factor = Quantity(doubt.factor, "-", 3)
    if doubt.looks_like is None or doubt.taken_for is None:
        return message("unit-doubt", factor=factor)
    return message(
        "unit-doubt/looks-like",
        factor=factor,
        unit=UserText(doubt.looks_like),
        taken_for=UserText(doubt.taken_for),
    )


def _line(study: Study, side: str, unit: str, *, alone: bool) -> str:
    """The rule to write: on the heading that a rule names already, else on the one in the logs;
    for this period's files `alone` where the other's are read right."""
    named = [rule.heading for rule in study.columns if rule.channel == CHANNEL]
    heading = named[0] if len(named) == 1 else "HEADING"
    period = study.period(side)
    logs = period.logs if period is not None else ()
    return rule_line(heading, unit, logs[0] if alone and len(logs) == 1 else "")


def rule_line(heading: str, unit: str, files: str = "") -> str:
    """The line of [columns] that gives indicated speed its unit, in some `files` alone."""
    alone = f', files = "{files}"' if files else ""
    return f'"{heading}" = {{ channel = "indicated_speed", unit = "{unit}"{alone} }}'
