"""Which trips belong where they were filed, and when within a period something changed.

Two figures a trip carry the evidence: its odometer factor and its axle's revolutions a metre. A
trip is misfiled only if it fits the other period's figures and most of its own period does not.
Steps inside a period are dated to the trip, and the last level is the one in effect: a period ends
with the tires and the setting that answer for it. What is found is told and kept out, never
moved.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
import polars as pl

from gearing.analysis.levels import OTHER_LEVEL, Level, levels_of
from gearing.analysis.outlier_messages import step_message, swap_message, warnings_of
from gearing.analysis.sides import SIDES
from gearing.messages import Message, StudyWarning
from gearing.statistics.arrays import Array
from gearing.statistics.change_points import Course, find_course
from gearing.statistics.robust import median_deviation

# deviation from trip to trip no study is below: warm and cold tires, load (common practice)
FLOOR = {"factor": 7e-4, "log_axle_turns": 5e-4}
LARGEST_FLOOR = 1e-2
# periods closer than this are not told apart trip by trip
MIN_APART = 0.006
EVIDENCE = 14.0
FITS_OTHER = 4.0
MIN_STEP = 0.004
MIN_TRIPS = 3
MANY_TRIPS = 12


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """Something changed inside a period: from trip `trip` on. `kind`: "computer reprogrammed",
    "turns changed" (axle or tires), "swapped earlier", "swapped later". Sizes in percent."""

    kind: str
    side: str
    trip: str
    at: datetime
    trips: tuple[str, ...]
    factor_percent: float | None
    revolutions_percent: float | None
    text: Message


@dataclass(frozen=True, slots=True)
class Drift:
    side: str
    figure: str
    percent_per_month: float
    error: float


@dataclass(frozen=True, slots=True)
class Verdicts:
    """`out`: trips kept out of all pooled figures; `factor_out`, `final_drive_out` of one, as
    are those of a level no longer in effect. `levels`: of each figure in each period."""

    flags: dict[str, tuple[str, ...]] = field(default_factory=dict)
    out: frozenset[str] = frozenset()
    factor_out: frozenset[str] = frozenset()
    final_drive_out: frozenset[str] = frozenset()
    misfiled: tuple[str, ...] = ()
    levels: tuple[Level, ...] = ()
    change_points: tuple[ChangePoint, ...] = ()
    drifts: tuple[Drift, ...] = ()
    slopes: dict[tuple[str, str], float] = field(default_factory=dict)
    warnings: tuple[StudyWarning, ...] = ()

    def levels_of(self, side: str, figure: str) -> tuple[Level, ...]:
        """In order of time; one where nothing changed, none where no trip has the figure."""
        return tuple(one for one in self.levels if (one.side, one.figure) == (side, figure))


@dataclass(frozen=True, slots=True)
class _Series:
    """One figure of all trips: log values, errors, NaN where a trip has none."""

    name: str
    value: Array
    error: Array


def judge_trips(table: pl.DataFrame) -> Verdicts:
    """Verdicts on the trips of `table` (in order of start)."""
    series = _series(table)
    side = np.array(table["side"].to_list())
    names = table["trip"].to_list()
    between = {s.name: _between(s, side) for s in series}
    misfiled = _misfiled(series, side, between)
    courses: dict[tuple[str, str], tuple[Course, np.ndarray]] = {
        (one, s.name): _course(s, np.flatnonzero((side == one) & ~misfiled), table, between[s.name])
        for s in series
        for one in SIDES
    }
    return _tell(table, series, side, names, misfiled, courses, between)


def _series(table: pl.DataFrame) -> list[_Series]:
    way_error = table["way_error"].to_numpy()
    # trips whose distance is told alike share its error, and are compared without it
    apart = way_error - way_error.min(initial=np.inf)
    # so with a rounding that is not settled, but against a recorder whose speeds need none: it is
    # one error for all of them, which their number makes no less
    ratio = table["odometer_factor_cut"] / table["odometer_factor_rounded"]
    ends = (ratio.log().abs() / 2).to_numpy()
    shared_by = np.sqrt(np.count_nonzero(ends > 0))
    unsettled = np.nan_to_num(ends) * shared_by * np.any(ends == 0)
    factor, factor_error, turns, turns_error = (
        table[name].to_numpy()
        for name in ("odometer_factor", "odometer_factor_se", "log_axle_turns", "log_axle_turns_se")
    )
    return [
        _Series("factor", np.log(factor), np.hypot(factor_error, np.hypot(apart, unsettled))),
        _Series("log_axle_turns", turns, np.hypot(turns_error, apart)),
    ]


def _between(series: _Series, side: np.ndarray) -> float:
    """Deviation from trip to trip beyond the trips' own errors, wild trips not counted."""
    rest, own = [], []
    for one in SIDES:
        rows = (side == one) & np.isfinite(series.value)
        if np.count_nonzero(rows) >= 3:
            values = series.value[rows]
            # neighbours, so that a step or a drift inside the period does not count
            rest.append(np.diff(values) / np.sqrt(2))
            own.append(series.error[rows])
    if not rest:
        return 2 * FLOOR[series.name]
    spread = median_deviation(np.concatenate([*rest, *(-r for r in rest)]))
    excess = spread**2 - float(np.median(np.concatenate(own))) ** 2
    return float(np.clip(np.sqrt(max(excess, 0.0)), FLOOR[series.name], LARGEST_FLOOR))


