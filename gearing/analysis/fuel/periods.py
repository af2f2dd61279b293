"""On which tires a span of time was driven: by the date of the change, else by logged drives."""

from __future__ import annotations

import itertools
from bisect import bisect_left, bisect_right
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import polars as pl

from gearing.messages import StudyWarning, message, names, warning

if TYPE_CHECKING:
    from gearing.analysis.fuel.fillups import SideOf
    from gearing.study.model import Study

SAME_DAY = timedelta(hours=12)
MIN_NEIGHBORS = 3  # drives of the other tires on both sides that make a single one look misfiled


def change_at(moment: datetime) -> SideOf:
    """The tires were changed at one moment: a span that holds it belongs to neither period."""

    def side(start: datetime, end: datetime) -> bool | None:
        if end <= moment:
            return False
        return True if start >= moment else None

    return side


def all_of(*, after: bool) -> SideOf:
    """There is one period."""

    def side(start: datetime, end: datetime) -> bool | None:
        del start, end
        return after

    return side


def by_drives(runs: list[tuple[datetime, bool]]) -> SideOf:
    """By drives in order of time, each with whether it was on the new tires: a span belongs to a
    period where the last drive before it, those in it and the first behind it all do. A fill is
    often known by its day alone."""
    times = [at for at, _ in runs]

    def side(start: datetime, end: datetime) -> bool | None:
        first = max(bisect_right(times, start + SAME_DAY) - 1, 0)
        last = min(bisect_left(times, end - SAME_DAY), len(runs) - 1)
        first, last = min(first, last), max(first, last)
        found = {after for _, after in runs[first : last + 1]}
        return found.pop() if len(found) == 1 else None

    return side


def period_of_spans(
    study: Study, trips: pl.DataFrame
) -> tuple[SideOf | None, tuple[StudyWarning, ...]]:
    """How spans of time fall into the periods, None where nothing tells; and drives that seem to
    be filed under the wrong tires, by when they were driven."""
    side_of, warnings = _divided(study, trips)
    return (None if side_of is None else _bounded(study, side_of)), warnings


def _bounded(study: Study, side_of: SideOf) -> SideOf:
    """Spans that lie outside what the study bounds are of other tires."""

    def side(start: datetime, end: datetime) -> bool | None:
        after = side_of(start, end)
        if after is None:
            return None
        return after if study.holds("after" if after else "before", start, end) else None

    return side


def _divided(study: Study, trips: pl.DataFrame) -> tuple[SideOf | None, tuple[StudyWarning, ...]]:
    if study.after is not None and study.after.start is not None:
        return change_at(study.after.start), ()
    used = trips.filter(pl.col("used")).sort("start", "trip")
    drives = [
        (start, name, side == "after")
        for start, name, side in used.select("start", "trip", "side").iter_rows()
    ]
    if not drives:
        alone = study.after is None or study.before is None
        return (all_of(after=study.before is None) if alone else None), ()
    strays = _strays([after for _, _, after in drives])
    kept = [(start, after) for i, (start, _, after) in enumerate(drives) if i not in strays]
    if len({after for _, after in kept}) < 2:
        # only as far as drives tell: what follows may be on the other tires
        return _within(kept), ()
    named = tuple(drives[i][1] for i in sorted(strays))
    told = (warning(message("drive-out-of-order", trips=names(named, "trip")), named),)
    return by_drives(kept), told if named else ()


def _within(drives: list[tuple[datetime, bool]]) -> SideOf:
    first, last, after = drives[0][0], drives[-1][0], drives[0][1]

    def side(start: datetime, end: datetime) -> bool | None:
        inside = start >= first if after else end <= last
        return after if inside else None

    return side


def _strays(after: list[bool]) -> set[int]:
    """Single drives amid several of the other tires."""
    runs = [(side, len(list(some))) for side, some in itertools.groupby(after)]
    found: set[int] = set()
    at = 0
    for i, (_, length) in enumerate(runs):
        if 0 < i < len(runs) - 1 and length == 1:
            beside = min(runs[i - 1][1], runs[i + 1][1])
            if beside >= MIN_NEIGHBORS or runs[i - 1][1] + runs[i + 1][1] > 2 * MIN_NEIGHBORS:
                found.add(at)
        at += length
    return found
