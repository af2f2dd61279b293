"""One section of the page: what is said first, then charts, then tables, then remarks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gearing.report.chart import Chart
    from gearing.report.tables import Table
    from gearing.report.views.answer import Answer


@dataclass(frozen=True, slots=True)
class Item:
    """One remark of a list, what it holds point by point, and what it concerns in small type."""

    text: str
    detail: str = ""
    points: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """`answer`, `items` and `missing` are always in sight; all else folds away under `folded`,
    what it says to open it, where that is given."""

    key: str
    title: str
    short: str  # its name in the page's list of contents
    lead: tuple[str, ...] = ()
    charts: tuple[Chart, ...] = ()
    tables: tuple[Table, ...] = ()
    more: tuple[Table, ...] = ()
    items: tuple[Item, ...] = ()
    remarks: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()  # what could not be worked out, and what to add
    answer: Answer | None = None
    folded: str = ""


def filled(*tables: Table) -> tuple[Table, ...]:
    """The tables that have a row."""
    return tuple(one for one in tables if one.rows)


def drawn(*charts: Chart | None) -> tuple[Chart, ...]:
    """The charts there is something for."""
    return tuple(one for one in charts if one is not None)
