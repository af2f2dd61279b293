"""Each kind of evidence gets the answers it can carry, and the guide's table says which."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from kinds_of_evidence import BUS, GPS, notebook, stripped_sample, without
from sample_study import TRUTH
from shared import once
from tank_world import Plan

from gearing.run.batch import Options, run_study
from gearing.run.progress import Progress

pytestmark = pytest.mark.drill

GUIDE = Path(__file__).resolve().parents[2] / "gearing" / "guide" / "evidence.md"
BOTH = ("before", "after")
QUICK = ("[[route]]",)
MILE_LARGER, MILE_GAIN, MILE_OFFSET = 1.035, 1.03, 1.0


def phone(folder: Path, *dropped: str) -> Path:
    """A phone's tracks of the sample's drives; mountain routes in one cell alone."""
    study = stripped_sample(folder, GPS, BOTH)
    without(study, *dropped)
    return study


def phone_and_needle(folder: Path) -> Path:
    return phone(folder, "fillups", *QUICK)


def phone_and_fills(folder: Path) -> Path:
    return phone(folder, "[[dash]]", *QUICK)


def six_tanks(folder: Path) -> Path:
    return notebook(folder, Plan(tanks=(6, 6), first_day=60))[0]


def five_years(folder: Path) -> Path:
    return notebook(folder, Plan(tanks=(150, 150), first_day=60, change=-0.08))[0]


def measured_mile(folder: Path) -> Path:
    """Fill-ups, and a stretch between markers with the odometer read at both its ends, on each
    set of tires. The second odometer counts 3.5 % short."""
    study, fills = notebook(folder, Plan(tanks=(12, 12), first_day=60))
    lines = []
    for day, start, shown in (("2027-03-10", 40_000.0, 100.0), ("2027-09-10", 52_000.0, 96.6)):
        lines += [
            f'[[measured]]\nfrom = {day}T09:00:00\nto = {day}T11:00:00\ndistance = "100 mi"',
            f'[[dash]]\nat = {day}T09:00:00\nodometer = "{start:.1f} mi"',
            f'[[dash]]\nat = {day}T11:00:00\nodometer = "{start + shown:.1f} mi"',
        ]
    text = study.read_text(encoding="utf-8")
    del fills
    study.write_text(text + "\n" + "\n".join(lines) + "\n", encoding="utf-8")
    return study


def needle_and_mile(folder: Path) -> Path:
    """No log and no fill: the needle read while two miles between markers were driven steadily,
    three times on each set of tires. It shows 3 % and 1 km/h too much on the old ones."""
    folder.mkdir(parents=True)
    study = folder / "study.toml"
    text = (
        'name = "two miles"\nunits = "us"\n[before]\ndrive_tire = "245/70R19.5"\n'
        '[after]\ndrive_tire = "265/70R19.5"\nfrom = 2027-06-01\n'
    )
    for day, larger in (("2027-05-10", 1.0), ("2027-06-20", MILE_LARGER)):
        for hour, true_mph in ((9, 45), (10, 55), (11, 62)):
            lasts = round(2 * 3600 / true_mph)
            end = "{:02d}:{:02d}".format(*divmod(lasts + 7, 60))
            shown = round((MILE_GAIN * true_mph * 1.609344 / larger + MILE_OFFSET) / 1.609344)
            text += (
                f"[[measured]]\nfrom = {day}T{hour:02d}:00:07\nto = {day}T{hour:02d}:{end}\n"
                f'distance = "2 mi"\n'
                f'[[dash]]\nat = {day}T{hour:02d}:00:40\nspeed = "{shown} mph"\n'
            )
    study.write_text(text, encoding="utf-8")
    return study


def bus_without_gps(folder: Path) -> Path:
    """A road driven on both sets of tires, whole: the sample's drive out to Pellan."""
    study = stripped_sample(folder, BUS, BOTH)
    without(study, "[[dash]]", "fillups", *QUICK)
    text = study.read_text(encoding="utf-8")
    for log in ("before/2026-02-10_ollerby_out.csv", "after/2026-03-17_ollerby_out.csv"):
        rows = (study.parent / log).read_text(encoding="utf-8").splitlines()[1:]
        start, end = (row.partition(",")[0] for row in (rows[0], rows[-1]))
        text += f'\n[[measured]]\nfrom = {start}\nto = {end}\nroad = "the road to Pellan"\n'
    study.write_text(text, encoding="utf-8")
    return study


