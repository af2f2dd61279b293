"""Many logs at a glance, for `gearing inspect FOLDER`: by recorder, each question once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from gearing.logs.answers import usable_for
from gearing.logs.describe import (
    LOCAL,
    answers,
    columns_table,
    dialect_words,
    ledger_lines,
    moment,
    printable,
)
from gearing.logs.endings import Skipped
from gearing.logs.model import Column, Reading
from gearing.logs.questions import MergedQuestion, merged_questions

MAX_NAMED = 12
MAX_LINES = 12


def by_recorder(readings: Sequence[Reading]) -> list[list[Reading]]:
    """Logs of one kind with the same headings, in the order they were met; what could not be read
    is left out."""
    groups: dict[tuple[object, ...], list[Reading]] = {}
    for reading in readings:
        if not reading.failures or reading.rows_used:
            kind = reading.dialect.kind.removeprefix("sparse ")
            groups.setdefault((kind, reading.headings), []).append(reading)
    return list(groups.values())


def overview(readings: Sequence[Reading], skipped: Sequence[Skipped]) -> list[str]:
    """Blocks of text: each recorder, each question, what was skipped (name and why)."""
    groups = by_recorder(readings)
    read = sum(reading.rows_read for reading in readings)
    used = sum(reading.rows_used for reading in readings)
    blocks = [
        f"{_count(len(readings), 'log')} of {_count(len(groups), 'recorder')}: {read:,} rows read, "
        f"{used:,} used, {read - used:,} set aside"
    ]
    blocks += [_recorder(group) for group in groups]
    unread = [
        (reading.file, reading.failures[0].message)
        for reading in readings
        if reading.failures and not reading.rows_used
    ]
    blocks.append(_named("Could not be read", unread))
    blocks.append(_named("Skipped", [(name, str(why)) for name, why in skipped]))
    questions = merged_questions(readings)
    if questions:
        blocks.append("\n".join(["Questions", *(_question(one) for one in questions)]))
    return [block for block in blocks if block]


def next_steps(readings: Sequence[Reading], folder: str, has_study: bool) -> str:
    """What to do now, as lines."""
    questions = len(merged_questions(readings))
    local = sum(reading.dialect.local for reading in readings)
    lines = ["Next"]
    if has_study:
        if questions:
            lines.append("  Add a line for each question to the study's [columns].")
    elif questions or local or folder:
        what = "the lines above in it, commented out" if questions else "blanks to fill in"
        name = folder or "FOLDER"
        lines.append(f"  gearing inspect --write-study study.toml {name}")
        lines.append(f"  writes a study file with {what}.")
    if questions and not has_study:
        lines.append("  Take the # off one line for each question.")
    if local and not has_study:
        lines.append(f"  Name time_zone in it: the times of {_count(local, 'log')} name none.")
    lines.append("  Then: gearing run study.toml")
    return "\n".join(lines)


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'s' * (number != 1)}"


def _recorder(group: Sequence[Reading]) -> str:
    first = group[0]
    more = f" and {len(group) - 1:,} like it" if len(group) > 1 else ""
    used = [reading for reading in group if reading.samples.height]
    read = sum(reading.rows_read for reading in group)
    aside = read - sum(reading.rows_used for reading in group)
    lines = [
        f"{printable(first.file)}{more}",
        f"  {dialect_words(first)}",
        f"  {read:,} rows read: {read - aside:,} used, {aside:,} set aside",
    ]
    if used:
        starts = min(used, key=lambda reading: reading.samples["time"][0])
        ends = max(used, key=lambda reading: reading.samples["time"][-1])
        lines.append(f"  from {moment(starts, 0)} to {moment(ends, -1)}")
    if local := sum(reading.dialect.local for reading in group):
        lines.append(f"  {LOCAL}" + (f" ({local} of them)" if local < len(group) else ""))
    every = {name for reading in group for name in reading.samples.columns}
    good_for, missing = usable_for(tuple(every))
    parts = [
        "\n".join(lines),
        columns_table(_columns(group)),
        ledger_lines("Set aside, rows", [p for r in group for p in r.set_aside_rows]),
        ledger_lines("Set aside, single values", [p for r in group for p in r.set_aside_values]),
        ledger_lines("Repaired or passed over", [p for r in group for p in r.repairs]),
        answers(good_for, missing),
    ]
    return "\n\n".join(part for part in parts if part)


def _columns(group: Sequence[Reading]) -> tuple[Column, ...]:
    """Each heading as most of the logs have it, over the values of all that do."""
    merged = []
    for columns in zip(*(reading.columns for reading in group), strict=True):
        ways = Counter((c.channel, c.unit, c.how) for c in columns if c.filled or c.channel)
        way = ways.most_common(1)[0][0] if ways else None
        alike = [c for c in columns if way is None or (c.channel, c.unit, c.how) == way]
        low = [c.low for c in alike if c.low is not None]
        high = [c.high for c in alike if c.high is not None]
        others = len({(c.channel, c.unit) for c in columns}) > 1
        merged.append(
            replace(
                alike[0],
                filled=sum(c.filled for c in columns) / len(columns),
                low=min(low, default=None),
                high=max(high, default=None),
                how=alike[0].how + (f", in {len(alike)} of {len(columns)}" if others else ""),
            )
        )
    return tuple(merged)


def _named(title: str, files: Sequence[tuple[str, str]]) -> str:
    if not files:
        return ""
    lines = [f"{title}: {_count(len(files), 'file')}"]
    lines += [f"  {printable(name)}: {printable(why)}" for name, why in files[:MAX_NAMED]]
    if len(files) > MAX_NAMED:
        lines.append(f"  and {len(files) - MAX_NAMED} more")
    return "\n".join(lines)


def _question(question: MergedQuestion) -> str:
    where = printable(question.where)
    lines = [f"  {printable(question.message)} (in {where})"]
    if question.remedy:
        lines.append(f"    {printable(question.remedy)}")
    else:
        which = "this line" if len(question.lines) == 1 else "one of these lines"
        lines.append(f"    Add {which} under [columns] in the study:")
    lines += [f"    {printable(line)}" for line in question.lines[:MAX_LINES]]
    if len(question.lines) > MAX_LINES:
        lines.append(f"    and {len(question.lines) - MAX_LINES} more")
    return "\n".join(lines)
