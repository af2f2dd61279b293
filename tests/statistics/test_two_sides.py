"""Two runs of units in time: against scipy and statsmodels where they can answer, else by count."""

import math

import numpy as np
import pytest
import scipy.stats
import statsmodels.api as sm

from gearing.statistics.two_sides import Assumed, Nuisance, change_between

PLAIN = Assumed(persistence=(0.0,), log_ratio=(0.0,), length_share=(0.0,))


def run(generator: np.random.Generator, n: int, rho: float) -> np.ndarray:
    noise = generator.normal(size=60 + n)
    for i in range(1, 60 + n):
        noise[i] = rho * noise[i - 1] + math.sqrt(1 - rho**2) * noise[i]
    return noise[-n:]


@pytest.mark.parametrize("sizes", [(9, 12), (4, 4), (20, 6)])
def test_without_persistence_it_is_students_interval(sizes: tuple[int, int]) -> None:
    generator = np.random.default_rng(1)
    a, b = (generator.normal(0.3 * i, 1, n) for i, n in enumerate(sizes))
    mine = change_between(a, b, assumed=PLAIN)
    other = scipy.stats.ttest_ind(b, a).confidence_interval(0.95)
    # the grid over the noise's size ends: the smallest samples show it in the third digit
    assert (mine.low, mine.high) == pytest.approx((other.low, other.high), rel=3e-3, abs=3e-3)
    assert mine.value == pytest.approx(b.mean() - a.mean())


def test_known_persistence_is_generalized_least_squares() -> None:
    generator = np.random.default_rng(2)
    a, b = run(generator, 40, 0.6), run(generator, 30, 0.6) + 0.5
    mine = change_between(
        a, b, assumed=Assumed(persistence=(0.6,), log_ratio=(0.0,), length_share=(0.0,))
    )
    block = [0.6 ** np.abs(np.subtract.outer(np.arange(n), np.arange(n))) for n in (40, 30)]
    sigma = np.zeros((70, 70))
    sigma[:40, :40], sigma[40:, 40:] = block
    side = np.r_[np.zeros(40), np.ones(30)]
    other = sm.GLS(np.r_[a, b], sm.add_constant(side), sigma=sigma).fit()
    low, high = other.conf_int()[1]
    assert mine.value == pytest.approx(other.params[1], abs=2e-3)
    assert (mine.low, mine.high) == pytest.approx((low, high), abs=5e-3)


def test_persistence_falls_with_the_time_between() -> None:
    """A continuous first-order process seen at uneven times: its covariance is r^|t - u|."""
    generator = np.random.default_rng(12)
    times = [np.cumsum(generator.choice([1.0, 2.0, 7.0], n)) for n in (30, 24)]
    block = [0.8 ** np.abs(np.subtract.outer(t, t)) for t in times]
    sigma = np.zeros((54, 54))
    sigma[:30, :30], sigma[30:, 30:] = block
    y = np.linalg.cholesky(sigma) @ generator.normal(size=54)
    mine = change_between(
        y[:30],
        y[30:],
        times=np.r_[times[0], times[1] + 200.0],
        assumed=Assumed(persistence=(0.8,), log_ratio=(0.0,), length_share=(0.0,)),
    )
    side = np.r_[np.zeros(30), np.ones(24)]
    other = sm.GLS(y, sm.add_constant(side), sigma=sigma).fit()
    low, high = other.conf_int()[1]
    assert mine.value == pytest.approx(other.params[1], abs=2e-3)
    assert (mine.low, mine.high) == pytest.approx((low, high), abs=5e-3)


def test_days_far_apart_tell_more() -> None:
    generator = np.random.default_rng(13)
    a, b = generator.normal(size=(2, 14))
    daily, weekly = (change_between(a, b, times=step * np.arange(28.0)) for step in (1.0, 7.0))
    assert weekly.high - weekly.low < 0.9 * (daily.high - daily.low)
    assert weekly.persistence < daily.persistence


def test_a_nuisance_nobody_learns_of_adds_its_own_error() -> None:
    generator = np.random.default_rng(3)
    a, b = generator.normal(0, 0.01, 200), generator.normal(0, 0.01, 200)
    lever = np.r_[np.zeros(200), np.ones(200)][:, None]
    mine = change_between(a, b, nuisance=Nuisance(lever, np.array([[0.02**2]])), assumed=PLAIN)
    expected = math.hypot(0.02, 0.01 * math.sqrt(2 / 200))
    assert mine.standard_error == pytest.approx(expected, rel=0.02)
    assert mine.known_error == pytest.approx(0.02, rel=0.02)


def test_a_nuisance_that_varies_within_the_sides_is_learned() -> None:
    generator = np.random.default_rng(4)
    x = np.r_[generator.normal(0, 1, 100), generator.normal(3, 1, 100)]
    truth = 0.03
    y = truth * x + generator.normal(0, 0.02, 200)
    mine = change_between(
        y[:100], y[100:], nuisance=Nuisance(x[:, None], np.array([[0.5**2]])), assumed=PLAIN
    )
    design = np.column_stack([np.ones(200), np.r_[np.zeros(100), np.ones(100)], x])
    other = sm.OLS(y, design).fit()
    assert mine.value == pytest.approx(other.params[1], abs=2e-4)
    assert mine.nuisance[0] == pytest.approx(other.params[2], abs=2e-4)
    assert mine.low < 0 < mine.high


@pytest.mark.parametrize(
    ("rho", "apart", "least", "most"),
    [(0.0, 1.0, 0.93, 1.0), (0.5, 1.0, 0.86, 0.98), (0.5, 2.0, 0.86, 0.98), (0.8, 1.0, 0.86, 0.98)],
)
def test_coverage(rho: float, apart: float, least: float, most: float) -> None:
    """14 units a side: plain Welch holds the truth 78 % of the time at persistence 0.5."""
    generator = np.random.default_rng(5)
    held = welch = 0
    for _ in range(150):
        a, b = run(generator, 14, rho), run(generator, 14, rho)
        mine = change_between(a, b, times=apart * np.arange(28.0))
        held += mine.low <= 0 <= mine.high
        other = scipy.stats.ttest_ind(b, a, equal_var=False).confidence_interval(0.95)
        welch += other.low <= 0 <= other.high
    assert least <= held / 150 <= most
    if rho:
        assert welch / 150 < 0.85


def test_short_units_count_less() -> None:
    generator = np.random.default_rng(6)
    length = np.r_[np.full(20, 100.0), np.full(20, 2.0)]
    a = generator.normal(0, 0.2 / np.sqrt(length))
    b = generator.normal(0, 0.2 / np.sqrt(length))
    alike = change_between(a, b)
    weighed = change_between(a, b, lengths=np.r_[length, length])
    assert weighed.high - weighed.low < 0.8 * (alike.high - alike.low)


def test_too_few() -> None:
    with pytest.raises(ValueError, match="two values"):
        change_between([1.0], [1.0, 2.0])
