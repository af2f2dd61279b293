"""A route of 300 km, both sets of tires, both ways, 200 draws: seconds of processor time.

python tests/benchmarks/mountain.py --repeats 3
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from pathlib import Path

import numpy as np
import polars as pl
from scale import tell_machine

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "analysis"))
from test_mountain import find


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=3)
    given = parser.parse_args()
    tell_machine()
    distance = np.arange(0.0, 300_001.0, 100.0)
    altitude = 1500 + 400 * np.sin(distance / 9000) + 20 * np.sin(distance / 700)
    profile = pl.DataFrame({"distance_m": distance, "altitude_m": altitude})
    took = []
    for _ in range(given.repeats):
        start = time.process_time()
        find(profile=profile, draws=200)
        took.append(time.process_time() - start)
    print(f"{statistics.median(took):.1f} s")


if __name__ == "__main__":
    main()
