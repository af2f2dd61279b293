"""A line of `[columns]` that no log answers to is told; one that is used, or may be, is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearing.run.input_checks.unseen_headings import unseen_headings
from gearing.study.model import ColumnRule, Study

LOGS = (("before/1.csv", ("Time", "Vehicle speed", "RPM")), ("after/2.csv", ("Time", "Speed 2")))


def told(*rules: ColumnRule, fillups: str | None = None) -> list[str]:
    path = None if fillups is None else Path(fillups)
    study = Study(name="x", slug="x", path=Path("x"), columns=rules, fillups=path)
    return [one.text for one in unseen_headings(study, LOGS)]


def rule(heading: str, channel: str | None = "indicated_speed_mps", **more: str) -> ColumnRule:
    return ColumnRule(heading=heading, channel=channel, **more)


def test_a_misspelt_heading_is_told_with_the_one_it_is_near() -> None:
    (text,) = told(rule("Vehicle speeed"))
    assert "'Vehicle speeed' is indicated_speed" in text
    assert "Did you mean 'Vehicle speed'?" in text


@pytest.mark.parametrize("heading", ["Vehicle speed", "VEHICLE  SPEED", "Speed 2"])
def test_a_heading_some_log_has_is_not(heading: str) -> None:
    assert told(rule(heading)) == []


def test_a_rule_for_other_files_does_nothing() -> None:
    (text,) = told(rule("Speed 2", files="before/*.csv"))
    assert "in a file that fits 'before/*.csv'" in text
    assert told(rule("Speed 2", files="after/*.csv")) == []


def test_a_line_that_may_be_a_fill_up_logs_is_not() -> None:
    assert told(rule("Liter", "volume_l"), fillups="fillups.csv") == []
    assert told(rule("Notes", None), fillups="fillups.csv") == []
    assert len(told(rule("Liter", "volume_l"))) == 1
    assert len(told(rule("Speeed", "indicated_speed_mps"), fillups="fillups.csv")) == 1


def test_where_no_log_could_be_read_nothing_is_told() -> None:
    study = Study(name="x", slug="x", path=Path("x"), columns=(rule("Speed"),))
    assert unseen_headings(study, [("a.csv", ())]) == []
