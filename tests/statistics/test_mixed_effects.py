"""Random-effects regression against published output and another implementation.

The trials of a vaccine against tuberculosis, as tabulated by Colditz and others, JAMA 271
(1994): cases and non-cases, vaccinated and not, and latitude. Published fits: the output shown
in the documentation of the R package metafor (Viechtbauer 2010) for these data.
"""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from gearing.statistics.mixed_effects import mixed_effects
from gearing.statistics.regression import weighted_fit

TRIALS = np.array(
    [
        (4, 119, 11, 128, 44, 1948),
        (6, 300, 29, 274, 55, 1949),
        (3, 228, 11, 209, 42, 1960),
        (62, 13536, 248, 12619, 52, 1977),
        (33, 5036, 47, 5761, 13, 1973),
        (180, 1361, 372, 1079, 44, 1953),
        (8, 2537, 10, 619, 19, 1973),
        (505, 87886, 499, 87892, 13, 1980),
        (29, 7470, 45, 7232, 27, 1968),
        (17, 1699, 65, 1600, 42, 1961),
        (186, 50448, 141, 27197, 18, 1974),
        (5, 2493, 3, 2338, 33, 1969),
        (27, 16886, 29, 17825, 33, 1976),
    ],
    dtype=float,
)
A, B, C, D, LATITUDE, YEAR = TRIALS.T
RISK = np.log(A / (A + B)) - np.log(C / (C + D))
RISK_VARIANCE = 1 / A - 1 / (A + B) + 1 / C - 1 / (C + D)
ODDS = np.log(A * D / (B * C))
ODDS_VARIANCE = 1 / A + 1 / B + 1 / C + 1 / D
ONE = np.ones(len(A))


def test_published_fit_at_the_published_variance() -> None:
    # metafor's README: rma(yi, vi, mods = ~ ablat, test = "knha"), REML: tau^2 0.0764,
    # intrcpt 0.2515 (se 0.2839), ablat -0.0291 (se 0.0082)
    x = np.column_stack([ONE, LATITUDE])
    beta, covariance, squares = weighted_fit(RISK, 1 / (RISK_VARIANCE + 0.0764), x)
    errors = np.sqrt(np.diag(covariance) * squares / 11)
    assert beta == pytest.approx([0.2515, -0.0291], abs=1e-4)
    assert errors == pytest.approx([0.2839, 0.0082], abs=1e-4)


def test_residual_heterogeneity_as_published() -> None:
    # same output: QE(df = 11) = 30.7331
    fit = mixed_effects(RISK, np.sqrt(RISK_VARIANCE), np.column_stack([ONE, LATITUDE]))
    assert fit.q == pytest.approx(30.7331, abs=1e-4)
    assert fit.degrees == 11
    assert fit.heterogeneity == pytest.approx(1 - 11 / 30.7331, abs=1e-5)


def test_between_variance_as_published() -> None:
    # R: rma(yi, vi, mods = ~ ablat + year, method = "PM", test = "knha") on odds ratios of the
    # same data: tau^2 0.1631972, ablat -0.02751 (se 0.01201), year 0.00686; quoted in the tests
    # of a public repository
    x = np.column_stack([ONE, LATITUDE, YEAR])
    fit = mixed_effects(ODDS, np.sqrt(ODDS_VARIANCE), x)
    assert fit.between**2 == pytest.approx(0.1631972, abs=1e-5)  # its own tolerance
    assert fit.coefficients[1:] == pytest.approx([-0.02751, 0.00686], abs=5e-6)
    assert fit.standard_errors[1] == pytest.approx(0.01201, abs=5e-6)


def test_a_single_column_as_published() -> None:
    # R: rma.uni(yi = c(0.40, -0.20, 0.55, 0.10), vi = c(0.05, 0.06, 0.04, 0.05),
    # method = "PM"): mu 0.22957, tau^2 0.05930; quoted in the tests of a public repository
    fit = mixed_effects(
        [0.40, -0.20, 0.55, 0.10], np.sqrt([0.05, 0.06, 0.04, 0.05]), np.ones((4, 1))
    )
    assert fit.coefficients[0] == pytest.approx(0.22957, abs=1e-5)
    assert fit.between**2 == pytest.approx(0.05930, abs=1e-5)


def test_coefficients_and_errors_are_those_of_weighted_least_squares() -> None:
    x = np.column_stack([ONE, LATITUDE])
    fit = mixed_effects(RISK, np.sqrt(RISK_VARIANCE), x)
    other = sm.WLS(RISK, x, weights=1 / (RISK_VARIANCE + fit.between**2)).fit()
    assert fit.coefficients == pytest.approx(other.params)
    assert fit.standard_errors == pytest.approx(other.bse)
    assert fit.interval(1) == pytest.approx(other.conf_int()[1])


def test_agreement_by_chance_narrows_nothing() -> None:
    groups = np.array([[1, 0], [1, 0], [1, 1], [1, 1]])
    fit = mixed_effects([1.0, 1.0, 2.0, 2.0], [0.5] * 4, groups)
    assert fit.between == 0
    assert fit.coefficients == pytest.approx([1.0, 1.0])
    assert fit.standard_errors[1] == pytest.approx(0.5)  # sqrt(0.25 / 2 + 0.25 / 2)


@pytest.mark.parametrize(
    ("values", "errors", "design"),
    [
        ([1.0, 2.0], [1.0, 1.0], [[1, 0], [1, 1]]),
        ([1.0, 2.0, 3.0], [1.0, 1.0, 0.0], [[1], [1], [1]]),
        ([1.0, 2.0, 3.0], [1.0, 1.0, 1.0], [[1, 1], [1, 1], [1, 1]]),
        ([1.0, 2.0, 3.0], [1.0, 1.0], [[1], [1], [1]]),
    ],
)
def test_what_cannot_be_fitted(values: list, errors: list, design: list) -> None:
    with pytest.raises(ValueError, match=r"need|must|depend"):
        mixed_effects(values, errors, design)
