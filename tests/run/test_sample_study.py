"""The main job on the sample study, whose truth comes from a vehicle model of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from same import differences
from sample_study import TRUTH, sample_copy
from shared import bare_environment

from gearing.run import outputs


@pytest.fixture(scope="session")
def results(sample_run: tuple[Path, str]) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((sample_run[0] / "results.json").read_text("utf-8"))
    return found


@pytest.fixture(scope="session")
def truth() -> dict[str, Any]:
    return TRUTH


@pytest.mark.parametrize("side", ["before", "after"])
def test_odometer_factor_is_within_a_fifth_of_a_percent(
    results: dict[str, Any], truth: dict[str, Any], side: str
) -> None:
    found = results["speed"]["odometer_factor"][side]
    true = truth["odometer_factor"][side]
    assert found["value"] == pytest.approx(true, rel=2e-3)
    assert found["low"] <= true <= found["high"]


def test_final_drive_change_is_within_a_fifth_of_a_point(
    results: dict[str, Any], truth: dict[str, Any]
) -> None:
    found = results["final_drive"]["change_percent"]["value"]
    assert found == pytest.approx(truth["final_drive"]["change_percent"], abs=0.2)


def test_the_true_fuel_change_lies_in_the_adjusted_interval_and_the_dash_is_wrong(
    results: dict[str, Any], truth: dict[str, Any]
) -> None:
    true = truth["fuel_change_percent"]["adjusted"]
    adjusted = results["fuel"]["change_percent"]["adjusted"]
    indicated = results["fuel"]["change_percent"]["indicated"]
    assert adjusted["low"] <= true <= adjusted["high"]
    assert abs(adjusted["value"] - true) < abs(indicated["value"] - true)
    assert indicated["value"] - true > 3, "the dash shows the opposite of what happened"


def test_the_misfiled_trip_is_named_and_kept_out(
    results: dict[str, Any], truth: dict[str, Any]
) -> None:
    (name,) = truth["misfiled"]
    told = [w for w in results["warnings"] if name in w["trips"]]
    assert any("misfiled" in warning["code"] for warning in told)
    (trip,) = [trip for trip in results["trips"] if trip["name"] == name]
    assert trip["flags"]
    assert sum("misfiled" in ",".join(trip["flags"]) for trip in results["trips"]) == 1


def test_the_cut_record_is_in_the_ledger(
    sample_run: tuple[Path, str], truth: dict[str, Any]
) -> None:
    aside = pl.read_csv(sample_run[0] / "set_aside.csv")
    cut = aside.filter(
        pl.col("file") == truth["cut_short"]["file"], pl.col("reason") == "cut-record"
    )
    assert cut["first_line"].to_list() == [truth["cut_short"]["line"]]


def test_every_row_is_accounted_for(results: dict[str, Any]) -> None:
    found = results["input"]
    assert found["rows_read"] == found["rows_used"] + found["rows_set_aside"]
    assert found["rows_set_aside"] == sum(found["reasons"].values())
    assert found["files"] == len(results["trips"]) == 29


def test_every_file_of_the_contract_is_there_and_of_one_run(
    sample_run: tuple[Path, str], results: dict[str, Any]
) -> None:
    folder, printed = sample_run
    assert outputs.finished_results(folder, results["run_id"]) is not None
    assert str(folder / "report.html") in printed
    assert len(printed.splitlines()) >= 4


@pytest.mark.drill
def test_the_cache_and_the_number_of_processes_do_not_change_the_answer(
    results: dict[str, Any], tmp_path: Path
) -> None:
    study = sample_copy(tmp_path / "study")
    for out in ("first", "second"):
        command = [sys.executable, "-m", "gearing", "run", str(study)]
        options = ["--out", str(tmp_path / out), "--jobs", "2", "--quiet"]
        subprocess.run(
            [*command, *options], check=True, capture_output=True, env=bare_environment()
        )
        again = json.loads((tmp_path / out / "results.json").read_text("utf-8"))
        assert differences(again, results) == []
