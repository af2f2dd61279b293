"""The same trips in every dialect that carries the same values give the same results.json.

The trips are some of the sample study's; each dialect writes them, and the whole batch is run.
Dialects that lose something (other units, whole mph, polled rows) must agree within the
intervals.
"""

from __future__ import annotations

import gzip
import json
import math
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from sample_study import SAMPLE

from gearing.logs.read import read_log
from gearing.run.batch import Options, run_study
from gearing.run.progress import Progress

SIDES = ("before", "after")
FILES_A_SIDE = 4
ROWS = 1300  # of each trip: enough for every answer, few enough for many runs
HEADINGS = [
    "Time (UTC)",
    "Latitude (deg)",
    "Longitude (deg)",
    "Altitude (m)",
    "GPS speed (km/h)",
    "GPS course (deg)",
    "HDOP",
    "Vehicle speed (km/h)",
    "Engine RPM (rpm)",
    "Engine fuel rate (L/h)",
    "Calculated engine load (%)",
    "Accelerator pedal position (%)",
    "Engine coolant temperature (degC)",
    "Ambient air temperature (degC)",
    "Barometric pressure (kPa)",
]
GERMAN = [
    "Zeitstempel",
    "Breite [°]",
    "Länge [°]",
    "Höhe [m]",
    "GPS-Geschwindigkeit [km/h]",
    "Kurs [°]",
    "HDOP",
    "Fahrzeuggeschwindigkeit [km/h]",
    "Motordrehzahl [1/min]",
    "Kraftstoffverbrauch [l/h]",
    "Motorlast [%]",
    "Gaspedalstellung [%]",
    "Kühlmitteltemperatur [°C]",
    "Außentemperatur [°C]",
    "Luftdruck [kPa]",
]
_STUDY = """
name = "dialects"
time_zone = "America/Denver"
[vehicle]
mass = "26500 lb"
fuel = "diesel"
axle_ratio = 4.88
gear_ratios = [3.51, 1.91, 1.43, 1.00, 0.74, 0.64]
speed_source = "output shaft"
drag_area = "6.0 m^2"
[before]
drive_tire = "245/70R19.5"
revolutions_per_mile = 628
logs = ["before/*"]
[after]
drive_tire = "265/70R19.5"
revolutions_per_mile = 608
logs = ["after/*"]
"""
Rows = list[list[str]]
Writer = Callable[[Rows], bytes]


CHANNELS = {
    "latitude_deg": 6,
    "longitude_deg": 6,
    "altitude_m": 1,
    "gps_speed_mps": 2,
    "gps_course_deg": 1,
    "hdop": 1,
    "indicated_speed_mps": 2,
    "engine_speed_rpm": 2,
    "fuel_rate_lph": 2,
    "engine_load_percent": 1,
    "accelerator_percent": 1,
    "coolant_temperature_c": 0,
    "ambient_temperature_c": 1,
    "barometric_pressure_kpa": 1,
}


@cache
def _trips(side: str) -> tuple[tuple[str, Rows], ...]:
    """Trips of one side, one a day, as fields written with so many decimals."""
    found: dict[str, tuple[str, Rows]] = {}
    for path in sorted((SAMPLE / side).glob("*_out.csv")):
        samples = read_log(path, time_zone="America/Denver").samples.head(ROWS)
        if path.name[:10] not in found and samples.height == ROWS:
            found[path.name[:10]] = (path.stem, _written(samples))
    return tuple(found.values())[:FILES_A_SIDE]


def _written(samples: pl.DataFrame) -> Rows:
    columns = [[m.isoformat(timespec="milliseconds") for m in samples["time"].to_list()]]
    for name, decimals in CHANNELS.items():
        given = samples[name].to_list() if name in samples.columns else [None] * samples.height
        scale = 3.6 if name.endswith("_mps") else 1.0
        columns.append(["" if v is None else f"{v * scale:.{decimals}f}" for v in given])
    return [list(row) for row in zip(*columns, strict=True)]


