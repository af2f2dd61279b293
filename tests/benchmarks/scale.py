"""First run, second run, one new log, peak memory and growth, against polars alone.

    python tests/benchmarks/scale.py --files 400 --rows 18000 --repeats 3

polars alone parses the same files with its own schema inference and writes each as Parquet, with
dates parsed and, beside it, without, in the same call and alternating with ours, so that the ratio
does not hang on the machine. `_cpu_s` are seconds of processor time, all processes together: on a
machine that others work on too they say more than the clock. Peak memory is the largest sum of the
proportional set sizes of the run's processes.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
from log_maker import log_frame, write_logs

RUN = [sys.executable, "-m", "gearing", "run"]


@dataclass(frozen=True)
class Cost:
    """What a command took."""

    clock_s: float
    cpu_s: float
    mib: float


def polars_alone(study: Path, *, dates: bool) -> None:
    """Parse every log with polars' defaults and write it as Parquet."""
    target = study.parent / "parsed"
    target.mkdir(exist_ok=True)
    for path in sorted(study.parent.glob("*/*.csv")):
        pl.read_csv(path, try_parse_dates=dates).write_parquet(target / f"{path.stem}.parquet")


def _pss_kib(pid: int) -> int:
    try:
        text = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii")
    except OSError:
        return 0
    return sum(int(line.split()[1]) for line in text.splitlines() if line.startswith("Pss:"))


def _family(pid: int) -> list[int]:
    found = [pid]
    for parent in found:
        try:
            text = Path(f"/proc/{parent}/task/{parent}/children").read_text(encoding="ascii")
        except OSError:
            continue
        found += [int(child) for child in text.split()]
    return found


def timed(command: list[str], cwd: Path) -> Cost:
    """What a command and its children take."""
    began, used = time.perf_counter(), _used_s()
    # as a user has it: compiled once
    own = {name: v for name, v in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    process = subprocess.Popen(
        command, cwd=cwd, env=own, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    )
    peak = 0

    def watch() -> None:
        nonlocal peak
        while process.poll() is None:
            peak = max(peak, sum(_pss_kib(pid) for pid in _family(process.pid)))
            time.sleep(0.1)

    watcher = threading.Thread(target=watch)
    watcher.start()
    _, words = process.communicate()
    seconds = time.perf_counter() - began
    watcher.join()
    if process.returncode not in (0, 1):
        raise SystemExit(f"{command} ended with {process.returncode}: {words}")
    return Cost(seconds, _used_s() - used, peak / 1024)


def _used_s() -> float:
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def measure(files: int, rows: int, repeats: int) -> dict[str, float]:
    """Medians over `repeats` rounds for one number of files."""
    rounds: list[dict[str, float]] = []
    with tempfile.TemporaryDirectory(prefix="gearing-bench-") as work:
        folder = Path(work)
        study = write_logs(folder, files, rows)
        run = [*RUN, str(study), "--out", str(folder / "out"), "--quiet"]
        compile_program(folder / "small")
        for number in range(repeats):
            for made in (".gearing-cache", "out"):
                shutil.rmtree(folder / made, ignore_errors=True)
            costs = {
                name: timed([sys.executable, __file__, f"--{name}", str(study)], folder)
                for name in ("alone", "undated")
            }
            costs |= {name: timed(run, folder) for name in ("first", "second")}
            look = [sys.executable, "-m", "gearing", "inspect", str(folder)]
            costs["inspect"] = timed(look, folder)
            extra = folder / "after" / f"new{number}.csv"
            _new_log(rows, number).write_csv(extra)
            costs["new"] = timed(run, folder)
            extra.unlink()
            rounds.append(_figures(costs))
    return {key: round(statistics.median(row[key] for row in rounds), 3) for key in rounds[0]}


def compile_program(folder: Path) -> None:
    """Run a small study, so that no run that is measured compiles the program first."""
    timed([*RUN, str(write_logs(folder, 4, 400)), "--out", str(folder / "out"), "--quiet"], folder)


def _figures(costs: dict[str, Cost]) -> dict[str, float]:
    figures = {f"{name}_s": cost.clock_s for name, cost in costs.items()}
    figures |= {f"{name}_cpu_s": cost.cpu_s for name, cost in costs.items()}
    figures["first_mib"] = costs["first"].mib
    for name, over in (("first", "alone"), ("first", "undated"), ("new", "first")):
        figures[f"{name}_over_{over}"] = costs[name].clock_s / costs[over].clock_s
        figures[f"{name}_over_{over}_cpu"] = costs[name].cpu_s / costs[over].cpu_s
    return figures


def _new_log(rows: int, number: int) -> pl.DataFrame:
    start = datetime(2032, 1, 5, 7, tzinfo=UTC) + timedelta(days=number)
    return log_frame(np.random.default_rng((2, number)), rows, start, 1.034)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, nargs="+", default=[400])
    parser.add_argument("--rows", type=int, default=18_000)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--alone", type=Path)
    parser.add_argument("--undated", type=Path)
    options = parser.parse_args()
    if options.alone or options.undated:
        polars_alone(options.alone or options.undated, dates=bool(options.alone))
        return
    tell_machine()
    table: dict[int, dict[str, float]] = {}
    for files in options.files:
        table[files] = measure(files, options.rows, options.repeats)
        print(json.dumps({"files": files, "rows": files * options.rows} | table[files]))
    if len(table) > 2:
        print(f"first run grows as files to the power {growth(table):.2f}")


def tell_machine() -> None:
    """What it was measured on, and how busy that is."""
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(f"polars {pl.__version__}; load before: {os.getloadavg()[0]:.1f}")


def growth(table: dict[int, dict[str, float]]) -> float:
    """The slope of log seconds over log files, by least squares."""
    files = np.log(list(table))
    seconds = np.log([row["first_s"] for row in table.values()])
    return float(np.polyfit(files, seconds, 1)[0])


if __name__ == "__main__":
    main()
