"""`transmission` and the older `converter`: one meaning, and an error where they disagree."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearing.study import load_study

STUDY = """
name = "kinds"
[vehicle]
axle_ratio = 4.88
gear_ratios = [3.51, 1.91, 1.0]
{lines}
[before]
drive_tire = "245/70R19.5"
logs = ["*.csv"]
"""


@pytest.mark.parametrize(
    ("lines", "kind"),
    [
        ("", None),
        ("converter = true", "converter"),
        ("converter = false", "manual"),
        ('transmission = "automated"', "automated"),
        ('transmission = "automated"\nconverter = false', "automated"),
        ('transmission = "converter"\nconverter = true', "converter"),
    ],
)
def test_kinds_of_transmission(tmp_path: Path, lines: str, kind: str | None) -> None:
    path = tmp_path / "study.toml"
    path.write_text(STUDY.format(lines=lines))
    (tmp_path / "one.csv").write_text("time,speed\n")
    assert load_study(path).vehicle.transmission == kind
