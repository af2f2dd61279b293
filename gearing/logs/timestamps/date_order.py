"""Day, month or year first, for logs whose own dates leave it open: by others of the recorder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from gearing.messages import Items, UserText, message
from gearing.messages.render import Field

OPEN = "open"
DAY_FIRST, MONTH_FIRST, YEAR_FIRST = "day first", "month first", "year first"
# where the year, the month and the day of a date of three numbers stand, from 1
ORDERS = {DAY_FIRST: (3, 2, 1), MONTH_FIRST: (3, 1, 2), YEAR_FIRST: (1, 2, 3)}


@dataclass(frozen=True, slots=True)
class DateOrder:
    """An order that other logs with the same headings prove, and which they are."""

    order: str
    proved_by: Items


class Dated(Protocol):
    """Of a log that was read: its headings, and what its own dates prove or leave open."""

    @property
    def file(self) -> str:
        """Name of the log."""

    @property
    def headings(self) -> tuple[str, ...]:
        """Its headings, by which a recorder is known."""

    @property
    def date_order(self) -> str:
        """Order of day, month and year in its dates; empty where open."""


def settled_orders(logs: Sequence[Dated]) -> dict[int, DateOrder]:
    """For each log left open, by index, the order that the logs with its headings prove; only
    where all of them that prove any prove the same."""
    proofs: dict[tuple[str, ...], dict[str, list[str]]] = {}
    for log in logs:
        if log.date_order in ORDERS:
            proofs.setdefault(log.headings, {}).setdefault(log.date_order, []).append(log.file)
    found: dict[int, DateOrder] = {}
    for index, log in enumerate(logs):
        proved = proofs.get(log.headings, {}) if log.date_order == OPEN else {}
        if len(proved) == 1:
            ((order, files),) = proved.items()
            found[index] = DateOrder(order, shortened(files))
    return found


def shortened(files: Sequence[str]) -> Items:
    """The first of these files, and how many more there are."""
    first: tuple[Field, ...] = (UserText(files[0], "file"),)
    more = len(files) - 1
    return Items((*first, message("more-files", count=more)) if more else first)
