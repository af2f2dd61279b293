"""The same answer on a cluster, to the last digit, though a worker dies in mid-run."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from log_maker import write_logs
from same import differences

pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
pytestmark = pytest.mark.drill


def _results(study: Path, out: Path, *options: str) -> dict[str, Any]:
    command = [sys.executable, "-m", "gearing", "run", str(study), "--out", str(out), "--quiet"]
    done = subprocess.run([*command, *options], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads((out / "results.json").read_text("utf-8"))
    return found


@pytest.fixture
def scheduler(tmp_path: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """The address of a scheduler with two workers, and these."""
    contact = tmp_path / "scheduler.json"
    options = ["--scheduler-file", str(contact)]
    started = [_start("dask_scheduler", "--port", "0", "--no-dashboard", *options)]
    try:
        _wait_for(contact.exists, "the scheduler did not start")
        for number in range(2):
            own = ["--local-directory", str(tmp_path / f"worker{number}")]
            started.append(_start("dask_worker", "--nthreads", "1", "--no-nanny", *own, *options))
        yield json.loads(contact.read_text("utf-8"))["address"], started[1:]
    finally:
        for process in reversed(started):
            process.kill()
            process.wait()


def _start(program: str, *options: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", f"distributed.cli.{program}", *options]
    # as the runbook says: sums then go in one order everywhere
    one_thread = os.environ | {"POLARS_MAX_THREADS": "1"}
    return subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=one_thread
    )


def _wait_for(ready: Callable[[], bool], what: str) -> None:
    deadline = time.monotonic() + 120
    while not ready():
        assert time.monotonic() < deadline, what
        time.sleep(0.05)


def test_a_cluster_that_loses_a_worker_gives_the_same_results(
    scheduler: tuple[str, list[subprocess.Popen[bytes]]], tmp_path: Path
) -> None:
    address, workers = scheduler
    study = write_logs(tmp_path / "study", 24, 4000)
    local = _results(study, tmp_path / "local", "--no-cache", "--jobs", "1")

    store = study.parent / ".gearing-cache"
    killed = threading.Event()

    def kill_in_mid_run() -> None:
        _wait_for(lambda: sum(path.is_file() for path in store.rglob("*")) > 40, "no run began")
        os.kill(workers[0].pid, signal.SIGKILL)
        killed.set()

    killer = threading.Thread(target=kill_in_mid_run)
    killer.start()
    remote = _results(study, tmp_path / "remote", "--cluster", address)
    killer.join()
    assert killed.is_set(), "the run was over before a worker could be killed"
    assert differences(remote, local) == []


def test_no_scheduler_is_told_in_words(tmp_path: Path) -> None:
    study = write_logs(tmp_path / "study", 2, 300)
    command = [sys.executable, "-m", "gearing", "run", str(study), "--cluster", "127.0.0.1:9"]
    done = subprocess.run(
        [*command, "--out", str(tmp_path / "out")], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "no scheduler answers at 127.0.0.1:9" in done.stderr
    assert "dask scheduler" in done.stderr
