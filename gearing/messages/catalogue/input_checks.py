"""What is told of input that was given and did nothing, or not what it should."""

from __future__ import annotations

from gearing.messages.fields import Items, Moment, Quantity, UserText
from gearing.messages.render import Field, Message
from gearing.messages.template import Severity, Template

_W = Severity.WARNING
_FILE: dict[str, Field] = {"file": UserText("fillups.csv", "file")}
_SHEET = Message("spreadsheet")
_RECORD = Message("no-column-serves")
_REASON = Message("companion-reason", (("why", _SHEET),))
_USED = Message("fill-up-log", tuple(_FILE.items()))
_NOT_USED: dict[str, Field] = {"what": _USED, "reasons": Items((_REASON,), ";")}
_WHY: dict[str, Field] = {"why": Message("companion-unused", tuple(_NOT_USED.items()))}

_COMPANIONS = (
    Template("fill-up-log", "the fill-up log {file}", example=_FILE),
    Template("weather-file", "the weather file {file}", example=_FILE),
    Template("profile-file", "the profile {file}", example=_FILE),
    Template("companion-unused", "{what} could not be used: {reasons}", example=_NOT_USED),
    Template(
        "companion-unused/advice",
        "{what} could not be used: {reasons}. {advice}",
        example=_NOT_USED | {"advice": _RECORD},
    ),
    Template(
        "companion-unused/no-rows",
        "{what} could not be used: it has no rows",
        example={"what": _USED},
    ),
    Template("companion-reason", "{why:clause}", example={"why": _SHEET}),
    Template("companion-remedy", "{why:remedy}", example={"why": _SHEET}),
    Template("fill-ups-not-used", "{why:sentence}", severity=_W, example=_WHY),
    Template("weather-not-used", "{why:sentence}", severity=_W, example=_WHY),
    Template(
        "fill-ups-doubted",
        "The fill-up log {file}, line {line}, column '{column}': {why} {why:remedy}",
        severity=_W,
        example=_FILE | {"line": 3, "column": UserText("odometer", "column"), "why": _SHEET},
    ),
    Template(
        "fill-ups-set-aside",
        "{rows} {rows:row|rows} of the fill-up log {file}, from line {first} on, "
        "{rows:was|were} not used: {reasons}. set_aside.csv lists them",
        severity=_W,
        example=_FILE | {"rows": 2, "first": 14, "reasons": Items((_REASON,), ";")},
    ),
    Template(
        "weather-covers-nothing",
        "the weather file {file} covers none of the driving: it runs from {first} to {last}, the "
        "driving from {start} to {end}. Give one that does; check its dates and the study's "
        "time_zone",
        example=_FILE
        | {
            "first": Moment("2025-03-05"),
            "last": Moment("2025-03-10"),
            "start": Moment("2025-01-06"),
            "end": Moment("2025-01-09"),
        },
    ),
    Template(
        "weather-without-wind",
        "the weather file {file} gives no wind speed with its direction",
        example=_FILE,
    ),
    Template(
        "weather-covers-little",
        "the weather file {file} covers too little of the driving to take its wind",
        example=_FILE,
    ),
)

_LOG_REASON = Message(
    "log-reason",
    (("why", _SHEET), ("logs", 2), ("first", UserText("a.csv", "file")), ("others", True)),
)
_UNUSED: dict[str, Field] = {"unused": 3, "logs": 9, "reasons": Items((_LOG_REASON,), ";")}
_LISTED = "The report lists them under 'What was set aside'."
_LINE = UserText('"Speed" = ...', "line")

_LOGS = (
    Template(
        "logs-not-used",
        "{unused} of the {logs} logs {unused:was|were} not used at all: {reasons}. " + _LISTED,
        severity=_W,
        example=_UNUSED,
    ),
    Template(
        "logs-not-used/lines",
        "{unused} of the {logs} logs {unused:was|were} not used at all: {reasons}. {lines} "
        + _LISTED,
        severity=_W,
        example=_UNUSED
        | {
            "lines": Message(
                "add-under-columns", (("choices", Items((Items((_LINE,), "or"),), ", and")),)
            )
        },
    ),
    Template(
        "log-reason",
        "{why:title} ({logs}; {first}{others: and others|})",
        example=dict(_LOG_REASON.fields),
    ),
    Template("other-reasons", "and for other reasons"),
    Template(
        "logs-not-used/other-kind",
        "{file} is named among the logs and was not used: {why} {why:remedy}",
        severity=_W,
        example=_FILE | {"why": _SHEET},
    ),
)

