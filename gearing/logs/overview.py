"""Many logs at a glance, for `gearing inspect FOLDER`: by recorder, each question once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from gearing.logs.answers import usable_for
from gearing.logs.beside import Skipped
from gearing.logs.describe import (
    ASIDE_ROWS,
    ASIDE_VALUES,
    LOCAL,
    REPAIRS,
    answers,
    columns_table,
    counted,
    covered,
    dialect_words,
    ledger_lines,
    moment,
    printable,
)
from gearing.logs.model import Column, Reading
from gearing.logs.questions import Asking, MergedQuestion, merged_questions
from gearing.messages import Message, UserText, message, message_of

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


def overview(
    readings: Sequence[Reading], skipped: Sequence[Skipped], asking: Sequence[Asking] = ()
) -> list[str]:
    """Blocks of text: each recorder, what was skipped (name and why), each question; `asking`:
    what lies beside the logs and may leave something open."""
    groups = by_recorder(readings)
    read = sum(reading.rows_read for reading in readings)
    used = sum(reading.rows_used for reading in readings)
    counted_all = message(
        "logs-of-recorders",
        logs=_logs(len(readings)),
        recorders=message("recorders-counted", recorders=len(groups)),
        read=read,
        used=used,
        aside=read - used,
    )
    blocks = [str(counted_all)]
    blocks += [_recorder(group) for group in groups]
    unread = [
        (reading.file, message_of(reading.failures[0]))
        for reading in readings
        if reading.failures and not reading.rows_used
    ]
    blocks.append(_named(message("not-read", files=len(unread)), unread))
    blocks.append(_named(message("skipped-files", files=len(skipped)), skipped))
    blocks.append("\n".join(question_lines([*readings, *asking])))
    return [block for block in blocks if block]


def question_lines(asking: Sequence[Asking]) -> list[str]:
    """Each question once, under a heading; nothing where none is open."""
    questions = merged_questions(asking)
    return ["Questions", *(_question(one) for one in questions)] if questions else []


def next_steps(
    readings: Sequence[Reading], folder: str, has_study: bool, asking: Sequence[Asking] = ()
) -> str:
    """What to do now, as lines."""
    questions = len(merged_questions([*readings, *asking]))
    local = sum(reading.dialect.local for reading in readings)
    lines = ["Next"]
    if has_study:
        if questions:
            lines.append(f"  {message('next-answer')}")
    elif questions or local or folder:
        what = message("with-lines" if questions else "with-blanks")
        name = folder or "FOLDER"
        lines.append(f"  gearing inspect --write-study study.toml {name}")
        lines.append(f"  {message('next-write', what=what)}")
    if questions and not has_study:
        lines.append(f"  {message('next-uncomment')}")
    if local and not has_study:
        lines.append(f"  {message('next-zone', logs=_logs(local))}")
    lines.append(f"  {message('next-run')}")
    return "\n".join(lines)


def _logs(number: int) -> Message:
    return message("logs-counted", logs=number)


def _recorder(group: Sequence[Reading]) -> str:
    first = group[0]
    file, more = UserText(printable(first.file), "file"), len(group) - 1
    used = [reading for reading in group if reading.samples.height]
    read = sum(reading.rows_read for reading in group)
    lines = [
        str(message("and-like-it", file=file, more=more)) if more else file.text,
        f"  {dialect_words(first)}",
        counted(read, sum(reading.rows_used for reading in group)),
    ]
    if used:
        starts = min(used, key=lambda reading: reading.samples["time"][0])
        ends = max(used, key=lambda reading: reading.samples["time"][-1])
        lines.append(covered(moment(starts, 0), moment(ends, -1)))
    if local := sum(reading.dialect.local for reading in group):
        some = message("local-times/some", local=LOCAL, logs=local)
        lines.append(f"  {some if local < len(group) else LOCAL}")
    every = {name for reading in group for name in reading.samples.columns}
    good_for, missing = usable_for(tuple(every))
    parts = [
        "\n".join(lines),
        columns_table(_columns(group)),
        ledger_lines(ASIDE_ROWS, [p for r in group for p in r.set_aside_rows]),
        ledger_lines(ASIDE_VALUES, [p for r in group for p in r.set_aside_values]),
        ledger_lines(REPAIRS, [p for r in group for p in r.repairs]),
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
        so_in = (message("read-so-in", logs=len(alike), all=len(columns)),)
        merged.append(
            replace(
                alike[0],
                filled=sum(c.filled for c in columns) / len(columns),
                low=min(low, default=None),
                high=max(high, default=None),
                how=(*alike[0].how, *(so_in if others else ())),
            )
        )
    return tuple(merged)


def _named(title: Message, files: Sequence[tuple[str, Message]]) -> str:
    if not files:
        return ""
    told = [
        message("of-a-file", file=UserText(name, "file"), why=why)
        for name, why in files[:MAX_NAMED]
    ]
    if len(files) > MAX_NAMED:
        told.append(message("and-more", more=len(files) - MAX_NAMED))
    return "\n".join([str(title), *(f"  {printable(str(one)).rstrip()}" for one in told)])


def _question(question: MergedQuestion) -> str:
    told = message("question-of", question=question.told, where=question.where)
    lines = [f"  {printable(str(told))}"]
    if question.remedy:
        lines.append(f"    {printable(question.remedy)}")
    else:
        lines.append(f"    {message('add-lines', lines=len(question.lines))}")
    lines += [f"    {printable(line)}" for line in question.lines[:MAX_LINES]]
    if len(question.lines) > MAX_LINES:
        lines.append(f"    {message('and-more', more=len(question.lines) - MAX_LINES)}")
    return "\n".join(lines)
