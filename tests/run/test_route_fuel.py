"""A route's fuel where no engine load is logged, on the sample, whose truth is known."""

from __future__ import annotations

from pathlib import Path

import pytest
from kinds_of_evidence import BUS, GPS, stripped_sample
from sample_study import TRUTH

import gearing

pytestmark = pytest.mark.drill


def test_a_route_s_fuel_is_as_logged_whatever_is_declared_of_resistance(tmp_path: Path) -> None:
    """Declared 40 % too high, rolling resistance asks for a tenth more fuel than was burnt."""
    study = stripped_sample(tmp_path / "logs", GPS | BUS, ("before", "after"))
    text = study.read_text(encoding="utf-8").replace("= 0.007", "= 0.010")
    head, _, route = text.split("[[route]]")
    study.write_text(f"{head}[[route]]{route}", encoding="utf-8")
    (found,) = gearing.analyze(study, jobs=1).tree()["routes"]
    for way, told in (("out", found), ("back", found["reversed"])):
        for side in ("before", "after"):
            true = TRUTH["routes"]["Quill Gap"][way][side]["liters"]
            assert told[side]["liters"] == pytest.approx(true, rel=0.04)
            assert told[side]["spread"]["liters"]["low"] < true
            assert true < told[side]["spread"]["liters"]["high"]
