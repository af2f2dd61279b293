"""Marks that say when a test runs, and the one run of the sample study that tests share."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import hypothesis
import pytest
from sample_study import sample_copy
from shared import ONE_THREAD, bare_environment, once

# a process a core, and sums in the order the program makes them in; before anything loads polars
os.environ |= ONE_THREAD
# a busy machine is no fault
hypothesis.settings.register_profile("any clock", deadline=None)
hypothesis.settings.load_profile("any clock")

SLOW = ("drill", "study", "browser")  # each has its own command


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: Iterable[pytest.Item]) -> None:
    """What has a command of its own is slow; nothing is slow that no command runs.

    A study takes as long as it takes.
    """
    for item in items:
        if any(item.get_closest_marker(mark) for mark in SLOW):
            item.add_marker("slow")
            if item.get_closest_marker("study"):
                item.add_marker(pytest.mark.timeout(0))
        elif item.get_closest_marker("slow"):
            raise pytest.UsageError(f"{item.nodeid}: mark what is slow as one of {SLOW}")


@pytest.fixture(scope="session")
def shared_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for all processes of the session."""
    own = tmp_path_factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own


@pytest.fixture(scope="session")
def sample_run(shared_folder: Path) -> tuple[Path, str]:
    """The output folder of one run of the sample through the command line, and what it printed.

    A copy of the sample, and the cache that the run left in it, is the folder `study` beside it.
    """
    place = once(shared_folder, "sample", _run_sample)
    return place / "out", (place / "printed.txt").read_text(encoding="utf-8")


def _run_sample(place: Path) -> None:
    sample_copy(place / "study")
    command = [sys.executable, "-m", "gearing", "run", str(place / "study" / "study.toml")]
    options = ["--out", str(place / "out"), "--jobs", "1"]
    done = subprocess.run(
        [*command, *options], env=bare_environment(), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    (place / "printed.txt").write_text(done.stdout, encoding="utf-8")


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """The figures that studies noted (`record_property`), to be written down in the guide."""
    told = [
        (report.nodeid, report.user_properties)
        for outcome in ("passed", "failed")
        for report in terminalreporter.getreports(outcome)
        if report.when == "call" and report.user_properties
    ]
    if told:
        terminalreporter.section("figures")
    for nodeid, figures in sorted(told):
        shown = ", ".join(f"{name} {value}" for name, value in figures)
        terminalreporter.write_line(f"{nodeid.split('::', 1)[1]}: {shown}")
