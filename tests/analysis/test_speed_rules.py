"""The speedometer rules against worked cases.

UN Regulation 39, paragraph 5.3: 0 <= V1 - V2 <= V2 / 10 + 4 km/h; the trade press prints its
upper ends as 40 -> 48, 50 -> 59, 70 -> 81, 80 -> 92, 90 -> 103, 100 -> 114, 110 -> 125,
120 -> 136, 130 -> 147 km/h. 49 CFR 393.82: within 8 km/h (5 mph) at 80 km/h (50 mph).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from gearing.analysis.sides import BySide
from gearing.analysis.speed.needle_fit import NeedleFit, fit_needle, readings_of
from gearing.analysis.speed.rules import r39_limits_kmh, rule_rows, within
from gearing.messages import message
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import DashReading, Period, Study
from gearing.trips.sums import Shown
from gearing.units import KMH_MPS


@pytest.mark.parametrize(
    ("true_kmh", "highest_kmh"),
    [
        (40, 48), (50, 59), (70, 81), (80, 92), (90, 103), (100, 114), (110, 125), (120, 136),
        (130, 147),
    ],
)  # fmt: skip
def test_r39_upper_ends_as_printed(true_kmh: float, highest_kmh: float) -> None:
    low, high = r39_limits_kmh(true_kmh)
    assert low == 0.0
    assert true_kmh + high == pytest.approx(highest_kmh)


@pytest.mark.parametrize(
    ("low", "high", "meets"),
    [
        (0.0, 12.0, True), (0.1, 11.9, True), (-0.1, 5.0, None), (11.0, 12.1, None),
        (-3.0, -0.1, False), (12.1, 13.0, False), (-1.0, 13.0, None),
    ],
)  # fmt: skip
def test_an_interval_across_a_limit_settles_nothing(
    low: float, high: float, meets: bool | None
) -> None:
    assert within(low, high, 0.0, 12.0) is meets


def _study(**more: object) -> Study:
    return Study(
        name="a",
        slug="a",
        path=Path("a.toml"),
        before=Period(side="before", drive_tire="245/70R19.5"),
        after=Period(side="after", drive_tire="265/70R19.5"),
        **more,  # type: ignore[arg-type]
    )


def _sure(value: float) -> Estimate:
    return Estimate(value, value * 0.999, value * 1.001, 9, "test")


NOTHING = BySide(unknown("no needle"), unknown("no needle"))


def test_bus_speed_alone_settles_no_rule_but_shows_its_figure() -> None:
    rows = rule_rows(_study(), NOTHING, BySide(_sure(1.0), _sure(1.05769)))
    assert {row.meets for row in rows} == {None}
    after = next(r for r in rows if r.rule == "49 CFR 393.82" and r.period == "after")
    # 80 km/h true shows 80 / 1.05769 = 75.64: 4.36 km/h low
    assert after.figure == pytest.approx(-4.363, abs=0.001)
    assert after.why == message("rule-open/no-reading")


@pytest.mark.parametrize(
    ("ratio", "cfr", "r39"),
    [
        # shown over true, by the needle: exact, 4.6 % low, 5 % high, 12 % low, 25 % high
        (1.005, True, True),
        (1 / 1.04642, True, False),
        (1.05, True, True),
        (0.88, False, False),
        (1.25, False, False),
    ],
)
def test_readings_of_the_needle_settle_them(ratio: float, cfr: bool, r39: bool) -> None:
    """A larger tire under an exact speedometer breaks R39 at once and 393.82 not: 50 mph true
    may show 45 to 55."""
    needle = BySide(_sure(ratio), _sure(ratio))
    rows = rule_rows(_study(), needle, NOTHING)
    federal = [r.meets for r in rows if r.rule == "49 CFR 393.82"]
    unece = [r.meets for r in rows if r.rule == "UN Regulation 39" and r.at_kmh == 80]
    assert federal == [cfr, cfr]
    assert unece == [r39, r39]


def test_a_speedometer_that_read_high_before_still_passes_after_a_larger_tire() -> None:
    before, after = 1.05, 1.05 / 1.04642
    rows = rule_rows(_study(), BySide(_sure(before), _sure(after)), NOTHING)
    assert all(r.meets for r in rows if r.rule == "UN Regulation 39")


def test_the_needle_is_read_against_true_speed() -> None:
    moment = datetime(2026, 2, 1, 15, tzinfo=UTC)
    dash = tuple(DashReading(at=moment, speed_mps=v * KMH_MPS) for v in (97.0, 65.0))
    record = _bare_record((Shown(0, 95.0 * KMH_MPS), Shown(1, 63.5 * KMH_MPS)))
    fit = fit_needle(readings_of(_study(dash=dash), [record]))
    assert fit is not None
    ratio = fit.ratio("before")
    assert ratio.n == 2
    assert ratio.value == pytest.approx((97 / 95 + 65 / 63.5) / 2, abs=0.002)
    assert ratio.low is not None
    assert ratio.value is not None
    # a unit either way at each reading, two of them, is the most a reader is off; half, the least
    most = 1.959964 * (1 / 95 + 1 / 63.5) / 2 / 2**0.5
    assert most / 3 < ratio.value - ratio.low < most
    assert not fit.ratio("after").known


def test_what_a_receiver_is_off_by_is_in_the_needle_s_interval_and_not_in_its_change() -> None:
    """Its speed and its positions differ by 5 %: that averages out over no number of readings, and
    is alike before and after."""
    moment, true = datetime(2026, 2, 1, 15, tzinfo=UTC), np.linspace(50, 95, 20)
    dash = tuple(DashReading(at=moment, speed_mps=1.02 * v * KMH_MPS) for v in (*true, *true))
    shown = tuple(Shown(i, v * KMH_MPS) for i, v in enumerate((*true, *true)))

    def fit(way_error: float) -> NeedleFit:
        records = [
            _bare_record(shown[:20], way_error),
            replace(_bare_record(shown[20:], way_error), side="after"),
        ]
        found = fit_needle(readings_of(_study(dash=dash), records))
        assert found is not None
        return found

    def width(one: Estimate) -> float:
        assert one.low is not None
        assert one.high is not None
        return one.high - one.low

    sure, open_ = fit(0.0), fit(0.0275)
    assert width(sure.true("before", 80.0)) < 1.5
    assert width(open_.true("before", 80.0)) > 2 * 1.96 * 0.02 * 80
    assert width(open_.relative()) < 1.2 * width(sure.relative())


def _bare_record(shown: tuple[Shown, ...], way_error: float = 0.0) -> Any:
    return Bare("before", shown, way_error)


@dataclass(frozen=True)
class Bare:
    """Of a trip's record, what a needle's readings are made of."""

    side: str
    shown: tuple[Shown, ...]
    way_error: float
