"""Full tank to full tank: the arithmetic every driver's handbook gives, and its traps."""

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from gearing.analysis.fuel.fillups import Tanks, engine_computer_scale, full_to_full
from gearing.analysis.fuel.notebook import Notebook, _outside, fills_far
from gearing.analysis.fuel.periods import all_of, by_drives, change_at, period_of_spans
from gearing.analysis.fuel.tank_model import Climate
from gearing.analysis.fuel.tanks import TankAnswer, TankDistance, tank_answer, tank_distance
from gearing.analysis.sides import BySide
from gearing.messages import Message, message
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import Period, Study, Vehicle
from gearing.units import GALLON_L, MILE_M, MPG_L_PER_100KM

START = datetime(2031, 3, 1, 12, tzinfo=UTC)
OLD = all_of(after=False)
EXACT = BySide(Estimate(1.0, 1.0, 1.0, 9, "x"), Estimate(1.0, 1.0, 1.0, 9, "x"))


def log(rows: list[tuple[float, float, float]], **columns: list[object]) -> pl.DataFrame:
    """Fill-ups from (day, odometer in miles, gallons)."""
    frame = pl.DataFrame(
        {
            "time": [START + timedelta(days=day) for day, _, _ in rows],
            "indicated_distance_m": [None if o is None else o * MILE_M for _, o, _ in rows],
            "volume_l": [gallons * GALLON_L for _, _, gallons in rows],
        }
    )
    usual = {"full": True, "missed": False, "other_l": 0.0}
    return frame.with_columns(
        *[pl.lit(value).alias(name) for name, value in usual.items() if name not in columns],
        *[pl.Series(name, values) for name, values in columns.items()],
    )


def answer_of(tanks: Tanks, odometer: BySide[Estimate]) -> TankAnswer:
    """The answer where nobody knows where the vehicle is."""
    distance = TankDistance(odometer, message("odometer-by/measured"))
    return tank_answer(tanks, distance, Climate(None), target_percent=2.0)


def test_a_tank_is_what_was_bought_since_the_last_full_one() -> None:
    # 300 miles on 10 gallons are 30 miles per gallon; the first fill only sets the mark
    tanks = full_to_full(log([(0, 1000, 8), (3, 1300, 10)]), EXACT, OLD)
    assert len(tanks.start) == 1
    consumption = tanks.volume_l[0] / tanks.distance_m[0] * 1e5
    assert MPG_L_PER_100KM / consumption == pytest.approx(30)


def test_partial_fills_are_added() -> None:
    rows = [(0, 1000, 8), (1, 1100, 4), (2, 1200, 3), (3, 1300, 3)]
    tanks = full_to_full(log(rows, full=[True, False, False, True]), EXACT, OLD)
    assert tanks.distance_m == pytest.approx([300 * MILE_M])
    assert tanks.volume_l == pytest.approx([10 * GALLON_L])


def test_a_missed_fill_opens_a_new_stretch() -> None:
    rows = [(0, 1000, 8), (3, 1300, 10), (9, 1900, 10), (12, 2200, 10)]
    tanks = full_to_full(log(rows, missed=[False, False, True, False]), EXACT, OLD)
    assert tanks.distance_m == pytest.approx([300 * MILE_M, 300 * MILE_M])


def test_a_fill_without_an_odometer_reading_is_added_to_the_next() -> None:
    rows = [(0, 1000, 8), (3, None, 5), (6, 1300, 5)]
    tanks = full_to_full(log(rows), EXACT, OLD)  # type: ignore[arg-type]
    assert tanks.volume_l == pytest.approx([10 * GALLON_L])


def test_a_fill_where_the_odometer_stood_is_added_to_the_next() -> None:
    """It burnt at a standstill, or the last reading was noted again."""
    tanks = full_to_full(log([(0, 1000, 8), (3, 1300, 6), (5, 1300, 4), (8, 1600, 6)]), EXACT, OLD)
    assert tanks.distance_m == pytest.approx([300 * MILE_M, 300 * MILE_M])
    assert tanks.volume_l == pytest.approx([6 * GALLON_L, 10 * GALLON_L])


