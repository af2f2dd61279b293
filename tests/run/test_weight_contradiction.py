"""Weight, fuel or torque curve declared wrong: named, and what rests on it withheld.

That pounds are taken for kilograms and a torque curve is copied in another unit is common
practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from sample_study import sample_copy

import gearing
from gearing.results.record import Results

pytestmark = pytest.mark.drill

HALF = (217, 273, 320, 330, 330, 321, 307, 290, 270, 236)  # lbf ft, half the sample's
CODE = "declared-contradicts-logs"


@pytest.fixture(scope="module")
def analyzed(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, str], Results]:
    """Results of the sample with one line of its study changed; its logs are read once."""
    folder = tmp_path_factory.mktemp("weight") / "logs"
    study = sample_copy(folder)
    whole = study.read_text(encoding="utf-8")

    def made(pattern: str, new: str) -> Results:
        text, count = re.subn(pattern, new, whole)
        assert count
        study.write_text(text, encoding="utf-8")
        return gearing.analyze(study, jobs=1)

    return made


@pytest.mark.parametrize(
    ("pattern", "new"),
    [
        ('mass = "26500 lb"', 'mass = "26500 kg"'),
        pytest.param('mass = "26500 lb"', 'mass = "12000 lb"', marks=pytest.mark.drill),
        pytest.param('fuel = "diesel"', 'fuel = "gasoline"', marks=pytest.mark.drill),
    ],
)
def test_a_weight_that_no_engine_could_move_on_this_fuel(
    analyzed: Callable[[str, str], Results], pattern: str, new: str
) -> None:
    results = analyzed(pattern, new)
    (told,) = [one for one in results.warnings if one.code == CODE]
    assert told.keys == ("vehicle.mass", "vehicle.fuel")
    assert results.fuel.verdict == "cannot tell yet"
    assert "vehicle.mass" in str(results.fuel.verdict_why)
    assert {route.verdict for route in results.routes} == {"cannot tell yet"}
    assert all(route.before is None for route in results.routes)
    # speed and gearing do not rest on it
    assert results.speed.odometer_factor.after.value == pytest.approx(1.0315, abs=0.001)
    assert results.final_drive.change_percent.value == pytest.approx(-3.48, abs=0.05)


@pytest.mark.drill
def test_half_the_torque_curve(analyzed: Callable[[str, str], Results]) -> None:
    """As where the sheet of the smaller engine was at hand."""
    curve = "[" + ", ".join(f'"{torque} lbf*ft"' for torque in HALF) + "]"
    results = analyzed(r"torque = \[[^\]]*\]", f"torque = {curve}")
    told = [one for one in results.warnings if one.code == CODE]
    assert [one.keys for one in told] == [("vehicle.engine.torque_curve", "vehicle.mass")]
    assert {route.verdict for route in results.routes} == {"cannot tell yet"}
    assert results.fuel.verdict == "some saving, size unsettled"  # does not rest on the curve


@pytest.mark.drill
def test_a_weight_a_tenth_off_is_not_called_impossible(
    analyzed: Callable[[str, str], Results],
) -> None:
    for mass in ("24000 lb", "29000 lb"):
        results = analyzed('mass = "26500 lb"', f'mass = "{mass}"')
        assert not [one for one in results.warnings if one.code == CODE]
