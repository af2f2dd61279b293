"""What earlier runs left to be used again, beside the study, and never trusted blindly.

An entry is its content followed by the content's checksum; one that does not match, for whatever
reason, counts as absent and is made again. Entries are written beside their place and renamed,
so that two runs at once at worst do the same work twice. They lie in a folder of the code that
made them, and what other code left is removed; so is one that no run has asked for in a long
time, as a changed file leaves it.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import shutil
import sys
import tempfile
import time
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from errno import EINVAL
from pathlib import Path
from stat import S_ISCHR, S_ISFIFO, S_ISSOCK
from typing import Any

_DIGEST_BYTES = 32
_CHECK_BYTES = 4
_DAY_S = 86_400.0
_FORGOTTEN_DAYS = 90
# folders that stores keep: of a version's entries, or of those whose keys begin alike
_OF_A_STORE = re.compile("[0-9a-f]{2}|[0-9a-f]{32}")


def digest(*parts: Any) -> str:
    """A key for anything with a JSON form; equal parts give equal keys."""
    text = json.dumps(parts, sort_keys=True, default=str)
    return hashlib.blake2b(text.encode(), digest_size=_DIGEST_BYTES).hexdigest()


def content_digest(content: bytes) -> str:
    """The digest of a content, equal to `file_digest` of a file that holds it; of the sound ones
    the one that processors have instructions for."""
    return hashlib.sha256(content).hexdigest()


def file_digest(path: Path) -> str:
    """The digest of a file's content.

    Raises
    ------
    OSError
        the file cannot be read.
    """
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def _checksum(body: bytes) -> bytes:
    """CRC-32: it is damage that must be seen, in a fifth of the time a digest takes."""
    return zlib.crc32(body).to_bytes(_CHECK_BYTES, "big")


@dataclass(frozen=True, slots=True)
class Store:
    """A folder of entries under string keys."""

    folder: Path

    def _path(self, key: str) -> Path:
        return self.folder / key[:2] / key

    def get(self, key: str) -> bytes | None:
        """The entry, or None where there is none or it is damaged."""
        path = self._path(key)
        try:
            content = path.read_bytes()
        except OSError:
            return None
        with contextlib.suppress(OSError):  # of another owner
            if path.stat().st_mtime < time.time() - _DAY_S:
                os.utime(path)  # asked for: not to be forgotten
        body = content[:-_CHECK_BYTES]
        return body if content[-_CHECK_BYTES:] == _checksum(body) else None

    def put(self, key: str, body: bytes) -> None:
        """Keep an entry.

        Raises
        ------
        OSError
            the disk is full or the folder cannot be written.
        """
        path = self._path(key)
        beside = path.with_name(f"{path.name}.{os.getpid()}.part")
        try:
            if not path.parent.is_dir():
                path.parent.mkdir(parents=True, exist_ok=True)
            with beside.open("wb") as handle:
                handle.write(body)
                handle.write(_checksum(body))
            beside.replace(path)
        except OSError:
            with contextlib.suppress(OSError):
                beside.unlink()
            raise

    def forget(self) -> None:
        """Remove what no run has asked for in `_FORGOTTEN_DAYS`, leavings of killed runs too."""
        oldest = time.time() - _FORGOTTEN_DAYS * _DAY_S
        for path in self.folder.glob("??/*"):
            with contextlib.suppress(OSError):  # another run may be at it
                if path.stat().st_mtime < oldest:
                    path.unlink()

    def content_key(self, path: Path) -> str:
        """The digest of a file's content, remembered by path, size and time of change.

        Raises
        ------
        OSError
            the file cannot be read.
        """
        stat = path.stat()
        if S_ISFIFO(stat.st_mode) or S_ISCHR(stat.st_mode) or S_ISSOCK(stat.st_mode):
            raise OSError(EINVAL, "it is no plain file")  # reading it may never end
        key = digest("content", str(path.resolve()), stat.st_size, stat.st_mtime_ns)
        known = self.get(key)
        if known is not None:
            return known.decode()
        found = file_digest(path)
        self.put(key, found.encode())
        return found


def machine_store() -> Store | None:
    """The store of the user of this machine, of what is no study's; None without a home."""
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA", "~/AppData/Local")
    elif sys.platform == "darwin":
        base = "~/Library/Caches"
    else:  # XDG Base Directory Specification
        base = os.environ.get("XDG_CACHE_HOME") or "~/.cache"
    with contextlib.suppress(RuntimeError):
        return Store(Path(base).expanduser() / "gearing")
    return None


@contextlib.contextmanager
def open_store(folder: Path, version: str, *, keep: bool, shared: bool = False) -> Iterator[Store]:
    """The store in a folder, of the code called `version`; a passing one where nothing is to be
    kept or nothing can be: beside that folder where other machines must see it (`shared`), else
    among the system's.

    Raises
    ------
    OSError
        `shared`, and there is no room beside the folder.
    """
    if keep:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                pass
        except OSError:
            keep = False
    if keep:
        store = Store(folder / version)
        yield store
        store.forget()
        _forget_other_code(folder, version)
        return
    beside = folder.parent if shared else None
    with tempfile.TemporaryDirectory(prefix=f"{folder.name}-", dir=beside) as passing:
        yield Store(Path(passing))


def _forget_other_code(folder: Path, version: str) -> None:
    """Remove what other versions left, each in a folder of its own or, once, in none."""
    for path in folder.iterdir():
        if path.name != version and _OF_A_STORE.fullmatch(path.name):
            shutil.rmtree(path, ignore_errors=True)
