"""What a study says of logs whose times name no zone.

ISO 8601 (2019, 4.3.13): a time without a shift from UTC is local time; whose, it does not say.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from log_maker import write_logs

import gearing

CODE = "times-without-zone"


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_logs(tmp_path_factory.mktemp("zones"), 4, 400)


def _local(study: Path, folder: Path, first: str) -> Path:
    """The study with its times' zone left out, and `first` at its head."""
    for log in study.parent.glob("*/*.csv"):
        place = folder / log.parent.name / log.name
        place.parent.mkdir(exist_ok=True)
        text = log.read_text(encoding="utf-8")
        place.write_text(text.replace("+0000", "").replace("Z,", ","), encoding="utf-8")
    made = folder / "study.toml"
    made.write_text(first + study.read_text(encoding="utf-8"), encoding="utf-8")
    return made


def test_times_without_a_zone_are_said_to_be_taken_as_utc(study: Path, tmp_path: Path) -> None:
    (told,) = [w for w in gearing.analyze(_local(study, tmp_path, "")).warnings if w.code == CODE]
    assert "4 logs name no zone" in str(told.text)


@pytest.mark.parametrize("zone", ["UTC", "America/Denver"])
def test_a_zone_named_settles_it(study: Path, tmp_path: Path, zone: str) -> None:
    results = gearing.analyze(_local(study, tmp_path, f'time_zone = "{zone}"\n'))
    assert CODE not in {warning.code for warning in results.warnings}


def test_times_with_their_zone_leave_nothing_to_say(study: Path) -> None:
    assert CODE not in {warning.code for warning in gearing.analyze(study).warnings}