def _table(
    rows: Rows,
    headings: list[str] | None = None,
    delimiter: str = ",",
    stamp: Callable[[datetime], str] | None = None,
    decimal: str = ".",
    quote: bool = False,
) -> list[str]:
    lines = [delimiter.join(headings or HEADINGS)]
    for row in rows:
        time = row[0] if stamp is None else stamp(datetime.fromisoformat(row[0]))
        fields = [time, *(f.replace(".", decimal) for f in row[1:])]
        lines.append(delimiter.join(f'"{f}"' for f in fields) if quote else delimiter.join(fields))
    return lines


def _bytes(lines: list[str], end: str = "\n", encoding: str = "utf-8") -> bytes:
    return (end.join(lines) + end).encode(encoding)


def _units_row(rows: Rows) -> bytes:
    names = [h.split(" (")[0] for h in HEADINGS]
    units = [h.split(" (")[1].rstrip(")") if " (" in h else "" for h in HEADINGS]
    head, *body = _table(rows, names, ";", decimal=",")
    return _bytes([head, ";".join(units), *body], "\r\n", "utf-8-sig")


def _long(rows: Rows) -> bytes:
    lines = ["Time,Parameter,Value,Unit"]
    for row in rows:
        for heading, value in zip(HEADINGS[1:], row[1:], strict=True):
            if value:
                name, _, unit = heading.partition(" (")
                lines.append(f"{row[0]},{name},{value},{unit.rstrip(')')}")
    return _bytes(lines)


def _restarted(rows: Rows) -> bytes:
    lines = _table(rows)
    noise = [f"Setting {i},{i}" for i in range(40)]
    return _bytes([*noise, *lines[:500], "# paused", lines[0], *lines[500:]])


def _denver(form: str) -> Callable[[datetime], str]:
    return lambda moment: moment.astimezone(ZoneInfo("America/Denver")).strftime(form)


def _us_units(rows: Rows) -> bytes:
    head = [h.replace("km/h", "mph").replace("L/h", "gal/h") for h in HEADINGS]
    head = [h.replace("Altitude (m)", "Altitude (ft)").replace("degC", "degF") for h in head]

    def written(heading: str, text: str) -> str:
        if not text:
            return text
        value = float(text)
        if "(km/h)" in heading:
            return f"{value / 1.609344:.13f}"
        if "(L/h)" in heading:
            return f"{value / 3.785411784:.13f}"
        if heading == "Altitude (m)":
            return f"{value / 0.3048:.12f}"
        return f"{value * 1.8 + 32:.12f}" if "degC" in heading else text

    changed = [
        [row[0], *(written(h, f) for h, f in zip(HEADINGS[1:], row[1:], strict=True))]
        for row in rows
    ]
    return _bytes(_table(changed, head, "\t"))


SAME: dict[str, Writer] = {
    "units row, decimal comma, CRLF": _units_row,
    "tab, UTF-16": lambda rows: _bytes(_table(rows, delimiter="\t"), "\r\n", "utf-16"),
    "pipe, quoted": lambda rows: _bytes(_table(rows, delimiter="|", quote=True)),
    "epoch milliseconds, gzip": lambda rows: gzip.compress(
        _bytes(_table(rows, stamp=lambda m: str(round(m.timestamp() * 1000))))
    ),
    "local time, points in the date": lambda rows: _bytes(
        _table(rows, ["Time", *HEADINGS[1:]], ";", _denver("%d.%m.%Y %H:%M:%S.%f"))
    ),
    "German words": lambda rows: _bytes(_table(rows, GERMAN, ";", decimal=","), encoding="cp1252"),
    "long table": _long,
    "preamble and restart": _restarted,
}
ALWAYS = ("units row, decimal comma, CRLF", "long table")


def _whole_mph(rows: Rows) -> bytes:
    head = [h.replace("Vehicle speed (km/h)", "Vehicle speed (mph)") for h in HEADINGS]
    at = HEADINGS.index("Vehicle speed (km/h)")
    changed = [
        [*r[:at], str(math.floor(float(r[at]) / 1.609344 + 0.5)), *r[at + 1 :]] for r in rows
    ]
    return _bytes(_table(changed, head))


def _polled(rows: Rows) -> bytes:
    """The receiver each second, the bus's values in turn, one a row."""
    lines = [",".join(HEADINGS)]
    for i, row in enumerate(rows):
        bus = 7 + i % 4
        fields = [f if j < 7 or j == bus or j > 10 else "" for j, f in enumerate(row)]
        lines.append(",".join(fields))
    return _bytes(lines)


