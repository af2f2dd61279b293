"""The levels a trip figure stood at within a period: the last is the one in effect."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import polars as pl

from gearing.statistics.change_points import Course

# flag of a trip whose figure stood at a level no longer in effect, by figure
OTHER_LEVEL = {
    "factor": "odometer-factor-other-level",
    "log_axle_turns": "engine-turns-other-level",
}


@dataclass(frozen=True, slots=True)
class Level:
    """From trip `since` (at `at`) on one figure of a period stood alike on `trips`, lone trips
    that fit no level left out. `figure`: "factor" or "log_axle_turns"."""

    side: str
    figure: str
    since: str
    at: datetime
    trips: tuple[str, ...]


def levels_of(
    side: str, figure: str, course: Course, rows: np.ndarray, table: pl.DataFrame
) -> tuple[Level, ...]:
    """The levels in order of time, between the sure steps of `course` over `rows` of `table`."""
    if len(rows) == 0:
        return ()
    names, start = table["trip"].to_list(), table["start"].to_list()
    edges = [0, *(step.index for step in course.steps), len(rows)]
    apart = set(course.apart)
    return tuple(
        Level(
            side,
            figure,
            names[rows[a]],
            start[rows[a]],
            tuple(names[rows[i]] for i in range(a, b) if i not in apart),
        )
        for a, b in itertools.pairwise(edges)
    )


def in_level(level: Level | None, used: str) -> pl.Expr:
    """Column `used` as it is, or for an earlier `level` whether a trip belongs to that."""
    if level is None:
        return pl.col(used)
    return pl.col("trip").is_in(level.trips).alias(used)
