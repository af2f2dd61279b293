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
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from log_maker import write_fleet, write_logs
from same import contents, differences

from gearing.run.workers import ONE_THREAD

distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
pytestmark = pytest.mark.drill


def _run(file: Path, out: Path, *options: str) -> None:
    command = [sys.executable, "-m", "gearing", "run", str(file), "--out", str(out), "--quiet"]
    done = subprocess.run([*command, *options], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def _results(study: Path, out: Path, *options: str) -> dict[str, Any]:
    _run(study, out, *options)
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
        address = json.loads(contact.read_text("utf-8"))["address"]
        with distributed.Client(address, timeout="120s", set_as_default=False) as client:
            client.wait_for_workers(2, timeout=120)
        yield address, started[1:]
    finally:
        for process in reversed(started):
            process.kill()
            process.wait()


def _start(program: str, *options: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", f"distributed.cli.{program}", *options]
    # as the runbook says: sums then go in one order everywhere
    one_thread = os.environ | ONE_THREAD
    return subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=one_thread
    )


def _wait_for(ready: Callable[[], bool], what: str) -> None:
    deadline = time.monotonic() + 120
    while not ready():
        assert time.monotonic() < deadline, what
        time.sleep(0.05)


@contextmanager
def _killed_once(worker: subprocess.Popen[bytes], begun: Callable[[], bool]) -> Iterator[None]:
    """A worker is killed as soon as the work has `begun`, and was before the work was over."""
    killed = threading.Event()

    def kill() -> None:
        _wait_for(begun, "no run began")
        os.kill(worker.pid, signal.SIGKILL)
        killed.set()

    killer = threading.Thread(target=kill)
    killer.start()
    yield
    assert killed.is_set(), "the run was over before a worker could be killed"
    killer.join()


def test_a_cluster_that_loses_a_worker_gives_the_same_results(
    scheduler: tuple[str, list[subprocess.Popen[bytes]]], tmp_path: Path
) -> None:
    address, workers = scheduler
    study = write_logs(tmp_path / "study", 24, 4000)
    local = _results(study, tmp_path / "local", "--no-cache", "--jobs", "1")

    store = study.parent / ".gearing-cache"

    def begun() -> bool:
        return sum(path.is_file() for path in store.rglob("*")) > 40

    with _killed_once(workers[0], begun):
        remote = _results(study, tmp_path / "remote", "--cluster", address)
    assert differences(remote, local) == []


def test_a_fleet_on_a_cluster_that_loses_a_worker_writes_the_same_bytes(
    scheduler: tuple[str, list[subprocess.Popen[bytes]]], tmp_path: Path
) -> None:
    address, workers = scheduler
    fleet, remote = write_fleet(tmp_path / "fleet", 5, 4, 600), tmp_path / "remote"
    _run(fleet, tmp_path / "local", "--no-cache", "--jobs", "1")
    with _killed_once(workers[0], lambda: bool(list(remote.glob("*/results.json")))):
        _run(fleet, remote, "--no-cache", "--cluster", address)
    found, expected = contents(remote), contents(tmp_path / "local")
    assert [name for name in expected if expected[name] != found.get(name)] == []
    assert found.keys() == expected.keys()


def test_without_a_cache_a_cluster_has_what_it_shares_beside_the_study_while_it_runs(
    scheduler: tuple[str, list[subprocess.Popen[bytes]]], tmp_path: Path
) -> None:
    study = write_logs(tmp_path / "study", 4, 600)
    before = contents(study.parent)
    seen = threading.Event()

    def shared() -> bool:
        return any(path.is_file() for path in study.parent.glob(".gearing-cache-*/**/*"))

    def look() -> None:
        _wait_for(shared, "nothing was shared beside the study")
        seen.set()

    watcher = threading.Thread(target=look)
    watcher.start()
    _run(study, tmp_path / "out", "--no-cache", "--cluster", scheduler[0])
    watcher.join()
    assert seen.is_set()
    assert contents(study.parent) == before


def test_no_scheduler_is_told_in_words(tmp_path: Path) -> None:
    study = write_logs(tmp_path / "study", 2, 300)
    command = [sys.executable, "-m", "gearing", "run", str(study), "--cluster", "127.0.0.1:9"]
    done = subprocess.run(
        [*command, "--out", str(tmp_path / "out")], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "no scheduler answers at 127.0.0.1:9" in done.stderr
    assert "dask scheduler" in done.stderr
