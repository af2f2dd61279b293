"""Many logs at a glance, for `gearing inspect FOLDER`: by recorder, each question once."""

from __future__ import annotations

from collections.abc import Sequence

from gearing.logs.beside import Skipped
from gearing.logs.column_rule import rule_line
from gearing.logs.describe import printable, recorder_text
from gearing.logs.model import Reading
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
    readings: Sequence[Reading],
    skipped: Sequence[Skipped],
    asking: Sequence[Asking] = (),
    width: int | None = None,
) -> list[str]:
    """Blocks of text: each recorder, what was skipped (name and why), each question; `asking`:
    what lies beside the logs and may leave something open. Tables are at most `width` wide."""
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
    blocks += [recorder_text(group, width) for group in groups]
    unread_logs = [one for one in readings if one.failures and not one.rows_used]
    title = message("not-read", files=len(unread_logs))
    blocks.append(_named(title, _by_reason(unread_logs)) if unread_logs else "")
    blocks.append(_named(message("skipped-files", files=len(skipped)), skipped))
    blocks.append("\n".join(question_lines([*readings, *asking])))
    blocks += [_not_known(group) for group in [*groups, unread_logs]]
    return [block for block in blocks if block]


def _by_reason(unread: Sequence[Reading]) -> list[tuple[str, Message]]:
    """Each reason once, with the first log it is of and how many others."""
    logs: dict[Message, list[str]] = {}
    for one in unread:
        logs.setdefault(message_of(one.failures[0]), []).append(one.file)
    return [(_like(files), why) for why, files in logs.items()]


def _like(files: Sequence[str]) -> str:
    """The first of some logs, and how many are like it."""
    first, more = printable(files[0]), len(files) - 1
    return str(message("and-like-it", file=UserText(first, "file"), more=more)) if more else first


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


def not_known(readings: Sequence[Reading]) -> list[str]:
    """Lines for [columns], to be filled in, of numbers in a log that has no heading known but the
    time's; with the range of each as written. Empty where any is known."""
    for one in readings:
        numbers = [c for c in one.columns if c.channel is None and c.low is not None]
        if numbers and not any(c.channel not in (None, "time") for c in one.columns):
            return [
                f"{rule_line(c.heading, '?', '?')}  # {c.low:.6g} to {c.high:.6g}"
                for c in numbers[:MAX_LINES]
            ]
    return []


def _not_known(group: Sequence[Reading]) -> str:
    lines = not_known(group)
    told = (str(message("no-heading-known")), *(f"  {printable(line)}" for line in lines))
    return "\n".join(told) if lines else ""


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
