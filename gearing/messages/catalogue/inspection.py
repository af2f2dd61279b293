"""What `gearing inspect` tells of logs: how they are written, what they hold, what to do next."""

from __future__ import annotations

from gearing.messages.fields import Items, Moment, UserText
from gearing.messages.render import Field, Message
from gearing.messages.template import Template

_FILE = UserText("a.csv", "file")
_COUNTS: dict[str, Field] = {"read": 3600, "used": 3599, "aside": 1}
_GOOD: dict[str, Field] = {"answers": Items((UserText("speed"), UserText("fuel")), ",")}
_LOGS = Message("logs-counted", (("logs", 3),))
_LINES = Message("with-lines")

_FORM = (
    Template(
        "fields-parted",
        "fields separated by {delimiter}",
        example={"delimiter": Message("delimiter/tab")},
    ),
    Template("delimiter/comma", "comma"),
    Template("delimiter/semicolon", "semicolon"),
    Template("delimiter/tab", "tab"),
    Template("delimiter/pipe", "pipe"),
    Template("decimal-sign", "decimal {comma:comma|point}", example={"comma": True}),
    Template("headings-line", "headings in line {line}", example={"line": 1}),
    Template("units-line", "units in line {line}", example={"line": 2}),
    Template("time-written", "time: {form}", example={"form": Items((Message("time-form/iso"),))}),
    Template(
        "local-times",
        "its times name no zone and were taken in the study's time_zone; without one, as UTC",
    ),
    Template(
        "local-times/some",
        "{local} ({logs} of them)",
        example={
            "local": Message("local-times"),
            "logs": 2,
        },
    ),
)

_HELD = (
    Template("rows-counted", "{read} rows read: {used} used, {aside} set aside", example=_COUNTS),
    Template(
        "time-covered",
        "from {first} to {last}",
        example={"first": Moment("2026-03-01T08:00:00Z"), "last": Moment("2026-03-01T09:00:00Z")},
    ),
    Template("heading-how", "how it was told"),
    Template("aside-rows", "Set aside, rows"),
    Template("aside-values", "Set aside, single values"),
    Template("repairs-made", "Repaired or passed over"),
    Template("good-for", "Good for: {answers}", example=_GOOD),
    Template(
        "not-good-for",
        "By itself not for {answer}: it lacks {lacking}",
        example={"answer": UserText("fuel"), "lacking": Items((Message("lacks-fuel"),))},
    ),
)

_MANY = (
    Template("logs-counted", "{logs} {logs:log|logs}", example={"logs": 3}),
    Template(
        "recorders-counted",
        "{recorders} {recorders:recorder|recorders}",
        example={
            "recorders": 1,
        },
    ),
    Template(
        "logs-of-recorders",
        "{logs} of {recorders}: {read} rows read, {used} used, {aside} set aside",
        example=_COUNTS
        | {"logs": _LOGS, "recorders": Message("recorders-counted", (("recorders", 1),))},
    ),
    Template("and-like-it", "{file} and {more} like it", example={"file": _FILE, "more": 4}),
    Template("not-read", "Could not be read: {files} {files:file|files}", example={"files": 2}),
    Template("skipped-files", "Skipped: {files} {files:file|files}", example={"files": 2}),
    Template(
        "of-a-file",
        "{file}: {why} {why:remedy}",
        example={"file": _FILE, "why": Message("spreadsheet")},
    ),
    Template("and-more", "and {more} more", example={"more": 3}),
    Template(
        "question-of",
        "{question} (in {where})",
        example={"question": Message("spreadsheet"), "where": Items((_FILE,))},
    ),
    Template(
        "add-lines",
        "Add {lines:this line|one of these lines} under [columns] in the study:",
        example={"lines": 2},
    ),
)

_NEXT = (
    Template(
        "no-heading-known",
        "No heading is known as a channel. Under [columns] in the study name those that are one "
        "and their units (gearing guide channels lists them), for each ?:",
    ),
    Template("next-answer", "Add a line for each question to the study's [columns]."),
    Template(
        "next-write",
        "writes a study file with {what}.",
        example={"what": _LINES},
    ),
    Template("with-lines", "the lines above in it, commented out"),
    Template("with-blanks", "blanks to fill in"),
    Template("next-uncomment", "Take the # off one line for each question."),
    Template(
        "next-zone",
        "Name time_zone in it: the times of {logs} name none.",
        example={"logs": _LOGS},
    ),
    Template("next-run", "Then: gearing run study.toml"),
)

TEMPLATES: tuple[Template, ...] = (*_FORM, *_HELD, *_MANY, *_NEXT)
