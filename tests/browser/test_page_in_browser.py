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
def pages(
    tmp_path_factory: pytest.TempPathFactory, sample_run: tuple[Path, str]
) -> dict[str, Path]:
    """Every case rendered once; `sample` is the sample study's own page."""
    import fixture_results
    from typed_results import typed, typed_fleet

    from gearing.report.fleet_page import render_fleet
    from gearing.report.page import render

    folder = tmp_path_factory.mktemp("pages")
    paths = {}
    for name, make in fixture_results.CASES.items():
        results = make()
        paths[name] = folder / f"{name}.html"
        paths[name].write_text(
            render(typed(results), fixture_results.frames(results)), encoding="utf-8"
        )
    control = fixture_results.full()
    control["declared"]["role"] = "control"
    control["declared"]["after"]["drive_tire"] = control["declared"]["before"]["drive_tire"]
    paths["control"] = folder / "control.html"
    page = render(typed(control), fixture_results.frames(control))
    paths["control"].write_text(page, encoding="utf-8")
    planned = fixture_results.full()
    planned["speed"]["odometer_factor"]["after"] = fixture_results.unknown("no log shows them yet")
    planned["fuel"] = fixture_results.one_period()["fuel"]
    paths["planned"] = folder / "planned.html"
    page = render(typed(planned), fixture_results.frames(fixture_results.one_period()))
    paths["planned"].write_text(page, encoding="utf-8")
    paths["sample"] = sample_run[0] / "report.html"
    paths["fleet"] = folder / "fleet.html"
    paths["fleet"].write_text(render_fleet(typed_fleet(fixture_results.fleet())), encoding="utf-8")
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

    def unfold(self) -> None:
        """Open all that is folded, and wait until what is in it is drawn."""
        self.page.evaluate(
            """async () => {
                const told = [...document.querySelectorAll('details:not([open])')].map(one =>
                    new Promise(done => one.addEventListener('toggle', done, {once: true})));
                document.querySelectorAll('details').forEach(one => { one.open = true; });
                await Promise.all(told);
            }"""
        )
        self.page.wait_for_timeout(100)
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
        visit.unfold()
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
        assert len(figures) >= 10
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


@pytest.mark.parametrize(
    "case", ["one_period", "no_fuel", "cannot_tell", "planned", "empty", "fleet"]
)
def test_a_page_with_gaps_is_whole_too(browser: Browser, pages: dict[str, Path], case: str) -> None:
    with Visit(browser, pages[case], viewport={"width": 390, "height": 844}) as visit:
        visit.unfold()
        assert visit.said == []
        assert visit.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert visit.page.locator("#answers .part").count() == (0 if case == "fleet" else 3)
        assert _cut_texts(visit.page) == []


def test_a_date_near_the_end_of_a_phones_axis_is_not_cut(browser: Browser, tmp_path: Path) -> None:
    """Two days after a tick its date once ended outside the picture."""
    import fixture_results
    import polars as pl
    from typed_results import typed

    from gearing.report.page import render

    results = fixture_results.full()
    frames = fixture_results.frames(results)
    span = pl.date_ranges(pl.date(2026, 2, 10), pl.date(2026, 4, 21), "1d").list
    nth = pl.int_range(pl.len()) * 70 // (pl.len() - 1)
    frames["trips"] = frames["trips"].with_columns(local_day=span.get(nth))
    path = tmp_path / "page.html"
    path.write_text(render(typed(results), frames), encoding="utf-8")
    with Visit(browser, path, viewport={"width": 390, "height": 844}) as visit:
        visit.unfold()
        assert "Apr 19, 2026" in str(visit.page.text_content("#chart-cover .live"))
        assert _cut_texts(visit.page) == []


@pytest.mark.parametrize("claim", [-12.0, 9.0])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_long_names_and_far_claims_stay_on_a_phone(
    browser: Browser, tmp_path: Path, units: Any, claim: float
) -> None:
    """A word of 86 letters once made the page twice as wide, a claim ended outside its chart."""
    import fixture_results
    from typed_results import typed

    from gearing.report.page import render

    results = fixture_results.full()
    results["study"] = "The mobile library bus number seventeen of the upper valley " * 3
    results["fuel"]["claim_percent"] = claim
    results["declared"]["claim"] = {"consumption_change_percent": claim}
    for route in results["routes"]:
        route["name"] = "Donaudampfschifffahrtsgesellschaft" * 3
    path = tmp_path / "page.html"
    page = render(typed(results), fixture_results.frames(results), units=units)
    path.write_text(page, encoding="utf-8")
    with Visit(browser, path, viewport={"width": 375, "height": 812}) as visit:
        visit.unfold()
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= 375
        assert _cut_texts(visit.page) == []


