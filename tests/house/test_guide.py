"""The guide against what it tells of: topics, tables, study keys, results, studies, places, names.

What is compared with: the package's own tables, the keys that reading a study asks for, and the
results of the sample run. A guide that says what the code does not is the fault looked for.
"""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from studies import STUDIES, WRONG

from gearing.cli import main
from gearing.guide import TOPICS, Topic, page, source
from gearing.guide.__main__ import SHOWN_ONLY
from gearing.guide.nomenclature import NOMENCLATURE
from gearing.messages import CATALOGUE
from gearing.quantities import QUANTITIES
from gearing.study import load
from gearing.study.fleet import load_fleet
from gearing.study.schema import study_schema
from gearing.study.section import Section
from gearing.vehicle.parameters import PRIORS, willans_priors

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "gearing"
PAGES = {topic.name: source(topic) for topic in TOPICS}
TEXTS = PAGES | {name: (ROOT / name).read_text("utf-8") for name in ("README.md", "DEVELOPERS.md")}


def shown(*arguments: str) -> Any:
    return CliRunner().invoke(main, ["guide", *arguments])


def rows(text: str) -> Iterator[list[str]]:
    """The cells of each row of a text's tables, heads and rules left out."""
    lines = text.splitlines()
    for at, line in enumerate(lines):
        rule = re.fullmatch(r"[|\s-]+", line) or re.fullmatch(
            r"[|\s-]+", "".join(lines[at + 1 :][:1])
        )
        if line.startswith("|") and not rule:
            yield [cell.strip().replace("\\|", "|") for cell in re.split(r"(?<!\\)\|", line)[1:-1]]


# ---- topics


def test_every_page_is_a_topic_and_every_topic_a_page() -> None:
    assert {topic.file for topic in TOPICS} == {
        path.name for path in (PACKAGE / "guide").glob("*.md")
    }


def test_topics_are_listed_with_a_line_each() -> None:
    lines = shown().output.splitlines()
    assert [line.split("  ")[0] for line in lines] == [topic.name for topic in TOPICS]
    assert all(line.endswith(topic.summary) for line, topic in zip(lines, TOPICS, strict=True))


@pytest.mark.parametrize("topic", TOPICS, ids=lambda topic: topic.name)
def test_what_is_shown_is_the_page_as_it_stands(topic: Topic) -> None:
    found = shown(topic.name)
    assert found.exit_code == 0
    assert found.output == page(topic)
    if topic.name not in SHOWN_ONLY:
        stands = (PACKAGE / "guide" / topic.file).read_text("utf-8")
        assert found.output == stands, "write it anew with python -m gearing.guide"


@pytest.mark.parametrize(
    ("asked", "meant"),
    [("chanels", "channels"), ("Study_File", "study-file"), ("method", "methods")],
)
def test_a_near_miss_is_told_the_right_topic(asked: str, meant: str) -> None:
    found = shown(asked)
    assert found.exit_code == 2
    assert f"Did you mean '{meant}'?" in found.output


def test_a_far_miss_is_shown_the_topics() -> None:
    found = shown("zzzz")
    assert found.exit_code == 2
    assert all(topic.name in found.output for topic in TOPICS)