def one_period(folder: Path) -> Path:
    study = stripped_sample(folder, GPS | BUS, ("before",))
    without(study, "[after]", "fillups", *QUICK)
    return study


def one_notebook(folder: Path) -> Path:
    study, _ = notebook(folder, Plan(tanks=(12, 12), first_day=60))
    without(study, "[after]")
    return study


CELLS: dict[str, Callable[[Path], Path]] = {
    "phone GPS, needle, fill-ups": phone,
    "phone GPS and needle": phone_and_needle,
    "phone GPS and fill-ups": phone_and_fills,
    "fill-ups alone, 6 tanks a side": six_tanks,
    "fill-ups alone, 5 years": five_years,
    "fill-ups and a measured stretch": measured_mile,
    "needle and a measured stretch": needle_and_mile,
    "bus without GPS, one road driven on both": bus_without_gps,
    "one set of tires, bus and GPS": one_period,
    "one set of tires, fill-ups alone": one_notebook,
}


def answers(results: dict[str, Any]) -> tuple[str, ...]:
    """What a study answered: speed, fuel, gearing, mountain."""
    speed, fuel, final = results["speed"], results["fuel"], results["final_drive"]
    factors = [speed["odometer_factor"][side]["value"] for side in BOTH]
    if any(factors):
        first = "odometer factor"
    elif speed["speedometer_correction"]["told"]:
        first = "by the needle"
    elif any(road["holds"] for road in speed["measured"]["roads"]):
        first = "change, by the road"
    else:
        first = "change, as declared" if speed["relative"]["factor"]["value"] else "nothing"
    known = {key: one["value"] is not None for key, one in fuel["change_percent"].items()}
    second = {"adjusted": "day by day", "fillups": "tank by tank", "matched": "same roads"}.get(
        fuel["verdict_basis"] or "", "nothing"
    )
    if second != "nothing" and not known[fuel["verdict_basis"]]:
        second = "by the dash alone" if known["indicated"] else "consumption alone"
    change = final["change_percent"]["value"] is not None
    third = ("as declared" if final["told"] else "measured") if change else "nothing"
    if third == "nothing" and final["effective"]["before"]["value"] is not None:
        third = "axle ratio"
    routes = [route["verdict"] for route in results["routes"]]
    return first, second, third, "yes" if set(routes) - {"cannot tell yet"} else "no"


@pytest.fixture(scope="module")
def cells(shared_folder: Path) -> dict[str, dict[str, Any]]:
    """Every kind of evidence, run once a session; `exit` is the command's exit status."""
    place = once(shared_folder, "kinds", _run_all)
    found = {}
    for number, name in enumerate(CELLS):
        out = place / str(number) / "out"
        results = json.loads((out / "results.json").read_text(encoding="utf-8"))
        page = (out / "report.html").read_text(encoding="utf-8")
        found[name] = results | {"exit": 0 if results["answered"] else 1, "page": page}
    return found


def _run_all(place: Path) -> None:
    for number, make in enumerate(CELLS.values()):
        folder = place / str(number)
        folder.mkdir()
        study = make(folder / "study")
        run_study(study, Options(out=folder / "out", jobs=1, keep=False), Progress())


def documented() -> dict[str, tuple[str, ...]]:
    """The rows of the guide's table."""
    text = GUIDE.read_text(encoding="utf-8")
    table = text.split("| what there is |", 1)[1].split("\n\n", 1)[0]
    rows = [row.strip("|").split("|") for row in table.splitlines()[2:]]
    return {row[0].strip(): tuple(cell.strip() for cell in row[1:]) for row in rows}


@pytest.mark.parametrize("name", CELLS)
def test_the_table_says_what_each_kind_answers(cells: dict[str, dict[str, Any]], name: str) -> None:
    assert documented()[name] == answers(cells[name])
    assert cells[name]["exit"] == 0


def test_the_table_says_what_the_sample_answers(sample_run: tuple[Path, str]) -> None:
    results = json.loads((sample_run[0] / "results.json").read_text(encoding="utf-8"))
    assert documented()["bus and GPS"] == answers(results)
    assert documented().keys() == {"bus and GPS", *CELLS}


@pytest.mark.parametrize("name", CELLS)
def test_no_section_of_the_page_is_empty(cells: dict[str, dict[str, Any]], name: str) -> None:
    """Each says something: words, a table, or what to add."""
    sections = re.findall(r"<section.*?</section>", cells[name]["page"], flags=re.DOTALL)
    assert len(sections) >= 3
    for section in sections:
        told = re.sub(r"<script.*?</script>|<style.*?</style>|<[^>]+>", " ", section)
        assert len(told.split()) > 8, section[:300]