Centre = tuple[float, float]


def _middle(series: _Series, rows: np.ndarray, sd: Array) -> Centre | None:
    """Median of some trips' figures with its error; None under one trip."""
    count = np.count_nonzero(rows)
    if count == 0:
        return None
    # a median's error is 1.2533 times a mean's
    error = 1.2533 * float(np.median(sd[rows])) / np.sqrt(count)
    return float(np.median(series.value[rows])), float(error)


def _against(series: _Series, side: np.ndarray, between: float) -> np.ndarray:
    """For each trip the squared distances from its own period's middle without it, and from the
    other's, in their errors; NaN where the periods are not told apart. Shape (n, 2)."""
    known = np.isfinite(series.value)
    sd = np.sqrt(series.error**2 + between**2)
    found = np.full((len(side), 2), np.nan)
    for one in SIDES:
        own_rows, other_rows = known & (side == one), known & (side != one)
        whole, other = _middle(series, own_rows, sd), _middle(series, other_rows, sd)
        count = np.count_nonzero(own_rows)
        if count < MIN_TRIPS or whole is None or other is None:
            continue
        for i in np.flatnonzero(own_rows).tolist():
            own: Centre | None = whole
            if count < MANY_TRIPS:  # where one trip moves the median, it must not be in it
                rest = own_rows.copy()
                rest[i] = False
                own = _middle(series, rest, sd)
            if own is None or abs(own[0] - other[0]) < MIN_APART:
                continue
            for k, centre in enumerate((own, other)):
                gap = series.value[i] - centre[0]
                found[i, k] = gap**2 / (sd[i] ** 2 + centre[1] ** 2)
    return found


def _misfiled(series: list[_Series], side: np.ndarray, between: dict[str, float]) -> np.ndarray:
    """Trips whose figures together speak for the other period and against their own."""
    distances = np.stack([_against(one, side, between[one.name]) for one in series])
    told = np.isfinite(distances[:, :, 0])
    gain = np.nansum(distances[:, :, 0] - distances[:, :, 1], axis=0)
    fits = ~np.any(distances[:, :, 1] >= FITS_OTHER**2, axis=0)
    found = np.asarray(told.any(axis=0) & fits & (gain > EVIDENCE))
    blind = ~np.isfinite(series[1].value)
    if _same_tires(series[1], side):  # then a factor of the other period is the computer's doing
        found &= blind
    return _not_reprogrammed(found, np.flatnonzero(side == "after"), blind)


def _same_tires(turns: _Series, side: np.ndarray) -> bool:
    """Whether the axle's revolutions a metre are known in both periods, and alike."""
    known = [turns.value[(side == one) & np.isfinite(turns.value)] for one in SIDES]
    if min(len(some) for some in known) < MIN_TRIPS:
        return False
    return abs(float(np.median(known[0]) - np.median(known[1]))) < MIN_APART


def _not_reprogrammed(misfiled: np.ndarray, after: np.ndarray, blind: np.ndarray) -> np.ndarray:
    """The trips that end the after period with the old factor, and whose engine turns nobody
    knows, are what putting the computer right looks like: a step, and not misfiled."""
    run = _leading_run((misfiled & blind)[after][::-1])
    if run >= 2:
        misfiled = misfiled.copy()
        misfiled[after[len(after) - run :]] = False
    return misfiled


def _course(
    series: _Series, rows: np.ndarray, table: pl.DataFrame, between: float
) -> tuple[Course, np.ndarray]:
    known = rows[np.isfinite(series.value[rows])]
    months = table["start"].dt.epoch("s").to_numpy()[known] / (30.44 * 86400)
    course = find_course(
        series.value[known],
        series.error[known],
        months,
        least_step=MIN_STEP,
        floor=max(FLOOR[series.name], 0.7 * between),
    )
    return course, known


