"""From trip records to the gears of the study and what is known of tires, axle and computer."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from gearing.analysis.identification.declared import Declared, declared_evidence
from gearing.analysis.identification.gear_fit import (
    SAME_GEAR,
    PeriodGears,
    TripClusters,
    clusters_of,
    fit_period,
    source_of,
    wheel_slip,
)
from gearing.analysis.identification.judgement import (
    MIN_RIVAL,
    SAME_CHANGE,
    Count,
    Judgement,
    judge,
)
from gearing.analysis.identification.links import MUCH, PLACE_ERROR, Link, links
from gearing.analysis.identification.misplaced import misplaced
from gearing.analysis.sides import SIDES, BySide, by_side
from gearing.messages import Text, message
from gearing.statistics.arrays import Array
from gearing.study.model import Study
from gearing.trips.record import TripRecord

ContrastError = Callable[[Sequence[str], Sequence[str]], float]
# of the road driven with engine speed, what must be in gear clusters at all
MIN_CLUSTERED, MIN_CLUSTERED_IN_TRIP = 0.1, 0.05
NO_GEAR_HELD = message("no-gear-held")
# trips that bear a link out: how near, in logs, and what share of a period's
SAME_SETTING, MIN_BEARING_OUT = 0.005, 0.25
MIN_LIKELIHOOD = 40.0  # a link this much less likely than another is not weighed
MIN_SURE = 0.9
MAX_SLIPPING = 0.065  # of the log ratio, by a converter at cruise: common practice, no source
MISFILED = 0.02  # of trips are filed under the wrong period: common practice, no source
MEASURED = 3e-4  # an error of a link below this is no more than the trips' own


@dataclass(frozen=True, slots=True)
class Gear:
    """`number` from 1, the lowest gear; declared `ratio`, None where found; `log_ratio` of engine
    revolutions over axle revolutions (named), else over the reference gear's level."""

    number: int
    ratio: float | None
    log_ratio: float


@dataclass(frozen=True, slots=True)
class TripGearing:
    """ln of revolutions a metre of one trip, relative to the gears; `gears` the number of each of
    the trip's engine clusters, 0 where it is none."""

    log_axle_turns: float
    error: float
    distance_m: float
    force: float
    gears: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Identification:
    """`source` "shaft", "geared", "engine" or None (`why` says what is missing). `named`: whether
    log_axle_turns are those of the axle. `link_error`: of the change between the periods, what no
    driving takes away; `rivals` other changes nearly as likely. `ratios_fit` None where no ratios
    are declared. `level` of log_axle_turns in each period at its usual, None where there is none.
    `undeclared`: ratios of gears driven that are none of the declared. `ratio_offsets`: by how
    much each gear moved between the periods against all."""

    declared: Declared
    judgement: Judgement
    source: str | None = None
    trips: dict[str, TripGearing] = field(default_factory=dict)
    gears: tuple[Gear, ...] = ()
    named: bool = False
    level: BySide[float | None] = field(default_factory=lambda: BySide(None, None))
    slip: float = 0.0
    link_error: float = 0.0
    rivals: tuple[float, ...] = ()
    ratios_fit: bool | None = None
    ratio_offsets: dict[int, float] = field(default_factory=dict)
    undeclared: tuple[float, ...] = ()
    why: Text | None = None


