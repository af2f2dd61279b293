"""More in one file than one log: two tables side by side, the rows of several vehicles."""

from __future__ import annotations

import re
from dataclasses import replace

import polars as pl

from gearing.logs.archives import LogFileError
from gearing.logs.assign import TIME_ROLES, Candidate
from gearing.logs.headings import fold
from gearing.logs.ledger import Ledger, Lines
from gearing.messages import UserText, message

# What heads a column that says whose row it is (common practice, no source)
_WHOSE = {
    "vehicle", "vehicle id", "vehicle no", "vehicle number", "vehicle name", "unit id", "unit no",
    "unit number", "vin", "plate", "plate number", "license plate", "licence plate",
    "registration", "registration number", "reg no", "asset", "asset id", "asset name",
    "device id", "device serial", "imei", "truck", "truck id", "truck no", "bus no",
    "fahrzeug", "fahrzeug id", "kennzeichen", "immatriculation", "vehicule", "matricula",
    "vehiculo", "targa", "veicolo", "kenteken", "voertuig", "placa",
}  # fmt: skip
MIN_ROWS, MIN_SHARE = 3, 0.01  # of another's rows; fewer are damaged cells


def says_whose(candidate: Candidate) -> bool:
    """Whether the column names the vehicle, or the recorder, of each row."""
    return candidate.target is None and fold(candidate.heading) in _WHOSE


def refuse_several(found: list[Candidate], frame: pl.DataFrame) -> None:
    """Rows of several vehicles are no log: as one they would be a drive that nobody drove.

    Raises
    ------
    LogFileError
        a column says so.
    """
    for candidate in filter(says_whose, found):
        if candidate.column not in frame.columns:
            continue
        rows = frame.get_column(candidate.column).drop_nulls().value_counts(sort=True)["count"]
        least = max(MIN_ROWS, MIN_SHARE * frame.height)
        vehicles = int((rows >= least).sum())
        if vehicles > 1:
            column = UserText(candidate.heading, "column")
            raise LogFileError(message("several-vehicles", column=column, vehicles=vehicles))


def first_table(
    found: list[Candidate], frame: pl.DataFrame, lines: Lines, ledger: Ledger
) -> list[Candidate]:
    """The columns without those of a second table that stands beside the first: a time under the
    same heading again, and not the same time, begins it. Its values are set aside."""
    begins: dict[str, Candidate] = {}
    for at, candidate in enumerate(found):
        if candidate.target not in TIME_ROLES:
            continue
        first = begins.setdefault(re.sub(r" #\d+$", "", candidate.heading), candidate)
        cells, other = (frame.get_column(c.column) for c in (first, candidate))
        if first is not candidate and other.count() and not cells.equals(other):
            return [*found[:at], *(_beside(c, frame, lines, ledger) for c in found[at:])]
    return found


def _beside(c: Candidate, frame: pl.DataFrame, lines: Lines, ledger: Ledger) -> Candidate:
    if c.target is None:
        return c
    given = frame.get_column(c.column).is_not_null().to_numpy()
    ledger.set_aside_values(message("second-table"), c.heading, lines[given])
    return replace(c, target=None, how=(message("column-of-second-table"),))
