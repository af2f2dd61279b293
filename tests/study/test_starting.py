"""A starting study written from a folder of logs, filled in and loaded again."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from gearing.messages import GearingError
from gearing.study import load_study, log_files
from gearing.study.starting import write_starting_study

DAY = datetime(2026, 1, 5, 9, tzinfo=UTC)


def log_text(day: int, heading: str = "Vehicle Speed (mph)") -> str:
    rows = [f"Time,Latitude,Longitude,GPS Speed (km/h),{heading},Engine RPM"]
    for second in range(120):
        moment = DAY + timedelta(days=day, seconds=second)
        speed = 40 + 20 * abs(60 - second) / 60
        rows.append(
            f"{moment:%Y-%m-%dT%H:%M:%SZ},{40 + second * 1e-4:.5f},-105.00000,{speed:.1f},"
            f"{speed * 0.6:.0f},{1200 + 10 * second}"
        )
    return "\n".join(rows) + "\n"


def write_log(path: Path, day: int, **how: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(log_text(day, **how))


@pytest.fixture
def split(tmp_path: Path) -> Path:
    """Logs in folders before and after, with companions beside them."""
    for day, name in enumerate(["before/a.csv", "before/b.CSV", "before/deep/c.csv"]):
        write_log(tmp_path / "bus" / name, day)
    write_log(tmp_path / "bus" / "after" / "d.csv", 40)
    write_log(tmp_path / "bus" / "routes" / "old_toll_road.csv", 50)
    (tmp_path / "bus" / "fillups.csv").write_text("date,odometer (mi),volume (gal)\n")
    (tmp_path / "bus" / "Weather.csv").write_text("time,wind speed (m/s)\n")
    (tmp_path / "bus" / "notes.pdf").write_text("x")
    return tmp_path / "bus"


def fill_in(path: Path, **answers: str) -> None:
    text = path.read_text()
    for size in ("245/70R19.5", "265/70R19.5"):
        text = text.replace('drive_tire = "?"', f'drive_tire = "{size}"', 1)
    for key, value in answers.items():
        text = text.replace(f'{key} = "?"', f"{key} = {value}", 1)
    path.write_text(text)


def test_folders_before_and_after(split: Path) -> None:
    path = split / "study.toml"
    lines = write_starting_study(path, split)
    assert lines[0] == f"Wrote {path}."
    numbers = [int(line.split()[-1][:-1]) for line in lines if "Fill in drive_tire" in line]
    text = path.read_text().splitlines()
    assert [text[number - 1].split("  #")[0] for number in numbers] == ['drive_tire = "?"'] * 2
    with pytest.raises(GearingError) as caught:
        load_study(path)
    assert [p.code for p in caught.value.problems] == ["study-size", "study-size"]
    assert [p.first_line for p in caught.value.problems] == numbers
    fill_in(path)
    study = load_study(path)
    assert study.name == "bus"
    assert study.units == "us"  # the logs are in miles an hour
    assert study.fillups == split / "fillups.csv"
    assert study.weather == split / "Weather.csv"
    found = [(found.relative_to(split).as_posix(), side) for found, side in log_files(study)]
    assert found == [
        ("after/d.csv", "after"),
        ("before/a.csv", "before"),
        ("before/b.CSV", "before"),
        ("before/deep/c.csv", "before"),
    ]
    assert '# profile = "routes/old_toll_road.csv"' in path.read_text()


def test_one_folder_split_by_date(tmp_path: Path) -> None:
    for number, day in enumerate([0, 1, 2, 30, 31]):
        write_log(tmp_path / "logs" / f"{number}.csv", day)
    path = tmp_path / "study.toml"
    lines = write_starting_study(path, tmp_path / "logs")
    assert sum(line.startswith("Fill in ") for line in lines) == 3
    text = path.read_text()
    assert "# 5 logs found, 2026-01-05 to 2026-02-05 (UTC)." in text
    assert "(the longest pause between logs: 2026-01-07 to 2026-02-04)" in text
    assert "# Good for speed: 5 of 5." in text
    assert "# Not good for fuel; missing: " in text
    fill_in(path, **{"from": "2026-02-01"})
    study = load_study(path)
    assert [found.name for found, _ in log_files(study)] == [f"{n}.csv" for n in range(5)]
    assert study.after is not None
    assert study.after.start == datetime(2026, 2, 1, tzinfo=UTC)


def test_every_commented_line_is_sound_once_uncommented(split: Path) -> None:
    path = split / "study.toml"
    write_starting_study(path, split)
    fill_in(path)
    lines = path.read_text().splitlines()
    text = "\n".join(
        line[2:] if line.startswith("# ") and (" = " in line or line.startswith("# [")) else line
        for line in lines
    )
    assert text.count("\n# ") < len(lines) / 3
    path.write_text(text)
    study = load_study(path)
    assert study.vehicle.engine is not None
    assert study.claim is not None
    assert [route.name for route in study.routes] == ["Old Toll Road"]


def test_questions_become_lines_to_choose_from(tmp_path: Path) -> None:
    write_log(tmp_path / "logs" / "a.csv", 0, heading="Temperature")
    path = tmp_path / "study.toml"
    lines = write_starting_study(path, tmp_path / "logs")
    assert any("left in doubt: see [columns] in it." in line for line in lines)
    text = path.read_text()
    choices = [line for line in text.splitlines() if line.startswith('# "Temperature" = {')]
    assert choices
    text = text.replace(choices[0], choices[0].removeprefix("# "), 1)
    path.write_text(text)
    fill_in(path, **{"from": "2026-02-01"})
    (rule,) = load_study(path).columns
    assert (rule.heading, rule.channel) == ("Temperature", "ambient_temperature_c")


def test_local_times_are_told(tmp_path: Path) -> None:
    for day in range(3):
        write_log(tmp_path / "logs" / f"{day}.csv", day)
    lines = write_starting_study(tmp_path / "zoned.toml", tmp_path / "logs")
    assert not any("time_zone" in line for line in lines)
    for day in (3, 4):
        path = tmp_path / "logs" / f"{day}.csv"
        write_log(path, day, heading="Wheel-Based Vehicle Speed (km/h)")
        path.write_text(path.read_text().replace("Z,", ","))
    lines = write_starting_study(tmp_path / "local.toml", tmp_path / "logs")
    assert "Name your time_zone: 2 logs carry times without a zone." in lines
    assert "2 of 5 logs carry times without a zone" in (tmp_path / "local.toml").read_text()


def test_what_exists_is_left_alone(split: Path) -> None:
    path = split / "study.toml"
    path.write_text("mine")
    with pytest.raises(GearingError, match="this file exists and is left as it is"):
        write_starting_study(path, split)
    assert path.read_text() == "mine"


def test_no_such_folder(tmp_path: Path) -> None:
    with pytest.raises(GearingError, match="this is not a folder"):
        write_starting_study(tmp_path / "study.toml", tmp_path / "none")


def test_a_folder_without_logs(tmp_path: Path) -> None:
    (tmp_path / "picture.png").write_bytes(b"x")
    with pytest.raises(GearingError, match=r"no logs in this folder\. Logs end in \.csv"):
        write_starting_study(tmp_path / "study.toml", tmp_path)
    assert not (tmp_path / "study.toml").exists()


def test_no_place_to_write(split: Path) -> None:
    with pytest.raises(GearingError, match="cannot be written: No such file"):
        write_starting_study(split / "nowhere" / "study.toml", split)


def test_logs_that_cannot_be_read_are_named(tmp_path: Path) -> None:
    (tmp_path / "bad.csv").write_bytes(b"")
    write_log(tmp_path / "good.csv", 0)
    lines = write_starting_study(tmp_path / "study.toml", tmp_path)
    assert "Could not be read: bad.csv" in lines
    assert '# Could not be read: "bad.csv": ' in (tmp_path / "study.toml").read_text()


def test_what_to_do_about_an_unread_log_stands_beside_it(tmp_path: Path) -> None:
    """An owner read "cannot be dated" and did not see that a line further down mends it."""
    write_log(tmp_path / "good.csv", 0)
    (tmp_path / "undated.csv").write_text(log_text(1).replace("Time", "When it was", 1))
    write_starting_study(tmp_path / "study.toml", tmp_path)
    written = (tmp_path / "study.toml").read_text()
    told = next(line for line in written.splitlines() if '"undated.csv"' in line)
    assert "Answer the question about the time" in told
    assert '"When it was"' in written.partition("[columns]")[2]


def test_hostile_names(tmp_path: Path) -> None:
    folder = tmp_path / 'x]["\n[after]\\'
    write_log(folder / "before" / 'a"[1]\n#.csv', 0)
    write_log(folder / "after" / "*.csv", 40)
    path = tmp_path / "study.toml"
    write_starting_study(path, folder)
    fill_in(path)
    study = load_study(path)
    assert study.name == 'x][" [after]\\'
    assert [side for _, side in log_files(study)] == ["after", "before"]


def test_what_an_earlier_run_wrote_is_no_log(split: Path) -> None:
    """Only beside a run's own files: a folder named reports may hold logs too."""
    from gearing.run.inspection import inspect_files

    study = split / "study.toml"
    write_starting_study(study, split)
    found = study.read_text().splitlines()[1]
    for name in ("report.html", "results.json", "trips.csv", "set_aside.csv"):
        path = split / "reports" / "bus" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("trip,liters\n1,2\n")
    again = split / "again.toml"
    write_starting_study(again, split)
    assert again.read_text().splitlines()[1] == found
    assert "trips.csv" not in inspect_files([split], None, as_json=False)
    write_log(split / "reports" / "e.csv", 60)
    third = split / "third.toml"
    write_starting_study(third, split)
    assert third.read_text().splitlines()[1] != found


