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
        return self.before if side == "before" else self.after

    def map(self, change: Callable[[T], U]) -> BySide[U]:
        return BySide(change(self.before), change(self.after))


def by_side(make: Callable[[Literal["before", "after"]], U]) -> BySide[U]:
    return BySide(make("before"), make("after"))
