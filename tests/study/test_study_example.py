"""A study with every key comes out in SI and UTC.

Conversion factors: NIST Special Publication 811 (2008), Appendix B.8, written here as that
table prints them (seven digits), so the tolerance is theirs.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from gearing.study import load_study, log_files, side_at
from gearing.study.model import ColumnRule, Study

POUND_KG = 0.4535924
MILE_M = 1609.344
FOOT_M = 0.3048
SQUARE_FOOT_M2 = 0.09290304
FOOT_POUND_FORCE_NM = 1.355818
HORSEPOWER_W = 745.6999
PSI_KPA = 6.894757
GALLON_L = 3.785412
MPH_MPS = 0.44704


def near(value: float) -> object:
    return pytest.approx(value, rel=2e-7)


@pytest.fixture
def study(write, example) -> Study:
    return load_study(write(example))


def test_top(study: Study, folder: Path) -> None:
    assert (study.name, study.slug, study.units, study.seed) == (
        "bookmobile",
        "bookmobile",
        "us",
        7,
    )
    assert study.time_zone == "America/Denver"
    assert study.fillups == folder / "fillups.csv"
    assert study.weather == folder / "weather.csv"
    assert study.private_radius_m == near(0.5 * MILE_M)
    assert study.margin_percent == 1.5
    assert study.folder == folder


def test_vehicle(study: Study) -> None:
    vehicle = study.vehicle
    assert vehicle.mass_kg == near(26500 * POUND_KG)
    assert vehicle.fuel == "diesel"
    assert vehicle.axle_ratio == 4.88
    assert vehicle.gear_ratios == (3.51, 1.91, 1.43, 1.0, 0.74, 0.64)
    assert vehicle.transmission == "converter"
    assert (vehicle.speed_source, vehicle.shaft_pulses) == ("output shaft", 16)
    assert vehicle.drag_area_m2 == near(65 * SQUARE_FOOT_M2)
    assert vehicle.rolling_resistance == 0.007
    assert vehicle.rolling_temperature_per_k == 0.005


def test_engine(study: Study) -> None:
    engine = study.vehicle.engine
    assert engine is not None
    assert engine.rpm == (800, 1600, 2400)
    assert engine.torque_nm == (
        near(600 * FOOT_POUND_FORCE_NM),
        near(900 * FOOT_POUND_FORCE_NM),
        813.5,
    )
    assert (engine.governed_rpm, engine.idle_rpm) == (2500, 700)
    assert engine.derate_above_m == near(5000 * FOOT_M)
    assert engine.derate_percent_per_km == 8
    assert engine.retarder is not None
    assert (engine.retarder.kind, engine.retarder.shaft) == ("compression", "engine")
    assert engine.retarder.power_w == (60_000, near(200 * HORSEPOWER_W))


def test_periods(study: Study) -> None:
    before, after = study.before, study.after
    assert before is not None
    assert after is not None
    assert (before.side, before.drive_tire, before.fitment) == ("before", "245/70R19.5", "dual")
    assert before.revolutions_per_km == near(628 / MILE_M * 1000)
    assert before.pressure_kpa == near(95 * PSI_KPA)
    assert before.tread_m == near(6 / 32 * 0.0254)
    assert (after.side, after.drive_tire, after.revolutions_per_km) == (
        "after",
        "265/70R19.5",
        None,
    )


def test_moments_are_utc(study: Study) -> None:
    # Mountain time is UTC-7 in winter and UTC-6 from the second Sunday of March: 8 March 2026
    whole_days, hours = study.loads
    assert whole_days.start == datetime(2026, 3, 1, 7, tzinfo=UTC)
    assert whole_days.end == datetime(2026, 3, 3, 7, tzinfo=UTC)  # the last day is meant whole
    assert whole_days.mass_kg == near(28500 * POUND_KG)
    assert hours.start == datetime(2026, 4, 1, 14, tzinfo=UTC)
    assert hours.end == datetime(2026, 4, 2, 0, tzinfo=UTC)
    assert hours.towing
    assert study.dash[0].at == datetime(2026, 3, 14, 15, 30, tzinfo=UTC)


def test_checks_of_the_dash(study: Study) -> None:
    assert study.dash[0].speed_mps == near(55 * MPH_MPS)
    assert study.dash[0].odometer_m == near(48210 * MILE_M)
    surveyed, road = study.measured
    assert surveyed.distance_m == near(5 * MILE_M)
    assert surveyed.start == datetime(2026, 3, 14, 9, tzinfo=UTC)
    assert (road.distance_m, road.road) == (None, "county road 12")


def test_columns(study: Study) -> None:
    assert study.columns == (
        ColumnRule(heading="Speed 2", channel="indicated_speed_mps", unit="mph"),
        ColumnRule(heading="Speed 3", channel=None),
        ColumnRule(heading="RPM", channel="engine_speed_rpm"),
        ColumnRule(
            heading="Temp", channel="ambient_temperature_c", unit="degF", files="before/*.csv"
        ),
        ColumnRule(heading="Temp", channel="coolant_temperature_c", files="after/*.csv"),
    )


def test_money_and_route(study: Study, folder: Path) -> None:
    assert study.money is not None
    assert study.money.fuel_price_per_l == near(4.10 / GALLON_L)
    assert (study.money.currency, study.money.cost) == ("USD", 2400)
    assert study.money.distance_per_year_m == near(6000 * MILE_M)
    assert study.routes[0].profile == folder / "routes" / "cold_spring.csv"
    assert study.routes[0].target_speed_mps == near(60 * MPH_MPS)


@pytest.mark.parametrize(
    ("line", "consumption"),
    [
        ("consumption_change_percent = -4", -4.0),
        # 10 mpg become 12.5: 10 gallons for 100 miles become 8
        ("economy_change_percent = 25", -20.0),
    ],
)
def test_claim_both_ways(write, example, line, consumption) -> None:
    study = load_study(write(example.replace("consumption_change_percent = -4", line)))
    assert study.claim is not None
    assert study.claim.consumption_change_percent == pytest.approx(consumption, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "price", "currency"),
    [
        ("$4.10/gal", 4.10 / GALLON_L, "USD"),
        ("1.62 EUR/L", 1.62, "EUR"),
        ("1.62 €/l", 1.62, "EUR"),
        ("6.90 gbp / imp gal", 6.90 / 4.54609, "GBP"),
    ],
)
def test_prices(write, text, price, currency) -> None:
    study = load_study(write(MINIMAL + f'[money]\nfuel_price = "{text}"\n'))
    assert study.money is not None
    assert study.money.fuel_price_per_l == near(price)
    assert study.money.currency == currency


MINIMAL = """\
name = "small"
[after]
drive_tire = "265/70R19.5"
logs = ["after/*.csv"]
"""


def test_least_study(write, folder: Path) -> None:
    study = load_study(write(MINIMAL))
    assert (study.units, study.time_zone, study.seed) == ("metric", "UTC", 1)
    assert (study.private_radius_m, study.margin_percent) == (0.0, 1.0)
    assert study.before is None
    assert study.claim is None
    assert study.vehicle.speed_source == "unknown"
    assert log_files(study) == [(folder / "after" / "trip_3.csv", "after")]


def test_log_files(study: Study, folder: Path) -> None:
    assert log_files(study) == [
        (folder / "after" / "trip_3.csv", "after"),
        (folder / "before" / "trip_1.csv", "before"),
        (folder / "before" / "trip_2.csv", "before"),
    ]


SPLIT = """\
name = "split"
time_zone = "America/Denver"
fillups = "fillups.csv"
logs = ["*.csv", "*/trip*.csv", "before/trip_1.csv"]
[before]
drive_tire = "245/70R19.5"
[after]
drive_tire = "245/70R19.5"
from = 2026-03-14
"""


def test_logs_split_by_date(write, folder: Path) -> None:
    study = load_study(write(SPLIT))
    # the fill-up log is no trip log, whatever pattern matches it; nor is a file listed twice
    assert log_files(study) == [
        (folder / "after" / "trip_3.csv", None),
        (folder / "before" / "trip_1.csv", None),
        (folder / "before" / "trip_2.csv", None),
        (folder / "weather.csv", None),
    ]
    assert side_at(study, datetime(2026, 3, 14, 5, 59, tzinfo=UTC)) == "before"
    assert side_at(study, datetime(2026, 3, 14, 6, 0, tzinfo=UTC)) == "after"


def test_one_period_takes_the_logs_at_the_top(write) -> None:
    text = 'name = "plan"\nlogs = "before/*.csv"\n[before]\ndrive_tire = "245/70R19.5"\n'
    study = load_study(write(text))
    assert [side for _, side in log_files(study)] == ["before", "before"]
    assert side_at(study, datetime(2026, 3, 14, tzinfo=UTC)) is None


def test_a_file_with_brackets_in_its_name(write, folder: Path) -> None:
    (folder / "after" / "trip [1].csv").write_text("time\n")
    study = load_study(write(MINIMAL.replace("*.csv", "trip [1].csv")))
    assert [path.name for path, _ in log_files(study)] == ["trip [1].csv"]


def test_tables_need_no_logs(write) -> None:
    text = MINIMAL.replace('logs = ["after/*.csv"]', 'logs = ["gone/*.csv"]')
    assert load_study(write(text), logs_needed=False).after is not None
    assert load_study(write(text.replace('logs = ["gone/*.csv"]', "")), logs_needed=False)
    without = load_study(write('weather = "gone.csv"\n' + text), logs_needed=False)
    assert without.weather is None


def test_byte_order_mark_and_windows_line_ends(folder: Path) -> None:
    path = folder / "study.toml"
    path.write_bytes(b"\xef\xbb\xbf" + MINIMAL.replace("\n", "\r\n").encode())
    assert load_study(path).name == "small"
