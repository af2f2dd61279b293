"""The moment of each row in UTC: the time columns put together, starts and zones found."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from gearing.logs.assign import Candidate, quoted
from gearing.logs.column_rule import rule_line
from gearing.logs.headings import fold
from gearing.logs.ledger import Ledger, Lines, answer
from gearing.logs.order import DAY
from gearing.logs.timestamps.date_order import OPEN, ORDERS
from gearing.logs.timestamps.dates import (
    TIME_UNITS,
    TimeRule,
    find_start,
    parse_time_rule,
    start_order,
)
from gearing.logs.timestamps.epochs import (
    GPS_BEGAN,
    ask_old,
    from_gps,
    in_afternoon,
    named_days,
    of_logs,
    on_named_day,
)
from gearing.logs.timestamps.parse import (
    in_zone_of_column,
    in_zone_of_heading,
    mended_days,
    parse_times,
    parted_digits,
)
from gearing.logs.timestamps.parsed import Form, ParsedTimes
from gearing.logs.timestamps.starts import (
    counts_anew,
    counts_from_midnight,
    find_log_start,
    start_texts,
)
from gearing.logs.timestamps.zones import place_of_zone, to_utc, zone_in_preamble
from gearing.messages import Message, Quantity, UserText, message
from gearing.messages.display import places_of

if TYPE_CHECKING:
    from gearing.logs.samples import Context
    from gearing.logs.table import Table


_MINUTES = r"\s*[0-5]?\d:[0-5]\d\.\d+\s*"  # as a spreadsheet shows a moment of a day
_OF_DAY = re.compile(r"\b(?:of day|since midnight|seit mitternacht|depuis minuit)\b")
MAX_LATE = DAY // 24  # by which a date turns before or after its time
_ELAPSED_CLOCK = (message("time-form/elapsed-clock"),)


@dataclass(frozen=True, slots=True)
class UtcTimes:
    """`us` is microseconds since 1970 UTC for each row, null where it has none; None where no
    row can be given a moment. `relative_us` serves checks of units even then. `order` is that of
    day and month, as in `ParsedTimes`."""

    us: pl.Series | None
    relative_us: pl.Series | None
    form: Form
    order: str = ""
    count_us: pl.Series | None = None  # of a count whose unit nothing gives


def read_times(
    table: Table,
    times: tuple[Candidate, ...],
    others: tuple[Candidate, ...],
    context: Context,
    day_is_enough: bool = False,
) -> UtcTimes:
    """The clock of a table; rows without a readable time go to the ledger.

    `day_is_enough`: a date alone is taken (a fill-up log), at noon.
    """
    ledger, frame, lines = context.ledger, table.frame, table.lines
    decimal, preamble = table.decimal, table.layout.preamble
    if frame.height == 0:
        return UtcTimes(pl.Series("us", [], dtype=pl.Int64), None, ())
    rules = {c.index: parse_time_rule(c.rule.unit if c.rule else _form_in(c)) for c in times}
    zone = zone_in_preamble(preamble)
    read = [(c, _stamps(c, frame, rules[c.index], decimal, zone)) for c in times]
    chosen = _choose(read, ledger)
    if chosen is None:
        _ask_time(table, times, others, ledger)
        return UtcTimes(None, None, ())
    candidate, stamps = chosen
    rule, order = rules[candidate.index], stamps.order
    if order == OPEN:
        ways = _ways(frame, read, decimal, zone)
        settled = _order_settled(ways, preamble, context)
        if settled is None:
            _ask_order(candidate, frame, ways or ORDERS, ledger)
            return UtcTimes(None, None, stamps.form, OPEN)
        candidate, stamps, order = settled
    elif stamps.kind in ("elapsed", "clock") and rule.since is None:
        order = next(filter(None, map(start_order, start_texts(preamble, context))), "")
    zones = next((frame[c.column] for c in others if c.target == "zone"), None)
    stamps = stamps if zones is None else in_zone_of_column(stamps, zones)
    if place := place_of_zone(preamble, zones):
        context = replace(context, time_zone=place, zone_given=True)
    if stamps.kind == "date" and day_is_enough:
        stamps = ParsedTimes(stamps.us + DAY // 2, "instant", False, stamps.form)
    ledger.repair(message("broken-date"), stamps.mended)
    stamps = in_afternoon(stamps, start_texts(preamble, context), ledger)
    us = _instants(candidate, stamps, rule, preamble, context)
    if us is None:
        return UtcTimes(None, stamps.us, stamps.form, order)
    if rule.weeks:
        us = us + rule.weeks * 7 * DAY
    dated = (s.us for c, s in read if c is not candidate and s.kind in ("instant", "date"))
    days = tuple(named_days((context.name, *preamble[:50]), dated))
    us = of_logs(on_named_day(us, stamps.form, days, ledger))
    ask_old(candidate, us, stamps.form, days, ledger)
    cells, missing = frame[candidate.column], us.is_null()
    if missing.any():
        _aside(message("no-time"), missing & cells.is_null(), cells, lines, ledger)
        _aside(message("unreadable-time"), missing & cells.is_not_null(), cells, lines, ledger)
    if stamps.kind in ("elapsed", "clock"):
        anew = counts_anew(stamps) & us.is_not_null()
        _aside(message("counts-anew"), anew, cells, lines, ledger)
        us = us.set(anew, None)
    given = stamps.kind != "elapsed" or rule.unit is not None or _time_unit(candidate) is not None
    return UtcTimes(us, us, stamps.form, order, None if given else stamps.us)


def _aside(told: Message, mask: pl.Series, cells: pl.Series, lines: Lines, ledger: Ledger) -> None:
    if mask.any():
        value = cells.filter(mask).head(1).to_list()[0]
        ledger.set_aside_rows(told, lines[mask.to_numpy()], value or "")


def _stamps(
    c: Candidate, frame: pl.DataFrame, rule: TimeRule, decimal: str, zone: str
) -> ParsedTimes:
    """`zone`: as the preamble names it; what the study or the heading says comes before."""
    cells = frame[c.column]
    if c.target == "date":
        cells = parted_digits(cells)
    read = parse_times(cells, rule, _time_unit(c), decimal)
    if c.target == "date" and read.kind == "clock":
        read = replace(read, kind="unknown")
    if read.kind == "elapsed" and rule.since is None and _OF_DAY.search(fold(c.heading)):
        read = replace(read, kind="clock")
    for text in (c.rule.unit if c.rule else None, f"{c.heading} {c.unit_text}", zone):
        read = in_zone_of_heading(read, text or "")
    return read


def _time_unit(c: Candidate) -> str | None:
    return c.unit if c.unit in ("s", "ms", "us", "ns", "min", "h") else None


def _form_in(c: Candidate) -> str | None:
    """A date form written in the heading or the units row: 'Date [dd.mm.yyyy]'."""
    text = c.unit_text.strip("[]() ").lower()
    if text.startswith(("dd", "mm/d", "mm-d", "mm.d")):
        return text
    return "elapsed" if c.target == "elapsed" else None


def _choose(
    read: list[tuple[Candidate, ParsedTimes]], ledger: Ledger
) -> tuple[Candidate, ParsedTimes] | None:
    """The column, or the pair of date and time of day, that tells the most."""
    useful = [(c, s) for c, s in read if s.kind != "unknown" and s.us.null_count() < len(s.us)]
    instants = [x for x in useful if x[1].kind == "instant"]
    if instants:
        ruled = [x for x in instants if x[0].rule is not None]
        # one that states its zone, or counts from 1970, needs nothing else to be right
        sure = [x for x in instants if x[1].zoned] or instants
        of_receiver = [x for x in sure if "gps" in fold(x[0].heading).split()]
        best = ruled or of_receiver or sure
        if len(instants) > 1:
            used = UserText(best[0][0].heading, "column")
            columns = quoted(c for c, _ in instants)
            ledger.repair(message("two-clocks", columns=columns, used=used))
        return best[0]
    dates = [x for x in useful if x[1].kind == "date"]
    clocks = [x for x in useful if x[1].kind == "clock"]
    # a log that starts at midnight looks like elapsed time; a date beside it says otherwise
    clocks += [x for x in useful if dates and x[1].form == _ELAPSED_CLOCK and x not in clocks]
    if dates and clocks:
        (c, day), (_, clock) = dates[0], clocks[0]
        both = _past_midnight(day.us, clock.us, ledger)
        named = c if day.order == OPEN else clocks[0][0]
        form = (message("time-form/date-and-time"), *day.form)
        stamps = ParsedTimes(both, "instant", clock.zoned, form, day.order)
        return named, stamps
    elapsed = [x for x in useful if x[1].kind == "elapsed"]
    for kind in (clocks, elapsed, dates):
        if kind:
            return kind[0]
    unknown = [x for x in read if x[1].kind == "elapsed"]
    return unknown[0] if unknown else None


def _past_midnight(day: pl.Series, clock: pl.Series, ledger: Ledger) -> pl.Series:
    """Date and time of day together; a date that stays while the time passes midnight, or turns a
    little before or after it, is carried on with the time."""
    day, mended = mended_days(day, clock.is_not_null())
    ledger.repair(message("broken-date"), mended)
    turned = day.forward_fill().diff()
    fell = clock.forward_fill().diff() < -DAY // 2
    falls = (fell & (turned == 0)).fill_null(False).arg_true().to_list()
    turns = ((turned == DAY) & ~fell).fill_null(False).arg_true().to_list()
    more = np.zeros(len(day), np.int64)
    for fall in falls:
        # a date that turns at another row than the time is one turn, seen twice
        near = [row for row in turns if _apart(clock[row], clock[fall]) < MAX_LATE]
        turn = min(near, key=lambda row: abs(row - fall), default=len(day))
        more[min(turn, fall) : max(turn, fall)] += 1 if turn > fall else -1
    ledger.repair(message("midnight"), len(falls))
    return day + clock + pl.Series(more) * DAY


def _apart(one: int | None, other: int | None) -> int:
    """How far two times of day are apart, through midnight or not."""
    if one is None or other is None:
        return DAY
    away = abs(one - other) % DAY
    return min(away, DAY - away)


def _instants(
    c: Candidate, stamps: ParsedTimes, rule: TimeRule, preamble: tuple[str, ...], context: Context
) -> pl.Series | None:
    ledger, column = context.ledger, UserText(c.heading, "column")
    if stamps.kind == "instant":
        if stamps.zoned:
            return stamps.us
        return _local_to_utc(stamps.us, context)
    if stamps.kind == "elapsed" and stamps.us.null_count() == len(stamps.us):
        ask_count(c, ledger)
        return None
    if stamps.kind == "date":
        ledger.ask(message("which-time/day", column=column, answer=answer([])), c.heading)
        return None
    start = find_log_start(c, rule, preamble, context, stamps.kind)
    if start is None:
        return None
    if stamps.kind == "clock":
        return _on_days(stamps, start, context)
    if rule.since is None and counts_from_midnight(stamps, start):
        first_s = float(stamps.us.drop_nulls()[0] / 1e6)
        first = Quantity(first_s, "s", places_of(first_s, figures=6))
        ledger.repair(message("from-midnight", first=first))
        return _on_days(stamps, start, context)
    if start.replace(tzinfo=UTC) == GPS_BEGAN:
        return from_gps(stamps.us)
    return stamps.us + _us(start, context)


def ask_count(c: Candidate, ledger: Ledger, *, too_fast: bool = False) -> None:
    """Ask what a count of time is in; `too_fast` says that the speed speaks against seconds."""
    column = UserText(c.heading, "column")
    lines = answer([rule_line(c.heading, "time", unit) for unit in TIME_UNITS])
    if too_fast:
        told = message("which-unit/speed-changes", column=column, answer=lines)
    else:
        told = message("which-unit/time", column=column, answer=lines)
    ledger.ask(told, c.heading)


def _us(moment: datetime, context: Context) -> int:
    if moment.tzinfo is None:
        context.ledger.local_times |= not context.zone_given
        moment = moment.replace(tzinfo=ZoneInfo(context.time_zone))
    return round(moment.astimezone(UTC).timestamp() * 1e6)


def _on_days(stamps: ParsedTimes, start: datetime, context: Context) -> pl.Series:
    """A time of day on the day of the start, carried on past midnight."""
    midnight = datetime(start.year, start.month, start.day)  # noqa: DTZ001 # local
    passed = (stamps.us.diff() < -DAY // 2).fill_null(False).cast(pl.Int64).cum_sum()
    context.ledger.repair(message("midnight"), int(passed.tail(1).sum()))
    day = (midnight - datetime(1970, 1, 1)).days  # noqa: DTZ001
    us = stamps.us + (passed + day) * DAY
    if not stamps.zoned:
        return _local_to_utc(us, context)
    if start.time() == time():
        return us
    # the day is local and the time of day is not: within half a day of the start it is the same
    first = int(us.drop_nulls().head(1).item())
    return us + round((_us(start, context) - first) / DAY) * DAY


def _local_to_utc(us: pl.Series, context: Context) -> pl.Series:
    context.ledger.local_times |= not context.zone_given
    out, twice, gaps = to_utc(of_logs(us), context.time_zone)
    context.ledger.repair(message("summer-time"), twice)
    context.ledger.repair(message("clock-not-switched"), gaps)
    return out


def _ways(
    frame: pl.DataFrame, read: list[tuple[Candidate, ParsedTimes]], decimal: str, zone: str
) -> dict[str, tuple[Candidate, ParsedTimes]]:
    """Open dates by each order that they can have, at most two: no month is the year of a log."""
    ways: dict[str, tuple[Candidate, ParsedTimes]] = {}
    for order in ORDERS:
        rule = TimeRule(order=order)
        again = [
            (c, _stamps(c, frame, rule, decimal, zone) if s.order == OPEN else s) for c, s in read
        ]
        way = _choose(again, Ledger(""))
        if way is not None and way[1].kind in ("instant", "date") and len(ways) < len(ORDERS) - 1:
            ways[order] = way
    return ways


def _order_settled(
    ways: dict[str, tuple[Candidate, ParsedTimes]], preamble: tuple[str, ...], context: Context
) -> tuple[Candidate, ParsedTimes, str] | None:
    """The reading of open dates, by one of their orders, that begins on the day the file's name
    or preamble gives without doubt; else the one that other logs of the recorder prove. With it
    the order, where it is this file's own."""
    for text in (context.name, *preamble[:50]):
        moment, _ = find_start(text)
        if moment is None:
            continue
        day = (moment.replace(tzinfo=None) - datetime(1970, 1, 1)).days  # noqa: DTZ001 # local
        begins = [(one, way) for one, way in ways.items() if _begins_on(way[1], day)]
        if len(begins) == 1:
            ((order, way),) = begins
            by = UserText(text[:60], "value")
            context.ledger.repair(message("order-by-name", order=UserText(order), by=by))
            return *way, order
    others = context.order
    if others is None or (proved := ways.get(others.order)) is None:
        return None
    told = message("order-by-logs", order=UserText(others.order), files=others.proved_by)
    context.ledger.repair(told)
    return *proved, ""