# Units written anew are off in the last digit, which moves a value over an edge here and there
LOSSY: dict[str, Writer] = {
    "US units": _us_units,
    "whole mph": _whole_mph,
    "polled rows": _polled,
}


def _run(folder: Path, writer: Writer, ending: str = ".csv") -> dict[str, Any]:
    for side in SIDES:
        (folder / side).mkdir(parents=True)
        for stem, rows in _trips(side):
            (folder / side / f"{stem}{ending}").write_bytes(writer(rows))
    study = folder / "study.toml"
    study.write_text(_STUDY)
    options = Options(out=folder / "out", jobs=1, keep=False)
    run_study(study, options, Progress(quiet=True))
    return json.loads((folder / "out" / "results.json").read_text())


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    if not (SAMPLE / "before").is_dir():
        pytest.skip("the sample study's logs are not here")
    results = _run(tmp_path_factory.mktemp("plain"), lambda rows: _bytes(_table(rows)))
    assert all(len(_trips(side)) == FILES_A_SIDE for side in SIDES)
    assert results["speed"]["odometer_factor"]["after"]["value"] > 1.02
    assert results["input"]["rows_used"] == 2 * FILES_A_SIDE * ROWS
    return results


# What may differ between dialects: what was read, and by which names
_APART = {"input", "run_id", "notes", "files"}


def _differences(one: Any, other: Any, at: str = "") -> list[str]:
    if isinstance(one, dict) and isinstance(other, dict):
        keys = {
            key
            for key in (set(one) | set(other)) - _APART
            if not key.startswith("/notes/")  # of `messages`: what the notes are made of
        }
        return [d for k in keys for d in _differences(one.get(k), other.get(k), f"{at}.{k}")]
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        pairs = enumerate(zip(one, other, strict=True))
        return [d for i, (a, b) in pairs for d in _differences(a, b, f"{at}[{i}]")]
    if isinstance(one, float) and isinstance(other, float):
        close = math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-12)
        return [] if close else [f"{at}: {one!r} and {other!r}"]
    return [] if one == other else [f"{at}: {one!r} and {other!r}"]


@pytest.mark.parametrize(
    "name",
    [pytest.param(n, marks=() if n in ALWAYS else (pytest.mark.drill,)) for n in SAME],
)
def test_the_same_values_give_the_same_results(
    name: str, plain: dict[str, Any], tmp_path: Path
) -> None:
    results = _run(tmp_path, SAME[name], ".csv.gz" if "gzip" in name else ".csv")
    assert results["input"]["rows_set_aside"] == 0
    assert _differences(plain, results) == []


@pytest.mark.drill
@pytest.mark.parametrize("name", sorted(LOSSY))
def test_dialects_that_lose_something_agree_within_the_intervals(
    name: str, plain: dict[str, Any], tmp_path: Path
) -> None:
    results = _run(tmp_path, LOSSY[name])
    for path in (
        ("speed", "odometer_factor", "before"),
        ("speed", "odometer_factor", "after"),
        ("final_drive", "change_percent"),
        ("fuel", "change_percent", "true_distance"),
    ):
        one, other = plain, results
        for key in path:
            one, other = one[key], other[key]
        assert other["value"] is not None, (path, other)
        assert one["low"] <= other["high"], path
        assert other["low"] <= one["high"], path


def test_the_writers_write_what_they_say() -> None:
    (stem, rows), *_ = _trips("before")
    text = pl.read_csv(
        _units_row(rows[:5]), separator=";", decimal_comma=True, skip_rows_after_header=1
    )
    assert stem
    assert text.height == 5


# Recorders that write on while nobody drives: the same drives, and rows that show none
def _standing(after: list[str], seconds: int, every: int, moved_deg: float = 0.0) -> Rows:
    """Rows behind `after` with the engine off and the wheels at rest; the place moves evenly north
    by so much, as on a ferry, the receiver's speed with it."""
    began, found = datetime.fromisoformat(after[0]), []
    at = {heading: HEADINGS.index(heading) for heading in HEADINGS}
    kmh = moved_deg * 111.2 / (seconds / 3600)
    for passed in range(every, seconds, every):
        row = list(after)
        row[0] = (began + timedelta(seconds=passed)).isoformat(timespec="milliseconds")
        for heading in ("Vehicle speed (km/h)", "Engine RPM (rpm)", "Engine fuel rate (L/h)"):
            row[at[heading]] = "0"
        row[at["GPS speed (km/h)"]] = f"{kmh:.2f}"
        latitude = float(after[at["Latitude (deg)"]]) + moved_deg * passed / seconds
        row[at["Latitude (deg)"]] = f"{latitude:.6f}"
        found.append(row)
    return found


