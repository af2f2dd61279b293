"""What a worker's results rest on: the sources' digest, and the order sums are made in."""

from __future__ import annotations

import shutil
from pathlib import Path

import polars as pl
import pytest

import gearing
from gearing.run import code_version, workers

PACKAGE = Path(gearing.__file__).parent


@pytest.mark.parametrize(
    "part", ["cli.py", "logs/read.py", "analysis/speed/answer.py", "analysis/fuel/find.py"]
)
def test_a_change_anywhere_changes_the_digest(
    part: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = tmp_path / "gearing"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr("gearing.run.code_version.resources.files", lambda _: copy)
    digest = code_version.code_digest.__wrapped__
    before = digest("")
    assert digest("") == before
    with (copy / part).open("a", encoding="utf-8") as source:
        source.write("# changed\n")
    assert digest("") != before


def test_other_libraries_or_time_zones_change_the_digest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    digest = code_version.code_digest.__wrapped__
    monkeypatch.setattr("gearing.run.code_version.zoneinfo.TZPATH", (str(tmp_path),))
    zones = tmp_path / "tzdata.zi"
    zones.write_text("# version 2025a\n# more\n")
    before = digest("units.py")
    assert digest("units.py") == before
    zones.write_text("# version 2025b\n# more\n")
    assert digest("units.py") != before
    zones.write_text("# version 2025a\n# other\n")
    assert digest("units.py") == before
    monkeypatch.setattr("gearing.run.code_version.version", lambda _: "0")
    assert digest("units.py") != before


def test_sums_go_in_one_order_in_every_call_and_inside_another() -> None:
    @workers.in_one_order
    def engine() -> str | None:
        return pl.Config.state()["POLARS_ENGINE_AFFINITY"]

    @workers.in_one_order
    def outer() -> list[str | None]:
        return [engine(), pl.Config.state()["POLARS_ENGINE_AFFINITY"], engine()]

    before = pl.Config.state()["POLARS_ENGINE_AFFINITY"]
    assert engine() == engine() == "in-memory"
    assert outer() == ["in-memory"] * 3
    assert pl.Config.state()["POLARS_ENGINE_AFFINITY"] == before
