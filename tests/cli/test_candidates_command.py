"""`gearing candidates`: from what is declared, and on the sample beside `gearing run`."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from sample_study import sample_copy
from shared import bare_environment

from gearing.cli import main

PLAIN = """
name = "planned"
units = "us"
[vehicle]
axle_ratio = 4.88
gear_ratios = [3.51, 1.91, 1.43, 1.00, 0.74, 0.64]
speed_source = "output shaft"
[before]
drive_tire = "245/70R19.5"
revolutions_per_mile = 628
"""
THREE_TIRES_TWO_AXLES = "".join(
    f'\n[[candidate]]\nname = "{size} on {axle}"\ndrive_tire = "{size}/70R19.5"\n'
    f"axle_ratio = {axle}\n"
    for size in (245, 265, 285)
    for axle in (4.88, 5.13)
)
EIGHT = """
[[candidate]]
name = "as it was"
drive_tire = "245/70R19.5"
axle_ratio = 4.88
[[candidate]]
name = "as fitted"
drive_tire = "265/70R19.5"
[[candidate]]
name = "short axle"
axle_ratio = 5.13
[[candidate]]
name = "255"
drive_tire = "255/70R19.5"
revolutions_per_mile = 617
[[candidate]]
name = "275"
drive_tire = "275/70R19.5"
revolutions_per_mile = 598
[[candidate]]
name = "275 and tall axle"
drive_tire = "275/70R19.5"
revolutions_per_mile = 598
axle_ratio = 4.56
[[candidate]]
name = "larger wheels"
drive_tire = "255/70R22.5"
[[candidate]]
name = "old tires, short axle"
drive_tire = "245/70R19.5"
axle_ratio = 5.29
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "study.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_an_owner_chooses_from_three_tires_and_two_axles(tmp_path: Path) -> None:
    path = write(tmp_path, PLAIN + THREE_TIRES_TWO_AXLES)
    found = CliRunner().invoke(main, ["candidates", str(path)])
    assert found.exit_code == 0, found.output
    lines = found.output.splitlines()
    assert max(map(len, lines)) <= 80
    gearing_block = lines[: lines.index("")] + lines[lines.index("") + 1 :][:16]
    rows = {line.split()[0]: line.split() for line in gearing_block if line[:1].isdigit()}
    assert sorted(rows) == list("123456")
    # by arithmetic: 4.88 to 5.13 is +5.1 %; on the old tires nothing else changes
    assert rows["2"][6] == "+5.1"
    assert "the study does not give a torque curve" in found.output.replace("\n", " ")
    assert "the same tires and axle as [before]: it changes nothing" in (
        found.output.lower().replace("\n", " ")
    )


def test_json_is_metric_and_public(tmp_path: Path) -> None:
    path = write(tmp_path, PLAIN + THREE_TIRES_TWO_AXLES)
    found = CliRunner().invoke(main, ["candidates", str(path), "--format", "json"])
    told = json.loads(found.output)
    assert [one["name"] for one in told["candidates"]][:2] == ["245 on 4.88", "245 on 5.13"]
    assert told["candidates_basis"]["compared_with"] == "before"
    assert told["candidates"][1]["figures"]["restoring_axle_ratio"]["value"] == pytest.approx(4.88)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (PLAIN, "The study names no [[candidate]]."),
        (f'{PLAIN}\n[[candidate]]\nname = "x"\ndrive_tire = "26/70R19.5"', "Did you mean"),
    ],
)
def test_what_is_to_mend_is_told(tmp_path: Path, text: str, words: str) -> None:
    found = CliRunner().invoke(main, ["candidates", str(write(tmp_path, text))])
    assert found.exit_code == 2
    assert words in found.output
    assert "Traceback" not in found.output


def gearing(*arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "gearing", *arguments],
        env=bare_environment(), capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.drill
def test_eight_candidates_on_the_sample_say_what_its_run_says(tmp_path: Path) -> None:
    study = sample_copy(tmp_path / "study")
    with study.open("a", encoding="utf-8") as file:
        file.write(EIGHT)
    alone: dict[str, Any] = json.loads(gearing("candidates", str(study), "--format", "json"))
    out = tmp_path / "out"
    gearing("run", str(study), "--out", str(out), "--quiet")
    run = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert alone["candidates"] == run["candidates"]
    assert alone["candidates_basis"] == run["candidates_basis"]
    by_name = {one["name"]: one for one in run["candidates"]}
    ways = [way for route in run["routes"] for way in (route, route["reversed"])]
    for name, side in (("as fitted", "after"), ("as it was", "before")):
        for drive, way in zip(by_name[name]["drives"], ways, strict=True):
            figures = {key: one["value"] for key, one in drive["figures"].items()}
            told = way[side]
            for key in ("liters", "top_gear_sustains_percent", "downshifts_under_drive"):
                assert figures[key] == pytest.approx(told[key], rel=1e-9)
            assert figures["sustained_lowest_kmh"] == pytest.approx(told["sustained_lowest_kmh"])
            assert figures["brake_kwh"] == pytest.approx(told["descent"]["brake_kwh"])
            if side == "after":
                assert drive["verdict"] == way["verdict"]
    fitted = by_name["as fitted"]["figures"]
    final = run["final_drive"]
    for ours, theirs in (
        ("gearing_change_percent", "change_percent"),
        ("restoring_axle_ratio", "restoring_axle_ratio"),
    ):
        assert fitted[ours]["value"] == pytest.approx(final[theirs]["value"], rel=1e-6)
    was = by_name["as it was"]["figures"]
    for key in ("gearing_change_percent", "fuel_change_percent"):
        assert was[key] == {"value": 0.0, "low": 0.0, "high": 0.0, "standing": was[key]["standing"]}
    assert 'id="candidates"' in (out / "report.html").read_text(encoding="utf-8")
