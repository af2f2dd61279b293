"""The fuel comparison on real logs: one car, the same tires throughout, so nothing changed.

Logs by others, at ../shared/logs beside the checkout (see the README there); skipped where they
are not. A gasoline car on its daily road; each trip counts as a unit of its own here, for there
are few days. No outside temperature was logged: the climate stands in. All cars, forty splits
each: tests/simulation/fuel_real_cars.py.
"""

import numpy as np
import pytest
from fuel_real_cars import CHANGED, LOGS, Drives, by_days, compare, dealt, drives_of

from gearing.statistics.estimate import Estimate

CAR = LOGS / "car_57f7fd"

pytestmark = pytest.mark.skipif(not CAR.is_dir(), reason=f"no real logs at {CAR}")


@pytest.fixture(scope="module")
def drives() -> Drives:
    return drives_of(CAR)


def halves(drives: Drives) -> np.ndarray:
    n = drives[0].height
    return np.arange(n) >= n / 2


def width(estimate: Estimate) -> float:
    assert estimate.low is not None
    assert estimate.high is not None
    return estimate.high - estimate.low


def test_contiguous_halves_did_not_change(drives: Drives) -> None:
    found = compare(drives, halves(drives))
    change = found.change_percent
    for estimate in (change.true_distance, change.matched, change.adjusted):
        assert estimate.low is not None
        assert estimate.high is not None
        assert estimate.low < 0 < estimate.high
    assert found.verdict in ("cannot tell yet", "no change")
    # trips scatter by ten percent or more; at the same road work by half of that at most
    assert width(change.adjusted) < 0.5 * width(change.true_distance)


def test_a_known_factor_is_found(drives: Drives) -> None:
    plain = compare(drives, halves(drives)).change_percent.adjusted
    scaled = compare(drives, halves(drives), 0.93).change_percent.adjusted
    assert plain.value is not None
    assert scaled.value is not None
    assert scaled.low is not None
    assert scaled.high is not None
    assert (1 + scaled.value / 100) / (1 + plain.value / 100) == pytest.approx(0.93, abs=0.002)
    assert scaled.low < -7.0 < scaled.high


@pytest.mark.drill
@pytest.mark.parametrize("unit", ["trips", "days"])
def test_random_splits_are_not_called_changed(drives: Drives, unit: str) -> None:
    dealt_out = drives if unit == "trips" else by_days(drives)
    generator = np.random.default_rng(7)
    found = [compare(dealt_out, dealt(dealt_out, generator)) for _ in range(40)]
    # 5 % of forty are two; none was found when measured
    assert sum(one.verdict in CHANGED for one in found) <= 3


@pytest.mark.drill
def test_eight_percent_less_fuel_is_found_in_most_splits(drives: Drives) -> None:
    generator = np.random.default_rng(5)
    found = [compare(drives, dealt(drives, generator), 0.92) for _ in range(10)]
    # 40 of 40 when measured; at 39, fewer than eight of ten have a chance of one in a thousand
    assert sum(one.verdict == "less fuel" for one in found) >= 8
