"""Tires changed more than once, and a change of which only the day is known.

The notebook is made here: a fill every ten days, 500 km by true distance and by the odometer, so
many liters on each of three sets of tires. The tanks that lie whole in a period can be counted by
hand.
"""

from __future__ import annotations

import itertools
import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from sample_study import SAMPLE

from gearing.run.batch import Options, run_study
from gearing.run.progress import Progress

pytestmark = pytest.mark.drill

FIRST = date(2025, 1, 5)
CHANGES = (date(2025, 9, 1), date(2026, 5, 1))
SETS = (150.0, 172.0, 165.0)  # liters a tank of 500 km: apart by no more than tires may do
TANKS = 80


def notebook(folder: Path) -> None:
    lines = ["Date,Odometer km,Litres"]
    for number in range(TANKS):
        day = FIRST + timedelta(days=10 * number)
        on = sum(day > change for change in CHANGES)
        lines.append(f"{day},{100_000 + 500 * number},{SETS[on]:.1f}")
    (folder / "fillups.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def run(folder: Path, before: str, after: str) -> dict[str, Any]:
    notebook(folder)
    study = folder / "study.toml"
    study.write_text(
        'name = "three sets"\nfillups = "fillups.csv"\ntime_zone = "Europe/Berlin"\n'
        f'[before]\ndrive_tire = "245/70R19.5"\n{before}\n'
        f'[after]\ndrive_tire = "245/70R19.5"\n{after}\n',
        encoding="utf-8",
    )
    run_study(study, Options(out=folder / "out", jobs=1, keep=False), Progress())
    found: dict[str, Any] = json.loads((folder / "out" / "results.json").read_text("utf-8"))
    return found


def whole(begin: date, end: date) -> int:
    """Tanks from one fill to the next that lie between two days."""
    days = [FIRST + timedelta(days=10 * number) for number in range(TANKS)]
    return sum(begin <= a and b <= end for a, b in itertools.pairwise(days))


@pytest.mark.parametrize(
    ("before", "after", "spans", "truth"),
    [
        # the first set against the third, the second left out
        (
            f"to = {CHANGES[0]}",
            f"from = {CHANGES[1]}",
            ((FIRST, CHANGES[0]), (CHANGES[1], date(2028, 1, 1))),
            100 * (SETS[2] / SETS[0] - 1),
        ),
        # the second, a period of its own, against the third
        (
            f"from = {CHANGES[0]}",
            f"from = {CHANGES[1]}",
            ((CHANGES[0], CHANGES[1]), (CHANGES[1], date(2028, 1, 1))),
            100 * (SETS[2] / SETS[1] - 1),
        ),
        # and the first against the second, what came later left out
        (
            "",
            f"from = {CHANGES[0]}\nto = {CHANGES[1]}",
            ((FIRST, CHANGES[0]), (CHANGES[0], CHANGES[1])),
            100 * (SETS[1] / SETS[0] - 1),
        ),
    ],
)
def test_each_set_of_tires_has_its_own_tanks(
    before: str, after: str, spans: tuple[tuple[date, date], ...], truth: float, tmp_path: Path
) -> None:
    fuel = run(tmp_path, before, after)["fuel"]
    counts = fuel["tanks"]["count"]
    assert (counts["before"], counts["after"]) == tuple(whole(*span) for span in spans)
    found = fuel["change_percent"]["fillups"]
    assert found["low"] < truth < found["high"]
    assert abs(found["value"] - truth) < 5


def test_the_day_of_the_change_alone_divides_the_drives(tmp_path: Path) -> None:
    """The sample's logs in one heap, and the day between the sets."""
    study = tmp_path / "study.toml"
    logs = [
        f'"{SAMPLE / side}/2026-0{month}-1*.csv"' for side, month in (("before", 2), ("after", 3))
    ]
    study.write_text(
        'name = "by date"\ntime_zone = "America/Denver"\n'
        f"logs = [{', '.join(logs)}]\n"
        '[vehicle]\nspeed_source = "output shaft"\n'
        '[before]\ndrive_tire = "245/70R19.5"\n'
        '[after]\ndrive_tire = "265/70R19.5"\nfrom = 2026-03-10\n',
        encoding="utf-8",
    )
    run_study(study, Options(out=tmp_path / "out", jobs=1, keep=False), Progress())
    trips = json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))["trips"]
    assert {trip["period"] for trip in trips} == {"before", "after"}
    for trip in trips:
        assert trip["period"] == ("after" if trip["start"] >= "2026-03-10" else "before")