def test_very_many_folders_become_one_pattern(tmp_path: Path) -> None:
    for number in range(20):
        write_log(tmp_path / "logs" / str(number) / "trip.csv", number)
    path = tmp_path / "study.toml"
    write_starting_study(path, tmp_path / "logs")
    assert 'logs = ["logs/**/*.csv"]' in path.read_text()
    fill_in(path, **{"from": "2026-01-10"})
    assert len(log_files(load_study(path))) == 20


BUS = ("Time", "Vehicle Speed (mph)", "Engine RPM")
TRACK = ("Time", "Latitude", "Longitude", "GPS Speed (km/h)")


def write_part(path: Path, day: int, columns: tuple[str, ...], zone: str = "Z") -> None:
    """Of a log of that day only these columns."""
    rows = [line.split(",") for line in log_text(day).splitlines()]
    at = [rows[0].index(name) for name in columns]
    path.parent.mkdir(parents=True, exist_ok=True)
    text = "\n".join(",".join(row[i] for i in at) for row in rows)
    path.write_text(text.replace("Z,", f"{zone},") + "\n")


def head_of(path: Path, logs: Path, *, beside: bool = True) -> str:
    from gearing.run.inspection import joined

    if beside:
        write_starting_study(path, logs, joined)
    else:
        write_starting_study(path, logs)
    return path.read_text().partition("\nname")[0]


