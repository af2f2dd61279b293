"""What tread alone does to fuel, and what is left for the size."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gearing.analysis.fuel.tread import size_alone, tread_effect, tread_percent
from gearing.statistics.two_sides import change_between
from gearing.study.model import Period, Study

BEFORE = Period(side="before", drive_tire="245/70R19.5", tread_m=0.0080)
AFTER = Period(side="after", drive_tire="265/70R19.5", tread_m=0.0145)
STUDY = Study(name="x", slug="x", path=Path("x"), before=BEFORE, after=AFTER)


def test_half_worn_against_new_is_within_the_published_range() -> None:
    """Economy 6 % better at half of the tread worn, 6.6 % at 80 % (makers' data, TMC RP 1111B);
    2 to 4 % by others (common practice, no source): the range holds both."""
    told = tread_percent(STUDY)
    assert told.low is not None
    assert told.high is not None
    assert told.low < 3.0 < 6.0 < told.high + 1.0
    assert 3.0 < told.value < 6.4  # type: ignore[operator]


def test_new_tires_for_new_do_nothing() -> None:
    alike = replace(STUDY, before=replace(BEFORE, tread_m=0.0145))
    assert tread_effect(alike) == (0.0, 0.0)


def test_worn_tires_put_on_for_new_turn_the_sign() -> None:
    turned = replace(
        STUDY, before=replace(BEFORE, tread_m=0.0145), after=replace(AFTER, tread_m=0.0080)
    )
    assert tread_effect(turned)[0] == pytest.approx(-tread_effect(STUDY)[0])


def test_a_depth_nobody_gave_has_the_widest_range() -> None:
    bare = replace(STUDY, before=replace(BEFORE, tread_m=None), after=replace(AFTER, tread_m=None))
    assert tread_effect(bare)[1] > tread_effect(STUDY)[1]


def test_the_size_alone_is_the_package_less_the_tread_and_wider() -> None:
    generator = np.random.default_rng(2)
    change = change_between(generator.normal(0, 0.01, 20), generator.normal(0.01, 0.01, 20))
    alone = size_alone(STUDY, change)
    assert alone.value is not None
    assert alone.low is not None
    assert alone.high is not None
    effect, error = tread_effect(STUDY)
    assert np.log1p(alone.value / 100) == pytest.approx(change.value - effect)
    half = (np.log1p(alone.high / 100) - np.log1p(alone.low / 100)) / 2
    assert half == pytest.approx(np.hypot((change.high - change.low) / 2, 1.96 * error), rel=0.01)


def test_a_vehicle_that_is_control_has_no_size_to_judge() -> None:
    same = replace(STUDY, after=replace(BEFORE, side="after"))
    assert size_alone(same, None).value is None
    assert tread_percent(same).value is None
