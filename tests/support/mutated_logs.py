"""Logs damaged at random, by the thousand.

    python tests/support/mutated_logs.py 10000            all of them, with a seed
    python tests/support/mutated_logs.py 1 --seed 4711     one again

Each must be read without a traceback, in under two seconds, with every row counted.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections import Counter
from functools import cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from damaged_logs import GOOD, Variant, variants
from line_counts import counted, records

from gearing.logs.describe import as_text, describe
from gearing.logs.model import Reading
from gearing.logs.read import read_log
from gearing.quantities import QUANTITIES

MAX_SECONDS = 2.0
KEPT_BYTES = 24_000  # enough for a few hundred rows, few enough for thousands of files
_SIGNS = [b",", b";", b"\t", b"|", b'"', b"\n", b"\r", b"\0", b".", b"-", b" ", b"\xff", b"\xc3"]
_WORDS = [
    b"NaN", b"1e400", b"-999", b"65535", b"9" * 40, b"0", b"2026-13-45T99:99:99Z", b"inf",
    b"Time", b"Latitude,Longitude,Speed", b"$GPGGA,", b"<trkpt>", b"\xef\xbb\xbf",
    b"0001-01-01T00:00:00Z", b"99999999999999999999", b"-9223372036854775808", b"12:61:61",
]  # fmt: skip


@cache
def originals() -> list[Variant]:
    """Shortened variants to start from: the archives are kept out, their insides are here."""
    out = []
    for variant in variants():
        if variant.file.endswith((".gz", ".zip")) and len(variant.data) > 4 * KEPT_BYTES:
            continue
        out.append(variant)
    return out


def mutated(data: bytes, other: bytes, rng: random.Random) -> bytes:
    """`data` after a handful of random injuries; `other` is spliced in at times."""
    out = bytearray(data[: rng.randrange(200, KEPT_BYTES)])
    for _ in range(rng.choice((1, 1, 2, 3, 5, 12))):
        _INJURIES[rng.randrange(len(_INJURIES))](out, other, rng)
    return bytes(out)


def _place(out: bytearray, rng: random.Random) -> int:
    return rng.randrange(len(out) + 1)


def _flip(out: bytearray, _: bytes, rng: random.Random) -> None:
    for _unused in range(rng.choice((1, 3, 30))):
        if out:
            out[rng.randrange(len(out))] = rng.randrange(256)


def _cut(out: bytearray, _: bytes, rng: random.Random) -> None:
    at = _place(out, rng)
    del out[at : at + rng.choice((1, 5, 60, 3000))]


def _repeat(out: bytearray, _: bytes, rng: random.Random) -> None:
    at = _place(out, rng)
    out[at:at] = out[at : at + rng.choice((1, 60, 3000))]


def _insert_sign(out: bytearray, _: bytes, rng: random.Random) -> None:
    for _unused in range(rng.choice((1, 1, 20))):
        at = _place(out, rng)
        out[at:at] = rng.choice(_SIGNS)


def _insert_word(out: bytearray, _: bytes, rng: random.Random) -> None:
    at = _place(out, rng)
    out[at:at] = rng.choice(_WORDS)


def _swap_sign(out: bytearray, _: bytes, rng: random.Random) -> None:
    a, b = rng.sample(_SIGNS, 2)
    out[:] = out.replace(a, b) if rng.random() < 0.3 else out.replace(a, b, rng.randrange(1, 40))


def _shuffle_lines(out: bytearray, _: bytes, rng: random.Random) -> None:
    lines = bytes(out).split(b"\n")
    first = rng.randrange(len(lines))
    last = min(len(lines), first + rng.choice((2, 10, 1000)))
    part = lines[first:last]
    rng.shuffle(part)
    out[:] = b"\n".join([*lines[:first], *part, *lines[last:]])


def _splice(out: bytearray, other: bytes, rng: random.Random) -> None:
    at, begin = _place(out, rng), rng.randrange(max(len(other), 1))
    out[at:at] = other[begin : begin + rng.choice((40, 2000))]


def _stop(out: bytearray, _: bytes, rng: random.Random) -> None:
    del out[_place(out, rng) :]


def _digits(out: bytearray, _: bytes, rng: random.Random) -> None:
    places = [i for i, c in enumerate(out) if 48 <= c <= 57]
    for at in rng.sample(places, min(len(places), rng.choice((1, 20, 200)))):
        out[at] = rng.randrange(48, 58)


_INJURIES = (
    _flip,
    _cut,
    _repeat,
    _insert_sign,
    _insert_word,
    _swap_sign,
    _shuffle_lines,
    _splice,
    _stop,
    _digits,
)


def one(seed: int, starts: list[Variant], folder: Path) -> tuple[Reading, float]:
    """The reading of the mutated file of this seed, and the processor seconds it took."""
    rng = random.Random(seed)
    start, other = rng.choice(starts), rng.choice(starts)
    data = mutated(start.data, other.data, rng)
    path = folder / start.file
    path.write_bytes(data)
    begin = time.process_time()  # the machine may be busy with other things
    reading = read_log(path, **start.options)
    took = time.process_time() - begin
    check(reading)
    assert counted(reading) == records(path, reading)
    return reading, took


def check(reading: Reading) -> None:
    """What must hold of any reading whatever."""
    aside = sum(p.count for p in reading.set_aside_rows)
    codes = [p.code for p in reading.set_aside_rows]
    assert "reader-fault" not in codes, reading.set_aside_rows
    assert reading.rows_read == reading.rows_used + aside
    assert 0 <= reading.samples.height <= reading.rows_used
    if reading.dialect.kind in ("table", "sparse table", "GPX"):
        # each row used is one sample: nothing counted twice, nothing dropped uncounted
        assert reading.rows_used == reading.samples.height
    else:
        assert reading.rows_used == 0 or reading.samples.height > 0
    samples = reading.samples
    assert samples["time"].null_count() == 0
    assert samples["time"].is_sorted()
    assert samples.columns[:2] == ["time", "line"]
    for name in samples.columns[2:]:
        quantity, given = QUANTITIES[name], samples[name].drop_nulls()
        assert given.is_finite().all(), name
        if len(given):
            assert quantity.low is None or float(given.min()) >= quantity.low - 1e-6, name
            assert quantity.high is None or float(given.max()) <= quantity.high * 1.000001, name
    as_text(reading)
    describe(reading)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", type=int)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    starts, failed, slowest = originals(), 0, 0.0
    met: Counter[str] = Counter()
    used = 0
    with tempfile.TemporaryDirectory() as name:
        for seed in range(options.seed, options.seed + options.files):
            try:
                reading, took = one(seed, starts, Path(name))
            except Exception as error:  # tell all, then fail
                failed += 1
                print(f"seed {seed}: {type(error).__name__}: {str(error)[:300]}")
                continue
            slowest = max(slowest, took)
            used += reading.rows_used > 0
            met.update({p.code for p in (*reading.set_aside_rows, *reading.set_aside_values)})
            met.update({p.code for p in (*reading.repairs, *reading.questions)})
            if took > MAX_SECONDS:
                failed += 1
                print(f"seed {seed}: {took:.1f} s")
    print(f"{options.files} files, {used} gave samples, {failed} failed, slowest {slowest:.2f} s")
    print(", ".join(f"{code} {count}" for code, count in met.most_common()))
    sys.exit(1 if failed else 0)


assert GOOD  # the drive the variants are made of

if __name__ == "__main__":
    main()
