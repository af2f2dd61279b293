"""A recorder that writes more seldom in one period than in the other: the sample thinned.

A row each five seconds sees a twelfth less of the work of speeding up than a row a second. Left
as it is, the period logged so shows some 2 % more fuel at equal driving, and at ten seconds 4 %.
"""

from pathlib import Path

import pytest
from sample_study import TRUTH, sample_copy

import gearing

pytestmark = pytest.mark.drill


def thinned(folder: Path, sides: tuple[str, ...], rows: int) -> Path:
    study = sample_copy(folder, routes=False)
    for side in sides:
        for path in (folder / side).glob("*.csv"):
            head, *lines = path.read_bytes().splitlines(keepends=True)
            path.write_bytes(head + b"".join(lines[::rows]))
    return study


@pytest.mark.parametrize(("sides", "rows"), [(("after",), 5), (("before",), 10)])
def test_the_fuel_answer_holds_the_truth_where_one_period_is_logged_more_seldom(
    tmp_path: Path, sides: tuple[str, ...], rows: int
) -> None:
    results = gearing.analyze(thinned(tmp_path / "study", sides, rows))
    adjusted = results.fuel.change_percent.adjusted
    assert adjusted.low is not None
    assert adjusted.high is not None
    assert adjusted.low <= TRUTH["fuel_change_percent"]["adjusted"] <= adjusted.high
    assert "rows-seldom" in [one.code for one in results.warnings]
    factor = results.speed.odometer_factor
    for side in ("before", "after"):
        found = factor.of(side)
        assert found.low <= TRUTH["odometer_factor"][side] <= found.high
