"""A fleet file: many studies, controls split at a date of their own, all faults at once."""

from __future__ import annotations

import os
import random
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from gearing.messages import GearingError, Problem
from gearing.study import log_files, side_at
from gearing.study.fleet import is_fleet, load_fleet

BUS = """\
name = "{name}"
units = "us"
[before]
drive_tire = "245/70R19.5"
logs = ["before.csv"]
[after]
drive_tire = "265/70R19.5"
logs = ["after.csv"]
"""
VAN = """\
name = "{name}"
time_zone = "America/Denver"
logs = ["*.csv"]
[before]
drive_tire = "245/70R19.5"
"""


@pytest.fixture
def fleet(tmp_path: Path) -> Path:
    """Two buses with new tires and a van that kept its own."""
    for name, text in (("bus_1", BUS), ("bus_2", BUS), ("van_1", VAN)):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "study.toml").write_text(text.format(name=name))
        for log in ("before.csv", "after.csv"):
            (folder / log).write_text("time\n")
    return tmp_path


def write(folder: Path, text: str) -> Path:
    path = folder / "fleet.toml"
    path.write_text(text)
    return path


def problems_of(path: Path) -> tuple[Problem, ...]:
    with pytest.raises(GearingError) as caught:
        load_fleet(path)
    return caught.value.problems


SOUND = """\
name = "county fleet"
studies = [
  "bus_1/study.toml",
  "bus_2/study.toml",
  { study = "van_1/study.toml", role = "control", changed = 2026-03-14 },
]
[claim]
economy_change_percent = 4
"""


def test_members(fleet: Path) -> None:
    found = load_fleet(write(fleet, SOUND))
    assert (found.name, found.slug, found.units) == ("county fleet", "county-fleet", "us")
    assert [(m.study.name, m.role) for m in found.members] == [
        ("bus_1", "changed"),
        ("bus_2", "changed"),
        ("van_1", "control"),
    ]
    assert found.claim is not None
    # 100/104 as much fuel for a distance
    assert found.claim.consumption_change_percent == pytest.approx(100 / 1.04 - 100)


def test_a_control_is_split_at_its_date(fleet: Path) -> None:
    van = load_fleet(write(fleet, SOUND)).members[2].study
    assert van.before is not None
    assert van.after is not None
    assert van.before.drive_tire == van.after.drive_tire == "245/70R19.5"
    assert [path.name for path, side in log_files(van) if side is None] == [
        "after.csv",
        "before.csv",
    ]
    # 14 March 2026 begins in Denver at 6:00 UTC
    assert side_at(van, datetime(2026, 3, 14, 5, 59, tzinfo=UTC)) == "before"
    assert side_at(van, datetime(2026, 3, 14, 6, 0, tzinfo=UTC)) == "after"


def test_a_control_is_asked_nothing_of_new_tires(fleet: Path) -> None:
    van = fleet / "van_1" / "study.toml"
    money = '[claim]\nconsumption_change_percent = -4\n[money]\ncost = "9 USD"\n'
    van.write_text(f"{van.read_text()}\n{money}")
    control = load_fleet(write(fleet, SOUND)).members[2].study
    assert control.claim is None
    assert control.money is None


def test_a_control_with_both_periods_needs_no_date(fleet: Path) -> None:
    text = BUS.format(name="van_1").replace("265", "245")
    (fleet / "van_1" / "study.toml").write_text(text)
    van = load_fleet(write(fleet, SOUND.replace(", changed = 2026-03-14", ""))).members[2].study
    assert {side for _, side in log_files(van)} == {"before", "after"}
    again = load_fleet(write(fleet, SOUND)).members[2].study
    assert {side for _, side in log_files(again)} == {None}


def test_a_pattern_names_many_studies(fleet: Path) -> None:
    text = 'name = "f"\nstudies = ["bus_*/study.toml"]\nunits = "metric"\n'
    found = load_fleet(write(fleet, text))
    assert [m.study.name for m in found.members] == ["bus_1", "bus_2"]
    assert found.units == "metric"


def test_which_file_is_a_fleet(fleet: Path) -> None:
    assert is_fleet(write(fleet, SOUND))
    assert not is_fleet(fleet / "bus_1" / "study.toml")
    assert not is_fleet(fleet / "bus_1" / "before.csv")
    assert not is_fleet(fleet / "none.toml")


