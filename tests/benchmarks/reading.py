"""What our reading of a log costs beside polars' own inferred read of the same clean file.

    python tests/benchmarks/reading.py            1,000,000 rows, 7 runs
    python tests/benchmarks/reading.py --rows 200000 --runs 15

Both are timed in turn in the same process; the ratio is the median of the runs' ratios, once of
the time that passed and once of the processors' time, which other work on the machine does not
touch.
"""

from __future__ import annotations

import argparse
import platform
import tempfile
import time
from pathlib import Path

import numpy as np
import polars as pl

from gearing.logs.read import read_log

GOAL = 2.5


def write_log(path: Path, rows: int, seed: int = 1) -> None:
    """A clean log of one row a second: ISO time, the receiver's channels, the bus's channels."""
    rng = np.random.default_rng(seed)
    t = np.arange(rows)
    speed = np.clip(16 + 8 * np.sin(t / 47) + rng.normal(0, 0.1, rows), 0, None)
    frame = pl.DataFrame(
        {
            "Time": pl.datetime_range(
                pl.datetime(2026, 3, 1),
                pl.datetime(2026, 3, 1) + pl.duration(seconds=rows - 1),
                "1s",
                eager=True,
            ).dt.strftime("%Y-%m-%dT%H:%M:%SZ"),
            # back and forth on one degree, so that the drive stays on the map
            "Latitude (deg)": 38 + np.abs((np.cumsum(speed) / 111_132) % 2 - 1).round(6),
            "Longitude (deg)": (-110.5 + rng.normal(0, 1e-6, rows)).round(6),
            "Altitude (m)": (1700 + 300 * np.sin(t / 900)).round(1),
            "GPS speed (km/h)": (speed * 3.6).round(2),
            "GPS course (deg)": (180 + 90 * np.sin(t / 500)).round(1),
            "HDOP": rng.uniform(0.6, 1.4, rows).round(1),
            "Vehicle speed (km/h)": (speed * 3.6 / 1.03).round(0).astype(np.int64),
            "Engine RPM (rpm)": (700 + speed * 70).round(2),
            "Engine fuel rate (L/h)": (2.7 + speed * 1.1).round(2),
            "Calculated engine load (%)": rng.uniform(10, 90, rows).round(1),
            "Accelerator pedal position (%)": rng.uniform(0, 90, rows).round(1),
            "Engine coolant temperature (degC)": (80 + rng.integers(0, 9, rows)),
            "Ambient air temperature (degC)": (5 + rng.integers(0, 3, rows)),
            "Barometric pressure (kPa)": (82 + rng.integers(0, 2, rows)),
        }
    )
    frame.write_csv(path)


Times = np.ndarray  # one row a run: seconds passed and processor seconds


def compare(path: Path, rows: int, runs: int) -> tuple[Times, Times]:
    """Times of ours and of polars', run in turn; ours must use every row."""
    ours, theirs = [], []
    for _ in range(runs):
        begin = _clocks()
        pl.read_csv(path)
        middle = _clocks()
        reading = read_log(path)
        ours.append(_clocks() - middle)
        theirs.append(middle - begin)
        if reading.rows_used != rows or reading.set_aside_values:
            raise SystemExit(f"the clean log was not read clean: {reading.set_aside_rows}")
    return np.array(ours), np.array(theirs)


def _clocks() -> np.ndarray:
    return np.array([time.perf_counter(), time.process_time()])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--runs", type=int, default=7)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        write_log(path, options.rows)
        size = path.stat().st_size / 1e6
        compare(path, options.rows, 1)  # warm
        ours, theirs = compare(path, options.rows, options.runs)
    print(
        f"{platform.machine()}, {pl.thread_pool_size()} threads, "
        f"Python {platform.python_version()}, polars {pl.__version__}; "
        f"{options.rows:,} rows, {size:.0f} MB, {options.runs} runs in turn"
    )
    million = options.rows / 1e6
    for kind, name in enumerate(("passed", "processor")):
        ratios = ours[:, kind] / theirs[:, kind]
        print(
            f"{name:9} ours {np.median(ours[:, kind]) / million:.3f}, "
            f"polars {np.median(theirs[:, kind]) / million:.3f} s per million rows: ratio "
            f"{np.median(ratios):.2f} (from {ratios.min():.2f} to {ratios.max():.2f}; "
            f"goal at most {GOAL})"
        )


if __name__ == "__main__":
    main()
