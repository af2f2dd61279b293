"""One section of the page: what is said first, then charts, then tables, then remarks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gearing.report.chart import Chart
    from gearing.report.tables import Table


@dataclass(frozen=True, slots=True)
class Item:
    """One remark of a list, and what it concerns in small type."""

    text: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    key: str
    title: str
    short: str  # its name in the page's list of contents
    lead: tuple[str, ...] = ()
    charts: tuple[Chart, ...] = ()
    tables: tuple[Table, ...] = ()
    more: tuple[Table, ...] = ()  # folded away on the screen, open in print
    items: tuple[Item, ...] = ()
    remarks: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()  # what could not be worked out, and what to add
