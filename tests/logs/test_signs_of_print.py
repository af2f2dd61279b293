"""Signs that spreadsheets and faulty exports put in the place of plain ones."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearing.logs.read import read_log

ROWS = [f"2026-01-05T08:00:{s:02d}Z,{{}}12.{s % 10},50,{{}}3" for s in range(50)]
HEAD = "Time,Longitude [{0}],GPS speed [km/h],Ambient temperature [{0}C]"


def _written(minus: str, degree: str, encoding: str = "utf-8") -> bytes:
    rows = [row.format(minus, minus) for row in ROWS]
    return ("\n".join([HEAD.format(degree), *rows]) + "\n").encode(encoding)


ONCE = "°".encode().decode("cp1252")
WRITTEN = {
    "plain": _written("-", "°"),
    "a minus as print sets it": _written("\u2212", "°"),
    "encoded twice": _written("-", ONCE),
    "encoded twice, cp1252": _written("-", "°", "cp1252"),
    "both, in UTF-16": _written("\u2212", ONCE, "utf-16"),
}


@pytest.mark.parametrize("name", WRITTEN)
def test_read_alike(name: str, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(WRITTEN[name])
    reading = read_log(path)
    assert reading.rows_used == 50
    assert not reading.set_aside_values or {p.code for p in reading.set_aside_values} == {
        "half-position"
    }
    temperature = next(c for c in reading.columns if "temperature" in c.heading)
    assert temperature.unit == "degC"
    assert reading.samples["ambient_temperature_c"].to_list() == [-3.0] * 50


def test_they_are_counted(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(WRITTEN["both, in UTF-16"])
    told = {p.code: p.count for p in read_log(path).repairs}
    assert told == {"minus-sign": 100, "encoded-twice": 2}
