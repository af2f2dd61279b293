"""What `gearing inspect` shows of a log."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from damaged_logs import variants
from log_messages import PROBLEMS, TITLES

from gearing.logs.answers import ANSWERS, usable_for
from gearing.logs.describe import as_text, describe
from gearing.logs.read import read_log
from gearing.messages.render import METRIC, Message

VARIANTS = {v.name: v for v in variants()}


@pytest.mark.parametrize("name", sorted(VARIANTS))
def test_both_forms_say_the_same_of_every_variant(name: str, tmp_path: Path) -> None:
    variant = VARIANTS[name]
    reading = read_log(variant.write(tmp_path), **variant.options)
    plain = json.loads(json.dumps(describe(reading)))
    assert plain["rows_read"] == plain["rows_used"] + plain["rows_set_aside"]
    text = as_text(reading)
    assert text.isprintable() or {c for c in text if not c.isprintable()} == {"\n"}
    assert f"{plain['rows_read']:,} rows read: {plain['rows_used']:,} used" in text
    for kind in ("set_aside_rows", "set_aside_values", "repairs"):
        for case in plain[kind]:
            assert case["code"] in text
    for question in plain["questions"]:
        for line in question["remedy"].split("\n"):
            assert line in text
    for column in plain["columns"]:
        assert column["how"] in text
        assert 0 <= column["filled"] <= 1
    assert set(plain["good_for"]) | set(plain["missing"]) == set(ANSWERS)


def test_a_heading_cannot_steer_the_terminal(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Time,Speed \x1b[31mred,x\x07\n2026-03-01T00:00:00Z,1,2\n")
    text = as_text(read_log(path))
    assert "\x1b" not in text
    assert "\x07" not in text


def test_what_a_log_is_good_for_and_what_it_lacks() -> None:
    good, missing = usable_for(("gps_speed_mps", "indicated_distance_m"))
    assert good == ("speed",)
    assert [one.code for one in missing["final drive"]] == ["lacks-turns"]
    assert usable_for(())[0] == ()
    everything = ("latitude_deg", "longitude_deg", "altitude_m", "indicated_speed_mps")
    assert usable_for((*everything, "engine_speed_rpm", "fuel_rate_lph"))[0] == ANSWERS


def test_every_reason_has_words_of_its_own() -> None:
    assert len(set(TITLES.values())) == len(TITLES)
    severity = {one.code.partition("/")[0]: one.severity for one in PROBLEMS}
    for one in PROBLEMS:
        topic = one.code.partition("/")[0]
        assert topic == topic.lower()
        # the cases of a code are told under one title, and are equally grave
        assert METRIC.title(Message(one.code, tuple(one.example.items()))) == TITLES[topic]
        assert one.severity == severity[topic]
        assert one.severity not in ("error", "question") or one.remedy


def test_long_distances_are_in_kilometers_and_no_figure_has_a_power_of_ten(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    rows = [f"2026-03-01T00:00:{n:02d}Z,{150000 + n / 100},0.00000{n},3{n:02d}" for n in range(60)]
    head = "Time,Odometer [km],Latitude,Altitude (m)"
    path.write_text("\n".join([head, *rows]) + "\n")
    text = as_text(read_log(path))
    assert "150,000 km" in text
    assert "359 m" in text
    assert "e+" not in text
    assert "e-" not in text.replace("one-", "")


def test_a_file_with_headings_alone_is_named_as_one_without_records(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Time,Latitude,Longitude,Vehicle speed (mph)\n")
    reading = read_log(path)
    (failure,) = reading.failures
    assert (failure.code, failure.count, reading.rows_read) == ("no-records", 0, 0)
    assert {column["filled"] for column in describe(reading)["columns"]} == {0}
    assert "no-records" in as_text(reading)
