"""Hostile files: bounded in time and memory, the program never at fault, the study never lost."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from damaged_logs import table, text

from gearing.logs.read import read_log

HERE = Path(__file__).parent
FILES = int(os.environ.get("GEARING_HOSTILE_FILES", "60"))
GOOD = text(table())
linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="devices of Linux")


@pytest.mark.drill
@linux
@pytest.mark.timeout(0)
def test_hostile_files_within_a_gibibyte_and_ten_seconds() -> None:
    command = [sys.executable, str(HERE / "hostile_logs.py"), str(FILES)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA, zipfile.ZIP_DEFLATED])
def test_each_method_of_packing_is_read(method: int, tmp_path: Path) -> None:
    path = tmp_path / "log.zip"
    with zipfile.ZipFile(path, "w", method) as archive:
        archive.writestr("log.csv", GOOD)
    reading = read_log(path)
    assert (reading.rows_read, reading.rows_used) == (1800, 1800)
    damaged = bytearray(path.read_bytes())
    damaged[len(damaged) // 2] ^= 0xFF
    path.write_bytes(damaged)
    assert [p.code for p in read_log(path).set_aside_rows] == ["damaged-archive"]


def _gearing(*words: str | bytes, **how: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "gearing", *words]
    return subprocess.run(  # type: ignore[call-overload,no-any-return]
        command, **({"capture_output": True, "text": True, "check": False, "timeout": 60} | how)
    )


@linux
@pytest.mark.parametrize("kind", ["pipe", "device", "broken link", "socket"])
def test_what_is_no_plain_file_is_told_and_not_waited_for(kind: str, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "device":
        path.symlink_to("/dev/zero")
    elif kind == "broken link":
        path.symlink_to(tmp_path / "gone.csv")
    else:
        import socket

        with socket.socket(socket.AF_UNIX) as one:
            one.bind(str(path))
    assert [p.code for p in read_log(path).set_aside_rows] == ["unreadable-file"]


@linux
@pytest.mark.drill
def test_a_run_over_pipes_devices_and_names_that_are_no_text(tmp_path: Path) -> None:
    for side in ("before", "after"):
        (tmp_path / side).mkdir()
        (tmp_path / side / f"{side}.csv").write_text(GOOD)
    odd = os.fsencode(tmp_path / "before") + b"/f\xfchrt \xe9.csv"
    Path(os.fsdecode(odd)).write_text(GOOD.replace("2026-03-17", "2026-03-20"))
    os.mkfifo(tmp_path / "before" / "pipe.csv")
    (tmp_path / "after" / "zero.csv").symlink_to("/dev/zero")
    study = tmp_path / "study.toml"
    study.write_text(
        'name = "x"\n[before]\ndrive_tire = "245/70R19.5"\nlogs = ["before/*.csv"]\n'
        '[after]\ndrive_tire = "265/70R19.5"\nlogs = ["after/*.csv"]\n'
    )
    out = tmp_path / "out"
    done = _gearing("run", str(study), "--out", str(out), "--jobs", "1")
    assert done.returncode == 0, done.stderr
    results = json.loads((out / "results.json").read_text("utf-8"))
    assert results["input"]["files"] == 5
    assert results["input"]["repairs"]["unreadable-file"] == 2
    told = {n["file"] for n in results["notes"] if n.get("code") == "unreadable-file"}
    assert told <= {"before/pipe.csv", "after/zero.csv"}
    assert told
    shown = [(out / name).read_text("utf-8") for name in ("trips.csv", "set_aside.csv")]
    assert "before/f\\xfchrt \\xe9.csv" in "".join(shown)


@linux
def test_an_output_that_is_full_or_closed_is_told_as_such() -> None:
    for words in (["tires", "245/70R19.5", "265/70R19.5"], ["--help"]):
        with Path("/dev/full").open("w") as full:
            done = _gearing(*words, stdout=full, stderr=subprocess.PIPE, capture_output=False)
        assert done.returncode == 2
        assert "No space left on device" in done.stderr
        assert "fault of the program" not in done.stderr
        assert "Traceback" not in done.stderr
    closed = f"exec {sys.executable} -m gearing tires 245/70R19.5 265/70R19.5 >&- 2>&-"
    assert subprocess.run(["sh", "-c", closed], check=False, timeout=60).returncode == 0


def test_a_python_that_strips_docstrings_is_told_before_anything_is_read(tmp_path: Path) -> None:
    command = [sys.executable, "-OO", "-m", "gearing", "run", str(tmp_path / "none.toml")]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 2
    assert "-OO" in done.stderr
    inspected = tmp_path / "log.csv"
    inspected.write_text(GOOD)
    command = [sys.executable, "-OO", "-m", "gearing", "inspect", str(inspected)]
    assert subprocess.run(command, capture_output=True, check=False, timeout=60).returncode == 0
