"""Logs recorded or published by others, read as they are or with the lines the questions show.

The folder lies beside the checkout on some machines; what is known of each log stands in its
README. Nothing of them is copied here.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from gearing.logs.model import Reading
from gearing.logs.profiles import read_profile
from gearing.logs.read import read_log
from gearing.study.model import ColumnRule

LOGS = Path(__file__).resolve().parents[3] / "shared" / "logs"
pytestmark = pytest.mark.skipif(not LOGS.is_dir(), reason="no logs by others beside the checkout")
FILES = sorted(p for p in LOGS.rglob("*") if p.suffix in (".csv", ".gpx")) if LOGS.is_dir() else []


def rule(heading: str, channel: str, unit: str | None = None) -> ColumnRule:
    return ColumnRule(heading=heading, channel=channel, unit=unit)


def _closed(reading: Reading) -> None:
    aside = sum(p.count for p in reading.set_aside_rows)
    assert reading.rows_read == reading.rows_used + aside
    assert reading.samples.height == reading.rows_used


def _lines(reading: Reading) -> list[dict[str, dict[str, str]]]:
    """The lines each question shows, as TOML reads them: all must be valid."""
    shown = []
    for question in reading.questions:
        lines = question.remedy.split("\n")[1:]
        assert lines
        shown += [tomllib.loads(f"[columns]\n{line}\n")["columns"] for line in lines]
    return shown


@pytest.mark.parametrize("path", FILES, ids=lambda p: f"{p.parent.name}-{p.stem}")
def test_every_log_reads_or_asks_with_lines_that_can_be_added(path: Path) -> None:
    reading = read_log(path)
    _closed(reading)
    _lines(reading)
    if path.suffix == ".gpx":
        assert reading.rows_used > 0
    elif not reading.rows_used:
        assert {q.code for q in reading.questions} & {"which-time", "which-start"}
    else:
        assert reading.good_for or reading.questions


@pytest.mark.parametrize(
    "car", ["car_57f7fd", "car_574e78", "car_5c93d2", "car_58395f"], ids=lambda c: c
)
def test_open_tracks_serve_all_four_answers(car: str) -> None:
    """Read as they are, and true over indicated repeats within a car."""
    ratios = []
    for path in sorted((LOGS / "open_tracks" / car).glob("*.csv")):
        reading = read_log(path)
        assert reading.questions == ()
        assert {"speed", "final drive"} <= set(reading.good_for)
        units = {c.channel: c.unit for c in reading.columns}
        assert units["gps_speed_mps"] == units["indicated_speed_mps"] == "km/h"
        steady = reading.samples.filter(
            (reading.samples["indicated_speed_mps"] > 14)
            & (reading.samples["indicated_speed_mps"].diff().abs() < 0.5)
        )
        if steady.height > 60:
            ratio = steady["gps_speed_mps"].mean() / steady["indicated_speed_mps"].mean()
            ratios.append(ratio)
    assert all(0.93 < r < 1.07 for r in ratios)
    if car == "car_57f7fd":
        middle = sorted(ratios)[len(ratios) // 2]
        assert middle == pytest.approx(0.988, abs=0.003)  # the folder's README


def test_air_flow_by_volume_is_set_aside_whole() -> None:
    reading = read_log(LOGS / "open_tracks" / "car_574e78" / "001.csv")
    assert "mass_air_flow_gps" not in reading.samples.columns
    assert {(p.code, p.column) for p in reading.set_aside_values} >= {
        ("wrong-dimension", "MAF [l/s]")
    }


def test_road_test_with_its_preamble_and_three_heading_rows() -> None:
    """197 preamble lines, quantity, source and unit rows, degrees missing from the positions;
    the receiver's distance over the control unit's is about 1.005 (the folder's README)."""
    reading = read_log(LOGS / "road_test" / "rde_data_exchange_sample.csv")
    assert (reading.dialect.heading_line, reading.dialect.units_line) == (198, 200)
    assert reading.questions == ()
    assert reading.rows_used == 6428
    assert {p.code for p in reading.set_aside_values} >= {"partial-position"}
    samples = reading.samples
    assert "latitude_deg" not in samples.columns
    both = samples.select("gps_speed_mps", "indicated_speed_mps").drop_nulls()
    ratio = both["gps_speed_mps"].sum() / both["indicated_speed_mps"].sum()
    assert ratio == pytest.approx(1.005, abs=0.003)
    assert both["gps_speed_mps"].sum() == pytest.approx(91_000, rel=0.02)  # a 91 km trip at 1 Hz
    coolant = samples["coolant_temperature_c"]
    assert 15 < coolant.min() < coolant.max() < 105  # given in kelvin


@pytest.mark.parametrize("name", ["T1_03_29_2021", "T2_03_30_2021", "T3_04_26_2021_1"])
def test_light_ev_asks_and_reads_with_the_answers(name: str) -> None:
    path = LOGS / "light_ev" / f"{name}.csv"
    first = read_log(path)
    asked = {(q.code, q.column) for q in first.questions}
    assert ("which-channel", "Speed") in asked
    assert ("which-unit", "ALT") in asked
    assert {"latitude_deg", "longitude_deg"} <= set(first.samples.columns)  # not blocked
    rules = (
        rule("Speed", "indicated_speed", "km/h"),
        rule("ALT", "altitude", "m"),
        rule("Temperature", "ambient_temperature", "degC"),
        rule("GpsSpeed", "gps_speed", "km/h"),
    )
    reading = read_log(path, rules=rules)
    _closed(reading)
    assert reading.questions == ()
    assert "speed" in reading.good_for
    assert reading.samples["time"][0].month == int(name[3:5])  # month first, by the whole column
    assert reading.samples["indicated_speed_mps"].max() < 30


CYCLES = {"udds": 7.45, "hwfet": 10.26, "us06": 8.01, "wltc_3b": 23.27 / 1.609344}


@pytest.mark.parametrize("name", sorted(CYCLES))
def test_cycles_give_their_published_distance(name: str) -> None:
    """Elapsed time with no start: asked, then read; distances as published (miles)."""
    path = LOGS / "cycles" / f"{name}.csv"
    first = read_log(path)
    assert first.rows_used == 0
    assert {"cycSecs": {"channel": "time", "unit": "s"}} in _lines(first)
    assert {"cycMps": {"channel": "gps_speed", "unit": "m/s"}} in _lines(first)
    rules = (rule("cycSecs", "time", "s"), rule("cycMps", "gps_speed", "m/s"))
    second = read_log(path, rules=rules)
    (question,) = second.questions
    assert question.code == "which-start"
    assert _lines(second)[0]["cycSecs"]["unit"] == "s since 2026-03-01 08:15"
    rules = (rule("cycSecs", "time", "s since 2026-03-01 08:15"), rules[1])
    samples = read_log(path, rules=rules).samples
    steps_s = samples["time"].diff().dt.total_microseconds() / 1e6
    miles = (samples["gps_speed_mps"] * steps_s).sum() / 1609.344
    assert miles == pytest.approx(CYCLES[name], abs=0.006)


@pytest.mark.parametrize("load", ["empty", "ref", "full"])
def test_long_haul_trips(load: str) -> None:
    """108.2 km and 14.07 rpm per km/h in top gear (the folder's README)."""
    path = LOGS / "long_haul" / f"sim_40t_longhaul_{load}.vmod.csv"
    rules = (
        rule("time [s]", "time", "s since 2026-03-01 08:15"),
        rule("v_act [km/h]", "gps_speed"),
        rule("n [1/min]", "engine_speed"),
        rule("FC-Map [g/h]", "fuel_mass_rate"),
        rule("dist [m]", "indicated_distance"),
    )
    reading = read_log(path, rules=rules)
    _closed(reading)
    samples = reading.samples
    assert samples["indicated_distance_m"].max() == pytest.approx(108_200, rel=1e-3)
    top = samples.filter(samples["gear"] == 12)
    per_kmh = (top["engine_speed_rpm"] / (top["gps_speed_mps"] * 3.6)).median()
    assert per_kmh == pytest.approx(14.07, abs=0.01)
    assert {"speed", "final drive", "fuel"} <= set(reading.good_for)


def test_long_haul_profile() -> None:
    """108.2 km, 773 m climbed (the folder's README), from distance and grade."""
    path = LOGS / "long_haul" / "LongHaul.vdri.csv"
    asked = read_profile(path)
    assert asked.frame.height == 0
    assert '"<s>" = { channel = "distance", unit = "m" }' in "\n".join(
        p.remedy for p in asked.problems
    )
    rules = (
        rule("<s>", "distance", "m"),
        rule("<grad>", "grade", "%"),
        rule("<v>", "speed_limit", "km/h"),
        rule("<stop>", "stop", "s"),
    )
    profile = read_profile(path, rules).frame
    assert profile.columns == ["distance_m", "altitude_m", "speed_limit_mps", "stop_s"]
    assert profile["distance_m"].max() == pytest.approx(108_200, rel=1e-3)
    climbed = profile["altitude_m"].diff().clip(lower_bound=0).sum()
    assert climbed == pytest.approx(773, abs=1)
