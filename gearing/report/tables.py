"""Tables: those of the page, and CSV cells that no spreadsheet takes for a formula."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import polars as pl

Cell = str | float | int | None

Row = TypeVar("Row")

_STARTS_A_FORMULA = r"^[=+\-@\t\r]"
_BLANK = ("", "-", None)
_IS_A_NUMBER = r"^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$"


def csv_safe(frame: pl.DataFrame) -> pl.DataFrame:
    """The frame with every text that would start a formula led by an apostrophe.

    What a spreadsheet takes for a formula begins with `=`, `+`, `-`, `@`, a tab or a carriage
    return (common practice, no source). Texts that are plain numbers stay as they are. Lists are
    joined with `; ` first, since a CSV has no lists.
    """
    lists = [name for name, kind in frame.schema.items() if isinstance(kind, pl.List)]
    frame = frame.with_columns(
        pl.col(name).cast(pl.List(pl.String)).list.join("; ") for name in lists
    )
    texts = [name for name, kind in frame.schema.items() if kind in (pl.String, pl.Categorical)]
    return frame.with_columns(_safe(pl.col(name).cast(pl.String)).alias(name) for name in texts)


def _safe(cell: pl.Expr) -> pl.Expr:
    risky = cell.str.contains(_STARTS_A_FORMULA) & ~cell.str.contains(_IS_A_NUMBER)
    return pl.when(risky).then(pl.lit("'") + cell).otherwise(cell)


@dataclass(frozen=True, slots=True)
class Table:
    """A table as shown: cells are finished text; `figures` says which columns are numbers."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    figures: frozenset[int] = frozenset()
    note: str = ""


def table(
    caption: str,
    head: Sequence[str],
    rows: Sequence[Sequence[str | None]],
    *,
    words: int = 1,
    figures: Sequence[int] | None = None,
    note: str = "",
    limit: int = 400,
) -> Table:
    """A table whose first `words` columns are words and all others figures, or `figures` alone.

    A cell without a figure shows as a dash; a column of nothing but such cells is left out.
    Rows beyond `limit` are left out too, and the note says how many.
    """
    shown = [i for i in range(len(head)) if i == 0 or any(row[i] not in _BLANK for row in rows)]
    numeric = set(range(words, len(head)) if figures is None else figures)
    left_out = len(rows) - limit
    if left_out > 0:
        note = f"{note} {left_out:,} more rows are in the files beside this page.".strip()
    return Table(
        caption,
        tuple(head[i] for i in shown),
        tuple(
            tuple("-" if (cell := row[i]) is None else cell for i in shown) for row in rows[:limit]
        ),
        frozenset(place for place, i in enumerate(shown) if i in numeric),
        note,
    )


def of_rows(
    caption: str,
    rows: Iterable[Row],
    columns: Sequence[tuple[str, Callable[[Row], str | None]]],
    *,
    words: int = 1,
    note: str = "",
    limit: int = 400,
) -> Table:
    """A table by its columns: each a heading, and what it tells of a row."""
    heads = [head for head, _ in columns]
    cells = [[tell(row) for _, tell in columns] for row in rows]
    return table(caption, heads, cells, words=words, note=note, limit=limit)
