"""Tables on terminals of 60 and 80 columns: every line fits, and no cell is lost."""

from __future__ import annotations

import re

import pytest
from candidate_studies import bus, compare
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from log_maker import write_logs

from gearing.cli import main
from gearing.messages.columns import in_columns, reflowed
from gearing.report.candidates_text import candidate_lines
from gearing.study.model import Candidate

WORDS = st.text("abcdefghij ", min_size=1, max_size=24).filter(lambda t: bool(t.strip()))
TABLES = st.integers(2, 9).flatmap(
    lambda columns: st.lists(
        st.lists(WORDS, min_size=columns, max_size=columns), min_size=2, max_size=6
    )
)


@settings(max_examples=150)
@given(TABLES, st.sampled_from([40, 60, 80]))
def test_every_line_fits_and_every_word_is_there(table: list[list[str]], width: int) -> None:
    head, *rows = table
    for figures in (frozenset[int](), frozenset(range(1, len(head)))):
        lines = in_columns(head, rows, width, figures=figures)
        assert max(map(len, lines)) <= width
        left = "".join(lines).replace(" ", "")
        for word in " ".join(cell for row in rows for cell in row).split():
            # a word may be parted between two lines of its cell, never dropped
            assert all(left.count(letter) >= word.count(letter) for letter in set(word))


def test_figures_stand_to_the_right_and_headings_on_their_last_line() -> None:
    lines = in_columns(("size", "turns a mile"), (("a", "5"), ("b", "629")), 30, figures={1})
    assert lines == ["       turns", "size  a mile", "a          5", "b        629"]


def test_lines_to_be_copied_are_never_broken() -> None:
    rule = '    "A heading that is long" = { channel = "indicated_speed", unit = "km/h" }'
    command = "  gearing inspect --write-study study.toml a-folder-with-a-long-name"
    told = "    words that are more than the forty columns of a narrow terminal hold"
    found = reflowed("\n".join([rule, command, told]), 40).split("\n")
    assert found[:2] == [rule, command]
    assert len(found) > 3
    assert all(len(line) <= 40 and line.startswith("    ") for line in found[2:])


@pytest.mark.parametrize("width", [60, 80])
def test_candidates_fit_the_terminal(width: int) -> None:
    found = compare(
        bus(
            Candidate(name="a name of more than eighteen letters", drive_tire="275/70R19.5"),
            Candidate(name="axle alone", axle_ratio=5.29),
        ),
        draws=8,
    )
    lines = candidate_lines(found, "us", width)
    assert max(map(len, lines)) <= width
    assert sum(line.startswith("Verdict") for line in lines) == 2 or width == 80


@pytest.mark.parametrize("width", ["60", "80"])
def test_tires_gears_and_inspect_fit_the_terminal(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch, width: str
) -> None:
    monkeypatch.setenv("COLUMNS", width)
    study = write_logs(tmp_path_factory.mktemp("narrow") / "study", 1, 60)
    commands = (
        ["tires", "245/70R19.5", "265/70R19.5"],
        ["tires", "245/70R19.5", "265/70R19.5", "275/70R19.5@598"],
        ["gears", str(study)],
        ["inspect", str(next(study.parent.rglob("*.csv")))],
    )
    for words in commands:
        found = CliRunner().invoke(main, words)
        assert found.exit_code == 0, found.output
        assert max(map(len, found.output.splitlines())) <= int(width), words


def test_what_is_told_without_logs_says_so(tmp_path_factory: pytest.TempPathFactory) -> None:
    study = write_logs(tmp_path_factory.mktemp("alone") / "study", 1, 60)
    told = CliRunner().invoke(main, ["gears", str(study)]).output.replace("\n", " ")
    assert "its logs are not read" in told
    text = re.sub(r"(?m)^logs = .*$", "", study.read_text("utf-8"))
    study.write_text(text, encoding="utf-8")
    told = CliRunner().invoke(main, ["gears", str(study)]).output
    assert "logs are not read" not in told
