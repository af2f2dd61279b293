"""Vehicles pooled and read against controls: arithmetic, words, and simulated fleets."""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.meta_analysis import combine_effects

from gearing.analysis.fleet import log_change, pool, tempered
from gearing.analysis.fleet_vehicle import VehicleFigures, vehicle_figures
from gearing.messages import message
from gearing.results import plain
from gearing.statistics.estimate import Estimate, unknown

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "simulation"))

from fleet_study import run
from fleet_world import CELLS


def vehicle(
    name: str,
    value: float | None,
    half: float = 2.0,
    *,
    control: bool = False,
    days: int = 30,
    **more: object,
) -> VehicleFigures:
    """One vehicle; `half` is the interval's half width in hundredths of the logarithm."""
    change = unknown("it has no fuel data")
    if value is not None:
        log = math.log1p(value / 100)
        low, high = (100 * math.expm1(log + sign * half / 100) for sign in (-1, 1))
        change = Estimate(value, low, high, days, "t")
    return VehicleFigures(
        name=name,
        role="control" if control else "changed",
        change_percent=change,
        basis="adjusted",
        final_drive_change_percent=unknown("-"),
        odometer_factor_after=unknown("-"),
        **more,
    )


CHANGED = [vehicle(f"bus {i}", value) for i, value in enumerate([-4.0, -2.5, -3.1, -3.4, -2.0])]
CONTROLS = [vehicle(f"van {i}", v, control=True) for i, v in enumerate([1.2, 0.4, 0.9])]


def test_alike_vehicles_make_students_t() -> None:
    """With the same errors and days for all, the weights are equal and the answer is the textbook
    one: one sample, and two samples of one variance (Student 1908)."""
    finding = pool("f", [*CHANGED, *CONTROLS])
    logs = [
        np.log1p(np.array([v.change_percent.value for v in g]) / 100) for g in (CHANGED, CONTROLS)
    ]
    one = stats.ttest_1samp(logs[0], 0).confidence_interval(0.95)
    assert finding.fuel.pooled.low == pytest.approx(100 * math.expm1(one.low), rel=1e-9)
    assert finding.fuel.pooled.high == pytest.approx(100 * math.expm1(one.high), rel=1e-9)
    two = stats.ttest_ind(logs[0], logs[1]).confidence_interval(0.95)
    assert finding.fuel.difference.low == pytest.approx(100 * math.expm1(two.low), rel=1e-9)
    assert finding.fuel.difference.high == pytest.approx(100 * math.expm1(two.high), rel=1e-9)
    assert finding.fuel.answer == finding.fuel.difference
    assert finding.fuel.difference.n == 8


UNLIKE = [(-2.2, 1.0, 60), (-2.0, 3.0, 12), (-2.4, 2.0, 20), (-2.3, 2.0, 25)]
UNLIKE_CONTROLS = [(0.5, 1.5, 40), (0.7, 2.5, 10), (0.3, 1.0, 30)]


def test_unlike_vehicles_are_weighed_as_weighted_least_squares_does() -> None:
    vehicles = [vehicle("bus", v, half, days=days) for v, half, days in UNLIKE]
    vehicles += [vehicle("van", v, h, days=days, control=True) for v, h, days in UNLIKE_CONTROLS]
    finding = pool("f", vehicles)
    figures = [log_change(v) for v in vehicles]
    days = [float(v.change_percent.n or 0) for v in vehicles]
    errors = tempered([own for _, own, _ in figures], days)
    x = sm.add_constant(np.array([1.0] * 4 + [0.0] * 3))
    # these agree within their errors: nothing is between the vehicles
    other = sm.WLS([value for value, _, _ in figures], x, weights=1 / np.array(errors) ** 2).fit()
    low, high = other.conf_int()[1]
    found = finding.fuel.difference
    assert found.value == pytest.approx(100 * math.expm1(other.params[1]), rel=1e-6)
    assert found.low == pytest.approx(100 * math.expm1(low), rel=1e-6)
    assert found.high == pytest.approx(100 * math.expm1(high), rel=1e-6)


