"""What goes wrong on a machine is told in words, and costs no other file."""

from __future__ import annotations

import json
import resource
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from drills import drill
from log_maker import write_logs

from gearing.messages import GearingError
from gearing.run import batch, study_logs, tasks
from gearing.run.batch import Options, run_loaded, run_study
from gearing.run.progress import Progress
from gearing.study import load_study

OPTIONS = Options(jobs=1)


@pytest.fixture
def study(tmp_path: Path) -> Path:
    return write_logs(tmp_path / "study", 6, 900)


def _run(study: Path, out: Path, options: Options = OPTIONS) -> dict[str, Any]:
    given = Options(out=out, jobs=options.jobs, keep=options.keep)
    return run_study(study, given, Progress(quiet=True)).results


def _notes(results: dict[str, Any]) -> dict[str, str]:
    return {note["code"]: note["file"] for note in results["notes"]}


def test_a_file_that_cannot_be_read_is_named_and_the_rest_is_used(study: Path) -> None:
    gone = study.parent / "before" / "log00000.csv"
    gone.unlink()
    gone.symlink_to(study.parent / "nowhere.csv")
    declared = load_study(study)
    results = run_loaded(declared, study.parent / "out", OPTIONS, Progress(quiet=True)).results
    assert _notes(results)["unreadable-file"] == "before/log00000.csv"
    assert results["input"]["files"] == 6
    assert len(results["trips"]) == 5


def test_a_folder_that_vanishes_is_told_file_by_file(study: Path) -> None:
    declared = load_study(study)
    files = study_logs.log_files(declared)
    shutil.rmtree(study.parent / "after")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(study_logs, "log_files", lambda _: files)
        results = run_loaded(declared, study.parent / "out", OPTIONS, Progress(quiet=True)).results
    (note,) = [note for note in results["notes"] if note["code"] == "unreadable-file"]
    assert note["files"] == 3
    assert {trip["period"] for trip in results["trips"]} == {"before"}


def test_a_file_that_changes_while_it_is_read_is_told_and_not_kept(
    study: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = study.parent / "after" / "log00005.csv"
    read = tasks.read_task

    def append_and_read(task: tasks.ReadTask) -> Any:
        if task.path == path.absolute():
            with path.open("a", encoding="utf-8") as handle:
                handle.write("\n")
        return read(task)

    monkeypatch.setattr(tasks, "read_task", append_and_read)
    assert _notes(_run(study, study.parent / "out"))["changed-while-read"] == "after/log00005.csv"
    monkeypatch.undo()
    assert "changed-while-read" not in _notes(_run(study, study.parent / "out"))


def test_a_damaged_cache_is_rebuilt_not_trusted(study: Path, tmp_path: Path) -> None:
    expected = _run(study, tmp_path / "one")
    entries = [path for path in (study.parent / batch.CACHE).rglob("*") if path.is_file()]
    assert len(entries) > 10
    for number, path in enumerate(entries):
        content = bytearray(path.read_bytes())
        content[number % len(content)] ^= 255
        path.write_bytes(bytes(content) if number % 2 else bytes(content[: len(content) // 2]))
    assert _run(study, tmp_path / "two") == expected


def test_a_clock_that_goes_backwards_does_not_matter(study: Path, tmp_path: Path) -> None:
    import os

    expected = _run(study, tmp_path / "one")
    for path in (*study.parent.rglob("*.csv"), study):
        os.utime(path, (0, 0))
    assert _run(study, tmp_path / "two") == expected


def test_the_same_drive_under_two_names_is_used_once_and_told(study: Path) -> None:
    first = study.parent / "after" / "log00004.csv"
    shutil.copy(first, first.with_name("zcopy.csv"))
    results = _run(study, study.parent / "out")
    assert results["input"]["reasons"] == {"duplicate": 900}
    assert results["input"]["rows_read"] == 7 * 900
    assert results["input"]["rows_used"] == 6 * 900
    assert len(results["trips"]) == 6


@pytest.mark.drill
@pytest.mark.parametrize("keep", [True, False])
def test_a_full_disk_is_told_and_leaves_no_half_result(study: Path, keep: bool) -> None:
    out = study.parent / "out"
    command = [sys.executable, "-m", "gearing", "run", str(study), "--out", str(out)]

    def no_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))

    options = [] if keep else ["--no-cache"]
    done = subprocess.run(
        [*command, *options], capture_output=True, text=True, check=False, preexec_fn=no_room
    )
    assert done.returncode == 2, done.stderr
    assert "could not be written" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (out / "results.json").exists()
    assert subprocess.run([*command, "--quiet"], check=False).returncode == 0
    assert json.loads((out / "results.json").read_text("utf-8"))["input"]["rows_used"] == 5400


@pytest.mark.drill
def test_two_runs_at_once_end_alike(study: Path) -> None:
    out = study.parent / "out"
    command = [sys.executable, "-m", "gearing", "run", str(study), "--out", str(out), "--quiet"]
    runs = [subprocess.Popen(command) for _ in range(2)]
    assert [run.wait() for run in runs] == [0, 0]
    results = json.loads((out / "results.json").read_text("utf-8"))
    assert batch.outputs.finished_results(out, results["run_id"]) is not None


def test_another_studys_folder_is_refused(study: Path, tmp_path: Path) -> None:
    _run(study, tmp_path / "out")
    text = study.read_text("utf-8").replace('name = "benchmark"', 'name = "another"')
    study.with_name("other.toml").write_text(text, encoding="utf-8")
    with pytest.raises(GearingError, match="holds the output of another study, 'benchmark'"):
        _run(study.with_name("other.toml"), tmp_path / "out")


@pytest.mark.drill
def test_killed_runs_leave_nothing_half_written() -> None:
    assert drill(3) >= 3
