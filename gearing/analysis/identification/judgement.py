"""Tires, axle, gears and computer judged together, before any answer.

Every reading of the study is one hypothesis: a link (which cluster is which gear, in both
periods), what the computer counts with, and which declared figures, two at most, are plainly
wrong. Under each the logs of axle ratios and rolling circumferences have a Gaussian posterior and
the evidence a likelihood in closed form; together they are a mixture. The gap to the next reading
decides: where two are nearly as likely, the interval covers both.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gearing.analysis.identification.declared import Declared, Figure
from gearing.analysis.identification.links import Link
from gearing.analysis.sides import SIDES
from gearing.statistics.arrays import Array
from gearing.statistics.mixture import Mixture

# logs of: axle ratio before, its change, rolling circumference before, after
PARAMETERS = 4
OF_CHANGE = np.array([0.0, 1.0, 1.0, -1.0])  # of log_axle_turns, in those
# common practice, no source: how far off a figure is that is plainly wrong, and how often
WRONG = {
    "axle": 0.03, "axle change": 0.02, "size": 0.03, "published": 0.03, "swapped": 0.02,
    # both alike: another rim in both sizes, both figures from a sheet of other tires
    "sizes": 0.02, "published figures": 0.02,
}  # fmt: skip
WRONG_AXLE, WRONG_TIRE = 0.12, 0.1
# of what is not declared at all: any axle; any tire of a heavy vehicle, and a change of it
ANY_AXLE = (float(np.log(4.3)), 0.35)
ANY_TIRE, ANY_TIRE_CHANGE = (float(np.log(2.9)), 0.15), 0.05
SAME_AXLE = 1e-6
# of the odometer factor's change against the tires': growth with speed, steer tires' warmth
COUNT_ERROR = 1.2e-3
# P(counts at the driveline with one setting, P(at the wheels with one setting)), by declaration
COUNTING = {
    "output shaft": (0.75, 0.05),
    "drive wheels": (0.15, 0.65),
    "front wheels": (0.10, 0.05),
    "unknown": (0.50, 0.15),
}
# a computer reprogrammed or fed by a receiver keeps its factor, or has any
KEPT_FACTOR, ANY_FACTOR = 0.003, 0.06
SURE_WRONG, NAMED = 0.5, 0.2
SAME_CHANGE, MIN_RIVAL = 0.003, 0.025
MAX_COMPONENTS = 400


@dataclass(frozen=True, slots=True)
class Count:
    """How far the log of the odometer factor moved, after less before, and the standard error of
    measuring it."""

    moved: float
    error: float


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One reading: the number of its link, whether the computer counts the same ("driveline",
    "wheels", "otherwise"), and the declarations that are wrong in it."""

    link: int
    counting: str
    wrong: tuple[str, ...]
    weight: float


@dataclass(frozen=True, slots=True)
class Judgement:
    """`change` of log_axle_turns (after less before), `axle` and `circumference` in logs, each a
    mixture over `hypotheses`, the likeliest first. `wrong`: probability by study key that a
    declaration is plainly wrong. `evidence`: log of the likelihood of what was seen."""

    hypotheses: tuple[Hypothesis, ...]
    change: Mixture
    level: tuple[Mixture, Mixture]
    axle: tuple[Mixture, Mixture]
    circumference: tuple[Mixture, Mixture]
    wrong: dict[str, float]
    evidence: float = 0.0

    @property
    def best(self) -> Hypothesis:
        """The likeliest hypothesis."""
        return self.hypotheses[0]

    def chance(self, wrong: str) -> float:
        """Probability that this declaration ("axle", "size after", "swapped", ...) is wrong."""
        return sum(h.weight for h in self.hypotheses if wrong in h.wrong)

    @property
    def contradicted(self) -> tuple[str, ...]:
        """Study keys that do not fit, where some declaration is more likely wrong than not."""
        right = sum(h.weight for h in self.hypotheses if not h.wrong)
        if right >= 1 - SURE_WRONG:
            return ()
        return tuple(key for key, p in self.wrong.items() if p > NAMED)


def judge(
    declared: Declared, links: Sequence[Link], periods: Sequence[int], count: Sequence[Count | None]
) -> Judgement:
    """The judgement.

    Parameters
    ----------
    links
        of the gears; none where no engine or shaft speed is known.
    periods
        which periods (0 before, 1 after) the links' levels are of.
    count
        for each link how far the odometer factor moved on the trips that bear the link out, None
        where none does.
    """
    switches = _switches(declared)
    priors = [_prior(declared, wrong) for wrong in switches]
    mean = np.stack([one[0] for one in priors])
    covariance = np.stack([one[1] for one in priors])
    odds = np.array([_log_odds(w) + one[2] for w, one in zip(switches, priors, strict=True)])
    tags: list[tuple[int, str, tuple[str, ...]]]
    tags = [(-1, "otherwise", wrong) for wrong in switches]
    if not links:
        return _mixed(tags, odds, mean, covariance, declared)
    tags, scores, means, covariances = [], [], [], []
    for number, link in enumerate(links):
        for counting, prior, design, value, error in _observed(
            declared, link, periods, count[number]
        ):
            fit, updated, left = _update(mean, covariance, design, value, error)
            left *= _tension(link, updated, left)[:, None, None]
            tags += [(number, counting, wrong) for wrong in switches]
            scores.append(link.log_likelihood + prior + odds + fit)
            means.append(updated)
            covariances.append(left)
    every = (np.concatenate(scores), np.concatenate(means), np.concatenate(covariances))
    return _mixed(tags, *every, declared)