def test_few_vehicles_agreeing_by_chance_are_no_certainty() -> None:
    twins = [vehicle("a", -2.0), vehicle("b", -2.0), vehicle("c", 0.0, control=True)]
    found = pool("f", twins).fuel.difference
    # two hundredths of the logarithm each, one vehicle against the mean of two
    error = 0.02 / 2.048 * math.sqrt(1 + 1 / 2)
    assert found.value == pytest.approx(-2.0)
    width = math.log1p(found.high / 100) - math.log1p(found.low / 100)
    assert width == pytest.approx(2 * 1.96 * error, rel=1e-3)


def test_weights_add_up() -> None:
    finding = pool("f", [*CHANGED, *CONTROLS, vehicle("bus 9", None)])
    weights = {v.name: v.weight for v in finding.vehicles}
    assert sum(w for w in weights.values() if w is not None) == pytest.approx(1)
    assert weights["van 0"] is None
    assert weights["bus 9"] is None


def test_interval_of_an_estimate_comes_back_as_its_error() -> None:
    # t quantile 0.975 at 28 degrees of freedom is 2.048 (any table of Student's t)
    value, own, shared = log_change(vehicle("a", 0.0, 2.0))
    assert value == 0
    assert own == pytest.approx(0.02 / 2.048, rel=3e-4)
    assert shared == 0


def test_what_vehicles_share_is_not_narrowed_by_their_number() -> None:
    alone = pool("f", [vehicle(f"{i}", -3.0 + 0.1 * (i % 3), 3.0) for i in range(30)])
    sharing = pool(
        "f", [vehicle(f"{i}", -3.0 + 0.1 * (i % 3), 3.0, shared_points=1.0) for i in range(30)]
    )
    assert alone.fuel.pooled.high - alone.fuel.pooled.low < 0.2
    # 1.96 standard deviations of one point each way
    width = sharing.fuel.pooled.high - sharing.fuel.pooled.low
    assert width == pytest.approx(2 * 1.96, rel=0.03)


def test_errors_of_few_days_are_drawn_to_their_count() -> None:
    assert tempered([0.02] * 3, [10] * 3) == pytest.approx([0.02] * 3)
    few = tempered([0.02, 0.02, 0.005], [10, 10, 10])
    many = tempered([0.02, 0.02, 0.005], [400, 400, 400])
    assert 0.005 < many[2] < few[2] < 0.02
    assert tempered([0.02, 0.02, 50.0], [10, 10, 10])[2] < 0.06


def test_verdict_of_a_fleet() -> None:
    assert pool("f", [*CHANGED, *CONTROLS], claim_percent=-4).fuel.verdict == "supported"
    one = pool("f", CHANGED[:1], claim_percent=-4).fuel
    assert (one.verdict, one.pooled.n) == ("cannot tell yet", 1)
    assert one.verdict_why == message("fleet-of-one")
    none = pool("f", [vehicle("a", None)]).fuel
    assert none.verdict is None
    assert none.verdict_why == message("fleet-none/changed")


def test_seasons_without_controls_hold_the_verdict_back() -> None:
    seasonal = [vehicle(f"bus {i}", -3.0 - i / 10, seasons=True) for i in range(5)]
    held = pool("f", seasonal).fuel
    assert held.verdict == "cannot tell yet"
    assert held.verdict_why == message("fleet-season-unknown")
    assert pool("f", [*seasonal, *CONTROLS]).fuel.verdict == "less fuel"


def codes(*vehicles: VehicleFigures) -> list[str]:
    return [warning.code for warning in pool("f", vehicles).warnings]


def test_warnings() -> None:
    assert codes(*CHANGED, *CONTROLS) == []
    assert codes(*CHANGED) == ["no-controls"]
    assert codes(*CHANGED, *CONTROLS[:2]) == ["few-controls"]
    assert codes(*CHANGED, *CONTROLS, vehicle("bus 9", None)) == ["left-out"]
    unlike = [vehicle(f"{i}", v, 0.5) for i, v in enumerate([-8, -1, -4, 2, -6])]
    assert codes(*unlike, *CONTROLS) == ["vehicles-differ"]
    assert codes(CHANGED[0], CHANGED[0], CHANGED[1], *CONTROLS) == ["same-figures"]
    summer = [vehicle(f"{i}", -3 - i / 9, temperature_change_k=12.0) for i in range(4)]
    winter = [vehicle(f"{i}", i / 9, control=True, temperature_change_k=6.0) for i in range(3)]
    assert codes(*summer, *winter) == ["controls-other-season"]


