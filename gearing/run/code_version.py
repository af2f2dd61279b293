"""By which code something was made: what other code made is not used again."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Iterator
from importlib import resources
from importlib.resources.abc import Traversable


@functools.cache
def code_digest(*parts: str) -> str:
    """A digest of the sources of parts of this package: other code, other results."""
    root = resources.files("gearing")
    found = hashlib.blake2b(digest_size=16)
    for part in parts:
        for source in _sources(root / part):
            found.update(source.name.encode() + source.read_bytes())
    return found.hexdigest()


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
    return code_digest(
        "units.py", "quantities.py", "messages", "run/serialize.py", "run/tasks.py",
        "logs", "vehicle", "statistics", "trips",
    )  # fmt: skip
