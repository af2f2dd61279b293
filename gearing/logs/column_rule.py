"""What a user says a heading means."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnRule:
    """What a heading means, where the heading itself leaves doubt."""

    heading: str
    channel: str | None  # None: leave this column alone
    unit: str | None = None
    files: str | None = None  # glob; None: every file
