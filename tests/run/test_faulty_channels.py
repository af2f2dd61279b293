"""One channel of a period spoilt as recorders spoil it: the answers still hold the truth.

The faults are put into the sample's files by another way than the package reads them: in cells of
text, found by their headings.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from sample_study import TRUTH, sample_copy

import gearing

pytestmark = pytest.mark.drill
Array = np.ndarray
SPEED = ("Vehicle speed", "Wheel-Based Vehicle Speed")
GPS = ("GPS speed", "Speed over ground", "Navigation-Based Vehicle Speed")
FUEL = ("Engine fuel rate", "Engine Fuel Rate")


def spoil(folder: Path, headings: tuple[str, ...], fault: Callable[[Array], Array]) -> int:
    """Change a column of each file; how many were."""
    changed = 0
    for path in sorted(folder.glob("*.csv")):
        raw = path.read_bytes()
        latin = b"\xb0" in raw and b"\xc2\xb0" not in raw
        text = raw.decode("cp1252" if latin else "utf-8-sig")
        sign = ";" if text.count(";") > text.count(",") else ","
        rows = list(csv.reader(text.splitlines(), delimiter=sign))
        at = next((i for i, name in enumerate(rows[0]) if name.split(" (")[0] in headings), None)
        if at is None:
            continue
        body = [row for row in rows[1:] if len(row) > at and _number(row[at]) is not None]
        values = np.array([_number(row[at]) for row in body], dtype=float)
        for row, value in zip(body, fault(values), strict=True):
            written = "" if np.isnan(value) else f"{value:.3f}"
            row[at] = written.replace(".", ",") if sign == ";" else written
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, delimiter=sign, lineterminator="\n").writerows(rows)
        changed += 1
    return changed


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None


def _runs_of(value: float, share: float, rows: int) -> Callable[[Array], Array]:
    rng = np.random.default_rng(5)

    def fault(values: Array) -> Array:
        out = values.copy()
        while np.mean(out == value) < share + np.mean(values == value):
            begin = rng.integers(len(out))
            out[begin : begin + rows] = value
        return out

    return fault


def _jitter(values: Array) -> Array:
    return np.abs(values + np.random.default_rng(6).normal(0, 0.07 * values.max(), len(values)))


CASES = {
    "bus-jitters": ("after", SPEED, _jitter),
    "bus-ends": ("before", SPEED, lambda v: np.minimum(v, np.quantile(v, 0.67))),
    "bus-none": ("before", SPEED, _runs_of(0.0, 0.06, 25)),
    "receiver-none": ("before", GPS, _runs_of(0.0, 0.09, 20)),
    "fuel-none": ("after", FUEL, _runs_of(0.0, 0.02, 20)),
    "fuel-cut": ("after", FUEL, lambda v: np.floor(v / (0.08 * v.mean())) * 0.08 * v.mean()),
}


@pytest.mark.parametrize("name", CASES)
def test_the_answers_hold_the_truth(tmp_path: Path, name: str) -> None:
    side, headings, fault = CASES[name]
    study = sample_copy(tmp_path / "study", routes=False)
    assert spoil(tmp_path / "study" / side, headings, fault) >= 10
    results = gearing.analyze(study)
    told = {
        "before": (results.speed.odometer_factor.before, TRUTH["odometer_factor"]["before"]),
        "after": (results.speed.odometer_factor.after, TRUTH["odometer_factor"]["after"]),
        "gearing": (
            results.final_drive.change_percent,
            TRUTH["final_drive"]["change_percent"],
        ),
        "fuel": (
            results.fuel.change_percent.adjusted,
            TRUTH["fuel_change_percent"]["adjusted"],
        ),
    }
    for what, (found, truth) in told.items():
        if found.low is None or found.high is None:
            continue
        assert found.low <= truth <= found.high, (what, found)
    assert results.fuel.verdict != "supported"
