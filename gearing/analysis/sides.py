"""A figure for each side of the tire change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Literal, TypeVar

T = TypeVar("T")
U = TypeVar("U")

SIDES: tuple[Literal["before"], Literal["after"]] = ("before", "after")


@dataclass(frozen=True, slots=True)
class BySide(Generic[T]):
    before: T
    after: T

    def of(self, side: str) -> T:
        """What belongs to the period `before`, or for any other word to `after`."""
        return self.before if side == "before" else self.after

    def map(self, change: Callable[[T], U]) -> BySide[U]:
        """The same for both periods through a function."""
        return BySide(change(self.before), change(self.after))


def by_side(make: Callable[[Literal["before", "after"]], U]) -> BySide[U]:
    """What `make` gives for each period."""
    return BySide(make("before"), make("after"))
