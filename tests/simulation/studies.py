"""The statistical studies, with the arguments and seeds of the guide's figures.

    python tests/simulation/studies.py                   lists them
    python tests/simulation/studies.py NAME [NAME ...]   runs those; `all` runs every one
    python tests/simulation/studies.py NAME --quick      a few cases of each, to see that it works

What they print is told in `gearing/guide/methods.md`, whose commands a test holds against these.
The long ones take hours on two cores. Studies that assert something are pytest's:
`python -m pytest -n logical -m study`.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
WRONG = ("axle", "axle_after", "size", "published", "gears", "speed_source", "units", "swapped")


@dataclass(frozen=True)
class Command:
    """A study: its script in this folder, its arguments in full, and those of a quick look.

    An argument `FILE` stands for a file of its own in a passing folder.
    """

    name: str
    script: str
    full: str
    quick: str

    @property
    def line(self) -> str:
        """The command in full, as the guide shows it."""
        return f"python tests/simulation/{self.script} {self.full}"


def _declaration(kind: str, studies: int, first_seed: int) -> Command:
    rest = f"--first-seed {first_seed} --kind {kind}"
    return Command(
        f"declaration-{kind.replace('_', '-')}",
        "declaration_study.py",
        f"--studies {studies} {rest}",
        f"--studies 2 {rest}",
    )


STUDIES = (
    Command("speed", "speed_study.py", "--studies 100 --first-seed 1000",
            "--studies 2 --first-seed 1000"),
    Command("held-speeds", "held_speeds.py", "--seeds 40", "--seeds 1"),
    *(_declaration(kind, 250, 30000) for kind in WRONG),
    _declaration("none", 2000, 20000),
    _declaration("misfiled", 250, 80000),
    Command("fuel", "fuel_study.py",
            "--studies 200 --cell shared-overlapping,persistence-drawn,own-roads-apart,"
            "aa-persistent,aa-persistent-0.8 --seed 61000",
            "--studies 2 --cell aa-steady --seed 61000"),
    Command("fuel-more", "fuel_study.py",
            "--studies 60 --cell shared-overlapping-wind-file,quiet-days,shared-apart,"
            "shared-apart-no-temperature,one-way-apart,few-days,alike,counter-short-trips,"
            "aa-apart-no-temperature,aa-counter,aa-sensor-off,"
            "aa-sensor-stuck --seed 61000",
            "--studies 2 --cell aa-counter --seed 61000"),
    Command("fuel-real-cars", "fuel_real_cars.py", "--splits 40 --seed 7", "--splits 2 --seed 7"),
    Command("tanks", "tank_study.py", "400", "4"),
    Command("needle", "needle_study.py", "400", "4"),
    Command("odometer", "odometer_study.py", "400", "4"),
    Command("whole", "whole_study.py", "1000 40", "1000 1"),
    Command("whole-2000", "whole_study.py", "2000 40", "2000 1"),
    Command("fleet", "fleet_study.py", "2000", "20"),
    Command("fleet-pipeline", "fleet_pipeline.py", "100 FILE", "1 FILE"),
    Command("descent", "descent_study.py", "--hills 30 --seed 1", "--hills 2 --seed 1"),
    Command("descent-7", "descent_study.py", "--hills 30 --seed 7", "--hills 2 --seed 7"),
    Command("coverage", "mountain_coverage.py", "--studies 300 --seed 9", "--studies 4 --seed 7"),
    Command("coverage-40", "mountain_coverage.py", "--studies 30 --trips 40 --seed 7",
            "--studies 2 --trips 8 --seed 7"),
    Command("verdict", "verdict_study.py", "--pairs 150", "--pairs 6"),
)  # fmt: skip


def run(study: Command, *, quick: bool) -> int:
    """Run a study, what it prints going to the terminal; its exit status."""
    with tempfile.TemporaryDirectory() as place:
        arguments = (study.quick if quick else study.full).split()
        arguments = [str(Path(place, "rows")) if one == "FILE" else one for one in arguments]
        shown = " ".join([f"python tests/simulation/{study.script}", *arguments])
        print(f"== {study.name}: {shown}", flush=True)
        began = time.monotonic()
        done = subprocess.run(
            [sys.executable, str(Path(__file__).parent / study.script), *arguments],
            cwd=ROOT,
            env={"POLARS_MAX_THREADS": "1", **os.environ},
            check=False,
        )
    print(
        f"== {study.name}: status {done.returncode}, {time.monotonic() - began:.0f} s", flush=True
    )
    return done.returncode


def main() -> None:
    """List the studies, or run those named; exit status 1 where one of them failed."""
    known = {study.name: study for study in STUDIES}
    parser = argparse.ArgumentParser(description="Run the statistical studies, or list them.")
    parser.add_argument("names", nargs="*", metavar="NAME", help="a study, or all")
    parser.add_argument("--quick", action="store_true", help="a few cases of each")
    options = parser.parse_args()
    unknown = [name for name in options.names if name not in (*known, "all")]
    if unknown:
        parser.error(f"no study {unknown[0]!r}; known are all, {', '.join(known)}")
    if not options.names:
        for study in STUDIES:
            print(f"{study.name:<26}{study.line}")
        return
    chosen = STUDIES if "all" in options.names else [known[name] for name in options.names]
    failed = [study.name for study in chosen if run(study, quick=options.quick) != 0]
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
