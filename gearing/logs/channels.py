"""The channels of a table as numbers in the program's units; doubtful cells to the ledger."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from gearing.logs.assign import Assignment, Candidate, ask_unit, rival_units
from gearing.logs.evidence import (
    COUNTED_FROM,
    COUNTS,
    is_fraction,
    speed_from_positions,
    speed_unit,
    unit_by_size,
    units_to_ask,
)
from gearing.logs.headings import STANDARD_UNITS, dimensions_of, quantity_of, unit_for
from gearing.logs.ledger import Ledger, Lines
from gearing.logs.model import How
from gearing.logs.positions import POSITION, SIDES, on_other_side, to_degrees, whole_degrees
from gearing.logs.thousands import without_thousands
from gearing.logs.timestamps.utc import UtcTimes
from gearing.logs.values import (
    Numbers,
    codes_and_outliers,
    in_unit,
    to_flags,
    to_gears,
    to_numbers,
    whole_steps,
)
from gearing.messages import Message, Span, UserText, message
from gearing.messages.display import places_of
from gearing.quantities import QUANTITIES
from gearing.units import BY_NAME, convert

FLAGS = ("lockup_engaged", "shift_in_process", "regeneration_active", "full", "partial", "missed")
PLAIN = ("deg", "rpm", "%", "-", "h", "s")  # units that go without saying
SHOWN = 200  # cells, that show how positions are written
SMALL_SPEED_MPS = 0.5
MAX_BEYOND, MIN_BEYOND = 0.2, 20  # of a column's values, that may be out of its range
SETTLED = "unit-settled"  # by the values, where neither heading nor standard gives it
# Where a unit stands: a scale, or what the values are of several readings
_SCALED = re.compile(
    r"(?i)[/*×]|\bx\s*\d|\d\s*x\b|\b(?:max|min)(?:imum)?\b|\bpeak\b|\braw\b|\bbits?\b"
)
# Where values from 0 to 1 are fractions, by the unit given: no engine runs at so little load
_LOADS = {"engine_load_percent": (None, "%", "-"), "accelerator_percent": (None, "-")}
COOLANT = "coolant_temperature_c"
# by the standards' numbers in the same counts as the coolant's: where that is so are these
OF_A_BYTE = ("intake_air_temperature_c", "ambient_temperature_c")
SPEEDS = ("gps_speed_mps", "indicated_speed_mps")
_ASKED = (message("column-asked/unit"),)
_UNIT_FROM = {
    "heading": (message("unit-from/heading"),),
    "units row": (message("unit-from/units-row"),),
    "study": (message("unit-from/study"),),
    "cells": (message("unit-from/cells"),),
    "size": (message("unit-settled/size"),),
}


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel: `values` in its own unit, `unit` the one it was written in, `blanks` whether
    any row was written without a value."""

    heading: str
    values: pl.Series
    unit: str
    how: How
    step: float | None = None
    blanks: bool = False


def read_channels(
    assignment: Assignment,
    frame: pl.DataFrame,
    lines: Lines,
    moments: UtcTimes,
    decimal: str,
    ledger: Ledger,
) -> tuple[dict[str, Channel], dict[int, How]]:
    """Channels by name, and for columns left out after all the reason by column index.

    Positions come first: the unit of a speed that names none is settled by them.
    """
    done: dict[str, Channel] = {}
    left: dict[int, How] = {}
    true_speed: pl.Series | None = None
    counted = {n: c for n, c in assignment.channels.items() if n not in POSITION}
    frame = without_thousands(counted, frame, decimal, ledger)
    first = (*POSITION, "gps_speed_mps", COOLANT)
    order = sorted(assignment.channels, key=lambda n: first.index(n) if n in first else len(first))
    scale, around = _form_of_positions(assignment, frame, decimal)
    for name in order:
        candidate = assignment.channels[name]
        if name in POSITION and scale and candidate.unit is None:
            candidate = replace(candidate, unit=scale, unit_how="size")
        if name in OF_A_BYTE and candidate.by_standard and candidate.unit is None:
            counts = COOLANT in done and done[COOLANT].unit == COUNTS
            candidate = replace(candidate, unit=COUNTS, unit_how="size") if counts else candidate
        cells = frame.get_column(candidate.column)
        side = assignment.sides.get(SIDES.get(name, ""))
        letters = frame[side.column] if side is not None else None
        numbers = read_numbers(name, cells, letters, decimal, around)
        if name in POSITION and on_other_side(candidate.heading, numbers.values):
            numbers = replace(numbers, values=-numbers.values)
        if name in POSITION and _partial(candidate, cells):
            left[candidate.index] = (message("column-without-degrees"),)
            given = lines[cells.is_not_null().to_numpy()]
            ledger.set_aside_values(message("partial-position"), candidate.heading, given)
            continue
        if name in SPEEDS and true_speed is None and (not candidate.unit or numbers.unit):
            true_speed = _true_speed(done, moments)
        channel = read_channel(name, candidate, numbers, cells, lines, ledger, true_speed)
        if not isinstance(channel, Channel):
            left[candidate.index] = channel
            continue
        done[name] = channel
        if name == "gps_speed_mps":
            true_speed = channel.values
    return done, left


