"""The page of a vehicle that kept its tires: no tires called new, nothing their doing."""

from __future__ import annotations

import re
from typing import Any

import fixture_results
import polars as pl
import pytest

from gearing.report.kept import without_new_tires
from gearing.report.page import render


def control() -> tuple[dict[str, Any], dict[str, pl.DataFrame]]:
    results = fixture_results.full()
    results["declared"]["role"] = "control"
    results["declared"]["after"]["drive_tire"] = results["declared"]["before"]["drive_tire"]
    return results, fixture_results.frames(results)


@pytest.fixture(scope="module")
def page() -> str:
    return without_new_tires(render(*control(), library=""))


def test_no_tires_are_called_old_or_new(page: str) -> None:
    said = re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.DOTALL)
    said = said.replace("\N{NO-BREAK SPACE}", " ").split('id="glossary"')[0]
    for words in ("new tires", "old tires", "sets of tires", "set of tires", "the tires did"):
        assert not re.search(rf"\b{words}", said.lower()), words
    assert "a vehicle that kept its tires" in said
    assert "later period" in said


def test_the_charts_keep_their_colors(page: str) -> None:
    """A chart's data and its scale name the periods alike."""
    specs = page.split('id="specs"')[1].split("</script>")[0]
    assert '"earlier period"' in specs
    assert not re.search(r"\b(old|new) tires", specs.lower())


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("On the new tires the vehicle goes", "In the later period the vehicle goes"),
        ("2 marks for the old tires", "2 marks for the earlier period"),
        ("Cold tires", "Cold tires"),
        ("Tires alone", "All alike"),
        ("More driving on the new tires alone", "More driving in the later period alone"),
        (
            "on each set of tires; so far 3 on the old and 2 on the new.",
            "in each period; so far 3 in the earlier and 2 in the later.",
        ),
        ("on the new\N{NO-BREAK SPACE}tires", "in the later period"),
        ("<th>Tires</th>", "<th>Period</th>"),
        ("the other tires' marks", "the other tires' marks"),
    ],
)
def test_words(said: str, told: str) -> None:
    assert without_new_tires(said) == told
