"""A day of the change that no drive lies behind: mistyped, or still to come."""

from pathlib import Path

import pytest
from sample_study import sample_copy

import gearing

pytestmark = pytest.mark.drill


@pytest.mark.parametrize(("day", "after"), [("2030-01-01", True), ("2016-03-15", False)])
def test_the_day_is_named_with_the_days_driven(tmp_path: Path, day: str, *, after: bool) -> None:
    study = sample_copy(tmp_path / "study", routes=False)
    for path in (tmp_path / "study").glob("*/*.csv"):
        if "2026-02-10" not in path.name and "2026-03-17" not in path.name:
            path.unlink()
    text = study.read_text(encoding="utf-8")
    study.write_text(text.replace("[after]", f"[after]\nfrom = {day}"), encoding="utf-8")
    told = {row.code: str(row.text) for row in gearing.analyze(study).warnings}
    side = "before" if after else "after"
    assert f"All drives are {side} the change of tires on {day}" in told["change-outside-drives"]
    assert "2026-02-10 to 2026-03-17" in told["change-outside-drives"]
