"""A whole run of a study whose axle ratio is another vehicle's: terminal and figures say the same.

That axle ratios are copied from another vehicle's sheet is common practice, no source.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from sample_study import TRUTH, sample_copy

from gearing.cli import main

pytestmark = pytest.mark.drill


def run_of(study: Path, out: Path) -> tuple[dict[str, Any], str]:
    """Results and terminal of a run."""
    words = ["run", str(study), "--out", str(out), "--jobs", "1"]
    done = CliRunner().invoke(main, words, env={"COLUMNS": "4000"})
    assert done.exit_code == 0, done.output
    return json.loads((out / "results.json").read_text()), done.stdout


def test_periods_taken_for_each_other_leave_no_verdict_and_no_money(tmp_path: Path) -> None:
    study = sample_copy(tmp_path / "logs")
    text = study.read_text().replace("before/*.csv", "@").replace("after/*.csv", "before/*.csv")
    study.write_text(text.replace("@", "after/*.csv"))
    results, terminal = run_of(study, tmp_path / "out")
    assert "periods-swapped" in [one["code"] for one in results["warnings"]]
    assert results["fuel"]["verdict"] == "cannot tell yet"
    assert "swapped" in results["fuel"]["verdict_why"]
    assert results["fuel"]["savings"] is None
    assert {route["verdict"] for route in results["routes"]} == {"cannot tell yet"}
    assert terminal.count("See which logs are from before") == 3
    assert "USD a year" not in terminal


def test_a_wrong_axle_ratio_is_named_and_what_rests_on_it_withheld(tmp_path: Path) -> None:
    study = sample_copy(tmp_path / "logs")
    text, count = re.subn(r"(?m)^axle_ratio = .*$", "axle_ratio = 4.10", study.read_text())
    assert count == 1
    study.write_text(text)
    results, terminal = run_of(study, tmp_path / "out")
    (warning,) = [w for w in results["warnings"] if w["code"] == "declared-contradicts-logs"]
    assert warning["keys"] == ["vehicle.axle_ratio"]
    fit = re.search(r"an axle ratio of (\d\.\d\d)", warning["text"])
    assert fit is not None
    assert abs(float(fit[1]) / TRUTH["final_drive"]["effective"]["before"] - 1) < 0.01
    # told alike by every answer, and by the page
    assert terminal.count("vehicle.axle_ratio") >= 2
    assert "vehicle.axle_ratio" in (tmp_path / "out" / "report.html").read_text()
    for route in results["routes"]:
        assert route["verdict"] == "cannot tell yet"
        assert route["before"] is None
        assert "axle_ratio" in route["verdict_why"]
    restoring = results["final_drive"]["restoring_axle_ratio"]
    assert restoring["value"] is None
    assert restoring["why"]
    of_shaft = results["speed"]["to_program"]["now"]["shaft_rev_per_mile"]
    assert of_shaft["value"] is None
    assert "4.10" in of_shaft["why"]
    # what rests on none of it stands
    change = results["final_drive"]["change_percent"]
    assert change["low"] <= TRUTH["final_drive"]["change_percent"] <= change["high"]
    setting = results["speed"]["programmed_revolutions_per_km"]
    assert setting["should_be"]["low"] <= TRUTH["revolutions_per_km"]["after"]
    assert TRUTH["revolutions_per_km"]["after"] <= setting["should_be"]["high"]
    right = 100 * (1 / TRUTH["odometer_factor"]["after"] - 1)
    assert setting["change_percent"]["low"] <= right <= setting["change_percent"]["high"]