def identify(
    study: Study,
    records: Sequence[TripRecord],
    log_factors: Mapping[str, float],
    contrast_error: ContrastError,
) -> Identification:
    """The judgement of all records; `log_factors` ln of the odometer factor by trip, and
    `contrast_error` how well that of some trips over that of others is known for their rounding."""
    declared = declared_evidence(study)
    source = source_of(records)
    trips = [
        (record.side, one)
        for record in records
        if source and (one := clusters_of(record, source, log_factors.get(record.name))) is not None
    ]
    driven = sum(one.driven_m for _, one in trips)
    clustered = sum(float(one.distance_m.sum()) for _, one in trips)
    if not trips or source is None:
        return Identification(declared, judge(declared, (), (), ()))
    if source == "engine":
        if clustered < MIN_CLUSTERED * driven:
            return Identification(declared, judge(declared, (), (), ()), why=NO_GEAR_HELD)
        trips = [
            (side, one)
            for side, one in trips
            if float(one.distance_m.sum()) >= MIN_CLUSTERED_IN_TRIP * one.driven_m
        ]
    slip = wheel_slip([one for _, one in trips])
    force = np.concatenate([one.force for _, one in trips])
    usual = float(np.average(force, weights=np.concatenate([t.distance_m for _, t in trips])))

    def told(filed: Sequence[tuple[str, TripClusters]]) -> tuple[Identification, int]:
        """What trips so filed come to, and how many gears they stand in."""
        sides = [side for side in SIDES if any(own == side for own, _ in filed)]
        periods = [fit_period([t for own, t in filed if own == s], slip, usual) for s in sides]
        gears = sum(len(period.log_ratio) for period in periods)
        return _identified(declared, source, sides, periods, slip, contrast_error), gears

    found, gears = told(trips)
    stray = misplaced(trips) if source == "engine" else frozenset()
    if not stray:
        return found
    other = {"before": "after", "after": "before"}
    moved, fewer = told([(other[s] if t.name in stray else s, t) for s, t in trips])
    odds = moved.judgement.evidence - found.judgement.evidence + len(stray) * np.log(MISFILED)
    # a gear met again where the other period has it is not counted there anew
    odds += (gears - fewer) * np.log(1 / (np.sqrt(4 * np.pi) * PLACE_ERROR))
    likely, rival = (moved, found) if odds > 0 else (found, moved)
    change = rival.judgement.change.value
    if (
        abs(odds) < np.log(1 / MIN_RIVAL)
        and abs(change - likely.judgement.change.value) > SAME_CHANGE
    ):
        return replace(likely, rivals=(*likely.rivals, change))
    return likely


def _identified(
    declared: Declared,
    source: str,
    sides: Sequence[str],
    periods: list[PeriodGears],
    slip: float,
    contrast_error: ContrastError,
) -> Identification:
    numbers = [0 if side == "before" else 1 for side in sides]
    if source == "engine":
        expected = np.array([_expected(declared, k) for k in numbers])
        found = links(periods, declared, expected, _hints(periods, expected))
        best = max(link.log_likelihood for link in found)
        found = [link for link in found if link.log_likelihood > best - MIN_LIKELIHOOD]
    else:
        found = [_direct(periods)]
    counts = [_count(periods, one, contrast_error) for one in found]
    judgement = judge(declared, found, numbers, counts)
    best_one = judgement.best
    link = found[best_one.link]
    named = link.named and (source != "engine" or _naming_sure(judgement, found, link))
    level = _levels(judgement, link, named=named)
    if source == "engine":
        gears = _gears(periods, link, level, declared, named=named)
    else:
        gears = _declared_gears(declared, {})
    at = dict(zip(sides, level.tolist(), strict=True))
    return Identification(
        declared=declared,
        judgement=judgement,
        source=source,
        trips=_by_trip(periods, level, gears),
        gears=gears,
        named=named,
        level=by_side(lambda side: at.get(side)),
        slip=slip,
        link_error=_link_error(judgement, link),
        rivals=_rivals(judgement),
        ratios_fit=_ratios_fit(declared, judgement, found) if source == "engine" else None,
        ratio_offsets=_ratio_offsets(periods, link),
        undeclared=_undeclared(declared, periods, link, level) if named else (),
    )


def _expected(declared: Declared, number: int) -> float:
    """log_axle_turns of a period as declared, NaN where it is not."""
    side = SIDES[number]
    axle = declared.axle.of(side)
    tire = declared.published.of(side) or declared.size.of(side)
    return axle.log - tire.log if axle and tire else float("nan")


