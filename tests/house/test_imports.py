"""Imports run down the data flow only, and starting the program stays quick."""

from __future__ import annotations

import ast
import subprocess
import sys
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

from gearing.run.code_version import RECORD_PARTS

PACKAGE = Path(__file__).resolve().parents[2] / "gearing"

# what each part may import of ours, besides itself
ALLOWED = {
    "units": set(),
    "messages": {"units"},
    "quantities": {"units"},
    "vehicle": {"units", "messages"},
    "statistics": {"units", "messages"},
    "study": {"units", "quantities", "messages", "vehicle", "logs"},
    "logs": {"units", "quantities", "messages"},
    "trips": {"units", "quantities", "messages", "study", "logs", "vehicle", "statistics"},
    "analysis": {
        "units",
        "quantities",
        "messages",
        "study",
        "vehicle",
        "statistics",
        "trips",
    },
    "report": {"units", "quantities", "messages", "study", "statistics", "analysis", "results"},
    "results": {"messages", "study", "statistics", "analysis"},
    "guide": {"quantities", "messages", "logs"},
    "run": {
        "units",
        "quantities",
        "messages",
        "study",
        "logs",
        "trips",
        "vehicle",
        "statistics",
        "analysis",
        "report",
        "results",
    },
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
        for name in _ours(path) - ALLOWED[part] - {part, "version"}
    }
    assert not wrong


def test_the_report_takes_only_the_estimate_of_statistics() -> None:
    for path in (PACKAGE / "report").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert "gearing.statistics" not in text.replace("gearing.statistics.estimate", "")


def test_logs_take_nothing_of_the_study() -> None:
    for path in (PACKAGE / "logs").rglob("*.py"):
        assert "gearing.study" not in path.read_text(encoding="utf-8")


def _name(path: Path) -> str:
    return ".".join(("gearing", *path.relative_to(PACKAGE).with_suffix("").parts))


def _imported(path: Path, modules: set[str], *, for_types: bool) -> set[str]:
    """The modules of ours that a module imports, inside functions too, or for types alone."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    typing = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
    ]
    left_out = set() if for_types else {one for block in typing for one in ast.walk(block)}
    names: set[str] = set()
    for node in set(ast.walk(tree)) - left_out:
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path}: imports are absolute"
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            names |= inner & modules or {node.module}
    return {m for name in names for m in (name, f"{name}.__init__") if m in modules} - {_name(path)}


def _circle(graph: dict[str, set[str]]) -> list[str]:
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as circle:
        return list(circle.args[1])
    return []


def test_nothing_imports_in_a_circle() -> None:
    """Modules as they load, and folders by all that is written in them."""
    paths = {_name(path): path for path in PACKAGE.rglob("*.py")}
    assert len(paths) > 100
    loaded = {n: _imported(path, set(paths), for_types=False) for n, path in paths.items()}
    assert sum(map(len, loaded.values())) > len(loaded), "hardly an import was found"
    assert _circle(loaded) == []
    folders: dict[str, set[str]] = {}
    for name, path in paths.items():
        part = name.split(".")[1]
        taken = {one.split(".")[1] for one in _imported(path, set(paths), for_types=True)}
        folders.setdefault(part, set()).update(taken - {part})
    assert _circle(folders) == []


def test_all_code_that_makes_records_is_in_their_digest() -> None:
    paths = {_name(path): path for path in PACKAGE.rglob("*.py")}
    met, new = set(), {"gearing.run.tasks"}
    while new:
        met |= new
        new = {m for n in new for m in _imported(paths[n], set(paths), for_types=False)} - met
    assert "gearing.run.chunks" in met
    files = [paths[name].relative_to(PACKAGE).as_posix() for name in met]
    assert [
        f for f in files if not any(f == p or f.startswith(f"{p}/") for p in RECORD_PARTS)
    ] == []


def test_a_circle_is_found() -> None:
    assert _circle({"a": {"b"}, "b": {"c"}, "c": {"a"}}) != []


@pytest.mark.parametrize("heavy", ["polars", "altair", "scipy", "numpy", "pyarrow", "vl_convert"])
def test_help_loads_nothing_heavy(heavy: str) -> None:
    code = f"import sys, gearing.cli; sys.exit({heavy!r} in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_no_figure_hangs_on_the_order_polars_happens_to_find() -> None:
    """Groups, joins and distinct rows keep their order, so that runs agree to the last digit."""
    loose = []
    for part in ("trips", "analysis"):
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
