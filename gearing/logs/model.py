"""What reading one log gives: samples, how each column was read, and what was set aside."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import polars as pl

from gearing.messages import Message, Problem

How = tuple[Message, ...]  # how a column was read, or why it is not used


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """How the file is written."""

    kind: str  # table | sparse table | long table | GPX | NMEA 0183 | unknown
    encoding: str = ""
    compression: str = ""  # "" | gzip | zip
    delimiter: str = ""
    decimal: str = "."
    heading_line: int | None = None  # 1-based
    units_line: int | None = None
    line_end: str = "LF"
    time_form: tuple[Message, ...] = ()
    local: bool = False  # the times name no zone: the study's is taken, or UTC
    heading_lines: int = 0  # of all the file's blocks of headings, units rows included


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """How one heading was read.

    `channel` is None where the column is not used, then `how` says why. `low`, `high` and `step`
    are in the channel's own unit, of a column that is not known as its first rows have them;
    `step` is the resolution a rounded channel is written in (whole km/h, whole mph), None where
    the values are finer. `filled` is a share of 0 to 1.
    """

    heading: str
    channel: str | None
    unit: str | None
    how: How
    filled: float = 0.0
    low: float | None = None
    high: float | None = None
    step: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One log, read.

    `samples` has `time` (UTC), `line` (1-based source line) and a Float64 column for each
    channel present, in ascending time, null where a row does not carry the channel.
    `rows_read` = `rows_used` + the counts of `set_aside_rows`, always. `set_aside_values` are
    single values made null in rows that were used. A row is a non-blank record after the
    headings.
    """

    file: str
    samples: pl.DataFrame
    rows_read: int
    rows_used: int
    set_aside_rows: tuple[Problem, ...]
    set_aside_values: tuple[Problem, ...]
    repairs: tuple[Problem, ...]
    questions: tuple[Problem, ...]
    columns: tuple[Column, ...]
    dialect: Dialect
    good_for: tuple[str, ...] = ()
    missing: dict[str, tuple[Message, ...]] = field(default_factory=dict)
    date_order: str = ""  # as the file's own dates prove it; "open" where they leave it so

    @property
    def headings(self) -> tuple[str, ...]:
        """The headings, in the order of the file."""
        return tuple(column.heading for column in self.columns)

    @property
    def failures(self) -> tuple[Problem, ...]:
        """Why the file as a whole could not be used; empty where it was."""
        return tuple(p for p in self.set_aside_rows if p.severity == "error")


class Sampled(Protocol):
    """Of a reading, what trips are made from."""

    @property
    def file(self) -> str:
        """Name of the log."""

    @property
    def samples(self) -> pl.DataFrame:
        """Its rows, columns named as channels."""


def empty_samples() -> pl.DataFrame:
    """Samples of a log that gave none."""
    return pl.DataFrame(schema={"time": pl.Datetime("us", "UTC"), "line": pl.UInt32})
