"""From nothing to a page, as an owner does it: inspect, write the study, fill its blanks, run."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from owner_folder import CHANGE, SAVED, Owner, american, german, make_owner, spanish

from gearing.cli import main

pytestmark = pytest.mark.drill

OWNERS = {
    "german": (german, "Europe/Berlin", 84.0, 3),
    "american": (american, "America/Denver", 96.0, 1),
    "spanish": (spanish, "Europe/Madrid", 88.0, 5),
}


def words(*of: str | Path) -> str:
    found = CliRunner().invoke(main, [str(one) for one in of])
    assert found.exit_code == 0, found.output
    return found.output


@pytest.mark.parametrize("name", OWNERS)
def test_from_nothing_to_a_page(name: str, tmp_path: Path) -> None:
    write, zone, usual, seed = OWNERS[name]
    owner = make_owner(tmp_path, zone, usual, write, seed)
    told = words("inspect", tmp_path)
    assert "speed, by 6 readings of the needle beside GPS" in told
    assert "fuel, tank by tank, from" in told
    assert "Questions" not in told
    study = tmp_path / "study.toml"
    asked = words("inspect", "--write-study", study, tmp_path)
    assert asked.count("Fill in") == 4
    text = study.read_text(encoding="utf-8")
    for value in (zone, "245/70R19.5", "265/70R19.5"):
        text = text.replace('= "?"', f'= "{value}"', 1)
    text = text.replace('= "?"', f"= {CHANGE:%Y-%m-%d}", 1)
    assert "[columns]" not in text  # nothing is left in doubt
    study.write_text(text, encoding="utf-8")
    out = tmp_path / "out"
    words("run", study, "--out", out, "--jobs", "1")
    results = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert (out / "report.html").stat().st_size > 100_000
    _speed_holds(results, owner)
    fuel = results["fuel"]["change_percent"]["fillups"]
    assert results["fuel"]["verdict_basis"] == "fillups"
    assert fuel["low"] < 100 * math.expm1(SAVED) < fuel["high"]
    assert fuel["n"] > 20


def _speed_holds(results: dict[str, Any], owner: Owner) -> None:
    rows = results["speed"]["speedometer_correction"]["table"]
    assert len(rows) >= 5
    for row in rows:
        for side in ("before", "after"):
            found = row["true_kmh"][side]
            true = owner.true_kmh(row["shown_kmh"], after=side == "after")
            assert found["low"] < true < found["high"], (row, side, true)
            assert found["high"] - found["low"] < 0.12 * true
