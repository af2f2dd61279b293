"""Candidates and the way down in a browser: on a phone and on a wide screen, light and dark."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
import pytest
from candidate_studies import PER_KM, bus, compare
from mountain_studies import pass_profile, study, truck, turns
from test_page_in_browser import CHROMIUM, Visit, _cut_texts, browser  # noqa: F401

from gearing.analysis.mountain import find_mountain
from gearing.study.model import Candidate

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The full page with four candidates and a tractor-trailer's descents."""
    import fixture_results
    from typed_results import typed

    from gearing.report.page import render

    choices = (
        Candidate(name="as fitted", drive_tire="265/70R19.5"),
        Candidate(name="Donaudampfschifffahrtsgesellschaft " * 3, axle_ratio=4.56),
        Candidate(name="275", drive_tire="275/70R19.5", revolutions_per_km=598 * PER_KM),
        Candidate(name="<b>bold</b>", axle_ratio=5.29),
    )
    vehicle = truck() | {"combination": True, "axles": 5, "brakes": "drum"}
    finding = find_mountain(
        study(**vehicle),
        profiles={"pass": pass_profile(down=0.07)},
        revolutions_per_km=turns(310.0, 300.0),
        draws=4,
    )
    found = compare(bus(*choices), draws=8)
    whole = fixture_results.full()
    frames = fixture_results.frames(whole) | {"routes": finding.frame}
    results = replace(
        typed(whole),
        routes=finding.routes,
        candidates=found.candidates,
        candidates_basis=found.basis,
    )
    path = tmp_path_factory.mktemp("page") / "page.html"
    assert isinstance(finding.frame, pl.DataFrame)
    path.write_text(render(results, frames), encoding="utf-8")
    return path


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1440])
def test_candidates_and_descents_are_whole(
    browser: Browser,  # noqa: F811
    page: Path,
    width: int,
    scheme: str,
) -> None:
    options = {"viewport": {"width": width, "height": 900}, "color_scheme": scheme}
    with Visit(browser, page, **options) as visit:
        visit.unfold()
        assert visit.said == []
        assert visit.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert _cut_texts(visit.page) == []
        for chart, panels in (("candidates", 4), ("route-0", 1)):
            figure = visit.page.locator(f"#chart-{chart}")
            assert figure.locator(".panel.drawn").count() == panels
            assert figure.locator(".live svg path").count() > 10
        section = visit.page.locator("#candidates")
        assert "<b>bold</b>" in section.inner_text()
