"""The fill-up log's part of the fuel answer: its tanks, their answer, and what they would show."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.fuel.driving import driving_difference
from gearing.analysis.fuel.enough import Enough
from gearing.analysis.fuel.fillups import Tanks, doubted, full_to_full
from gearing.analysis.fuel.periods import period_of_spans
from gearing.analysis.fuel.tanks import TankAnswer, TankDistance, climate_of, tank_answer
from gearing.analysis.sides import SIDES, BySide
from gearing.messages import Message, Moment, Quantity, StudyWarning, Text, message, warning
from gearing.statistics.estimate import Estimate, unknown

if TYPE_CHECKING:
    from gearing.study.model import Study

# ln of the fill-ups' fuel per distance over the logs': common practice, no source
FAR = float(np.log(1.5))


@dataclass(frozen=True, slots=True)
class Notebook:
    """The fill-up log: its tanks and what they answer, None where there are none."""

    tanks: Tanks | None
    answer: TankAnswer | None
    change: Estimate
    warnings: tuple[StudyWarning, ...] = ()


def notebook_of(
    study: Study,
    trips: pl.DataFrame,
    steps: pl.DataFrame,
    joined: pl.DataFrame,
    fillups: pl.DataFrame | None,
    weather: pl.DataFrame | None,
    distance: TankDistance,
    no_fillups: Text,
) -> Notebook:
    """The fill-up log's tanks, and their answer."""
    if fillups is None or fillups.is_empty():
        return Notebook(None, None, unknown(no_fillups))
    side_of, warnings = period_of_spans(study, trips)
    if side_of is None:
        return Notebook(None, None, unknown(message("change-undated")))
    warnings += (*_between(study, trips, fillups), *_outside(study, fillups))
    used = trips.filter(pl.col("used"))
    tanks = full_to_full(fillups, distance.odometer, side_of, used)
    claim = study.claim.consumption_change_percent if study.claim else None
    answer = tank_answer(
        tanks,
        distance,
        climate_of(study, steps, weather, tanks),
        target_percent=abs(claim) / 2 if claim else 2.0,
        driving=driving_difference(study, joined, tanks) if joined.height else None,
    )
    return Notebook(
        tanks, answer, answer.change, (*_implausible(answer), *doubted(tanks), *warnings)
    )


def _implausible(answer: TankAnswer) -> tuple[StudyWarning, ...]:
    """A change by tanks that no tires make."""
    why = answer.change.why
    if isinstance(why, Message) and why.code == "change-implausible/tanks":
        return (warning(why),)
    return ()


def fills_far(notebook: Notebook, logged: BySide[float | None]) -> tuple[StudyWarning, ...]:
    """Fill-ups whose fuel per distance is another than the logs' (`logged`, L/100 km) by far, which
    neither idling nor driving elsewhere explains: a unit, or another vehicle's log."""
    if notebook.answer is None:
        return ()
    rates = notebook.answer.finding.liters_per_100km
    for side in SIDES:
        fills, logs = rates.of(side), logged.of(side)
        if fills and logs and abs(np.log(fills / logs)) > FAR:
            told = message(
                "fills-far-from-logs",
                after=side == "after",
                times=Quantity(fills / logs, "-", 2),
                fills=Quantity(fills, "L/100 km", 1),
                logs=Quantity(logs, "L/100 km", 1),
            )
            return (warning(told),)
    return ()


def _between(study: Study, trips: pl.DataFrame, fillups: pl.DataFrame) -> tuple[StudyWarning, ...]:
    """Fills behind the last drive on the old tires and before the first on the new, which no drive
    tells the tires of, where no date does."""
    if study.after is None or study.after.start is not None:
        return ()
    last = trips.filter(pl.col("side") == "before")["end"].max()
    first = trips.filter(pl.col("side") == "after")["start"].min()
    if last is None or first is None:
        return ()
    fills = fillups.filter(pl.col("time") > last, pl.col("time") < first).height
    if fills < 2:
        return ()
    return (warning(message("fills-between", fills=fills)),)


def _outside(study: Study, fillups: pl.DataFrame) -> tuple[StudyWarning, ...]:
    """A change before or behind all fill-ups: a date mistyped, or one still to come."""
    first, last = fillups["time"].min(), fillups["time"].max()
    assert isinstance(first, datetime)
    assert isinstance(last, datetime)
    change = study.change_outside(first, last)
    if change is None:
        return ()
    told = message(
        "change-outside-fills",
        after=change >= last,
        change=Moment.day(change),
        first=Moment.day(first),
        last=Moment.day(last),
    )
    return (warning(told),)


def count_of(answer: TankAnswer) -> int:
    """Tanks of both periods."""
    return answer.finding.count.before + answer.finding.count.after


def enough_tanks(notebook: Notebook) -> Enough:
    """What tanks could show, and the way on the new tires until they would."""
    assert notebook.answer is not None
    assert notebook.tanks is not None
    found = notebook.answer.finding
    late = notebook.tanks.distance_m[notebook.tanks.after > 0]
    each = float(np.median(late)) / 1000 if len(late) else 0.0
    more = None if found.more_tanks is None else found.more_tanks * each
    return Enough(found.smallest_detectable_percent, None, more, found.more_tanks_why)
