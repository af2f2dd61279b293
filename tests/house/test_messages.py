"""The catalogue of messages: each call fills its wording, each is used, and shown safely."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from gearing.messages.audience import WORDS
from gearing.messages.catalogue import CATALOGUE
from gearing.messages.display import Display
from gearing.messages.fields import Items, UserText
from gearing.messages.plain import from_plain, to_plain
from gearing.messages.render import Field, Message, Renderer
from gearing.messages.template import PLACEHOLDER, Template

PACKAGE = Path(__file__).resolve().parents[2] / "gearing"
READERS = {
    "metric": Renderer(),
    "us": Renderer(Display("us")),
    "control": Renderer(role="control"),
    "shared": Renderer(trips={}),
}
CODES = sorted(CATALOGUE)


def calls() -> Iterator[tuple[str, str, frozenset[str]]]:
    """Every message made in the package: where, its code, its fields."""
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id == "message"
            ):
                where = f"{path.relative_to(PACKAGE)}:{node.lineno}"
                first = node.args[0]
                given = frozenset(k.arg or "" for k in node.keywords)
                for code in literals(first):
                    yield where, code, given


def literals(node: ast.expr) -> Iterator[str]:
    """The codes a call may name: a literal, or one of two."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from literals(node.body)
        yield from literals(node.orelse)
    else:
        raise AssertionError(f"a message's code is written out, not {ast.unparse(node)}")


def test_each_message_made_fills_its_wording() -> None:
    made = list(calls())
    assert made
    wrong = [
        f"{where}: {code} takes {sorted(CATALOGUE[code].placeholders)}, given {sorted(given)}"
        if code in CATALOGUE
        else f"{where}: {code} is not in the catalogue"
        for where, code, given in made
        if code not in CATALOGUE or CATALOGUE[code].placeholders != given
    ]
    assert not wrong, "\n".join(wrong)


def test_each_wording_is_made_somewhere() -> None:
    assert set(CATALOGUE) == {code for _, code, _ in calls()}


def example(code: str) -> Message:
    return Message(code, tuple(CATALOGUE[code].example.items()))


@pytest.mark.parametrize("code", CODES)
def test_the_example_fills_the_wording(code: str) -> None:
    assert frozenset(CATALOGUE[code].example) == CATALOGUE[code].placeholders


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("code", CODES)
def test_the_example_is_shown_to_every_reader(code: str, reader: str) -> None:
    shown = READERS[reader].text(example(code)) + READERS[reader].remedy(example(code))
    assert shown
    assert "{" not in shown
    assert "  " not in shown
    if reader == "shared":
        assert not hidden(example(code)) & set(re.findall(r"[\w.-]+", shown))


def hidden(told: Message) -> set[str]:
    """The words of a message's fields that a shared page must not show."""
    return {
        one.text
        for one in flat(value for _, value in told.fields)
        if isinstance(one, UserText) and one.kind in {"file", "trip", "value", "line"}
    }


def flat(values: Iterator[Field]) -> Iterator[Field]:
    for value in values:
        if isinstance(value, Items):
            yield from flat(iter(value.items))
        elif isinstance(value, Message):
            yield from flat(one for _, one in value.fields)
        else:
            yield value


@pytest.mark.parametrize("code", CODES)
def test_a_message_survives_being_written_out(code: str) -> None:
    assert from_plain(to_plain(example(code))) == example(code)


@pytest.mark.parametrize("code", CODES)
def test_no_wording_holds_a_figure_with_a_unit_of_its_own(code: str) -> None:
    """Such figures are fields: else readers in other units would have them as they are."""
    template: Template = CATALOGUE[code]
    bare = PLACEHOLDER.sub("", template.text + template.remedy)
    assert not re.search(r"\d (?:km/h|km|m|mm|kg|L|K|°C|degC|mi|mph|ft|lb|gal)\b(?! is)", bare)


def test_words_for_the_audience_are_known() -> None:
    for template in CATALOGUE.values():
        for at, name, _ in PLACEHOLDER.findall(template.text + template.remedy):
            assert not at or name in WORDS, f"{template.code}: {name}"


@pytest.mark.parametrize("name", ["28", "12 km", "new tires", "<b>x</b>", "a.csv", "{days}"])
@pytest.mark.parametrize("reader", ["metric", "us", "control"])
def test_users_names_come_out_as_they_are(name: str, reader: str) -> None:
    told = Message("smoothed-profile", (("routes", Items((UserText(name),))),))
    assert f"elevation of {name} is" in READERS[reader].text(told)


@pytest.mark.parametrize("name", ["28", "12 km", "new tires", "<b>x</b>", "a.csv"])
def test_a_shared_page_replaces_names_whole(name: str) -> None:
    reader = Renderer(trips={name: "before 4"})
    shown = reader.field(
        Items((UserText(name, "trip"), UserText("b", "trip"), UserText("c.csv", "file")))
    )
    assert shown == "before 4, a trip and a file"
