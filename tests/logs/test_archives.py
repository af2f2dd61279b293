"""An archive of many logs is read like the folder it was made of."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner
from damaged_logs import table, text

from gearing.cli import main
from gearing.logs.archives import sources
from gearing.logs.read import read_log
from gearing.run.ingest import read_tasks
from gearing.run.store import Store
from gearing.run.study_logs import study_logs
from gearing.run.tasks import read_task
from gearing.study import load_study

GOOD = text(table())
DAYS = ("2026-03-17", "2026-03-19", "2026-03-21")


def _zip(path: Path, extra: dict[str, str] | None = None) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for day in DAYS:
            archive.writestr(f"trips/{day}.csv", GOOD.replace("2026-03-17", day))
        archive.writestr("trips/readme.pdf", "no log")
        archive.writestr("__MACOSX/trips/._2026-03-17.csv", "x")
        for name, content in (extra or {}).items():
            archive.writestr(name, content)
    return path


def test_each_log_in_it_is_a_log(tmp_path: Path) -> None:
    found = sources(_zip(tmp_path / "all.zip"))
    assert [one.inner for one in found] == [f"trips/{day}.csv" for day in DAYS]
    for one, day in zip(found, DAYS, strict=True):
        reading = read_log(one)
        assert (reading.file, reading.rows_used) == (f"all.zip/trips/{day}.csv", 1800)
        assert str(reading.samples["time"][0].date()) == day


def test_one_log_beside_other_files_needs_no_name(tmp_path: Path) -> None:
    path = tmp_path / "one.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("log.csv", GOOD)
        archive.writestr("readme.pdf", "no log")
    assert read_log(path).rows_used == 1800


def test_in_a_study_with_rules_for_one_of_them(tmp_path: Path) -> None:
    _zip(tmp_path / "before.zip", {"trips/odd.csv": GOOD.replace("Vehicle speed [km/h]", "V2")})
    _zip(tmp_path / "after.zip")
    study = tmp_path / "study.toml"
    study.write_text(
        'name = "x"\n[before]\ndrive_tire = "245/70R19.5"\nlogs = ["before*.zip"]\n'
        '[after]\ndrive_tire = "265/70R19.5"\nlogs = ["after.zip"]\n[columns]\n'
        '"V2" = { channel = "indicated_speed", unit = "mph", files = "odd.csv" }\n'
    )
    loaded = load_study(study)
    tasks = read_tasks(loaded, study_logs(loaded), Store(tmp_path / "store"))
    assert [(t.file, t.counts.side if t.counts else None) for t in tasks] == [
        *((f"after.zip/trips/{day}.csv", "after") for day in DAYS),
        *((f"before.zip/trips/{day}.csv", "before") for day in DAYS),
        ("before.zip/trips/odd.csv", "before"),
    ]
    speeds = {t.file: read_task(t).samples["indicated_speed_mps"].max() for t in tasks}
    odd = speeds.pop("before.zip/trips/odd.csv")
    assert odd == pytest.approx(max(speeds.values()) * 1.609344)


def test_inspected(tmp_path: Path) -> None:
    path = _zip(tmp_path / "all.zip")
    printed = CliRunner().invoke(main, ["inspect", "--format", "json", str(path)])
    assert printed.exit_code == 0
    described = json.loads(printed.output)
    assert [one["file"] for one in described] == [f"all.zip/trips/{day}.csv" for day in DAYS]
    assert all(one["rows_used"] == 1800 for one in described)
