"""What tanks alone tell of a change: a level, the change, the year's wave, and noise.

A tank's logarithm of consumption is the level, the change on the new tires, the season, and noise
of its own driving. How full "full" was is an error that two neighbouring tanks share with opposite
signs: what one fill takes too much is missing in the next. So the error of filling shows in how
tanks alternate, and is told apart from what the driving did.

Sources. The season's range: fuel per distance falls by 0.15 to 0.55 % for each degree the air is
warmer (rolling resistance 0.2 to 0.9 %/K by ISO 28580 and ISO 18164, over a third to a half of the
wheels' work; air density 1/T over about a third; from memory), and at 40 to 55 degrees of latitude
the monthly mean swings 8 (coast) to 20 K (inland) to either side of the year's (Paris 16, Winnipeg
39 K from end to end: geography handbooks). With every value of both alike likely the product is
4.7 %, with a deviation of 2.1. Fuel sold in winter holds less energy by 1.25 %, give or take as
much (15 to 50 % of No. 1 diesel, which holds 5 % less), half of which is the wave's: 5 % to either
side in all, as fleets see it (8 to 12 % from summer to winter, trade press). The rest is common
practice, no source.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np

from gearing.statistics.arrays import Array
from gearing.statistics.linear_posterior import (
    LinearPosterior,
    Scale,
    Shape,
    linear_posterior,
    planned_deviation,
)

YEAR_S = 365.2425 * 86_400
SCATTER = Scale(0.025, 0.6)  # of one tank in logarithms: 1 to 8 % in 95 of 100 vehicles
# how long what the driving is like lasts [s], and how likely each is beforehand
_LASTS = ((0.0, 0.35), (10 * 86_400.0, 0.25), (40 * 86_400.0, 0.25), (120 * 86_400.0, 0.15))
_FILLING = (0.0, 0.2, 0.4, 0.6, 0.8, 0.95)  # share of the scatter's variance that is filling
# each form of the noise: how long driving lasts [s], share of filling, weight beforehand
_KINDS = tuple(
    (lasts, filling, weight / len(_FILLING))
    for (lasts, weight), filling in itertools.product(_LASTS, _FILLING)
)
_BY_LENGTH = 0.5  # share of the driving's variance that a longer tank evens out
# of the wave along the coldest day, across it, and of the half-yearly one: mean and deviation
_WAVE = ((0.05, 0.021), (0.0, 0.012), (0.0, 0.007), (0.0, 0.007))
# nobody knows when it is cold: either hemisphere, or neither
_ANY_WAVE = ((0.0, 0.04), (0.0, 0.04), (0.0, 0.007), (0.0, 0.007))
# with the temperature of each tank known, what the season's fuel, heater and air conditioning leave
_WAVE_LEFT = ((0.006, 0.008), (0.0, 0.005), (0.0, 0.004), (0.0, 0.004))
PER_KELVIN = (-0.0035, 0.0012)  # of ln consumption, mean and deviation
MAX_TANKS = 320  # beyond, neighbours are taken together: a matrix of all would be slow


@dataclass(frozen=True, slots=True)
class TankUnits:
    """Tanks in order of time, one entry each: begin and end [s since 1970], whether on the new
    tires (1 or 0), true way [m], volume [L], and whether it begins with the fill that ended the
    one before."""

    start_s: Array
    end_s: Array
    after: Array
    distance_m: Array
    volume_l: Array
    follows: Array

    @property
    def count(self) -> int:
        """How many."""
        return len(self.after)

    @property
    def log_rate(self) -> Array:
        """Logarithm of each one's consumption [L/m]."""
        return np.asarray(np.log(self.volume_l / self.distance_m))


@dataclass(frozen=True, slots=True)
class Climate:
    """`coldest_s`: a moment of the coldest day of a year [s since 1970], None where nobody knows
    where the vehicle is; `temperature_c` of each tank where a weather file tells it."""

    coldest_s: float | None
    temperature_c: Array | None = None


@dataclass(frozen=True, slots=True)
class TankPosterior:
    """The posterior, and what is needed to read it."""

    posterior: LinearPosterior
    units: TankUnits
    design: Array
    deviations: Array
    climate: Climate
    shared_error: float

    @property
    def change_contrast(self) -> Array:
        """Which of the coefficients is the change of ln consumption: 1, the others 0."""
        return np.asarray(np.eye(self.design.shape[1])[1])

    @property
    def filling_error_l(self) -> float:
        """Standard deviation of how full one fill is [L]; a tank has the error of two."""
        share = np.array([_KINDS[int(n)][1] for n in self.posterior.shape])
        weight = self.posterior.weight
        relative = float(np.sum(weight * self.posterior.sigma * np.sqrt(share / 2)))
        return relative * float(np.median(self.units.volume_l))

    @property
    def season_percent(self) -> float:
        """What the seasons by themselves made of the plain comparison [%]."""
        mean = self.posterior.weight @ self.posterior.mean
        wave = self.design[:, 2:] @ mean[2:]
        late = self.units.after > 0
        return 100 * math.expm1(float(wave[late].mean() - wave[~late].mean()))


def fit_tanks(units: TankUnits, climate: Climate, shared_error: float) -> TankPosterior:
    """The change between two runs of tanks.

    `shared_error`: of ln of the after side's way against the before side's, with whatever else
    of the driving no further tank takes away.

    Raises
    ------
    ValueError
        under two tanks on a side.
    """
    late = units.after > 0
    if min(int(late.sum()), int((~late).sum())) < 2:
        raise ValueError("each side needs at least two tanks")
    design, means, deviations = _design(units, climate)
    posterior = linear_posterior(units.log_rate, design, means, deviations, _shapes(units), SCATTER)
    # the shared error lies on the after side alone, as the change does, whose prior is flat
    wider = posterior.covariance.copy()
    wider[:, 1, 1] += shared_error**2
    posterior = replace(posterior, covariance=wider)
    return TankPosterior(posterior, units, design, deviations, climate, shared_error)


