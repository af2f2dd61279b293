"""A line of [columns] with `files` concerns the same logs whatever their size and place."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from gearing.logs.column_rule import ColumnRule, matches, rules_for
from gearing.run import chunks
from gearing.run.chunks import pieces_of
from gearing.run.ingest import read_tasks
from gearing.run.store import Store
from gearing.run.study_logs import study_logs
from gearing.run.tasks import read_task
from gearing.study import load_study

# 39 mph is 17.43 m/s, 39 km/h is 10.83 m/s (NIST SP 811, appendix B)
MPH_39, KMH_39 = 17.43456, 10.83333


def _log(path: Path, rows: int = 1400) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = [
        f"2026-03-01T{n // 3600:02d}:{n // 60 % 60:02d}:{n % 60:02d}Z,{35 + n % 9},{1200 + n % 40}"
        for n in range(rows)
    ]
    path.write_text("\n".join(["Time,Speed 2,Engine speed (rpm)", *lines]) + "\n")


def _study(folder: Path, files: str) -> Path:
    path = folder / "study.toml"
    path.write_text(
        'name = "rules"\n'
        '[before]\ndrive_tire = "245/70R19.5"\nlogs = ["before/*.csv"]\n'
        '[after]\ndrive_tire = "265/70R19.5"\nlogs = ["after/*.csv"]\n'
        "[columns]\n"
        f'"Speed 2" = [{{ channel = "indicated_speed", unit = "mph", files = "{files}" }},'
        ' { channel = "indicated_speed", unit = "km/h", files = "after/*" }]\n'
    )
    return path


@pytest.mark.parametrize("files", ["before/*.csv", "before/*", "before/log.csv", "./before/*.csv"])
@pytest.mark.parametrize("large", [False, True])
def test_a_folder_in_files(
    files: str, large: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if large:
        monkeypatch.setattr(chunks, "PIECE_BYTES", 9_000)
        monkeypatch.setattr(chunks, "LARGE_BYTES", 20_000)
        monkeypatch.setattr(chunks, "_LINE_BYTES", 1_000)
        monkeypatch.setattr(chunks, "_SAMPLE_BYTES", 5_000)
    # a folder above that fits as well must not decide
    study = tmp_path / "before" / "study"
    _log(study / "before" / "log.csv")
    _log(study / "after" / "log.csv")
    loaded = load_study(_study(study, files))
    tasks = read_tasks(loaded, study_logs(loaded), Store(tmp_path / "store"))
    for task, expected in zip(tasks, (KMH_39, MPH_39), strict=True):
        cut = pieces_of(task.path, task.own_rules, "UTC")
        assert bool(cut) is large
        for part in [replace(task, file=task.file + p.label, piece=p) for p in cut] or [task]:
            speed = read_task(part).samples["indicated_speed_mps"]
            assert speed.median() == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(
    ("file", "pattern", "fits"),
    [
        ("before/log.csv", "before/*.csv", True),
        ("before/log.csv", "*.csv", True),
        ("before/log.csv", "log.csv", True),
        ("before/log.csv", "after/*.csv", False),
        ("/logs/before/log.csv", "before/*.csv", True),
        ("/before/study/after/log.csv", "before/*.csv", False),
        ("../logs/log.csv", "../logs/*.csv", True),
        ("before/log [1].csv", "before/log [1].csv", True),
    ],
)
def test_what_a_pattern_fits(file: str, pattern: str, fits: bool) -> None:
    assert matches(file, pattern) is fits
    rule = ColumnRule(heading="x", channel=None, files=pattern)
    assert rules_for((rule,), file) == ((rule,) if fits else ())


def test_a_unit_the_values_must_settle_is_settled_by_the_whole_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(chunks, "LARGE_BYTES", 20_000)
    monkeypatch.setattr(chunks, "_SAMPLE_BYTES", 5_000)
    path = tmp_path / "log.csv"
    _log(path)
    text = path.read_text().replace("Speed 2", "Vehicle speed")
    path.write_text(text)
    assert pieces_of(path, (), "UTC") == []
