"""Hostile names, values and texts: a fault in words, never a traceback."""

from __future__ import annotations

import random
import tomllib
from pathlib import Path

import pytest

from gearing.messages import GearingError
from gearing.study import load_study, log_files, slug
from gearing.study.document import key_lines


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("Bookmobile, new tires!", "bookmobile-new-tires"),
        ("Büchermobil Nr. 7", "buchermobil-nr-7"),
        ("../../etc", "etc"),
        ("a/b\\c", "a-b-c"),
        ("x" * 300, "x" * 60),
        ("<script>alert(1)</script>", "script-alert-1-script"),
    ],
)
def test_slug(name: str, wanted: str) -> None:
    assert slug(name) == wanted


@pytest.mark.parametrize("name", ["..", ".", "автобус", "巴士", "CON", "nul", "com1", "💥", "---"])
def test_slug_never_empty_nor_reserved(name: str) -> None:
    assert slug(name).startswith("study-")
    assert len(slug(name)) == 14


def test_slugs_of_foreign_names_differ() -> None:
    assert slug("автобус") != slug("巴士")


@pytest.mark.parametrize(
    "value", ['"x\\u0000y"', '["\\u0000"]', '["/"]', '["~"]', '["**"]', '["["]']
)
def test_hostile_patterns(write, example: str, value: str) -> None:
    with pytest.raises(GearingError) as caught:
        load_study(write(example.replace('["before/*.csv"]', value, 1)))
    assert {p.code for p in caught.value.problems} <= {
        "study-files",
        "study-type",
        "study-conflict",
    }


def test_hostile_file_names(write, example: str) -> None:
    for value in ["a" * 5000, "\\u0000", "../" * 50 + "etc/shadow/x", "/dev/null"]:
        with pytest.raises(GearingError):
            load_study(write(example.replace('"fillups.csv"', f'"{value}"', 1)))


def test_links_in_a_circle(write, example: str, folder: Path) -> None:
    (folder / "before" / "loop").symlink_to(folder / "before", target_is_directory=True)
    study = load_study(write(example.replace('["before/*.csv"]', '["before/**/*.csv"]', 1)))
    assert [path.name for path, side in log_files(study) if side == "before"] == [
        "trip_1.csv",
        "trip_2.csv",
    ]


def test_messages_hold_no_control_characters(write, example: str) -> None:
    text = example.replace("seed = 7", r'"\u001b[31mred\u202e" = "\u001b[0m"')
    with pytest.raises(GearingError) as caught:
        load_study(write(text))
    assert str(caught.value).isprintable()


def _mutate(text: str, generator: random.Random) -> str:
    characters = list(text)
    for _ in range(generator.randint(1, 6)):
        at = generator.randrange(len(characters))
        match generator.randrange(4):
            case 0:
                del characters[at]
            case 1:
                characters.insert(at, generator.choice("\"'[]{}=,.#\n\\-09eé\t\x7f"))
            case 2:
                characters[at] = generator.choice("\"'[]{}=,.#\n\\-09eé\t\x7f")
            case _:
                end = at + generator.randint(1, 30)
                characters[at:end] = characters[at:end][::-1]
    return "".join(characters)


def test_mutated_files_never_crash(write, example: str) -> None:
    generator = random.Random(20260314)
    refused = []
    for _ in range(1500):
        try:
            load_study(write(_mutate(example, generator)))
        except GearingError as error:
            refused.append(error)
    assert all(error.problems for error in refused)
    assert 500 < len(refused) < 1480


def test_values_of_every_kind_everywhere(write, example: str) -> None:
    """Each value of the example replaced by each kind of value."""
    values = ["1", "-1", "1.5", "inf", "nan", "true", '""', '"x"', "[]", "[1]", '["x"]', "{}"]
    values += [
        "[[]]",
        "[{}]",
        "2026-03-14",
        "09:30:00",
        "2026-03-14T09:30:00Z",
        "10000000000000000000",
    ]
    lines = example.splitlines()
    problems = []
    for number, line in enumerate(lines):
        if " = " not in line or line.startswith("["):
            continue
        key = line.partition(" = ")[0]
        for value in values:
            text = "\n".join([*lines[:number], f"{key} = {value}", *lines[number + 1 :]])
            try:
                load_study(write(text))
            except GearingError as error:
                problems.extend(error.problems)
    assert len(problems) > 500
    assert [p for p in problems if p.first_line is None and p.message != "name is missing."] == []


def test_key_lines_against_plain_search(example: str) -> None:
    lines = key_lines(example)
    source = example.splitlines()
    for path, line in lines.items():
        if isinstance(path[-1], int) and not source[line - 1].startswith("[["):
            continue  # an entry of an array of values
        names = [part for part in path if isinstance(part, str)]
        assert names[-1] in source[line - 1]
    assert lines["load", 1, "towing"] == source.index("towing = true") + 1
    assert (
        lines["columns", "Temp", 1, "channel"]
        == source.index('channel = "coolant_temperature"') + 1
    )


def test_key_lines_pass_over_strings_and_comments() -> None:
    text = '''a = """
b = 1
""" # c = 2
d = [ # e = 3
  "]",
  'x',
]
"f = g".h = 4
[ "t # u" ] # [v]
i = {j = 1, k = "}"}
'''
    tomllib.loads(text)
    assert key_lines(text) == {
        ("a",): 1,
        ("d",): 4,
        ("d", 0): 5,
        ("d", 1): 6,
        ("f = g",): 8,
        ("f = g", "h"): 8,
        ("t # u",): 9,
        ("t # u", "i"): 10,
    }