def planned_error(found: TankPosterior, more: int) -> float:
    """Standard deviation of ln consumption's change [-] after `more` further tanks like the median
    after tank."""
    units = found.units
    late = np.flatnonzero(units.after > 0)
    span = units.end_s[late[-1]] - units.start_s[late[0]]
    each = max(span / len(late), 3600.0)  # tanks of one date last no time
    begins = units.end_s[late[-1]] + each * np.arange(more)
    ones = np.ones(more)
    longer = TankUnits(
        np.append(units.start_s, begins),
        np.append(units.end_s, begins + each),
        np.append(units.after, ones),
        np.append(units.distance_m, ones * np.median(units.distance_m[late])),
        np.append(units.volume_l, ones * np.median(units.volume_l[late])),
        np.append(units.follows, ones),
    )
    climate = found.climate
    if climate.temperature_c is not None:
        # a year on it is as warm as it was: by the wave of what is known
        climate = Climate(climate.coldest_s, _drawn_on(units, climate.temperature_c, longer))
    design, _, deviations = _design(longer, climate)
    best = int(np.argmax(found.posterior.weight))
    lasts, filling, _ = _KINDS[int(found.posterior.shape[best])]
    sigma = float(np.sum(found.posterior.weight * found.posterior.sigma))
    covariance = sigma**2 * _covariance(longer, lasts, filling)
    own = planned_deviation(design, deviations, covariance, found.change_contrast)
    return math.hypot(own, found.shared_error)


def together(units: TankUnits) -> TankUnits:
    """Neighbours of one side taken together until there are no more than `MAX_TANKS`."""
    while units.count > MAX_TANKS:
        pairs: list[tuple[int, int]] = []
        at = 0
        while at < units.count:
            joins = (
                at + 1 < units.count
                and units.follows[at + 1]
                and units.after[at] == units.after[at + 1]
            )
            pairs.append((at, at + 1 if joins else at))
            at += 2 if joins else 1
        if len(pairs) == units.count:
            return units
        first, last = np.array(pairs).T
        both = first != last
        units = TankUnits(
            units.start_s[first],
            units.end_s[last],
            units.after[first],
            units.distance_m[first] + np.where(both, units.distance_m[last], 0.0),
            units.volume_l[first] + np.where(both, units.volume_l[last], 0.0),
            units.follows[first],
        )
    return units


def _design(units: TankUnits, climate: Climate) -> tuple[Array, Array, Array]:
    """Columns with the mean and deviation of each one's prior: level, change, wave, warmth."""
    coldest = climate.coldest_s or 0.0
    columns = [np.ones(units.count), units.after]
    for times in (1, 2):
        columns += _waves(units, coldest, times)
    wave = _ANY_WAVE if climate.coldest_s is None else _WAVE
    if climate.temperature_c is not None:
        wave = _WAVE_LEFT
        columns.append(climate.temperature_c - float(climate.temperature_c.mean()))
    priors = [(0.0, np.inf), (0.0, np.inf), *wave]
    if climate.temperature_c is not None:
        priors.append(PER_KELVIN)
    means, deviations = np.array(priors).T
    return np.column_stack(columns), means, deviations


def _waves(units: TankUnits, coldest_s: float, times: int) -> list[Array]:
    """Mean over each tank of the cosine and the sine that repeat so many times a year. A tank may
    last no time, where two fills bear one date."""
    a, b = (2 * np.pi * times * (at - coldest_s) / YEAR_S for at in (units.start_s, units.end_s))
    # np.sinc(x) is sin(pi x) / (pi x)
    middle, evened = 0.5 * (a + b), np.sinc((b - a) / (2 * np.pi))
    return [np.cos(middle) * evened, np.sin(middle) * evened]


def _shapes(units: TankUnits) -> list[Shape]:
    return [
        Shape(_covariance(units, lasts, filling), math.log(weight))
        for lasts, filling, weight in _KINDS
    ]


def _covariance(units: TankUnits, lasts_s: float, filling: float) -> Array:
    """Of one tank of the usual length about 1: driving that lasts, and fills that alternate."""
    middle = 0.5 * (units.start_s + units.end_s)
    apart = np.abs(middle[:, None] - middle[None, :])
    like = np.exp(-apart / lasts_s) if lasts_s else np.eye(units.count)
    short = np.clip(np.median(units.distance_m) / units.distance_m, 0.2, 5.0)
    size = np.sqrt(1 - _BY_LENGTH + _BY_LENGTH * short)
    driving = like * size[:, None] * size[None, :]
    usual = np.median(units.volume_l) / units.volume_l
    link = -0.5 * (units.follows[1:] > 0)
    shared = np.eye(units.count) + np.diag(link, 1) + np.diag(link, -1)
    fills = shared * usual[:, None] * usual[None, :]
    return np.asarray((1 - filling) * driving + filling * fills + 1e-6 * np.eye(units.count))


def _drawn_on(units: TankUnits, temperature_c: Array, longer: TankUnits) -> Array:
    """Temperatures of tanks to come: a year's wave fitted to those that were."""

    def columns(of: TankUnits) -> Array:
        return np.column_stack([np.ones(of.count), *_waves(of, 0.0, 1)])

    fit = columns(units)
    ridge = np.diag([1e-6, 0.05, 0.05])
    wave = np.linalg.solve(fit.T @ fit + ridge, fit.T @ temperature_c)
    tail = (columns(longer) @ wave)[units.count :]
    return np.append(temperature_c, tail)
