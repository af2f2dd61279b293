"""Vehicles side by side give what they give one after the other, though a worker dies meanwhile."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from log_maker import write_fleet
from same import contents

pytestmark = pytest.mark.drill


def _start(fleet: Path, out: Path, *options: str) -> subprocess.Popen[str]:
    words = ["run", str(fleet), "--out", str(out), "--quiet", "--no-cache", *options]
    command = [sys.executable, "-m", "gearing", *words]
    return subprocess.Popen(command, stderr=subprocess.PIPE, text=True)


def _ended(run: subprocess.Popen[str]) -> None:
    _, said = run.communicate(timeout=280)
    assert run.returncode == 0, said


def _children(pid: int) -> list[int]:
    found = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii")
    return [int(child) for child in found.split()]


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="children are found in /proc")
def test_two_processes_of_which_one_is_killed_write_the_same_bytes(tmp_path: Path) -> None:
    fleet = write_fleet(tmp_path / "fleet", 4, 4, 500)
    _ended(_start(fleet, tmp_path / "one", "--jobs", "1"))
    run = _start(fleet, tmp_path / "two", "--jobs", "2")
    while run.poll() is None and not list((tmp_path / "two").glob("*/results.json")):
        time.sleep(0.02)
    # the last child: the first is the tracker of the processes' semaphores
    os.kill(_children(run.pid)[-1], signal.SIGKILL)
    _ended(run)
    one, two = contents(tmp_path / "one"), contents(tmp_path / "two")
    assert [name for name in one if one[name] != two.get(name)] == []
    assert two.keys() == one.keys()
