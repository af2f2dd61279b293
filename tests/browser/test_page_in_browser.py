"""The page in a browser without network: every width, light and dark, on paper, for everyone."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("chrome")

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
]

WIDTHS = (390, 820, 1440)
DRAWN = "document.documentElement.dataset.charts === 'drawn' || !document.getElementById('specs')"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Every case rendered once."""
    import fixture_results

    from gearing.report.fleet_page import render_fleet
    from gearing.report.page import render

    folder = tmp_path_factory.mktemp("pages")
    paths = {}
    for name, make in fixture_results.CASES.items():
        results = make()
        paths[name] = folder / f"{name}.html"
        paths[name].write_text(render(results, fixture_results.frames(results)), encoding="utf-8")
    paths["fleet"] = folder / "fleet.html"
    paths["fleet"].write_text(render_fleet(fixture_results.fleet()), encoding="utf-8")
    return paths


class Visit:
    """A page opened from disk with the network off, and what it said and asked for."""

    def __init__(self, browser: Browser, path: Path, **options: Any) -> None:
        """Without script (`java_script_enabled=False`) the pictures stay still, and come fast."""
        self.context = browser.new_context(offline=True, **options)
        self.page: Page = self.context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(path.as_uri())
        if options.get("java_script_enabled", True):
            self.page.wait_for_function(DRAWN, timeout=60_000)

    def __enter__(self) -> Visit:
        return self

    def __exit__(self, *_: object) -> None:
        self.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", WIDTHS)
def test_the_page_is_whole_at_every_width(
    browser: Browser, pages: dict[str, Path], width: int, scheme: str
) -> None:
    options = {"viewport": {"width": width, "height": 900}, "color_scheme": scheme}
    with Visit(browser, pages["full"], **options) as visit:
        page = visit.page
        assert visit.said == []
        assert visit.asked == [pages["full"].as_uri()]
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        figures = page.evaluate(
            """[...document.querySelectorAll('.panel')].map(p => ({
                drawn: p.classList.contains('drawn'),
                marks: p.querySelectorAll('.live svg path, .live svg text').length,
                height: p.querySelector('.live svg')?.getBoundingClientRect().height ?? 0,
                still: p.querySelectorAll('.still svg path').length,
            }))"""
        )
        assert len(figures) >= 20
        for figure in figures:
            assert figure["drawn"], figures
            assert figure["marks"] > 5
            assert figure["height"] > 60
            assert figure["still"] > 2
        assert _cut_texts(page) == []


def _cut_texts(page: Page) -> list[str]:
    """Texts of charts that stick out of their picture."""
    found: list[str] = page.evaluate(
        """[...document.querySelectorAll('.live svg')].flatMap(svg => {
            const box = svg.getBoundingClientRect();
            return [...svg.querySelectorAll('text')].filter(t => {
                const b = t.getBoundingClientRect();
                return b.width > 0 && (b.left < box.left - 1 || b.right > box.right + 1
                    || b.top < box.top - 1 || b.bottom > box.bottom + 1);
            }).map(t => svg.closest('figure').id + ': ' + t.textContent);
        })"""
    )
    return found


@pytest.mark.parametrize("case", ["one_period", "no_fuel", "cannot_tell", "empty", "fleet"])
def test_a_page_with_gaps_is_whole_too(browser: Browser, pages: dict[str, Path], case: str) -> None:
    with Visit(browser, pages[case], viewport={"width": 390, "height": 844}) as visit:
        assert visit.said == []
        assert visit.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert visit.page.locator("#answers .answer").count() == (1 if case == "fleet" else 3)
        assert _cut_texts(visit.page) == []


def test_a_date_near_the_end_of_a_phones_axis_is_not_cut(browser: Browser, tmp_path: Path) -> None:
    """Two days after a tick its date once ended outside the picture."""
    import fixture_results
    import polars as pl

    from gearing.report.page import render

    results = fixture_results.full()
    frames = fixture_results.frames(results)
    span = pl.date_ranges(pl.date(2026, 2, 10), pl.date(2026, 4, 21), "1d").list
    nth = pl.int_range(pl.len()) * 70 // (pl.len() - 1)
    frames["trips"] = frames["trips"].with_columns(local_day=span.get(nth))
    path = tmp_path / "page.html"
    path.write_text(render(results, frames), encoding="utf-8")
    with Visit(browser, path, viewport={"width": 390, "height": 844}) as visit:
        assert "Apr 19, 2026" in str(visit.page.text_content("#chart-cover .live"))
        assert _cut_texts(visit.page) == []


@pytest.mark.parametrize("claim", [-12.0, 9.0])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_long_names_and_far_claims_stay_on_a_phone(
    browser: Browser, tmp_path: Path, units: Any, claim: float
) -> None:
    """A word of 86 letters once made the page twice as wide, a claim ended outside its chart."""
    import fixture_results

    from gearing.report.page import render

    results = fixture_results.full()
    results["study"] = "The mobile library bus number seventeen of the upper valley " * 3
    results["fuel"]["claim_percent"] = claim
    results["declared"]["claim"] = {"consumption_change_percent": claim}
    for route in results["routes"]:
        route["name"] = "Donaudampfschifffahrtsgesellschaft" * 3
    path = tmp_path / "page.html"
    page = render(results, fixture_results.frames(results), units=units)
    path.write_text(page, encoding="utf-8")
    with Visit(browser, path, viewport={"width": 375, "height": 812}) as visit:
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= 375
        assert _cut_texts(visit.page) == []