@pytest.mark.parametrize(
    ("low", "value", "high", "told"),
    [
        (-3.6, -3.5, -3.4, True),
        (1.4, 1.5, 1.6, True),
        (-1.5, -1.4, -1.3, False),  # wear
        (-4.0, -1.9, 0.1, False),  # not seen for sure
    ],
)
def test_a_control_with_new_tires_is_told(
    low: float, value: float, high: float, *, told: bool
) -> None:
    drive = Estimate(value, low, high, 8, "test")
    other = replace(vehicle("van 9", -3.0, control=True), final_drive_change_percent=drive)
    assert (codes(*CHANGED, other, *CONTROLS) == ["control-changed"]) is told
    # and what it burns on its new tires is nothing the season did
    without = pool("f", [*CHANGED, *CONTROLS]).fuel.difference
    assert (pool("f", [*CHANGED, other, *CONTROLS]).fuel.difference == without) is told
    moved = replace(CHANGED[0], final_drive_change_percent=drive)
    assert codes(moved, *CHANGED[1:], *CONTROLS) == []


def test_a_vehicle_with_new_tires_that_no_log_shows_is_told() -> None:
    sizes = {side: {"drive_tire": size} for side, size in (("before", "a"), ("after", "b"))}
    unseen = {"code": "no-tire-change-seen", "text": "", "trips": []}
    kept = vehicle_figures(RESULTS | {"declared": sizes, "warnings": [unseen]}, "changed")
    assert codes(kept, *CHANGED, *CONTROLS) == ["no-change-seen"]
    # tires of the old size, which roll easier say, cannot be seen by their turns
    alike = {side: {"drive_tire": "a"} for side in sizes}
    same = vehicle_figures(RESULTS | {"declared": alike, "warnings": [unseen]}, "changed")
    assert codes(same, *CHANGED, *CONTROLS) == []


def test_words_of_the_warnings() -> None:
    finding = pool("f", [*CHANGED, vehicle("bus 9", None)])
    left_out, no_controls = (warning.text for warning in finding.warnings)
    assert left_out == "bus 9 is not in the fleet's figure: it has no fuel data."
    assert no_controls.startswith("No vehicle was left as it was.")
    silent = pool("f", [*CHANGED, vehicle("van 9", None, control=True)])
    assert silent.warnings[1].text.startswith("No control tells anything.")


def test_pooling_as_another_implementation_does() -> None:
    """statsmodels: the variance between vehicles by Paule and Mandel, and the weights from it."""
    unlike = [vehicle(f"{i}", v, 1.0) for i, v in enumerate([-8, -1, -4, 2, -6])]
    figures = np.array([log_change(v)[:2] for v in unlike])
    other = combine_effects(figures[:, 0], figures[:, 1] ** 2, method_re="iterated", use_t=True)
    fuel = pool("f", unlike).fuel
    assert fuel.between_percent == pytest.approx(100 * math.sqrt(other.tau2), rel=1e-4)
    assert fuel.heterogeneity_percent == pytest.approx(100 * other.i2, rel=1e-6)
    assert fuel.pooled.value == pytest.approx(100 * math.expm1(other.mean_effect_re), rel=1e-4)
    # Knapp and Hartung's interval, statsmodels' "HKSJ"
    half = stats.t.ppf(0.975, 4) * other.sd_eff_w_re_hksj
    assert fuel.pooled.high == pytest.approx(
        100 * math.expm1(other.mean_effect_re + half), rel=1e-4
    )