@pytest.mark.parametrize("case", ["full", "sample", "fleet"])
def test_no_table_is_cut_on_a_phone(browser: Browser, pages: dict[str, Path], case: str) -> None:
    """What scrolls to the side is a stop for the keyboard; on a phone nothing has to."""
    for width in (390, 700, 1440):
        with Visit(browser, pages[case], viewport={"width": width, "height": 900}) as visit:
            visit.unfold()
            stops = visit.page.evaluate(
                """[...document.querySelectorAll('.scroll')].map(s =>
                    [s.scrollWidth > s.clientWidth, s.tabIndex === 0, s.ariaLabel])"""
            )
            assert all(scrolls == stop for scrolls, stop, _ in stops)
            if width != 700:
                assert [label for scrolls, _, label in stops if scrolls] == []


# what the first screen must hold, by what it is called on the page
HELD = {
    "which vehicle and tires": "h1, .tires",
    "true speed": "#part-speed .short",
    "what to program": "#part-speed .action",
    "five speeds": "#part-speed .speeds",
    "whether the fuel claim holds": "#part-fuel .short",
    "the fuel change as a bar": "#part-fuel .bar",
    "what it is worth": "#part-fuel .money",
    "whether the roads suit": "#part-mountain .short",
    "each road": "#part-mountain .route",
    "how sure": ".sure",
    "what to look at": ".look",
    "nuts, load and pressure": ".driving",
}
# what of it a case has nothing to show of
LACKS = {
    "sample": set(),
    "control": set(),
    "no_fuel": {"the fuel change as a bar", "what it is worth"},
    "one_period": {"the fuel change as a bar", "what it is worth", "each road"},
    "planned": {"five speeds", "the fuel change as a bar", "what it is worth"},
}
# in sight without a finger's breadth of scrolling
FIRST = ("true speed", "what to program", "whether the fuel claim holds", "whether the roads suit")


def _bottoms(page: Page) -> dict[str, float | None]:
    """How far down each part of the first screen ends, None where it is not to be seen [px]."""
    return {
        name: page.evaluate(
            """selector => {
                const found = [...document.querySelectorAll(selector)];
                const seen = found.filter(e => e.checkVisibility({checkOpacity: true,
                    checkVisibilityCSS: true}) && e.getBoundingClientRect().height > 0);
                return seen.length && seen.length === found.length
                    ? Math.max(...seen.map(e => e.getBoundingClientRect().bottom)) : null;
            }""",
            selector,
        )
        for name, selector in HELD.items()
    }


@pytest.mark.parametrize("case", LACKS)
def test_the_first_screen_answers(browser: Browser, pages: dict[str, Path], case: str) -> None:
    """A desk's screen of 900 px holds all of it, a phone's of 844 px each answer and what to do;
    the rest of it, roads and cautions, follows within a second screen."""
    desk = {"width": 1440, "height": 900}
    with Visit(browser, pages[case], viewport=desk, java_script_enabled=False) as visit:
        found = _bottoms(visit.page)
        assert {name for name, bottom in found.items() if bottom is None} == LACKS[case]
        assert max(bottom for bottom in found.values() if bottom is not None) <= 900
    phone = {"width": 390, "height": 844}
    with Visit(browser, pages[case], viewport=phone, java_script_enabled=False) as visit:
        found = _bottoms(visit.page)
        assert {name for name, bottom in found.items() if bottom is None} == LACKS[case]
        assert max(found[name] or 0.0 for name in FIRST) <= 844
        assert max(bottom for bottom in found.values() if bottom is not None) <= 2 * 844


@pytest.mark.parametrize("case", ["sample", "control", "no_fuel"])
def test_page_one_on_paper_is_the_first_screen_with_a_card(
    browser: Browser, pages: dict[str, Path], case: str
) -> None:
    # Letter, the shorter sheet, less the page's margins, at 96 pixels an inch
    width, height = (round(96 * (inches - 24 / 25.4)) for inches in (8.5, 11))
    size = {"width": width, "height": height}
    with Visit(browser, pages[case], viewport=size, java_script_enabled=False) as visit:
        visit.page.emulate_media(media="print")
        found = _bottoms(visit.page)
        assert {name for name, bottom in found.items() if bottom is None} == LACKS[case]
        card = visit.page.locator(".card").bounding_box()
        assert card is not None
        assert card["y"] + card["height"] <= height
        assert visit.page.locator(".card tr").count() == 3


@pytest.mark.parametrize("case", ["sample", "full", "cannot_tell", "fleet"])
def test_little_is_said_before_anything_is_unfolded(
    browser: Browser, pages: dict[str, Path], case: str
) -> None:
    with Visit(browser, pages[case], viewport={"width": 1440, "height": 900}) as visit:
        assert len(visit.page.evaluate("document.body.innerText").split()) <= 1500
        # and no answer, warning or caution is folded away
        for kept in (".headline", ".next", ".items", ".missing", ".cautions", ".look", ".short"):
            for one in visit.page.locator(kept).all():
                assert one.is_visible(), kept


def test_the_page_is_light_beside_the_charts_engine(pages: dict[str, Path]) -> None:
    from gearing.report.document import drawing_library

    engine = len(drawing_library().encode())
    for case in ("sample", "full"):
        assert len(pages[case].read_bytes()) - engine <= 350 * 1024, case


