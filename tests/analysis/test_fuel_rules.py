"""Each rule of sufficiency and confounding at its edge: silent on one side, told on the other."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from gearing.analysis.fuel import rules
from gearing.analysis.fuel.facts import Facts, SideFacts
from gearing.analysis.fuel.model import Amount
from gearing.analysis.fuel.same_engine import SameEngine
from gearing.analysis.sides import BySide
from gearing.messages import Message, Renderer
from gearing.messages.display import Display
from gearing.statistics.two_sides import SideChange, change_between
from gearing.study.model import Load, Period, Study, Vehicle

SIDE = SideFacts(
    amount=Amount(10, 12, 2000.0, 28.0, 12.0, 75.0),
    driven_km=2000.0,
    temperature_low_c=6.0,
    temperature_high_c=18.0,
    course_share=0.05,
    regeneration_share=0.0,
    towing_days=0,
    load_days=0,
)
LOAD = Load(
    start=datetime(2031, 1, 1, tzinfo=UTC), end=datetime(2031, 2, 1, tzinfo=UTC), mass_kg=14_000.0
)
STUDY = Study(
    name="x",
    slug="x",
    path=Path("x"),
    vehicle=Vehicle(mass_kg=12_000.0, fuel="diesel"),
    before=Period(side="before", drive_tire="245/70R19.5", tread_m=0.007, pressure_kpa=655.0),
    after=Period(side="after", drive_tire="265/70R19.5", tread_m=0.008, pressure_kpa=660.0),
    loads=(LOAD,),
)
SOUND = Facts(
    STUDY, SIDE, SIDE, shared_share=0.8, weather_covered=0.0, harder_percent=0.0, other_use_l=0.0
)


def amount(**changed: float) -> SideFacts:
    return replace(SIDE, amount=replace(SIDE.amount, **changed))


def changed(value: float, half_width: float) -> SideChange:
    found = change_between([0.0, 0.001], [0.0, 0.001])
    return replace(found, value=value, low=value - half_width, high=value + half_width)


def test_a_sound_study_is_warned_of_nothing() -> None:
    assert rules.told(SOUND) == ()


EDGES = {
    "too-few-days": ({"after": amount(days=4)}, {"after": amount(days=3)}),
    "seasons-apart": (
        {"after": replace(SIDE, temperature_low_c=18.0, temperature_high_c=28.0)},
        {"after": replace(SIDE, temperature_low_c=18.1, temperature_high_c=28.0)},
    ),
    "temperature-unknown": ({"temperature_known": 0.9}, {"temperature_known": 0.89}),
    "sensors-disagree": ({"sensors_apart_k": -1.9}, {"sensors_apart_k": -2.1}),
    "tread-unknown": ({}, {"study": replace(STUDY, after=replace(STUDY.after, tread_m=None))}),
    "speeds-differ": (
        {"after": amount(mean_speed_kmh=77.2)},
        {"after": amount(mean_speed_kmh=77.3)},
    ),
    "acceleration-differs": (
        {"harder_percent": -9.9},
        {"harder_percent": -10.0},
    ),
    "rows-seldom": (
        {"steps_s": 2.0, "logged_s": BySide(2.0, 2.0)},
        {"steps_s": 2.1, "logged_s": BySide(1.0, 2.1)},
    ),
    "fuel-missing-under-load": ({"missing_under_load": 0.049}, {"missing_under_load": 0.05}),
    "engine-otherwise": (
        {"engine": SameEngine(loaded=changed(0.0099, 0.005))},
        {"engine": SameEngine(loaded=changed(0.0101, 0.005))},
    ),
    "weight-unknown": ({}, {"study": replace(STUDY, vehicle=Vehicle(fuel="diesel"))}),
    "weight-differs": (
        {"after": replace(SIDE, load_days=1)},
        {"after": replace(SIDE, load_days=2)},
    ),
    "towing-differs": (
        {"before": replace(SIDE, towing_days=1)},
        {"before": replace(SIDE, towing_days=2)},
    ),
    "roads-not-shared": ({"shared_share": 0.3}, {"shared_share": 0.29}),
    "new-tires": (
        {"after": replace(SIDE, driven_km=1600.0)},
        {"after": replace(SIDE, driven_km=1599.0)},
    ),
    "winter-fuel": (
        {"before": amount(mean_temperature_c=0.0)},
        {"before": amount(mean_temperature_c=-0.1)},
    ),
    "regeneration": (
        {"before": replace(SIDE, regeneration_share=0.009)},
        {"before": replace(SIDE, regeneration_share=0.011)},
    ),
    "other-use": ({"other_use_l": 0.0}, {"other_use_l": 12.0}),
    "wind-unknown": (
        {"after": replace(SIDE, course_share=0.34)},
        {"after": replace(SIDE, course_share=0.36)},
    ),
    "several-changes": (
        {"study": replace(STUDY, after=replace(STUDY.after, tread_m=0.0085))},
        {"study": replace(STUDY, after=replace(STUDY.after, tread_m=0.0087))},
    ),
}


@pytest.mark.parametrize("code", EDGES)
def test_edges(code: str) -> None:
    silent, told = EDGES[code]
    assert code not in {w.code for w in rules.told(replace(SOUND, **silent))}
    found = [w for w in rules.told(replace(SOUND, **told)) if w.code == code]
    assert len(found) == 1
    # a sentence that ends, not a flag
    assert len(found[0].text) > 60
    assert found[0].text.endswith(".")


def test_every_rule_has_an_edge_tested() -> None:
    assert len(EDGES) == len(rules.RULES)


def test_a_vehicle_that_is_control_has_no_new_ones() -> None:
    """A fleet's control is split at the date the others changed; its tires are not new then."""
    before = STUDY.before
    assert before is not None
    after = replace(before, side="after", start=datetime(2026, 3, 14, tzinfo=UTC))
    driven = replace(SOUND, after=replace(SIDE, driven_km=400.0))
    assert {w.code for w in rules.told(driven)} == {"new-tires"}
    kept = replace(driven, study=replace(STUDY, after=after))
    assert rules.told(kept) == ()


