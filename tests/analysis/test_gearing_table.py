"""Engine speed by gear and road speed, against the worked example of a regulation."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from gearing.analysis.gearing_table import GearingTable, gearing_table
from gearing.messages import GearingError
from gearing.messages.display import Display, System
from gearing.report.gear_table import gear_table
from gearing.results import plain
from gearing.study.model import Engine, Period, Study, Vehicle
from gearing.units import MILE_M

BEFORE = Period(side="before", drive_tire="245/70R19.5", revolutions_per_km=628 / MILE_M * 1000)
AFTER = Period(side="after", drive_tire="265/70R19.5", revolutions_per_km=608 / MILE_M * 1000)
RATIOS = (3.51, 1.91, 1.43, 1.00, 0.74, 0.64)


def as_text(table: GearingTable, units: System) -> str:
    return gear_table(table, Display(units))


def study(before: Period | None, after: Period | None, **vehicle: object) -> Study:
    declared: dict = {"axle_ratio": 4.88, "gear_ratios": RATIOS} | vehicle
    return Study(
        name="x",
        slug="x",
        path=Path("study.toml"),
        before=before,
        after=after,
        vehicle=Vehicle(**declared),
    )


@pytest.fixture
def table() -> GearingTable:
    return gearing_table(study(BEFORE, AFTER))


def test_worked_example_of_the_regulation() -> None:
    # 40 CFR 1036.540(c)(3)(i): 1870 rpm at 65 mph in a top gear of 0.61 with axle ratio 4.0
    # belongs to a tire of 0.4396 revolutions a metre
    period = Period(side="before", drive_tire="275/80R22.5", revolutions_per_km=439.6)
    declared = study(period, None, axle_ratio=4.0, gear_ratios=(0.61,))
    (row,) = gearing_table(declared).gears
    assert row.before is not None
    assert 1000 * 65 * 1.609344 / row.before.kmh_per_1000_rpm == pytest.approx(1870, abs=0.5)


def test_sixty_is_a_mile_a_minute(table: GearingTable) -> None:
    top = table.gears[-1]
    assert top.before is not None
    at_60 = 1000 * 60 * 1.609344 / top.before.kmh_per_1000_rpm
    assert at_60 == pytest.approx(628 * 4.88 * 0.64)
    assert top.before.engine_revolutions_per_km == pytest.approx(628 * 4.88 * 0.64 / 1.609344)
    assert top.before.engine_rpm[table.speeds_kmh.index(120)] == pytest.approx(
        120 / 60 * top.before.engine_revolutions_per_km
    )


def test_what_restores(table: GearingTable) -> None:
    assert table.engine_speed_change_percent == pytest.approx((608 / 628 - 1) * 100)
    assert table.effective_axle_ratio == pytest.approx(4.88 * 608 / 628)
    assert table.restoring_axle_ratio == pytest.approx(4.88 * 628 / 608)
    assert table.restoring_axle_ratio is not None
    restored = gearing_table(study(BEFORE, AFTER, axle_ratio=table.restoring_axle_ratio))
    for old, new in zip(table.gears, restored.gears, strict=True):
        assert old.before is not None
        assert new.after is not None
        assert new.after.engine_rpm == pytest.approx(old.before.engine_rpm)


def test_basis_is_named() -> None:
    by_size = Period(side="after", drive_tire="265/70R19.5")
    table = gearing_table(study(BEFORE, by_size))
    assert table.before is not None
    assert table.after is not None
    assert (table.before.basis, table.after.basis) == ("published", "size")
    # 3.05 x 866.3 mm a turn
    assert table.after.revolutions_per_km == pytest.approx(1e6 / (3.05 * 866.3))
    (warning,) = table.warnings
    assert warning.code == "mixed-basis"
    assert "Give revolutions_per_mile in [after] too." in warning.text
    assert gearing_table(study(BEFORE, AFTER)).warnings == ()


def test_text(table: GearingTable) -> None:
    lines = as_text(table, "us").splitlines()
    assert lines[0] == "Before  245/70R19.5, 628 revolutions per mile (published)"
    assert ["gear", "1", "2", "3", "4", "5", "6"] in [line.split() for line in lines]
    at_sixty = next(line for line in lines if line.startswith("60 mph before"))
    assert at_sixty.split()[-1] == "1961"  # 628 x 4.88 x 0.64
    assert "The axle ratio of 4.88 now acts as 4.72; an axle ratio of 5.04 would" in "\n".join(
        lines
    )
    assert "km/h" in as_text(table, "metric")
    assert "mph" not in as_text(table, "metric")


def test_text_leaves_out_what_the_engine_cannot_turn() -> None:
    engine = Engine(rpm=(800, 2400), torque_nm=(800, 900), governed_rpm=2500)
    text = as_text(gearing_table(study(BEFORE, AFTER, engine=engine)), "us")
    rows = [x.split() for x in text.splitlines() if x.split()[1:3] == ["mph", "before"]]
    first = [row[3] for row in rows]
    assert first == ["1793"] + ["-"] * 9  # 628 x 4.88 x 3.51 / 6 at 10 mph
    assert "- is above the governed 2,500 rpm." in text


@pytest.mark.parametrize(
    ("vehicle", "highest", "words"),
    [
        # common practice, no source: no road diesel turns at 5,000 rpm, no such engine at 7,000
        ({"fuel": "diesel"}, 5000, "declare torque_curve and governed_rpm in [vehicle.engine]"),
        ({}, 7000, "declare torque_curve and governed_rpm in [vehicle.engine]"),
        ({"engine": Engine(rpm=(800, 2400), torque_nm=(800, 900))}, 2400, "torque curve ends"),
    ],
)
def test_no_figure_no_engine_turns_at(
    vehicle: dict[str, object], highest: float, words: str
) -> None:
    table = gearing_table(study(BEFORE, AFTER, **vehicle))
    assert table.highest_rpm == highest
    first, top = table.gears[0].before, table.gears[-1].before
    assert first is not None
    assert top is not None
    # 628 x 4.88 x 3.51 = 10,757 turns a mile: 13,363 rpm at 120 km/h
    assert first.engine_rpm[-1] is None
    assert first.engine_rpm[0] == pytest.approx(10_756.9 * 15 / 1.609344 / 60, abs=0.5)
    assert top.engine_rpm[-2] == pytest.approx(628 * 4.88 * 0.64 * 110 / 1.609344 / 60)
    units: System
    for units in ("us", "metric"):
        text = as_text(table, units)
        rows = [x.split() for x in text.splitlines() if " before " in x or " after " in x]
        assert len(rows) == 2 * (1 + 10)  # speed at 1000 rpm, and ten speeds
        cells = [cell for row in rows for cell in row[-6:]]
        assert "-" in cells
        assert all(float(cell) <= highest for cell in cells if cell != "-")
        assert words in " ".join(text.split())
        assert f"- is above {highest:,} rpm" in text


def test_one_period_alone() -> None:
    table = gearing_table(study(None, AFTER))
    assert table.restoring_axle_ratio is None
    text = as_text(table, "us")
    assert "Declare both [before] and [after]" in text
    assert "before" not in text.splitlines()[6]
    assert plain(table)["before"] is None


def test_what_is_missing_is_named() -> None:
    with pytest.raises(GearingError) as caught:
        gearing_table(study(BEFORE, AFTER, axle_ratio=None, gear_ratios=()))
    words = [problem.sentence() for problem in caught.value.problems]
    assert "needs axle_ratio in [vehicle]. Add the maker's figures, as in axle" in words[0]
    assert "needs gear_ratios in [vehicle]." in words[1]


def test_another_axle_after_the_change_counts_with_the_tires(table: GearingTable) -> None:
    """Engine speed at one road speed goes with axle ratio times revolutions a km: 4.56 in place of
    4.88 turns the engine 6.56 % slower by itself (arithmetic)."""
    other = gearing_table(study(BEFORE, replace(AFTER, axle_ratio=4.56)))
    assert other.engine_speed_change_percent == pytest.approx(100 * (608 / 628 * 4.56 / 4.88 - 1))
    assert other.effective_axle_ratio == pytest.approx(4.56 * 608 / 628)
    assert other.restoring_axle_ratio == table.restoring_axle_ratio
