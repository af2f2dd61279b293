"""Two sizes side by side, against published revolutions and worked arithmetic."""

from __future__ import annotations

from typing import Literal

import pytest

from gearing.analysis.sizes import SizeComparison, compare_all
from gearing.messages import GearingError
from gearing.messages.display import Display, System
from gearing.report.sizes import size_text
from gearing.results import plain
from gearing.study.tire_words import suggestion


def compared(old: str, new: str) -> SizeComparison:
    return compare_all((old, new))[0]


def as_text(old: str, new: str, units: System) -> str:
    return size_text((compared(old, new),), Display(units))


def test_change_of_the_sample_sizes() -> None:
    # by hand, UN Regulation 54 para 6.1.2 (from memory): 2 x 245 x 0.70 + 495.3 = 838.3 mm and
    # 2 x 265 x 0.70 + 495.3 = 866.3 mm; both radial, so everything is in that proportion
    change = compared("245/70R19.5", "265/70R19.5")
    assert change.old.diameter_m == pytest.approx(0.8383)
    assert change.new.diameter_m == pytest.approx(0.8663)
    assert change.odometer_factor == pytest.approx(866.3 / 838.3)
    assert change.circumference_change_percent == pytest.approx(3.3401, abs=1e-4)
    assert change.engine_speed_change_percent == pytest.approx(-3.2321, abs=1e-4)


@pytest.mark.parametrize(
    ("size", "radius_m"),
    [
        # rolling radii from makers' revolutions per mile: NREL ADVISOR documentation, Heavy
        # Vehicle Tire Rolling Resistance Information (April 2002)
        ("275/80R22.5", 0.501),
        ("275/80R22.5", 0.494),
        ("275/80R22.5", 0.489),
        ("315/80R22.5", 0.524),
        ("445/50R22.5", 0.495),
        ("445/50R22.5", 0.487),
    ],
)
def test_published_revolutions_lie_within_the_stated_limits(size: str, radius_m: float) -> None:
    published = 1000 / (2 * 3.14159265 * radius_m)
    figures = compared(size, size).old
    assert figures.revolutions_per_km_low <= published <= figures.revolutions_per_km_high


def test_limits_of_the_change_take_each_tire_at_its_own_end() -> None:
    change = compared("245/70R19.5", "265/70R19.5")
    spread = 1.025 / 0.975
    nominal = 866.3 / 838.3
    assert change.circumference_change_percent_high == pytest.approx((nominal * spread - 1) * 100)
    assert change.circumference_change_percent_low == pytest.approx((nominal / spread - 1) * 100)


def test_speeds() -> None:
    change = compared("245/70R19.5", "265/70R19.5")
    shown = [row.indicated_kmh for row in change.speeds]
    assert shown == sorted(shown)
    assert len(shown) == 9
    for row in change.speeds:
        assert row.true_kmh == pytest.approx(row.indicated_kmh * 866.3 / 838.3)


def test_no_change() -> None:
    same = compared("275/70R22.5", "275/70R22.5")
    assert same.circumference_change_percent == 0
    assert same.odometer_factor == 1
    assert same.circumference_change_percent_low < 0 < same.circumference_change_percent_high


def test_us_text() -> None:
    text = as_text("245/70R19.5", "265/70R19.5", "us")
    lines = text.splitlines()
    assert lines[0].split() == ["245/70R19.5", "265/70R19.5", "change"]
    assert lines[1].split() == ["Diameter,", "in", "33.00", "34.11", "+3.3", "%"]
    # the table value of 245/70R19.5 by 3.05 D is 629.4
    assert lines[3].split() == ["Revolutions", "per", "mile", "629", "609", "−3.2", "%"]
    assert ["true", "56.8", "62.0", "67.2", "72.3", "77.5"] in [line.split() for line in lines]
    assert "published" in text
    assert "km" not in text.replace("revolutions per mile or km", "")
    assert max(map(len, lines)) <= 92


def test_metric_text() -> None:
    text = as_text("245/70R19.5", "265/70R19.5", "metric")
    assert text.splitlines()[1].split() == ["Diameter,", "mm", "838", "866", "+3.3", "%"]
    rows = [line.split() for line in text.splitlines()]
    assert ["true", "82.7", "93.0", "103.3", "113.7"] in rows
    assert "[km/h]" in text
    assert "mph" not in text


