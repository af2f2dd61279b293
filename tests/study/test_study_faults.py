"""Each fault a study file can have, by the words and the line the user is given."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from gearing.messages import GearingError, Problem
from gearing.study import load_study
from gearing.study.schema import keys_by_table


def problems_of(path: Path) -> tuple[Problem, ...]:
    with pytest.raises(GearingError) as caught:
        load_study(path)
    return caught.value.problems


# what is changed in the complete example, the code, and words the message must hold
CASES = [
    ('name = "bookmobile"', "", "study-missing", 'name is missing. Add name = "bookmobile"'),
    ('name = "bookmobile"', 'name = "  "', "study-type", "name is blank."),
    ('name = "bookmobile"', r'name = "a\u0000b"', "study-type", r'"a\u0000b" holds a control'),
    ('name = "bookmobile"', "name = 3", "study-type", "name = 3 is a number; text in quotes"),
    ('units = "us"', 'units = "imperial"', "study-choice", 'is not one of "us", "metric".'),
    ('units = "us"', 'units = "metrik"', "study-choice", 'Did you mean "metric"?'),
    ("America/Denver", "America/Denvr", "study-time-zone", 'Did you mean "America/Denver"?'),
    ("America/Denver", "../../etc/passwd", "study-time-zone", "is not a time zone"),
    ('"fillups.csv"', '"fillup.csv"', "study-files", 'Did you mean "fillups.csv"?'),
    ('"weather.csv"', '"routes"', "study-files", 'weather = "routes" is a folder'),
    ('"0.5 mi"', "0.5", "study-unit", "private_radius = 0.5 has no unit."),
    ('"0.5 mi"', '"0.5"', "study-unit", 'private_radius: "0.5" has no unit.'),
    ('"0.5 mi"', '"half a mile"', "study-unit", "is not a number with a unit"),
    ("seed = 7", "seed = 1.5", "study-type", "a whole number without quotes is wanted"),
    ("seed = 7", "seed = -1", "study-range", "seed = -1 is not plausible"),
    ("seed = 7", "seed = true", "study-type", "seed = true is true or false"),
    ("seed = 7", "colour = 3", "study-unknown-key", '"colour" is not a key of the top of the file'),
    ("seed = 7", "load = 3", "study-syntax", "The same key or table stands twice"),
    ("margin_percent = 1.5", "margin_percent = nan", "study-range", "nan is not plausible"),
    ('mass = "26500 lb"', "mass = 26500", "study-unit", 'as in mass = "26500 lb"'),
    ('mass = "26500 lb"', 'mass = "26500 gal"', "study-unit", '"gal" is not a unit of mass.'),
    ('mass = "26500 lb"', 'mass = "26500 gal"', "study-unit", "one of kg, t, lb"),
    ('mass = "26500 lb"', 'mass = "26,5 t"', "study-unit", "comma that sets no thousands apart"),
    ('mass = "26500 lb"', 'mass = "26500 t"', "study-range", "300 to 150,000 kg is expected"),
    ('mass = "26500 lb"', 'mass = "1e999 lb"', "study-range", "is not plausible"),
    ('mass = "26500 lb"', "mass = 2026-03-01", "study-type", "is a date; a number with its unit"),
    ('mass = "26500 lb"', 'mas = "26500 lb"', "study-unknown-key", "Did you mean mass?"),
    ('mass = "26500 lb"', "seed = 1", "study-unknown-key", "top of the file, above the first"),
    (
        'mass = "26500 lb"',
        'tread = "1 in"',
        "study-unknown-key",
        "It belongs in [before] or [after]",
    ),
    ('fuel = "diesel"', 'fuel = "petrol"', "study-choice", '"diesel", "gasoline"'),
    ("axle_ratio = 4.88", "axel_ratio = 4.88", "study-unknown-key", "Did you mean axle_ratio?"),
    ("axle_ratio = 4.88", 'axle_ratio = "4.88"', "study-type", "a number without quotes is wanted"),
    ("axle_ratio = 4.88", 'axle_ratio = "?"', "study-type", "axle_ratio is still to be filled in"),
    ("axle_ratio = 4.88", "axle_ratio = 488", "study-range", "1 to 20 is expected"),
    ("[3.51, 1.91", "[1.51, 1.91", "study-range", "from first gear to top gear"),
    ("[3.51, 1.91", '["3.51", 1.91', "study-type", "a list of numbers without quotes"),
    ("[3.51, 1.91, 1.43, 1.00, 0.74, 0.64]", "[]", "study-type", "gear_ratios is an empty list"),
    ("[3.51, 1.91, 1.43, 1.00, 0.74, 0.64]", "3.51", "study-type", "a list in brackets"),
    ("converter = true", 'converter = "yes"', "study-type", "true or false is wanted"),
    ("converter = true", 'transmission = "automatic"', "study-choice", '"converter", "manual"'),
    (
        "converter = true",
        'converter = true\ntransmission = "manual"',
        "study-conflict",
        'does not fit transmission = "manual"',
    ),
    ('"output shaft"', '"outputshaft"', "study-choice", 'Did you mean "output shaft"?'),
    ("shaft_pulses = 16", "shaft_pulses = 0", "study-range", "1 to 1,000"),
    ('"65 ft^2"', '"65 ft"', "study-unit", '"ft" is not a unit of area'),
    ("rpm = [800, 1600, 2400]", "rpm = [800, 2400, 1600]", "study-range", "does not rise"),
    (
        "rpm = [800, 1600, 2400]",
        "rpm = [800, 1600]",
        "study-conflict",
        "torque has 3 figures and rpm has 2",
    ),
    ('"600 lbf*ft"', "600", "study-unit", "torque = 600 has no unit"),
    (
        "torque_curve = { rpm = [800, 1600, 2400], torque = "
        '["600 lbf*ft", "900 lbf*ft", "813.5 N*m"] }',
        "",
        "study-missing",
        "[vehicle.engine] has no torque_curve.",
    ),
    ("torque_curve = {", "torque_curve = 3 #", "study-type", "a table is wanted"),
    ("idle_rpm = 700", "idle_rpm = 1900\ngoverned_rpm = 1800", "study-syntax", "not TOML here"),
    ('kind = "compression"', 'kind = "compresion"', "study-choice", 'Did you mean "compression"?'),
    ('kind = "compression", ', "", "study-missing", "[vehicle.engine.retarder] has no kind."),
    (
        ', power = ["60 kW", "200 hp"] }',
        " }",
        "study-missing",
        "Without the maker's figures, leave [vehicle.engine.retarder] out",
    ),
    ('["60 kW", "200 hp"]', '["60 kW"]', "study-conflict", "power has 1 figure and rpm has 2"),
    ('drive_tire = "265/70R19.5"', "", "study-missing", "[after] has no drive_tire."),
    (
        'drive_tire = "265/70R19.5"',
        'drive_tire = "265-70"',
        "study-size",
        "is not a tire size; write",
    ),
    ('drive_tire = "265/70R19.5"', 'drive_tire = "26570R195"', "study-size", "mean 265/70R19.5?"),
    ('drive_tire = "265/70R19.5"', 'drive_tire = "99R99"', "study-size", "not in the table"),
    ('steer_tire = "245/70R19.5"', 'steer_tire = "big"', "study-size", "[before] steer_tire:"),
    ("per_mile = 628", "per_mile = 390", "study-conflict", "is far from the 629 that 245/70R19.5"),
    (
        "revolutions_per_mile = 628",
        "revolutions_per_mile = 628\nrevolutions_per_km = 390",
        "study-conflict",
        "are both given. Keep one.",
    ),
    ('["before/*.csv"]', '["befor/*.csv"]', "study-files", '"befor/*.csv" matches no file.'),
    ('["before/*.csv"]', '["before"]', "study-files", 'write "before/*.csv"'),
    ('["before/*.csv"]', '["before/*.CSV.gz"]', "study-files", "there is: trip_1.csv, trip_2.csv"),
    ('["before/*.csv"]', "[3]", "study-type", "a list of texts in quotes"),
    (
        '["before/*.csv"]',
        '["*/trip*.csv"]',
        "study-conflict",
        "that the logs of [before] match too: trip_3.csv. A log",
    ),
    ('pressure = "95 psi"', 'pressure = "950 psi"', "study-range", "100 to 1,200 kPa"),
    ('fitment = "dual"', 'fitment = "duals"', "study-choice", 'Did you mean "dual"?'),
    ("seed = 7", 'logs = ["*/*.csv"]', "study-conflict", "in [before] too"),
    ("to = 2026-03-02", "to = 2026-02-02", "study-date", "is not after from"),
    ("to = 2026-03-02", "to = 3", "study-type", "to = 3 is a number; a date is wanted"),
    ("to = 2026-03-02", 'to = "02.03.2026"', "study-type", "Write to = 2026-03-02"),
    ("to = 2026-03-02", "to = 9999-12-31", "study-range", "not a plausible date"),
    ("to = 2026-03-02", "", "study-missing", "[[load]] 1 has no to."),
    ("to = 2026-03-02", "to = 2026-05-02", "study-conflict", "lies within an earlier [[load]]"),
    ("towing = true", "", "study-missing", "[[load]] 2 has no mass. A load needs a mass"),
    ('distance = "5.00 mi"', "", "study-missing", "A stretch needs its distance"),
    ('distance = "5.00 mi"', 'distance = "5 gal"', "study-unit", '"gal" is not a unit of length'),
    ("at = 2026-03-14T09:30:00", "", "study-missing", "[[dash]] 1 has no at."),
    ("at = 2026-03-14T09:30:00", "at = 09:30:00", "study-type", "is a time of day; a date"),
    # in 2026 the clocks of Denver go forward on 8 March at 2:00 and back on 1 November at 2:00
    ("at = 2026-03-14T09:30:00", "at = 2026-03-08T02:30:00", "study-date", "did not exist"),
    ("at = 2026-03-14T09:30:00", "at = 2026-11-01T01:30:00", "study-date", "came twice"),
    (
        'speed = "55 mph"\nodometer = "48210 mi"',
        "",
        "study-missing",
        "needs a speed or an odometer",
    ),
    ('"indicated_speed"', '"indicatd_speed"', "study-choice", 'Did you mean "indicated_speed"?'),
    ('"indicated_speed"', '"xxxx"', "study-choice", "Channels are: accelerator,"),
    ('unit = "mph"', 'unit = "kg"', "study-unit", '"kg" is not a unit of speed'),
    ('unit = "mph"', 'units = "mph"', "study-unknown-key", "Did you mean unit?"),
    ('channel = "indicated_speed", ', "", "study-missing", "has no channel"),
    ('RPM = "engine_speed"', "RPM = 3", "study-type", "RPM = 3 names no channel"),
    ("consumption_change_percent = -4", "", "study-missing", "[claim] has no consumption_change"),
    ("change_percent = -4", "change_percent = 4", "study-range", "less consumption is negative"),
    ("change_percent = -4", "change_percent = -0.04", "study-range", "change_percent = -4"),
    (
        "consumption_change_percent = -4",
        "economy_change_percent = -4",
        "study-range",
        "is positive",
    ),
    (
        "consumption_change_percent = -4",
        "consumption_change_percent = -4\neconomy_change_percent = 4",
        "study-conflict",
        "Keep one; the other follows",
    ),
    ('"4.10 USD/gal"', "4.10", "study-unit", "fuel_price = 4.1 has no currency"),
    ('"4.10 USD/gal"', '"4.10 USD"', "study-unit", "is not an amount of money for a volume"),
    ('"4.10 USD/gal"', '"4.10 USD/mi"', "study-unit", "is not an amount of money for a volume"),
    ('"2400 USD"', '"2400"', "study-unit", '"2400" is not an amount of money'),
    ('"2400 USD"', '"2400 EUR"', "study-conflict", "is in EUR and fuel_price in USD"),
    ('"routes/cold_spring.csv"', '"routes/cold.csv"', "study-files", "is not there"),
    ('name = "Cold Spring Pass"', "", "study-missing", "[[route]] 1 has no name."),
    ('"60 mph"', '"60 mp"', "study-unit", '"mp" is not a unit of speed. Write it in one of m/s'),
]


@pytest.mark.parametrize(("old", "new", "code", "words"), CASES)
def test_words(write, example, old, new, code, words) -> None:
    assert example.count(old) >= 1
    path = write(example.replace(old, new, 1))
    found = problems_of(path)
    matching = [p for p in found if p.code == code and words in p.sentence()]
    assert matching, "\n".join(p.sentence() for p in found)
    assert matching[0].file == str(path)
    line = matching[0].first_line
    wanted = example[: example.index(old)].count("\n") + 1
    if new and code not in ("study-conflict", "study-syntax"):
        assert line == wanted
    elif words.startswith("name is missing"):
        assert line is None
    else:  # a missing key has the line of its table, a clash that of one of the two
        assert line is not None


def test_a_number_where_tables_belong(write) -> None:
    text = 'dash = 3\nname = "x"\n[before]\ndrive_tire = "245/70R19.5"\nlogs = "before/*.csv"\n'
    (problem,) = problems_of(write(text))
    assert problem.message == "dash = 3 is a number; a list of tables is wanted."
    assert problem.remedy == "Start each with a line [[dash]]"


def test_every_fault_at_once(write, example) -> None:
    text = example
    for old, new in [
        ("seed = 7", "seed = -7"),
        ('"26500 lb"', "26500"),
        ("axle_ratio", "axel_ratio"),
        ("265/70R19.5", "265/70"),
        ('"55 mph"', '"55"'),
    ]:
        text = text.replace(old, new, 1)
    found = problems_of(write(text))
    assert [p.code for p in found] == [
        "study-range",
        "study-unit",
        "study-unknown-key",
        "study-size",
        "study-unit",
    ]
    lines = [p.first_line for p in found]
    assert lines == sorted(lines)
    assert all(p.remedy or p.code == "study-size" for p in found)


def test_no_period(write) -> None:
    (problem,) = problems_of(write('name = "x"\n'))
    assert "needs [before] or [after] with drive_tire and logs" in problem.message


def test_no_logs_at_all(write) -> None:
    text = 'name = "x"\n[before]\ndrive_tire = "245/70R19.5"\n'
    (problem,) = problems_of(write(text))
    assert "[before] has no logs." in problem.sentence()
    assert "a fill-up log is evidence too" in problem.sentence()
    assert problem.sentence().endswith('Add logs = ["before/*.csv"]')


def test_a_date_that_splits_nothing(write) -> None:
    text = (
        'name = "x"\n[before]\ndrive_tire = "245/70R19.5"\nlogs = "before/*.csv"\n'
        '[after]\ndrive_tire = "265/70R19.5"\nlogs = "after/*.csv"\nfrom = 2026-03-14\n'
    )
    (problem,) = problems_of(write(text))
    assert "splits nothing" in problem.message
    # where there are fill-ups, it splits those
    assert load_study(write('fillups = "fillups.csv"\n' + text)).after.start is not None


@pytest.mark.parametrize("periods", ["both", "before", "after"])
def test_fillups_alone_are_evidence(write, periods: str) -> None:
    """With the date of the change, or where there is one set of tires."""
    text = 'name = "x"\nfillups = "fillups.csv"\n'
    if periods != "after":
        text += '[before]\ndrive_tire = "245/70R19.5"\n'
    if periods != "before":
        text += '[after]\ndrive_tire = "265/70R19.5"\n'
    if periods == "both":
        (problem,) = problems_of(write(text))
        assert "with from = 2026-03-14 under [after]" in problem.message
        text += "from = 2026-03-14\n"
    study = load_study(write(text))
    assert study.fillups is not None
    assert not study.logs


def test_split_without_a_date(write) -> None:
    text = (
        'name = "x"\nlogs = "*/trip*.csv"\n[before]\ndrive_tire = "245/70R19.5"\n'
        '[after]\ndrive_tire = "265/70R19.5"\n'
    )
    (problem,) = problems_of(write(text))
    assert problem.message == "[after] has no from. It splits the logs at the top of the file."
    assert problem.first_line == 5


def test_split_without_a_before(write) -> None:
    text = (
        'name = "x"\nlogs = "*/trip*.csv"\n[after]\ndrive_tire = "265/70R19.5"\nfrom = 2026-03-14\n'
    )
    (problem,) = problems_of(write(text))
    assert problem.message == "before is missing. [after] has from, so it is needed."


def test_two_routes_of_one_name(write, example) -> None:
    text = example + '[[route]]\nname = "Cold Spring Pass"\nprofile = "routes/cold_spring.csv"\n'
    (problem,) = problems_of(write(text))
    assert problem.message.endswith("names two routes.")


def test_idle_above_governed(write, example) -> None:
    text = example.replace("idle_rpm = 700", "idle_rpm = 1900").replace(
        "governed_rpm = 2500", "governed_rpm = 1800"
    )
    (problem,) = problems_of(write(text))
    assert problem.message == "[vehicle.engine] idle_rpm is not below governed_rpm."


def test_inch_size_outside_the_table(write, example) -> None:
    strange = example.replace('drive_tire = "245/70R19.5"', 'drive_tire = "16R22.5"', 1)
    assert load_study(write(strange)).before is not None  # its published figure serves
    without = strange.replace("revolutions_per_mile = 628", "")
    (problem,) = problems_of(write(without))
    assert problem.code == "study-size"
    assert "revolutions_per_mile" in problem.message


SYNTAX = [
    ("name = bookmobile", 1, 'Text and quantities stand in quotes, as in mass = "26500 lb".'),
    ('name = "a"\nunits "us"', 2, "Each line is key = value"),
    ('name = "a\nunits = "us"', 1, "Look for a missing quote or ]."),
    ('name = "a"\nname = "b"', 2, "stands twice"),
    ('name = "a"\n[before]\n[before]', 3, "stands twice"),
    ('name = "a"\nlogs = ["C:\\logs\\*.csv"]', 2, "Write paths with / or in single quotes"),
    ('name = "a"\nlogs = ["x"', 2, "missing quote or ]"),
    ("name = " + "[" * 5000, None, ""),
    ("seed = " + "9" * 5000, None, ""),
]


@pytest.mark.parametrize(("text", "line", "remedy"), SYNTAX)
def test_not_toml(write, text, line, remedy) -> None:
    (problem,) = problems_of(write(text))
    assert problem.code == "study-syntax"
    assert problem.first_line == line
    assert remedy in problem.remedy
    assert not re.search(r"\(at line", problem.message)


def test_a_log_is_no_study(folder: Path) -> None:
    path = folder / "before" / "trip_1.csv"
    path.write_text("time,speed\n0,1\n")
    (problem,) = problems_of(path)
    assert problem.remedy == "This looks like a log; name the study file (.toml) instead."


def test_no_such_file(folder: Path) -> None:
    (problem,) = problems_of(folder / "none.toml")
    assert problem.message == "there is no such file."
    assert "gearing inspect --write-study" in problem.remedy


def test_a_folder_is_no_study(folder: Path) -> None:
    (problem,) = problems_of(folder)
    assert problem.message == "this is a folder; a study file is wanted."


def test_not_utf8(folder: Path) -> None:
    path = folder / "study.toml"
    path.write_bytes('name = "a"\nunits = "Größe"\n'.encode("cp1252"))
    (problem,) = problems_of(path)
    assert (problem.first_line, problem.remedy) == (2, "Save the file as UTF-8.")


def test_a_huge_file(folder: Path) -> None:
    path = folder / "study.toml"
    path.write_bytes(b"#" * 3_000_000)
    (problem,) = problems_of(path)
    assert problem.remedy == "Name the .toml file, not a log."


def test_tables_known_to_the_hints_are_those_read(write, example) -> None:
    """A key the hints do not know could not be sent home; one they invent would mislead."""
    tables = {table: keys for table, keys in keys_by_table().items() if f"{table}\n" in example}
    assert {"[vehicle.engine]", "[[load]]", "[[dash]]", "[[route]]"} <= set(tables)
    for table, keys in tables.items():
        for key in keys:
            stray = f'{key}_x = "1"\n'
            broken = example.replace(f"{table}\n", f"{table}\n{stray}", 1)
            (problem,) = problems_of(write(broken if table else stray + example))
            assert problem.code == "study-unknown-key", problem.sentence()
            assert "Did you mean" in problem.remedy


@pytest.mark.parametrize(
    ("key", "home"),
    [
        ("towing", "[[load]]"),
        ("distance", "[[measured]]"),
        ("at", "[[dash]]"),
        ("kind", "retarder"),
    ],
)
def test_a_key_in_the_wrong_table_is_sent_to_any_that_knows_it(write, example, key, home) -> None:
    (problem,) = problems_of(write(example.replace("[money]\n", f"[money]\n{key} = 1\n")))
    assert home in problem.remedy


def test_a_misspelt_key_is_not_missing_besides(write, example) -> None:
    (told,) = problems_of(write(example.replace("drive_tire", "drive_tyre", 1)))
    assert told.code == "study-unknown-key"
    assert "Did you mean drive_tire?" in told.sentence()
