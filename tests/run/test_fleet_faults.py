"""What goes wrong with one vehicle of a fleet costs no other, and is told with what to mend."""

from __future__ import annotations

import json
from contextlib import nullcontext
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner, Result
from log_maker import write_fleet

import gearing.run.fleet
from gearing.cli import main
from gearing.run import outputs
from gearing.run.workers import Died

pytestmark = pytest.mark.drill

NAMES = ("bus_1", "bus_2", "bus_3")


@pytest.fixture
def fleet(tmp_path: Path) -> Path:
    return write_fleet(tmp_path, len(NAMES), 4, 400)


def run(fleet: Path, *options: str) -> Result:
    words = ["run", str(fleet), "--out", str(fleet.parent / "out"), "--jobs", "1", *options]
    return CliRunner().invoke(main, words)


def written(fleet: Path) -> dict[str, Any]:
    results: dict[str, Any] = json.loads((fleet.parent / "out" / "fleet.json").read_text("utf-8"))
    return results


def times(fleet: Path) -> dict[str, int]:
    found = (fleet.parent / "out").glob("*/results.json")
    return {path.parent.name: path.stat().st_mtime_ns for path in found}


def test_a_broken_study_is_named_and_the_others_run(fleet: Path) -> None:
    study = fleet.parent / "bus_2" / "study.toml"
    sound = study.read_text()
    study.write_text(sound.replace("axle_ratio", "axel_ratio"))
    found = run(fleet, "--quiet")
    assert found.exit_code == 2
    assert f"{study}, line" in found.stderr
    assert "Did you mean axle_ratio?" in found.stderr
    results = written(fleet)
    assert [one["name"] for one in results["studies"]] == ["bus_1", "bus_3"]
    (one,) = results["not_run"]
    assert (one["name"], one["file"], one["role"]) == ("bus_2", str(study), "changed")
    assert one["problems"][0]["remedy"] == "Did you mean axle_ratio?"
    assert one["problems"][0]["line"] == sound[: sound.index("axle_ratio")].count("\n") + 1
    page = fleet.parent / "out" / "fleet.html"
    for words in ("Did you mean axle_ratio?", "1 of 3 not run", str(study)):
        assert words in page.read_text("utf-8")
    assert run(fleet, "--share").exit_code == 2
    assert str(study.parent) not in page.read_text("utf-8")


def test_a_second_run_reads_only_the_mended_study(fleet: Path) -> None:
    study = fleet.parent / "bus_2" / "study.toml"
    sound = study.read_text()
    study.write_text("name = = 1\n" + sound)
    assert run(fleet).exit_code == 2
    before = times(fleet)
    assert sorted(before) == ["bus-1", "bus-3"]
    again = run(fleet)
    assert again.exit_code == 2
    assert "Nothing has changed" not in again.stdout
    study.write_text(sound)
    found = run(fleet)
    assert found.exit_code == 0, found.stderr
    after = times(fleet)
    assert sorted(after) == ["bus-1", "bus-2", "bus-3"]
    assert {name: after[name] for name in before} == before
    assert written(fleet)["not_run"] == []
    assert "Nothing has changed" in run(fleet).stdout


def test_all_broken_is_an_error(fleet: Path) -> None:
    for name in NAMES:
        study = fleet.parent / name / "study.toml"
        study.write_text(study.read_text().replace("265/70R19.5", "big"))
    found = run(fleet)
    assert found.exit_code == 2
    assert found.stderr.count('"big" is not a tire size') == 3
    assert not (fleet.parent / "out" / "fleet.json").exists()


@pytest.mark.drill
def test_a_disk_full_during_one_vehicle(fleet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write = Path.open

    def full(path: Path, mode: str = "r", *more: Any, **options: Any) -> Any:
        if "bus-2" in path.parts and "w" in mode:
            raise OSError(28, "No space left on device")
        return write(path, mode, *more, **options)

    monkeypatch.setattr(Path, "open", full)
    found = run(fleet)
    assert found.exit_code == 2
    assert "No space left on device" in found.stderr
    assert [one["name"] for one in written(fleet)["not_run"]] == ["bus_2"]
    assert not (fleet.parent / "out" / "bus-2" / "results.json").exists()
    monkeypatch.undo()
    assert run(fleet).exit_code == 0


def test_a_folder_of_another_study_costs_one_vehicle(fleet: Path) -> None:
    outputs.claim_folder(fleet.parent / "out" / "bus-2", "another")
    found = run(fleet)
    assert found.exit_code == 2
    assert "holds the output of another study, 'another'" in found.stderr
    assert [one["name"] for one in written(fleet)["studies"]] == ["bus_1", "bus_3"]


def test_a_fault_of_the_program_costs_one_vehicle(
    fleet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sound = gearing.run.fleet.run_loaded

    def faulty(study: Any, *more: Any) -> Any:
        if study.name == "bus_2":
            raise ZeroDivisionError
        return sound(study, *more)

    monkeypatch.setattr(gearing.run.fleet, "run_loaded", faulty)
    found = run(fleet)
    assert found.exit_code == 3
    assert "a fault of the program, not of your data: ZeroDivisionError()" in found.stderr
    assert [one["name"] for one in written(fleet)["studies"]] == ["bus_1", "bus_3"]


def test_a_vehicle_that_kills_its_workers_costs_no_other(
    fleet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def run_two(function: Any, tasks: Any, _: Any) -> list[Any]:
        second = [task.member.study.name == "bus_2" for task in tasks]
        return [
            Died("out of memory") if lost else function(task)
            for task, lost in zip(tasks, second, strict=True)
        ]

    workers = SimpleNamespace(width=2, run=run_two)
    monkeypatch.setattr(gearing.run.fleet, "all_workers", lambda _: nullcontext(workers))
    found = run(fleet)
    assert found.exit_code == 2
    assert "died, twice (out of memory)" in found.stderr
    results = written(fleet)
    assert [one["name"] for one in results["studies"]] == ["bus_1", "bus_3"]
    (one,) = results["not_run"]
    assert (one["name"], one["problems"][0]["code"]) == ("bus_2", "killed-the-reader")


def test_when_no_vehicle_can_be_run_each_is_told_once(fleet: Path) -> None:
    for name in ("bus-1", "bus-2", "bus-3"):
        outputs.claim_folder(fleet.parent / "out" / name, "another")
    found = run(fleet)
    assert found.exit_code == 2
    assert found.stderr.count("holds the output of another study") == 3
    assert "no vehicle could be run" in found.stderr
    assert not (fleet.parent / "out" / "fleet.json").exists()


def test_a_stopped_run_is_taken_up_where_it_was_left(
    fleet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sound = gearing.run.fleet.run_loaded

    def stopped(study: Any, *more: Any) -> Any:
        if study.name == "bus_2":
            raise KeyboardInterrupt
        return sound(study, *more)

    monkeypatch.setattr(gearing.run.fleet, "run_loaded", stopped)
    found = run(fleet)
    assert found.exit_code == 130
    assert found.stderr == "gearing: stopped. Run the same command again to go on from here.\n"
    assert not (fleet.parent / "out" / "fleet.json").exists()
    before = times(fleet)
    monkeypatch.undo()
    assert run(fleet).exit_code == 0
    assert times(fleet).items() >= before.items()
    assert len(written(fleet)["studies"]) == 3