def _hints(periods: list[PeriodGears], expected: Array) -> Array:
    """Changes of log_axle_turns that the odometer factor and the declarations suggest."""
    if len(periods) < 2:
        return np.empty(0)
    settings = [s[np.isfinite(s)] for s in (_settings(p) for p in periods)]
    hints = [float(expected[1] - expected[0]), 0.0]
    if all(len(s) for s in settings):
        hints.append(float(np.median(settings[0]) - np.median(settings[1])))
    return np.array([h for h in hints if np.isfinite(h)])


def _settings(period: PeriodGears) -> Array:
    """ln of what the computer counts with, by trip, against the period's usual level: the
    odometer factor with the tires taken out."""
    factor = np.array([np.nan if t.log_factor is None else t.log_factor for t in period.trips])
    return np.asarray(factor + period.level)


def _count(periods: list[PeriodGears], link: Link, contrast_error: ContrastError) -> Count | None:
    """How far the odometer factor moved on trips whose computer counts as before under a link."""
    if len(periods) < 2:
        return None
    settings = [_settings(p) for p in periods]
    known = [np.isfinite(s) for s in settings]
    if not all(k.any() for k in known):
        return None
    before, after = (s[k] for s, k in zip(settings, known, strict=True))
    names = [np.array([t.name for t in p.trips])[k] for p, k in zip(periods, known, strict=True)]
    reference = float(np.median(before))
    same = np.abs(after + link.change - reference) < SAME_SETTING
    if np.mean(same) < MIN_BEARING_OUT:
        same = np.ones(len(after), dtype=bool)
    moved = float(np.median(after[same])) - reference
    return Count(moved, contrast_error(names[1][same].tolist(), names[0].tolist()))


def _direct(periods: list[PeriodGears]) -> Link:
    """The link of output-shaft speed, which knows no gears."""
    level = np.array([float(p.log_ratio[0]) for p in periods])
    error = np.array([float(np.hypot(p.error[0], PLACE_ERROR)) for p in periods])
    gears = tuple(np.where(np.arange(len(p.log_ratio)) == 0, 0, 1) for p in periods)
    return Link(True, gears, level, np.diag(error**2), np.zeros((len(level),) * 2), 0.0)


def _naming_sure(judgement: Judgement, found: list[Link], link: Link) -> bool:
    """Whether nine tenths of the weight lay the clusters on the same declared gears."""

    def alike(one: Link) -> bool:
        """Whether a link lays every cluster on the same declared gear as the one asked about."""
        pairs = zip(one.gears, link.gears, strict=True)
        return one.named and all(np.array_equal(a, b) for a, b in pairs)

    same = [alike(one) for one in found]
    return sum(h.weight for h in judgement.hypotheses if same[h.link]) > MIN_SURE


def _levels(judgement: Judgement, link: Link, *, named: bool) -> Array:
    """log_axle_turns of each period at its usual level, by the likeliest reading: as the clusters
    stand, unless they share too little to tell."""
    level = link.level
    if len(level) == 2 and _structural(link) >= MEASURED:
        level = np.array([one.value for one in judgement.level])
    return np.asarray(level if named else level - level[0])


def _structural(link: Link) -> float:
    """Standard error of the change that no driving takes away."""
    row = np.array([-1.0, 1.0])
    return float(np.sqrt(max(row @ link.structural @ row, 0.0)))


def _gears(
    periods: list[PeriodGears], link: Link, level: Array, declared: Declared, *, named: bool
) -> tuple[Gear, ...]:
    """Declared gears where named, else those found, lowest gear first."""
    gear = np.concatenate(link.gears)
    value = np.concatenate([p.log_ratio - s for p, s in zip(periods, level, strict=True)])
    weight = np.concatenate([p.share for p in periods])
    place = {
        int(g): float(np.average(value[gear == g], weights=weight[gear == g]))
        for g in np.unique(gear)
    }
    if named:
        return _declared_gears(declared, place)
    ordered = sorted(place, key=lambda g: -place[g])
    return tuple(Gear(i + 1, None, place[g]) for i, g in enumerate(ordered))


