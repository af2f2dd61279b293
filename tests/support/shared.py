"""What many tests look at and one run makes: each made once a session, whichever process asks."""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Callable
from pathlib import Path

from gearing.run.workers import ONE_THREAD


def bare_environment() -> dict[str, str]:
    """The environment of a user, who says nothing of threads."""
    return {name: value for name, value in os.environ.items() if name not in ONE_THREAD}


def once(folder: Path, name: str, make: Callable[[Path], None]) -> Path:
    """`folder/name`, filled by `make` in the first process that asks; the others wait for it.

    Who reads it must leave it as it is.
    """
    place = folder / name
    with (folder / f"{name}.lock").open("a+", encoding="ascii") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        lock.seek(0)
        if lock.read() != "made":
            shutil.rmtree(place, ignore_errors=True)  # what a failure left
            place.mkdir()
            make(place)
            lock.write("made")
    return place
