"""Imports run down the data flow only, and starting the program stays quick."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "gearing"

# what each part may import of ours, besides itself
ALLOWED = {
    "units": set(),
    "problems": set(),
    "quantities": {"units"},
    "vehicle": {"units"},
    "statistics": {"units"},
    "study": {"units", "quantities", "problems", "vehicle", "logs"},
    "logs": {"units", "quantities", "problems", "study"},
    "trips": {"units", "quantities", "problems", "study", "logs", "vehicle", "statistics"},
    "findings": {
        "units",
        "quantities",
        "problems",
        "study",
        "vehicle",
        "statistics",
        "trips",
    },
    "report": {"units", "quantities", "statistics"},
    "results": {"statistics"},
    "store": set(),
    "outputs": {"problems", "results", "store"},
    "progress": set(),
}


def _part(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def _ours(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return {name.split(".")[1] for name in names if name.startswith("gearing.")}


@pytest.mark.parametrize("part", sorted(ALLOWED))
def test_imports_run_down_the_data_flow(part: str) -> None:
    files = [path for path in PACKAGE.rglob("*.py") if _part(path) == part]
    assert files, f"no module of {part} was found"
    wrong = {
        f"{path.relative_to(PACKAGE)} imports {name}"
        for path in files
        for name in _ours(path) - ALLOWED[part] - {part, "__version__"}
    }
    assert not wrong


def test_the_report_takes_only_the_estimate_of_statistics() -> None:
    for path in (PACKAGE / "report").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert "gearing.statistics" not in text.replace("gearing.statistics.estimate", "")


def test_the_study_model_is_all_that_logs_take_of_the_study() -> None:
    for path in (PACKAGE / "logs").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert "gearing.study" not in text.replace("gearing.study.model", "")


@pytest.mark.parametrize(
    "heavy", ["polars", "altair", "scipy", "numpy", "pyarrow", "gpxpy", "vl_convert"]
)
def test_help_loads_nothing_heavy(heavy: str) -> None:
    code = f"import sys, gearing.cli; sys.exit({heavy!r} in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_no_figure_hangs_on_the_order_polars_happens_to_find() -> None:
    """Groups, joins and distinct rows keep their order, so that runs agree to the last digit."""
    loose = []
    for part in ("trips", "findings"):
        for path in (PACKAGE / part).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
                    continue
                frame_join = node.func.attr == "join" and any(k.arg == "on" for k in node.keywords)
                grouped = node.func.attr in {"group_by", "partition_by"}
                distinct = node.func.attr == "unique" and ast.unparse(node.func.value) != "np"
                if (frame_join or grouped or distinct) and all(
                    k.arg != "maintain_order" for k in node.keywords
                ):
                    loose.append(f"{path.relative_to(PACKAGE)}:{node.lineno}")
    assert not loose
