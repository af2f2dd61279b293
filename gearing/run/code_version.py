"""By which code something was made, and on what that ran: what others made is not used again."""

from __future__ import annotations

import contextlib
import functools
import hashlib
import sys
import zoneinfo
from collections.abc import Iterator
from importlib import resources
from importlib.metadata import PackageNotFoundError, version
from importlib.resources.abc import Traversable
from pathlib import Path

# whose next version may compute another last digit, or draw the page otherwise
LIBRARIES = ("polars", "numpy", "scipy", "altair", "jinja2", "vl-convert-python", "tzdata")
# what is kept of logs and trips is made by these: all that `run/tasks.py` imports
RECORD_PARTS = (
    "units.py", "quantities.py", "messages", "logs", "vehicle", "statistics", "study/model.py",
    "trips", "run/chunks.py", "run/code_version.py", "run/serialize.py", "run/store.py",
    "run/tasks.py", "run/workers.py",
)  # fmt: skip


@functools.cache
def code_digest(*parts: str) -> str:
    """A digest of the sources of parts of this package and of what they run on: other code, other
    results."""
    root = resources.files("gearing")
    found = hashlib.blake2b("\n".join(runs_on()).encode(), digest_size=16)
    for part in parts:
        for source in _sources(root / part):
            found.update(source.name.encode() + source.read_bytes())
    return found.hexdigest()


def runs_on() -> tuple[str, ...]:
    """The versions of Python, of its libraries that are here, and of the system's time zones."""
    found = [sys.version]
    for name in LIBRARIES:
        with contextlib.suppress(PackageNotFoundError):
            found.append(f"{name} {version(name)}")
    for folder in zoneinfo.TZPATH:
        # the first line names the release; a system without this file has the package tzdata, or
        # its zones change unseen
        with contextlib.suppress(OSError), (Path(folder) / "tzdata.zi").open() as zones:
            found.append(zones.readline())
    return tuple(found)


def _sources(entry: Traversable) -> Iterator[Traversable]:
    """A file, or all files of a folder and of those in it, by name."""
    if entry.is_file():
        if not entry.name.endswith(".pyc"):
            yield entry
        return
    for inner in sorted(entry.iterdir(), key=lambda one: one.name):
        yield from _sources(inner)


def code_of_records() -> str:
    """A digest of the code that makes what is kept of logs and trips."""
    return code_digest(*RECORD_PARTS)
