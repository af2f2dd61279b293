"""The short way for clean files gives exactly what the long way gives."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from damaged_logs import Variant, variants
from mutated_logs import one, originals

from gearing.logs import read as reader
from gearing.logs import table
from gearing.logs.model import Reading
from gearing.logs.read import read_log

VARIANTS = variants()


def _both(monkeypatch: pytest.MonkeyPatch, make: Any) -> tuple[Reading, Reading]:
    """What the reader gives, the short way where it takes that, and the long way always."""
    short = make()
    with monkeypatch.context() as patched:
        patched.setattr(reader, "plan", lambda *_: None)
        long = make()
    return short, long


def _equal(a: Reading, b: Reading) -> None:
    assert a.samples.equals(b.samples)
    assert (a.rows_read, a.rows_used, a.dialect) == (b.rows_read, b.rows_used, b.dialect)
    for name in ("set_aside_rows", "set_aside_values", "repairs", "questions"):
        told = [(p.code, p.column, p.first_line, p.last_line, p.count) for p in getattr(a, name)]
        same = [(p.code, p.column, p.first_line, p.last_line, p.count) for p in getattr(b, name)]
        assert told == same
    assert [(c.heading, c.channel, c.unit, c.how, c.low, c.high, c.step) for c in a.columns] == [
        (c.heading, c.channel, c.unit, c.how, c.low, c.high, c.step) for c in b.columns
    ]


@pytest.mark.parametrize("variant", VARIANTS, ids=[v.name for v in VARIANTS])
def test_every_variant(variant: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = variant.write(tmp_path)
    _equal(*_both(monkeypatch, lambda: read_log(path, **variant.options)))


def test_mutated_logs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    starts, short_way, taken = originals(), table._fast_path, []

    def count(*given: Any) -> Any:
        taken.append(found := short_way(*given))
        return found

    monkeypatch.setattr(table, "_fast_path", count)
    for seed in range(5000, 5040):
        _equal(*_both(monkeypatch, lambda seed=seed: one(seed, starts, tmp_path)[0]))
    assert sum(found is not None for found in taken) >= 5, "hardly a log took the short way"


def test_the_short_way_is_taken_where_it_should_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("the long way was taken")

    monkeypatch.setattr("gearing.logs.table._rows_of", refuse)
    for name in ("comma", "semicolon and decimal comma", "pipe", "units row", "CRLF"):
        variant = next(v for v in VARIANTS if v.name == name)
        assert read_log(variant.write(tmp_path)).rows_used == variant.rows_used
