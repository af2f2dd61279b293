"""The page of a vehicle that kept its tires: no tires called new, nothing their doing."""

from __future__ import annotations

import re
from typing import Any

import fixture_results
import polars as pl
import pytest
from typed_results import typed

from gearing.report.lines import printed
from gearing.report.page import render
from gearing.report.terminal import study_lines

OF_TIRES = ("new tires", "old tires", "sets of tires", "set of tires", "the tires did")


def control() -> tuple[dict[str, Any], dict[str, pl.DataFrame]]:
    results = fixture_results.full()
    results["declared"]["role"] = "control"
    results["declared"]["after"]["drive_tire"] = results["declared"]["before"]["drive_tire"]
    # what the findings themselves say is theirs to word
    results["warnings"] = []
    results["fuel"]["change_percent"]["fillups"] = fixture_results.unknown("there are no tanks")
    return results, fixture_results.frames(results)


@pytest.fixture(scope="module")
def page() -> str:
    results, frames = control()
    return render(typed(results), frames, library="")


def test_no_tires_are_called_old_or_new(page: str) -> None:
    said = re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.DOTALL)
    said = said.replace("\N{NO-BREAK SPACE}", " ").split('id="glossary"')[0]
    said = re.sub("cold tires", "", said, flags=re.IGNORECASE)
    for words in OF_TIRES:
        assert not re.search(rf"\b{words}", said.lower()), words
    assert "a vehicle that kept its tires" in said
    assert "later period" in said


def test_the_charts_keep_their_colors(page: str) -> None:
    """Rows name their period in one way, whatever the reader calls it."""
    specs = page.split('id="specs"')[1].split("</script>")[0]
    assert '"later period"' in specs
    assert '"after"' in specs
    assert not re.search(r"\b(old|new) tires", specs.lower())


@pytest.mark.parametrize("verdict", ["cannot tell yet", "some saving, size unsettled", None])
@pytest.mark.parametrize("days", [2, 9])
def test_the_terminal_calls_none_old_or_new_either(verdict: str | None, days: int) -> None:
    results, _ = control()
    results["fuel"] |= {"verdict": verdict, "more_driving_km": 80.0}
    results["fuel"]["sides"]["after"]["days"] = days
    told = printed(study_lines(typed(results), "us"))
    for words in OF_TIRES:
        assert words not in told.lower(), told


def test_wheel_nuts_are_for_wheels_that_were_off() -> None:
    results, _ = control()
    assert "Wheel nuts" not in printed(study_lines(typed(results), "us"))
    assert "Wheel nuts" in printed(study_lines(typed(fixture_results.full()), "us"))
