"""A worker that dies is survived; a task that kills its workers is told, and costs no other."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from gearing.run.workers import Died, local

pytestmark = pytest.mark.drill


def _square(number: int) -> int:
    return number * number


def _die_at_seven(number: int) -> int:
    if number == 7:
        os._exit(9)
    return number


def _die_once(marker: str) -> str:
    path = Path(marker)
    if path.suffix == ".fragile" and not path.exists():
        path.touch()
        os._exit(9)
    return path.stem


def _fail(number: int) -> int:
    if number == 2:
        raise ValueError("two")
    return number


def test_results_come_in_the_order_of_the_tasks() -> None:
    seen: list[int] = []
    assert local(2).run(_square, range(20), seen.append) == [n * n for n in range(20)]
    assert sorted(seen) == [n * n for n in range(20)]
    assert local(1).run(_square, range(5)) == [0, 1, 4, 9, 16]


def test_a_task_that_kills_its_workers_costs_no_other() -> None:
    results = local(2).run(_die_at_seven, range(12))
    assert isinstance(results[7], Died)
    assert [r for n, r in enumerate(results) if n != 7] == [n for n in range(12) if n != 7]


def test_a_worker_that_dies_once_is_survived(tmp_path: Path) -> None:
    tasks = [str(tmp_path / f"{n}.{'fragile' if n == 3 else 'plain'}") for n in range(6)]
    assert local(2).run(_die_once, tasks) == [str(n) for n in range(6)]


@pytest.mark.parametrize("jobs", [1, 2])
def test_what_a_task_raises_is_raised(jobs: int) -> None:
    with pytest.raises(ValueError, match="two"):
        local(jobs).run(_fail, range(4))


_BUSY = """
import sys, time
from gearing.run.workers import processes

if __name__ == "__main__":
    try:
        with processes(2) as pool:
            for _ in range(4):
                pool.submit(int)
            pool.submit(time.sleep, {sleep})
            time.sleep({started})
            print("under way", flush=True)
            time.sleep(60)
    except KeyboardInterrupt:
        print("stopped", flush=True)
"""


@pytest.mark.parametrize(("sleep", "started"), [(0, 2.0), (60, 2.0), (60, 0.0), (60, 0.15)])
def test_an_interrupt_ends_the_run_at_once_without_a_word_from_the_workers(
    tmp_path: Path, sleep: int, started: float
) -> None:
    """Ctrl-C reaches every process of the terminal's group: idle, busy or still starting."""
    script = tmp_path / "busy.py"
    script.write_text(_BUSY.format(sleep=sleep, started=started))
    run = subprocess.Popen(
        [sys.executable, str(script)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert run.stdout is not None
    assert run.stdout.readline() == "under way\n"
    began = time.monotonic()
    os.killpg(run.pid, signal.SIGINT)
    said, complaints = run.communicate(timeout=30)
    assert time.monotonic() - began < 5
    assert said == "stopped\n"
    assert complaints == ""
    assert run.returncode == 0
    for _ in range(50):  # the group is empty once the last worker is gone
        try:
            os.killpg(run.pid, 0)
        except ProcessLookupError:
            return
        time.sleep(0.1)
    os.killpg(run.pid, signal.SIGKILL)
    raise AssertionError("workers outlive the run")
