"""Notebooks as owners type and spreadsheets save them: headings, units, dates and signs.

The figures are the writer's own, set down before they are read: each row's odometer, volume and
day come back as they were meant, or the file asks. Nothing of it is of a real notebook.
"""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from gearing.logs.beside import kept_beside, logs_in
from gearing.logs.companions import Written
from gearing.logs.dash_rows import read_dash_rows
from gearing.logs.fillups import read_fillups

MILE_M, GALLON_L = 1609.344, 3.785411784
# what is meant in every spelling: day of 2026 (month, day), odometer, volume
KM = [((2, 7), 66_300, 90.5), ((2, 21), 66_780, 146.65), ((3, 2), 67_260, 141.85),
      ((3, 9), 67_740, 139.2), ((3, 18), 68_220, 150.01), ((4, 1), 68_700, 144.4)]  # fmt: skip


def _comma(value: float, places: int = 2) -> str:
    return f"{value:.{places}f}".replace(".", ",")


def _write(folder: Path, name: str, head: str, rows: list[str], encoding: str = "utf-8") -> Path:
    path = folder / name
    path.write_bytes(("\r\n".join([head, *rows]) + "\r\n").encode(encoding))
    return path


def german(folder: Path) -> Path:
    """Two-digit years, thousands by a point, decimal comma, a currency, not UTF-8."""
    rows = [
        f"{d:02d}.{m:02d}.26;{km // 1000}.{km % 1000:03d};{_comma(v)};{_comma(1.7 * v)} €;ja"
        for (m, d), km, v in KM
    ]
    head = "Datum;km-Stand;Liter;Preis;voll getankt"
    return _write(folder, "Tankbuch.csv", head, rows, "cp1252")


def german_long(folder: Path) -> Path:
    rows = [f"{d}.{m}.2026;{km},0;{_comma(v)};" for (m, d), km, v in KM]
    return _write(
        folder, "Wohnmobil.csv", "Tankdatum;Kilometerstand;getankte Menge (l);Bemerkung", rows
    )


def spanish(folder: Path) -> Path:
    rows = [
        f"{d}/{m}/2026;{km // 1000}.{km % 1000:03d};{_comma(v)};{_comma(1.5 * v)};sí"
        for (m, d), km, v in KM
    ]
    return _write(folder, "repostajes.csv", "Fecha;Kilometraje;Litros;Importe;Lleno", rows)


def american(folder: Path) -> Path:
    """Thousands by a comma in quotes, a currency before the figure, no unit at the odometer."""
    rows = [f'{m}/{d}/26,"{km / 1.609344:,.0f}",{v / GALLON_L:.3f},$3.80,' for (m, d), km, v in KM]
    return _write(folder, "gas.csv", "Date,Odometer,Gallons,Price/gal,Notes", rows)


def units_alone(folder: Path) -> Path:
    rows = [
        f"{i},2026-{m:02d}-{d:02d},{km / 1.609344:.0f},{v / GALLON_L:.3f},yes,9.1"
        for i, ((m, d), km, v) in enumerate(KM)
    ]
    return _write(folder, "log book.csv", "No,Day,Miles,Gal,Filled up?,MPG", rows)


@pytest.mark.parametrize("make", [german, german_long, spanish, american, units_alone])
def test_notebooks_are_read_as_they_are_meant(make: object, tmp_path: Path) -> None:
    path = make(tmp_path)  # type: ignore[operator]
    assert kept_beside(path) == "fill-ups"  # by its headings: no name says so
    assert logs_in(tmp_path) == []
    read = read_fillups(path, "UTC")
    assert read.questions == ()
    days = [(t.month, t.day) for t in read.frame["time"]]
    assert days == [day for day, _, _ in KM]
    # a fill noted by its day has no time of day: noon stands for none
    assert {t.hour for t in read.frame["time"]} == {12}
    assert read.frame["indicated_distance_m"].to_list() == pytest.approx(
        [1000.0 * km for _, km, _ in KM], abs=900.0
    )
    assert read.frame["volume_l"].to_list() == pytest.approx([v for _, _, v in KM], abs=0.01)
    assert read.frame["full"].all()


def test_mileage_beside_litres_is_asked(tmp_path: Path) -> None:
    """Miles in one country, kilometers in another."""
    rows = [f"2026-{m:02d}-{d:02d},{km},{v}" for (m, d), km, v in KM]
    asked = read_fillups(_write(tmp_path, "a.csv", "Date,Mileage,Litres", rows), "UTC")
    (question,) = asked.questions
    assert question.column == "Mileage"
    assert asked.frame["indicated_distance_m"].count() == 0
    assert asked.frame["volume_l"].to_list() == pytest.approx([v for _, _, v in KM])


