"""Ways to tell one period's gears from the other's: which cluster is which gear.

A link lays the clusters of both periods onto gears at once, either onto the declared ratios (a
naming) or onto gears of unknown ratio that the periods share. Each link comes with what it says
of log_axle_turns of the two periods, a Gaussian, and how well the clusters fit it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gearing.analysis.identification.declared import Declared
from gearing.analysis.identification.gear_fit import PeriodGears
from gearing.statistics.arrays import Array, Index

# of one gear's place in one period: slip, growth with speed, warmth beyond the trips' own scatter
PLACE_ERROR, SELDOM_ERROR = 4e-4, 6e-3
MAX_CHANGE = 0.40  # of log_axle_turns, tires and axle together
MAX_OFF_DECLARED = 0.45
SAME_LEVEL = 0.003
# ratios of another gearbox; a cluster that no declared ratio explains (a converter that slips, a
# ratio mistyped), of little road or of more; spread of an unknown ratio's log
WRONG_RATIOS, STRAY, STRAY_OF_MUCH, ANY_RATIO = 0.02, 0.2, 0.05, 1.0
MUCH = 0.1
NEAR_ERRORS, MIN_NEAR = 4.0, 0.004
# weight of gears used in one period alone, per unit of road shares that differ
USE_WEIGHT = 3.0
MAX_NAMINGS = 8


@dataclass(frozen=True, slots=True)
class Link:
    """`gears` of each period's clusters (numbers of declared ratios from 0, or of found gears;
    beyond the declared ones: on no declared ratio). `level` of log_axle_turns in each period
    there is, its `covariance`, and the part of it that no amount of driving takes away.
    `log_likelihood` of the clusters at that level, priors of the link included."""

    named: bool
    gears: tuple[Index, ...]
    level: Array
    covariance: Array
    structural: Array
    log_likelihood: float

    @property
    def change(self) -> float:
        """Of log_axle_turns, after less before."""
        return float(self.level[1] - self.level[0])


def links(
    periods: Sequence[PeriodGears], declared: Declared, expected: Array, change_hints: Array
) -> list[Link]:
    """All links worth weighing. `expected`: log_axle_turns of each period as declared (NaN where
    not); `change_hints`: changes of it that other evidence suggests."""
    found: list[Link] = []
    if len(declared.ratios):
        namings = [_namings(p, declared, float(e)) for p, e in zip(periods, expected, strict=True)]
        named = {
            tuple(map(tuple, link.gears)): link
            for levels in _pairs(namings)
            if (link := _named(periods, declared, levels)) is not None
        }
        found += named.values()
    free_prior = np.log(WRONG_RATIOS) if len(declared.ratios) else 0.0
    # changes that lay the clusters alike are one link
    free = {
        tuple(map(tuple, link.gears)): link
        for change in _changes(periods, change_hints)
        if (link := _free(periods, change, float(free_prior)))
    }
    found += free.values()
    return found


def _pairs(namings: list[list[float]]) -> list[tuple[float, ...]]:
    if len(namings) == 1:
        return [(level,) for level in namings[0]]
    return [(b, a) for b in namings[0] for a in namings[1] if abs(a - b) < MAX_CHANGE]


def _namings(period: PeriodGears, declared: Declared, expected: float) -> list[float]:
    """Levels at which a period's clusters fall on declared ratios, the likeliest few."""
    levels = (period.log_ratio[:, None] - declared.ratios[None, :]).ravel()
    if np.isfinite(expected):
        levels = levels[np.abs(levels - expected) < MAX_OFF_DECLARED]
    if len(levels) == 0:
        return []
    off = period.log_ratio[None, :, None] - declared.ratios[None, None, :] - levels[:, None, None]
    sd = np.hypot(declared.ratio_errors, PLACE_ERROR + 0.001)
    fit = np.exp(-0.5 * (off / sd) ** 2) / sd
    score = np.log(fit.max(axis=2) + STRAY_OF_MUCH).sum(axis=1)
    kept: list[float] = []
    for i in np.argsort(-score):
        if score[i] < score.max() - 25 or len(kept) >= MAX_NAMINGS:
            break
        if all(abs(levels[i] - level) > SAME_LEVEL for level in kept):
            kept.append(float(levels[i]))
    return kept


def _changes(periods: Sequence[PeriodGears], hints: Array) -> list[float]:
    if len(periods) == 1:
        return [0.0]
    pairs = (periods[1].log_ratio[:, None] - periods[0].log_ratio[None, :]).ravel()
    kept: list[float] = []
    for change in [*pairs[np.abs(pairs) < MAX_CHANGE].tolist(), *hints.tolist()]:
        if all(abs(change - other) > SAME_LEVEL for other in kept):
            kept.append(change)
    return kept


