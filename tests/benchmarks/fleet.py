"""A fleet one vehicle after the other and side by side: seconds a vehicle, memory, same answers.

    python tests/benchmarks/fleet.py --vehicles 20 60 --logs 4 --rows 1800

Both in one call and alternating, with nothing kept from earlier runs.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
from pathlib import Path

from scale import RUN, Cost, compile_program, tell_machine, timed

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
from log_maker import write_fleet
from same import contents


def measure(vehicles: int, logs: int, rows: int, repeats: int, jobs: int) -> dict[str, float]:
    """Medians over `repeats` rounds for one number of vehicles."""
    with tempfile.TemporaryDirectory(prefix="gearing-bench-") as work:
        folder = Path(work)
        fleet = write_fleet(folder / "fleet", vehicles, logs, rows)
        compile_program(folder / "small")

        def run(name: str, processes: int) -> Cost:
            options = ["--out", str(folder / name), "--jobs", str(processes), "--no-cache"]
            return timed([*RUN, str(fleet), *options, "--quiet"], folder)

        rounds = [(run("one", 1), run("beside", jobs)) for _ in range(repeats)]
        if contents(folder / "one") != contents(folder / "beside"):
            raise SystemExit("side by side gave other files")
    serial, beside = ([pair[i] for pair in rounds] for i in (0, 1))
    return {
        "serial_s": statistics.median(cost.clock_s for cost in serial),
        "beside_s": statistics.median(cost.clock_s for cost in beside),
        "beside_over_serial": statistics.median(b.clock_s / a.clock_s for a, b in rounds),
        "cpu_a_vehicle_s": statistics.median(cost.cpu_s for cost in beside) / vehicles,
        "serial_cpu_a_vehicle_s": statistics.median(cost.cpu_s for cost in serial) / vehicles,
        "beside_mib": max(cost.mib for cost in beside),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--vehicles", type=int, nargs="+", default=[60])
    parser.add_argument("--logs", type=int, default=4)
    parser.add_argument("--rows", type=int, default=1_800)
    parser.add_argument("--repeats", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    given = parser.parse_args()
    tell_machine()
    for vehicles in given.vehicles:
        found = measure(vehicles, given.logs, given.rows, given.repeats, given.jobs)
        rounded = {name: round(value, 3) for name, value in found.items()}
        print(json.dumps({"vehicles": vehicles, "logs": given.logs, "rows": given.rows} | rounded))


if __name__ == "__main__":
    main()