def test_a_lone_control_is_no_better_known_than_its_own_study_says() -> None:
    """The others agreeing with each other says nothing of it."""
    for count in (3, 5, 8):
        changed = [vehicle(f"bus {i}", -3.0 + 0.1 * i, 1.0) for i in range(count)]
        lone = vehicle("van", -10.0, 30.0, control=True)
        fuel = pool("f", [*changed, lone]).fuel
        width = math.log1p(fuel.difference.high / 100) - math.log1p(fuel.difference.low / 100)
        # 1.96 standard errors of 30/2.048 hundredths: the normal law with its own error
        assert width >= 2 * 1.959 * 0.30 / 2.049
        assert fuel.verdict == "cannot tell yet"


def test_a_vehicle_hardly_known_does_not_differ() -> None:
    known = [vehicle(f"bus {i}", v, 1.0) for i, v in enumerate([-3.0, -3.5, -2.5])]
    hardly = vehicle("bus 9", 20.0, 40.0)
    found = pool("f", [*known, hardly, *CONTROLS])
    assert [w.code for w in found.warnings] == ["hardly-known"]
    assert found.warnings[0].text.startswith("bus 9 is known far less well than the others: ")
    assert found.fuel.heterogeneity_percent < 25
    assert found.fuel.answer.low <= -3.0 <= found.fuel.answer.high


def test_one_vehicle_more_is_a_textbook_prediction() -> None:
    """Of one further observation: the mean and t times s times the root of 1 + 1/n (Student)."""
    fuel = pool("f", CHANGED).fuel
    logs = [log_change(v)[0] for v in CHANGED]
    other = sm.OLS(logs, np.ones(len(logs))).fit().get_prediction([1.0]).summary_frame(0.05)
    assert math.log1p(fuel.vehicle_low / 100) == pytest.approx(other["obs_ci_lower"][0], rel=1e-6)
    assert math.log1p(fuel.vehicle_high / 100) == pytest.approx(other["obs_ci_upper"][0], rel=1e-6)
    two = pool("f", CHANGED[:2]).fuel
    assert (two.vehicle_low, two.vehicle_high) == (None, None)


def test_one_vehicle_more() -> None:
    unlike = [vehicle(f"{i}", v, 0.5) for i, v in enumerate([-8, -1, -4, 2, -6])]
    fuel = pool("f", unlike).fuel
    assert fuel.vehicle_low is not None
    assert fuel.pooled.low is not None
    assert fuel.vehicle_low < fuel.pooled.low
    assert fuel.between_percent == pytest.approx(4.0, rel=0.25)  # their own standard deviation
    assert fuel.heterogeneity_percent is not None
    assert fuel.heterogeneity_percent > 95


def test_one_vehicle_more_is_no_surer_than_all_together() -> None:
    """What physics leaves open they share: it narrows with no count of them, nor for the next."""
    alike = [replace(v, shared_points=1.0) for v in CHANGED]
    alone = pool("f", alike).fuel
    assert alone.pooled.low is not None
    assert alone.vehicle_low is not None
    assert alone.vehicle_low < alone.pooled.low
    # beside controls it is the tires' own change that is expected, without the season
    beside = pool("f", [*alike, *CONTROLS]).fuel
    assert beside.difference.low is not None
    assert beside.difference.high is not None
    assert beside.vehicle_low is not None
    assert beside.vehicle_high is not None
    middle = (beside.difference.low + beside.difference.high) / 2
    assert (beside.vehicle_low + beside.vehicle_high) / 2 == pytest.approx(middle, abs=0.05)
    assert beside.vehicle_low <= beside.difference.low + 0.01


RESULTS = {
    "name": "bookmobile",
    "fuel": {
        "change_percent": {
            "adjusted": {"value": -3.0, "low": -5.0, "high": -1.0, "n": 24, "method": "days"},
            "matched": {"value": -2.0, "low": -6.0, "high": 2.0, "n": 20, "method": "pairs"},
        },
        "verdict": "supported",
        "physics_half_width_percent": 1.96,
        "sides": {
            "before": {"mean_temperature_c": 2.0},
            "after": {"mean_temperature_c": 17.5},
        },
    },
    "final_drive": {"change_percent": {"value": -3.2, "low": -3.3, "high": -3.1, "n": 20}},
    "speed": {"odometer_factor": {"after": {"value": None, "why": "no GPS"}}},
    "trips": [{"true_km": 40.0}, {"true_km": 60.5}, {"true_km": None}],
    "warnings": [{"code": "seasons", "text": "", "trips": []}],
}


