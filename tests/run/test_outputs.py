"""The output folder holds a whole run, or none; and nothing that is not ours is touched."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from gearing.messages import GearingError, message
from gearing.run import outputs

FRAME = pl.DataFrame({"trip": ["a", "b"], "true_km": [1.0, 2.0]})


def _code(folder: Path, name: str) -> str:
    with pytest.raises(GearingError) as raised:
        outputs.claim_folder(folder, name)
    return raised.value.problems[0].code


def _write_all(folder: Path, run_id: str, name: str = "mine") -> None:
    outputs.claim_folder(folder, name)
    contents = {"report.html": f"<p>{run_id}</p>".encode()}
    contents |= {name: outputs.parquet_bytes(FRAME, run_id) for name in outputs.TABLES}
    contents |= {name: outputs.csv_bytes(FRAME, run_id) for name in ("trips.csv", "set_aside.csv")}
    outputs.write_run(folder, contents, {"schema": 2, "study": name, "run_id": run_id})


def test_a_finished_run_is_known_again(tmp_path: Path) -> None:
    _write_all(tmp_path, "aa11")
    assert outputs.finished_results(tmp_path, "aa11") is not None
    assert outputs.finished_results(tmp_path, "aa12") is None


@pytest.mark.parametrize("name", outputs.FILES)
def test_a_run_with_one_file_of_another_is_not_finished(tmp_path: Path, name: str) -> None:
    _write_all(tmp_path, "bb22")
    other = (tmp_path / name).read_bytes()
    _write_all(tmp_path, "aa11")
    (tmp_path / name).write_bytes(other)
    assert outputs.finished_results(tmp_path, "aa11") is None


@pytest.mark.parametrize("name", outputs.FILES)
def test_a_run_with_a_file_missing_or_cut_is_not_finished(tmp_path: Path, name: str) -> None:
    _write_all(tmp_path, "aa11")
    path = tmp_path / name
    path.write_bytes(path.read_bytes()[:10])
    assert outputs.finished_results(tmp_path, "aa11") is None
    path.unlink()
    assert outputs.finished_results(tmp_path, "aa11") is None


def test_another_studys_folder_is_refused_and_left_alone(tmp_path: Path) -> None:
    _write_all(tmp_path, "aa11", "theirs")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert _code(tmp_path, "mine") == "output-of-another-study"
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_files_nobody_marked_are_refused(tmp_path: Path) -> None:
    (tmp_path / "trips.csv").write_text("my own", encoding="utf-8")
    assert _code(tmp_path, "mine") == "output-not-ours"


def test_a_file_where_the_folder_should_be_is_told(tmp_path: Path) -> None:
    (tmp_path / "out").touch()
    assert _code(tmp_path / "out", "mine") == "output-not-a-folder"


def test_a_full_disk_leaves_what_stood_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _write_all(tmp_path, "aa11")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(outputs.os, "fsync", full)
    with pytest.raises(GearingError, match="No space left") as raised:
        outputs.write_whole(tmp_path / "trips.csv", b"new")
    assert "Free some space" in str(raised.value)
    monkeypatch.undo()
    assert outputs.finished_results(tmp_path, "aa11") is not None
    assert not list(tmp_path.glob(".*.part"))


def test_leavings_of_killed_runs_go_and_other_files_stay(tmp_path: Path) -> None:
    _write_all(tmp_path, "aa11")
    (tmp_path / ".trips.csv.123.part").touch()
    (tmp_path / "notes.txt").touch()
    outputs.remove_stale_files(tmp_path)
    assert not (tmp_path / ".trips.csv.123.part").exists()
    assert (tmp_path / "notes.txt").exists()


def test_the_error_survives_the_way_between_processes() -> None:
    import pickle

    error: Any = outputs._refuse(Path("folder"), message("output-not-a-folder"))
    assert pickle.loads(pickle.dumps(error)).problems == error.problems
