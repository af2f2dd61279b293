"""The catalogue of what reading a log can meet: code, how grave, title, what to do.

Every row or value set aside, every repair and every question names one of these codes; the
codes are stable, since people's scripts may rest on them.
"""

from __future__ import annotations

from dataclasses import dataclass

from gearing.messages import Problem, Severity


@dataclass(frozen=True, slots=True)
class Reason:
    """One code of the catalogue. `title` is what was found, `remedy` what to do about it."""

    code: str
    severity: Severity
    title: str
    remedy: str = ""


_E, _Q, _W, _N = Severity.ERROR, Severity.QUESTION, Severity.WARNING, Severity.NOTE

_FILES = (
    Reason("unreadable-file", _E, "the file cannot be opened", "Check its name and permissions."),
    Reason("empty-file", _E, "the file holds nothing", "Record again or take it off the list."),
    Reason("spreadsheet", _E, "this is a spreadsheet, not a text log", "Save it as CSV."),
    Reason("not-text", _E, "this is no text file", "Export the log as CSV, GPX or NMEA text."),
    Reason(
        "too-large-unpacked",
        _E,
        "unpacked, the file grows beyond what a log can be",
        "Unpack it yourself and look at what is inside.",
    ),
    Reason("damaged-archive", _E, "the archive cannot be unpacked", "Pack the log again."),
    Reason(
        "several-in-archive",
        _E,
        "the archive holds several logs",
        "Unpack it, and name the logs that are in it.",
    ),
    Reason(
        "no-headings",
        _E,
        "no row of headings was found",
        "Add a first row that names the columns, with units.",
    ),
    Reason(
        "no-records",
        _E,
        "the file holds no records",
        "Take it off the list, or look whether the recorder ran.",
    ),
    Reason(
        "distance-back-and-forth",
        _E,
        "the distance runs back and forth from row to row",
        "Give each point's distance from the beginning of the road, in order; not the length of "
        "each stretch.",
    ),
    Reason("damaged-xml", _E, "the XML cannot be read", "Export the track again as GPX 1.1."),
    Reason(
        "reader-fault",
        _E,
        "the reader itself failed on this file; this is a fault of the program",
        "Please report it with the heading row; the other logs were read.",
    ),
)

_ROWS = (
    Reason("cut-record", _N, "the last record is cut off", ""),
    Reason("short-row", _N, "the row has fewer fields than there are headings", ""),
    Reason("long-row", _N, "the row has more fields than there are headings", ""),
    Reason("broken-quotes", _N, "a quoted field of the row does not end", ""),
    Reason("footer-line", _N, "a closing line of the file, not a record", ""),
    Reason("no-time", _N, "the row has no time", ""),
    Reason("unreadable-time", _N, "the time cannot be read", ""),
    Reason(
        "time-unknown",
        _E,
        "no moment can be given to the rows",
        "Answer the question about the time; it is shown with the line to add.",
    ),
    Reason(
        "counts-anew",
        _W,
        "the count of time begins anew, and nothing tells when",
        "Part the file there, and name each part by its start (2026-03-01_0815.csv).",
    ),
    Reason("stray-time", _N, "the time lies far outside the rest of the file", ""),
    Reason("clock-not-set", _N, "recorded before the recorder's clock was set", ""),
    Reason("repeated-row", _N, "the same row stands in the file already", ""),
    Reason("repeated-time", _N, "another row has the same time; the first of them was used"),
    Reason("repeated-distance", _N, "another row has the same distance; the first was used"),
    Reason("other-fluid", _N, "exhaust fluid was filled up, not fuel"),
    Reason("no-values", _N, "the row carries no value of a known channel", ""),
    Reason("unknown-parameter", _N, "the row's parameter is none of the known channels", ""),
    Reason("bad-checksum", _N, "the sentence's checksum does not fit", ""),
    Reason("no-checksum", _N, "the sentence has no checksum", ""),
    Reason("other-sentence", _N, "a sentence other than GGA, RMC and VTG", ""),
    Reason("damaged-sentence", _N, "the line is no whole NMEA sentence", ""),
    Reason("no-fix", _N, "the receiver had no fix", ""),
)

_VALUES = (
    Reason("unreadable-value", _N, "the value is not a number", ""),
    Reason("not-available-code", _N, "a code that stands for 'not available'", ""),
    Reason("out-of-range", _N, "the value lies outside what is plausible", ""),
    Reason("stuck", _N, "the value is frozen while others move", ""),
    Reason("null-island", _N, "latitude and longitude zero: no fix", ""),
    Reason("position-spike", _N, "the position jumps away and back", ""),
    Reason("half-position", _N, "latitude without longitude, or the other way round", ""),
    Reason(
        "odometer-out-of-step",
        _W,
        "the odometer does not fit the fill-ups before and after",
        "The reading was left out; what was filled counts to the next one.",
    ),
    Reason("maybe-cut", _N, "the last value of a file without a final line end may be cut", ""),
    Reason(
        "wrong-dimension",
        _W,
        "the column's unit does not fit what the heading names",
        "If the heading means something else, say so under [columns].",
    ),
    Reason(
        "partial-position",
        _W,
        "the positions lack their degrees",
        "Export latitude and longitude in decimal degrees.",
    ),
)