def _form_of_positions(
    assignment: Assignment, frame: pl.DataFrame, decimal: str
) -> tuple[str | None, bool]:
    """The unit of whole numbers that latitude and longitude have in common, where one serves; and
    whether latitudes are plain degrees, so that longitudes beyond 180 are so as well."""
    sides = [assignment.channels[name] for name in POSITION if name in assignment.channels]
    heads = [to_numbers(frame.get_column(c.column).head(SHOWN), decimal).values for c in sides]
    if len(heads) < len(POSITION):
        return None, False
    low, high = heads[0].min(), heads[0].max()
    plain = isinstance(low, float) and isinstance(high, float) and -90 <= low <= high <= 90
    both = {*whole_degrees(heads[0])} & {*whole_degrees(heads[1])}
    return both.pop() if len(both) == 1 else None, plain


def read_channel(
    name: str,
    candidate: Candidate,
    numbers: Numbers,
    cells: pl.Series,
    lines: Lines,
    ledger: Ledger,
    true_speed: pl.Series | None = None,
    units: tuple[str, ...] | None = None,
) -> Channel | How:
    """One column in the unit of its quantity, doubtful values to the ledger; or why it is left
    out: its unit is not settled, then it is asked for (one of `units`), or is none of the
    quantity."""
    candidate = _against_counts(name, _against_cells(name, candidate, numbers), numbers)
    unit, how = _unit(name, candidate, numbers, true_speed)
    if unit is not None:
        channel = _channel(name, candidate, numbers, cells, unit, how, lines, ledger)
        if channel is not None:
            return channel
        how = _ASKED
    if how[0].topic == "column-asked":
        scales = whole_degrees(numbers.values) if name in POSITION else ()
        asked = candidate.rivals or scales or units or units_to_ask(name)
        ask_unit(candidate, name, asked, seen_range(numbers.values), ledger)
    if how[0].topic == "wrong-unit":
        given = lines[cells.is_not_null().to_numpy()]
        told = message("wrong-dimension", unit=UserText(str(candidate.unit)))
        ledger.set_aside_values(told, candidate.heading, given)
    return how


def _against_cells(name: str, candidate: Candidate, numbers: Numbers) -> Candidate:
    """The column with two units where its heading says one and its cells another, unless the
    study settles it or the cells agree with the units row."""
    inside = unit_for(name, numbers.unit) if numbers.unit is not None else None
    if inside is None or candidate.unit_how == "study":
        return candidate
    if inside.name in candidate.rivals:
        return replace(candidate, unit=inside.name, unit_how="cells", rivals=())
    rivals = rival_units(candidate.unit, inside.name)
    return replace(candidate, unit=None, rivals=rivals) if rivals else candidate


def _against_counts(name: str, candidate: Candidate, numbers: Numbers) -> Candidate:
    """The column with two units where it is said to be in degrees and no engine is so hot, but as
    counts of a bus it is warm."""
    if name != COOLANT or candidate.unit != "degC" or candidate.unit_how == "study":
        return candidate
    high = numbers.values.max()
    hot = isinstance(high, float) and high > COUNTED_FROM
    counts = hot and unit_by_size(name, numbers.values) == COUNTS
    return replace(candidate, rivals=("degC", COUNTS)) if counts else candidate


