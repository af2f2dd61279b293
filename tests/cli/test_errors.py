"""Each error of the catalogue, triggered through the command line, in the words a user reads."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from damaged_logs import Variant, text, variants, zipped
from log_maker import write_logs
from log_messages import TITLES

from gearing.cli import main
from gearing.run import outputs

PACKAGE = Path(outputs.__file__).parent
GOOD = next(v for v in variants() if not v.codes and not v.asks and v.file == "log.csv")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def study(tmp_path: Path) -> Path:
    return write_logs(tmp_path / "study", 2, 200)


def edited(study: Path, old: str, new: str) -> Path:
    content = study.read_text("utf-8")
    assert old in content
    study.write_text(content.replace(old, new, 1), encoding="utf-8")
    return study


# ---- the study file: a part of it replaced, the code, and what the user reads -------------

STUDY_FAULTS = {
    "study-syntax": ("seed = 1", "seed = = 1", ["line 2"]),
    "study-missing": ('drive_tire = "245/70R19.5"\n', "", ["[before] has no drive_tire"]),
    "study-unknown-key": ("axle_ratio", "axel_ratio", ["Did you mean axle_ratio?"]),
    "study-type": ("seed = 1", 'seed = "1"', ["line 2", "without quotes"]),
    "study-range": ("axle_ratio = 4.88", "axle_ratio = 488", ["488 is not plausible"]),
    "study-unit": ('"12000 kg"', "12000", ['as in mass = "26500 lb"']),
    "study-choice": ('"diesel"', '"diesle"', ['Did you mean "diesel"?']),
    "study-size": ("265/70R19.5", "265-70", ["is not a tire size", '"245/70R19.5"']),
    "study-files": ("before/*.csv", "befor/*.csv", ["matches no file"]),
    "study-time-zone": ("seed = 1", 'time_zone = "Mars"', ["is not a time zone"]),
    "study-date": ("[claim]", '[[dash]]\nat = "noon"\nspeed = "60 mph"\n[claim]', ["at"]),
    "study-conflict": ("seed = 1", 'logs = ["*/*.csv"]', ["logs", "Give each period its own"]),
}


@pytest.mark.parametrize("code", sorted(STUDY_FAULTS))
def test_a_fault_of_the_study_file(study: Path, code: str) -> None:
    old, new, words = STUDY_FAULTS[code]
    found = run("run", edited(study, old, new))
    assert found.exit_code == 2
    for word in (*words, str(study)):
        assert word in found.stderr
    assert found.stdout == ""


def test_a_study_file_that_is_not_there() -> None:
    found = run("run", "nowhere.toml")
    assert found.exit_code == 2
    assert "nowhere.toml" in found.stderr


def test_all_faults_are_told_at_once(study: Path) -> None:
    for code in ("study-unit", "study-choice", "study-range"):
        old, new, _ = STUDY_FAULTS[code]
        edited(study, old, new)
    found = run("run", study)
    assert len(found.stderr.strip().splitlines()) == 3


# ---- the output folder ---------------------------------------------------------------------


def test_output_faults(study: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    (tmp_path / "file").touch()
    found = run("run", study, "--out", tmp_path / "file")
    assert found.exit_code == 2
    assert "is not a folder" in found.stderr
    assert "--out" in found.stderr

    out.mkdir()
    (out / "trips.csv").write_text("mine", encoding="utf-8")
    found = run("run", study, "--out", out)
    assert "holds trips.csv, which this program did not write" in found.stderr
    assert (out / "trips.csv").read_text("utf-8") == "mine"

    outputs.claim_folder(tmp_path / "other", "another")
    found = run("run", study, "--out", tmp_path / "other")
    assert "holds the output of another study, 'another'" in found.stderr

    found = run("run", study, "--out", Path("/proc/none/out"))
    assert found.exit_code == 2
    assert "cannot be made" in found.stderr


# ---- logs ------------------------------------------------------------------------------------


def _own(name: str, content: str | bytes, file: str = "log.csv") -> Variant:
    data = content if isinstance(content, bytes) else content.encode()
    return Variant(name=name, data=data, file=file)


def _cases() -> dict[str, Variant]:
    """A log for each code; those that need a study's [columns] to arise are shown elsewhere."""
    found: dict[str, Variant] = {}
    for variant in variants():
        for code in (*variant.codes, *variant.asks):
            if not variant.options:
                found.setdefault(code, variant)
    return found