def test_the_page_shows_needle_and_tanks(cells: dict[str, dict[str, Any]]) -> None:
    page = cells["phone GPS, needle, fill-ups"]["page"]
    assert "The needle against true speed" in page
    assert "From tank to tank" in page
    assert "The needle against true speed" not in cells["fill-ups alone, 5 years"]["page"]


def test_the_needles_correction_holds_the_sample_truth(
    cells: dict[str, dict[str, Any]],
) -> None:
    """True speed at every speed shown, before and after: the needle shows 1.012 times what the
    computer counts, and that stands to true speed as the odometer factor does."""
    over = TRUTH["vehicle"]["needle_over_computer"]
    rows = cells["phone GPS and needle"]["speed"]["speedometer_correction"]["table"]
    assert len(rows) >= 5
    for row in rows:
        for side in BOTH:
            found = row["true_kmh"][side]
            true = row["shown_kmh"] / over * TRUTH["odometer_factor"][side]
            assert found["low"] <= true <= found["high"], (row, side, true)
            assert found["high"] - found["low"] < 2.0


def test_the_relative_correction_holds_the_sample_truth(
    cells: dict[str, dict[str, Any]],
) -> None:
    before, after = (TRUTH["odometer_factor"][side] for side in BOTH)
    found = cells["phone GPS and needle"]["speed"]["relative"]
    assert found["factor"]["low"] <= after / before <= found["factor"]["high"]
    # and what a computer is to be set to, relative to what it holds
    assert found["setting"]["low"] <= before / after <= found["setting"]["high"]


@pytest.mark.parametrize("name", ["phone GPS, needle, fill-ups", "phone GPS and fill-ups"])
def test_tanks_hold_the_sample_truth_and_do_not_decide(
    cells: dict[str, dict[str, Any]], name: str
) -> None:
    fuel = cells[name]["fuel"]
    found = fuel["change_percent"]["fillups"]
    assert found["low"] <= TRUTH["fuel_change_percent"]["adjusted"] <= found["high"]
    assert fuel["verdict"] == "cannot tell yet"
    assert fuel["tanks"]["next"]


def test_tracks_tell_how_fast_the_periods_were_driven(
    cells: dict[str, dict[str, Any]],
) -> None:
    """The sample's driver follows a dash that reads low: by truth.json that costs 2.7 % on the
    drives logged, which are four tenths of the tanks' distance. The tracks are asked alone here:
    what they show is taken for the logged part, a driver between two minds for the rest."""
    of_speed = TRUTH["fuel_change_percent"]["of_driving_faster"]
    found = cells["phone GPS, needle, fill-ups"]["fuel"]["tanks"]["driving_percent"]
    assert 0.3 * of_speed < found < of_speed


def test_a_measured_stretch_tells_the_odometer(cells: dict[str, dict[str, Any]]) -> None:
    """100 miles shown as 100.0 and 96.6: tenths of a mile hide a tenth of a percent."""
    factor = cells["fill-ups and a measured stretch"]["speed"]["odometer_factor"]
    for side, true in (("before", 1.0), ("after", 100 / 96.6)):
        assert factor[side]["value"] == pytest.approx(true, abs=1e-4)
        assert 0.001 < factor[side]["high"] - factor[side]["low"] < 0.006


def test_a_measured_stretch_tells_the_needle(cells: dict[str, dict[str, Any]]) -> None:
    found = cells["needle and a measured stretch"]
    assert found["warnings"] == []
    for row in found["speed"]["speedometer_correction"]["table"]:
        for side, larger in (("before", 1.0), ("after", MILE_LARGER)):
            true = (row["shown_kmh"] - MILE_OFFSET) / MILE_GAIN * larger
            told = row["true_kmh"][side]
            assert told["low"] < true < told["high"]


def test_years_of_tanks_tell_a_saving(cells: dict[str, dict[str, Any]]) -> None:
    found = cells["fill-ups alone, 5 years"]["fuel"]["change_percent"]["fillups"]
    assert found["low"] < 100 * (2.718281828**-0.08 - 1) < found["high"]
    assert found["n"] > 250


def test_one_set_of_tires_has_its_consumption(cells: dict[str, dict[str, Any]]) -> None:
    tanks = cells["one set of tires, fill-ups alone"]["fuel"]["tanks"]
    assert 20 < tanks["liters_per_100km"]["before"] < 50
    assert tanks["count"]["after"] == 0