def read_numbers(
    name: str, cells: pl.Series, side: pl.Series | None, decimal: str, around: bool = False
) -> Numbers:
    """The cells of a quantity as numbers as written; `side` and `around` as in `to_degrees`."""
    if name in FLAGS:
        return to_flags(cells)
    if name == "gear":
        return to_gears(cells, decimal)
    if name in POSITION:
        return to_degrees(name, cells, side, decimal, around)
    return to_numbers(cells, decimal)


def _partial(candidate: Candidate, cells: pl.Series) -> bool:
    """Positions written as minutes and seconds without their degrees: `31:23.9` under a unit of
    degrees, minutes and seconds."""
    if ":" not in candidate.unit_text:
        return False
    parts = candidate.unit_text.count(":") + 1
    given = cells.drop_nulls().head(200).cast(pl.String)
    short = given.str.count_matches(":", literal=True) + 1 < parts
    return len(given) > 0 and int(short.sum()) * 2 > len(given)


def _true_speed(done: dict[str, Channel], moments: UtcTimes) -> pl.Series | None:
    if not all(name in done for name in POSITION) or moments.relative_us is None:
        return None
    return speed_from_positions(
        moments.relative_us.cast(pl.Float64).to_numpy() / 1e6,
        done["latitude_deg"].values.to_numpy(),
        done["longitude_deg"].values.to_numpy(),
    )


def _unit(
    name: str,
    candidate: Candidate,
    numbers: Numbers,
    true_speed: pl.Series | None,
) -> tuple[str | None, How]:
    """The unit a column is written in and how it is known; None with the reason."""
    own = quantity_of(name).unit
    allowed = dimensions_of(name)
    if candidate.rivals:
        found, against = _by_values(name, numbers, true_speed)
        fits = found in candidate.rivals and found != COUNTS
        return (found, (*candidate.how, against)) if fits else (None, _ASKED)
    if candidate.unit in _LOADS.get(name, ()) and is_fraction(numbers.values):
        return "fraction", (*candidate.how, message("unit-settled/size"))
    if candidate.unit is not None:
        if BY_NAME[candidate.unit].dimension in allowed:
            return candidate.unit, (*candidate.how, *_UNIT_FROM.get(candidate.unit_how, ()))
        if not (own in PLAIN and candidate.unit in ("-", "%")):
            return None, _wrong_unit(name, candidate.unit)
    if numbers.unit is not None and (unit := unit_for(name, numbers.unit)) is not None:
        if unit.dimension in allowed:
            return unit.name, (*candidate.how, message("unit-from/cells"))
        return None, _wrong_unit(name, unit.name)
    if name in POSITION and (scale := whole_degrees(numbers.values)):
        if len(scale) == 1:
            return scale[0], (*candidate.how, message("unit-settled/size"))
        return None, _ASKED
    if own in PLAIN and not (name == "grade_percent" and candidate.unit_text):
        if own in ("rpm", "%") and _SCALED.search(candidate.unit_text):
            return None, _ASKED
        return own, candidate.how
    if candidate.by_standard and _by_values(name, numbers, None)[0] != COUNTS:
        by = message("unit-from/standard")
        return STANDARD_UNITS.get(name, own), (*candidate.how, by)
    found, against = _by_values(name, numbers, true_speed)
    return (found, (*candidate.how, against)) if found is not None else (None, _ASKED)


def _by_values(
    name: str, numbers: Numbers, true_speed: pl.Series | None
) -> tuple[str | None, Message]:
    """The unit that the values leave, and what tells it."""
    if name not in SPEEDS:
        return unit_by_size(name, numbers.values), message("unit-settled/size")
    found = speed_unit(numbers.values, true_speed, name == "gps_speed_mps")
    return found, message("unit-settled/speed")


def _wrong_unit(name: str, unit: str) -> How:
    label = UserText(quantity_of(name).label)
    return (message("wrong-unit", unit=UserText(unit), channel=label),)


def seen_range(values: pl.Series) -> Message:
    """What a question says of a column's values."""
    given = values.drop_nulls().to_numpy()
    if not len(given):
        return message("values-none")
    low, high = float(given.min()), float(given.max())
    return message("values-run", values=Span(low, high, "-", places_of(low, high, figures=6)))


