"""A figure for each side of the change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class BySide(Generic[T]):
    """The same thing before the change and after it."""

    before: T
    after: T
