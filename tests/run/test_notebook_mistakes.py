"""A notebook with one thing wrong: what is told, where the truth is known."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from kinds_of_evidence import notebook
from tank_world import Plan

from gearing.run.batch import Options, run_study
from gearing.run.progress import Progress

PLAN = Plan(tanks=(12, 12), first_day=60, change=-0.08)


def results_of(study: Path) -> dict[str, Any]:
    out = study.parent / "out"
    run_study(study, Options(out=out, jobs=1, keep=False), Progress())
    return dict(json.loads((out / "results.json").read_text(encoding="utf-8")))


@pytest.mark.parametrize("off", [0.95, 1.05])
def test_published_figures_that_do_not_fit_the_size_tell_no_change(
    tmp_path: Path, off: float
) -> None:
    """628 revolutions a mile before, 628/1.035 after would fit both sizes; by a figure that is 5 %
    off, or by the odometer as shown, the change would be as much off and its interval narrow."""
    study, _ = notebook(tmp_path, PLAN)
    text = study.read_text(encoding="utf-8")
    for side, figure in (("before", 628.0), ("after", off * 628 / 1.035)):
        text = text.replace(f"[{side}]\n", f"[{side}]\nrevolutions_per_mile = {figure:.1f}\n")
    study.write_text(text, encoding="utf-8")
    fuel = results_of(study)["fuel"]
    assert fuel["change_percent"]["fillups"]["value"] is None
    assert fuel["verdict"] == "cannot tell yet"
    # the fill on the day of the change ends a tank of neither
    assert fuel["tanks"]["count"] == {"before": 11, "after": 12}
    assert "published" in fuel["verdict_why"] or "after.revolutions" in fuel["verdict_why"]


def test_a_notebook_that_asks_is_what_the_fuel_answer_speaks_of(tmp_path: Path) -> None:
    """No word of a fuel rate on the bus, where the notebook waits for one line."""
    study, _ = notebook(tmp_path, PLAN)
    log = study.parent / "fillups.csv"
    text = log.read_text(encoding="utf-8")
    headings, _, rows = text.partition("\n")
    open_units = "date,odometer,liters"
    assert headings.count(",") == 2
    log.write_text(open_units + "\n" + rows, encoding="utf-8")
    fuel = results_of(study)["fuel"]
    assert fuel["verdict"] is None
    assert fuel["verdict_why"].startswith("the fill-up log fillups.csv could not be used")


def test_rows_that_are_not_read_are_told(tmp_path: Path) -> None:
    study, _ = notebook(tmp_path, PLAN)
    log = study.parent / "fillups.csv"
    rows = log.read_text(encoding="utf-8").splitlines()
    rows[5] = "?," + rows[5].partition(",")[2]
    log.write_text("\n".join([*rows, "Total,,900"]) + "\n", encoding="utf-8")
    found = results_of(study)
    (told,) = (w["text"] for w in found["warnings"] if w["code"] == "fill-ups-set-aside")
    assert told.startswith("2 rows of the fill-up log fillups.csv, from line 6 on, were not used")
    # the tanks before and behind the lost fill say nothing of it, and no doubted one stands
    assert found["fuel"]["tanks"]["count"] == {"before": 9, "after": 12}