_REPAIRS = (
    Reason("decoded-as-cp1252", _N, "not UTF-8: read as Windows western (cp1252)", ""),
    Reason("undecodable-bytes", _N, "bytes that are no text were replaced", ""),
    Reason("encoded-twice", _N, "signs of units that were encoded twice were put right"),
    Reason("minus-sign", _N, "minus signs as print sets them were read as such"),
    Reason("nul-bytes", _N, "NUL bytes were taken out", ""),
    Reason("line-ends", _N, "line ends were made alike", ""),
    Reason("preamble", _N, "lines before the headings were passed over", ""),
    Reason("comment", _N, "comment lines were passed over", ""),
    Reason("repeated-heading", _N, "repeated heading rows were passed over", ""),
    Reason("new-headings", _N, "new headings began in mid-file; each part was read by its own", ""),
    Reason("blank-line", _N, "blank lines were passed over", ""),
    Reason("trailing-blanks", _N, "rows without their trailing empty fields were filled up", ""),
    Reason("joined-lines", _N, "quoted fields with a line end inside were joined", ""),
    Reason("unit-in-cell", _N, "units written behind the numbers were taken off", ""),
    Reason("thousands-separator", _N, "thousands separators were taken out", ""),
    Reason("out-of-order", _N, "rows were put in order of time", ""),
    Reason("held-values", _N, "values are written only when they change: each stood to the next"),
    Reason("coarse-clock", _N, "rows share their time; they were spread evenly over its step", ""),
    Reason("clock-set", _N, "the clock was set while recording; rows before it were moved", ""),
    Reason("week-rollover", _N, "dates 1024 weeks back (GPS week rollover) were put right", ""),
    Reason("start-from-preamble", _N, "the start of the elapsed time stands above the headings"),
    Reason("start-from-name", _N, "the start of the elapsed time is taken from the file name"),
    Reason("start-from-study", _N, "the start of the elapsed time is given by the study"),
    Reason("from-midnight", _N, "the time counts from midnight: it begins at the start's own time"),
    Reason("start-of-day-assumed", _N, "only the date of the start is known; midnight is taken"),
    Reason("order-by-name", _N, "day and month were told apart by the file's name or preamble"),
    Reason("order-by-logs", _N, "day and month were told apart by logs with the same headings"),
    Reason("broken-date", _N, "broken dates among good ones were taken from the rows around them"),
    Reason("midnight", _N, "a time of day that passes midnight was carried on", ""),
    Reason("summer-time", _N, "the hour that comes twice was told apart by the order of rows", ""),
    Reason("clock-not-switched", _N, "local times that do not exist: read as standard time", ""),
    Reason("two-clocks", _N, "two columns give the time; one is used", ""),
    Reason("same-values-twice", _N, "two columns carry the same values; the first is used", ""),
    Reason("paired-position", _N, "latitude and longitude in rows of their own were paired"),
    Reason("small-negative-speed", _N, "speeds a little below zero were taken as standing"),
    Reason(
        "trip-meter", _N, "distances from fill to fill (a trip meter's) were summed to an odometer"
    ),
    Reason("salvaged-xml", _N, "the XML is cut off; its whole points were read", ""),
)

_QUESTIONS = (
    Reason("which-column", _Q, "more than one column could be this channel"),
    Reason("which-channel", _Q, "the heading fits more than one channel"),
    Reason("which-unit", _Q, "the unit is not given and the values do not settle it"),
    Reason("which-date-order", _Q, "day and month cannot be told apart"),
    Reason("which-start", _Q, "the time counts from a start that is not known"),
    Reason("which-time", _Q, "no column is known to be the time"),
    Reason("which-name", _Q, "headings are not known whose unit fits what is missing"),
    Reason("old-dates", _Q, "the dates are long past"),
)

REASONS: dict[str, Reason] = {
    reason.code: reason
    for group in (_FILES, _ROWS, _VALUES, _REPAIRS, _QUESTIONS)
    for reason in group
}


def problem(
    code: str,
    *,
    file: str,
    detail: str = "",
    remedy: str = "",
    column: str = "",
    lines: tuple[int, int] | None = None,
    count: int = 1,
    value: str = "",
) -> Problem:
    """One case of `code`, its message made of the catalogue's title and `detail`."""
    reason = REASONS[code]
    message = f"{reason.title}: {detail}." if detail else f"{reason.title}."
    return Problem(
        code=code,
        severity=reason.severity,
        told=message,
        fix=remedy or reason.remedy,
        file=file,
        column=column,
        first_line=lines[0] if lines else None,
        last_line=lines[1] if lines else None,
        count=count,
        value=value[:80],
    )
