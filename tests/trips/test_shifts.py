"""Whether a shift up breaks the pull, and what kind of gearbox that makes it.

Invented drives at 1 Hz, made by hand: that a clutch takes the pull away for a second or so, a
converter's gearbox not, and that only a driver lifts the foot, is common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest

from gearing.analysis.mountain.inputs import shown_kind
from gearing.trips.shifts import NO_UPSHIFTS, Upshifts, together, upshifts
from gearing.trips.ticks import Ticks

RATIOS = (3.5, 2.1, 1.4, 1.0, 0.74)


def drive(
    kind: str, seed: int, *, seconds: float = 1.0, lockup: bool = False
) -> tuple[Ticks, np.ndarray]:
    """Twenty starts through all gears, each held for 8 to 10 s; sampled once a second."""
    rng = np.random.default_rng(seed)
    fine = 0.1
    gap = {"converter": 0.4, "automated": 0.9, "manual": 1.5}[kind]
    left = {"converter": 0.75, "automated": 0.05, "manual": 0.0}[kind]  # of the pull, meanwhile
    load, pedal, gear, speed = [], [], [], []
    for _ in range(20):
        foot = rng.uniform(65, 100)
        for number in range(len(RATIOS)):
            for at in np.arange(0, rng.uniform(8, 10), fine):
                shifts = at < gap and number > 0
                load.append(foot * (left if shifts else 1.0) + rng.normal(0, 1.5))
                lifted = shifts and kind == "manual"
                pedal.append(0.0 if lifted else foot + rng.normal(0, 0.5))
                gear.append(np.nan if shifts else number + 1.0)
                speed.append(4 + 3 * number + at / 3)
    every = slice(int(rng.integers(10)), None, round(10 * seconds))
    values = {
        name: np.array(column)[every]
        for name, column in (
            ("engine_load_percent", load), ("accelerator_percent", pedal),
            ("true_speed_mps", speed),
        )
    }  # fmt: skip
    if lockup:
        values["lockup_engaged"] = (np.nan_to_num(np.array(gear)[every]) > 2).astype(float)
    count = values["true_speed_mps"].size
    time = (np.arange(count) * seconds * 1e6).astype(np.int64)
    nowhere = np.zeros(count, dtype=bool)
    return Ticks(time, seconds, nowhere, nowhere, values), np.array(gear)[every]


@pytest.mark.parametrize("kind", ["converter", "automated", "manual"])
def test_the_kind_is_told_by_the_break_in_pull_and_the_foot(kind: str) -> None:
    for seed in range(6):
        found = upshifts(*drive(kind, seed))
        assert found.count >= 60  # of 80
        assert shown_kind(found, 3.5) == kind
        assert shown_kind(found, 11.0) == kind


def test_without_a_pedal_a_clutch_is_told_and_its_driver_by_the_first_gear() -> None:
    ticks, gear = drive("manual", 3)
    del ticks.values["accelerator_percent"]
    found = upshifts(ticks, gear)
    assert found.pedal_known == 0
    assert shown_kind(found, 4.2) == "manual"
    assert shown_kind(found, 11.3) == "automated"


def test_a_lockup_that_opens_and_closes_is_a_converters() -> None:
    found = upshifts(*drive("converter", 1, lockup=True))
    assert found.open_s > 100
    assert found.locked_s > 100
    assert shown_kind(Upshifts(open_s=found.open_s, locked_s=found.locked_s), 3.5) == "converter"
    assert shown_kind(Upshifts(open_s=0.0, locked_s=9000.0), 3.5) is None


def test_where_the_logs_do_not_show_it_nothing_is_said() -> None:
    slow = upshifts(*drive("manual", 2, seconds=2.0))  # the break falls between two rows
    assert slow == NO_UPSHIFTS
    ticks, gear = drive("manual", 2)
    assert upshifts(ticks, None) == NO_UPSHIFTS
    del ticks.values["engine_load_percent"]
    assert upshifts(ticks, gear).count == 0
    assert shown_kind(NO_UPSHIFTS, 3.5) is None
    assert shown_kind(Upshifts(count=11, breaks=11), 3.5) is None
    # half of them: neither
    assert shown_kind(Upshifts(count=40, breaks=16), 3.5) is None
    one = Upshifts(1, 2, 3, 4, 5.0, 6.0)
    assert together([one, one]) == Upshifts(2, 4, 6, 8, 10.0, 12.0)
