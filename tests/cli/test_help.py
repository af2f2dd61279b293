"""Every command explains itself, stands in the README, and starts at once."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from gearing.cli import main

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")
GUIDE = [path.read_text("utf-8") for path in sorted((ROOT / "gearing" / "guide").glob("*.md"))]


@pytest.mark.parametrize("name", sorted(main.commands))
def test_each_command_has_help_with_an_example_and_a_place_in_the_readme(name: str) -> None:
    found = CliRunner().invoke(main, [name, "--help"])
    assert found.exit_code == 0
    assert f"Example: gearing {name}" in found.output
    assert f"gearing {name}" in README
    command = main.commands[name]
    options = [one for one in command.params if isinstance(one, click.Option)]
    assert all(option.help for option in options), "an option without a word of help"


@pytest.mark.parametrize("name", sorted(main.commands))
def test_options_of_readme_and_guide_exist(name: str) -> None:
    known = {option for one in main.commands[name].params for option in one.opts}
    for line in "\n".join([README, *GUIDE]).splitlines():
        if line.strip().startswith(f"gearing {name} "):
            words = line.replace("[", " ").replace("]", " ").split()
            assert {word for word in words if word.startswith("--")} <= known


def test_a_near_miss_is_told_the_right_name() -> None:
    found = CliRunner().invoke(main, ["inspekt"])
    assert found.exit_code == 2
    assert "Did you mean 'inspect'?" in found.output
    found = CliRunner().invoke(main, ["run", "study.toml", "--unit", "us"])
    assert "--units" in found.output


def test_help_comes_in_a_fifth_of_a_second() -> None:
    # a bare interpreter is timed beside it, so that a busy machine does not fail the test
    def seconds(*command: str) -> float:
        began = time.perf_counter()
        subprocess.run([sys.executable, *command], check=True, capture_output=True)
        return time.perf_counter() - began

    rounds = [(seconds("-c", "pass"), seconds("-m", "gearing", "--help")) for _ in range(5)]
    bare = statistics.median(first for first, _ in rounds)
    helped = statistics.median(second for _, second in rounds)
    assert helped < max(0.2, 8 * bare)


def test_completion_is_there_for_three_shells() -> None:
    for shell in ("bash", "zsh", "fish"):
        done = subprocess.run(
            [sys.executable, "-c", "from gearing.cli import main; main(prog_name='gearing')"],
            env={"_GEARING_COMPLETE": f"{shell}_source", "PATH": "/usr/bin:/bin"},
            capture_output=True,
            text=True,
            check=False,
        )
        assert "_GEARING_COMPLETE" in done.stdout


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["report", "study.toml"], "candidates  Sizes and axle ratios"),
        (["study.toml"], "gearing run study.toml"),
        (["."], "gearing inspect ."),
        (["help"], "gearing --help"),
        (["version"], "gearing --version"),
        (["run"], "Example: gearing run sample_logs/study.toml"),
        (["run", "a.toml", "b.toml"], "Example: gearing run sample_logs/study.toml"),
        (["tires", "245/70R19.5"], "gearing tires 245/70R19.5 265/70R19.5"),
        (["inspect"], "gearing inspect trip.csv"),
        (["inspect", "study.toml"], "gearing run study.toml"),
        (["inspect", "--write-study", "x.toml"], "--write-study study.toml MY_LOGS"),
        (["run", "study.toml", "--units", "imperial"], "'us', 'metric'"),
        (["mountain", "--revers", "study.toml"], "--reverse"),
        (["guide", "study"], "Did you mean 'study-file'?"),
    ],
)
def test_wrong_words_are_answered_with_what_to_write(words: list[str], told: str) -> None:
    found = CliRunner().invoke(main, words)
    assert found.exit_code == 2
    assert told in found.output
