"""Comparisons against published examples and against scipy and statsmodels."""

import math

import numpy as np
import pytest
import scipy.stats
import statsmodels.api as sm
from statsmodels.stats.meta_analysis import combine_effects
from statsmodels.stats.power import TTestIndPower

from gearing.statistics import comparison, intervals, persistence, power, robust
from gearing.statistics.comparison import Difference
from gearing.statistics.estimate import Estimate, unknown
from gearing.statistics.mixed_effects import mixed_effects
from gearing.statistics.permutation import block_permutation
from gearing.statistics.regression import weighted_fit

# Student, The probable error of a mean, Biometrika 6 (1908): hours of sleep gained
SLEEP_A = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
SLEEP_B = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]


def of_moments(n: int, mean: float, deviation: float) -> np.ndarray:
    """A sample with exactly these moments."""
    x = np.sin(np.arange(1, n + 1) * 1.7)
    x = (x - x.mean()) / x.std(ddof=1)
    return mean + deviation * x


def test_two_sample_miles_per_gallon() -> None:
    # NIST/SEMATECH e-Handbook 1.3.5.3, AUTO83B: US cars against Japanese, miles per gallon
    us, japan = of_moments(249, 20.14458, 6.41470), of_moments(79, 30.48101, 6.10771)
    unequal, equal = comparison.welch(us, japan), comparison.pooled(us, japan)
    assert equal.t == pytest.approx(12.62059, abs=2e-5)
    assert equal.degrees == 326
    assert intervals.t_quantile(0.975, 326) == pytest.approx(1.9673, abs=5e-5)
    assert unequal.t == pytest.approx(12.94627, abs=2e-5)
    assert unequal.degrees == pytest.approx(136.8750, abs=1e-3)
    assert unequal.interval() == pytest.approx((8.7576, 11.9152), abs=1e-3)


def test_paired_sleep() -> None:
    pair = comparison.paired(SLEEP_A, SLEEP_B)
    assert pair.value == pytest.approx(1.58)
    assert pair.t == pytest.approx(4.062127683382037, rel=1e-12)
    assert pair.p == pytest.approx(0.002832890197384273, rel=1e-9)
    assert pair.interval() == pytest.approx((0.7001142367230176, 2.4598857632769824), rel=1e-9)
    # not paired, the same data show nothing: why pairing by road matters
    assert comparison.welch(SLEEP_A, SLEEP_B).p == pytest.approx(0.0793941401873583, rel=1e-9)


def test_test_to_control_ratios() -> None:
    # constructed example of fleet practice: fuel of the test vehicle over the control vehicle
    base, test = [1.0020, 0.9950, 1.0060], [0.9500, 0.9450, 0.9560]
    difference = comparison.pooled(base, test)
    mean = sum(base) / 3
    assert -100 * difference.value / mean == pytest.approx(5.062, abs=5e-4)
    assert -100 * difference.value / (sum(test) / 3) == pytest.approx(5.331, abs=1e-3)
    assert difference.t == pytest.approx(-11.206, abs=1e-3)
    assert difference.p == pytest.approx(0.000361, abs=1e-6)
    low, high = (-100 * end / mean for end in difference.interval())
    assert (high, low) == pytest.approx((3.81, 6.32), abs=6e-3)


@pytest.mark.parametrize(
    ("degrees", "quantile"),
    # tables of Student's t at 0.975, as printed in every statistics handbook
    [(1, 12.7062), (2, 4.3027), (4, 2.7764), (10, 2.2281), (30, 2.0423), (120, 1.9799)],
)
def test_t_table(degrees: int, quantile: float) -> None:
    assert intervals.t_quantile(0.975, degrees) == pytest.approx(quantile, abs=5e-5)


def test_t_without_end_is_normal() -> None:
    assert intervals.t_quantile(0.975, math.inf) == pytest.approx(1.959963984540054)
    assert intervals.t_two_sided(1.959963984540054, math.inf) == pytest.approx(0.05)


@pytest.mark.parametrize("seed", range(5))
def test_against_scipy(seed: int) -> None:
    generator = np.random.default_rng(seed)
    a, b = generator.normal(3, 1, 6 + seed), generator.normal(3.3, 2, 11)
    mine, other = comparison.welch(a, b), scipy.stats.ttest_ind(b, a, equal_var=False)
    assert (mine.t, mine.p, mine.degrees) == pytest.approx(
        (other.statistic, other.pvalue, other.df), rel=1e-9
    )
    ends = other.confidence_interval(0.95)
    assert mine.interval() == pytest.approx((ends.low, ends.high), rel=1e-9)
    low, high = scipy.stats.t.interval(0.95, len(a) - 1, 0.0, scipy.stats.sem(a))
    reach = intervals.half_width(scipy.stats.sem(a), len(a) - 1)
    assert (-reach, reach) == pytest.approx((low, high), rel=1e-9)
    assert robust.median_deviation(b) == pytest.approx(
        scipy.stats.median_abs_deviation(b, scale="normal"), rel=1e-6
    )


