"""Drives filed under the wrong period by drivers who use other gears on other tires.

The one gear that both periods then seem to share is the misfiled drive's own, on its own tires.
Studies of `tests/simulation/declaration_world.py`, whose truth knows nothing of the package.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from declaration_study import study_row


@pytest.mark.parametrize("seed", [80056, 80067, 80128])
def test_they_do_not_link_the_gears(seed: int) -> None:
    row = study_row(seed, "misfiled")
    assert row["gears_apart"]
    assert sorted(row["told_misfiled"]) == sorted(row["misfiled"])
    assert "no-tire-change-seen" not in row["warnings"]
    if row["change"] is not None:
        assert row["change_low"] <= row["true_change"] <= row["change_high"]