def test_json_is_plain_and_metric() -> None:
    data = plain(compared("245/70R19.5", "11R22.5"))
    assert data["new"]["diameter_m"] == 1.05
    assert {"size", "revolutions_per_km", "rolling_circumference_m"} <= set(data["old"])


def test_cautions() -> None:
    def cautions(old: str, new: str) -> str:
        return " ".join(map(str, compared(old, new).cautions))

    assert "the new size needs other wheels" in cautions("245/70R19.5", "255/80R22.5")
    assert "The new size is wider" in cautions("245/70R19.5", "265/70R19.5")
    assert "wider" not in cautions("265/70R19.5", "245/70R19.5")
    # a smaller tire carries less, and none is told by its size
    assert "check the load index" in cautions("265/70R19.5", "225/70R19.5")
    assert "245/70-19.5 is read as a bias-ply tire" in cautions("245/70-19.5", "265/70R19.5")
    assert "rim of 19 in" in cautions("245/70R19", "265/70R19.5")


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("245/70-19.5x", "245/70R19.5"),
        ("24570R195", "245/70R19.5"),
        ("245 70 19.5", "245/70R19.5"),
        ("245-70-19,5", "245/70R19.5"),
        ("26/70R19.5", "265/70R19.5"),
        ("11 R 22 5", "11R22.5"),
        ("11R225", "11R22.5"),
        ("big", None),
        ("9" * 5000, None),
        ("", None),
    ],
)
def test_suggestions(text: str, meant: str | None) -> None:
    assert suggestion(text) == meant


def test_both_faults_are_told() -> None:
    with pytest.raises(GearingError) as caught:
        compared("245/70", "26/70R19.5")
    first, second = caught.value.problems
    assert '"245/70" is not a tire size' in first.sentence()
    assert second.remedy == "Did you mean 265/70R19.5?"


def test_published_revolutions_behind_a_size() -> None:
    # by arithmetic: 541 a mile is 541 / 1.609344 = 336.162 a km
    for text in ("275/70R22.5@541", "275/70R22.5 @ 336.162", "275/70R22.5H @541"):
        change = compare_all(("245/70R19.5", text))[0]
        assert change.new.size == "275/70R22.5"
        assert change.new.basis == "published"
        assert change.new.revolutions_per_km == pytest.approx(541 / 1.609344, abs=1e-3)
    # both published: 550 to 520 a mile is a factor of 1.05769 (arithmetic)
    both = compare_all(("275/70R22.5@550", "255/80R22.5@520"))[0]
    assert both.odometer_factor == pytest.approx(1.05769, abs=1e-5)
    assert both.circumference_change_percent_low == pytest.approx(
        100 * (1.05769 * 99 / 101 - 1), abs=1e-3
    )


@pytest.mark.parametrize("figure", ["60", "", "x", "nan", "inf", "700", "-541", "5e999"])
def test_published_revolutions_that_no_such_tire_has(figure: str) -> None:
    with pytest.raises(GearingError) as caught:
        compare_all(("245/70R19.5", f"275/70R22.5@{figure}"))
    (problem,) = caught.value.problems
    assert "near 552 a mile or 343 a km" in problem.sentence()


def test_many_sizes_each_against_the_first() -> None:
    texts = ("245/70R19.5", "265/70R19.5G", "7.50R16", "35x12.50R17LT")
    many = compare_all(texts)
    assert [one.new.size for one in many] == ["265/70R19.5", "7.50R16", "35x12.50R17"]
    for one, text in zip(many, texts[1:], strict=True):
        assert one == compared(texts[0], text)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_a_table_of_many_sizes_fits_a_terminal(units: Literal["us", "metric"]) -> None:
    many = compare_all(("245/70R19.5", "265/70R19.5", "275/70R22.5@541", "7.50R16"))
    text = size_text(many, Display(units))
    assert max(map(len, text.splitlines())) <= 80
    rows = {line.split()[0]: line.split() for line in text.splitlines() if line}
    assert rows["275/70R22.5*"][2] == ("541" if units == "us" else "336")
    assert rows["265/70R19.5"][-2:] == (["−3.2", "62.0"] if units == "us" else ["−3.2", "103.3"])
    # what is not for every size names those it is for
    assert "265/70R19.5, 275/70R22.5: The new size is wider" in text
    assert "275/70R22.5, 7.50R16: The rim diameters differ" in text