def test_a_fill_nobody_marked_as_missed_is_recognised() -> None:
    rows = [(3 * i, 1000 + 300 * i, 10 + 0.1 * (i % 3)) for i in range(10)]
    rows = [row for index, row in enumerate(rows) if index != 5]
    tanks = full_to_full(log(rows), EXACT, OLD)
    assert list(tanks.sound) == [1, 1, 1, 1, 0, 1, 1, 1]
    # and the numbers left are those of the whole log
    usual = math.exp(tanks.units().log_rate.mean())
    assert MPG_L_PER_100KM / (100_000 * usual) == pytest.approx(300 / 10.1, rel=0.01)


def test_other_use_of_the_tank_is_taken_off() -> None:
    rows = [(0, 1000, 8), (3, 1300, 12)]
    tanks = full_to_full(log(rows, other_l=[0.0, 2 * GALLON_L]), EXACT, OLD)
    assert tanks.volume_l == pytest.approx([10 * GALLON_L])


def test_a_tank_that_spans_the_change_is_left_out() -> None:
    rows = [(0, 1000, 8), (3, 1300, 10), (6, 1600, 10), (9, 1900, 10)]
    change = BySide(Estimate(1.0, 1.0, 1.0, 9, "x"), Estimate(1.05, 1.05, 1.05, 9, "x"))
    tanks = full_to_full(log(rows), change, change_at(START + timedelta(days=4)))
    assert list(tanks.after) == [0, 1]
    assert tanks.distance_m == pytest.approx([300 * MILE_M, 300 * MILE_M * 1.05])


def test_the_odometer_factor_undoes_what_the_dash_makes_of_taller_tires() -> None:
    # 541 to 517 revolutions per mile: 1,000 miles shown are 1,046.4 driven
    factor = 541 / 517
    before = [(2 * i, 1000 + 300 * i, 10 + 0.05 * (-1) ** i) for i in range(8)]
    shown = 300 / factor
    after = [(20 + 2 * i, 5000 + shown * i, 10 + 0.05 * (-1) ** i) for i in range(8)]
    odometer = BySide(
        Estimate(1.0, 0.999, 1.001, 9, "x"),
        Estimate(factor, factor * 0.999, factor * 1.001, 9, "x"),
    )
    split = change_at(START + timedelta(days=17))
    fair = answer_of(full_to_full(log(before + after), odometer, split), odometer)
    naive = answer_of(full_to_full(log(before + after), EXACT, split), EXACT)
    taken_off = fair.finding.driving_percent
    assert fair.change.value is not None
    assert taken_off is not None
    # nothing changed but what driving by the dash is taken to have cost
    assert fair.change.value + taken_off == pytest.approx(0.0, abs=0.1)
    assert naive.change.value == pytest.approx(100 * (factor - 1), abs=0.1)
    assert fair.change.low is not None
    # two odometers known to 0.1 % each leave 0.14 % at the least
    assert fair.change.low < fair.change.value - 0.13


def test_too_few_tanks_say_so() -> None:
    found = answer_of(full_to_full(log([(0, 1000, 8)]), EXACT, OLD), EXACT).change
    assert not found.known
    assert found.why == message("too-few-tanks", before=0, after=0)


def test_engine_computer_that_counts_two_percent_short() -> None:
    rows = [(2 * i, 1000 + 100 * i, 10.0) for i in range(5)]
    tanks = full_to_full(log(rows), EXACT, OLD)
    count = 4 * 100
    steps = pl.DataFrame(
        {
            "start_s": [START.timestamp() + (i + 0.5) * 8 * 86400 / count for i in range(count)],
            "distance_m": [MILE_M] * count,
            "fuel_l": [0.98 * GALLON_L / 10] * count,
        }
    )
    scale = engine_computer_scale(tanks, steps)
    assert scale.before.value == pytest.approx(1 / 0.98, rel=1e-6)
    assert scale.before.n == 4
    assert scale.after.why == message("too-few-logged-tanks", tanks=0)
    # logs that miss a fifth of the road cannot tell
    assert not engine_computer_scale(tanks, steps[::5]).before.known


@pytest.mark.parametrize("misread", [-150, 160])
def test_an_odometer_misread_at_a_fill_moves_no_tank(misread: int) -> None:
    rows = [(7.0 * i, 1000.0 + 300 * i, 10.0 + 0.1 * (i % 3)) for i in range(9)]
    right = full_to_full(log(rows), EXACT, OLD)
    day, odometer, gallons = rows[4]
    rows[4] = (day, odometer + misread, gallons)
    found = full_to_full(log(rows), EXACT, OLD)
    # the two tanks beside the slip are one, of all the way and fuel of both
    assert len(found.start) == len(right.start) - 1
    assert found.sound.all()
    assert found.distance_m.sum() == pytest.approx(right.distance_m.sum())
    assert found.volume_l.sum() == pytest.approx(right.volume_l.sum())


