"""The verdict's rules at their edges."""

import pytest

from gearing.analysis.fuel.verdict import deciding_half_width, judge
from gearing.messages import Message, Renderer
from gearing.messages.display import Display
from gearing.statistics.estimate import Estimate, unknown

CLAIM = -4.0


def verdict(low: float, high: float, *, claim: float | None = CLAIM, days: int = 9) -> str:
    change = Estimate((low + high) / 2, low, high, 18, "x")
    return judge(change, claim_percent=claim, margin_percent=1.0, fewest_days=days)[0]


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        # the claim is inside, and at least half of it is sure
        (-6.0, -2.0, "supported"),
        (-6.0, -1.999, "some saving, size unsettled"),
        (-4.0, -2.5, "supported"),
        # the whole interval is beyond the claim
        (-9.0, -4.001, "supported"),
        (-9.0, -3.999, "supported"),
        # the claim is out of reach
        (-3.999, -2.5, "smaller than claimed"),
        (-3.999, 0.5, "smaller than claimed"),
        (-3.0, 3.5, "smaller than claimed"),
        # the claim is inside, and so is little
        (-5.0, -1.001, "some saving, size unsettled"),
        (-5.0, -1.0, "cannot tell yet"),
        (-5.0, 2.0, "cannot tell yet"),
        # within the margin of none
        (-1.0, 1.0, "no change"),
        (-1.0, 1.001, "smaller than claimed"),
        (-1.001, 0.9, "smaller than claimed"),
        (0.1, 0.9, "no change"),
        # more fuel: size and significance must both pass
        (0.001, 2.0, "worse"),
        (0.001, 1.998, "smaller than claimed"),
        (0.0, 2.5, "smaller than claimed"),
        (3.0, 5.0, "worse"),
    ],
)
def test_edges_with_a_claim(low: float, high: float, expected: str) -> None:
    assert verdict(low, high) == expected


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (-5.0, -1.001, "less fuel"),
        (-5.0, -1.0, "cannot tell yet"),
        (-5.0, 1.0, "cannot tell yet"),
        (-0.9, 0.9, "no change"),
        (0.5, 3.0, "worse"),
        (0.5, 1.6, "worse"),
        (0.5, 1.4, "cannot tell yet"),
    ],
)
@pytest.mark.parametrize("claim", [None, 0.0, 2.0])
def test_edges_without_a_claim(low: float, high: float, expected: str, claim: float) -> None:
    assert verdict(low, high, claim=claim) == expected


@pytest.mark.parametrize(("low", "high"), [(-6.0, -3.0), (2.0, 5.0), (-0.5, 0.5), (-3.0, -2.0)])
def test_under_four_days_nothing_is_told(low: float, high: float) -> None:
    assert verdict(low, high, days=3) == "cannot tell yet"
    assert verdict(low, high, days=4) != "cannot tell yet"


def test_the_unknown_keeps_its_reason() -> None:
    found = judge(unknown("no temperature"), claim_percent=-4.0, margin_percent=1.0, fewest_days=9)
    assert found == ("cannot tell yet", "no temperature")


def test_a_claim_smaller_than_the_margin() -> None:
    small = Estimate(-0.6, -0.9, -0.3, 60, "x")
    found = judge(small, claim_percent=-0.5, margin_percent=1.0, fewest_days=30)
    assert found[0] == "no change"


@pytest.mark.parametrize(("high", "shown"), [(-0.001, False), (0.0, True), (0.9, True)])
def test_short_of_the_claim_and_no_saving_is_told(high: float, *, shown: bool) -> None:
    change = Estimate(-1.5, -3.0, high, 18, "x")
    found, why = judge(change, claim_percent=CLAIM, margin_percent=1.0, fewest_days=9)
    assert found == "smaller than claimed"
    assert isinstance(why, Message)
    assert why.code == "verdict/short-of-claim"
    assert ("no saving is shown" in str(why)) == shown


def test_reasons_are_told_in_the_readers_sense() -> None:
    """4 % less fuel for a distance is 1/0.96 of the distance for the fuel: 4.17 % more."""
    change = Estimate(-2.0, -3.0, -1.5, 18, "x")
    _, why = judge(change, claim_percent=CLAIM, margin_percent=1.0, fewest_days=9)
    assert isinstance(why, Message)
    assert "the claim of -4.0 %" in Renderer().text(why)
    assert "the claim of +4.2 %" in Renderer(Display("us")).text(why)


@pytest.mark.parametrize("claim", [None, -2.0, -4.0, -10.0])
@pytest.mark.parametrize("value", [-12.0, -7.0, -3.0, -2.8, -1.7, -0.9, 0.0, 0.6, 1.7, 4.0])
def test_the_deciding_width_is_where_the_verdict_settles(value: float, claim: float | None) -> None:
    """By trying ever wider intervals, from one that settles to the first that does not."""

    def settled(half: float) -> bool:
        told, _ = judge(
            Estimate(value, value - half, value + half, 20, "adjusted"),
            claim_percent=claim,
            margin_percent=1.0,
            fewest_days=9,
        )
        return told not in ("cannot tell yet", "some saving, size unsettled")

    widest = next((half / 100 for half in range(2000, 0, -1) if settled(half / 100)), None)
    half = deciding_half_width(value, claim_percent=claim, margin_percent=1.0)
    assert half == (None if widest is None else pytest.approx(widest, abs=0.0101))
