"""Weather, fill-ups and road profiles."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from gearing.logs.fillups import read_fillups
from gearing.logs.profiles import read_profile
from gearing.logs.weather import read_weather
from gearing.study.model import ColumnRule


def _file(folder: Path, text: str, name: str = "companion.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_weather_in_local_time_and_us_units(tmp_path: Path) -> None:
    path = _file(
        tmp_path,
        "time,wind speed (mph),wind direction,temperature (F),pressure (inHg)\n"
        "2026-03-01 01:00,10,280,50,24.4\n2026-03-01 00:00,5,270,41,24.5\n",
    )
    read = read_weather(path, "America/Denver")
    assert read.problems == ()
    frame = read.frame
    assert frame["time"].to_list()[0] == datetime(2026, 3, 1, 7, tzinfo=UTC)
    assert frame["wind_speed_mps"].to_list() == pytest.approx([2.2352, 4.4704])
    assert frame["wind_from_deg"].to_list() == [270, 280]
    assert frame["ambient_temperature_c"].to_list() == pytest.approx([5, 10])
    assert frame["barometric_pressure_kpa"].to_list() == pytest.approx([82.9665, 82.6279], abs=1e-3)


def test_weather_that_lacks_columns_has_nulls(tmp_path: Path) -> None:
    path = _file(tmp_path, "Zeit;Temperatur (°C)\n01.03.2026 00:00;1,5\n01.03.2026 01:00;2,5\n")
    frame = read_weather(path, "Europe/Berlin").frame
    assert frame["ambient_temperature_c"].to_list() == [1.5, 2.5]
    assert frame["wind_speed_mps"].null_count() == 2


def test_wind_without_unit_is_asked(tmp_path: Path) -> None:
    path = _file(tmp_path, "time,wind speed\n2026-03-01 00:00,5\n2026-03-01 01:00,6\n")
    asked = read_weather(path, "UTC")
    assert [p.code for p in asked.problems] == ["which-unit", "no-values"]
    rule = ColumnRule(heading="wind speed", channel="wind_speed_mps", unit="kn")
    answered = read_weather(path, "UTC", (rule,))
    assert answered.problems == ()
    assert answered.frame["wind_speed_mps"][0] == pytest.approx(5 * 1852 / 3600)


def test_fillups(tmp_path: Path) -> None:
    path = _file(
        tmp_path,
        "Date,Odometer (mi),Gallons,Full,Missed,Price,Other use (gal)\n"
        "01/02/2026,1200.5,22.1,yes,no,$88.10,0.5\n01/15/2026,1500.5,21.1,no,yes,80,\n"
        "01/16/2026,1510,,no,no,,\n",
    )
    read = read_fillups(path, "UTC")
    frame = read.frame
    assert frame["volume_l"].to_list() == pytest.approx([22.1 * 3.785411784, 21.1 * 3.785411784])
    assert frame["indicated_distance_m"].to_list() == pytest.approx(
        [1200.5 * 1609.344, 1500.5 * 1609.344]
    )
    assert frame["full"].to_list() == [True, False]
    assert frame["missed"].to_list() == [False, True]
    assert frame["other_l"].to_list() == [pytest.approx(0.5 * 3.785411784), None]
    assert frame["time"].to_list()[0].date() == datetime(2026, 1, 2, tzinfo=UTC).date()
    assert [(p.code, p.first_line) for p in read.problems] == [("no-values", 4)]


def test_fillups_without_full_and_missed_count_as_full(tmp_path: Path) -> None:
    path = _file(tmp_path, "date;odometer [km];volume [L]\n2026-03-01;1200,5;80,1\n")
    frame = read_fillups(path, "UTC").frame
    assert frame["full"].to_list() == [True]
    assert frame["missed"].to_list() == [False]


def test_fillups_with_open_dates_are_asked(tmp_path: Path) -> None:
    path = _file(
        tmp_path, "date,odometer (mi),volume (gal)\n01/02/2026,100,20\n04/05/2026,300,21\n"
    )
    read = read_fillups(path, "UTC")
    assert read.frame.height == 0
    assert "which-date-order" in [p.code for p in read.problems]
    rule = ColumnRule(heading="date", channel="time", unit="mm/dd/yyyy")
    times = read_fillups(path, "UTC", (rule,)).frame["time"].to_list()
    assert [(t.month, t.day) for t in times] == [(1, 2), (4, 5)]


def test_profile(tmp_path: Path) -> None:
    path = _file(
        tmp_path,
        "distance (mi),elevation (ft),speed limit (mph),stop (s)\n1,5400,40,\n0,5280,30,0\n"
        "2,5300,,10\n2,9999,30,10\n",
    )
    frame = read_profile(path).frame
    assert frame["distance_m"].to_list() == pytest.approx([0, 1609.344, 3218.688])
    assert frame["altitude_m"].to_list() == pytest.approx([1609.344, 1645.92, 1615.44])
    assert frame["speed_limit_mps"].to_list()[:2] == pytest.approx([13.4112, 17.8816])
    assert frame["stop_s"].to_list() == [0, None, 10]


def test_profile_from_grades(tmp_path: Path) -> None:
    path = _file(tmp_path, "distance [m],grade [%]\n0,6\n1000,-5\n2000,0\n")
    assert read_profile(path).frame["altitude_m"].to_list() == pytest.approx([0, 60, 10])


@pytest.mark.parametrize("unit", ["deg", "°", "degrees"])
def test_a_grade_in_degrees_is_no_percent(tmp_path: Path, unit: str) -> None:
    # tan 3.434 deg = 0.06; taken for percent this pass was half as steep, and suited
    path = _file(tmp_path, f"distance [m],grade [{unit}]\n0,3.434\n1000,-2.862\n2000,0\n")
    assert read_profile(path).frame["altitude_m"].to_list() == pytest.approx([0, 60, 10], abs=0.1)


@pytest.mark.parametrize("unit", ["‰", "ft/mi", "m/m", "permille"])
def test_a_grade_in_a_unit_not_known_is_asked_for(tmp_path: Path, unit: str) -> None:
    read = read_profile(_file(tmp_path, f"distance [m],grade [{unit}]\n0,60\n1000,-50\n2000,0\n"))
    assert read.frame.is_empty()
    assert any(unit in str(one) for one in read.problems)


def test_degrees_behind_the_numbers_are_no_percent(tmp_path: Path) -> None:
    path = _file(tmp_path, "distance [m],grade\n0,3.434°\n1000,-2.862°\n2000,0.0°\n")
    assert read_profile(path).frame["altitude_m"].to_list() == pytest.approx([0, 60, 10], abs=0.1)


@pytest.mark.parametrize(
    "rows",
    ["2,0\n5,6\n6,-7\n2,0\n", "0,6\n5,0\n10,-7\n5,7\n0,0\n"],
    ids=["lengths of stretches", "out and back"],
)
def test_distances_that_run_back_are_not_put_in_order(tmp_path: Path, rows: str) -> None:
    read = read_profile(_file(tmp_path, "distance [km],grade [%]\n" + rows))
    assert read.frame.is_empty()
    assert [one.code for one in read.problems] == ["distance-back-and-forth"]


def test_a_road_written_from_its_far_end_is_the_same_road(tmp_path: Path) -> None:
    path = _file(tmp_path, "distance [km],elevation [m]\n10,380\n5,800\n5.1,800\n0,500\n")
    assert read_profile(path).frame["altitude_m"].to_list() == [500, 800, 800, 380]


def test_a_profile_without_a_grade_somewhere_has_no_point_there(tmp_path: Path) -> None:
    path = _file(tmp_path, "distance [m],grade [%]\n0,6\n500,\n1000,n/a\n1500,-5\n2500,\n")
    frame = read_profile(path).frame
    assert frame["distance_m"].to_list() == [0, 1500, 2500]
    assert frame["altitude_m"].to_list() == pytest.approx([0, 90, 40])


OPEN_PROFILE = "distance,elevation\n0,5321.5\n0.05,5322.2\n0.1,5322.8\n0.15,5323.6\n"


def test_the_height_of_a_road_is_asked_in_feet_or_metres(tmp_path: Path) -> None:
    asked = {p.column: p.remedy for p in read_profile(_file(tmp_path, OPEN_PROFILE)).problems}
    assert '"elevation" = { channel = "altitude", unit = "ft" }' in asked["elevation"]
    assert '"distance" = { channel = "distance", unit = "mi" }' in asked["distance"]
    assert 'unit = "mi"' not in asked["elevation"]


@pytest.mark.parametrize("read", [read_weather, read_fillups])
def test_a_missing_or_empty_companion_is_told(tmp_path: Path, read: object) -> None:
    for path in (tmp_path / "none.csv", _file(tmp_path, "")):
        companion = read(path, "UTC")  # type: ignore[operator]
        assert companion.frame.height == 0
        assert companion.frame.columns[0] == "time"
        assert companion.problems[0].code in ("unreadable-file", "empty-file")


FILLS = (
    "date,odometer (km),volume (L)\n2026-05-01,150000,50\n2026-05-04,150200,49\n"
    "2026-05-07,{},51\n2026-05-10,150600,50\n2026-05-13,150800,48\n2026-05-16,{},50\n"
)


@pytest.mark.parametrize(
    ("middle", "last", "line"),
    [("15037.4", "151000", 4), ("1503740", "151000", 4), ("150400", "1510000", 7)],
)
def test_an_odometer_with_a_slipped_digit_is_told_by_its_line(
    tmp_path: Path, middle: str, last: str, line: int
) -> None:
    read = read_fillups(_file(tmp_path, FILLS.format(middle, last)), "UTC")
    (told,) = read.problems
    assert (told.code, told.first_line, told.count) == ("odometer-out-of-step", line, 1)
    assert told.value in (middle, last)
    assert read.set_aside_values == read.problems
    # the fuel stays, and only the reading is gone
    assert read.frame["volume_l"].to_list() == [50, 49, 51, 50, 48, 50]
    assert read.frame["indicated_distance_m"].null_count() == 1


def test_an_odometer_exchanged_half_way_is_no_slip(tmp_path: Path) -> None:
    text = "date,odometer (km),volume (L)\n" + "".join(
        f"2026-05-{day:02d},{counted},50\n"
        for day, counted in zip(range(1, 9), (900, 950, 990, 999, 10, 40, 90, 150), strict=True)
    )
    read = read_fillups(_file(tmp_path, text), "UTC")
    assert [problem.code for problem in read.problems] == ["odometer-anew"]
    assert read.frame["indicated_distance_m"].null_count() == 0


def test_unknown_headings_of_fillups_are_asked_for_with_the_lines_to_add(tmp_path: Path) -> None:
    path = _file(tmp_path, "noted,counter,stuff\n2026-05-04,93000,21\n2026-05-09,93200,20\n"
                 "2026-05-14,93400,22\n2026-05-19,93600,20\n")  # fmt: skip
    asked = read_fillups(path, "UTC")
    assert asked.frame.height == 0
    assert [(p.code, p.count) for p in asked.set_aside_rows] == [("time-unknown", 4)]
    lines = [line for p in asked.problems for line in p.remedy.splitlines()[1:]]
    assert lines == [
        '"noted" = { channel = "time" }',
        '"stuff" = { channel = "volume", unit = "gal" }',
        '"stuff" = { channel = "volume", unit = "L" }',
        '"counter" = { channel = "indicated_distance", unit = "mi" }',
        '"counter" = { channel = "indicated_distance", unit = "km" }',
    ]
    rules = (
        ColumnRule(heading="noted", channel="time"),
        ColumnRule(heading="counter", channel="indicated_distance", unit="mi"),
        ColumnRule(heading="stuff", channel="volume", unit="gal"),
    )
    answered = read_fillups(path, "UTC", rules)
    assert answered.problems == ()
    assert answered.frame["indicated_distance_m"][0] == pytest.approx(93000 * 1609.344)
    assert answered.frame["volume_l"][0] == pytest.approx(21 * 3.785411784)


def test_fillups_without_an_odometer_say_so(tmp_path: Path) -> None:
    path = _file(tmp_path, "date,volume (gal)\n2026-05-04,20\n2026-05-09,21\n")
    (asked,) = read_fillups(path, "UTC").problems
    assert "no column known as the odometer" in asked.message


def test_weather_without_a_unit_is_set_aside_row_by_row(tmp_path: Path) -> None:
    path = _file(tmp_path, "time,temperature\n2026-05-04,12\n2026-05-05,14\n")
    read = read_weather(path, "UTC")
    assert read.frame.height == 0
    assert [p.code for p in read.problems] == ["which-unit", "no-values"]


HEAD = "date,odometer (mi),volume (gal),full\n"


def test_a_fill_up_without_its_volume_is_missed_by_the_next(tmp_path: Path) -> None:
    """Its fuel went into the tank: the one after it must not look thrifty."""
    path = _file(
        tmp_path,
        f"{HEAD}2026-03-01,1000,30,yes\n2026-03-05,1200,,yes\n2026-03-09,1400,30,yes\n"
        "2026-03-13,1600,30,yes\n",
    )
    read = read_fillups(path, "UTC")
    assert read.frame["missed"].to_list() == [False, True, False]
    assert [(p.code, p.first_line) for p in read.set_aside_rows] == [("no-values", 3)]


@pytest.mark.parametrize(
    ("cells", "full"),
    [
        (("x", "", "x"), [True, False, True]),  # ticks
        (("yes", "half", "yes"), [True, False, True]),  # no word for a full tank
        (("", "no", ""), [True, False, True]),  # the exceptions noted
        (("", "", ""), [True, True, True]),
    ],
)
def test_what_a_blank_under_full_says(
    tmp_path: Path, cells: tuple[str, ...], full: list[bool]
) -> None:
    rows = "".join(
        f"2026-03-0{number},{1000 + 200 * number},30,{cell}\n"
        for number, cell in enumerate(cells, start=1)
    )
    assert read_fillups(_file(tmp_path, HEAD + rows), "UTC").frame["full"].to_list() == full


def test_two_fill_ups_of_one_day_stand_in_the_order_of_the_odometer(tmp_path: Path) -> None:
    path = _file(tmp_path, f"{HEAD}2026-03-01,1300,20,yes\n2026-03-01,1000,30,yes\n")
    assert read_fillups(path, "UTC").frame["volume_l"].is_sorted(descending=True)


def test_two_fillups_of_one_day_come_in_the_order_of_the_odometer(tmp_path: Path) -> None:
    path = _file(
        tmp_path,
        "date,odometer (km),volume (L)\n2026-05-01,1000,50\n2026-05-02,1400,20\n"
        "2026-05-02,1200,30\n2026-05-03,1600,40\n",
    )
    read = read_fillups(path, "UTC")
    assert read.problems == ()
    assert read.frame["indicated_distance_m"].is_sorted()
    assert read.frame["volume_l"].to_list() == [50, 30, 20, 40]


def test_a_pump_that_cut_off_is_one_fill_up_in_two_parts(tmp_path: Path) -> None:
    """30 gallons at one stop on two receipts: the tank took both, and neither row is dropped."""
    rows = "2026-03-01,1000,20\n2026-03-05,1200,25\n2026-03-05,1200,5\n2026-03-09,1400,30\n"
    frame = read_fillups(_file(tmp_path, HEAD.removesuffix(",full\n") + "\n" + rows), "UTC").frame
    assert frame["full"].to_list() == [True, False, True, True]
    assert frame["volume_l"].sum() == pytest.approx(80 * 3.785411784)


def test_a_fill_up_typed_twice_counts_once_and_is_told(tmp_path: Path) -> None:
    rows = "2026-03-01,1000,20,yes\n2026-03-05,1200,25,yes\n2026-03-05,1200,25,yes\n"
    read = read_fillups(_file(tmp_path, HEAD + rows), "UTC")
    assert read.frame["volume_l"].to_list() == pytest.approx([20 * 3.785411784, 25 * 3.785411784])
    assert [(p.code, p.first_line) for p in read.set_aside_rows] == [("repeated-row", 4)]


def test_exhaust_fluid_bought_with_the_fuel_is_no_fuel(tmp_path: Path) -> None:
    rows = "2026-03-01,1000,20,Diesel\n2026-03-05,1200,25,Diesel\n2026-03-05,1200,2.5,DEF\n"
    path = _file(tmp_path, f"date,odometer (mi),volume (gal),what\n{rows}")
    read = read_fillups(path, "UTC")
    assert read.frame["volume_l"].to_list() == pytest.approx([20 * 3.785411784, 25 * 3.785411784])
    assert [(p.code, p.first_line) for p in read.set_aside_rows] == [("other-fluid", 4)]


TRIPS = "".join(
    f"2026-03-{day:02d},{miles},{gallons}\n"
    for day, miles, gallons in (
        (1, "", 25), (5, 142, 21), (9, 170, 24), (13, 192, 29), (17, 100, 14), (18, 101, 15),
    )
)  # fmt: skip


def test_miles_from_fill_to_fill_are_summed_up(tmp_path: Path) -> None:
    """As many keep it: the trip meter, set back at the pump. 142 to 170 is no tank of 28 miles."""
    read = read_fillups(_file(tmp_path, f"date,distance (mi),volume (gal)\n{TRIPS}"), "UTC")
    assert [(p.code, p.count) for p in read.problems] == [("trip-meter", 5)]
    assert read.frame["indicated_distance_m"].to_list() == pytest.approx(
        [miles * 1609.344 for miles in (0, 142, 312, 504, 604, 705)]
    )


def test_a_distance_left_out_opens_a_new_stretch(tmp_path: Path) -> None:
    gap = f"date,distance (mi),volume (gal)\n{TRIPS}2026-03-21,,25\n2026-03-25,150,24\n"
    frame = read_fillups(_file(tmp_path, gap), "UTC").frame
    assert frame["missed"].to_list() == [True, *5 * [False], True, False]


@pytest.mark.parametrize("cells", [("", "x", ""), ("no", "yes", "no"), ("full", "partial", "full")])
def test_partial_fill_ups_may_be_the_ones_ticked(tmp_path: Path, cells: tuple[str, ...]) -> None:
    rows = "".join(f"2026-03-0{n},{1000 + 200 * n},30,{cell}\n" for n, cell in enumerate(cells, 1))
    head = "date,odometer (mi),volume (gal),partial fill-up\n"
    frame = read_fillups(_file(tmp_path, head + rows), "UTC").frame
    assert frame["full"].to_list() == [True, False, True]


WIND = "time,wind speed (kt),{}\n2026-03-01 00:00,5,{}\n2026-03-01 01:00,6,{}\n"


@pytest.mark.parametrize(
    ("heading", "cells", "degrees"),
    [
        ("wind direction", ("NNE", "w"), [22.5, 270]),
        ("wind direction (deg)", ("350", "10"), [350, 10]),
        ("wind direction (blowing to)", ("350", "10"), [170, 190]),
        ("wind direction (relative to true north)", ("350", "10"), [350, 10]),
    ],
)
def test_wind_by_the_points_of_the_compass_and_where_it_blows_to(
    tmp_path: Path, heading: str, cells: tuple[str, str], degrees: list[float]
) -> None:
    read = read_weather(_file(tmp_path, WIND.format(heading, *cells)), "UTC")
    assert read.problems == ()
    assert read.frame["wind_from_deg"].to_list() == pytest.approx(degrees)


def test_weather_whose_hours_stand_apart_from_its_dates_is_asked(tmp_path: Path) -> None:
    """Taken as it stands, every hour of a day would be noon."""
    rows = "".join(f"2026-03-0{d},{h:02d}:00,{h}\n" for d in (1, 2) for h in range(24))
    path = _file(tmp_path, f"date,obs,temperature (C)\n{rows}")
    asked = read_weather(path, "UTC")
    assert asked.frame.height == 0
    assert '"obs" = { channel = "time" }' in asked.problems[0].remedy
    answered = read_weather(path, "UTC", (ColumnRule(heading="obs", channel="time"),))
    assert answered.frame["ambient_temperature_c"].to_list() == 2 * list(range(24))


def test_codes_and_impossible_values_of_weather_are_set_aside(tmp_path: Path) -> None:
    """999.9 and 9999 stand for no value in many archives (common practice, no source)."""
    hours = [(5, 180, 12.5), (999.9, 990, 999.9), (6, 200, 13), (9999, 999, 11)]
    rows = "".join(f"2026-03-01T{h:02d}:00Z,{w},{d},{t}\n" for h, (w, d, t) in enumerate(hours))
    path = _file(tmp_path, "time,wind speed (m/s),wind direction (deg),temperature (degC)\n" + rows)
    read = read_weather(path, "UTC")
    assert read.frame["wind_speed_mps"].to_list() == [5, 6, None]
    assert read.frame["wind_from_deg"].to_list() == [180, 200, None]
    assert read.frame["ambient_temperature_c"].to_list() == [12.5, 13, 11]
    assert [(p.code, p.first_line) for p in read.set_aside_rows] == [("no-values", 3)]
    assert {p.code for p in read.set_aside_values} == {"out-of-range", "not-available-code"}


def _fills(rows: list[tuple[str, str, str]], headings: str = "date,odometer (mi),gallons") -> str:
    return headings + "\n" + "".join(",".join(row) + "\n" for row in rows)


# 300 miles on ten gallons each, 61,000 on
PLAIN = [(f"2026-05-{3 + 2 * i:02d}", str(61_000 + 300 * i), "10") for i in range(12)]


def test_a_few_fills_on_another_odometer_are_all_kept(tmp_path: Path) -> None:
    """Replaced early: three readings that rise by usual steps are no slipped digits."""
    late = [(day, str(12 + 300 * i), fuel) for i, (day, _, fuel) in enumerate(PLAIN)]
    read = read_fillups(_file(tmp_path, _fills(PLAIN[:3] + late[3:])), "UTC")
    assert read.frame["indicated_distance_m"].null_count() == 0
    assert [(p.code, p.count) for p in read.problems] == [("odometer-anew", 1)]


def test_a_fill_whose_date_cannot_be_read_is_missed_by_the_next(tmp_path: Path) -> None:
    """What was filled between is gone, in whichever order the rows stand; a total is no fill."""
    rows = [("?" if i == 5 else day, *rest) for i, (day, *rest) in enumerate(PLAIN)]
    for name, written in (("a.csv", rows), ("b.csv", rows[::-1])):
        text = _fills([*written[:8], ("April", "", "80"), *written[8:]])
        read = read_fillups(_file(tmp_path, text, name), "UTC")
        assert read.frame["missed"].to_list() == [i == 5 for i in range(11)], name
        assert sum(p.count for p in read.set_aside_rows) == 2


def test_thousands_and_a_unit_in_one_cell_are_read(tmp_path: Path) -> None:
    rows = [(day, f'"{int(miles):,} mi"', f"{fuel}.5 gal") for day, miles, fuel in PLAIN]
    read = read_fillups(_file(tmp_path, _fills(rows, "date,odometer,fuel")), "UTC")
    assert read.frame["indicated_distance_m"][0] == pytest.approx(61_000 * 1609.344)
    assert read.frame["volume_l"][0] == pytest.approx(10.5 * 3.785411784)
    assert not read.set_aside_values


@pytest.mark.parametrize(
    ("usual", "other", "missed"),
    [("Diesel #2", "gasoline", []), ("Premium", "propane", [3, 8]), ("LPG", "Super E10", [3, 8])],
)
def test_fills_of_another_fuel_are_no_fills(
    tmp_path: Path, usual: str, other: str, missed: list[int]
) -> None:
    """A diesel burns nothing else, so that what else was bought went to something else; a gasoline
    engine may have been driven on it. The column may be headed as the volume could be."""
    rows = []
    for i, (day, miles, gallons) in enumerate(PLAIN):
        rows.append((day, miles, usual, gallons))
        if i in (2, 7):
            rows.append((day, miles, other, "6"))
    text = "date,odometer (mi),fuel,gallons\n" + "".join(",".join(row) + "\n" for row in rows)
    read = read_fillups(_file(tmp_path, text), "UTC")
    assert [(p.code, p.first_line) for p in read.set_aside_rows] == [
        ("other-fuel", 5), ("other-fuel", 11),
    ]  # fmt: skip
    assert read.frame["volume_l"].to_list() == pytest.approx([10 * 3.785411784] * 12)
    assert [i for i, one in enumerate(read.frame["missed"]) if one] == missed


def test_stations_named_like_fuels_are_no_kinds_of_fuel(tmp_path: Path) -> None:
    rows = [
        (day, miles, "Super Stop" if i % 3 else "Diesel Depot", gallons)
        for i, (day, miles, gallons) in enumerate(PLAIN)
    ]
    text = "date,odometer (mi),where,gallons\n" + "".join(",".join(row) + "\n" for row in rows)
    assert read_fillups(_file(tmp_path, text), "UTC").frame.height == len(PLAIN)


def test_dates_in_two_forms_are_all_read(tmp_path: Path) -> None:
    """A notebook kept by hand at first and in a spreadsheet later."""
    rows = [(f"5/{day[-2:]}/26" if i < 5 else day, *rest) for i, (day, *rest) in enumerate(PLAIN)]
    read = read_fillups(_file(tmp_path, _fills(rows)), "UTC")
    assert [f"{at:%Y-%m-%d}" for at in read.frame["time"]] == [day for day, *_ in PLAIN]


def test_dates_of_both_orders_are_asked_about(tmp_path: Path) -> None:
    """Some can only be month first and some only day first: 04/05 may be either."""
    days = ["04/05/2026", "04/20/2026", "22/04/2026", "04/24/2026", "26/04/2026", "04/28/2026",
            "30/04/2026", "05/02/2026", "04/05/2026", "05/16/2026"]  # fmt: skip
    rows = [(day, miles, gallons) for day, (_, miles, gallons) in zip(days, PLAIN, strict=False)]
    read = read_fillups(_file(tmp_path, _fills(rows)), "UTC")
    assert read.frame.is_empty()
    assert [p.code for p in read.questions] == ["which-date-order"]