def test_a_fill_nobody_marked_as_partial_is_recognised() -> None:
    # 300 miles on 10 gallons throughout; the sixth fill was cut short after 4
    rows = [(3 * i, 1000 + 300 * i, 10 + 0.1 * (i % 3)) for i in range(10)]
    rows[5] = (*rows[5][:2], 4.0)
    rows[6] = (*rows[6][:2], 16.1)
    tanks = full_to_full(log(rows), EXACT, OLD)
    assert tanks.sound.all()
    assert len(tanks.start) == 8
    assert max(tanks.distance_m) == pytest.approx(600 * MILE_M)
    # the fuel is all there, and the consumption that of the whole log
    assert float(tanks.volume_l.sum()) == pytest.approx(
        sum(gallons for _, _, gallons in rows[1:]) * GALLON_L
    )


def test_a_tank_belongs_to_the_tires_of_the_drives_around_it() -> None:
    days = [(0, False), (3, False), (10, True), (12, True), (20, False), (22, False)]
    side = by_drives([(START + timedelta(days=d), after) for d, after in days])

    def of(first: int, last: int) -> bool | None:
        return side(START + timedelta(days=first), START + timedelta(days=last))

    assert of(0, 3) is False
    assert of(10, 12) is True
    # tires went back to the old ones: two changes, and what spans one belongs to neither
    assert of(21, 30) is False
    assert of(2, 11) is None
    assert of(12, 21) is None


def test_the_odometer_goes_by_the_best_that_is_known() -> None:
    unknown_one = Estimate(why="not measured")
    ratio = Estimate(1.04, 1.02, 1.06, 1, "x")
    by = message("odometer-by/size")
    both = tank_distance(EXACT, ratio, by)
    assert both.odometer is EXACT
    one = tank_distance(BySide(Estimate(0.99, 0.98, 1.0, 4, "x"), unknown_one), ratio, by)
    assert one.odometer.after.value == pytest.approx(0.99 * 1.04)
    none = tank_distance(BySide(unknown_one, unknown_one), ratio, by)
    assert none.odometer.before.value == 1.0
    # what the ratio leaves open is all that is open between the sides: 2 % at 95 %
    assert none.error == pytest.approx(0.02 / 1.96 / 1.04, rel=0.01)


def test_two_like_years_cancel_their_seasons() -> None:
    """Two like years, the change at the end of the first: the season cancels by itself, whatever
    it is. 9 % to either side is more than the model expects of any year."""
    rows = [
        (6 * i, 1000 + 300 * i, 10 * math.exp(0.09 * math.cos(2 * math.pi * 6 * i / 365.2425)))
        for i in range(123)
    ]
    tanks = full_to_full(log(rows), EXACT, change_at(START + timedelta(days=366)))
    found = answer_of(tanks, EXACT)
    assert found.change.value == pytest.approx(0.0, abs=0.3)


def test_the_tires_between_are_their_own() -> None:
    """Two changes: the old tires came off on day 40, the new ones went on on day 100 and off on
    day 200. What was filled between, and after, was burnt on others."""
    study = Study(
        name="a",
        slug="a",
        path=Path("a.toml"),
        before=Period(side="before", drive_tire="245/70R19.5", end=START + timedelta(days=40)),
        after=Period(
            side="after",
            drive_tire="265/70R19.5",
            start=START + timedelta(days=100),
            end=START + timedelta(days=200),
        ),
    )
    side_of, _ = period_of_spans(study, pl.DataFrame())
    assert side_of is not None
    tanks = full_to_full(log([(10 * i, 1000 + 300 * i, 10) for i in range(30)]), EXACT, side_of)
    assert (tanks.after == 0).sum() == 4
    assert (tanks.after == 1).sum() == 10