def test_log_ratio_is_welch_on_logarithms() -> None:
    a, b = np.array([30.0, 33, 31, 35]), np.array([28.0, 31, 30, 29, 30])
    mine = comparison.log_ratio(a, b)
    other = scipy.stats.ttest_ind(np.log(b), np.log(a), equal_var=False)
    assert mine.t == pytest.approx(other.statistic)
    assert comparison.percent(comparison.log_of_percent(-4.0)) == pytest.approx(-4.0)
    with pytest.raises(ValueError, match="positive"):
        comparison.log_ratio([1.0, 0.0], [1.0, 2.0])


def test_weights_against_statsmodels() -> None:
    generator = np.random.default_rng(3)
    x = np.column_stack([np.ones(40), generator.normal(size=(40, 2))])
    weights = generator.uniform(0.2, 3, 40)
    y = x @ [1.0, 2.0, -0.5] + generator.normal(size=40) / np.sqrt(weights)
    coefficients, inverse, squares = weighted_fit(y, weights, x)
    other = sm.WLS(y, x, weights=weights).fit()
    assert coefficients == pytest.approx(other.params, rel=1e-10)
    assert np.sqrt(squares / 37 * np.diag(inverse)) == pytest.approx(other.bse, rel=1e-10)


def test_a_row_without_weight_and_a_column_without_a_row_count_for_nothing() -> None:
    generator = np.random.default_rng(5)
    y, weight = generator.normal(size=12), np.ones(12)
    weight[3] = 0.0
    only_there = np.zeros(12)
    only_there[3] = 1.0
    x = np.column_stack([np.ones(12), np.arange(12.0)])
    plain = weighted_fit(np.delete(y, 3), np.ones(11), np.delete(x, 3, axis=0))
    found = weighted_fit(y, weight, np.column_stack([x, only_there]))
    assert found[0] == pytest.approx([*plain[0], 0.0], rel=1e-12)
    assert found[2] == pytest.approx(plain[2], rel=1e-12)


def test_random_effects_against_statsmodels() -> None:
    generator = np.random.default_rng(8)
    errors = generator.uniform(0.001, 0.004, 12)
    values = 1.045 + generator.normal(0, 0.003, 12) + generator.normal(0, errors)
    mine = mixed_effects(values, errors)
    # iterated, with the Hartung-Knapp-Sidik-Jonkman interval
    other = combine_effects(
        values, errors**2, method_re="iterated", use_t=True, atol=1e-9, maxiter=500
    )
    assert mine.between**2 == pytest.approx(other.tau2, rel=1e-6)
    assert mine.coefficients[0] == pytest.approx(other.mean_effect_re, rel=1e-9)
    assert mine.standard_errors[0] == pytest.approx(other.sd_eff_w_re_hksj, rel=1e-6)
    assert mine.q == pytest.approx(other.q, rel=1e-9)
    assert mine.heterogeneity == pytest.approx(other.i2, rel=1e-9)


def test_agreement_by_chance_narrows_nothing() -> None:
    pooled = mixed_effects([1.0, 1.0001, 0.9999], [0.01, 0.01, 0.01])
    assert pooled.between == 0
    assert pooled.standard_errors[0] == pytest.approx(0.01 / math.sqrt(3))


def test_permutation_against_scipy() -> None:
    generator = np.random.default_rng(4)
    a, b = generator.normal(0, 1, 9), generator.normal(0.9, 1, 11)
    mine = block_permutation(a, b, draws=20000, seed=1)
    other = scipy.stats.permutation_test(
        (a, b), lambda x, y, axis: np.mean(y, axis) - np.mean(x, axis), n_resamples=20000, rng=2
    )
    # two Monte Carlo figures: four standard errors of their difference
    allowed = 4 * math.sqrt(2 * other.pvalue * (1 - other.pvalue) / 20000)
    assert mine.p == pytest.approx(other.pvalue, abs=allowed)
    assert block_permutation(a, b, draws=500, seed=1) == block_permutation(a, b, draws=500, seed=1)


