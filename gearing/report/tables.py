"""Tables: those of the page, and CSV cells that no spreadsheet takes for a formula."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, Self, TypeVar

import polars as pl

from gearing.messages.columns import in_columns
from gearing.report.phrases import percent_of, said, shown, with_interval

if TYPE_CHECKING:
    from gearing.messages import Text
    from gearing.statistics.estimate import Estimate

Row = TypeVar("Row")
Key = TypeVar("Key")

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

    def lines(self, width: int) -> list[str]:
        """The table on a terminal of so many columns, without caption and note."""
        return in_columns(self.head, self.rows, width, figures=self.figures)


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


class Grid(Generic[Row]):
    """A table made of rows column by column; words stand left, figures right."""

    def __init__(self, rows: Iterable[Row]) -> None:
        self._rows = list(rows)
        self._heads: list[str] = []
        self._columns: list[list[str | None]] = []
        self._figures: list[int] = []

    def words(self, head: str, tell: Callable[[Row], Text | None]) -> Self:
        """A column of words."""
        self._heads.append(head)
        self._columns.append([said(tell(row)) or None for row in self._rows])
        return self

    def told(self, head: str, tell: Callable[[Row], str | None]) -> Self:
        """A column of figures told already."""
        self._figures.append(len(self._heads))
        return self.words(head, tell)

    def figure(
        self,
        head: str,
        of: Callable[[Row], float | None],
        places: int = 0,
        turn: Callable[[float], float | None] | None = None,
        *,
        sign: bool = False,
    ) -> Self:
        """A column of figures, each through `turn`; a dash where one is not known."""
        return self.told(head, lambda row: shown(of(row), places, turn, sign=sign))

    def percent(self, head: str, share: Callable[[Row], float | None]) -> Self:
        """A column of shares of one, as whole percent."""
        return self.told(head, lambda row: percent_of(share(row)))

    def spread(
        self,
        head: str,
        of: Callable[[Row], Estimate],
        places: int,
        turn: Callable[[float], float] | None = None,
        *,
        sign: bool = False,
    ) -> Self:
        """A column of estimates with their intervals."""

        def tell(row: Row) -> str:
            """One cell of it."""
            found = of(row)
            return with_interval(found if turn is None else found.map(turn), places, sign=sign)

        return self.told(head, tell)

    def each(self, keys: Iterable[Key], add: Callable[[Self, Key], object]) -> Self:
        """What `add` adds, for each of several keys."""
        for key in keys:
            add(self, key)
        return self

    def table(self, caption: str, *, note: str = "", limit: int = 400) -> Table:
        """The table, with columns of nothing but blanks left out."""
        rows = list(zip(*self._columns, strict=True))
        return table(caption, self._heads, rows, figures=self._figures, note=note, limit=limit)
