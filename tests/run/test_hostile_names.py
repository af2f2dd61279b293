"""Users' names come out as they are, whatever they hold, and a shared page hides them whole."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from typing import Any

import pytest
from sample_study import sample_copy
from typed_results import typed

import gearing
from gearing.report.page import render
from gearing.report.terminal import study_lines

pytestmark = pytest.mark.drill

MISFILED = "2026-04-09_quill_back"
NAMES = ["28", "on the old tires <b>3 to 4 m"]


@pytest.fixture(scope="module")
def named(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], dict[str, Any]]:
    """Results of the sample with a misfiled log, a route and the study of that name."""
    folder = tmp_path_factory.mktemp("names") / "logs"
    study = sample_copy(folder)
    head, _, route = study.read_text(encoding="utf-8").split("[[route]]")  # one is enough
    whole = f"{head}[[route]]{route}"
    (log,) = folder.glob(f"*/{MISFILED}.csv")

    def made(name: str) -> dict[str, Any]:
        text = whole.replace('name = "bookmobile"', f'name = "{name}"')
        text = text.replace('name = "Quill Gap"', f'name = "{name} pass"')
        assert text.count(name) >= 2
        study.write_text(text, encoding="utf-8")
        there = log.with_name(f"{name}.csv")
        log.rename(there)
        try:
            return gearing.analyze(study, jobs=1).tree()
        finally:
            there.rename(log)

    return made


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_shown_as_it_is_and_not_at_all_where_it_is_shared(
    named: Callable[[str], dict[str, Any]], name: str
) -> None:
    results = named(name)
    assert name in {trip["name"] for trip in results["trips"]}
    (misfiled,) = [one for one in results["warnings"] if one["code"] == "misfiled"]
    assert f"Trip {name} is filed" in misfiled["text"]
    for units in ("us", "metric"):
        page = render(typed(results), {}, units=units, library="")
        said = plain(page)
        assert f"Trip {name} is filed" in said
        assert f"{name} pass" in said
        assert f"<h1>{html.escape(name)}" in page or html.escape(name) in page
        if "<" in name:
            assert name not in page.split('id="specs"')[0]
        lines = [line.text for line in study_lines(typed(results), units)]
        assert any(line.startswith(f"{name} pass") for line in lines)
    shared = plain(render(typed(results), {}, share=True, library=""))
    assert f"Trip {name} " not in shared
    assert re.search(r"Trip before \d+ is filed", shared)
    assert f"{name} pass" in shared  # roads and the study keep their names


def plain(page: str) -> str:
    """The page's text without markup."""
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    text = html.unescape(re.sub(r"<[^>]+>", " ", text)).replace("\N{NO-BREAK SPACE}", " ")
    return re.sub(r"\s+", " ", text)
