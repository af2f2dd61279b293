"""Which column is which channel, in which unit: by rule, heading, units row, standard, evidence.

What stays open becomes a question with the lines to add; it never blocks the other columns.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import polars as pl

from gearing.logs.column_rule import ColumnRule, find_rule, ignore_line, rule_line, rule_lines
from gearing.logs.headings import (
    ROLES,
    Match,
    channel_named,
    dimensions_of,
    fold,
    recognise,
    short_name,
    unit_for,
)
from gearing.logs.ledger import Ledger, answer
from gearing.logs.model import How
from gearing.logs.positions import SIDES
from gearing.logs.values import alike, numbers_trips
from gearing.messages import Items, Message, UserText, message, names
from gearing.messages.fields import Joint
from gearing.units import BY_NAME, Unit, find_unit

MAX_OF_SPEED = 250  # on a dial, in any unit of speed; an engine turns faster
TIME_ROLES = ("time", "date", "elapsed")
# What an open heading could be, first the likelier
_OPEN_CHANNELS = {
    "speed": ("indicated_speed_mps", "gps_speed_mps"),
    "temperature": (
        "ambient_temperature_c",
        "coolant_temperature_c",
        "transmission_oil_temperature_c",
        "intake_air_temperature_c",
    ),
    "distance": ("indicated_distance_m",),
}
_LIKELY_UNITS = {
    "speed": ("km/h", "mph"),
    "temperature": ("degC", "degF"),
    "length": ("km", "mi"),
}
# Of several parameters of SAE J1939-71 that carry one channel the first serves: the air's
# temperature before the charger and behind it, distance by steps of 5 m and of 125 m, of the
# vehicle's life and of the trip
_FIRST_SPN = ("SPN 172", "SPN 105", "SPN 917", "SPN 245", "SPN 918", "SPN 244")
UNKNOWN = (message("column-unknown"),)
_IMPERIAL = {"uk", "imp", "imperial", "british"}
_BY_STUDY = (message("named-by/study"),)
_ENGINE = ("engine_speed_rpm", "engine_load_percent", "mass_air_flow_gps", "fuel_rate_lph")


@dataclass(frozen=True, slots=True)
class Candidate:
    """One column of the file on its way to a channel. `target` is a channel or role, or None."""

    index: int
    heading: str
    target: str | None
    how: How
    unit: str | None = None
    unit_how: str = ""
    unit_text: str = ""  # as written, where no unit of ours was found in it
    is_open: bool = False
    rule: ColumnRule | None = None
    rivals: tuple[str, ...] = ()  # units, where its heading says one and the units row another
    by_standard: str = ""  # the number of a standard's parameter, where it is named by one

    @property
    def column(self) -> str:
        """Its name in the frame of cells."""
        return f"c{self.index}"


@dataclass(frozen=True, slots=True)
class Assignment:
    """`times`, `channels` and `sides` (of positions, by role) are used; `unused` says of each
    other column why not (`how`)."""

    times: tuple[Candidate, ...]
    channels: dict[str, Candidate]
    sides: dict[str, Candidate]
    unused: tuple[Candidate, ...]


def candidates(
    headings: tuple[str, ...],
    units: tuple[str, ...],
    rules: tuple[ColumnRule, ...],
    companion: bool = False,
) -> list[Candidate]:
    """Each heading on its own: by the study's rule (of those for this file), else by what it
    names."""
    return list(_candidates(headings, units, rules, companion))


@lru_cache(maxsize=64)
def _candidates(
    headings: tuple[str, ...],
    units: tuple[str, ...],
    rules: tuple[ColumnRule, ...],
    companion: bool,
) -> tuple[Candidate, ...]:
    """Kept for the logs to come, which mostly have the same headings."""
    return tuple(
        _candidate(i, heading, units[i] if i < len(units) else "", rules, companion)
        for i, heading in enumerate(headings)
    )


def _candidate(
    index: int,
    heading: str,
    unit_row: str,
    rules: tuple[ColumnRule, ...],
    companion: bool,
) -> Candidate:
    bare = re.sub(r" #\d+$", "", heading)
    of_this_kind = recognise(bare, True) if companion else recognise(bare)
    match = of_this_kind if bare else None
    rule = find_rule(heading, rules)
    if rule is not None:
        return _by_rule(index, heading, unit_row, rule, match)
    if match is None:
        unit = _any_unit(bare, unit_row)
        how = UNKNOWN if heading else (message("column-unnamed"),)
        return Candidate(index, heading, None, how, unit.name if unit else None)
    unit_how, text = "heading" if match.unit else "", match.unit_text
    found = unit_for(match.target, unit_row) if unit_row else None
    unit_name, below = (
        _imperial(one, f"{bare} {unit_row}") for one in (match.unit, found.name if found else None)
    )
    rivals = rival_units(unit_name, below)
    if rivals:
        unit_name, text = None, ""
    elif unit_name is None and unit_row:
        if below is not None:
            unit_name, unit_how = below, "units row"
        text = text or unit_row
    return Candidate(
        index,
        heading,
        match.target,
        (message("named-by", what=UserText(match.how)),),
        unit_name,
        unit_how,
        text,
        match.is_open,
        rivals=rivals,
        by_standard=match.how if match.how.startswith(("SPN", "PID")) else "",
    )


def _imperial(unit: str | None, text: str) -> str | None:
    """A gallon's unit as the imperial one where the heading says so anywhere: gal/h (UK)."""
    imperial = BY_NAME.get(f"imp {unit}")
    return imperial.name if imperial is not None and _IMPERIAL & {*fold(text).split()} else unit


