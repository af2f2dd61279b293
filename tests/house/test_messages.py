"""The catalogue of messages: each call fills its wording, each is used, and shown safely."""

from __future__ import annotations

import ast
import pickle
import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest

from gearing.analysis.fuel.model import Verdict as FuelVerdict
from gearing.analysis.mountain.result import Verdict as RouteVerdict
from gearing.messages.audience import word
from gearing.messages.catalogue import CATALOGUE
from gearing.messages.display import Display
from gearing.messages.fields import Items, UserText
from gearing.messages.plain import from_plain, to_plain
from gearing.messages.problems import MessageError
from gearing.messages.render import Field, Message, Renderer
from gearing.messages.template import PLACEHOLDER

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


def test_the_examples_fill_the_wordings() -> None:
    assert [c for c in CODES if frozenset(CATALOGUE[c].example) != CATALOGUE[c].placeholders] == []


@pytest.mark.parametrize("reader", READERS)
def test_the_examples_are_shown_to_every_reader(reader: str) -> None:
    for code in CODES:
        shown = READERS[reader].text(example(code)) + READERS[reader].remedy(example(code))
        assert shown, code
        assert "{" not in shown, code
        assert "  " not in shown, code
        if reader == "shared":
            assert not hidden(example(code)) & set(re.findall(r"[\w.-]+", shown)), code


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


def test_messages_survive_being_written_out() -> None:
    assert [c for c in CODES if from_plain(to_plain(example(c))) != example(c)] == []


def test_no_wording_holds_a_figure_with_a_unit_of_its_own() -> None:
    """Such figures are fields: else readers in other units would have them as they are."""
    figure = re.compile(r"\d (?:km/h|km|m|mm|kg|L|K|°C|degC|mi|mph|ft|lb|gal)\b(?! is)")
    bare = {c: PLACEHOLDER.sub("", one.text + one.remedy) for c, one in CATALOGUE.items()}
    assert [code for code, text in bare.items() if figure.search(text)] == []


def test_words_for_the_audience_are_known() -> None:
    for template in CATALOGUE.values():
        for at, name, _ in PLACEHOLDER.findall(template.text + template.remedy):
            if at:
                assert word(name, "changed"), template.code
                assert word(name, "control"), template.code


@pytest.mark.parametrize("name", ["28", "12 km", "new tires", "<b>x</b>", "a.csv", "{days}"])
@pytest.mark.parametrize("reader", ["metric", "us", "control"])
def test_users_names_come_out_as_they_are(name: str, reader: str) -> None:
    told = Message("smoothed-profile", (("routes", Items((UserText(name),))),))
    assert f"elevation of {name} is" in READERS[reader].text(told)


def test_an_error_with_a_message_survives_the_way_between_processes() -> None:
    error = MessageError(example("no-size/form"))
    again = pickle.loads(pickle.dumps(error))
    assert isinstance(again, MessageError)
    assert again.told == error.told
    assert str(again) == str(error.told)


@pytest.mark.parametrize("name", ["28", "12 km", "new tires", "<b>x</b>", "a.csv"])
def test_a_shared_page_replaces_names_whole(name: str) -> None:
    reader = Renderer(trips={name: "before 4"})
    shown = reader.field(
        Items((UserText(name, "trip"), UserText("b", "trip"), UserText("c.csv", "file")))
    )
    assert shown == "before 4, a trip and a file"


# parts whose every sentence stands in the catalogue
WITHOUT_PROSE = (
    "analysis/candidates",
    "analysis/fleet.py",
    "analysis/fleet_warnings.py",
    "analysis/fuel",
    "analysis/mountain",
    "analysis/speed",
    "analysis/identification",
    "analysis/final_drive",
    "analysis/gearing_table.py",
    "analysis/levels.py",
    "analysis/outlier_messages.py",
    "analysis/outliers.py",
    "analysis/pooling.py",
    "analysis/sides.py",
    "analysis/sizes.py",
    "analysis/trip_figures.py",
    "trips",
    "vehicle",
    "statistics",
    "logs",
    "run",
    "study",
)
# words that logs and study files are written in, not what is told of them
VOCABULARIES = {
    "study/starting.py",  # the study file that is written to be filled in
    "logs/headings.py",
    "logs/nmea.py",
    "logs/timestamps/dates.py",
    "logs/values.py",
    "logs/weather.py",
}
# data of more than two words, as `results.json` has them
DATA = {*get_args(FuelVerdict), *get_args(RouteVerdict)}
_WORD = re.compile(r"(?:[\[(\"']*)[A-Za-z][a-z']+[\])\"'.,:;!?]*")


def prose(source: str) -> Iterator[tuple[int, str]]:
    """Literal texts of three words or more, with their lines.

    Docstrings are for programmers, and so is what a built-in exception says: nothing a user can
    cause raises one (`MessageError` and `GearingError` carry messages).
    """
    tree = ast.parse(source)
    passed: set[int] = set()
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if isinstance(body, list) and body and isinstance(body[0], ast.Expr):
            passed.add(id(body[0].value))
        if isinstance(node, ast.Raise) and node.exc is not None and not made_of_message(node.exc):
            passed |= {id(one) for one in ast.walk(node.exc)}
    for node in ast.walk(tree):
        if id(node) in passed:
            continue
        if isinstance(node, ast.JoinedStr):
            passed |= {id(one) for one in ast.walk(node)}
            parts = [v.value if isinstance(v, ast.Constant) else "0" for v in node.values]
            found = "".join(map(str, parts))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            found = node.value
        else:
            continue
        if found in DATA:
            continue
        if sum(_WORD.fullmatch(part) is not None for part in found.split()) >= 3:
            yield node.lineno, found


def made_of_message(raised: ast.expr) -> bool:
    """Whether an exception that reaches the user is raised."""
    return (
        isinstance(raised, ast.Call)
        and isinstance(raised.func, ast.Name)
        and raised.func.id in {"GearingError", "MessageError"}
    )


@pytest.mark.parametrize("part", WITHOUT_PROSE)
def test_no_sentence_is_written_where_it_is_found(part: str) -> None:
    at = PACKAGE / part
    files = [at] if at.is_file() else sorted(at.rglob("*.py"))
    files = [one for one in files if one.relative_to(PACKAGE).as_posix() not in VOCABULARIES]
    assert files
    told = [
        f"{path.relative_to(PACKAGE)}:{line}: {text!r}"
        for path in files
        for line, text in prose(path.read_text(encoding="utf-8"))
        if not text.startswith(('"', "["))  # as a study file has it
    ]
    assert not told, "\n".join(told)


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('why = "no trip has engine speed"', 1),
        ('why = f"the study has no [{side}] period"', 1),
        ('why = "the tires" f" turn {x}" " alike"', 1),
        ('raise MessageError("no tire size given")', 1),
        ('raise GearingError((Problem(told="no axle ratio given"),))', 1),
        ('raise ValueError("values must be finite")', 0),
        ('"""The figures of a trip."""', 0),
        ('def f():\n    """The figures of a trip."""\n    return "the figures of it"', 1),
        ('a = [x for x in y if x == "cut or rounded"]', 1),
        ('line = f\'"{heading}" = {{ channel = "indicated_speed", unit = "{unit}" }}\'', 0),
        ('rule = "49 CFR 393.82"', 0),
        ('kind = "computer reprogrammed"', 0),
        ('told = message("no-axle-ratio")', 0),
        ('verdict = "cannot tell yet"', 0),
    ],
)
def test_prose_is_known_when_seen(source: str, found: int) -> None:
    assert len(list(prose(source))) == found
