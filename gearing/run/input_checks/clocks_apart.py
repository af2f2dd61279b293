"""Logs that were not joined but show one drive, by clocks apart or at one time: told, with what to
do."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import PurePath
from zoneinfo import ZoneInfo

import polars as pl

from gearing.logs.column_rule import ColumnRule, matches, rule_entry
from gearing.logs.model import Reading
from gearing.messages import Items, Message, Quantity, StudyWarning, UserText, message, warning
from gearing.run.tasks import FileReport, ReadTask, read_task, samples_of
from gearing.trips.apart import Apart, find_apart
from gearing.trips.join import Groups, has_bus, receives
from gearing.trips.record import TripRecord

SAME_S = 150.0  # offsets nearer than this are one recorder's
NEAR_S = 90.0  # a line of the study moves by whole minutes
MAX_NAMED = 8
MIN_AT_ONCE_S = 120.0  # less is a hand-over between files
MAX_AHEAD_MIN = 24 * 60


def clocks_apart(
    tasks: Sequence[ReadTask],
    reports: Sequence[FileReport],
    groups: Groups,
    records: Sequence[TripRecord],
) -> tuple[StudyWarning, ...]:
    """One warning for each offset at which logs left alone show one drive."""
    place = {report.file: index for index, report in enumerate(reports)}
    alone = _alone(groups, records)
    described = [r.recording for r in reports if r.recording is not None and r.file in alone]
    receivers = [one for one in described if receives(one) and not has_bus(one)]
    buses = [one for one in described if has_bus(one) and not receives(one)]

    @functools.cache
    def samples(file: str) -> pl.DataFrame:
        """The samples of a log by its name, read once."""
        return samples_of(reports[place[file]], tasks[place[file]])

    told = [
        (pairs, *_setting(pairs, tasks, reports, place))
        for pairs in _by_offset(find_apart(receivers, buses, samples))
    ]
    # a heading has one entry in the study: where it has two offsets, both are in it
    lines: dict[str, list[str]] = {}
    for _, heading, tables in told:
        lines.setdefault(heading, []).extend(tables)
    return tuple(
        warning(_seen(pairs, _advice(heading, lines[heading]))) for pairs, heading, _ in told
    )


def drives_at_once(records: Sequence[TripRecord]) -> tuple[StudyWarning, ...]:
    """One warning where trips of one vehicle run at the same time and each tells its distance:
    two recorders' logs that are too unlike for copies and too whole for halves of one drive."""
    ordered = sorted(records, key=lambda record: (record.start, record.name))
    pairs = []
    for i, first in enumerate(ordered):
        for second in ordered[i + 1 :]:
            shared_s = (min(first.end, second.end) - second.start).total_seconds()
            if shared_s <= 0:
                break
            alike = (first.has_receiver and second.has_receiver) or (
                first.indicated_m is not None and second.indicated_m is not None
            )
            if alike and shared_s > MIN_AT_ONCE_S:
                pairs.append((first.name, second.name))
    if not pairs:
        return ()
    one, two = (UserText(name, "trip") for name in pairs[0])
    if len(pairs) > 1:
        told = message("drives-at-once/more", first=one, second=two, more=len(pairs) - 1)
    else:
        told = message("drives-at-once", first=one, second=two)
    return (warning(told, tuple(dict.fromkeys(name for pair in pairs for name in pair))),)


def _alone(groups: Groups, records: Iterable[TripRecord]) -> set[str]:
    """Files that lie on no other's clock."""
    refused = {p.file for r in records for p in r.problems if p.code == "join-refused"}
    alone = set(refused)
    for group in groups.groups:
        if not set(group[1:]) - refused:
            alone.add(group[0])
    return alone


def _by_offset(found: Sequence[Apart]) -> list[list[Apart]]:
    together: list[list[Apart]] = []
    for pair in sorted(found, key=lambda one: one.ahead_s):
        if together and pair.ahead_s - together[-1][0].ahead_s < SAME_S:
            together[-1].append(pair)
        else:
            together.append([pair])
    return together