def _declared_gears(declared: Declared, place: Mapping[int, float]) -> tuple[Gear, ...]:
    """The declared gears at the places found, where they were driven, else as declared."""
    return tuple(
        Gear(g + 1, float(np.exp(ratio)), place.get(g, float(ratio)))
        for g, ratio in enumerate(declared.ratios)
    )


def _by_trip(
    periods: list[PeriodGears], level: Array, gears: tuple[Gear, ...]
) -> dict[str, TripGearing]:
    places = np.array([gear.log_ratio for gear in gears])
    found = {}
    for period, base in zip(periods, level, strict=True):
        for i, trip in enumerate(period.trips):
            if not np.isfinite(period.level[i]):
                continue
            own = float(base + period.level[i])
            found[trip.name] = TripGearing(
                own,
                float(period.level_error[i]),
                float(period.distance_m[i]),
                float(period.force[i]),
                _numbers(trip.engine - own, places),
            )
    return found


def _numbers(log_ratio: Array, places: Array) -> tuple[int, ...]:
    """Number of the gear each log ratio is, 0 where it is none."""
    if len(places) == 0:
        return (0,) * len(log_ratio)
    off = np.abs(log_ratio[:, None] - places[None, :])
    return tuple(np.where(off.min(axis=1) < SAME_GEAR, off.argmin(axis=1) + 1, 0).tolist())


def _link_error(judgement: Judgement, link: Link) -> float:
    """What the likeliest reading leaves open of the change beyond a gear's place in a period."""
    if len(link.level) < 2:
        return 0.0
    return float(np.sqrt(max(float(judgement.change.sd[0]) ** 2 - 2 * PLACE_ERROR**2, 0.0)))


def _rivals(judgement: Judgement) -> tuple[float, ...]:
    """Other changes of log_axle_turns that hold a fortieth of the weight or more together."""
    best = judgement.change.value
    mean, weight = judgement.change.mean, judgement.change.weight
    width = np.maximum(SAME_CHANGE, 3 * (judgement.change.sd + judgement.change.sd[0]))
    apart = np.abs(mean - best) > width
    if float(weight[apart].sum()) < MIN_RIVAL:
        return ()
    kept: list[float] = []
    for i in np.flatnonzero(apart & (weight > MIN_RIVAL / 5)).tolist():
        if all(abs(mean[i] - other) > SAME_CHANGE for other in kept):
            kept.append(float(mean[i]))
    return tuple(kept)


def _ratios_fit(declared: Declared, judgement: Judgement, found: list[Link]) -> bool | None:
    """Whether the clusters fall on the declared ratios; None where there are none, or nobody can
    tell."""
    if not len(declared.ratios):
        return None
    on = sum(h.weight for h in judgement.hypotheses if found[h.link].named)
    return None if MIN_SURE > on > 1 - MIN_SURE else on >= MIN_SURE


def _undeclared(
    declared: Declared, periods: list[PeriodGears], link: Link, level: Array
) -> tuple[float, ...]:
    """Ratios of much road that are none of the declared, nor one with a converter slipping."""
    count = len(declared.ratios)
    found: list[float] = []
    for period, own, base in zip(periods, link.gears, level, strict=True):
        for j in np.flatnonzero((own >= count) & (period.share > MUCH)).tolist():
            over = period.log_ratio[j] - base - declared.ratios
            if not ((over > -SAME_GEAR) & (over < MAX_SLIPPING)).any():
                found.append(float(np.exp(period.log_ratio[j] - base)))
    return tuple(sorted(found))


def _ratio_offsets(periods: list[PeriodGears], link: Link) -> dict[int, float]:
    """By gear number, how far its log ratio moved between the periods against the levels."""
    if len(periods) < 2:
        return {}
    before, after = (
        {int(g): float(v - s) for g, v in zip(own, p.log_ratio, strict=True)}
        for p, own, s in zip(periods, link.gears, link.level, strict=True)
    )
    return {g + 1: after[g] - before[g] for g in sorted(before.keys() & after.keys())}
