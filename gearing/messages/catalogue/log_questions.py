"""What the user is asked about the columns and times of a log, with the lines that answer it."""

from __future__ import annotations

from gearing.messages.fields import Items, Moment, Span, UserText
from gearing.messages.render import Field, Message
from gearing.messages.template import Severity, Template

_Q = Severity.QUESTION

_COLUMN = UserText("Speed", "column")
_LINE = UserText('"Speed" = ...', "line")
_ANSWER = Message("lines-to-add", (("lines", Items((_LINE,), "\n")),))
_QUOTED = Message("quoted-column", (("column", _COLUMN),))
_RUNS = Message("values-run", (("values", Span(0, 60, "-")),))
_HEADED: dict[str, Field] = {"column": _COLUMN, "answer": _ANSWER}


def _asked(code: str, title: str, detail: str, example: dict[str, Field]) -> Template:
    """A question; what answers it is the nested message `answer`."""
    return Template(code, f"{title}: {detail}.", "{answer}", _Q, title, example)


_WHICH_COLUMN = "more than one column could be this channel"
_WHICH_CHANNEL = "the heading fits more than one channel"
_WHICH_UNIT = "the unit is not given and the values do not settle it"
_WHICH_ORDER = "day, month and year cannot be told apart"
_WHICH_START = "the time counts from a start that is not known"
_WHICH_TIME = "no column is known to be the time"
_WHICH_NAME = "headings are not known whose unit fits what is missing"

_ANSWERS = (
    Template(
        "lines-to-add",
        "{lines:Add this line|Add one of these lines} under [columns] in the study:\n{lines}",
        example={"lines": Items((_LINE,), "\n")},
    ),
    Template("no-column-serves", "Record it as well: no column of this file can serve."),
    Template(
        "add-under-columns",
        "Under [columns] in the study add {choices}.",
        example={"choices": Items((Items((_LINE, _LINE), "or"),), ", and")},
    ),
)

_COLUMNS = (
    Template("quoted-column", "'{column}'", example={"column": _COLUMN}),
    _asked(
        "which-column",
        _WHICH_COLUMN,
        "{columns} could each be the {channel}",
        {
            "columns": Items((_QUOTED, _QUOTED)),
            "channel": UserText("gps speed"),
            "answer": _ANSWER,
        },
    ),
    _asked("which-channel", _WHICH_CHANNEL, "'{column}'", _HEADED),
    _asked(
        "which-channel/speed",
        _WHICH_CHANNEL,
        "'{column}' does not say what measured it",
        _HEADED,
    ),
    _asked(
        "which-channel/positions",
        _WHICH_CHANNEL,
        "'{column}' and '{other}' are far from the speed as they stand, and fit it the other way "
        "round",
        _HEADED | {"other": UserText("Longitude", "column")},
    ),
    _asked("which-unit", _WHICH_UNIT, "'{column}' {values}", _HEADED | {"values": _RUNS}),
    _asked(
        "which-unit/unknown-unit",
        _WHICH_UNIT,
        "'{column}' says '{written}', which is not a unit the program knows, and {values}",
        _HEADED | {"written": UserText("firkin/h", "column"), "values": _RUNS},
    ),
    _asked(
        "two-units",
        "two units are given and the values do not settle which it is",
        "'{column}' is said to be in {units}, and {values}",
        _HEADED | {"units": Items((UserText("mph"), UserText("km/h"))), "values": _RUNS},
    ),
    _asked(
        "which-unit/time",
        _WHICH_UNIT,
        "'{column}' counts time",
        _HEADED,
    ),
    _asked(
        "which-unit/speed-changes",
        _WHICH_UNIT,
        "'{column}' counts time, and in seconds rows would come, or the speed change, as in no "
        "vehicle",
        _HEADED,
    ),
    Template("values-run", "runs from {values}", example={"values": Span(0, 60, "-")}),
    Template("values-none", "has no number"),
    _asked(
        "which-name",
        _WHICH_NAME,
        "{channels}",
        {
            "channels": Items((UserText("engine speed"), UserText("GPS speed")), "or"),
            "answer": _ANSWER,
        },
    ),
    _asked(
        "which-name/beside",
        _WHICH_NAME,
        "{file} has no column known as the {channel}",
        {"file": UserText("a.csv", "file"), "channel": UserText("odometer"), "answer": _ANSWER},
    ),
)

_TIMES = (
    _asked(
        "which-date-order",
        _WHICH_ORDER,
        "'{column}' has '{shown}'",
        _HEADED | {"shown": UserText("03/04/2026", "value")},
    ),
    _asked(
        "which-start",
        _WHICH_START,
        "'{column}' {of_day:gives the time of day alone|counts from a start not given}; a file "
        "name that begins with it (2026-03-01_0815.csv) tells it too",
        _HEADED | {"of_day": True},
    ),
    _asked(
        "which-start/open-date",
        _WHICH_START,
        "'{column}' {of_day:gives the time of day alone|counts from a start not given}; "
        "'{written}' may be day first or month first",
        _HEADED | {"of_day": False, "written": UserText("3.4.2026", "value")},
    ),
    _asked(
        "which-start/sentences",
        _WHICH_START,
        "the sentences give the time of day alone; a file name that begins with the date "
        "(2026-03-01.nmea) tells it too",
        {"answer": _ANSWER},
    ),
    _asked(
        "which-time", _WHICH_TIME, "name the one that counts or dates the rows", {"answer": _ANSWER}
    ),
    _asked(
        "which-time/unreadable",
        _WHICH_TIME,
        "{columns} cannot be read as a time",
        {"columns": Items((_QUOTED,), ","), "answer": _ANSWER},
    ),
    _asked(
        "which-time/minutes",
        _WHICH_TIME,
        "{columns} gives minutes and seconds alone ('{shown}'), as a spreadsheet shows a time; the "
        "day and the hour are lost, unless it is exported anew in a format that has them",
        {
            "columns": Items((_QUOTED,), ","),
            "shown": UserText("05:00.0", "value"),
            "answer": _ANSWER,
        },
    ),
    _asked("which-time/day", _WHICH_TIME, "'{column}' gives the day alone", _HEADED),
    _asked(
        "which-time/hour",
        _WHICH_TIME,
        "many rows of {file} have the same time; the hour must stand elsewhere",
        {"file": UserText("a.csv", "file"), "answer": _ANSWER},
    ),
    _asked(
        "old-dates",
        "the dates are doubtful",
        "they are of {year}; receivers whose week count has run over give such dates today",
        {"year": Moment("2006"), "answer": _ANSWER},
    ),
    _asked(
        "old-dates/count",
        "the dates are doubtful",
        "they are of {year}, counted from 1970; some clocks count from 2001 or 1904",
        {"year": Moment("1995"), "answer": _ANSWER},
    ),
    _asked(
        "old-dates/gps",
        "the dates are doubtful",
        "they are of {year}, counted from 1970; receivers count from 1980",
        {"year": Moment("2016"), "answer": _ANSWER},
    ),
)

TEMPLATES: tuple[Template, ...] = (*_ANSWERS, *_COLUMNS, *_TIMES)
