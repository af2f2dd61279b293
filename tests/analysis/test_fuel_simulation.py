"""A small version of tests/simulation/fuel_study.py: coverage, bias and false alarms.

The bounds are those of the small number of studies (99.9 % binomial or normal ranges about the
figures aimed at), so that each can fail; the command runs 500 studies a cell.
"""

from dataclasses import replace
from functools import partial

import numpy as np
import polars as pl
import pytest
from fuel_study import CHANGED, Outcome, found_change
from fuel_world import Cell, make_world

from gearing.analysis.fuel import adjust
from gearing.analysis.fuel.learn import learn

STUDIES = 12


def outcomes(cell: Cell, seed: int) -> list[Outcome]:
    return [found_change(make_world(cell, seed + i), claim=cell.changed) for i in range(STUDIES)]


def test_same_tires_are_not_called_changed() -> None:
    cell = Cell("aa", changed=False, persistence=0.5, days=10, road_km=16.0)
    found = outcomes(cell, 500)
    called = sum(one.verdict in CHANGED for one in found)
    # 9 % of 12: more than five has a chance of one in three thousand
    assert called <= 5
    assert abs(np.mean([one.value for one in found])) < 1.6


@pytest.mark.parametrize("seasons", ["overlapping", "apart"])
def test_the_true_change_is_covered(seasons: str) -> None:
    cell = Cell("true", seasons=seasons, days=10, road_km=16.0)
    found = outcomes(cell, 700)
    covered = sum(one.low <= one.truth <= one.high for one in found)
    # of 12 at 95 %, fewer than nine have a chance of one in five thousand
    assert covered >= 9
    assert abs(np.mean([one.value - one.truth for one in found])) < 1.6
    ratio = np.median([(o.high - o.low) / (o.naive_high - o.naive_low) for o in found])
    assert ratio < 0.95


@pytest.mark.parametrize(
    "cell",
    [
        Cell("own", roads="own", seasons="apart", days=10, road_km=16.0),
        Cell("one-way", roads="one-way", seasons="apart", days=10, road_km=16.0),
        Cell("file", weather=True, days=10, road_km=16.0),
    ],
    ids=lambda cell: cell.name,
)
@pytest.mark.parametrize("seed", [910, 911])
def test_further_rounds_do_not_move_the_answer(
    cell: Cell, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where each round led a little further, the answer depended on when it ended."""
    world = make_world(cell, seed)
    settled = found_change(world)
    monkeypatch.setattr(adjust, "learn", partial(learn, rounds=60))
    longer = found_change(world)
    ends = [(one.value, one.low, one.high) for one in (settled, longer)]
    # a twentieth of a point, where the interval reaches two to eight either way
    assert ends[0] == pytest.approx(ends[1], abs=0.05)


@pytest.mark.drill
def test_less_evidence_makes_no_surer() -> None:
    """The weather file taken away, and the temperature as well, from studies that had both. One
    study by itself may come out narrower, for its width is made of the scatter of its days, which
    is known to a sixth; not eight of them on the mean."""
    none = pl.lit(None, pl.Float64)
    without_file, with_neither = [], []
    for seed in range(1300, 1308):
        cell = Cell("less", seasons="apart", weather=True, days=10, road_km=16.0)
        world = make_world(cell, seed)
        bare = replace(
            world,
            weather=None,
            steps=world.steps.with_columns(ambient_temperature_c=none),
            trips=world.trips.with_columns(ambient_temperature_c=none),
        )
        widths = [
            one.high - one.low
            for one in map(found_change, (world, replace(world, weather=None), bare))
        ]
        without_file.append(widths[1] / widths[0])
        with_neither.append(widths[2] / widths[0])
    # ratios scatter by 0.15, their mean of eight by 0.05: three deviations under one
    assert np.mean(without_file) > 0.85
    assert min(with_neither) > 1.0
