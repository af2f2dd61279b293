"""The page is the same wherever it is drawn, and is drawn even if its process is lost."""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path

import polars as pl
import pytest

from gearing.results.record import read_results
from gearing.run import batch, outputs
from gearing.run.batch import Options, run_study
from gearing.run.progress import Progress
from gearing.run.render import draw
from gearing.run.workers import processes


@pytest.fixture(scope="module")
def study(sample_run: tuple[Path, str], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample study with its logs read."""
    copy = tmp_path_factory.mktemp("drawing") / "study"
    shutil.copytree(sample_run[0].parent / "study", copy)
    return copy / "study.toml"


@pytest.fixture(scope="module")
def drawn_here(sample_run: tuple[Path, str]) -> Path:
    return sample_run[0]


@pytest.mark.drill
def test_a_process_of_its_own_draws_the_same_page(
    study: Path, drawn_here: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "SMALL_BYTES", 0)
    run_study(study, Options(out=tmp_path / "out"), Progress(quiet=True))
    for name in outputs.FILES:
        assert (tmp_path / "out" / name).read_bytes() == (drawn_here / name).read_bytes(), name


def test_a_page_whose_process_is_lost_is_drawn_here(drawn_here: Path) -> None:
    results = read_results(drawn_here)
    frames = {
        name.removesuffix(".parquet"): pl.read_parquet(drawn_here / name) for name in outputs.TABLES
    }
    with processes(1) as lost:
        with contextlib.suppress(Exception):
            lost.submit(os._exit, 9).result()
        page = draw(lost, results, frames, share=False)
    assert results.run_id in page
    assert page.rstrip().endswith("</html>")