def _tension(link: Link, mean: Array, covariance: Array) -> Array:
    """By what the variance of each posterior grows because the gears and all else tell the change
    differently: Birge's ratio (Phys. Rev. 40, 1932), the square of their distance over its
    variance where that is above 1; shape (n,)."""
    if len(link.level) < 2:
        return np.ones(len(mean))
    left = np.einsum("i,kij,j->k", OF_CHANGE, covariance, OF_CHANGE)
    own = float(np.array([-1.0, 1.0]) @ link.covariance @ np.array([-1.0, 1.0]))
    apart = (mean @ OF_CHANGE - link.change) ** 2
    return np.maximum(np.where(left < 0.99 * own, apart / np.maximum(own - left, 1e-12), 1.0), 1.0)


def _mixed(
    tags: list[tuple[int, str, tuple[str, ...]]],
    scores: Array,
    means: Array,
    covariances: Array,
    declared: Declared,
) -> Judgement:
    order = np.argsort(-scores, kind="stable")[:MAX_COMPONENTS]
    weight = np.exp(scores[order] - scores[order[0]])
    weight /= weight.sum()
    mean, covariance = means[order], covariances[order]
    hypotheses = tuple(
        Hypothesis(link=tags[i][0], counting=tags[i][1], wrong=tags[i][2], weight=float(w))
        for i, w in zip(order.tolist(), weight, strict=True)
    )

    def of(*row: float) -> Mixture:
        """A linear combination of the unknowns, `row` its coefficients, over all hypotheses."""
        f = np.array(row)
        return Mixture(weight, mean @ f, np.sqrt(np.einsum("i,kij,j->k", f, covariance, f)))

    wrong: dict[str, float] = {}
    for h in hypotheses:
        for key in {key for name in h.wrong for key in _keys(declared, name)}:
            wrong[key] = wrong.get(key, 0.0) + h.weight
    return Judgement(
        hypotheses,
        of(*OF_CHANGE),
        (of(1, 0, -1, 0), of(1, 1, 0, -1)),
        (of(1, 0, 0, 0), of(1, 1, 0, 0)),
        (of(0, 0, 1, 0), of(0, 0, 0, 1)),
        wrong,
        float(np.logaddexp.reduce(scores)),
    )


def _switches(declared: Declared) -> list[tuple[str, ...]]:
    """Sets of declarations that may be plainly wrong together, two at most."""
    names = ["axle", "axle change"] if declared.axle.before or declared.axle.after else []
    for side in ("before", "after"):
        names += [f"size {side}"] if declared.size.of(side) else []
        names += [f"published {side}"] if declared.published.of(side) else []
    if declared.size.before and declared.size.after:
        names += ["swapped", "sizes"]
    if declared.published.before and declared.published.after:
        names.append("published figures")
    return [(), *((n,) for n in names), *itertools.combinations(names, 2)]


def _log_odds(wrong: tuple[str, ...]) -> float:
    return float(sum(np.log(WRONG[name.removesuffix(" before").removesuffix(" after")])
                     for name in wrong))  # fmt: skip


def _keys(declared: Declared, name: str) -> tuple[str, ...]:
    """The study keys that a wrong declaration is about."""
    if name == "swapped":
        return ("before", "after")
    if name == "axle change":
        return ("after.axle_ratio",)
    if name == "axle":
        axle = declared.axle.before or declared.axle.after
        return (axle.key,) if axle else ()
    return tuple(figure.key for _, figure in tire_figures(declared, name) if figure)


def tire_figures(declared: Declared, name: str) -> tuple[tuple[str, Figure | None], ...]:
    """The sides and figures that a wrong declaration of tires is about: of one side ("size after"),
    or of both ("sizes", "published figures")."""
    of = declared.size if name.startswith("size") else declared.published
    side = name.rpartition(" ")[2]
    return tuple((one, of.of(one)) for one in (SIDES if side not in SIDES else (side,)))


def _prior(declared: Declared, wrong: tuple[str, ...]) -> tuple[Array, Array, float]:
    """Mean and covariance of the four parameters by the declarations, those `wrong` set free, and
    the log likelihood that sizes and published figures differ as they do."""
    mean, covariance = np.zeros(PARAMETERS), np.zeros((PARAMETERS, PARAMETERS))
    axle, after = declared.axle.before or declared.axle.after, declared.axle.after
    mean[0], spread = (axle.log, axle.error) if axle else ANY_AXLE
    covariance[0, 0] = spread**2 + (WRONG_AXLE**2 if "axle" in wrong else 0.0)
    covariance[1, 1] = SAME_AXLE**2
    if declared.own_axle and axle and after:
        mean[1] = after.log - axle.log
        covariance[1, 1] += after.error**2
    if "axle change" in wrong:
        covariance[1, 1] += WRONG_AXLE**2
    mean[2:], covariance[2:, 2:], agree = _tires(declared, wrong)
    return mean, covariance, agree


