"""Rows of finished cells set in columns on a terminal, or turned where those would be too wide."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Container, Sequence

USUAL_WIDTH = 80  # columns, where no terminal says its own
_GAP = 2
_NARROWEST = 14  # columns that a cell of words is wrapped to
_LOW = 2  # lines of a heading
_BLANK = ("", "-")
_COPIED = re.compile(r"\s*(gearing |\S.* = )")


def wrapped(words: str, width: int | None, indent: str = "") -> list[str]:
    """Words as lines of at most `width`, those after the first led by `indent`."""
    if width is None:
        return [words]
    return textwrap.wrap(words, width, subsequent_indent=indent, break_on_hyphens=False) or [""]


def reflowed(text: str, width: int | None) -> str:
    """A text whose lines are wrapped, each under its own indent; those to be copied, commands and
    lines of a study file, stay whole."""
    if width is None:
        return text
    return "\n".join(
        part
        for line in text.split("\n")
        for part in ([line] if _COPIED.match(line) else _under(line, width))
    )


def _under(line: str, width: int) -> list[str]:
    indent = line[: len(line) - len(line.lstrip())]
    return wrapped(line, width, f"{indent}  ")


def in_columns(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    width: int | None,
    *,
    figures: Container[int] = (),
    indent: str = "",
) -> list[str]:
    """Lines of a table, `figures` (columns by place) to the right; at most `width` wide if given.

    Headings wrap; where `width` asks for it words do and columns draw nearer. Where that is not
    enough the table is turned, a column a row, or else each row is a paragraph that names its
    cells.
    """
    every = [tuple(head), *map(tuple, rows)]
    room = None if width is None else width - len(indent)
    places = range(len(head))
    words = frozenset(i for i in places if i not in figures)
    told = _columns(every, room, words, _NARROWEST)
    if told is None and len(rows) < len(head):
        turned = list(zip(*every, strict=True))
        told = _columns(turned, room, frozenset(range(len(every))), 0, right=True)
    if told is None:
        told = [line for row in rows for line in _paragraph(head, row, room)]
    return [f"{indent}{line}".rstrip() for line in told]


def _columns(
    every: Sequence[Sequence[str]],
    room: int | None,
    words: frozenset[int],
    narrowest: int,
    *,
    right: bool = False,
) -> list[str] | None:
    """A table, its headings first; `words` are the columns that may wrap, to the right too where
    `right` says so but for the first. None where it does not fit."""
    places = range(len(every[0]))
    widths = [max(_longest_word(every[0][i]), *(len(row[i]) for row in every[1:])) for i in places]
    gap = _GAP
    if room is not None:
        _narrow(widths, room - gap * (len(places) - 1), words, every, narrowest)
        gap = min(_GAP, (room - sum(widths)) // max(1, len(places) - 1))
        if gap < 1:
            return None
        _widen(widths, room - gap * (len(places) - 1), every[0])
    sides = [i not in words or (right and i > 0) for i in places]
    return [
        line
        for number, row in enumerate(every)
        for line in _set(row, widths, sides, gap, low=number == 0)
    ]


def _longest_word(cell: str) -> int:
    return max(map(len, cell.split()), default=0)


def _narrow(
    widths: list[int],
    room: int,
    words: frozenset[int],
    every: Sequence[Sequence[str]],
    narrowest: int,
) -> None:
    """Take from the widest column of words until all fits, or none has anything to give."""
    least = {i: max(narrowest, *(_longest_word(row[i]) for row in every)) for i in words}
    while sum(widths) > room:
        loose = [i for i in words if widths[i] > least[i]]
        if not loose:
            return
        widths[max(loose, key=lambda i: widths[i])] -= 1


def _widen(widths: list[int], room: int, head: Sequence[str]) -> None:
    """Give what is left to the column with the tallest heading, until none is tall."""

    def tall(i: int) -> int:
        return len(wrapped(head[i], max(widths[i], 1)))

    while sum(widths) < room:
        tallest = max(range(len(head)), key=tall)
        if tall(tallest) <= _LOW:
            return
        widths[tallest] += 1


def _set(
    row: Sequence[str], widths: Sequence[int], right: Sequence[bool], gap: int, *, low: bool
) -> list[str]:
    """One row, of as many lines as its tallest cell; `low` cells end on the last of them."""
    cells = [wrapped(cell, max(size, 1)) for cell, size in zip(row, widths, strict=True)]
    tall = max(map(len, cells))
    blank = ([""] * (tall - len(lines)) for lines in cells)
    filled = [
        [*more, *lines] if low else [*lines, *more]
        for lines, more in zip(cells, blank, strict=True)
    ]
    return [
        (" " * gap).join(
            cell.rjust(size) if figure else cell.ljust(size)
            for cell, size, figure in zip(line, widths, right, strict=True)
        )
        for line in zip(*filled, strict=True)
    ]


def _paragraph(head: Sequence[str], row: Sequence[str], width: int | None) -> list[str]:
    cells = zip(head[1:], row[1:], strict=True)
    told = "; ".join(f"{name}: {cell}" for name, cell in cells if cell not in _BLANK)
    return wrapped(f"{row[0]}: {told}", width, "  ")
