"""The robust Gaussian posterior against ridge regression, least squares and a Huber regression."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.optimize import lsq_linear

from gearing.statistics.posterior import (
    Design,
    Effects,
    Linear,
    Posterior,
    huber_weights,
    robust_posterior,
)

TRUTH = np.array([0.4, -0.2])


def data(n: int = 400, wild: int = 0) -> tuple[np.ndarray, np.ndarray]:
    generator = np.random.default_rng(11)
    x = generator.normal(size=(n, 2))
    y = x @ TRUTH + generator.normal(0, 0.3, n)
    y[:wild] += 8.0
    return x, y


def fit(
    x: np.ndarray, y: np.ndarray, deviations: np.ndarray, effects: Effects | None = None
) -> Posterior:
    def about(at: Posterior) -> Linear:
        return Linear(
            y - x @ at.theta, Design.of(x), np.diag(1 / deviations**2), deviations, effects
        )

    return robust_posterior(
        about, Posterior(np.zeros(2), np.diag(deviations**2)), tolerance=1e-6, rounds=80
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


def test_random_effects_are_generalized_least_squares() -> None:
    """Groups of ten with an effect in common, its variance half the noise's: statsmodels' GLS with
    that covariance."""
    generator = np.random.default_rng(14)
    group = np.repeat(np.arange(40), 10)
    x = generator.normal(size=(400, 2)) + generator.normal(size=(40, 2))[group]
    y = x @ TRUTH + generator.normal(0, 0.3, 400) + generator.normal(0, 0.3 / 2**0.5, 40)[group]
    mine = fit(x, y, np.full(2, 100.0), Effects(group, np.ones(400), 2.0))
    other = sm.GLS(y, x, sigma=np.eye(400) + 0.5 * (group[:, None] == group)).fit()
    # the loss bends for one residual in twenty
    assert mine.theta == pytest.approx(other.params, abs=0.25 * other.bse.max())
    assert np.sqrt(np.diag(mine.covariance)) == pytest.approx(other.bse, rel=0.1)


def test_neighbours_that_resemble_each_other_tell_less() -> None:
    """A first-order series of correlation 0.6 stands for (1 - r)/(1 + r) of as many: ASHRAE
    Guideline 14."""
    generator = np.random.default_rng(15)
    noise = generator.normal(size=4000)
    for i in range(1, 4000):
        noise[i] = 0.6 * noise[i - 1] + 0.8 * noise[i]
    x = np.ones((4000, 1))

    def deviation(series: np.ndarray | None) -> float:
        found = robust_posterior(
            lambda at: Linear(
                noise - x @ at.theta, Design.of(x), np.eye(1) / 1e4, np.full(1, 1e2), None, series
            ),
            Posterior(np.zeros(1), np.eye(1)),
        )
        return float(found.covariance[0, 0] ** 0.5)

    ratio = deviation(np.repeat(np.arange(40), 100)) / deviation(None)
    assert ratio == pytest.approx(2.0, rel=0.1)


def test_a_step_too_long_is_shortened_until_it_settles() -> None:
    """Residuals bent as an arc tangent: from 1.45 on plain Gauss-Newton steps swing ever wider."""

    def about(at: Posterior) -> Linear:
        slope = np.full((4, 1), 1 / (1 + at.theta[0] ** 2))
        z = np.array([-0.01, 0.01, -0.01, 0.01]) - np.arctan(at.theta[0])
        return Linear(z, Design.of(slope), np.eye(1) * 1e-12, np.full(1, np.inf))

    start = Posterior(np.full(1, 1.45), np.eye(1))
    found = robust_posterior(about, start, tolerance=1e-6, rounds=60)
    assert found.theta == pytest.approx(0.0, abs=1e-5)


def test_parameters_of_units_are_columns_of_a_plain_design() -> None:
    """Levels and slopes of 12 units beside two common parameters, groups of one, two and more in
    common: the same posterior as with every column written out."""
    generator = np.random.default_rng(17)
    n, units = 240, 12
    unit, group = generator.integers(0, units, n), generator.integers(0, 90, n)
    common, own = generator.normal(size=(n, 2)), generator.normal(size=(n, 2))
    written = np.hstack([common, *(np.eye(units)[unit] * own[:, [k]] for k in range(2))])
    y = written @ generator.normal(size=written.shape[1]) + generator.normal(0, 0.3, n)
    deviations = np.full(written.shape[1], 3.0)
    group = np.unique(group, return_inverse=True)[1]

    def posterior(design: Design) -> Posterior:
        return robust_posterior(
            lambda at: Linear(
                y - written @ at.theta,
                design,
                np.diag(1 / deviations**2),
                deviations,
                Effects(group, np.abs(own[:, 0]), 1.5),
            ),
            Posterior(np.zeros(written.shape[1]), np.diag(deviations**2)),
            tolerance=1e-9,
        )

    mine, plain = posterior(Design(common, own, unit, units)), posterior(Design.of(written))
    assert mine.theta == pytest.approx(plain.theta, abs=1e-6)
    assert mine.covariance == pytest.approx(plain.covariance, abs=1e-8)


def test_at_an_edge_it_is_least_squares_within_bounds() -> None:
    """Priors far too narrow for what the values ask: scipy's bounded least squares, the edge two
    and a half prior deviations away."""
    x, y = data()
    deviations = np.array([0.1, 0.02])
    mine = fit(x, y, deviations)
    z = y - x @ mine.theta
    weight = huber_weights(z)
    variance = float(weight @ z**2) / (
        weight.sum() - np.sum(1 - np.diag(mine.covariance) / deviations**2)
    )
    rows = np.vstack([x * np.sqrt(weight / variance)[:, None], np.diag(1 / deviations)])
    other = lsq_linear(
        rows,
        np.concatenate([y * np.sqrt(weight / variance), np.zeros(2)]),
        bounds=(-2.5 * deviations, 2.5 * deviations),
        tol=1e-12,
    ).x
    assert np.abs(mine.theta[1]) == pytest.approx(0.05)
    assert mine.theta == pytest.approx(other, abs=1e-5)