def test_the_guide_loads_nothing_heavy() -> None:
    code = (
        "import sys; from gearing.guide import TOPICS, page; [page(one) for one in TOPICS];"
        "print(sorted({'polars', 'numpy', 'scipy', 'altair', 'pyarrow'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_pages_are_installed_with_the_package() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    assert "guide/*.md" in project["tool"]["setuptools"]["package-data"]["gearing"]


# ---- tables


def test_every_message_stands_on_the_page_of_messages() -> None:
    told = {cells[0].strip("`") for cells in rows(shown("messages").output)}
    assert told == set(CATALOGUE)


def test_every_channel_stands_on_the_page_of_channels() -> None:
    text = PAGES["channels"]
    for quantity in QUANTITIES.values():
        assert quantity.meaning in text
        assert quantity.pid is None or f"PID {quantity.pid}" in text


# ---- the study file

EXAMPLE = re.search(r"```toml\n(name = \"bookmobile\".*?)```", PAGES["study-file"], re.DOTALL)


def _asked(sections: list[Section]) -> set[tuple[str, str]]:
    """Every key that reading asked for, with the table it belongs in as the page calls it."""
    found = set()
    for section in sections:
        names = [part for part in section.where if isinstance(part, str)]
        label = re.sub(r" \d+$", "", section.label) or "top"
        label = {
            "[vehicle.engine.torque_curve]": "torque_curve",
            "[vehicle.engine.retarder]": "retarder",
        }.get(label, label)
        if names[:1] == ["columns"] and len(names) > 1:
            label = "a heading"
        if names != ["columns"]:  # whose keys are the headings of logs
            found |= {(label, key) for key in section.asked}
        found |= _asked(section.children)
    return found


def _told(page_text: str) -> set[tuple[str, str]]:
    tables = (re.findall(r"`([^`]+)`", cells[0]) or [cells[0]] for cells in rows(page_text))
    keys = (re.findall(r"`([^`]+)`", cells[1]) for cells in rows(page_text))
    return {(t, k) for ts, ks in zip(tables, keys, strict=True) for t in ts for k in ks}


def _read(text: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> set[tuple[str, str]]:
    for name in re.findall(r'"([\w/*]+\.csv)"', text):
        path = folder / name.replace("*", "trip")
        path.parent.mkdir(exist_ok=True)
        path.write_text("time\n")
    tops: list[Section] = []
    all_known = Section.all_known

    def read(section: Section) -> bool:
        if not section.where:
            tops.append(section)
        return all_known(section)

    monkeypatch.setattr(Section, "all_known", read)
    path = folder / "study.toml"
    path.write_text(text, encoding="utf-8")
    load.load_study(path)
    return _asked(tops)


def test_the_page_of_the_study_file_has_the_keys_that_reading_asks_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert EXAMPLE is not None
    told = _told(PAGES["study-file"].split("## Every key")[1].split("## A fleet file")[0])
    asked = _read(EXAMPLE[1], tmp_path, monkeypatch)
    assert told == asked


def _in_schema(schema: Any, label: str = "") -> set[tuple[str, str]]:
    """Every key of a schema's tables, with the table as the page calls it."""
    found = set()
    for key, value in schema.get("properties", {}).items():
        found.add((label or "top", key))
        kinds = value.get("anyOf", [value])
        one = next((k["items"] for k in kinds if k.get("items", {}).get("type") == "object"), None)
        below = f"{label.strip('[]')}.{key}".strip(".")
        if one is not None:
            found |= _in_schema(one, f"[[{below}]]")
        elif kinds[0].get("type") == "object":
            named = key in ("torque_curve", "retarder")
            found |= _in_schema(kinds[0], key if named else f"[{below}]")
    return found


def test_the_page_of_the_study_file_has_the_keys_of_its_schema() -> None:
    told = _told(PAGES["study-file"].split("## Every key")[1].split("## A fleet file")[0])
    rules = {(table, key) for table, key in told if table == "a heading"}
    assert _in_schema(study_schema()) == told - rules


def test_the_page_has_the_keys_of_a_fleet_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = _told(PAGES["study-file"].split("## A fleet file")[1])
    for name in ("a", "b"):
        (tmp_path / f"{name}.csv").write_text("time\n")
        (tmp_path / f"{name}.toml").write_text(
            f'name = "{name}"\n[before]\ndrive_tire = "245/70R19.5"\nlogs = ["{name}.csv"]\n'
        )
    tops: list[Section] = []
    closed = Section.close
    monkeypatch.setattr(
        Section, "close", lambda self, homes: (tops.append(self), closed(self, homes))[1]
    )
    path = tmp_path / "fleet.toml"
    path.write_text(
        'name = "f"\nstudies = ["a.toml", { study = "b.toml", role = "control", '
        "changed = 2026-03-14 }]\n[claim]\nconsumption_change_percent = -4\n"
    )
    load_fleet(path)
    (top,) = (one for one in tops if "studies" in one.asked)
    entries = {
        ("a study", key)
        for child in top.children
        if child.where[0] == "studies"
        for key in child.asked
    }
    assert told == {("fleet", key) for key in top.asked} | entries


# ---- results.json


def _reached(tree: Any, steps: list[str]) -> bool:
    if not steps:
        return True
    name, listed = steps[0].removesuffix("[]"), steps[0].endswith("[]")
    if not isinstance(tree, dict) or name not in tree:
        return False
    inner = tree[name]
    return any(_reached(one, steps[1:]) for one in inner) if listed else _reached(inner, steps[1:])


def _result_keys() -> list[str]:
    text = PAGES["results"].split("## results.json")[1]
    return [key for cells in rows(text) for key in re.findall(r"`([^`]+)`", cells[0])]


def test_keys_of_the_page_stand_in_the_results_of_the_sample(sample_run: tuple[Path, str]) -> None:
    results = json.loads((sample_run[0] / "results.json").read_text("utf-8"))
    assert [key for key in _result_keys() if not _reached(results, key.split("."))] == []
    heads = {key.split(".")[0].removesuffix("[]") for key in _result_keys()}
    assert heads == set(results)


def test_files_of_the_page_are_those_of_the_sample_run(sample_run: tuple[Path, str]) -> None:
    text = PAGES["results"].split("## results.json")[0]
    told = {name for cells in rows(text) for name in re.findall(r"`([^`]+)`", cells[0])}
    assert told == {path.name for path in sample_run[0].iterdir() if not path.name.startswith(".")}


# ---- studies


def test_the_page_of_methods_names_every_study_with_its_command() -> None:
    text = PAGES["methods"].split("## The studies")[1]
    told = {cells[0].strip("`"): cells[1].strip("`") for cells in rows(text)}
    assert told == {study.name: study.line for study in STUDIES}


def test_every_script_of_studies_is_in_the_list() -> None:
    folder = ROOT / "tests" / "simulation"
    scripts = {path.name for path in folder.glob("*.py") if "__main__" in path.read_text("utf-8")}
    assert scripts - {"studies.py"} == {study.script for study in STUDIES}


def test_studies_of_declarations_have_every_kind() -> None:
    from declaration_figures import KINDS

    assert {*WRONG, "none"} == set(KINDS)


def test_the_list_of_studies_is_shown_and_a_near_miss_refused() -> None:
    script = [sys.executable, str(ROOT / "tests" / "simulation" / "studies.py")]
    done = subprocess.run(script, capture_output=True, text=True, check=True)
    assert [line.split()[0] for line in done.stdout.splitlines()] == [one.name for one in STUDIES]
    wrong = subprocess.run([*script, "sped"], capture_output=True, text=True, check=False)
    assert wrong.returncode == 2
    assert "speed" in wrong.stderr


# ---- places and links


@pytest.mark.parametrize("name", TEXTS)
def test_files_that_are_named_are_there(name: str) -> None:
    named = re.findall(r"`((?:gearing|tests|sample_logs)/[\w/.-]+)", TEXTS[name])
    named += re.findall(r"python ((?:tests|sample_logs)/[\w/.]+\.py)", TEXTS[name])
    assert [one for one in named if not (ROOT / one).exists()] == []
    folder = PACKAGE / "guide" if name in PAGES else ROOT
    links = [one for one in re.findall(r"\]\(([^)#]+)\)", TEXTS[name]) if "://" not in one]
    assert [one for one in links if not (folder / one).exists()] == []


def test_the_readme_is_short_and_names_every_page() -> None:
    readme = TEXTS["README.md"]
    assert len(readme.splitlines()) <= 200
    told = {cells[0]: cells[1] for cells in rows(readme)}
    for topic in TOPICS:
        assert told[f"[{topic.name}](gearing/guide/{topic.file})"] == topic.summary


def test_figures_of_the_readme_stand_on_the_page_of_methods() -> None:
    table = TEXTS["README.md"].split("## How well it works")[1].split("## ")[0]
    figures = [
        one for cells in rows(table) for one in re.findall(r"\d[\d.,]*\d|\d", " ".join(cells))
    ]
    assert len(figures) > 50
    known = set(re.findall(r"\d[\d.,]*\d|\d", PAGES["methods"])) | {"8"}  # kinds of the table
    assert [one for one in figures if one not in known] == []


# ---- names

UNIT_OF_ENDING = {
    "_mps": "m/s", "_mps2": "m/s2", "_m": "m", "_m2": "m2", "_kg": "kg", "_kgm2": "kg m2",
    "_kgpm3": "kg/m3", "_n": "N", "_nm": "N m", "_w": "W", "_pa": "Pa", "_c": "degC", "_s": "s",
    "_rpm": "rpm", "_per_km": "1/km", "_per_m": "1/m", "_per_k": "1/K", "_per_kwh": "L/kWh",
    "_j": "J", "_percent": "%", "_radians_per_m": "rad/m",
}  # fmt: skip


def ending_of(name: str) -> str | None:
    """The longest ending of a name that is a unit."""
    fits = [one for one in UNIT_OF_ENDING if name.endswith(one)]
    return max(fits, key=len) if fits else None


def _names_in(folder: Path) -> set[str]:
    """Every parameter, field and property of the package's modules in a folder."""
    found: set[str] = set()
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.FunctionDef):
                found |= {node.name} | {one.arg for one in node.args.args + node.args.kwonlyargs}
            elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
                found.add(node.target.id)
    return found


def _public_parameters(folder: Path) -> set[str]:
    """Parameters of the public functions at the top of a folder's modules."""
    return {
        one.arg
        for path in folder.glob("*.py")
        for node in ast.parse(path.read_text("utf-8")).body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
        for one in node.args.args + node.args.kwonlyargs
    }


def test_names_of_the_nomenclature_are_used_and_stand_once() -> None:
    names = [symbol.name for symbol in NOMENCLATURE]
    assert len(names) == len(set(names))
    used = set().union(*(_names_in(PACKAGE / part) for part in
                         ("vehicle", "trips", "statistics", "analysis")))  # fmt: skip
    assert set(names) - used == set()


@pytest.mark.parametrize("symbol", NOMENCLATURE, ids=lambda symbol: symbol.name)
def test_a_name_ends_in_the_unit_it_has(symbol: Any) -> None:
    if (ending := ending_of(symbol.name)) is not None:
        assert symbol.unit == UNIT_OF_ENDING[ending]


def test_what_formulas_take_stands_in_the_nomenclature() -> None:
    taken = {name for name in _public_parameters(PACKAGE / "vehicle") if ending_of(name)}
    assert len(taken) > 25
    known = {symbol.name for symbol in NOMENCLATURE} | set(QUANTITIES)
    assert taken - known - {"per_k", "percent_per_km", "above_m"} == set()


def test_parameters_with_a_prior_stand_in_the_nomenclature_with_their_unit() -> None:
    units = {symbol.name: symbol.unit for symbol in NOMENCLATURE}
    for name, prior in (PRIORS | willans_priors(1000.0)).items():
        assert units[name] == prior.unit
