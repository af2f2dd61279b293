"""Kill runs at random moments; each later run must end as an undisturbed one.

python tests/run/drills.py --kills 50
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
from log_maker import write_logs

from gearing.run import outputs


def run(study: Path, out: Path, *options: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "gearing", "run", str(study), "--out", str(out), "--quiet"]
    return subprocess.Popen([*command, *options], stderr=subprocess.PIPE, start_new_session=True)


def answers(out: Path) -> dict[str, Any]:
    """What a finished run says; fails where the folder is not whole."""
    results: dict[str, Any] = json.loads((out / "results.json").read_text("utf-8"))
    if outputs.finished_results(out, results["run_id"]) is None:
        raise AssertionError(f"{out} is not one whole run")
    return results


def drill(kills: int, files: int = 8, rows: int = 1500, seed: int = 1) -> int:
    """Kill `kills` runs, each after a random time and from a cache of random fullness.

    Gives how many runs that took: one that ends before its time is not counted as killed.
    """
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as work:
        folder = Path(work)
        study = write_logs(folder, files, rows)
        began = time.monotonic()
        _finish(run(study, folder / "undisturbed", "--jobs", "2"))
        length = time.monotonic() - began
        expected = answers(folder / "undisturbed")
        cut = tried = 0
        while cut < kills:
            tried += 1
            assert tried <= 8 * kills, f"only {cut} of {tried} runs could be killed in time"
            number = cut
            out = folder / "out"
            if chance.random() < 0.5:
                shutil.rmtree(folder / ".gearing-cache", ignore_errors=True)
            if chance.random() < 0.7:
                shutil.rmtree(out, ignore_errors=True)
            process = run(study, out, "--jobs", "2")
            time.sleep(chance.uniform(0, length))
            if process.poll() is None:
                process.send_signal(signal.SIGKILL)
                cut += 1
            process.communicate()
            half = outputs.read(out / "results.json")
            if half is not None:
                assert answers(out) == expected, f"kill {number}: a half-written result stands"
            _finish(run(study, out, "--jobs", "2"))
            assert answers(out) == expected, f"kill {number}: the later run ends differently"
            assert not list(out.glob(".*.part")), f"kill {number}: leavings"
    return tried


def _finish(process: subprocess.Popen[bytes]) -> None:
    _, words = process.communicate()
    if process.returncode not in (0, 1):
        raise AssertionError(words.decode())


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    runs = drill(given.kills, seed=given.seed)
    print(f"{given.kills} of {runs} runs killed before they ended; all later runs equal")
