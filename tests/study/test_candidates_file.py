"""`[[candidate]]` tables: what they hold, and each fault by its words."""

from __future__ import annotations

import pytest

from gearing.messages import GearingError
from gearing.study import load_study
from gearing.study.candidates import MAX_CANDIDATES

THREE = """
[[candidate]]
name = "275 with the tall axle"
drive_tire = "275/70R19.5G 143/141M"
axle_ratio = 4.56

[[candidate]]
name = "by its figure"
revolutions_per_mile = 598

[[candidate]]
name = "axle alone"
axle_ratio = 5.13
"""


def test_candidates_come_out_as_written(write, example) -> None:
    first, second, third = load_study(write(example + THREE)).candidates
    assert (first.drive_tire, first.axle_ratio) == ("275/70R19.5G 143/141M", 4.56)
    assert first.revolutions_per_km is None
    # 598 a mile over 1.609344 km (NIST SP 811)
    assert second.revolutions_per_km == pytest.approx(598 / 1.609344)
    assert (second.drive_tire, second.axle_ratio) == (None, None)
    assert (third.name, third.axle_ratio) == ("axle alone", 5.13)


def test_a_study_names_none_by_itself(write, example) -> None:
    assert load_study(write(example)).candidates == ()


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("axle_ratio = 5.13", "[[candidate]] 1 has no name."),
        ('name = "x"\ndrive_tire = "245/70"', 'drive_tire: "245/70" is not a tire size'),
        ('name = "x"\ndrive_tire = "26/70R19.5"', "Did you mean 265/70R19.5?"),
        ('name = "x"\ndrive_tire = "14R22.5"', "give revolutions_per_mile for it"),
        ('name = "x"\nrevolutions_per_mile = 20', "is not plausible"),
        ('name = "x"\naxle_ratio = 0.5', "is not plausible"),
        ('name = "x"\naxle_ratio = "4.56"', "a number without quotes"),
        ('name = "x"\naxle_ratios = 4.56', "Did you mean axle_ratio?"),
        ('name = "x"\nlogs = ["a.csv"]', '"logs" is not a key of [[candidate]] 1'),
        (
            'name = "x"\ndrive_tire = "275/70R19.5"\nrevolutions_per_mile = 372',
            "is far from the",
        ),
        (
            'name = "x"\nrevolutions_per_mile = 598\nrevolutions_per_km = 372',
            "are both given",
        ),
        ('name = "x"\n[[candidate]]\nname = "x"', "names two candidates"),
    ],
)
def test_each_fault_is_told(write, example, table: str, words: str) -> None:
    with pytest.raises(GearingError) as caught:
        load_study(write(f"{example}\n[[candidate]]\n{table}\n"))
    assert words in str(caught.value)


def test_an_inch_size_outside_the_table_passes_with_its_figure(write, example) -> None:
    table = '[[candidate]]\nname = "x"\ndrive_tire = "14R22.5"\nrevolutions_per_mile = 480\n'
    (one,) = load_study(write(f"{example}\n{table}")).candidates
    assert one.drive_tire == "14R22.5"


def test_more_than_can_be_driven_are_refused(write, example) -> None:
    def tables(count: int) -> str:
        return example + "".join(
            f'\n[[candidate]]\nname = "{number}"\naxle_ratio = 4.{number + 10}\n'
            for number in range(count)
        )

    assert len(load_study(write(tables(MAX_CANDIDATES))).candidates) == MAX_CANDIDATES
    with pytest.raises(GearingError) as caught:
        load_study(write(tables(MAX_CANDIDATES + 1)))
    assert "no more than 24 candidates are compared at once" in str(caught.value)


def test_brakes_and_axles_are_read(write, example) -> None:
    declared = 'combination = true\naxles = 5\nbrakes = "drum"\n'
    vehicle = load_study(write(example.replace("[vehicle]\n", f"[vehicle]\n{declared}"))).vehicle
    assert (vehicle.combination, vehicle.axles, vehicle.brakes) == (True, 5, "drum")
    with pytest.raises(GearingError) as caught:
        load_study(write(example.replace("[vehicle]\n", '[vehicle]\nbrakes = "drums"\n')))
    assert 'Did you mean "drum"?' in str(caught.value)
