"""Cut or rounded, where speeds are held exactly: it may stay open, but must not be told wrong.

The drives are made by `tests/simulation/held_speeds.py`, apart from the package; run by itself it
counts the same over as many seeds as are asked for. SAE J1979 parameter 0D reports whole km/h;
that some recorders write whole mph, and that some cut and some round, is common practice, no
source.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.stats import binom

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from held_speeds import UNITS, Held, answer, drives
from speed_study import declared, records
from speed_world import World, make_drives

from gearing.analysis.identification.quantization import Roundings, quantizations
from gearing.study.model import Study
from gearing.trips.declared import Declared
from gearing.trips.motion import make_trip
from gearing.trips.record import TripRecord, record_of

KINDS = list(product(UNITS, (True, False)))
Row = tuple[str, bool, float]


def answers(habit: str, seeds: range) -> list[Row]:
    return [
        row
        for unit, cut in KINDS
        for seed in seeds
        for row in answer(Held(habit, (cut, cut), (unit, unit)), seed)
    ]


def assert_honest(habit: str, rows: list[Row]) -> None:
    told = [row[0] for row in rows]
    assert told.count("wrong") <= 0.01 * len(rows)
    if habit == "each":  # many speeds tell, held or not
        assert told.count("right") >= 0.2 * len(rows)
    # fewer than this come up by chance once in 500 at 93 %
    assert sum(row[1] for row in rows) >= binom.ppf(0.002, len(rows), 0.93)


@pytest.mark.drill
@pytest.mark.parametrize("habit", ["each", "biased", "set", "one"])
def test_speeds_held_exactly_are_not_told_wrong(habit: str) -> None:
    assert_honest(habit, answers(habit, range(200, 202)))


@pytest.mark.study
@pytest.mark.parametrize("habit", ["each", "biased", "set", "one"])
def test_speeds_held_exactly_are_not_told_wrong_over_many_seeds(
    habit: str, record_property: Callable[[str, object], None]
) -> None:
    rows = answers(habit, range(300, 320))
    for told, count in Counter(row[0] for row in rows).items():
        record_property(told, f"{count}/{len(rows)}")
    record_property("held", f"{sum(row[1] for row in rows)}/{len(rows)}")
    assert_honest(habit, rows)


def held_records(study: Study, seed: int) -> list[TripRecord]:
    made, _ = drives(Held("biased", (True, True), ("mph", "mph")), seed)
    return [
        record_of(make_trip(frame, name=name, files=(name,)), Declared.of(study), side)  # type: ignore[arg-type]
        for name, side, frame in made
    ]


def open_mps(seen: Roundings, records: list[TripRecord]) -> float:
    """How much is left open of what a logged speed hides, on the mean."""
    return float(np.mean([(q := seen.trips[r.name]).high_mps - q.low_mps for r in records]))


@pytest.mark.parametrize("seed", range(3))
def test_the_same_trips_again_are_no_more_evidence(seed: int) -> None:
    """A cruise control set to the same speeds shows the same places of their units again: four
    times as many trips must not settle, the wrong way, what one set leaves open."""
    once = held_records(declared(World()), seed)
    again = [replace(r, name=f"{r.name}-{i}") for i in range(4) for r in once]
    first, more = quantizations(once), quantizations(again)
    assert more.of("before").kind in ("cut", "unsettled")  # the truth, or open
    if not first.of("before").settled:
        assert open_mps(more, again) > 0.5 * open_mps(first, once)


def test_other_trips_are_more_evidence_where_speeds_wander() -> None:
    world = World(one_speed_share=0.0, trip_minutes=(15.0, 20.0))
    made = make_drives(world, np.random.default_rng(5), before=8, after=8)
    some = records(made, declared(world))
    for side in ("before", "after"):
        assert quantizations(some).of(side).kind == "cut"


@pytest.mark.parametrize("cut", [True, False])
def test_a_count_of_distance_tells_where_each_trip_held_one_speed(cut: bool) -> None:
    """A count in steps of 0.1 km sums what whole units hid from the log."""
    right, kinds = "cut" if cut else "rounded", []
    for seed in range(4):
        made, truth = drives(Held("one", (cut, cut), ("mph", "mph")), seed)
        some = []
        for name, side, frame in made:
            counted = ((pl.col("gps_speed_mps") / truth[side]).cum_sum() / 100).floor() * 100
            frame = frame.with_columns(counted.alias("indicated_distance_m"))
            trip = make_trip(frame, name=name, files=(name,))
            some.append(record_of(trip, Declared.of(declared(World())), side))  # type: ignore[arg-type]
        seen = quantizations(some)
        kinds += [seen.of(side).kind for side in truth]
    assert set(kinds) <= {right, "unsettled"}
    assert kinds.count(right) >= 0.5 * len(kinds)


@pytest.mark.parametrize("cut", [(True, False), (False, True)])
def test_another_recorder_in_each_period_is_told_where_both_are_sure(
    cut: tuple[bool, bool],
) -> None:
    world = World(one_speed_share=0.0, trip_minutes=(25.0, 40.0))
    made = [
        drive
        for side, way in zip(("before", "after"), cut, strict=True)
        for drive in make_drives(
            replace(world, cut=way), np.random.default_rng(3), before=6, after=6
        ).drives
        if drive.side == side
    ]
    study = declared(world)
    seen = quantizations(
        [
            record_of(
                make_trip(d.samples, name=d.name, files=(d.name,)), Declared.of(study), d.side
            )
            for d in made
        ]
    )
    kinds = [seen.of(side).kind for side in ("before", "after")]
    assert kinds == ["cut" if way else "rounded" for way in cut]


def test_one_wandering_period_tells_for_the_other_of_the_same_recorder() -> None:
    """After has one trip at one speed alone, which can tell nothing by itself."""
    study = declared(World())
    wide = World(one_speed_share=0.0, trip_minutes=(30.0, 40.0))
    before = records(make_drives(wide, np.random.default_rng(4), before=8, after=0), study)
    narrow = replace(wide, one_speed_share=1.0)
    after = records(make_drives(narrow, np.random.default_rng(4), before=0, after=1), study)
    assert not quantizations(after).of("after").settled
    both = quantizations([*before, *after])
    assert both.of("before").kind == both.of("after").kind == "cut"