def _channel(
    name: str,
    candidate: Candidate,
    numbers: Numbers,
    cells: pl.Series,
    unit: str,
    how: How,
    lines: Lines,
    ledger: Ledger,
) -> Channel | None:
    """The channel; None where so much is beyond it that the unit cannot be what it seems."""
    quantity = quantity_of(name)
    raw, blanks = numbers.values, numbers.values.null_count() > 0
    values = in_unit(raw, unit, quantity.unit)
    heading = candidate.heading
    _aside(message("unreadable-value"), numbers.bad, cells, heading, lines, ledger)
    if message("unit-from/cells") in how:
        ledger.repair(message("unit-in-cell", unit=UserText(unit)), column=heading)
    if numbers.thousands:
        ledger.repair(message("thousands-separator"), numbers.thousands, column=heading)
    if name in SPEEDS and isinstance(low := raw.min(), float) and low < 0:
        minus = _minus_one(raw)
        _aside(message("not-available-code"), minus, cells, heading, lines, ledger)
        raw, values = raw.set(minus, None), values.set(minus, None)
        values = _above_zero(values, heading, ledger)
    found = codes_and_outliers(raw, values, quantity)
    if found is not None:
        if candidate.unit_how != "study" and _beyond(name, found[1], raw):
            return None
        wrong = _set_aside(found, cells, heading, lines, ledger)
        raw, values = raw.set(wrong, None), values.set(wrong, None)
    step = None
    if name in SPEEDS and whole_steps(raw):
        step = float(convert(1.0, unit, quantity.unit))
        how = (*how, message("whole-steps", unit=UserText(unit)))
    return Channel(heading, values, unit, how, step, blanks)


def _minus_one(raw: pl.Series) -> pl.Series:
    """Where -1 stands for a speed that is not known: no other value is below zero."""
    minus = (raw == -1.0).fill_null(False)
    return minus if int((raw < 0).sum()) == int(minus.sum()) else minus & False


def _above_zero(values: pl.Series, heading: str, ledger: Ledger) -> pl.Series:
    """A speed a little below zero is a standing vehicle and a sensor's noise."""
    below = ((values < 0) & (values > -SMALL_SPEED_MPS)).fill_null(False)
    if not below.any():
        return values
    ledger.repair(message("small-negative-speed"), int(below.sum()), column=heading)
    return values.set(below, 0.0)


def _aside(
    told: Message, mask: pl.Series, cells: pl.Series, heading: str, lines: Lines, ledger: Ledger
) -> None:
    if not mask.any():
        return
    # as the short way has it and as the long one does: whole numbers alike
    value = re.sub(r"^(-?\d+)\.0$", r"\1", str(cells.filter(mask).item(0)))
    ledger.set_aside_values(told, heading, np.asarray(lines)[mask.to_numpy()], value)


def _beyond(name: str, outside: pl.Series, raw: pl.Series) -> bool:
    """Whether a good part of a column that may be in several units is out of its range."""
    count = int(outside.sum())
    given = len(raw) - raw.null_count()
    return count >= MIN_BEYOND and count > MAX_BEYOND * given and len(units_to_ask(name)) > 1


def _set_aside(
    found: tuple[pl.Series, pl.Series],
    cells: pl.Series,
    heading: str,
    lines: Lines,
    ledger: Ledger,
) -> pl.Series:
    """Where values are codes or out of range, which goes to the ledger."""
    code, outside = found
    _aside(message("not-available-code"), code, cells, heading, lines, ledger)
    _aside(message("out-of-range"), outside, cells, heading, lines, ledger)
    return code | outside


def set_aside_doubtful(
    fixes: pl.DataFrame, headings: dict[str, str], ledger: Ledger
) -> pl.DataFrame:
    """Codes and values out of range of channels that come as numbers (GPX, NMEA)."""
    lines, kept = fixes["line"].to_numpy(), []
    for values in fixes.drop("us", "line").get_columns():
        heading = headings.get(values.name, values.name)
        quantity = QUANTITIES[values.name]
        found = codes_and_outliers(values, values, quantity)
        if found is not None:
            values = values.set(_set_aside(found, values, heading, lines, ledger), None)
        kept.append(values)
    return fixes.with_columns(kept)