def _placed(rows: Rows) -> Rows:
    """Rows up to the last with a place."""
    last = max(i for i, row in enumerate(rows) if row[1] and row[2])
    return rows[: last + 1]


def _later(rows: Rows, seconds: int, moved_deg: float = 0.0) -> Rows:
    out = []
    for row in rows:
        moment = datetime.fromisoformat(row[0]) + timedelta(seconds=seconds)
        latitude = f"{float(row[1]) + moved_deg:.6f}" if row[1] else ""
        out.append([moment.isoformat(timespec="milliseconds"), latitude, *row[2:]])
    return out


FERRY_S, FERRY_DEG, STILL_S = 3000, 0.1, 180  # 11 km in fifty minutes


def _parked(every: int, seconds: int) -> Writer:
    def written(rows: Rows) -> bytes:
        rows = _placed(rows)
        return _bytes(_table([*rows, *_standing(rows[-1], seconds, every)]))

    return written


def _halves(between: Callable[[list[str]], Rows]) -> Writer:
    def written(rows: Rows) -> bytes:
        half = _placed(rows[: ROWS // 2])
        rest = _later(rows[ROWS // 2 :], FERRY_S, FERRY_DEG)
        return _bytes(_table([*half, *between(half[-1]), *rest]))

    return written


def _aboard(last: list[str]) -> Rows:
    """Parked on the deck, carried, and parked still."""
    still = _standing(last, STILL_S, 1)
    carried = _standing(still[-1], FERRY_S - 2 * STILL_S, 1, FERRY_DEG)
    return [*still, *carried, *_standing(carried[-1], STILL_S, 1)]


_FERRY = _halves(_aboard)
_SILENT = _halves(lambda _: [])
PARKED: dict[str, tuple[Writer, Writer]] = {
    "a row each 10 s for 3 h": (_parked(10, 3 * 3600), lambda rows: _bytes(_table(_placed(rows)))),
    "a row each 10 min for 20 h": (
        _parked(600, 20 * 3600),
        lambda rows: _bytes(_table(_placed(rows))),
    ),
    "a ferry": (_FERRY, _SILENT),
}


# of the interval's width, and of the way: these drives are cut off at full speed
MAX_MOVED, MAX_LONGER = 0.005, 3e-3


@pytest.mark.drill
@pytest.mark.parametrize("name", sorted(PARKED))
def test_rows_without_driving_change_no_interval(name: str, tmp_path: Path) -> None:
    """Days, liters and intervals as from a recorder that stops with the engine."""
    writer, clean = PARKED[name]
    results = _run(tmp_path / "parked", writer)
    expected = _run(tmp_path / "clean", clean)
    for path in (
        ("speed", "odometer_factor", "before"),
        ("speed", "odometer_factor", "after"),
        ("final_drive", "change_percent"),
        ("fuel", "change_percent", "indicated"),
        ("fuel", "change_percent", "true_distance"),
    ):
        one, other = expected, results
        for key in path:
            one, other = one[key], other[key]
        assert one["value"] is not None, path
        assert one["n"] == other["n"], path
        close = MAX_MOVED * (one["high"] - one["low"])
        for end in ("value", "low", "high"):
            assert other[end] == pytest.approx(one[end], abs=close), (path, end)
    for one, other in zip(expected["trips"], results["trips"], strict=True):
        began = [datetime.fromisoformat(trip["start"]) for trip in (one, other)]
        assert abs((began[1] - began[0]).total_seconds()) <= 60
        assert other["true_km"] == pytest.approx(one["true_km"], rel=MAX_LONGER)
        assert other["odometer_factor"] == pytest.approx(one["odometer_factor"], rel=1e-4)
        assert other["liters"] == pytest.approx(one["liters"], rel=5e-3)