def test_a_chart_answers_to_pointer_and_finger(browser: Browser, pages: dict[str, Path]) -> None:
    """At the point nearest to where it is touched, with its texts, figures and dates."""
    phone = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
    desk = {"viewport": {"width": 1440, "height": 900}}
    for options in (phone, desk):
        with Visit(browser, pages["sample"], **options) as visit:
            visit.unfold()
            page = visit.page
            keys = [f.get_attribute("id") for f in page.locator("figure").all()]
            assert len(keys) >= 10
            for key in keys:
                place = page.locator(f"#{key} .live svg")
                place.scroll_into_view_if_needed()
                page.wait_for_timeout(100)
                box = place.bounding_box()
                assert box is not None
                x, y = box["x"] + 0.62 * box["width"], box["y"] + 0.45 * box["height"]
                if options is phone:
                    page.touchscreen.tap(x, y)
                else:
                    page.mouse.move(x, y)
                    page.mouse.move(x + 2, y)
                page.wait_for_timeout(150)
                tip = page.locator("#vg-tooltip-element")
                assert tip.is_visible(), key
                assert not re.search(r"undefined|null|NaN|\d{10}", tip.inner_text()), key
                if key in ("chart-days", "chart-ratio", "chart-cover"):
                    assert re.search(r"[A-Z][a-z]{2} \d{1,2}, \d{4}", tip.inner_text()), key


def test_what_a_finger_aims_at_is_large_enough(browser: Browser, pages: dict[str, Path]) -> None:
    """24 px each way (WCAG 2.2, 2.5.8), links inside sentences excepted as there."""
    with Visit(browser, pages["sample"], viewport={"width": 390, "height": 844}) as visit:
        small = visit.page.evaluate(
            """[...document.querySelectorAll('a[href]:not(.term):not(.skip), summary')]
                .filter(e => e.checkVisibility())
                .map(e => [e.textContent.trim(), e.getBoundingClientRect()])
                .filter(([_, b]) => b.height < 24 || b.width < 24).map(([t, b]) => [t, b.height])"""
        )
        assert small == []


def test_how_sure_leads_to_the_evidence_and_opens_it(
    browser: Browser, pages: dict[str, Path]
) -> None:
    with Visit(browser, pages["sample"]) as visit:
        for key in ("speed", "fuel", "mountain"):
            evidence = visit.page.locator(f"#evidence-{key}")
            assert evidence.get_attribute("open") is None
            visit.page.locator(f"#part-{key} .sure").click()
            visit.page.wait_for_function(f"document.getElementById('evidence-{key}').open")


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

    # in the dark nothing but the colors is another page
    light = scheme == "light"
    rules = None if light else {"runOnly": ["color-contrast"]}
    looks = [("sample", width) for width in (WIDTHS if light else WIDTHS[::2])]
    looks += [("fleet", width) for width in WIDTHS[::2] if light]
    for case, width in looks:
        size = {"width": width, "height": 900}
        with Visit(browser, pages[case], color_scheme=scheme, viewport=size) as visit:
            visit.unfold()
            found = Axe().run(visit.page, options=rules).response["violations"]
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
        visit.unfold()
        page = visit.page
        assert visit.said == []
        assert visit.asked == [pages["hostile"].as_uri()]
        assert page.evaluate("window.hacked") is None
        assert page.locator("img").count() == 0
        assert fixture_results.HOSTILE in page.locator("h1").inner_text()
        assert "{{ 7 * 7 }} & <b>gap</b>" in page.locator("#mountain").inner_text()
        # a tooltip over a hostile trip shows its name as text
        marks = page.locator("#chart-ratio .live svg")
        marks.scroll_into_view_if_needed()
        page.wait_for_timeout(100)
        box = marks.bounding_box()
        assert box is not None
        page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
        page.mouse.move(box["x"] + 0.5 * box["width"] + 2, box["y"] + 0.5 * box["height"])
        tip = page.locator("#vg-tooltip-element")
        tip.wait_for(state="visible")
        assert "<img src=x" in tip.inner_text()
        assert page.evaluate("window.hacked") is None


def test_without_script_the_still_pictures_show(browser: Browser, pages: dict[str, Path]) -> None:
    with Visit(browser, pages["full"], java_script_enabled=False) as visit:
        visit.page.evaluate("document.querySelectorAll('details.more').forEach(d => d.open = true)")
        heights = visit.page.evaluate(
            "[...document.querySelectorAll('.still svg')]"
            ".map(s => s.getBoundingClientRect().height)"
        )
    assert len(heights) >= 10
    assert min(heights) > 60


def test_on_paper_nothing_is_cut(browser: Browser, pages: dict[str, Path]) -> None:
    # A4 less the page's margins, at 96 pixels an inch
    width = round((210 - 2 * 12) / 25.4 * 96)
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