def _named(
    periods: Sequence[PeriodGears], declared: Declared, levels: tuple[float, ...]
) -> Link | None:
    count = len(declared.ratios)
    near = np.maximum(NEAR_ERRORS * np.hypot(declared.ratio_errors, 0.001), MIN_NEAR)
    gears, extra, share = [], np.empty(0), np.empty(0)
    for period, level in zip(periods, levels, strict=True):
        off = np.abs(period.log_ratio[:, None] - level - declared.ratios[None, :])
        gear = off.argmin(axis=1)
        best = np.array([off[gear == g, g].min(initial=np.inf) for g in range(count)])
        on = (off.min(axis=1) < near[gear]) & (off.min(axis=1) <= best[gear])
        own = gear.copy()
        for j in np.flatnonzero(~on).tolist():
            place = period.log_ratio[j] - level
            match = np.flatnonzero(np.abs(extra - place) < 0.01)
            if len(match) == 0:
                extra, share = np.append(extra, place), np.append(share, 0.0)
                match = np.array([len(extra) - 1])
            own[j] = count + match[0]
            share[match[0]] = max(share[match[0]], period.share[j])
        gears.append(own)
    if not any((own < count).any() for own in gears):
        return None
    ratios = np.concatenate((declared.ratios, np.zeros(len(extra))))
    errors = np.concatenate((declared.ratio_errors, np.full(len(extra), ANY_RATIO)))
    prior = float(np.log(np.where(share < MUCH, STRAY, STRAY_OF_MUCH)).sum())
    return _link(periods, gears, ratios, errors, prior, named=True)


def _free(periods: Sequence[PeriodGears], change: float, prior: float) -> Link:
    places = periods[0].log_ratio.copy()
    gears = [np.arange(len(places))]
    for period in periods[1:]:
        place = period.log_ratio - change
        off = np.abs(place[:, None] - places[None, :])
        own = off.argmin(axis=1)
        best = np.array([off[own == g, g].min(initial=np.inf) for g in range(len(places))])
        new = (off.min(axis=1) > 0.01) | (off.min(axis=1) > best[own])
        own[new] = len(places) + np.arange(np.count_nonzero(new))
        places = np.concatenate((places, place[new]))
        gears.append(own)
    count = len(places)
    return _link(periods, gears, np.zeros(count), np.full(count, ANY_RATIO), prior, named=False)


def _link(
    periods: Sequence[PeriodGears],
    gears: list[Index],
    ratios: Array,
    errors: Array,
    prior: float,
    *,
    named: bool,
) -> Link:
    """Level of each period by generalized least squares: gears of one ratio share its error."""
    gear = np.concatenate(gears)
    value = np.concatenate([p.log_ratio for p in periods]) - ratios[gear]
    noise = np.concatenate([_place_error(p) for p in periods])
    design = np.repeat(np.eye(len(periods)), [len(own) for own in gears], axis=0)
    shared = np.where(gear[:, None] == gear[None, :], errors[gear][None, :] ** 2, 0.0)
    level, covariance, fit = _least_squares(value, design, shared + np.diag(noise**2))
    structural = _least_squares(value, design, shared + np.diag(np.full(len(noise), 1e-10)))[1]
    return Link(
        named, tuple(gears), level, covariance, structural,
        fit + prior - USE_WEIGHT * _use_distance(periods, gears),
    )  # fmt: skip


def _place_error(period: PeriodGears) -> Array:
    """Of each gear's place: more where little road was driven in it, for then a converter that
    slips, or engine speed between two gears, is a part of it."""
    little = SELDOM_ERROR * np.maximum(1 - period.share / MUCH, 0.0)
    return np.asarray(np.sqrt(period.error**2 + PLACE_ERROR**2 + little**2))


def _least_squares(value: Array, design: Array, covariance: Array) -> tuple[Array, Array, float]:
    """Estimate, its covariance, and log of N(value; design @ s, covariance) over
    N(estimate; s, its covariance), which no s changes."""
    solved = np.linalg.solve(covariance, np.column_stack((design, value)))
    of_level = np.linalg.inv(design.T @ solved[:, :-1])
    level = of_level @ (design.T @ solved[:, -1])
    rest = value - design @ level
    square = float(rest @ np.linalg.solve(covariance, rest))
    size = len(value) - design.shape[1]
    volume = np.linalg.slogdet(covariance)[1] - np.linalg.slogdet(of_level)[1]
    return level, of_level, float(-0.5 * (square + size * np.log(2 * np.pi) + volume))


def _use_distance(periods: Sequence[PeriodGears], gears: list[Index]) -> float:
    """How differently the periods use the gears, 0 alike to 1 (total variation of road shares)."""
    if len(periods) < 2:
        return 0.0
    count = max(int(own.max()) for own in gears) + 1
    shares = [np.bincount(own, p.share, count) for p, own in zip(periods, gears, strict=True)]
    return 0.5 * float(np.abs(shares[0] - shares[1]).sum())
