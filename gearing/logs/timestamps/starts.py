"""When a log begins that counts from its start, or gives the time of day alone."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.logs.assign import Candidate
from gearing.logs.column_rule import rule_line
from gearing.logs.ledger import answer
from gearing.logs.order import DAY
from gearing.logs.timestamps.date_order import OPEN
from gearing.logs.timestamps.dates import TimeRule, best_start, find_start, start_lines, start_order
from gearing.logs.timestamps.parsed import ParsedTimes
from gearing.messages import Moment, UserText, message

if TYPE_CHECKING:
    from gearing.logs.samples import Context

# a name gives the minute, and the first row comes a little behind; a count from the start itself
# does not begin so late, and hits the time of day by chance once in a thousand
MIDNIGHT_WITHIN_S = 90
MIN_SINCE_MIDNIGHT_S = 600
ANEW_WITHIN_S = 60  # of the first count
LARGEST_SET_BACK_S = 3700
MAX_PAUSE_S = 3 * 3600  # in a recording that runs through midnight
SIDES = ("before", "after")  # the folders the study's two periods lie in


def find_log_start(
    c: Candidate, rule: TimeRule, preamble: tuple[str, ...], context: Context, kind: str
) -> datetime | None:
    """When the elapsed time began: the study's word, the preamble, the file's name."""
    ledger = context.ledger
    if rule.since is not None:
        return rule.since
    order = context.order.order if context.order else ""
    found = best_start(preamble, order)
    in_preamble = found[0] is not None
    if not in_preamble:
        found = find_start(context.name, order)
    moment, known = found
    open_in = [t for t in start_texts(preamble, context) if start_order(t) == OPEN]
    if moment is not None:
        if open_in and context.order is not None:
            by = context.order.proved_by
            ledger.repair(message("order-by-logs", order=UserText(order), files=by))
        start = Moment(moment.isoformat())
        ledger.repair(
            message("start-from-preamble" if in_preamble else "start-from-name", start=start)
        )
        if not known and kind == "elapsed":
            ledger.repair(message("start-of-day-assumed"))
        return moment
    _ask_start(c, open_in[0] if open_in else "", context, of_day=kind == "clock")
    return None


def _ask_start(c: Candidate, open_date: str, context: Context, *, of_day: bool) -> None:
    """`open_date` is what would tell the start, were day and month known."""
    since = f"{c.unit or 's'} since 2026-03-01 08:15"
    line = answer([rule_line(c.heading, "time", since, _files(context))])
    column = UserText(c.heading, "column")
    if open_date:
        written = UserText(open_date[:60], "value")
        told = message(
            "which-start/open-date", column=column, of_day=of_day, written=written, answer=line
        )
    else:
        told = message("which-start", column=column, of_day=of_day, answer=line)
    context.ledger.ask(told, c.heading)


def _files(context: Context) -> str:
    """The log's name for the study; recorders that number their logs give both periods the same."""
    side = context.path.parent.name
    return f"{side}/{context.path.name}" if side.lower() in SIDES else context.path.name


def start_texts(preamble: tuple[str, ...], context: Context) -> tuple[str, ...]:
    """What may tell the start: lines above the headings, and the file's name."""
    return (*start_lines(preamble), context.name)


def counts_from_midnight(stamps: ParsedTimes, start: datetime) -> bool:
    """The first count is the time of day of the start itself: what passed since midnight. One
    that begins near nothing counts from the start, though that be near midnight."""
    first = stamps.us.drop_nulls().head(1).to_list()
    of_day = start.hour * 3600 + start.minute * 60 + start.second
    near = bool(first) and abs(first[0] - of_day * 1_000_000) <= MIDNIGHT_WITHIN_S * 1_000_000
    return near and first[0] >= MIN_SINCE_MIDNIGHT_S * 1_000_000


def counts_anew(stamps: ParsedTimes) -> pl.Series:
    """Rows behind a count that fell back to where it began: a later recording in the same file,
    whose start the file's own does not tell."""
    us = stamps.us
    first = us.drop_nulls().head(1).to_list()
    if not first:
        return us.is_null() & False
    step = us.forward_fill().diff()
    if stamps.kind == "clock":
        # not through midnight, nor a clock set back to winter time: another day, of any date
        fell = (step < -LARGEST_SET_BACK_S * 1_000_000) & (step + DAY > MAX_PAUSE_S * 1_000_000)
    else:
        near = (us - first[0]).abs() < ANEW_WITHIN_S * 1_000_000
        fell = (step < -2 * ANEW_WITHIN_S * 1_000_000) & near
    return pl.Series(np.cumsum(fell.fill_null(False).to_numpy()) > 0)
