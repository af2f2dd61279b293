"""Long tables, one value a row (time, parameter, value, unit), as sparse wide ones."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import polars as pl

from gearing.logs.assign import Candidate, candidates
from gearing.logs.column_rule import ColumnRule
from gearing.logs.ledger import Ledger, Lines
from gearing.messages import message
from gearing.units import find_unit


def is_long(found: list[Candidate]) -> bool:
    """A column names the parameter and another carries its value."""
    targets = [c.target for c in found]
    return "parameter" in targets and "value" in targets


def widen(
    frame: pl.DataFrame,
    lines: Lines,
    found: list[Candidate],
    rules: tuple[ColumnRule, ...],
    ledger: Ledger,
) -> tuple[pl.DataFrame, Lines, list[Candidate]]:
    """The same rows with one column a known parameter; the others' rows go to the ledger."""
    at = {c.target: c.column for c in reversed(found) if c.target}
    name = frame[at["parameter"]].str.strip_chars().fill_null("")
    unit = frame[at["unit"]] if "unit" in at else None
    names = name.unique(maintain_order=True).to_list()
    units = tuple(_unit_of(name, unit, n) for n in names)
    width = frame.width
    heading = next(c.heading for c in found if c.target == "parameter")
    spoken = tuple(_by_number(n, heading) for n in names)
    parameters = [
        replace(plain if plain.target or plain.rule else numbered, index=width + i, heading=n)
        for i, (n, plain, numbered) in enumerate(
            zip(
                names,
                candidates(tuple(names), units, rules),
                candidates(spoken, units, ()),
                strict=True,
            )
        )
    ]
    kept = [c for c in parameters if c.target is not None and c.target not in ("parameter",)]
    known = name.is_in([c.heading for c in kept])
    if not known.all():
        aside = ~known
        sample = name.filter(aside).head(1).to_list()[0]
        ledger.set_aside_rows(
            message("unknown-parameter"), np.asarray(lines)[aside.to_numpy()], sample
        )
    if unit is not None:
        strange = known & _in_another_unit(name, unit, dict(zip(names, units, strict=True)))
        ledger.set_aside_rows(message("other-unit"), np.asarray(lines)[strange.to_numpy()])
        known &= ~strange
    value = frame[at["value"]]
    wide = frame.with_columns(
        pl.select(pl.when(name == c.heading).then(value)).to_series().alias(c.column) for c in kept
    ).filter(known)
    clock = [c for c in found if c.target in ("time", "date", "elapsed")]
    missing = [c for c in parameters if c not in kept]
    wide = wide.with_columns(pl.lit(None, pl.String).alias(c.column) for c in missing)
    return wide, np.asarray(lines)[known.to_numpy()], [*clock, *parameters]


def _by_number(name: str, heading: str) -> str:
    """A bare number under a heading that says what is numbered: 84 under 'SPN' is 'SPN 84'."""
    standard = re.search(r"(?i)\b(spn|pid)\b", heading)
    return f"{standard[1]} {name}" if standard and re.fullmatch(r"[0-9A-Fa-f]+", name) else name


def _in_another_unit(name: pl.Series, unit: pl.Series, usual: dict[str, str]) -> pl.Series:
    """Where a parameter's value is in a known unit that is not its usual one."""
    pairs = pl.DataFrame({"name": name, "unit": unit}).unique().drop_nulls()
    others = [
        (parameter, written)
        for parameter, written in pairs.rows()
        if (one := find_unit(written)) and (most := find_unit(usual[parameter])) and one != most
    ]
    found = pl.DataFrame(others, schema=pairs.schema, orient="row").with_columns(other=True)
    both = pl.DataFrame({"name": name, "unit": unit})
    return both.join(found, on=["name", "unit"], how="left", maintain_order="left")[
        "other"
    ].fill_null(False)


def _unit_of(name: pl.Series, unit: pl.Series | None, parameter: str) -> str:
    if unit is None:
        return ""
    given = unit.filter(name == parameter).drop_nulls()
    return str(given.mode().sort().to_list()[0]) if len(given) else ""
