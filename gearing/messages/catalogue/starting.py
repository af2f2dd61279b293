"""What a starting study says of the folder it was written for, in its head and when written."""

from __future__ import annotations

from gearing.messages.fields import Items, Moment, UserText
from gearing.messages.render import Field, Message
from gearing.messages.template import Template

_FILE: dict[str, Field] = {"file": UserText("a.csv", "file")}
_WHY: dict[str, Field] = {"why": Message("spreadsheet")}
_PART: dict[str, Field] = {"part": UserText("fuel")}
_SPAN: dict[str, Field] = {"first": Moment("2026-03-01"), "last": Moment("2026-04-01")}

_HEAD = (
    Template(
        "starting-head",
        "A study of a change of tires. Fill in each {blank}; take the # off what you know.",
        example={"blank": UserText('"?"', "line")},
    ),
    Template("starting-logs", "{logs} {logs:log|logs} found", example={"logs": 4}),
    Template(
        "starting-logs/some",
        "{logs} {logs:log|logs} found, {looked} of them looked into",
        example={"logs": 400, "looked": 200},
    ),
    Template("starting-span", "{first} to {last} (UTC)", example=_SPAN),
    Template(
        "starting-good",
        "Good for {part}: {logs} of {all}.",
        example=_PART | {"logs": 3, "all": 4},
    ),
    Template(
        "starting-good/joined",
        "Good for {part}: {drives} {drives:drive|drives} that several logs show, joined by time.",
        example=_PART | {"drives": 3},
    ),
    Template(
        "starting-lacks",
        "Not good for {part}; missing: {lacks}.",
        example=_PART | {"lacks": Items((Message("lacks-fuel"),), ",")},
    ),
    Template(
        "starting-zone",
        "Once time_zone is named, logs that carry local time may join the others and be good for "
        "{parts}.",
        example={"parts": Items((UserText("speed"),), ",")},
    ),
    Template(
        "starting-outside",
        "{logs} more {logs:lies|lie} outside the folders before and after: not listed.",
        example={"logs": 2},
    ),
    Template(
        "starting-zone/name",
        "name yours: {logs} of {all} logs carry times without a zone, taken for UTC",
        example={"logs": 2, "all": 3},
    ),
    Template("starting-zone/none", "days are counted by it; else by UTC"),
    Template(
        "starting-pause", "(the longest pause between logs: {first} to {last})", example=_SPAN
    ),
    Template(
        "starting-not-known",
        "No heading is known as a channel: fill in the ? of those that are one, by gearing guide "
        "channels, and take their # off.",
    ),
    Template("starting-doubt", "headings that leave doubt: take the # off the line that is right"),
)

_WRITTEN = (
    Template("starting-written", "Wrote {file}.", example=_FILE),
    Template(
        "starting-fill",
        "Fill in {key} of {table} in line {line}.",
        example={"key": UserText("drive_tire"), "table": UserText("[before]"), "line": 20},
    ),
    Template(
        "starting-local",
        "Name your time_zone: {logs} {logs:log carries|logs carry} times without a zone.",
        example={"logs": 2},
    ),
    Template(
        "starting-left",
        "{headings} {headings:heading|headings} left in doubt: see [columns] in it.",
        example={"headings": 2},
    ),
    Template("starting-unread", "Could not be read: {what}", example={"what": _FILE["file"]}),
    Template("starting-skipped", "Skipped: {what}", example={"what": _FILE["file"]}),
    Template("starting-then", "Then: gearing run {file}", example=_FILE),
)

TEMPLATES: tuple[Template, ...] = (*_HEAD, *_WRITTEN)
