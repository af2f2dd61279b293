"""Every way a log can be written or damaged gives the same figures or the exact reason."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import polars as pl
import pytest
from damaged_logs import CHANNELS, ROWS, START, Variant, expected, variants
from log_messages import TITLES

from gearing.logs.read import read_log

VARIANTS = variants()


def test_there_are_enough_variants_with_names_of_their_own() -> None:
    assert len({v.name for v in VARIANTS}) == len(VARIANTS) >= 60


@pytest.mark.parametrize("variant", VARIANTS, ids=[v.name for v in VARIANTS])
def test_variant(variant: Variant, tmp_path: Path) -> None:
    reading = read_log(variant.write(tmp_path), **variant.options)

    aside = sum(p.count for p in reading.set_aside_rows)
    assert reading.rows_read == reading.rows_used + aside
    told = (*reading.set_aside_rows, *reading.set_aside_values, *reading.repairs)
    counts: Counter[str] = Counter()
    for p in told:
        assert p.code in TITLES
        counts[p.code] += p.count
    assert "reader-fault" not in counts
    for code, count in variant.codes.items():
        assert counts[code] == count, (code, counts)
    harm = {p.code for p in (*reading.set_aside_rows, *reading.set_aside_values)}
    if variant.rows_read >= 0:
        assert reading.rows_read == variant.rows_read
        assert harm <= set(variant.codes), harm
    if variant.rows_used >= 0 and variant.rows_read >= 0:
        assert reading.rows_used == variant.rows_used
    assert tuple(p.code for p in reading.questions) == variant.asks
    for channel in variant.lacks:
        assert channel not in reading.samples.columns
    if variant.same:
        _same(reading.samples, variant)
    if variant.check is not None:
        variant.check(reading)


def _same(samples: pl.DataFrame, variant: Variant) -> None:
    """Each value equals the good log's at its time, to 1e-9 relative; none is missing."""
    good = expected()
    if variant.any_time:
        assert samples.height == good.height
        good = good.with_columns(samples["time"])
    shift = pl.duration(microseconds=round((variant.shift_s or 0.0) * 1e6))
    good = good.with_columns(pl.col("time") + shift)
    assert samples["time"].is_sorted()
    joined = samples.join(good, on="time", how="left", suffix="_good")
    assert joined[f"{CHANNELS[0]}_good" if CHANNELS[0] in samples.columns else CHANNELS[0]].len()
    for name in CHANNELS:
        if name in variant.lacks:
            continue
        if name not in samples.columns:
            assert name in variant.changed, f"{name} is missing"
            continue
        got, want = joined[name], joined[f"{name}_good"]
        assert want.null_count() == 0, "a time that is not the good log's"
        if name in variant.changed:
            continue
        assert got.null_count() == 0, name
        assert ((got - want).abs() <= 1e-9 * want.abs() + 1e-12).all(), name


def test_changed_channels_are_still_right_where_they_are_given(tmp_path: Path) -> None:
    """Sparse, long and GPX tables: what is given is given unchanged."""
    for variant in VARIANTS:
        if variant.name not in ("sparse rows of polled parameters", "long table", "GPX 1.1"):
            continue
        samples = read_log(variant.write(tmp_path), **variant.options).samples
        joined = samples.join(expected(), on="time", how="left", suffix="_good")
        for name in set(CHANNELS) & set(samples.columns):
            pair = joined.select(name, f"{name}_good").drop_nulls()
            assert pair.height >= 200
            assert ((pair[name] - pair[f"{name}_good"]).abs() < 1e-9).all(), name


def test_the_lines_of_samples_are_those_of_the_file(tmp_path: Path) -> None:
    variant = next(v for v in VARIANTS if v.name == "quoted text with a line end")
    path = variant.write(tmp_path)
    samples = read_log(path).samples
    lines = path.read_text().split("\n")
    for row in (0, 49, 50, 51, ROWS - 1):
        stamp = samples["time"][row].strftime("%Y-%m-%dT%H:%M:%SZ")
        assert lines[samples["line"][row] - 1].startswith(stamp)
    assert samples["time"][0] == START
