"""Candidates against what `run` says of the same tires, against arithmetic, and in odd studies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from candidate_studies import DRAWS, NEW, OLD, PER_KM, bus, compare, factor, row, turns, value
from mountain_studies import pass_profile

from gearing.analysis.candidates.columns import standings
from gearing.analysis.candidates.drives import draw_fuel
from gearing.analysis.candidates.result import CandidatesFinding
from gearing.analysis.mountain import MountainFinding, find_mountain
from gearing.analysis.mountain.draws import make_draws
from gearing.analysis.mountain.model import RoadModel, road_model
from gearing.analysis.sides import BySide
from gearing.analysis.speed.turns import for_usual_axle
from gearing.study.model import Candidate, Period

SAME_AFTER = Candidate(name="as fitted", drive_tire="265/70R19.5")
SAME_BEFORE = Candidate(name="as it was", drive_tire="245/70R19.5")
TALL = Candidate(name="tall", drive_tire="275/70R19.5", revolutions_per_km=598 * PER_KM)
RESTORED = Candidate(name="restored", axle_ratio=4.88 * 628 / 608)


@pytest.fixture(scope="module")
def finding() -> CandidatesFinding:
    return compare(bus(SAME_AFTER, SAME_BEFORE, TALL, RESTORED))


@pytest.fixture(scope="module")
def mountain() -> MountainFinding:
    told = bus()
    return find_mountain(
        told,
        profiles={"pass": pass_profile()},
        revolutions_per_km=for_usual_axle(told, turns(told)),
        draws=DRAWS,
    )


def test_a_candidate_that_is_the_new_tires_has_the_figures_of_the_routes(
    finding: CandidatesFinding, mountain: MountainFinding
) -> None:
    for name, side in (("as fitted", "after"), ("as it was", "before")):
        ways = [mountain.routes[0], mountain.routes[0].reversed]
        for drive, way in zip(row(finding, name).drives, ways, strict=True):
            assert way is not None
            assert drive.route == way.name
            told = getattr(way, side)
            for key in (
                "liters",
                "top_gear_sustains_percent",
                "sustained_lowest_kmh",
                "downshifts_under_drive",
            ):
                assert drive.figures[key].value == pytest.approx(getattr(told, key), rel=1e-9), key
            share = told.gear_time_share.get("6", 0.0)
            assert drive.figures["top_gear_share"].value == pytest.approx(share, rel=1e-5)
            assert drive.figures["brake_kwh"].value == pytest.approx(told.descent.brake_kwh)
            assert drive.gear_down == (
                told.descent.gear if told.descent.held_speed_kmh is not None else None
            )
            assert drive.held_speed_kmh == pytest.approx(told.descent.held_speed_kmh)
            if side == "after":
                assert drive.verdict == way.verdict
                assert drive.care == way.care
    starts = mountain.startability_percent
    assert value(row(finding, "as fitted"), "startability_percent") == starts.after.value


def test_a_candidate_that_is_the_old_tires_changes_nothing(finding: CandidatesFinding) -> None:
    same, base = row(finding, "as it was"), row(finding, "before")
    assert same.changed == ()
    assert [str(note) for note in same.notes] == [
        "The same tires and axle as [before]: it changes nothing."
    ]
    assert same.figures == base.figures
    assert same.drives == base.drives
    for key in ("gearing_change_percent", "fuel_change_percent"):
        found = same.figures[key]
        assert (found.value, found.low, found.high) == (0.0, 0.0, 0.0)
    for drive in same.drives:
        assert drive.figures["fuel_change_percent"].value == 0.0


def test_the_restoring_axle_is_arithmetic(finding: CandidatesFinding) -> None:
    # 4.88 x 628 / 608 = 5.0405: what the new tires take off, the axle gives back (arithmetic)
    assert value(row(finding, "as fitted"), "restoring_axle_ratio") == pytest.approx(
        5.0405, abs=1e-4
    )
    assert value(row(finding, "tall"), "restoring_axle_ratio") == pytest.approx(
        4.88 * 628 / 598, abs=1e-9
    )
    assert value(row(finding, "before"), "restoring_axle_ratio") == pytest.approx(4.88)
    restored, base = row(finding, "restored"), row(finding, "before")
    assert restored.drive_tire == "265/70R19.5", "what is left out stays as it is on the vehicle"
    assert value(restored, "gearing_change_percent") == pytest.approx(0.0, abs=1e-9)
    for key in ("engine_rpm", "top_gear_share", "sustained_lowest_kmh", "startability_percent"):
        assert value(restored, key) == pytest.approx(value(base, key), rel=1e-5), key


def test_gearing_by_hand(finding: CandidatesFinding) -> None:
    tall = row(finding, "tall")
    assert value(tall, "gearing_change_percent") == pytest.approx(100 * (598 / 628 - 1))
    # 26.8 m/s are 96.48 km/h; 598 turns a mile x 4.88 x 0.64 x mph / 60 (arithmetic)
    assert finding.basis.at_kmh == pytest.approx(96.48)
    mph = 96.48 / 1.609344
    assert tall.gear == 6
    assert value(tall, "engine_rpm") == pytest.approx(598 * 4.88 * 0.64 * mph / 60)
    # a computer right on the old tires shows less on taller ones, in the ratio of their turns
    assert value(tall, "indicated_kmh") == pytest.approx(96.48 * 598 / 628)


def test_taller_gearing_slows_the_engine_and_leaves_more_to_the_brakes(
    finding: CandidatesFinding,
) -> None:
    names = ("before", "as fitted", "tall")
    for key, rises in (
        ("engine_rpm", False),
        ("startability_percent", False),
        ("brake_kwh", True),
        ("fuel_change_percent", False),
    ):
        figures = [value(row(finding, name), key) for name in names]
        assert figures == sorted(figures, reverse=not rises), key


def test_the_range_of_the_fuel_line_is_drawn() -> None:
    """By a Willans line a saving goes with what turning the engine takes, known from 0.4 to 2.2
    times its usual value (`gearing.vehicle.parameters`): no difference may be told without it."""
    told = bus()
    model = road_model(told, for_usual_axle(told, turns(told)))
    assert isinstance(model, RoadModel)
    fuel = draw_fuel(make_draws(model.inputs, model.known, 4000, 1))
    assert fuel.turning[0] == fuel.slope[0] == 1.0
    assert np.percentile(fuel.turning, [2.5, 97.5]) == pytest.approx([0.4, 2.2], abs=0.06)
    assert np.percentile(fuel.slope, [2.5, 97.5]) == pytest.approx([0.93, 1.1], abs=0.01)


@pytest.mark.parametrize(
    ("source", "shown"),
    [
        ("output shaft", 96.48 / 1.03 * 5.25 / 4.88),
        ("drive wheels", 96.48 / 1.03),
        ("front wheels", 96.48 / 1.03),
        ("unknown", None),
    ],
)
def test_what_the_dash_shows_with_another_axle(source: str, shown: float | None) -> None:
    told = bus(Candidate(name="axle", axle_ratio=5.25))
    told = replace(told, vehicle=replace(told.vehicle, speed_source=source, engine=None))
    found = compare(told, odometer_factor=BySide(factor(1.0), factor(1.03)))
    indicated = row(found, "axle").figures["indicated_kmh"]
    if shown is None:
        assert indicated.value is None
        assert "speed_source" in str(indicated.why)
    else:
        assert indicated.value == pytest.approx(shown)
        assert indicated.low is not None
        assert indicated.low < shown < (indicated.high or 0)


def test_without_logs_the_computer_is_taken_to_be_right(finding: CandidatesFinding) -> None:
    assert value(row(finding, "before"), "indicated_kmh") == pytest.approx(96.48)
    assert "taken to be right" in str(finding.basis.assumed[0])


def test_standings_by_hand() -> None:
    rng = np.random.default_rng(5)
    common = rng.normal(0, 5, 400)
    close, behind = rng.normal(0, 1, 400), rng.normal(0, 0.1, 400)
    close[0] = behind[0] = 0.0  # the central draw
    rows = {"first": 10 + common, "close": 9.9 + common + close, "behind": 9 + common + behind}
    # what rows share drops out: 1 is sure beside 0.1, and 0.1 is not beside 1
    assert standings("top_gear_share", rows) == {"first": "tie", "close": "tie"}
    assert standings("liters", rows) == {"behind": "tie", "close": "tie"}
    two = {k: rows[k] for k in ("first", "behind")}
    assert standings("liters", two) == {"behind": "best"}
    assert standings("top_gear_share", two) == {"first": "best"}
    assert standings("engine_rpm", rows) == {}, "neither more nor less is better"
    same = {"a": common, "b": common.copy()}
    assert standings("liters", same) == {}, "nothing is best where all may be"
    unknown_row = rows | {"unknown": np.full(400, np.nan)}
    assert "unknown" not in standings("top_gear_share", unknown_row)


def test_two_fittings_of_one_tire_share_what_is_not_known_of_it() -> None:
    """Else the difference of two axles would carry the error of the tire."""
    axles = (
        Candidate(name="short", drive_tire="275/70R19.5", axle_ratio=5.0),
        Candidate(name="tall", drive_tire="275/70R19.5", axle_ratio=4.5),
    )
    found = compare(bus(*axles, routes=()))
    short, tall = (row(found, name).figures["engine_rpm"] for name in ("short", "tall"))
    for end in ("value", "low", "high"):
        assert getattr(short, end) / getattr(tall, end) == pytest.approx(5.0 / 4.5, rel=1e-9)


def notes(candidate: Candidate, **changes: object) -> str:
    found = compare(bus(candidate, **changes, routes=()))
    return " ".join(str(note) for note in found.candidates[0].notes)


def test_odd_candidates_get_a_clear_word() -> None:
    assert "it changes nothing" in notes(SAME_BEFORE)
    assert "The same tires and axle as [after]" in notes(SAME_AFTER)
    assert "The same tires and axle as [after]" in notes(Candidate(name="nothing said"))
    # a tire of 1.4 times the circumference turns 1 / 1.4 as often (arithmetic)
    taller = Candidate(name="40 % taller", revolutions_per_km=OLD / 1.4)
    assert "rolls 40 % farther a turn" in notes(taller)
    smaller = Candidate(name="small", drive_tire="205/55R16")
    assert "less far a turn" in notes(smaller)
    assert "check axle_ratio" in notes(Candidate(name="axle", axle_ratio=2.9))
    assert "needs other wheels, of 22.5 in" in notes(
        Candidate(name="wheels", drive_tire="255/70R22.5")
    )
    assert "2.5 %" in notes(Candidate(name="by size", drive_tire="255/70R19.5"))
    assert "2.5 %" not in notes(TALL)
    assert "governed 2,500 rpm" in notes(Candidate(name="short", axle_ratio=7.5))
    found = compare(bus(TALL, replace(TALL, name="again"), routes=()))
    assert "The same tires and axle as tall." in str(found.candidates[1].notes[0])


def test_impossible_candidates_are_driven_without_a_fault() -> None:
    odd = (
        Candidate(name="40 % taller", revolutions_per_km=OLD / 1.4),
        Candidate(name="axle of 20", axle_ratio=20.0),
        Candidate(name="axle of 1", axle_ratio=1.0),
        Candidate(name="tiny", revolutions_per_km=1250.0),
    )
    found = compare(bus(*odd), draws=4)
    assert len(found.candidates) == 4
    for one in found.candidates:
        assert one.notes
        assert len(one.drives) == 2
        for drive in one.drives:
            for key, figure in drive.figures.items():
                assert figure.value is None or np.isfinite(figure.value), key


def test_only_the_old_tires_are_declared() -> None:
    """Before anything is bought there is no [after]."""
    found = compare(bus(TALL, Candidate(name="axle", axle_ratio=4.56), after=None))
    assert [one.name for one in found.basis.references] == ["before"]
    assert row(found, "axle").drive_tire == "245/70R19.5"
    assert value(row(found, "axle"), "gearing_change_percent") == pytest.approx(
        100 * (4.56 / 4.88 - 1)
    )
    assert len(row(found, "tall").drives) == 2


def test_only_the_new_tires_are_declared() -> None:
    found = compare(bus(TALL, before=None))
    assert found.basis.compared_with == "after"
    assert value(row(found, "tall"), "gearing_change_percent") == pytest.approx(
        100 * (598 / 608 - 1)
    )


def test_an_axle_changed_with_the_tires_counts() -> None:
    after = Period(
        side="after", drive_tire="265/70R19.5", revolutions_per_km=NEW, axle_ratio=5.13,
        logs=("after/*.csv",),
    )  # fmt: skip
    found = compare(bus(SAME_AFTER, TALL, after=after), draws=4)
    # what a candidate leaves out stays as it is now: the axle of [after]
    assert row(found, "as fitted").axle_ratio == 5.13
    assert row(found, "as fitted").drives == row(found, "after").drives
    assert value(row(found, "tall"), "gearing_change_percent") == pytest.approx(
        100 * (598 * 5.13 / (628 * 4.88) - 1)
    )
    planned = compare(bus(TALL, after=replace(after, logs=())), draws=4)
    assert row(planned, "tall").axle_ratio == 4.88, "what is only planned is not yet there"


@pytest.mark.parametrize(
    ("vehicle", "missing"),
    [
        ({"engine": None}, "torque curve"),
        ({"mass_kg": None}, "mass"),
        ({"gear_ratios": ()}, "gear_ratios"),
        ({"axle_ratio": None}, "axle_ratio"),
    ],
)
def test_what_is_not_declared_is_named_and_the_rest_answers(
    vehicle: dict[str, object], missing: str
) -> None:
    told = bus(TALL)
    found = compare(replace(told, vehicle=replace(told.vehicle, **vehicle)))
    assert missing in str(found.basis.why)
    tall = row(found, "tall")
    assert tall.drives == ()
    assert missing in str(tall.figures["top_gear_share"].why)
    assert value(tall, "gearing_change_percent") == pytest.approx(100 * (598 / 628 - 1))
    assert (tall.figures["engine_rpm"].value is None) == (missing in ("gear_ratios", "axle_ratio"))


def test_ratios_that_do_not_fit_the_logs_withhold_the_routes() -> None:
    found = compare(bus(TALL), withheld="vehicle.axle_ratio as declared does not fit the logs")
    assert found.candidates[0].drives == ()
    assert "does not fit the logs" in str(found.candidates[0].figures["brake_kwh"].why)


def test_a_route_without_a_profile_says_why() -> None:
    flat = pl.DataFrame({"distance_m": [0.0], "altitude_m": [1.0]})
    found = compare(bus(TALL), profile=flat)
    assert found.candidates[0].drives == ()
    assert "no two places" in str(found.basis.why)


def test_the_same_seed_gives_the_same_figures(finding: CandidatesFinding) -> None:
    again = compare(bus(SAME_AFTER, SAME_BEFORE, TALL, RESTORED))
    assert again == finding
    batches = compare(bus(TALL))  # alone, and among others
    assert row(batches, "tall").drives[0].figures["liters"].value == (
        pytest.approx(row(finding, "tall").drives[0].figures["liters"].value, rel=1e-9)
    )
