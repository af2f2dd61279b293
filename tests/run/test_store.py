"""Nothing kept is trusted blindly."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from gearing.run.store import Store, digest, open_store

VERSION = 32 * "a"


def test_what_was_put_comes_back(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.put("abc", b"content")
    assert store.get("abc") == b"content"
    assert store.get("abd") is None


@pytest.mark.parametrize("where", [0, 3, -1])
def test_a_damaged_entry_counts_as_absent(tmp_path: Path, where: int) -> None:
    store = Store(tmp_path)
    store.put("abc", b"content")
    path = next(path for path in tmp_path.rglob("abc"))
    damaged = bytearray(path.read_bytes())
    damaged[where] ^= 1
    path.write_bytes(bytes(damaged))
    assert store.get("abc") is None


def test_a_cut_entry_counts_as_absent(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.put("abc", b"content")
    path = next(path for path in tmp_path.rglob("abc"))
    whole = path.read_bytes()
    for length in range(len(whole)):
        path.write_bytes(whole[:length])
        assert store.get("abc") is None
    path.write_bytes(bytes(len(whole)))  # as a file system may leave it when the power fails
    assert store.get("abc") is None


def test_a_changed_file_has_another_key_even_with_the_same_size(tmp_path: Path) -> None:
    store, path = Store(tmp_path / "store"), tmp_path / "log.csv"
    path.write_bytes(b"one")
    first = store.content_key(path)
    assert store.content_key(path) == first
    path.write_bytes(b"two")
    os.utime(path, ns=(1, 1))
    assert store.content_key(path) != first
    path.write_bytes(b"one")
    assert store.content_key(path) == first, "the same content is known again"


def test_keys_depend_on_every_part() -> None:
    assert digest("a", 1) == digest("a", 1)
    assert len({digest("a", 1), digest("a", 2), digest("b", 1), digest("a1")}) == 4


def test_what_no_run_asks_for_is_forgotten_in_the_end(tmp_path: Path) -> None:
    with open_store(tmp_path, VERSION, keep=True) as store:
        for key in ("wanted", "unwanted", "young"):
            store.put(key, key.encode())
    left_by_a_kill = store._path("wanted").with_name("wanted.4711.part")
    left_by_a_kill.write_bytes(b"half")
    long_ago = time.time() - 100 * 86_400
    for path in (store._path("wanted"), store._path("unwanted"), left_by_a_kill):
        os.utime(path, (long_ago, long_ago))
    with open_store(tmp_path, VERSION, keep=True) as store:
        assert store.get("wanted") == b"wanted"
    assert store.get("wanted") == b"wanted"
    assert store.get("young") == b"young"
    assert store.get("unwanted") is None
    assert not left_by_a_kill.exists()


def test_what_other_code_left_is_removed_and_nothing_else(tmp_path: Path) -> None:
    others = [tmp_path / name for name in ("0f", 32 * "b")]
    foreign = [tmp_path / name for name in ("notes", "0g")]
    for folder in (*others, *foreign):
        Store(folder).put("abc", b"content")
    with open_store(tmp_path, VERSION, keep=True) as store:
        store.put("abc", b"own")
    assert [path.exists() for path in others] == [False, False]
    assert all(Store(path).get("abc") == b"content" for path in foreign)
    assert store.get("abc") == b"own"


def test_a_store_that_cannot_be_kept_passes(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.touch()
    with open_store(blocked / "cache", VERSION, keep=True) as store:
        store.put("abc", b"1")
        assert store.get("abc") == b"1"
        passing = store.folder
    assert not passing.exists()
