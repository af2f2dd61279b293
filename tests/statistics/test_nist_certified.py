"""Against certified values: NIST StRD, to the digits double precision allows."""

import math

import numpy as np
import pytest
from nist_strd import (
    LONGLEY,
    MAVRO,
    MICHELSO,
    NOINT1,
    NOINT2,
    NORRIS,
    PONTIUS,
    WAMPLER1,
    WAMPLER3,
    WAMPLER3_DELTA,
)

from gearing.statistics.arrays import as_vector, standard_deviation
from gearing.statistics.persistence import common_persistence
from gearing.statistics.regression import weighted_fit


def powers(x: list[float], degree: int, *, first: int = 0) -> np.ndarray:
    return np.column_stack([np.asarray(x, float) ** k for k in range(first, degree + 1)])


CASES = {
    # relative agreement asked for: what QR in double precision gives on each set's conditioning
    "Norris": (powers(NORRIS["x"], 1), NORRIS["y"], NORRIS, 1e-11),
    "Pontius": (powers(PONTIUS["x"], 2), PONTIUS["y"], PONTIUS, 1e-10),
    "NoInt1": (powers(NOINT1["x"], 1, first=1), NOINT1["y"], NOINT1, 1e-12),
    "NoInt2": (powers(NOINT2["x"], 1, first=1), NOINT2["y"], NOINT2, 1e-12),
    "Longley": (
        np.column_stack([np.ones(16), np.asarray(LONGLEY["rows"], float)[:, 1:]]),
        np.asarray(LONGLEY["rows"], float)[:, 0],
        LONGLEY,
        1e-8,
    ),
    "Wampler3": (
        powers(WAMPLER1["x"], 5),
        np.asarray(WAMPLER1["y"], float) + np.asarray(WAMPLER3_DELTA, float),
        WAMPLER3,
        1e-7,
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_regression_reaches_the_certified_values(name: str) -> None:
    design, y, certified, tolerance = CASES[name]
    coefficients, inverse, squares = weighted_fit(np.asarray(y, float), np.ones(len(y)), design)
    deviation = math.sqrt(squares / (len(y) - design.shape[1]))
    assert coefficients == pytest.approx(certified["b"], rel=tolerance)
    assert deviation * np.sqrt(np.diag(inverse)) == pytest.approx(certified["se"], rel=tolerance)
    assert deviation == pytest.approx(certified["resid_sd"], rel=tolerance)


def test_norris_sum_of_squares() -> None:
    _, _, squares = weighted_fit(np.asarray(NORRIS["y"]), np.ones(36), powers(NORRIS["x"], 1))
    assert squares == pytest.approx(26.6173985294224, rel=1e-11)


def test_wampler1_is_an_exact_polynomial() -> None:
    y = np.asarray(WAMPLER1["y"], float)
    coefficients = weighted_fit(y, np.ones(len(y)), powers(WAMPLER1["x"], 5))[0]
    assert coefficients == pytest.approx([1.0] * 6, abs=1e-7)


NUM_ACC = {
    # mean, standard deviation, lag-1 autocorrelation as certified (exact)
    "NumAcc1": ([10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0, -0.5),
    "NumAcc2": ([1.2] + [1.1, 1.3] * 500, 1.2, 0.1, -0.999),
    "NumAcc3": ([1000000.2] + [1000000.1, 1000000.3] * 500, 1000000.2, 0.1, -0.999),
    "NumAcc4": ([10000000.2] + [10000000.1, 10000000.3] * 500, 10000000.2, 0.1, -0.999),
    "Mavro": (MAVRO["y"], MAVRO["mean"], MAVRO["sd"], MAVRO["r1"]),
    "Michelso": (MICHELSO["y"], MICHELSO["mean"], MICHELSO["sd"], MICHELSO["r1"]),
}
# the numbers as stored already differ from the decimal ones by half a unit in the last place
TOLERANCE = {"NumAcc3": 1e-8, "NumAcc4": 1e-7, "Mavro": 1e-11, "Michelso": 1e-10}


@pytest.mark.parametrize("name", NUM_ACC)
def test_univariate_sets(name: str) -> None:
    values, mean, deviation, r1 = NUM_ACC[name]
    tolerance = TOLERANCE.get(name, 1e-12)
    vector = as_vector(values)
    assert vector.mean() == pytest.approx(mean, rel=1e-14)
    assert standard_deviation(vector) == pytest.approx(deviation, rel=tolerance)
    # the small-sample bias of Marriott and Pope taken out of the certified figure, within +-0.95
    n = len(values)
    slope = 1 - 4 / n if n > 20 else 1.0
    unbiased = min(max((r1 + 1 / n) / slope, -0.95), 0.95)
    assert common_persistence([vector]) == pytest.approx(unbiased, rel=tolerance)
    assert not math.isnan(r1)