CASES = [
    ('name = "county fleet"', "", "study-missing", "name is missing.", None),
    ('"bus_1/study.toml"', "7", "study-type", "studies holds 7.", 2),
    ('role = "control"', 'rule = "control"', "study-unknown-key", "Did you mean role?", 5),
    ('role = "control"', 'role = "kontrol"', "study-choice", 'Did you mean "control"?', 5),
    ('study = "van_1/study.toml", ', "", "study-missing", "has no study", 5),
    ("changed = 2026-03-14", 'changed = "spring"', "study-type", "a date is wanted", 5),
    (
        '"bus_2/study.toml"',
        '{ study = "bus_2/study.toml", changed = 2026-01-01 }',
        "study-conflict",
        "is for controls",
        4,
    ),
    ("[claim]", "[claims]", "study-unknown-key", "Did you mean claim?", 7),
]


@pytest.mark.parametrize(("old", "new", "code", "words", "line"), CASES)
def test_words(fleet: Path, old: str, new: str, code: str, words: str, line: int | None) -> None:
    assert old in SOUND
    found = problems_of(write(fleet, SOUND.replace(old, new, 1)))
    matching = [p for p in found if p.code == code and words in p.sentence()]
    assert matching, "\n".join(p.sentence() for p in found)
    assert matching[0].first_line == line


# what costs one vehicle: the others are run without it
OF_ONE_VEHICLE = [
    ('"bus_1/study.toml"', '"bus_7/study.toml"', "study-files", "matches no file", 3),
    ('"bus_1/study.toml"', '"bus_1/before.csv"', "study-syntax", "looks like a log", 1),
    (", changed = 2026-03-14", "", "study-missing", "has one period only", 5),
    (
        '  "bus_2/study.toml",\n  { study = "van_1/study.toml", role = "control"',
        '  { study = "bus_2/study.toml", role = "control"',
        "study-conflict",
        "declares two tire sizes",
        4,
    ),
    ('"van_1/', '"bus_2/', "study-conflict", "more than once, with different roles", None),
]


@pytest.mark.parametrize(("old", "new", "code", "words", "line"), OF_ONE_VEHICLE)
def test_words_of_one_vehicle(
    fleet: Path, old: str, new: str, code: str, words: str, line: int | None
) -> None:
    assert old in SOUND
    found = load_fleet(write(fleet, SOUND.replace(old, new, 1)))
    (one,) = found.not_run
    (problem,) = one.problems
    assert problem.code == code
    assert words in problem.sentence()
    assert problem.first_line == line
    assert one.name not in {member.study.name for member in found.members}


def test_broken_studies_cost_no_other(fleet: Path) -> None:
    (fleet / "bus_1" / "study.toml").write_text("name = = 1\n")
    (fleet / "van_1" / "before.csv").unlink()
    (fleet / "van_1" / "after.csv").unlink()
    found = load_fleet(write(fleet, SOUND))
    assert [member.study.name for member in found.members] == ["bus_2"]
    told = {one.name: [p.code for p in one.problems] for one in found.not_run}
    # a name that can be read names the vehicle; else its file does
    assert told == {"bus_1/study.toml": ["study-syntax"], "van_1": ["study-files"]}
    assert [one.role for one in found.not_run] == ["changed", "control"]


def test_a_fleet_of_broken_studies_tells_them_all(fleet: Path) -> None:
    for name in ("bus_1", "bus_2", "van_1"):
        (fleet / name / "before.csv").unlink()
        (fleet / name / "after.csv").unlink()
    found = problems_of(write(fleet, SOUND))
    assert {Path(p.file).parent.name for p in found} == {"bus_1", "bus_2", "van_1"}
    assert {p.code for p in found} == {"study-files"}


def test_a_study_listed_twice_counts_once(fleet: Path) -> None:
    text = SOUND.replace('"bus_1/study.toml"', '"bus_*/study.toml"')
    found = load_fleet(write(fleet, text))
    assert [member.study.name for member in found.members] == ["bus_1", "bus_2", "van_1"]
    (warning,) = found.warnings
    assert warning.code == "listed-twice"
    assert warning.text.startswith("bus_2/study.toml is listed more than once and counts once.")


