"""One period driven outward alone, the other homeward: roads that rise against roads that fall."""

from pathlib import Path

import pytest
from sample_study import TRUTH, sample_copy

import gearing

pytestmark = pytest.mark.drill


def test_what_rise_and_fall_leave_open_is_in_the_interval(tmp_path: Path) -> None:
    study = sample_copy(tmp_path / "study", routes=False)
    for pattern in ("before/*back*", "after/*out*"):
        for path in (tmp_path / "study").glob(pattern):
            path.unlink()
    results = gearing.analyze(study)
    adjusted = results.fuel.change_percent.adjusted
    assert adjusted.low is not None
    assert adjusted.high is not None
    assert adjusted.low <= TRUTH["fuel_change_percent"]["adjusted"] <= adjusted.high
    assert results.fuel.verdict == "cannot tell yet"
    # the kilometre of town that both pass in one direction tells nothing of the rest
    assert results.fuel.change_percent.matched.value is None