@pytest.mark.parametrize(
    ("logged", "told"), [(10.0, False), (13.0, False), (10.0 / GALLON_L, True), (16.1, True)]
)
def test_fills_in_other_units_than_the_logs_fuel_are_told(logged: float, told: bool) -> None:
    """10 gallons over 300 true miles by the fill-ups, `logged` gallons over 300 by the logs."""
    rows = [(day, 1000.0 + 300 * day, 10.0) for day in range(12)]
    tanks = full_to_full(log(rows), EXACT, change_at(START + timedelta(days=6)))
    notebook = Notebook(tanks, answer_of(tanks, EXACT), unknown(message("no-period")))
    rates = BySide(logged * GALLON_L / (300 * MILE_M) * 1e5, None)
    assert [one.code for one in fills_far(notebook, rates)] == ["fills-far-from-logs"] * told


def test_two_fills_of_one_date_know_their_season() -> None:
    """A tank between two fills of one date lasts no time and has the season of its day: tanks
    filled in two halves at noon say what whole ones do."""
    whole = [
        (6 * i, 1000 + 300 * i, 10 * math.exp(0.05 * math.cos(2 * math.pi * (6 * i + 40) / 365)))
        for i in range(24)
    ]
    parts = [
        part
        for day, miles, gallons in whole
        for part in ((day, miles - 150, gallons / 2), (day, miles, gallons / 2))
    ]
    split = change_at(START + timedelta(days=70))
    climate = Climate(START.timestamp() - 43 * 86_400)  # cold in January, spring against summer
    distance = TankDistance(EXACT, message("odometer-by/measured"))
    found = [
        tank_answer(full_to_full(log(rows), EXACT, split), distance, climate, target_percent=2.0)
        for rows in (whole, parts)
    ]
    seasons = [one.finding.season_percent for one in found]
    assert seasons[0] is not None
    assert seasons[0] < -3
    assert seasons[1] == pytest.approx(seasons[0], abs=1.0)


def test_tanks_tell_no_change_where_nothing_tells_the_distance() -> None:
    """The new tires may be 4 % larger: a change by the odometer as shown would be off by as much,
    with nothing of it in its interval."""
    rows = [(6 * i, 1000 + 300 * i, 10 + 0.2 * (i % 3)) for i in range(40)]
    unknown_one = Estimate(why="not measured")
    why = message("turns-unknown/open")
    distance = tank_distance(BySide(unknown_one, unknown_one), unknown_one, why)
    tanks = full_to_full(log(rows), distance.odometer, change_at(START + timedelta(days=118)))
    found = tank_answer(tanks, distance, Climate(None), target_percent=2.0)
    assert not found.change.known
    assert found.change.why == why
    assert found.finding.count == BySide(19, 19)
    assert found.finding.liters_per_100km.before is not None


@pytest.mark.parametrize("times", [1 / 3.785, 1.609, 0.96])
def test_a_unit_that_changed_with_the_tires_is_no_change_of_fuel(times: float) -> None:
    """A US gallon is 3.785 L and a mile 1.609 km (NIST Special Publication 811, appendix B)."""
    rows = [
        (6 * i, 1000 + 300 * i, (10 + 0.2 * (i % 3)) * (1 if i <= 20 else times)) for i in range(40)
    ]
    distance = TankDistance(EXACT, message("odometer-by/measured"))
    tanks = full_to_full(log(rows), EXACT, change_at(START + timedelta(days=120.5)))
    found = tank_answer(tanks, distance, Climate(None), target_percent=2.0)
    if times == 0.96:
        assert found.change.value == pytest.approx(-4, abs=1.5)
    else:
        assert not found.change.known
        assert isinstance(found.change.why, Message)
        assert found.change.why.code == "change-implausible/tanks"
        assert found.finding.action == message("tanks-action/units")


@pytest.mark.parametrize(("day", "told_as"), [(400, "before"), (-9, "after"), (50, None)])
def test_a_change_outside_the_fill_ups_is_named(day: int, told_as: str | None) -> None:
    change = START + timedelta(days=day)
    study = Study(
        name="x", slug="x", path=Path("x.toml"), vehicle=Vehicle(),
        before=Period(side="before", drive_tire="245/70R19.5"),
        after=Period(side="after", drive_tire="265/70R19.5", start=change),
    )  # fmt: skip
    rows = [(6 * i, 1000 + 300 * i, 10.0) for i in range(20)]
    told = _outside(study, log(rows))
    expected = [] if told_as is None else [f"All fill-ups are {told_as} the change of tires"]
    assert [str(one.told)[: len(expected[0])] for one in told] == expected
