"""The robust Gaussian posterior against ridge regression, least squares and a Huber regression."""

import numpy as np
import pytest
import statsmodels.api as sm

from gearing.statistics.posterior import Linear, Posterior, huber_weights, robust_posterior

TRUTH = np.array([0.4, -0.2])


def data(n: int = 400, wild: int = 0) -> tuple[np.ndarray, np.ndarray]:
    generator = np.random.default_rng(11)
    x = generator.normal(size=(n, 2))
    y = x @ TRUTH + generator.normal(0, 0.3, n)
    y[:wild] += 8.0
    return x, y


def fit(x: np.ndarray, y: np.ndarray, deviations: np.ndarray, effect: float = 1.0) -> Posterior:
    return robust_posterior(
        lambda theta: Linear(y - x @ theta, x, 0, lambda _w, _f: effect),
        deviations,
        start=np.zeros(2),
        rounds=30,
    )


def test_with_a_wide_prior_it_is_the_huber_regression() -> None:
    """statsmodels' M-estimator with the same bend, two deviations of the median's."""
    x, y = data(wild=40)
    mine = fit(x, y, np.full(2, 100.0))
    other = sm.RLM(y, x, M=sm.robust.norms.HuberT(2.0)).fit()
    assert mine.theta == pytest.approx(other.params, abs=4e-3)
    least_squares = sm.OLS(y, x).fit().params
    assert np.abs(mine.theta - TRUTH).max() < np.abs(least_squares - TRUTH).max()


def test_a_prior_draws_as_in_ridge_regression() -> None:
    x, y = data()
    deviations = np.array([0.2, 0.1])
    mine = fit(x, y, deviations)
    z = y - x @ mine.theta
    weight = huber_weights(z)
    variance = float(weight @ z**2) / (weight.sum() - 2)
    normal = (x * weight[:, None]).T @ x
    ridge = np.linalg.solve(normal + np.diag(variance / deviations**2), x.T @ (weight * y))
    assert mine.theta == pytest.approx(ridge, abs=1e-6)
    assert np.all(np.diag(mine.covariance) < deviations**2)


def test_rows_that_tell_half_as_much_widen_by_the_root_of_two() -> None:
    x, y = data()
    wide = np.full(2, 100.0)
    ratio = np.diag(fit(x, y, wide, 2.0).covariance) / np.diag(fit(x, y, wide).covariance)
    assert ratio == pytest.approx(2.0, rel=1e-3)