def rival_units(one: str | None, other: str | None) -> tuple[str, ...]:
    """Both units where they are of one dimension and not the same; else none."""
    if one is None or other is None or one == other:
        return ()
    return (one, other) if BY_NAME[one].dimension == BY_NAME[other].dimension else ()


def _any_unit(bare: str, unit_row: str) -> Unit | None:
    if (inside := _in_brackets(bare)) and (unit := find_unit(inside)) is not None:
        return unit
    if unit_row:
        return find_unit(unit_row.strip("[]() "))
    # a last word that is a unit of more than one letter: 'cycMps', 'shaft_rpm'
    lasts = [words[-1] for words in (bare.split(), fold(bare).split()) if len(words) > 1]
    return next((unit for last in lasts if len(last) > 1 and (unit := find_unit(last))), None)


def _in_brackets(heading: str) -> str:
    found = re.search(r"[\[(<]([^\[\]()<>]*)[\])>]\s*$", heading)
    return found[1] if found else ""


def _by_rule(
    index: int, heading: str, unit_row: str, rule: ColumnRule, match: Match | None
) -> Candidate:
    if rule.channel is None:
        return Candidate(index, heading, None, (message("column-left-alone"),), rule=rule)
    target = channel_named(rule.channel)
    if target is None:
        told = message("column-of-no-channel", channel=UserText(rule.channel))
        return Candidate(index, heading, None, (told,))
    if target in TIME_ROLES:
        in_heading = match.unit if match else None
        return Candidate(index, heading, target, _BY_STUDY, in_heading, "heading", rule=rule)
    written = rule.unit or (match.unit if match else None)
    if written is None:
        written = _in_brackets(heading) or unit_row
    unit = unit_for(target, written) if written else None
    return Candidate(
        index,
        heading,
        target,
        _BY_STUDY,
        unit.name if unit else None,
        "study" if rule.unit else "heading",
        written or "",
        rule=rule,
    )