def _tell(
    table: pl.DataFrame,
    series: list[_Series],
    side: np.ndarray,
    names: list[str],
    misfiled: np.ndarray,
    courses: dict[tuple[str, str], tuple[Course, np.ndarray]],
    between: dict[str, float],
) -> Verdicts:
    flags: dict[str, list[str]] = {}
    out: set[str] = set()
    figure_out: dict[str, set[str]] = {"factor": set(), "log_axle_turns": set()}
    drifts: list[Drift] = []
    levels: list[Level] = []
    slopes: dict[tuple[str, str], float] = {}
    for i in np.flatnonzero(misfiled).tolist():
        flags.setdefault(names[i], []).append("misfiled")
        out.add(names[i])
    for (one, figure), (course, rows) in courses.items():
        for i in course.apart:
            name = names[rows[i]]
            flags.setdefault(name, []).append(f"{_WORD[figure]}-apart")
            out.add(name)  # of another vehicle, maybe: nothing of it may decide
        if course.slope and course.slope_error and not course.steps:
            drifts.append(Drift(one, figure, 100 * course.slope, 100 * course.slope_error))
            slopes[(one, figure)] = course.slope
        found = levels_of(one, figure, course, rows, table)
        levels += found
        for name in (name for level in found[:-1] for name in level.trips):
            figure_out[figure].add(name)
            flags.setdefault(name, []).append(OTHER_LEVEL[figure])
    points = [*_swaps(table, side, names, misfiled), *_steps(table, names, courses)]
    seen = _change_seen(series, side, misfiled, between)
    wrong = [(names[i], str(side[i])) for i in np.flatnonzero(misfiled).tolist()]
    last = names[np.flatnonzero(side == "after").max(initial=0)] if names else ""
    unsure = last if "after" in side and not np.isfinite(series[1].value).any() else ""
    return Verdicts(
        {name: tuple(dict.fromkeys(f)) for name, f in flags.items()},
        frozenset(out),
        frozenset(figure_out["factor"]),
        frozenset(figure_out["log_axle_turns"]),
        tuple(names[i] for i in np.flatnonzero(misfiled)),
        tuple(levels),
        tuple(sorted(points, key=lambda p: p.at)),
        tuple(drifts),
        slopes,
        tuple(warnings_of(wrong, unsure, points, flags, seen)),
    )


_WORD = {"factor": "odometer-factor", "log_axle_turns": "engine-turns"}


def _swaps(
    table: pl.DataFrame, side: np.ndarray, names: list[str], misfiled: np.ndarray
) -> list[ChangePoint]:
    """Misfiled trips that stand next to the declared change: it was made at another time."""
    found = []
    start = table["start"].to_list()
    before, after = np.flatnonzero(side == "before"), np.flatnonzero(side == "after")
    if len(before) == 0 or len(after) == 0 or before.max() > after.min():
        return []
    late = _leading_run(misfiled[after])
    early = _leading_run(misfiled[before][::-1])
    for kind, rows, turn in (
        ("swapped later", after[:late], after[min(late, len(after) - 1)]),
        ("swapped earlier", before[len(before) - early :], before[len(before) - early]
         if early else 0),
    ):  # fmt: skip
        if len(rows) < 2:
            continue
        trips = tuple(names[i] for i in rows)
        when = start[turn]
        text = swap_message(len(rows), names[turn], when, later=kind == "swapped later")
        found.append(
            ChangePoint(kind, str(side[rows[0]]), names[turn], when, trips, None, None, text)
        )
    return found


def _leading_run(flags: np.ndarray) -> int:
    return int(np.argmin(flags)) if not flags.all() else len(flags)


def _steps(
    table: pl.DataFrame,
    names: list[str],
    courses: dict[tuple[str, str], tuple[Course, np.ndarray]],
) -> list[ChangePoint]:
    """Steps inside a period, those of both figures at one trip told as one."""
    found = []
    start = table["start"].to_list()
    for one in SIDES:
        factor = _dated(courses[(one, "factor")])
        axle = _dated(courses[(one, "log_axle_turns")])
        both = all(len(courses[(one, figure)][1]) for figure in ("factor", "log_axle_turns"))
        for row in sorted({*factor, *axle}):
            near = [r for r in axle if abs(r - row) <= 1]
            if row in axle and any(abs(r - row) <= 1 and r != row for r in factor):
                continue  # told with the factor's step
            size = factor.get(row)
            turns = axle[near[0]] if near else None
            kind = "computer reprogrammed" if turns is None else "turns changed"
            own = "factor" if size else "log_axle_turns"
            found.append(
                ChangePoint(
                    kind, one, names[row], start[row],
                    tuple(names[i] for i in courses[(one, own)][1] if i >= row),
                    None if size is None else 100 * float(np.expm1(size)),
                    None if turns is None else 100 * float(np.expm1(turns)),
                    step_message(names[row], start[row], size, turns, both=both),
                )
            )  # fmt: skip
    return found


def _dated(course: tuple[Course, np.ndarray]) -> dict[int, float]:
    return {int(course[1][step.index]): step.size for step in course[0].steps}


def _change_seen(
    series: list[_Series], side: np.ndarray, misfiled: np.ndarray, between: dict[str, float]
) -> bool | None:
    """Whether any figure differs between the periods; None where one period is missing."""
    known = False
    for one in series:
        groups = [one.value[(side == s) & ~misfiled & np.isfinite(one.value)] for s in SIDES]
        if min(len(g) for g in groups) < 2:
            continue
        known = True
        gap = abs(float(np.median(groups[0]) - np.median(groups[1])))
        noise = between[one.name] * np.sqrt(sum(1.57 / len(g) for g in groups))
        if gap > max(0.003, 4 * float(noise)):
            return True
    return False if known else None