_HEADING: dict[str, Field] = {
    "heading": UserText("Speeed", "column"),
    "what": Message("left-alone"),
    "advice": Message("check-heading"),
}

_COLUMNS = (
    Template(
        "times-without-zone",
        "The times of {logs} {logs:log|logs} name no zone, and the study no time_zone: they were "
        "taken as UTC. If they are local, a drive late in the day counts to the next one, and the "
        "weather of another hour is laid over it.",
        severity=_W,
        remedy='write time_zone = "America/Denver", or your own place, at the top of the study '
        'file; time_zone = "UTC" if they are UTC',
        example={"logs": 8},
    ),
    Template(
        "heading-not-seen",
        "Under [columns] '{heading}' is {what}, but no log has that heading: the line does "
        "nothing. {advice}",
        severity=_W,
        example=_HEADING,
    ),
    Template(
        "heading-not-seen/files",
        "Under [columns] '{heading}' is {what}, but no log has that heading in a file that fits "
        "'{files}': the line does nothing. {advice}",
        severity=_W,
        example=_HEADING | {"files": UserText("before/*", "file")},
    ),
    Template("left-alone", "left alone"),
    Template("check-heading", "Check how the log writes it."),
    Template("check-files", "Check its files."),
    Template(
        "check-heading/near",
        "Did you mean '{near}'?",
        example={"near": UserText("Speed", "column")},
    ),
)

_APART: dict[str, Field] = {
    "bus": UserText("bus.csv", "file"),
    "receiver": UserText("gps.csv", "file"),
    "span": Items((Quantity(1, "h"), Quantity(30, "min")), ""),
    "ahead": True,
    "advice": Message("set-clock-right"),
}
_NOT_JOINED = (
    ": the clock of the first is {span} {ahead:ahead of|behind} that of the second. They are not "
    "joined, so that these drives tell no odometer factor and no gearing. {advice}"
)
_AT_ONCE: dict[str, Field] = {"first": UserText("8", "trip"), "second": UserText("9", "trip")}
_TWICE = (
    ": two logs of one drive, and what they share of distance, time and fuel counts twice in all "
    "sums. Name only one of them under logs, or cut from one what both hold."
)

_CLOCKS = (
    Template(
        "clocks-apart",
        "{bus} and {receiver} look like one drive {span} apart" + _NOT_JOINED,
        severity=_W,
        example=_APART,
    ),
    Template(
        "clocks-apart/more",
        "{bus} and {receiver} look like one drive {span} apart, and so {more:does|do} {more} more "
        "{more:pair|pairs}" + _NOT_JOINED,
        severity=_W,
        example=_APART | {"more": 5},
    ),
    Template(
        "set-clock-right",
        "No line of the study moves their times: set the clock right in the logs.",
    ),
    Template("clock-line", "Under [columns] add {line}.", example={"line": _LINE}),
    Template(
        "clock-line/more",
        "Under [columns] add {line}, and a like entry for each of {logs} more {logs:log|logs}.",
        example={"line": _LINE, "logs": 4},
    ),
    Template(
        "drives-at-once",
        "{first} and {second} run at the same time" + _TWICE,
        severity=_W,
        example=_AT_ONCE,
    ),
    Template(
        "drives-at-once/more",
        "{first} and {second} run at the same time, and {more} more {more:pair does|pairs do}"
        + _TWICE,
        severity=_W,
        example=_AT_ONCE | {"more": 2},
    ),
)

TEMPLATES: tuple[Template, ...] = (*_COMPANIONS, *_LOGS, *_COLUMNS, *_CLOCKS)