def test_logs_of_one_drive_are_judged_together(tmp_path: Path) -> None:
    for day in (0, 1, 2):
        write_part(tmp_path / "logs" / f"{day}_bus.csv", day, BUS)
        write_part(tmp_path / "logs" / f"{day}_track.csv", day, TRACK)
    head = head_of(tmp_path / "a.toml", tmp_path / "logs")
    for part in ("speed", "final drive"):
        assert f"# Good for {part}: 3 drives that several logs show, joined by time." in head
    assert "# Not good for fuel; missing: fuel rate, fuel used or mass air flow." in head
    assert "# Not good for mountain; missing: altitude." in head
    alone = head_of(tmp_path / "b.toml", tmp_path / "logs", beside=False)
    assert "Good for" not in alone.replace("Not good for", "")


def test_logs_of_other_times_are_not_good_together(tmp_path: Path) -> None:
    write_part(tmp_path / "logs" / "bus.csv", 0, BUS)
    write_part(tmp_path / "logs" / "track.csv", 1, TRACK)
    head = head_of(tmp_path / "a.toml", tmp_path / "logs")
    assert "# Not good for speed; missing: " in head
    assert "joined" not in head
    assert "time_zone" not in head


def test_local_times_may_be_what_keeps_logs_apart(tmp_path: Path) -> None:
    write_part(tmp_path / "logs" / "bus.csv", 1, BUS, zone="")
    write_part(tmp_path / "logs" / "track.csv", 0, TRACK)
    head = head_of(tmp_path / "a.toml", tmp_path / "logs")
    assert "# Not good for speed; missing: " in head
    assert "# Once time_zone is named, logs that carry local time may join the others" in head


def test_inspection_says_what_logs_of_one_drive_are_good_for(tmp_path: Path) -> None:
    from gearing.run.inspection import inspect_files

    paths = [tmp_path / f"{name}.csv" for name in ("bus", "track", "other")]
    for path, day, columns in zip(paths, (0, 0, 5), (BUS, TRACK, TRACK), strict=True):
        write_part(path, day, columns)
    text = inspect_files(paths, None, as_json=False)
    assert text.endswith(
        "bus.csv and track.csv show one drive; joined, good for: speed, final drive"
    )
    bus, track, other = json.loads(inspect_files(paths, None, as_json=True))
    assert (bus["joined_with"], track["joined_with"]) == (["track.csv"], ["bus.csv"])
    assert bus["good_for_joined"] == ["speed", "final drive"]
    assert "joined_with" not in other


def test_of_very_many_logs_some_are_looked_into_side_by_side(tmp_path: Path) -> None:
    for day in range(150):
        write_part(tmp_path / "logs" / f"{day:03d}_bus.csv", day, BUS)
        write_part(tmp_path / "logs" / f"{day:03d}_track.csv", day, TRACK)
    head = head_of(tmp_path / "a.toml", tmp_path / "logs")
    assert "# 300 logs found, 152 of them looked into" in head
    assert "# Good for speed: 76 drives" in head