def assign(found: list[Candidate], frame: pl.DataFrame, ledger: Ledger) -> Assignment:
    """Settle which column serves each channel; ask where more than one could."""
    times = tuple(c for c in found if c.target in TIME_ROLES and _filled(frame, c))
    unused = [c for c in found if c.target is None or c.target in ("parameter", "value", "unit")]
    unused += [
        replace(c, how=(message("column-empty"),))
        for c in found
        if c.target is not None and c.target in TIME_ROLES and c not in times
    ]
    named, opened, dials = dict[str, list[Candidate]](), list[Candidate](), list[Candidate]()
    for c in (_of_dial(c, frame) for c in found):
        if c.target is None or c.target in ROLES:
            continue
        if not _filled(frame, c):
            unused.append(replace(c, how=(message("column-empty"),)))
        elif c.is_open:
            (dials if c.target == "indicated_speed_mps" else opened).append(c)
        else:
            target = "indicated_distance_m" if c.target == "trip_distance" else c.target
            if target == "fuel_rate_lph" and c.unit and BY_NAME[c.unit].dimension == "mass rate":
                target = "fuel_mass_rate_gps"
            same = c if target == c.target else replace(c, target=target)
            named.setdefault(target, []).append(same)
    channels: dict[str, Candidate] = {}
    for target, several in named.items():
        chosen, left = _choose(target, several, frame, ledger)
        unused += left
        if chosen is not None:
            channels[target] = chosen
    asked = {target for target in named if target not in channels}
    groups = Counter(c.target for c in opened)
    for c in opened:
        if numbers_trips(c.heading, c.unit, frame.get_column(c.column)):
            unused.append(replace(c, target=None, how=(message("column-of-trips"),)))
            continue
        settled = _settle_open(c, channels, asked, groups[c.target] == 1, ledger)
        if settled.target is None:
            unused.append(settled)
        else:
            channels[settled.target] = settled
    for c in dials:  # what says more of itself comes before
        if "indicated_speed_mps" in {*channels, *asked}:
            unused.append(replace(c, target=None, how=(message("column-given-up/channel"),)))
        else:
            channels["indicated_speed_mps"] = c
    sides = {str(c.target): c for c in found if c.target in SIDES.values() and _filled(frame, c)}
    unused += [replace(c, target=None, how=(message("column-of-sides"),)) for c in sides.values()]
    unused += [replace(c, how=(message("column-of-zone"),)) for c in found if c.target == "zone"]
    return Assignment(times, channels, sides, tuple(unused))


def _of_dial(c: Candidate, frame: pl.DataFrame) -> Candidate:
    """'Tacho' as what its unit says; without one, as the engine's where no speed is so high, and
    else as a speed that is open."""
    if c.target != "dial":
        return c
    dimension = BY_NAME[c.unit].dimension if c.unit else ""
    if not dimension and _filled(frame, c):
        high = frame.get_column(c.column).cast(pl.Float64, strict=False).max()
        dimension = "rotation" if isinstance(high, float) and high > MAX_OF_SPEED else ""
    target = "engine_speed_rpm" if dimension == "rotation" else "indicated_speed_mps"
    return replace(c, target=target, is_open=not dimension)


def _filled(frame: pl.DataFrame, c: Candidate) -> bool:
    return frame.get_column(c.column).null_count() < frame.height


def _choose(
    target: str, several: list[Candidate], frame: pl.DataFrame, ledger: Ledger
) -> tuple[Candidate | None, list[Candidate]]:
    if len(several) == 1:
        return several[0], []
    ruled = [c for c in several if c.rule is not None]
    if len(ruled) == 1:
        told = message("column-given-up/study", other=UserText(ruled[0].heading, "column"))
        return ruled[0], _not_used((c for c in several if c is not ruled[0]), told)
    first = max(several, key=lambda c: frame[c.column].n_unique())
    rest = [c for c in several if c is not first]
    if all(alike(frame[c.column], c.unit, frame[first.column], first.unit) for c in rest):
        ledger.repair(message("same-values-twice"), column=first.heading)
        told = message("column-given-up/same", other=UserText(first.heading, "column"))
        return first, _not_used(rest, told)
    numbers = [c.by_standard for c in several]
    if len(set(numbers)) == len(several) and set(numbers) <= set(_FIRST_SPN):
        best = several[numbers.index(min(numbers, key=_FIRST_SPN.index))]
        told = message("column-given-up/standard", other=UserText(best.heading, "column"))
        return best, _not_used((c for c in several if c is not best), told)
    lines = [rule_line(c.heading, target, _fitting(c, target)) for c in several]
    lines += [ignore_line(c.heading) for c in several]
    told = message(
        "which-column",
        columns=quoted(several),
        channel=UserText(short_name(target).replace("_", " ")),
        answer=answer(lines),
    )
    ledger.ask(told, first.heading)
    return None, _not_used(several, message("column-asked/column"))