def test_figures_of_a_vehicle_from_its_results() -> None:
    figures = vehicle_figures(RESULTS, "changed")
    assert figures.name == "bookmobile"
    assert figures.change_percent == Estimate(-3.0, -5.0, -1.0, 24, "days")
    assert (figures.basis, figures.verdict, figures.seasons) == ("adjusted", "supported", True)
    assert figures.shared_points == pytest.approx(1.0, rel=1e-4)
    assert figures.temperature_change_k == 15.5
    assert figures.true_km == 100.5
    assert figures.final_drive_change_percent.value == -3.2
    assert figures.odometer_factor_after.why == "no GPS"


def test_matched_stands_in_for_adjusted() -> None:
    fuel = RESULTS["fuel"] | {
        "change_percent": RESULTS["fuel"]["change_percent"]
        | {"adjusted": {"value": None, "why": "no temperature"}}
    }
    figures = vehicle_figures(RESULTS | {"fuel": fuel}, "control", name="van")
    assert (figures.name, figures.basis, figures.change_percent.value) == ("van", "matched", -2.0)


def test_a_trailer_on_one_side_leaves_nothing_to_stand_in() -> None:
    why = "A trailer was towed on 0 days before and 14 after."
    changes = RESULTS["fuel"]["change_percent"] | {"adjusted": {"value": None, "why": why}}
    towed = RESULTS | {
        "fuel": RESULTS["fuel"] | {"change_percent": changes},
        "warnings": [{"code": "towing-differs", "text": why}],
    }
    figures = vehicle_figures(towed, "changed")
    assert figures.basis is None
    assert figures.change_percent.why == why


def test_a_control_that_tells_nothing_is_named_with_its_reason() -> None:
    found = pool("fleet", [*CHANGED, vehicle("van 9", None, control=True)])
    assert str(found.fuel.difference.why) == (
        "no control's fuel could be compared; of van 9: it has no fuel data"
    )


@pytest.mark.parametrize(
    ("files", "why"),
    [(3, "none of its logs could be used"), (1, "its only log could not be used")],
)
def test_a_vehicle_whose_logs_are_all_unreadable(files: int, why: str) -> None:
    """Not that they carry no fuel: nobody knows what they carry."""
    no_fuel = {"value": None, "why": "no log carries fuel"}
    results = {
        "input": {"files": files, "rows_read": 40, "rows_used": 0},
        "fuel": {"change_percent": {"adjusted": no_fuel, "matched": no_fuel}},
    }
    figures = vehicle_figures(results, "changed", name="bus 9")
    assert str(figures.change_percent.why) == why
    (left_out, _) = pool("f", [*CHANGED, figures]).warnings
    assert left_out.text == f"bus 9 is not in the fleet's figure: {why}."


def test_a_vehicle_without_results() -> None:
    figures = vehicle_figures({}, "changed", name="bus 7")
    assert not figures.change_percent.known
    assert figures.basis is None
    finding = pool("f", [*CHANGED, figures])
    assert plain(finding)["vehicles"][-1]["change_percent"]["why"] == "no fuel data"


@pytest.mark.parametrize("cell", [CELLS[0], CELLS[5]], ids=lambda cell: cell.name)
def test_simulated_fleets(cell) -> None:
    """12 vehicles, 4 of them controls, with a season between the periods.

    The full table is printed by tests/simulation/fleet_study.py.
    """
    fleets = 150
    scores = run(cell, fleets, seed=500_001)
    with_controls, pooled = scores["with controls"], scores["pooled"]
    low, high = stats.binom.ppf([0.005, 0.995], fleets, 0.95) / fleets
    assert low <= with_controls.coverage <= high
    assert abs(with_controls.bias) < 3 * with_controls.half_width / 2 / math.sqrt(fleets)
    # the season's two points stay in the pooled figure
    assert pooled.bias == pytest.approx(2.0, abs=0.5)
    assert pooled.coverage < 0.85
