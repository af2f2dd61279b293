"""A whole run of a study whose axle ratio is another vehicle's: terminal and figures say the same.

That axle ratios are copied from another vehicle's sheet is common practice, no source.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

from sample_study import TRUTH, sample_copy
from shared import bare_environment


def test_a_wrong_axle_ratio_is_named_and_what_rests_on_it_withheld(tmp_path: Path) -> None:
    study = sample_copy(tmp_path / "logs")
    text, count = re.subn(r"(?m)^axle_ratio = .*$", "axle_ratio = 4.10", study.read_text())
    assert count == 1
    study.write_text(text)
    done = subprocess.run(
        [sys.executable, "-m", "gearing", "run", str(study), "--out", str(tmp_path / "out")],
        capture_output=True, text=True, check=False, env=bare_environment(),
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    results = json.loads((tmp_path / "out" / "results.json").read_text())
    (warning,) = [w for w in results["warnings"] if w["code"] == "declared-contradicts-logs"]
    assert warning["keys"] == ["vehicle.axle_ratio"]
    fit = re.search(r"an axle ratio of (\d\.\d\d)", warning["text"])
    assert fit is not None
    assert abs(float(fit[1]) / TRUTH["final_drive"]["effective"]["before"] - 1) < 0.01
    # told alike by every answer, and by the page
    assert done.stdout.count("vehicle.axle_ratio") >= 2
    assert "vehicle.axle_ratio" in (tmp_path / "out" / "report.html").read_text()
    for route in results["routes"]:
        assert route["verdict"] == "cannot tell yet"
        assert route["before"] is None
        assert "axle_ratio" in route["verdict_why"]
    restoring = results["final_drive"]["restoring_axle_ratio"]
    assert restoring["value"] is None
    assert restoring["why"]
    # what rests on none of it stands
    change = results["final_drive"]["change_percent"]
    assert change["low"] <= TRUTH["final_drive"]["change_percent"] <= change["high"]
    setting = results["speed"]["programmed_revolutions_per_km"]
    assert setting["should_be"]["low"] <= TRUTH["revolutions_per_km"]["after"]
    assert TRUTH["revolutions_per_km"]["after"] <= setting["should_be"]["high"]
    right = 100 * (1 / TRUTH["odometer_factor"]["after"] - 1)
    assert setting["change_percent"]["low"] <= right <= setting["change_percent"]["high"]