def _begins_on(stamps: ParsedTimes, day: int) -> bool:
    first = stamps.us.drop_nulls().head(1).to_list()
    return bool(first) and abs(first[0] // DAY - day) <= 1


def _ask_order(c: Candidate, frame: pl.DataFrame, orders: Iterable[str], ledger: Ledger) -> None:
    value = frame[c.column].drop_nulls().head(1).to_list()
    told = message(
        "which-date-order",
        column=UserText(c.heading, "column"),
        shown=UserText(str(value[0]) if value else "", "value"),
        answer=answer([rule_line(c.heading, "time", one) for one in orders]),
    )
    ledger.ask(told, c.heading)


def _ask_time(
    table: Table, times: tuple[Candidate, ...], others: tuple[Candidate, ...], ledger: Ledger
) -> None:
    frame, decimal = table.head(), table.decimal
    rising = [c for c in others if c.column in frame.columns and rises(frame[c.column], decimal)]
    units = {c: _time_unit(c) or _rising_unit(frame[c.column]) for c in rising}
    dated = [c for c in rising if units[c] is None]
    lines = answer([rule_line(c.heading, "time", units[c]) for c in (dated or rising)[:6]])
    shown = [str(frame[c.column].drop_nulls().first() or "") for c in times]
    if times and all(re.fullmatch(_MINUTES, one) for one in shown):
        first = UserText(shown[0], "value")
        columns = quoted(times, ",")
        ledger.ask(message("which-time/minutes", columns=columns, shown=first, answer=lines))
    elif times:
        ledger.ask(message("which-time/unreadable", columns=quoted(times, ","), answer=lines))
    else:
        ledger.ask(message("which-time", answer=lines))


def rises(cells: pl.Series, decimal: str) -> bool:
    """Never falls and mostly rises: a column that may be the time."""
    head = cells.drop_nulls().head(2000)
    if decimal == ",":
        head = head.str.replace(",", ".", literal=True)
    steps = head.cast(pl.Float64, strict=False).diff().drop_nulls()
    if len(steps) < 2:
        return bool(head.str.contains(r"\d:\d\d|\d[-/.]\d{1,2}[-/.]\d").any())
    return bool((steps >= 0).all()) and int((steps > 0).sum()) * 2 > len(steps)


def _rising_unit(cells: pl.Series) -> str | None:
    text = cells.drop_nulls().head(1).to_list()
    return None if text and re.search(r"\d[:/-]|\.\d+\.|^20\d{6}", text[0]) else "s"
