"""What is told of what was mended, or passed over, while a log was read."""

from __future__ import annotations

from gearing.messages.fields import Items, Moment, Quantity, UserText
from gearing.messages.render import Field, Message
from gearing.messages.template import Severity, Template

_N = Severity.NOTE
_FILE = UserText("a.csv", "file")
_MORE = Message("more-files", (("count", 2),))
_QUOTED = Message("quoted-column", (("column", UserText("Time", "column")),))
_START: dict[str, Field] = {"start": Moment("2026-03-01T08:15:00")}

_FORM = "the form of latitude and longitude was settled by the speed between them"

_TEXT = (
    Template("decoded-as-cp1252", "not UTF-8: read as Windows western (cp1252).", "", _N),
    Template("undecodable-bytes", "bytes that are not text were replaced.", "", _N),
    Template("encoded-twice", "signs of units that were encoded twice were put right.", "", _N),
    Template("minus-sign", "typographic minus signs were read as minus signs.", "", _N),
    Template("nul-bytes", "NUL bytes were taken out.", "", _N),
    Template("line-ends", "line ends were made alike.", "", _N),
    Template("preamble", "lines before the headings were passed over.", "", _N),
    Template("comment", "comment lines were passed over.", "", _N),
    Template("repeated-heading", "repeated heading rows were passed over.", "", _N),
    Template(
        "new-headings", "new headings began in mid-file; each part was read by its own.", "", _N
    ),
    Template("blank-line", "blank lines were passed over.", "", _N),
    Template("trailing-blanks", "rows without their trailing empty fields were filled up.", "", _N),
    Template("joined-lines", "quoted fields with a line end inside were joined.", "", _N),
    Template(
        "parted-by-blanks", "two blanks or more were taken to part the fields of a row.", "", _N
    ),
    Template("salvaged-xml", "the XML is cut off; its whole points were read.", "", _N),
)

_CLOCK = (
    Template("out-of-order", "rows were put in order of time.", "", _N),
    Template(
        "coarse-clock",
        "rows share their time; they were spread evenly over its step: it goes by {step}.",
        "",
        _N,
        "rows share their time; they were spread evenly over its step",
        {"step": Quantity(60, "s")},
    ),
    Template("clock-set", "the clock was set while recording; rows before it were moved.", "", _N),
    Template("week-rollover", "dates 1024 weeks back (GPS week rollover) were put right.", "", _N),
    Template(
        "twelve-hours",
        "times of twelve hours were taken for the afternoon's, by the time that the file names.",
        "",
        _N,
    ),
    Template(
        "counted-from-1980",
        "times were counted from 1980, as GPS counts, by the day that the file names.",
        "",
        _N,
    ),
    Template(
        "counted-from-1904",
        "days were counted from 1904, by the day that the file names.",
        "",
        _N,
    ),
    Template(
        "counted-from-1900",
        "days were counted from 1900, as most spreadsheets do; one that counts from 1904 means "
        "days four years later, from {day} on.",
        "A file name that begins with the day (2026-03-01.csv) tells which.",
        _N,
        "days were counted from 1900, as most spreadsheets do",
        {"day": Moment("2030-03-02")},
    ),
    Template(
        "start-from-preamble",
        "the start of the elapsed time stands above the headings: {start}.",
        "",
        _N,
        "the start of the elapsed time stands above the headings",
        _START,
    ),
    Template(
        "start-from-name",
        "the start of the elapsed time is taken from the file name: {start}.",
        "",
        _N,
        "the start of the elapsed time is taken from the file name",
        _START,
    ),
    Template(
        "from-midnight",
        "the time counts from midnight, and begins at the start's own time of day: the first is "
        "{first}.",
        "",
        _N,
        "the time counts from midnight, and begins at the start's own time of day",
        {"first": Quantity(29700, "s")},
    ),
    Template(
        "start-of-day-assumed", "only the date of the start is known; midnight is taken.", "", _N
    ),
    Template(
        "order-by-name",
        "day, month and year were told apart by the file's name or preamble: {order}, for '{by}'.",
        "",
        _N,
        "day, month and year were told apart by the file's name or preamble",
        {"order": UserText("day first"), "by": UserText("trip 3.2.2026.csv", "file")},
    ),
    Template(
        "order-by-logs",
        "day, month and year were told apart by logs with the same headings: {order}, as "
        "{files} show.",
        "",
        _N,
        "day, month and year were told apart by logs with the same headings",
        {"order": UserText("day first"), "files": Items((_FILE, _MORE))},
    ),
    Template("more-files", "{count} more", example={"count": 2}),
    Template(
        "broken-date", "broken dates among good ones were taken from the rows around them.", "", _N
    ),
    Template(
        "time-by-positions",
        "the unit of the time was settled by positions and speed: the count was taken {scale} "
        "times as long.",
        "",
        _N,
        "the unit of the time was settled by positions and speed",
        {"scale": UserText("60")},
    ),
    Template("midnight", "a time of day that passes midnight was carried on.", "", _N),
    Template(
        "summer-time", "the hour that comes twice was told apart by the order of rows.", "", _N
    ),
    Template("clock-not-switched", "local times that do not exist: read as standard time.", "", _N),
    Template(
        "two-clocks",
        "two columns give the time; one is used: {columns}; '{used}' is used.",
        "",
        _N,
        "two columns give the time; one is used",
        {
            "columns": Items((_QUOTED, _QUOTED)),
            "used": UserText("GPS time", "column"),
        },
    ),
)

_CELLS = (
    Template(
        "unit-in-cell",
        "units written behind the numbers were taken off: {unit}.",
        "",
        _N,
        "units written behind the numbers were taken off",
        {"unit": UserText("km/h")},
    ),
    Template("formula-cells", "cells written as formulas were read as their text.", "", _N),
    Template("thousands-separator", "thousands separators were taken out.", "", _N),
    Template(
        "held-values",
        "values are written only when they change: each was held until the next.",
        "",
        _N,
    ),
    Template("same-values-twice", "two columns carry the same values; the first is used.", "", _N),
    Template("paired-position", "latitude and longitude in rows of their own were paired.", "", _N),
    Template("positions-in/radians", f"{_FORM}: radians.", "", _N, _FORM),
    Template("positions-in/other-order", f"{_FORM}: each in the other's place.", "", _N, _FORM),
    Template("positions-in/minutes", f"{_FORM}: minutes behind the point.", "", _N, _FORM),
    Template("positions-in/semicircles", f"{_FORM}: semicircles.", "", _N, _FORM),
    Template(
        "small-negative-speed", "speeds a little below zero were taken as standing still.", "", _N
    ),
    Template(
        "trip-meter",
        "distances from fill to fill (a trip meter's) were summed to an odometer.",
        "",
        _N,
    ),
    Template(
        "odometer-anew",
        "the odometer starts anew: replaced, or past its last digit. The tank over that is left "
        "out.",
        "",
        _N,
    ),
    Template(
        "unit-by-others",
        "no unit is given: taken as {unit}, by '{other}'.",
        "Where it is another, name it under [columns].",
        _N,
        example={"unit": UserText("mi"), "other": UserText("gal")},
    ),
)

TEMPLATES: tuple[Template, ...] = (*_TEXT, *_CLOCK, *_CELLS)