def test_a_weather_file_answers_for_one_way_roads() -> None:
    one_way = replace(SOUND, after=replace(SIDE, course_share=0.9), weather_covered=0.9)
    assert "wind-unknown" not in {w.code for w in rules.told(one_way)}


def test_pressure_and_fitment_count_as_changes_too() -> None:
    soft = replace(STUDY, after=replace(STUDY.after, pressure_kpa=600.0))
    wide = replace(
        STUDY,
        before=replace(STUDY.before, fitment="dual"),
        after=replace(STUDY.after, fitment="wide-base single"),
    )
    assert "pressure" in rules.told(replace(SOUND, study=soft))[0].text
    assert "dual to wide-base single" in rules.told(replace(SOUND, study=wide))[0].text


def test_words_are_in_the_readers_units() -> None:
    cold = replace(SIDE, temperature_low_c=-9.0, temperature_high_c=2.0)
    facts = replace(
        SOUND, before=replace(cold, amount=replace(SIDE.amount, mean_temperature_c=-4.0))
    )
    told = next(w.told for w in rules.told(facts) if w.code == "seasons-apart")
    assert isinstance(told, Message)
    assert "-4 °C" in str(told)
    assert "25 °F" in Renderer(Display("us")).text(told)


@pytest.mark.parametrize(
    ("half", "claim", "warned"),
    [(2.0, -4.0, False), (2.1, -4.0, True), (1.0, None, False), (1.1, None, True)],
)
def test_seasons_beyond_half_the_claim(half: float, claim: float | None, warned: bool) -> None:
    assert (rules.seasons(half, claim) is not None) == warned