def _seen(pairs: Sequence[Apart], advice: Message) -> Message:
    first, more = pairs[0], len(pairs) - 1
    bus, receiver = UserText(first.bus, "file"), UserText(first.receiver, "file")
    span, ahead = _span(first.ahead_s), first.ahead_s > 0
    if more:
        return message(
            "clocks-apart/more",
            bus=bus,
            receiver=receiver,
            span=span,
            ahead=ahead,
            advice=advice,
            more=more,
        )
    return message(
        "clocks-apart", bus=bus, receiver=receiver, span=span, ahead=ahead, advice=advice
    )


def _advice(heading: str, tables: Sequence[str]) -> Message:
    if not heading:
        return message("set-clock-right")
    entry = tables[0] if len(tables) == 1 else f"[{', '.join(tables[:MAX_NAMED])}]"
    line, left = UserText(f'"{heading}" = {entry}', "line"), len(tables) - MAX_NAMED
    if left > 0:
        return message("clock-line/more", line=line, logs=left)
    return message("clock-line", line=line)


def _setting(
    pairs: Sequence[Apart],
    tasks: Sequence[ReadTask],
    reports: Sequence[FileReport],
    place: dict[str, int],
) -> tuple[str, list[str]]:
    """The heading whose times a line of the study can move, and its entries; else empty."""
    ahead_s = pairs[0].ahead_s
    for own, ahead in (([p.bus for p in pairs], ahead_s), ([p.receiver for p in pairs], -ahead_s)):
        heading, unit = _zone(tasks[place[own[0]]], reports[place[own[0]]], ahead)
        if heading:
            logs = {reports[place[file]].log for file in own}
            having = [report.log for report in reports if heading in report.headings]
            if set(having) == logs:
                return heading, [rule_entry("time", unit)]
            return heading, [rule_entry("time", unit, name) for name in _patterns(logs, having)]
    return "", []


def _span(seconds: float) -> Items:
    hours, minutes = divmod(round(abs(seconds) / 60), 60)
    parts = (Quantity(hours, "h"), Quantity(minutes, "min"))
    return Items(tuple(part for part in parts if part.value), "")


def _zone(task: ReadTask, report: FileReport, ahead_s: float) -> tuple[str, str]:
    """The heading of the log's time and the zone that sets its clock right, found out by reading
    the log so; empty where no zone does."""
    start = report.recording.start if report.recording else None
    zone = ZoneInfo(task.time_zone).utcoffset(start) if start else None
    if zone is None or start is None or task.piece is not None:
        return "", ""
    ahead_min = round((zone.total_seconds() + ahead_s) / 60)
    if abs(ahead_min) > MAX_AHEAD_MIN:
        return "", ""
    unit = f"UTC{'-' if ahead_min < 0 else '+'}{abs(ahead_min) // 60}:{abs(ahead_min) % 60:02d}"
    for heading in [c.heading for c in read_task(task).columns if c.channel == "time"]:
        rule = ColumnRule(heading=heading, channel="time", unit=unit)
        read = read_task(replace(task, rules=(rule, *task.rules)))
        if abs(_moved_s(read, start.timestamp()) + ahead_s) < NEAR_S:
            return heading, unit
    return "", ""


def _moved_s(read: Reading, start_s: float) -> float:
    if read.samples.height == 0:
        return float("nan")
    return float(read.samples["time"][0].timestamp() - start_s)


def _patterns(logs: set[str], having: Sequence[str]) -> list[str]:
    """A folder of which these and no others have the heading; else the logs by name."""

    def fits(pattern: str) -> bool:
        """Whether a pattern matches the logs asked about and no other that has the heading."""
        return all(matches(log, pattern) == (log in logs) for log in having)

    folders = sorted({f"{PurePath(log).parent}/*" for log in logs})
    return next(([folder] for folder in folders if fits(folder)), sorted(logs))
