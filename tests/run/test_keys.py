"""What an earlier run found is used again as far as what is declared anew has no part in it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from log_maker import write_logs

from gearing.run import tasks
from gearing.run.batch import Options, run_study
from gearing.run.progress import Progress

pytestmark = pytest.mark.drill

ENGINE = """[vehicle.engine]
torque_curve = { rpm = [800, 1600, 2400], torque = ["500 N*m", "700 N*m", "600 N*m"] }
governed_rpm = 2500
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    made = write_logs(tmp_path, 4, 400)
    _run(made)
    return made


def _run(study: Path) -> None:
    run_study(study, Options(out=study.parent / "out", jobs=1), Progress(quiet=True))


def _done_anew(study: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What a run reads and measures again."""
    done: list[str] = []
    read, make = tasks.read_task, tasks.records_of

    def measured(*given: Any, **named: Any) -> Any:
        done.append("measured")
        return make(*given, **named)

    monkeypatch.setattr(tasks, "read_task", lambda task: done.append("read") or read(task))
    monkeypatch.setattr(tasks, "records_of", measured)
    before = study.parent.joinpath("out", "results.json").read_bytes()
    _run(study)
    assert study.parent.joinpath("out", "results.json").read_bytes() != before
    return done


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('mass = "12000 kg"', 'mass = "13000 kg"'),
        ("consumption_change_percent = -4", "consumption_change_percent = -3"),
        ("[before]", f"{ENGINE}[before]"),
        ("axle_ratio = 4.88", "axle_ratio = 4.56"),
        ("265/70R19.5", "275/70R19.5"),
    ],
)
def test_what_the_study_says_of_vehicle_claim_and_tires_measures_no_trip_again(
    study: Path, old: str, new: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = study.read_text("utf-8")
    assert old in text
    study.write_text(text.replace(old, new, 1), encoding="utf-8")
    assert _done_anew(study, monkeypatch) == []


def test_a_time_zone_reads_again_and_one_new_log_is_the_only_one_read(
    study: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = study.parent / "after" / "log00003.csv"
    log.write_text(log.read_text("utf-8").replace("2025-", "2026-"), encoding="utf-8")
    with monkeypatch.context() as patch:
        assert _done_anew(study, patch) == ["read", "measured"]
    study.write_text('time_zone = "America/Denver"\n' + study.read_text("utf-8"), encoding="utf-8")
    assert _done_anew(study, monkeypatch) == 4 * ["read", "measured"]
