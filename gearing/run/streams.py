"""The standard streams, whatever the shell made of them."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

from gearing.messages import GearingError, Problem, UserText, message, problem_of

if TYPE_CHECKING:
    from gearing.report.lines import Line


NARROWEST = 40  # columns of a terminal that anything is set for


def say(text: str) -> None:
    """To standard error, where there is one that takes it."""
    with contextlib.suppress(OSError, ValueError):
        click.echo(text, err=True)


def print_text(text: str) -> None:
    """To standard output, at once, so that what cannot be written is told here and not at exit."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")  # names need not be text
    try:
        click.echo(text)
        if sys.stdout is not None:
            sys.stdout.flush()
    except BrokenPipeError:
        drop_output()  # whoever read it has enough
    except (OSError, ValueError) as error:
        drop_output()
        raise GearingError((not_printed(error),)) from None


def _on_terminal() -> bool:
    return sys.stdout is not None and sys.stdout.isatty()


def screen_width() -> int | None:
    """Columns of the terminal, or as COLUMNS says; None where nothing is so wide or narrow."""
    if not _on_terminal() and "COLUMNS" not in os.environ:
        return None
    return max(NARROWEST, shutil.get_terminal_size().columns)


def print_lines(lines: Iterable[Line]) -> None:
    """Lines wrapped to the terminal's width and coloured there; elsewhere each as it is."""
    from gearing.report.lines import printed

    width = screen_width()
    colour = _on_terminal() and "NO_COLOR" not in os.environ and os.environ.get("TERM") != "dumb"
    print_text(printed(lines, width=width, colour=colour))


def drop_output() -> None:
    """Standard output to nowhere: what is left in its buffer must not fail again at exit."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def not_printed(error: Exception) -> Problem:
    """Why standard output took no more."""
    words = UserText(str(getattr(error, "strerror", None) or error), "system")
    told = message("output-not-written/printed", system=words)
    return problem_of(told, file="standard output")


def open_streams() -> None:
    """Where the shell closed a standard stream, nowhere in its place: the next file opened would
    take its number, and what is printed would go into that file."""
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest number that is free
