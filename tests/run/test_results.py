"""The typed results: read back as they were written, described by their schema, and in memory."""

from __future__ import annotations

import copy
import json
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import gearing
from gearing.messages.render import Message
from gearing.report.page import render
from gearing.results.encode import read
from gearing.results.record import Results, read_results, results_schema


@pytest.fixture(scope="module")
def tree(sample_run: tuple[Path, str]) -> dict[str, Any]:
    read: dict[str, Any] = json.loads((sample_run[0] / "results.json").read_text(encoding="utf-8"))
    return read


@pytest.fixture(scope="module")
def found(sample_run: tuple[Path, str]) -> Results:
    """The sample's answers, found by `gearing.analyze` beside what the command wrote."""
    folder = sample_run[0].parent / "study"
    there = sorted(folder.iterdir())
    results = gearing.analyze(folder / "study.toml", jobs=1)
    assert sorted(folder.iterdir()) == there  # no report
    return results


def test_what_is_read_back_is_what_was_written(
    sample_run: tuple[Path, str], tree: dict[str, Any]
) -> None:
    results = read_results(sample_run[0])
    again = results.tree()
    assert json.dumps(again) == json.dumps({key: tree[key] for key in tree if key != "files"})


def test_messages_come_back_as_messages(sample_run: tuple[Path, str]) -> None:
    results = read_results(sample_run[0] / "results.json")
    told = [one.told for one in results.warnings]
    assert told
    assert all(isinstance(one, Message) for one in told)
    assert results.fuel.change_percent.adjusted.value is not None


def test_the_page_of_what_is_read_back_is_the_page_of_what_was_in_memory(
    found: Results, tree: dict[str, Any]
) -> None:
    decoded = Results.from_tree(tree)
    for share in (False, True):
        drawn = render(decoded, {}, share=share, library="")
        assert drawn == render(found, {}, share=share, library="")


def test_without_an_output_folder(sample_run: tuple[Path, str], found: Results) -> None:
    """`gearing.analyze` finds what the command wrote."""
    assert found.tree() == gearing.read_results(sample_run[0]).tree()


def test_the_committed_schema_is_that_of_the_types() -> None:
    committed = (resources.files("gearing") / "guide" / "results.schema.json").read_text()
    assert json.loads(committed) == results_schema()


def test_the_schema_holds_for_the_sample_and_not_for_anything(tree: dict[str, Any]) -> None:
    checker = jsonschema.Draft202012Validator(results_schema())
    assert [error.message for error in checker.iter_errors(tree)] == []
    assert list(checker.iter_errors(tree | {"schema": "two"}))
    assert list(checker.iter_errors({key: tree[key] for key in tree if key != "fuel"}))


def test_a_message_that_the_catalogue_no_longer_has_stands_as_its_text(
    tree: dict[str, Any], tmp_path: Path
) -> None:
    """Results of another version lie in folders that this one runs into again."""
    older = copy.deepcopy(tree)
    pointer = next(at for at in older["messages"] if at.startswith("/warnings/0/text"))
    older["messages"][pointer] |= {"code": "a-code-of-another-version"}
    path = tmp_path / "results.json"
    path.write_text(json.dumps(older), encoding="utf-8")
    kept = read(path)
    assert kept is not None
    assert kept["warnings"][0]["text"] == tree["warnings"][0]["text"]
    with pytest.raises(ValueError, match="another program version"):
        read_results(path)


def test_another_file_is_no_results(tmp_path: Path) -> None:
    other = tmp_path / "results.json"
    other.write_text('{"schema": 1}', encoding="utf-8")
    with pytest.raises(ValueError, match="schema 2"):
        read_results(other)
    other.write_text('{"schema": 2, "messages": {}}', encoding="utf-8")
    with pytest.raises(ValueError, match="another program version"):
        read_results(other)
