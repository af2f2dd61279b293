"""The linear posterior against closed forms and scipy's distributions."""

import math

import numpy as np
import pytest
from scipy import stats

from gearing.statistics.linear_posterior import (
    Scale,
    Shape,
    linear_posterior,
    planned_deviation,
    root_of_rising,
)

FLAT = np.array([0.0]), np.array([np.inf])
ANY = Scale(1.0, 3.0)  # wide enough to say nothing


def test_with_nothing_known_beforehand_it_is_students() -> None:
    """Mean of a sample with unknown spread: Student's t with n - 1 degrees (Gelman et al., BDA 3,
    section 3.2, with the prior flat in the logarithm of sigma); quantiles from scipy."""
    y = np.array([1.2, 0.7, 1.9, 1.1, 0.4, 1.5])
    found = linear_posterior(y, np.ones((6, 1)), *FLAT, [Shape(np.eye(6), 0.0)], Scale(0.6, 30.0))
    wide = linear_posterior(y, np.ones((6, 1)), *FLAT, [Shape(np.eye(6), 0.0)], Scale(0.6, 4.0))
    student = stats.t(5, loc=y.mean(), scale=y.std(ddof=1) / math.sqrt(6))
    for probability in (0.025, 0.5, 0.975):
        assert wide.quantile(np.ones(1), probability) == pytest.approx(
            student.ppf(probability), abs=0.03
        )
    assert found.moments(np.ones(1))[0] == pytest.approx(y.mean())


def test_a_sure_scale_and_a_prior_weigh_as_precisions_do() -> None:
    """Normal prior and normal values of known spread: precisions add (BDA 3, section 2.5)."""
    y = np.array([2.0, 2.4])
    found = linear_posterior(
        y, np.ones((2, 1)), np.array([1.0]), np.array([0.5]), [Shape(np.eye(2), 0.0)],
        Scale(0.4, 1e-9),
    )  # fmt: skip
    precision = 2 / 0.4**2 + 1 / 0.5**2
    mean, deviation = found.moments(np.ones(1))
    assert mean == pytest.approx((2 * 2.2 / 0.4**2 + 1.0 / 0.5**2) / precision)
    assert deviation == pytest.approx(precision**-0.5)


def test_correlated_values_are_generalized_least_squares() -> None:
    """Aitken's estimator, worked out by numpy's own inverse."""
    rng = np.random.default_rng(1)
    design = np.column_stack([np.ones(5), np.arange(5.0)])
    root = rng.normal(size=(5, 5))
    covariance = root @ root.T + np.eye(5)
    y = rng.normal(size=5)
    weight = np.linalg.inv(covariance)
    expected = np.linalg.solve(design.T @ weight @ design, design.T @ weight @ y)
    found = linear_posterior(
        y, design, np.zeros(2), np.full(2, np.inf), [Shape(covariance, 0.0)], Scale(1.0, 1e-9)
    )
    for i in range(2):
        assert found.moments(np.eye(2)[i])[0] == pytest.approx(expected[i])
    planned = planned_deviation(design, np.full(2, np.inf), covariance, np.array([0.0, 1.0]))
    assert planned == pytest.approx(found.moments(np.array([0.0, 1.0]))[1], rel=1e-6)


def test_the_shape_that_fits_gets_the_weight() -> None:
    """Strictly alternating values: the shape that alternates against that without correlation."""
    n = 24
    y = np.tile([1.0, -1.0], n // 2)
    alternating = np.eye(n) - 0.5 * (np.eye(n, k=1) + np.eye(n, k=-1))
    shapes = [Shape(np.eye(n), 0.0), Shape(alternating, 0.0)]
    found = linear_posterior(y, np.ones((n, 1)), *FLAT, shapes, ANY)
    assert found.weight[found.shape == 1].sum() > 0.9


def test_the_ratio_of_two_coefficients_is_fiellers() -> None:
    """Fieller's limits for two independent means of known spread, in closed form: the roots of
    (a - x b)^2 = z^2 (1 + x^2) s^2."""
    a, b, s, z = 3.0, 2.0, 0.1, 1.959963984540054
    found = linear_posterior(
        np.array([a, b]), np.eye(2), np.zeros(2), np.full(2, np.inf),
        [Shape(np.eye(2), 0.0)], Scale(s, 1e-9),
    )  # fmt: skip
    low, high = np.sort(np.roots([b * b - z * z * s * s, -2 * a * b, a * a - z * z * s * s]).real)
    over, under = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    for probability, end in ((0.025, low), (0.975, high)):
        assert found.ratio_quantile(over, under, probability, 0.1, 10.0) == pytest.approx(end)


def test_a_root_is_found() -> None:
    assert root_of_rising(lambda x: x**3 - 2, 0.0, 2.0) == pytest.approx(2 ** (1 / 3))