def test_blocks_keep_the_level_where_single_values_do_not() -> None:
    generator = np.random.default_rng(11)
    single = blocked = 0
    for seed in range(300):
        noise = generator.normal(size=48)
        for i in range(1, 48):
            noise[i] += 0.5 * noise[i - 1]
        single += block_permutation(noise[:24], noise[24:], draws=199, seed=seed).p <= 0.05
        blocked += (
            block_permutation(noise[:24], noise[24:], block=6, draws=199, seed=seed).p <= 0.05
        )
    assert single / 300 > 0.15
    assert blocked / 300 < 0.12


def test_persistence_is_found_without_the_small_sample_bias() -> None:
    generator = np.random.default_rng(6)
    plain, corrected = [], []
    for _ in range(400):
        sides = []
        for _side in range(2):
            noise = generator.normal(size=214)
            for i in range(1, 214):
                noise[i] += 0.5 * noise[i - 1]
            sides.append(noise[-14:])
        plain.append(np.mean([np.corrcoef(side[:-1], side[1:])[0, 1] for side in sides]))
        corrected.append(persistence.common_persistence(sides))
    assert np.mean(plain) < 0.36
    assert np.mean(corrected) == pytest.approx(0.5, abs=0.06)


def test_effective_count() -> None:
    # ASHRAE Guideline 14's example of daily data: 30 days at 0.4 tell as much as 12.857
    assert persistence.effective_count(30, 0.4) == pytest.approx(12.857, abs=5e-4)
    assert persistence.effective_count(30, -0.3) == 30


def test_smallest_detectable_against_the_noncentral_t() -> None:
    n, deviation = 14, 0.05
    error = deviation * math.sqrt(2 / n)
    effect = TTestIndPower().solve_power(nobs1=n, alpha=0.05, power=0.8) * deviation
    assert power.smallest_detectable(error, 2 * n - 2) == pytest.approx(effect, rel=0.01)


def test_more_units() -> None:
    assert power.more_units(0.05, 14, 0.05, 14, 0.10) == 0.0
    # the old side alone is already too short: no number of new days helps
    assert power.more_units(0.05, 4, 0.05, 14, 0.02) is None
    more = power.more_units(0.05, 40, 0.05, 10, 0.04)
    assert more is not None
    degrees = comparison.satterthwaite([0.05**2 / 40, 0.05**2 / (10 + more)], [39, 9 + more])
    error = 0.05 * math.sqrt(1 / 40 + 1 / (10 + more))
    assert power.smallest_detectable(error, degrees) == pytest.approx(0.04, rel=1e-4)
    assert power.more_units(0.01, 400, 0.01, 400, 0.02, floor_error=0.01) is None


def test_a_known_error_widens_and_adds_degrees() -> None:
    plain = Difference(1.0, 3.0, 8.0, 5, 5)
    wide = plain.widened(4.0)
    assert wide.standard_error == 5.0
    assert wide.degrees == pytest.approx(8.0 * (5 / 3) ** 4)


def test_a_further_independent_error_widens_each_end() -> None:
    # two independent normal errors, 3 and 4, are one of 5
    low, high = scipy.stats.norm.interval(0.95, 1.0, 3.0)
    wide = Estimate(1.0, low, high, 9, "given").widened(4.0)
    assert (wide.low, wide.high) == pytest.approx(scipy.stats.norm.interval(0.95, 1.0, 5.0))
    assert wide.value == 1.0
    assert unknown("nothing").widened(4.0) == unknown("nothing")


def test_intervals_are_apart_only_where_they_do_not_meet() -> None:
    low, high = Estimate(1.0, 0.0, 2.0, 5, "given"), Estimate(3.0, 2.5, 4.0, 5, "given")
    touching = Estimate(2.2, 2.0, 2.5, 5, "given")
    assert low.apart_from(high)
    assert high.apart_from(low)
    assert not touching.apart_from(low)
    assert not touching.apart_from(high)
    assert not low.apart_from(unknown("nothing"))


def test_missing_values_are_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        comparison.welch([1.0, float("nan")], [1.0, 2.0])


def test_more_units_until_an_interval_is_so_wide() -> None:
    """With a power of a half the target is Welch's half width (scipy.stats)."""
    n, fixed, growing, target = 12, 0.05, 0.03, 0.036
    more = power.more_units(fixed, n, growing, 8, target, power=0.5)
    assert more is not None
    variance = fixed**2 / n + growing**2 / (8 + more)
    degrees = variance**2 / (
        (fixed**2 / n) ** 2 / (n - 1) + (growing**2 / (8 + more)) ** 2 / (7 + more)
    )
    assert scipy.stats.t.ppf(0.975, degrees) * np.sqrt(variance) == pytest.approx(target, rel=1e-4)