def _rows(*times: str, speeds: tuple[str, ...] = ("30.1,31", "30.2,32", "30.4,33")) -> str:
    cells = (f"{time},{speeds[n % len(speeds)]}\n" for n, time in enumerate(times))
    return "Time,GPS speed (mph),Vehicle speed (mph)\n" + "".join(cells)


_MINUTES = [f"2026-05-14 08:{minute:02d}" for minute in range(9) for _ in range(6)]
_SECONDS = [f"2026-05-14 08:{n // 60:02d}:{n % 60:02d}" for n in range(900)]
_CHANGED = tuple(
    f"{30 + n % 9}.1," + (str(31 + n // 3 % 5) if n % 3 == 0 else "") for n in range(45)
)
CASES = _cases() | {
    "coarse-clock": _own("minutes alone", _rows(*_MINUTES)),
    "counts-anew": _own(
        "two days", _rows("14:05:01", "14:05:02", "08:00:01", "08:00:02"), "2026-05-14.csv"
    ),
    "held-values": _own("by change", _rows(*_SECONDS, speeds=_CHANGED)),
    "broken-date": _own(
        "a month of thirteen", _rows(*_SECONDS).replace("2026-05-14 08:05", "2026-13-14 08:05", 1)
    ),
    "encoded-twice": _own("a degree twice", _rows(*_SECONDS).replace("Time", "Time,x [Â°C]", 1)),
    "minus-sign": _own("a printed minus", _rows(*_SECONDS, speeds=("\u22120.1,0", "30,31"))),
    "parted-by-blanks": _own(
        "by blanks", _rows(*_SECONDS[:40]).replace(",", "   ").replace(" (mph)", "_mph")
    ),
    "time-stands": _own("one minute", _rows(*_MINUTES[:1] * 45, speeds=_CHANGED)),
    "two-tracks": _own(
        "two places",
        "Time,Latitude,Longitude\n"
        + "".join(f"{t},{46 + n % 2}.1,{7 + n / 1e4:.5f}\n" for n, t in enumerate(_SECONDS[:60])),
    ),
    "time-by-positions": _own(
        "minutes",
        "Time,Latitude,Longitude,GPS speed (m/s)\n"
        + "".join(f"{n / 60:.6f},{46 + n * 20 / 111_320:.6f},7.1,20\n" for n in range(900)),
        "2026-05-14_1405.csv",
    ),
    "several-vehicles": _own(
        "two vehicles",
        "Vehicle,Time,GPS speed (mph)\n"
        + "".join(f"{'AB'[n // 20]},{t},{30 + n % 7}\n" for n, t in enumerate(_SECONDS[:40])),
    ),
    "second-table": _own(
        "two tables",
        "Time,GPS speed (mph),Time,RPM\n"
        + "".join(
            f"{t},{30 + n % 7},{_SECONDS[n + 9]},{900 + n}\n" for n, t in enumerate(_SECONDS[:40])
        ),
    ),
    "formula-cells": _own("a cell as a formula", _rows(*(f'="{t}"' for t in _SECONDS[:40]))),
    "above-headings": _own(
        "headings below the first rows",
        "".join(f"{t},30.1,31\n" for t in _SECONDS[:5]) + _rows(*_SECONDS[5:40]),
    ),
    "no-count": _own(
        "fuel by the row",
        "Time,GPS speed (mph),Fuel used (L)\n"
        + "".join(f"{t},{30 + n % 7},0.00{n % 3}\n" for n, t in enumerate(_SECONDS[:60])),
    ),
    "other-kind": _own("fill-ups", "Date,Odometer (mi),Gallons\n2026-05-14,84388,24.6\n"),
    "several-in-archive": _own(
        "two files of no log's name", zipped({"a.dat": b"1", "b.dat": b"2"}), "log.zip"
    ),
}
# not by what a file holds: the reader's own failure, a file that is not there, what takes other
# logs or is of a fill-up log (tests/logs/
# test_date_order.py and test_companions.py); and what takes a study's time zone, shown below
NOT_BY_CONTENT = {"reader-fault", "unreadable-file", "order-by-logs"}
NOT_BY_CONTENT |= {"repeated-time", "repeated-distance", "unit-by-others"}
NOT_BY_CONTENT |= {"odometer-out-of-step", "other-fluid", "trip-meter", "distance-back-and-forth"}
NOT_BY_CONTENT |= {"odometer-anew", "other-fuel"}
BY_TIME_ZONE = {"clock-not-switched", "summer-time"}


@pytest.mark.parametrize("code", sorted(set(TITLES) - NOT_BY_CONTENT - BY_TIME_ZONE))
def test_inspect_tells_each_reason(code: str, tmp_path: Path) -> None:
    assert code in CASES, f"no damaged log shows {code}"
    found = run("inspect", CASES[code].write(tmp_path))
    assert found.exit_code == 0, found.stderr
    told = re.sub(r"\s+", " ", found.output)
    assert TITLES[code] in told


@pytest.mark.parametrize("code", sorted(BY_TIME_ZONE))
def test_inspect_in_local_time_tells_the_change_of_clocks(code: str, tmp_path: Path) -> None:
    variant = next(v for v in variants() if code in v.codes)
    zone = variant.options["time_zone"]
    study = tmp_path / "study.toml"
    head = f'name = "x"\ntime_zone = "{zone}"\n[before]\ndrive_tire = "245/70R19.5"\n'
    study.write_text(head + 'logs = ["log.csv"]\n', encoding="utf-8")
    found = run("inspect", variant.write(tmp_path), "--columns", study)
    assert TITLES[code] in re.sub(r"\s+", " ", found.output)


def test_inspect_of_what_cannot_be_read(tmp_path: Path) -> None:
    link = tmp_path / "log.csv"
    link.symlink_to(tmp_path / "gone.csv")
    found = run("inspect", link)
    assert found.exit_code == 2
    assert "is not there" in found.stderr
    empty = tmp_path / "empty"
    empty.mkdir()
    found = run("inspect", empty)
    assert found.exit_code == 2
    assert "holds no logs" in found.stderr
    found = run("inspect")
    assert found.exit_code == 2
    assert "Name one or more log files" in found.stderr


def test_a_bad_log_never_stops_the_batch(study: Path) -> None:
    (study.parent / "after" / "bad.csv").write_bytes(b"\x00\x01\x02\xff" * 500)
    (study.parent / "after" / "none.csv").touch()
    found = run("run", study, "--jobs", "1", "--out", study.parent / "out")
    assert found.exit_code in (0, 1), found.stderr
    results = outputs.read(study.parent / "out" / "results.json")
    assert results is not None
    told = {note["code"] for note in results["notes"]} | set(results["input"]["reasons"])
    assert {"not-text", "empty-file"} <= told
    assert results["input"]["rows_used"] == 400


def test_a_log_too_short_for_a_trip_is_told(study: Path) -> None:
    lines = (study.parent / "after" / "log00001.csv").read_text("utf-8").splitlines()
    short = "\n".join([lines[0], *(line.replace("2025", "2026") for line in lines[1:9])]) + "\n"
    (study.parent / "after" / "short.csv").write_text(short, encoding="utf-8")
    run("run", study, "--jobs", "1", "--out", study.parent / "out")
    results = outputs.read(study.parent / "out" / "results.json")
    assert results is not None
    assert [n["file"] for n in results["notes"] if n["code"] == "no-trip"] == ["after/short.csv"]


# ---- other commands ----------------------------------------------------------------------


def test_tires_that_are_none() -> None:
    found = run("tires", "big", "bigger")
    assert found.exit_code == 2
    assert found.stderr.count("is not a tire size") == 2


def test_gears_without_ratios(study: Path) -> None:
    found = run("gears", edited(study, "gear_ratios", "# gear_ratios"))
    assert found.exit_code == 2
    assert "gear_ratios" in found.stderr


def test_a_study_is_never_written_over(study: Path) -> None:
    before = study.read_bytes()
    found = run("inspect", "--write-study", study, study.parent)
    assert found.exit_code == 2
    assert "exists and is left as it is" in found.stderr
    assert study.read_bytes() == before


def test_exit_status_tells_whether_anything_was_answered(tmp_path: Path) -> None:
    study = write_logs(tmp_path / "study", 2, 200)
    shutil.copy(study, tmp_path / "keep.toml")
    for path in study.parent.glob("*/*.csv"):
        path.write_text(text(["nothing,known", "1,2"]), encoding="utf-8")
    found = run("run", study, "--jobs", "1", "--out", tmp_path / "out")
    assert found.exit_code == 1
    assert "Not answered" in found.stdout