@pytest.fixture
def ordinary_user() -> Iterator[None]:
    """For whom folders can be shut; root looks into all of them."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.usefixtures("ordinary_user")
def test_a_study_in_a_folder_that_may_not_be_looked_into() -> None:
    with tempfile.TemporaryDirectory() as folder:
        for name in ("bus_1", "bus_2", "bus_3"):
            place = Path(folder, name)
            place.mkdir()
            (place / "study.toml").write_text(BUS.format(name=name))
            for log in ("before.csv", "after.csv"):
                (place / log).write_text("time\n")
        shut = [Path(folder, "bus_2"), Path(folder, "bus_3")]
        for place, mode in zip(shut, (0o000, 0o600), strict=True):
            place.chmod(mode)
        try:
            text = 'name = "f"\nstudies = ["bus_*/study.toml"]\n'
            found = load_fleet(write(Path(folder), text))
        finally:
            for place in shut:
                place.chmod(0o700)
    assert [member.study.name for member in found.members] == ["bus_1"]
    assert [one.file for one in found.not_run] == shut
    assert {one.problems[0].code for one in found.not_run} == {"study-unreadable"}


def test_mutated_files_never_crash(fleet: Path) -> None:
    generator = random.Random(20260315)
    refused = []
    for _ in range(300):
        characters = list(SOUND)
        for _ in range(generator.randint(1, 4)):
            at = generator.randrange(len(characters))
            characters[at : at + generator.randint(0, 9)] = generator.choice(
                ["", "[", '"', "= 1", "{}"]
            )
        try:
            load_fleet(write(fleet, "".join(characters)))
        except GearingError as error:
            refused.append(error)
    assert all(error.problems for error in refused)
    assert 100 < len(refused) < 300


def test_no_studies(fleet: Path) -> None:
    assert problems_of(write(fleet, 'name = "f"\n'))[0].message == "studies is missing."
    (problem,) = problems_of(write(fleet, 'name = "f"\nstudies = []\n'))
    assert problem.message == "studies is an empty list."


def test_controls_alone(fleet: Path) -> None:
    van = '{ study = "van_1/study.toml", role = "control", changed = 2026-03-14 }'
    text = f'name = "f"\nstudies = [{van}]\n'
    (problem,) = problems_of(write(fleet, text))
    assert problem.message == "studies are all controls; none has changed its tires."


def test_two_studies_of_one_name(fleet: Path) -> None:
    (fleet / "bus_2" / "study.toml").write_text(BUS.format(name="Bus 1"))
    found = load_fleet(write(fleet, SOUND))
    assert [member.study.name for member in found.members] == ["van_1"]
    first, second = (one.problems[0].message for one in found.not_run)
    assert first.startswith('name = "bus_1", and')
    assert first.endswith('is called "Bus 1" too.')
    assert second.startswith('name = "Bus 1", and')


def test_faults_of_all_files_at_once(fleet: Path) -> None:
    (fleet / "bus_1" / "study.toml").write_text(BUS.format(name="bus_1").replace("265/70", "265"))
    (fleet / "bus_2" / "study.toml").write_text(BUS.format(name="bus_2") + "colour = 1\n")
    found = problems_of(write(fleet, SOUND.replace('"county fleet"', "3")))
    places = {(Path(p.file).parent.name, p.code) for p in found}
    assert places == {
        (fleet.name, "study-type"),
        ("bus_1", "study-size"),
        ("bus_2", "study-unknown-key"),
    }


@pytest.mark.parametrize("key", ["studis", "study", "Studies"])
def test_a_slip_in_the_one_key_that_makes_a_fleet(tmp_path: Path, key: str) -> None:
    path = tmp_path / "fleet.toml"
    path.write_text(f'name = "county"\n{key} = ["a.toml"]\n')
    assert is_fleet(path)
    with pytest.raises(GearingError) as caught:
        load_fleet(path)
    assert "Did you mean studies?" in str(caught.value)
    path.write_text(f'name = "one"\n{key} = ["a.toml"]\n[before]\nlogs = ["*.csv"]\n')
    assert not is_fleet(path)


def test_logs_that_two_studies_name(tmp_path: Path) -> None:
    for name in ("a", "b", "c"):
        (tmp_path / f"{name}.csv").write_text("time\n")
    for name, logs in (
        ("one", '"a.csv", "b.csv"'),
        ("two", '"b.csv", "c.csv"'),
        ("three", '"c.csv"'),
    ):
        text = f'name = "{name}"\n[before]\ndrive_tire = "245/70R19.5"\nlogs = [{logs}]\n'
        (tmp_path / f"{name}.toml").write_text(text)
    path = tmp_path / "fleet.toml"
    path.write_text('name = "county"\nstudies = ["one.toml", "two.toml", "three.toml"]\n')
    told = [one.text for one in load_fleet(path).warnings]
    assert len(told) == 2
    assert "one and two name 1 log in common, as b.csv" in told[0]
    assert "two and three name 1 log in common, as c.csv" in told[1]