def _not_used(columns: Iterable[Candidate], why: Message) -> list[Candidate]:
    return [replace(c, target=None, how=(why,)) for c in columns]


def _fitting(c: Candidate, target: str) -> str | None:
    """The column's own unit, where a rule for the channel takes it."""
    fits = c.unit is not None and find_unit(c.unit, dimensions_of(target)) is not None
    return c.unit if fits else None


def _settle_open(
    c: Candidate,
    channels: dict[str, Candidate],
    asked: set[str],
    alone: bool,
    ledger: Ledger,
) -> Candidate:
    """A heading such as 'Speed' alone, by what else the file names; else a question."""
    group = c.target or ""
    choices = [t for t in _OPEN_CHANNELS[group] if t not in channels and t not in asked]
    if not choices:
        return replace(c, target=None, how=(message("column-given-up/channel"),))
    units = (c.unit,) if c.unit else _LIKELY_UNITS[dimensions_of(choices[0])[0]]
    lines = rule_lines(c.heading, choices, units)
    if not lines:
        told = message("column-unit", unit=UserText(str(c.unit)), group=UserText(group))
        return replace(c, target=None, how=(told,))
    if group == "speed" and c.unit == "kn" and "gps_speed_mps" in choices:
        # no vehicle counts in knots
        return replace(c, target="gps_speed_mps", how=(message("named-by/unit"),))
    has_engine = any(name in channels for name in _ENGINE)
    has_receiver = any(n in channels for n in ("latitude_deg", "gps_speed_mps"))
    if group == "speed" and alone:
        # with an engine computer in the log, and the receiver's speed (if there is a receiver)
        # under a name of its own, a plain 'speed' is the vehicle's
        if has_engine and ("gps_speed_mps" in channels or not has_receiver):
            how = (message("named-by/engine"),)
            return replace(c, target="indicated_speed_mps", how=how)
        if "indicated_speed_mps" in channels and not has_receiver:
            return replace(c, target=None, how=(message("column-given-up/indicated"),))
    told = message(
        "which-channel/speed" if group == "speed" else "which-channel",
        column=UserText(c.heading, "column"),
        answer=answer([*lines, ignore_line(c.heading)]),
    )
    ledger.ask(told, c.heading)
    return replace(c, target=None, how=(message("column-asked/channel"),))


def quoted(several: Iterable[Candidate], joint: Joint = "and") -> Items:
    """The headings of columns in a row, each in quotes."""
    columns = (UserText(c.heading, "column") for c in several)
    return Items(tuple(message("quoted-column", column=one) for one in columns), joint)


def ask_unit(
    c: Candidate, target: str, units: tuple[str, ...], values: Message, ledger: Ledger
) -> None:
    """The question for a unit that neither heading nor values settle. What stands where the unit
    stands and is none of ours is named: a unit picked from the list would then be wrong."""
    lines = answer([*rule_lines(c.heading, (target,), units), ignore_line(c.heading)])
    written, column = c.unit_text.strip("[](){}<> -"), UserText(c.heading, "column")
    if c.rivals:
        given = names(c.rivals, "column")
        told = message("two-units", column=column, units=given, values=values, answer=lines)
    elif written:
        unit = UserText(written, "column")
        told = message(
            "which-unit/unknown-unit", column=column, written=unit, values=values, answer=lines
        )
    else:
        told = message("which-unit", column=column, values=values, answer=lines)
    ledger.ask(told, c.heading)
