"""Columns beside positions that hold N and S, or E and W, whatever heads them."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from gearing.logs.assign import Candidate
from gearing.logs.positions import LETTERS, SIDES

_WORDS = {"N": "NORTH", "S": "SOUTH", "E": "EAST", "W": "WEST", "O": "OST"}


def beside_positions(found: list[Candidate]) -> frozenset[int]:
    """The columns of no known name before and behind a position none is headed as the side of, by
    index."""
    named = {c.target for c in found}
    at = [c.index for c in found if c.target in SIDES and SIDES[c.target] not in named]
    unknown = {c.index for c in found if c.target is None and c.rule is None}
    return frozenset(unknown & {one + step for one in at for step in (-1, 1)})


def sides_by_letters(found: list[Candidate], frame: pl.DataFrame) -> list[Candidate]:
    """The columns, those that hold nothing but the letters of a side known as that."""
    sides = {
        index: SIDES[name]
        for index in beside_positions(found)
        for name, letters in LETTERS.items()
        if f"c{index}" in frame.columns and _holds(frame[f"c{index}"], letters)
    }
    return [replace(c, target=sides.get(c.index, c.target)) for c in found] if sides else found


def _holds(cells: pl.Series, letters: tuple[str, ...]) -> bool:
    given = cells.drop_nulls()
    words = [*letters, *(_WORDS[letter] for letter in letters)]
    return len(given) > 0 and bool(given.str.strip_chars().str.to_uppercase().is_in(words).all())