def test_only_tables_that_scroll_are_stops_for_the_keyboard(
    browser: Browser, pages: dict[str, Path]
) -> None:
    for width in (375, 1440):
        with Visit(browser, pages["full"], viewport={"width": width, "height": 900}) as visit:
            visit.page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
            visit.page.wait_for_timeout(200)
            stops = visit.page.evaluate(
                """[...document.querySelectorAll('.scroll')]
                    .map(s => [s.scrollWidth > s.clientWidth, s.tabIndex === 0])"""
            )
            assert all(scrolls == stop for scrolls, stop in stops)
            assert any(scrolls for scrolls, _ in stops) == (width == 375)


def test_the_answers_stand_on_a_phones_first_screen(
    browser: Browser, pages: dict[str, Path]
) -> None:
    phone = {"width": 390, "height": 844}
    for case in ("full", "cannot_tell", "no_fuel"):
        with Visit(browser, pages[case], viewport=phone, java_script_enabled=False) as visit:
            box = visit.page.locator(".glance").bounding_box()
            assert box is not None
            assert box["y"] + box["height"] <= 844, case


def test_every_link_has_its_target_and_every_id_is_one(
    browser: Browser, pages: dict[str, Path]
) -> None:
    for path in pages.values():
        with Visit(browser, path, java_script_enabled=False) as visit:
            lost = visit.page.evaluate(
                """[...document.querySelectorAll('a[href]')].map(a => a.getAttribute('href'))
                    .filter(h => !h.startsWith('#') || !document.getElementById(h.slice(1)))"""
            )
            # a fleet's page leads to the folders beside it
            assert [
                link for link in lost if not re.fullmatch(r"\./bus-\d+/report\.html", link)
            ] == []
            twice = visit.page.evaluate(
                """(() => { const ids = [...document.querySelectorAll('[id]')].map(e => e.id);
                    return ids.filter((id, i) => ids.indexOf(id) !== i); })()"""
            )
            assert twice == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_stands_in_anyones_way(
    browser: Browser, pages: dict[str, Path], scheme: str
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    for case in ("full", "fleet") if scheme == "light" else ("full",):
        with Visit(browser, pages[case], color_scheme=scheme) as visit:
            visit.page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
            found = Axe().run(visit.page).response["violations"]
            serious = [
                (one["id"], one["impact"], [node["html"][:120] for node in one["nodes"][:3]])
                for one in found
                if one["impact"] in ("moderate", "serious", "critical")
            ]
            assert serious == []


def test_the_keyboard_reaches_the_answers_first(browser: Browser, pages: dict[str, Path]) -> None:
    with Visit(browser, pages["full"]) as visit:
        visit.page.keyboard.press("Tab")
        assert visit.page.evaluate("document.activeElement.getAttribute('href')") == "#answers"
        box = visit.page.locator(".skip").bounding_box()
        assert box is not None
        assert box["y"] >= 0


def test_names_from_outside_stay_text(browser: Browser, pages: dict[str, Path]) -> None:
    import fixture_results

    with Visit(browser, pages["hostile"]) as visit:
        page = visit.page
        assert visit.said == []
        assert visit.asked == [pages["hostile"].as_uri()]
        assert page.evaluate("window.hacked") is None
        assert page.locator("img").count() == 0
        assert fixture_results.HOSTILE in page.locator("h1").inner_text()
        assert "{{ 7 * 7 }} & <b>gap</b>" in page.locator("#mountain").inner_text()
        # a tooltip over a hostile trip shows its name as text
        marks = page.locator("#chart-ratio .live svg .mark-symbol path")
        marks.nth(0).hover(force=True)
        tip = page.locator("#vg-tooltip-element")
        tip.wait_for(state="visible")
        assert "<img src=x" in tip.inner_text()
        assert page.evaluate("window.hacked") is None


def test_without_script_the_still_pictures_show(browser: Browser, pages: dict[str, Path]) -> None:
    with Visit(browser, pages["full"], java_script_enabled=False) as visit:
        heights = visit.page.evaluate(
            "[...document.querySelectorAll('.still svg')]"
            ".map(s => s.getBoundingClientRect().height)"
        )
    assert len(heights) >= 20
    assert min(heights) > 60


def test_on_paper_nothing_is_cut(browser: Browser, pages: dict[str, Path]) -> None:
    # A4 less the page's margins, at 96 pixels an inch
    width = round((210 - 2 * 14) / 25.4 * 96)
    with Visit(browser, pages["full"], viewport={"width": width, "height": 1000}) as visit:
        page = visit.page
        page.emulate_media(media="print")
        page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        cut = page.evaluate(
            """[...document.querySelectorAll('main *')].filter(e => {
                const s = getComputedStyle(e);
                if (s.display === 'none' || e.closest('svg, .unseen')) return false;
                const b = e.getBoundingClientRect();
                return b.width > 0 && (b.right > innerWidth + 1
                    || (s.overflowX !== 'visible' && e.scrollWidth > e.clientWidth + 1));
            }).map(e => e.tagName + '.' + e.className)"""
        )
        assert cut == []
        assert page.evaluate(
            """[...document.querySelectorAll('.still')]
                .every(s => s.getBoundingClientRect().height > 60)"""
        )
        assert page.locator("nav").is_hidden()
        # a label wider in the reader's font than in the drawing's is drawn all the same
        assert page.evaluate(
            """[...document.querySelectorAll('.still svg')]
                .every(s => getComputedStyle(s).overflow === 'visible')"""
        )
        pdf = page.pdf(format="A4", print_background=False, prefer_css_page_size=True)
    assert pdf.startswith(b"%PDF")
    pages_printed = len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))
    assert 6 <= pages_printed <= 40
