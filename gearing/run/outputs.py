"""The output folder: whose it is, and how its files come to stand there whole or not at all.

Each file is written beside its place and renamed; `results.json` comes last, so that it stands
there only when all else does. Every file carries the run's id, and a folder whose files carry
others, or were changed since, is not taken for finished.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from gearing.messages import GearingError, Message, UserText, message, problem_of
from gearing.results import dumps, read
from gearing.run.store import content_digest, file_digest

if TYPE_CHECKING:
    import polars as pl

MARKER = ".gearing-run.json"
RESULTS = "results.json"
TABLES = ("trips.parquet", "segments.parquet", "routes.parquet")
FILES = ("report.html", *TABLES, "trips.csv", "set_aside.csv", RESULTS)
FLEET_FILES = ("fleet.html", "fleet.json")
_RUN_ID_KEY = b"gearing_run_id"


def _refuse(folder: Path, told: Message) -> GearingError:
    return GearingError((problem_of(told, file=str(folder)),))


def _words(error: OSError) -> UserText:
    return UserText(str(error.strerror or error), "system")


def claim_folder(folder: Path, study_name: str) -> None:
    """Make the folder ours for this study.

    Raises
    ------
    GearingError
        it holds another study's output, files of ours that nobody marked, or cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError) as error:
        raise _refuse(folder, message("output-not-a-folder")) from error
    except OSError as error:
        told = message("output-not-writable/make", system=_words(error))
        raise _refuse(folder, told) from error
    owner = _owner(folder)
    if owner is not None and owner != study_name:
        raise _refuse(folder, message("output-of-another-study", owner=UserText(owner)))
    if owner is None:
        foreign = [name for name in (*FILES, *FLEET_FILES) if (folder / name).exists()]
        if foreign:
            raise _refuse(folder, message("output-not-ours", name=UserText(foreign[0], "file")))
        _mark(folder, study_name)


def _mark(folder: Path, study_name: str) -> None:
    """Write whose folder it is, in place: the lock is held on this very file."""
    try:
        (folder / MARKER).write_text(json.dumps({"study": study_name}), encoding="utf-8")
    except OSError as error:
        raise _refuse(folder, message("output-not-writable", system=_words(error))) from error


def _owner(folder: Path) -> str | None:
    results = read(folder / RESULTS)
    if results is not None:
        return str(results.get("study"))
    try:
        return str(json.loads((folder / MARKER).read_text(encoding="utf-8"))["study"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the folder against a second run; the lock goes with the process, however it ends."""
    handle = os.open(folder / MARKER, os.O_RDWR | os.O_CREAT)
    try:
        with contextlib.suppress(ImportError, OSError):
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is seen whole or not at all.

    Raises
    ------
    GearingError
        the disk is full or the folder cannot be written; what stood there before still stands.
    """
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with beside.open("wb") as handle:
            handle.write(content)
            handle.flush()
            os.fsync(handle.fileno())
        beside.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise _refuse(path, message("output-not-written", system=_words(error))) from error


def remove_stale_files(folder: Path) -> None:
    """Take away half-written files of runs that were killed."""
    for name in (*FILES, *FLEET_FILES):
        for part in folder.glob(f".{name}.*.part"):
            with contextlib.suppress(OSError):
                part.unlink()


def parquet_bytes(frame: pl.DataFrame, run_id: str) -> bytes:
    """A frame as Parquet with the run's id in its metadata."""
    import io

    import pyarrow.parquet as pq  # slow to load, and the page is drawn meanwhile

    table = frame.to_arrow()
    table = table.replace_schema_metadata({_RUN_ID_KEY: run_id.encode()})
    buffer = io.BytesIO()
    pq.write_table(table, buffer, compression="zstd")
    return buffer.getvalue()


def csv_bytes(frame: pl.DataFrame, run_id: str) -> bytes:
    """A frame as CSV; the run's id is its last column."""
    import polars as pl  # where nothing changed, no frame is written, and it is slow to load

    return frame.with_columns(run_id=pl.lit(run_id)).write_csv().encode()


def finished_results(folder: Path, run_id: str) -> dict[str, Any] | None:
    """The results of this very run, if it stands in the folder whole and unchanged."""
    results = read(folder / RESULTS)
    if results is None or results.get("run_id") != run_id:
        return None
    try:
        found = {name: file_digest(folder / name) for name in FILES if name != RESULTS}
    except OSError:
        return None
    return results if results.get("files") == found else None


def write_run(folder: Path, contents: dict[str, bytes], results: dict[str, Any]) -> None:
    """Write a run's files, `results.json` last; it names the digest of every other.

    Raises
    ------
    GearingError
        the disk is full or the folder cannot be written.
    """
    for name, content in contents.items():
        write_whole(folder / name, content)
    files = {name: content_digest(content) for name, content in contents.items()}
    write_whole(folder / RESULTS, dumps(results | {"files": files}).encode())
