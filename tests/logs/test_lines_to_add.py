"""The line a question shows, put under [columns] of a study, answers that question."""

from __future__ import annotations

from pathlib import Path

import pytest
from damaged_logs import Variant, variants

from gearing.logs.read import read_log
from gearing.study import load_study

ASKING = [v for v in variants() if v.asks]
_STUDY = """
name = "lines"
[before]
drive_tire = "245/70R19.5"
logs = ["*.csv"]
[columns]
"""


def _rules(folder: Path, lines: list[str]) -> tuple[object, ...]:
    study = folder / "study.toml"
    study.write_text(_STUDY + "\n".join(lines) + "\n", encoding="utf-8")
    return load_study(study).columns


@pytest.mark.parametrize("variant", ASKING, ids=[v.name for v in ASKING])
def test_each_line_shown_is_taken_and_answers(variant: Variant, tmp_path: Path) -> None:
    path = variant.write(tmp_path)
    first = read_log(path, **variant.options)
    for number, question in enumerate(first.questions):
        for line in question.remedy.split("\n")[1:]:
            rules = _rules(tmp_path, [line])
            again = read_log(path, rules=rules, **variant.options)
            left = [(q.code, q.message) for q in again.questions]
            assert (question.code, question.message) not in left, line
            assert len(left) <= len(first.questions), (number, line)


def test_the_lines_of_all_questions_together_leave_none(tmp_path: Path) -> None:
    variant = next(v for v in ASKING if v.name == "unknown names with fitting units")
    path = variant.write(tmp_path)
    lines = [q.remedy.split("\n")[1] for q in read_log(path).questions]
    reading = read_log(path, rules=_rules(tmp_path, lines))
    assert reading.questions == ()
    assert {"indicated_speed_mps", "engine_speed_rpm"} <= set(reading.samples.columns)


def test_a_rule_for_some_files_leaves_the_others_alone(tmp_path: Path) -> None:
    variant = next(v for v in ASKING if v.name == "fuel rate without unit")
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_bytes(variant.data)
    line = '"Fuel rate" = { channel = "fuel_rate", unit = "L/h", files = "a*.csv" }'
    rules = _rules(tmp_path, [line])
    assert read_log(tmp_path / "a.csv", rules=rules).questions == ()
    assert [q.code for q in read_log(tmp_path / "b.csv", rules=rules).questions] == ["which-unit"]
