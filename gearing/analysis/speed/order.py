"""Whether the two periods were taken for each other: by their dates, and by what was measured."""

from __future__ import annotations

from datetime import datetime

import polars as pl

from gearing.analysis.identification.judgement import SURE_WRONG, Judgement
from gearing.analysis.speed.explanations import SIZE_TOLERANCE, Reconciled, larger
from gearing.analysis.trip_figures import TripFigures
from gearing.messages import Items, Message, Moment, StudyWarning, message, warning
from gearing.statistics.estimate import Estimate
from gearing.study.model import Study

# sizes nearer to each other than this do not tell which of two is the larger
MIN_SIZE_PERCENT = 1.5
MIN_SEEN_PERCENT = 1.0
# a trip filed wrongly does not hide that all others lie the wrong way round
STRAY_SHARE = 0.1


def order_warnings(study: Study, figures: TripFigures, seen: Reconciled) -> list[StudyWarning]:
    """One warning where the dates lie the wrong way round or the tires changed the other way.

    The dates alone may be meant (the old tires put on again to be logged): where what was
    measured bears the declared sizes out, that is said instead.
    """
    if study.before is None or study.after is None:
        return []
    dates, judgement = _dates(figures.trips), figures.identification.judgement
    sizes = None if seen.expected_percent.value is None else _sizes(seen, judgement)
    if dates is None and sizes is not False:
        return []
    told = []
    if dates is not None:
        first, last = (Moment.day(at) for at in dates)
        if sizes is True:
            return [warning(message("periods-out-of-order", first=first, last=last))]
        told.append(message("periods-order/dates", first=first, last=last))
    if sizes is False:
        told.append(_measured(seen))
    return [warning(message("periods-swapped", seen=Items(tuple(told), "")))]


def _dates(trips: pl.DataFrame) -> tuple[datetime, datetime] | None:
    """The first start before and the last end after, where the sides lie the wrong way round."""
    before = trips.filter(pl.col("side") == "before")["start"].sort()
    after = trips.filter(pl.col("side") == "after")["end"].sort()
    if before.is_empty() or after.is_empty():
        return None
    first = before[int(STRAY_SHARE * len(before))]
    last = after[len(after) - 1 - int(STRAY_SHARE * len(after))]
    return (first, last) if first > last else None


def _sizes(seen: Reconciled, judgement: Judgement) -> bool | None:
    """Whether the engine's turns say the declared change of size, true, or all evidence together
    that the two periods were taken for each other, false. The odometer factor alone cannot say: a
    computer may have been set anew."""
    expected, measured = seen.expected_percent.value, _larger(seen)
    if measured.known and judgement.chance("swapped") > SURE_WRONG:
        return False
    if expected is None or abs(expected) < MIN_SIZE_PERCENT or not measured.known:
        return None
    value, ends = measured.value, measured.ends
    assert value is not None
    if ends is None or measured.holds(0.0) or abs(value) < MIN_SEEN_PERCENT:
        return None
    return True if abs(value - expected) <= SIZE_TOLERANCE and value * expected > 0 else None


def _larger(seen: Reconciled) -> Estimate:
    """By how much larger around the new tires are, from the engine's turns, percent."""
    return seen.revolutions_change_percent.map(lambda percent: 100 * (1 / (1 + percent / 100) - 1))


def _measured(seen: Reconciled) -> Message:
    expected, measured = seen.expected_percent.value, _larger(seen).value
    assert expected is not None
    assert measured is not None
    return message("periods-order/tires", declared=larger(expected), measured=larger(measured))
