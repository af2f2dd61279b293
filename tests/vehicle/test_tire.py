"""Tire sizes against tabulated sizes and published rolling radii."""

from __future__ import annotations

from math import pi

import pytest

from gearing.units import INCH_M, MILE_M
from gearing.vehicle.tire import (
    ROLLING_TOLERANCE_HIGH,
    ROLLING_TOLERANCE_LOW,
    parse_size,
    revolutions_after_wear,
    revolutions_at_half_wear,
)

# Nominal diameters [mm] by the law of UN Regulation 54, paragraph 6.1.2 (from memory).
NOMINAL_MM = {
    "235/80R22.5": 947.5,
    "255/80R22.5": 979.5,
    "275/70R22.5": 956.5,
    "275/80R22.5": 1011.5,
    "295/75R22.5": 1014.0,
    "295/80R22.5": 1043.5,
    "315/80R22.5": 1075.5,
    "445/50R22.5": 1016.5,
    "455/55R22.5": 1072.0,
    "385/65R22.5": 1072.0,
    "245/70R19.5": 838.3,
    "225/70R19.5": 810.3,
}

# Rolling radii [m] of truck tires, from the makers' revolutions per mile: "Heavy Vehicle Tire
# Rolling Resistance Information", NREL ADVISOR documentation, April 2002.
ROLLING_RADII_M = [
    ("275/80R22.5", 0.501),
    ("275/80R22.5", 0.494),
    ("275/80R22.5", 0.489),
    ("315/80R22.5", 0.524),
    ("445/50R22.5", 0.495),
    ("445/50R22.5", 0.487),
]


@pytest.mark.parametrize(("size", "diameter_mm"), NOMINAL_MM.items())
def test_nominal_diameter(size: str, diameter_mm: float) -> None:
    assert parse_size(size).diameter_m * 1000 == pytest.approx(diameter_mm, abs=0.5)


@pytest.mark.parametrize(("size", "radius_m"), ROLLING_RADII_M)
def test_rule_of_thumb_is_near_published_radii(size: str, radius_m: float) -> None:
    tire = parse_size(size)
    assert tire.rolling_circumference_m == pytest.approx(2 * pi * radius_m, rel=0.025)
    low, high = tire.revolutions_per_km_range
    assert low < 1000 / (2 * pi * radius_m) < high
    assert low < tire.revolutions_per_km < high
    assert low == pytest.approx(tire.revolutions_per_km / (1 + ROLLING_TOLERANCE_HIGH))
    assert high == pytest.approx(tire.revolutions_per_km / (1 + ROLLING_TOLERANCE_LOW))


# Ranges of published revolutions per mile (from memory): the rule must fall inside +-1.5 %.
@pytest.mark.parametrize(
    ("size", "low", "high"),
    [
        ("255/80R22.5", 535, 545),
        ("275/70R22.5", 540, 553),
        ("295/75R22.5", 508, 522),
        ("275/80R22.5", 508, 524),
        ("11R22.5", 493, 506),
        ("445/50R22.5", 512, 526),
        ("315/80R22.5", 482, 492),
        ("245/70R19.5", 620, 640),
        ("225/70R19.5", 640, 660),
    ],
)
def test_rule_of_thumb_falls_in_published_ranges(size: str, low: float, high: float) -> None:
    per_mile = parse_size(size).revolutions_per_km * MILE_M / 1000
    assert 0.985 * low <= per_mile <= 1.015 * high