def _tires(declared: Declared, wrong: tuple[str, ...]) -> tuple[Array, Array, float]:
    """ln of both circumferences, their covariance, and the log likelihood of the published figures
    given the sizes."""
    sides = ("after", "before") if "swapped" in wrong else ("before", "after")
    sizes, published = (
        [figures.of(side) for side in sides] for figures in (declared.size, declared.published)
    )
    near = next((one.log for one in (*sizes, *published) if one), ANY_TIRE[0])
    mean, covariance = np.full(2, near), np.zeros((2, 2))
    for k, (side, size, figure) in enumerate(zip(sides, sizes, published, strict=True)):
        if size is not None:
            mean[k] = size.log
            covariance[k, k] = size.error**2 + _loose(f"size {side}", wrong)
        elif figure is not None:
            mean[k], covariance[k, k] = figure.log, ANY_TIRE[1] ** 2
    for k in (0, 1):  # a tire of which nothing is declared is near the other
        if sizes[k] is None and published[k] is None:
            spread = covariance[1 - k, 1 - k] or ANY_TIRE[1] ** 2
            covariance[:] = spread
            covariance[k, k] += ANY_TIRE_CHANGE**2
    covariance += _loose("sizes", wrong)
    known = [k for k in (0, 1) if published[k] is not None]
    if not known:
        return mean, covariance, 0.0
    told = [figure for figure in published if figure is not None]
    error = np.diag(
        [
            f.error**2 + _loose(f"published {sides[k]}", wrong)
            for k, f in zip(known, told, strict=True)
        ]
    ) + _loose("published figures", wrong)
    fit, updated, left = _update(
        mean[None], covariance[None], np.eye(2)[known], np.array([f.log for f in told]), error
    )
    return updated[0], left[0], float(fit[0])


def _loose(name: str, wrong: tuple[str, ...]) -> float:
    """Variance that a plainly wrong declaration of a tire adds."""
    return WRONG_TIRE**2 if name in wrong else 0.0


def _observed(
    declared: Declared, link: Link, periods: Sequence[int], count: Count | None
) -> list[tuple[str, float, Array, Array, Array]]:
    """For each way the computer may count: name, log prior and likelihood of what no parameter
    touches, and the observations' design, values and covariance."""
    rows = {0: (1.0, 0.0, -1.0, 0.0), 1: (1.0, 1.0, 0.0, -1.0)}
    design = np.array([rows[p] for p in periods])
    if len(periods) < 2:
        return [("otherwise", 0.0, design, link.level, link.covariance)]
    driveline, wheels = COUNTING[declared.speed_source]
    if count is None:
        return [("otherwise", 0.0, design, link.level, link.covariance)]
    kept, other = (float(np.hypot(sd, count.error)) for sd in (KEPT_FACTOR, ANY_FACTOR))
    broad = 0.5 * _normal(count.moved, kept) + 0.5 * _normal(count.moved, other)
    rest = float(np.log((1 - driveline - wheels) * broad))
    found = [("otherwise", rest, design, link.level, link.covariance)]
    value = np.append(link.level, count.moved)
    covariance = np.zeros((3, 3))
    covariance[:2, :2] = link.covariance
    covariance[2, 2] = COUNT_ERROR**2 + count.error**2
    for name, share, row in (
        ("driveline", driveline, (0.0, -1.0, -1.0, 1.0)),
        ("wheels", wheels, (0.0, 0.0, -1.0, 1.0)),
    ):
        found.append((name, float(np.log(share)), np.vstack((design, row)), value, covariance))
    return found


def _normal(value: float, sd: float) -> float:
    return float(np.exp(-0.5 * (value / sd) ** 2) / (sd * np.sqrt(2 * np.pi)))


def _update(
    mean: Array, covariance: Array, design: Array, value: Array, error: Array
) -> tuple[Array, Array, Array]:
    """Log evidence of the observations, and mean and covariance given them, for each of several
    priors: shapes (n,), (n, parameters), (n, parameters, parameters)."""
    both = covariance @ design.T
    seen = design @ both + error
    rest = value - mean @ design.T
    gain = np.linalg.solve(seen, np.swapaxes(both, 1, 2)).swapaxes(1, 2)
    square = np.einsum("ni,ni->n", rest, np.linalg.solve(seen, rest[..., None])[..., 0])
    size = np.linalg.slogdet(seen)[1] + len(value) * np.log(2 * np.pi)
    return (
        -0.5 * (square + size),
        mean + np.einsum("nij,nj->ni", gain, rest),
        covariance - gain @ np.swapaxes(both, 1, 2),
    )
