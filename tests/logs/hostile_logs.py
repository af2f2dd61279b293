"""Hostile files by the hundred: archives, names, sizes, encodings, shapes.

    python tests/logs/hostile_logs.py 500          all of them, with a seed

Each must be read within `MAX_SECONDS` of processor time and `MAX_BYTES` of memory, the program
never at fault. Run in a process of its own under a limit of memory, as `main` does.
"""

from __future__ import annotations

import argparse
import bz2
import gzip
import io
import os
import random
import resource
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
# as in the program's own processes; each further thread reserves address space of its own
os.environ["POLARS_MAX_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

from damaged_logs import table, text
from mutated_logs import check, mutated

from gearing.logs.read import read_log

MAX_SECONDS, MAX_BYTES = 10.0, 1 << 30
GOOD = text(table()).encode()
METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA)


def zipped(rng: random.Random, content: bytes, method: int, count: int = 1) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as archive:
        for number in range(count):
            archive.writestr(f"log{number}.csv", content[: rng.randrange(2000, len(content))])
    return buffer.getvalue()


def injured(rng: random.Random, data: bytes) -> bytes:
    out = bytearray(data)
    for _ in range(rng.choice((1, 3, 20))):
        kind = rng.randrange(4)
        at = rng.randrange(max(len(out), 1))
        if kind == 0 and out:
            out[at] = rng.randrange(256)
        elif kind == 1:
            del out[at : at + rng.choice((1, 40, 4000))]
        elif kind == 2:
            out[at:at] = rng.randbytes(rng.choice((1, 40)))
        else:
            del out[at + 1 :]
    return bytes(out)


def _archive(rng: random.Random) -> tuple[str, bytes]:
    method = rng.choice(METHODS)
    return "log.zip", injured(rng, zipped(rng, GOOD[:40_000], method, rng.choice((1, 1, 3))))


def _whole_archive(rng: random.Random) -> tuple[str, bytes]:
    return "log.zip", zipped(rng, GOOD[:40_000], rng.choice(METHODS), rng.choice((1, 4)))


def _bomb(rng: random.Random) -> tuple[str, bytes]:
    method = rng.choice(METHODS[1:])
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as archive, archive.open("log.csv", "w") as member:
        line = rng.choice((b"0" * 1_000_000, b"1,2,3\n" * 160_000, b"\n" * 1_000_000))
        for _ in range(rng.choice((70, 300))):
            member.write(line)
    return "log.zip", buffer.getvalue()


def _gzip(rng: random.Random) -> tuple[str, bytes]:
    packed = gzip.compress(GOOD[:60_000] * rng.choice((1, 1, 30)))
    return "log.csv.gz", injured(rng, packed)


def _other_packing(rng: random.Random) -> tuple[str, bytes]:
    return rng.choice(("log.csv", "log.csv.gz", "log.zip")), bz2.compress(GOOD[:60_000])


def _wide(rng: random.Random) -> tuple[str, bytes]:
    width = rng.choice((2_000, 12_000))
    name = rng.choice(("x{}", "Speed", "Engine speed [rpm]", "Signal {} [V]", "Temperature"))
    head = ["Time", *(name.format(i) for i in range(width))]
    rows = [",".join([f"2026-03-01T08:00:{s:02d}Z", *["1.5"] * width]) for s in range(12)]
    return "log.csv", ("\n".join([",".join(head), *rows]) + "\n").encode()


def _long_lines(rng: random.Random) -> tuple[str, bytes]:
    sign = rng.choice((b",", b'"', b"a", b"1", b"\xff", b"Time,"))
    return "log.csv", sign * rng.choice((3_000_000, 12_000_000)) + GOOD[:2000]


def _encodings(rng: random.Random) -> tuple[str, bytes]:
    words = GOOD[:30_000].decode().replace("[deg]", "[°]").replace("degC", "°C")
    name = rng.choice(("utf-16", "utf-16-be", "utf-32", "cp1252", "utf-8-sig", "utf-7", "cp037"))
    return "log.csv", injured(rng, words.encode(name, "replace"))


def _nothing_but(rng: random.Random) -> tuple[str, bytes]:
    return "log.csv", rng.choice((b"\0", b" ", b"\n", b"\r", b",\n", b"\xff")) * 3_000_000


def _noise(rng: random.Random) -> tuple[str, bytes]:
    return rng.choice(("log.csv", "log.gpx", "log.nmea", "log.zip")), rng.randbytes(200_000)


def _xml(rng: random.Random) -> tuple[str, bytes]:
    depth = rng.choice((1_000, 200_000))
    point = b'<trkpt lat="40" lon="-3"><time>2026-03-01T08:00:00Z</time></trkpt>'
    inner = rng.choice((b"<a>" * depth, point * 3_000, b"<trkpt" * depth, b"&#0;" * depth))
    return "log.gpx", b'<?xml version="1.0"?><gpx><trk><trkseg>' + inner


def _name(rng: random.Random) -> tuple[str, bytes]:
    raw = bytes(rng.choice(b"ab\xfc\xe9\xff []*?\x1b'\"\\") for _ in range(rng.randrange(1, 60)))
    return os.fsdecode(raw.replace(b"/", b"") + b".csv"), GOOD[:9_000]


def _mutated(rng: random.Random) -> tuple[str, bytes]:
    return "log.csv", mutated(GOOD, GOOD, rng)


KINDS: tuple[Callable[[random.Random], tuple[str, bytes]], ...] = (
    _archive, _archive, _archive, _whole_archive, _bomb, _gzip, _other_packing, _wide, _long_lines,
    _encodings, _nothing_but, _noise, _xml, _name, _mutated,
)  # fmt: skip


def one(seed: int, folder: Path) -> float:
    """Read the file of this seed; the processor seconds it took."""
    rng = random.Random(seed)
    name, data = KINDS[seed % len(KINDS)](rng)
    path = folder / name
    path.write_bytes(data)
    begin = time.process_time()
    reading = read_log(path)
    took = time.process_time() - begin
    path.unlink()
    check(reading)
    assert reading.file.isprintable() or "\x1b" in name
    reading.file.encode()
    return took


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", type=int)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    # the interpreter and its libraries lie in the address space as well, mapped and unused
    mapped = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (mapped + MAX_BYTES, mapped + MAX_BYTES))
    failed, slowest = 0, 0.0
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(options.seed, options.seed + options.files):
            try:
                took = one(seed, Path(folder))
                assert took < MAX_SECONDS, f"{took:.1f} s"
                slowest = max(slowest, took)
            except Exception as error:
                failed += 1
                kind = KINDS[seed % len(KINDS)].__name__
                print(f"seed {seed} {kind}: {type(error).__name__}: {str(error)[:200]}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss >> 10
    print(f"{options.files} files, {failed} failed, slowest {slowest:.2f} s, peak {peak} MiB")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