def test_revolutions_and_circumference_agree() -> None:
    # Circumference in inches is 63,360 over revolutions per mile (definition).
    tire = parse_size("275/80R22.5")
    inches = tire.rolling_circumference_m / INCH_M
    assert 63360 / inches == pytest.approx(tire.revolutions_per_km * MILE_M / 1000, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "same_as"),
    [
        ("245/70 R 19.5", "245/70R19.5"),
        (" 245/70r19.5 ", "245/70R19.5"),
        ("245/70R19,5 136/134M", "245/70R19.5"),
        ("LT245/75R16 E", "245/75R16"),
        ("225/75R16C", "225/75R16"),
        ("11 R 22.5 LR G", "11R22.5"),
        ("10.00R20", "10.00R20"),
        ("385/65R22.5 160K", "385/65R22.5"),
        ("225/70R19.5G", "225/70R19.5"),
        ("225/70 R 19.5 LR G", "225/70R19.5"),
        ("295/75R22.5 144/141L", "295/75R22.5"),
        ("LT245/75R16E", "245/75R16"),
        ("11R22.5LRH", "11R22.5"),
        ("7.50R16LT", "7.50R16"),
        ("7.50R16C 122/118N", "7.50R16"),
        ("35x12.50R17LT", "35x12.50R17"),
        ("35 X 12,50 R 17 LT", "35x12.50R17"),
        ("35\N{MULTIPLICATION SIGN}12.50R17", "35x12.50R17"),
    ],
)
def test_sizes_as_people_write_them(text: str, same_as: str) -> None:
    tire = parse_size(text)
    assert tire.designation == same_as
    assert tire == parse_size(same_as)


def test_flotation_sizes_name_their_diameter() -> None:
    # Trade tables (from memory): such tires measure 34.5 to 35 in; a published range of
    # revolutions per mile is 588 to 607.
    tire = parse_size("35x12.50R17LT")
    assert tire.diameter_m / INCH_M == pytest.approx(35)
    assert tire.section_width_m / INCH_M == pytest.approx(12.5)
    low, high = (one * MILE_M / 1000 for one in tire.revolutions_per_km_range)
    assert low < 588
    assert high > 607
    with pytest.raises(ValueError, match="no road tire is that size"):
        parse_size("35x12.50R40")


@pytest.mark.parametrize("rim", ["15", "16"])
@pytest.mark.parametrize("width", ["7.00", "7.50", "8.25"])
def test_inch_sizes_of_one_width_differ_by_their_rims(width: str, rim: str) -> None:
    # Of one section width the tables (UN Regulation 54 Annex V, from memory) give nearly one
    # section height, whatever the rim.
    height = parse_size(f"{width}R{rim}").diameter_m * 1000 - float(rim) * 25.4
    other = parse_size(f"{width}R16").diameter_m * 1000 - 16 * 25.4
    assert height == pytest.approx(other, abs=7)
    assert 2 * 0.85 * float(width) * 25.4 < height < 2 * 1.1 * float(width) * 25.4


def test_inch_size_is_looked_up_not_ruled() -> None:
    # 11 in x 0.90 x 2 + 22.5 in = 42.3 in by the rule some use; listed sizes are 41.3 to 41.5 in
    # (UN Regulation 54 Annex V, from memory).
    diameter_in = parse_size("11R22.5").diameter_m / INCH_M
    assert 41.3 <= diameter_in <= 41.5


@pytest.mark.parametrize("text", ["10.00-20", "245/70-19.5"])
def test_bias_ply_rolls_less_far(text: str) -> None:
    bias, radial = parse_size(text), parse_size(text.replace("-", "R"))
    assert bias.construction == "bias"
    assert bias.revolutions_per_km / radial.revolutions_per_km == pytest.approx(3.05 / 2.99)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "  ",
        "big ones",
        "245/70",
        "R22.5",
        "24570R195",
        "245/70R195",
        "999/70R22.5",
        "245/05R19.5",
    ],
)
def test_what_is_no_size_is_refused_in_words(text: str) -> None:
    with pytest.raises(ValueError, match="tire size"):
        parse_size(text)


def test_unknown_inch_size_says_what_to_give() -> None:
    with pytest.raises(ValueError, match="revolutions_per_mile"):
        parse_size("14R22.5")


def test_wear_shortens_the_radius_one_for_one() -> None:
    # 8 mm of tread on a radius of 490 mm is 1.6 %; 11.1 mm on 490 mm is 2.3 % (arithmetic).
    turns = 1000 / (2 * pi * 0.490)
    assert revolutions_after_wear(turns, 0.008) / turns == pytest.approx(490 / 482)
    assert revolutions_after_wear(turns, 0.0) == turns
    half = revolutions_at_half_wear(turns)
    assert turns < half < revolutions_after_wear(turns, 14 / 32 * INCH_M)
    assert 1000 / (2 * pi * half) == pytest.approx(0.490 - 7 / 32 * INCH_M)
