"""x."""

from __future__ import annotations
from typing import Any


def candidate_lines(a: Any, u: str) -> list[str]:
    return []