@pytest.mark.parametrize("head", ["Date,Odometer km,Miles,Gal", "Date,Miles,km,Gal"])
def test_two_distances_are_not_chosen_between(head: str, tmp_path: Path) -> None:
    rows = [f"2026-{m:02d}-{d:02d},{km},{km},{v}" for (m, d), km, v in KM]
    read = read_fillups(_write(tmp_path, "a.csv", head, rows), "UTC")
    known = read.frame["indicated_distance_m"].count() if read.frame.height else 0
    if "Odometer" in head:  # the word is surer than a unit alone
        assert read.frame["indicated_distance_m"][0] == 66_300_000
    else:
        assert known == 0
        assert any("odometer" in p.message for p in read.questions)


def test_a_price_by_the_gallon_is_no_volume(tmp_path: Path) -> None:
    rows = [f"2026-{m:02d}-{d:02d},{km},3.8" for (m, d), km, _ in KM]
    read = read_fillups(_write(tmp_path, "a.csv", "Date,Odometer km,Dollars per gal", rows), "UTC")
    assert any("volume" in p.message for p in read.questions)


def test_a_log_with_fuel_and_odometer_is_no_notebook(tmp_path: Path) -> None:
    rows = [f"2026-05-04 08:00:{s:02d},{66_300 + s / 100:.2f},{90 - s / 60:.2f}" for s in range(60)]
    assert kept_beside(_write(tmp_path, "drive.csv", "Time,Odometer km,Fuel (L)", rows)) == ""


def test_the_dash_is_written_as_the_notebook_is(tmp_path: Path) -> None:
    """Unit and order of day and month are left open by six readings, and told by the fill-ups of
    the same dash."""
    rows = ["3/4/26 9:12 AM,60", "4/5/26 9:40 AM,55"]
    path = _write(tmp_path, "dash.csv", "When,Speedo", rows)
    alone = read_dash_rows(path, "UTC")
    assert {p.code for p in alone.questions} >= {"which-date-order"}
    like = read_fillups(american(tmp_path), "UTC").written
    read = read_dash_rows(path, "UTC", (), like)
    assert read.questions == ()
    assert [(t.month, t.day, t.hour) for t in read.frame["time"]] == [(3, 4, 9), (4, 5, 9)]
    assert read.frame["indicated_speed_mps"][0] == pytest.approx(60 * MILE_M / 3600)
    metric = read_dash_rows(path, "UTC", (), Written("x", {"indicated_distance_m": "km"}))
    assert [p.code for p in metric.questions] == ["which-date-order"]


@pytest.mark.parametrize(
    ("cells", "hour"),
    [
        (["07.02.26", "21.02.26", "02.03.26", "18.03.26"], 12),  # days, of one year
        (["07.11.24", "21.12.24", "02.03.25", "18.03.26"], 12),  # and of three that follow
    ],
)
def test_a_day_with_points_has_no_time_of_day(cells: list[str], hour: int, tmp_path: Path) -> None:
    rows = [f"{cell};{66_300 + 480 * i};140,5" for i, cell in enumerate(cells)]
    read = read_fillups(_write(tmp_path, "a.csv", "Datum;km;Liter", rows), "UTC")
    assert {t.hour for t in read.frame["time"]} == {hour}


def test_points_that_group_are_told_from_decimal_ones() -> None:
    from gearing.logs.decimal import decimal_sign

    grouped = pl.DataFrame({"a": ["66.300", "66.780"], "b": ["90,00", "146,65"]})
    assert decimal_sign(grouped, ";") == ","
    english = pl.DataFrame({"a": ["66,300", "66,780", "67,100"], "b": ["90.00", "14.65", ""]})
    assert decimal_sign(english, ";") == "."
    assert decimal_sign(pl.DataFrame({"a": ["1.250", "2.500"], "b": ["x", "y"]}), ";") == "."


PHOTOS = [
    "6/20/2026,1:13 PM,,,43768.5",
    "6/20/2026,2:07 PM,49,48,",
    "6/21/2026,9:35 AM,55,54,",
]


def test_photos_of_the_dash_are_known_by_their_headings(tmp_path: Path) -> None:
    heading = "Date,Time,Needle mph,Phone mph,Odometer"
    path = _write(tmp_path, "photos.csv", heading, PHOTOS)
    assert kept_beside(path) == "dash readings"
    assert read_dash_rows(path, "UTC").frame["indicated_speed_mps"].count() == 2
    # a log of the same columns has many rows a minute, or other channels
    often = ["6/20/2026,1:13:01 PM,1,1,", "6/20/2026,1:13:02 PM,2,2,"]
    assert kept_beside(_write(tmp_path, "log.csv", heading, often)) == ""
    engine = [f"{row},900" for row in PHOTOS]
    assert kept_beside(_write(tmp_path, "bus.csv", f"{heading},Engine rpm", engine)) == ""
