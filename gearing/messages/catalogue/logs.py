"""What is told of reading logs and the files beside them: files, rows and values set aside.

The codes are stable, since people's scripts may rest on them. A title stands for several cases of
one code; without one of its own, the text does.
"""

from __future__ import annotations

from gearing.messages.fields import Quantity, UserText
from gearing.messages.render import Message
from gearing.messages.template import Severity, Template

_E, _W, _N = Severity.ERROR, Severity.WARNING, Severity.NOTE

_SYSTEM = UserText("No such file or directory", "system")

_UNREADABLE = "the file cannot be opened"
_CHECK_NAME = "Check its name and permissions."
_EMPTY = "the file holds nothing"
_ANEW = "Record again or take it off the list."
_DAMAGED = "the archive cannot be unpacked"
_PACK = "Pack the log again."
_NO_GPX = "the XML cannot be read"
_OTHER_KIND = "the file is of another kind"
_EXPORT = "Export the track again as GPX 1.1."

_FILES = (
    Template(
        "unreadable-file",
        f"{_UNREADABLE}: {{system}}.",
        _CHECK_NAME,
        _E,
        _UNREADABLE,
        {"system": _SYSTEM},
    ),
    Template(
        "unreadable-file/not-plain",
        f"{_UNREADABLE}: it is not a regular file.",
        _CHECK_NAME,
        _E,
        _UNREADABLE,
    ),
    Template(
        "unreadable-file/too-large",
        f"{_UNREADABLE}: it does not fit into memory.",
        "Split it, or read it on a machine with more memory.",
        _E,
        _UNREADABLE,
    ),
    Template("empty-file", f"{_EMPTY}.", _ANEW, _E),
    Template("empty-file/no-points", f"{_EMPTY}: the track has no points.", _ANEW, _E, _EMPTY),
    Template("spreadsheet", "this is a spreadsheet, not a text log.", "Save it as CSV.", _E),
    Template(
        "not-text", "this is not a text file.", "Export the log as CSV, GPX or NMEA text.", _E
    ),
    Template(
        "too-large-unpacked",
        "unpacked, the file grows beyond what a log can be: over {most} from {packed} bytes.",
        "Unpack it yourself and look at what is inside.",
        _E,
        "unpacked, the file grows beyond what a log can be",
        {"most": Quantity(64, "MB"), "packed": 700},
    ),
    Template(
        "damaged-archive", f"{_DAMAGED}: {{system}}.", _PACK, _E, _DAMAGED, {"system": _SYSTEM}
    ),
    Template("damaged-archive/encrypted", f"{_DAMAGED}: it is encrypted.", _PACK, _E, _DAMAGED),
    Template(
        "damaged-archive/checksum", f"{_DAMAGED}: the checksum does not match.", _PACK, _E, _DAMAGED
    ),
    Template(
        "damaged-archive/misplaced",
        f"{_DAMAGED}: a file in it is not where its directory says.",
        _PACK,
        _E,
        _DAMAGED,
    ),
    Template(
        "damaged-archive/lzma",
        f"{_DAMAGED}: its LZMA properties are not those of a log.",
        _PACK,
        _E,
        _DAMAGED,
    ),
    Template("damaged-archive/changed", f"{_DAMAGED}: it has changed.", _PACK, _E, _DAMAGED),
    Template(
        "damaged-archive/nothing", f"{_DAMAGED}: nothing can be unpacked.", _PACK, _E, _DAMAGED
    ),
    Template(
        "several-in-archive",
        "the archive holds several logs: {files} files.",
        "Unpack it, and name the logs that are in it.",
        _E,
        "the archive holds several logs",
        {"files": 2},
    ),
    Template(
        "no-headings",
        "no row of headings was found: it begins with '{begins}'.",
        "Add a first row that names the columns, with units, as in: time,speed mph,odometer mi.",
        _E,
        "no row of headings was found",
        {"begins": UserText("2026-03-01;12", "value")},
    ),
    Template(
        "no-headings/below",
        "no row of headings was found above the records: it begins with '{begins}'.",
        "Move the row of headings to the top.",
        _E,
        "no row of headings was found",
        {"begins": UserText("2026-03-01;12", "value")},
    ),
    Template(
        "no-headings/markup",
        "no row of headings was found: this is a page or a document, and begins with '{begins}'.",
        "Open it in a spreadsheet and save it as CSV, or export the track as GPX or CSV.",
        _E,
        "no row of headings was found",
        {"begins": UserText("<html><table>", "value")},
    ),
    Template(
        "no-headings/json",
        "no row of headings was found: this is JSON, and begins with '{begins}'.",
        "Export it as CSV.",
        _E,
        "no row of headings was found",
        {"begins": UserText('["2026-03-01", 12]', "value")},
    ),
    Template(
        "two-tracks",
        "the positions change from row to row between places far apart: the file seems to hold "
        "the rows of more than one vehicle.",
        "Export each vehicle, or each recorder, to a file of its own.",
        _E,
    ),
    Template(
        "several-vehicles",
        "the rows are of several vehicles: '{column}' names {vehicles}.",
        "Export each vehicle, or each recorder, to a file of its own.",
        _E,
        "the rows are of several vehicles",
        {"vehicles": 2, "column": UserText("Vehicle", "column")},
    ),
    Template(
        "other-kind",
        f"{_OTHER_KIND}: it looks like {{what}}, not like {{wanted}}.",
        'In the study, name it {place} = "{file}"',
        _E,
        _OTHER_KIND,
        {
            "what": Message("kind-of-file/weather"),
            "wanted": Message("kind-of-file/fill-ups"),
            "place": Message("named-as/weather"),
            "file": UserText("w.csv", "file"),
        },
    ),
    Template("kind-of-file/log", "the log of a drive"),
    Template("kind-of-file/fill-ups", "a fill-up log"),
    Template("kind-of-file/weather", "a weather file"),
    Template("kind-of-file/dash", "readings of the dash"),
    Template("kind-of-file/profile", "the profile of a road"),
    Template("named-as/log", "under [before] or [after]: logs"),
    Template("named-as/fill-ups", "above the first [table]: fillups"),
    Template("named-as/weather", "above the first [table]: weather"),
    Template("named-as/profile", "under a [[route]]: profile"),
    Template(
        "no-records",
        "the file holds no records.",
        "Take it off the list, or check whether the recorder ran.",
        _E,
    ),
    Template(
        "distance-back-and-forth",
        "the distance runs back and forth from row to row.",
        "Give each point's distance from the beginning of the road, in order; not the length of "
        "each stretch.",
        _E,
    ),
    Template("damaged-xml", f"{_NO_GPX}: {{system}}.", _EXPORT, _E, _NO_GPX, {"system": _SYSTEM}),
    Template(
        "damaged-xml/entities",
        f"{_NO_GPX}: it declares entities, which a track never needs.",
        _EXPORT,
        _E,
        _NO_GPX,
    ),
    Template(
        "reader-fault",
        "the reader itself failed on this file; this is a fault of the program: {system}.",
        "Please report it with the heading row; the other logs were read.",
        _E,
        "the reader itself failed on this file; this is a fault of the program",
        {"system": UserText("ValueError: x", "system")},
    ),
)

_NO_VALUE = "no value of a known channel"
_FIELDS = Message("fields-found", (("fields", 3), ("named", 12)))


def _counted(code: str, title: str) -> Template:
    """A row whose number of fields is not that of the headings."""
    return Template(code, f"{title}: {{fields}}.", "", _N, title, {"fields": _FIELDS})


_ROWS = (
    Template(
        "fields-found",
        "{fields} {fields:field|fields} where {named} are named",
        example={"fields": 3, "named": 12},
    ),
    Template("cut-record", "the last record is cut off.", "", _N),
    _counted("cut-record/fields", "the last record is cut off"),
    _counted("short-row", "the row has fewer fields than there are headings"),
    _counted("long-row", "the row has more fields than there are headings"),
    _counted("broken-quotes", "a quoted field of the row does not end"),
    _counted("footer-line", "a closing line of the file, not a record"),
    Template("no-time", "the row has no time.", "", _N),
    Template("unreadable-time", "the time cannot be read.", "", _N),
    Template(
        "time-unknown",
        "the rows cannot be dated.",
        "Answer the question about the time; it is shown with the line to add.",
        _E,
    ),
    Template(
        "time-stands",
        "the time stands still: the rows have only {times} {times:time|times} between them, and "
        "the digits that tell them apart are missing.",
        "Export the time with all its digits; a spreadsheet shows 1.77E+12, or the minute alone.",
        _E,
        "the time stands still",
        {"times": 1},
    ),
    Template(
        "counts-anew",
        "the count of time begins again, and nothing tells when.",
        "Split the file there, and name each part by its start (2026-03-01_0815.csv).",
        _W,
    ),
    Template("stray-time", "the time lies far outside the rest of the file.", "", _N),
    Template("clock-not-set", "recorded before the recorder's clock was set.", "", _N),
    Template("repeated-row", "the same row stands in the file already.", "", _N),
    Template("repeated-time", "another row has the same time; the first of them was used.", "", _N),
    Template("repeated-distance", "another row has the same distance; the first was used.", "", _N),
    Template("other-fluid", "exhaust fluid was filled up, not fuel.", "", _N),
    Template(
        "other-fuel",
        "another fuel was filled up than {usual}, which most rows are of.",
        "",
        _N,
        "another fuel was filled up",
        {"usual": UserText("diesel")},
    ),
    Template("no-values", f"the row carries {_NO_VALUE}.", "", _N, _NO_VALUE),
    Template(
        "no-values/no-elevation",
        "the file has no track points with an elevation.",
        "Give a track with elevations, or a table of distance and elevation.",
        _N,
        _NO_VALUE,
    ),
    Template("unknown-parameter", "the row's parameter is none of the known channels.", "", _N),
    Template(
        "other-unit",
        "the row's value is in another unit than most of its parameter.",
        "Log the parameter in one unit, or part the file where the unit changes.",
        _W,
    ),
    Template("bad-checksum", "the sentence's checksum does not match.", "", _N),
    Template("no-checksum", "the sentence has no checksum.", "", _N),
    Template("other-sentence", "a sentence other than GGA, RMC and VTG.", "", _N),
    Template("damaged-sentence", "the line is not a whole NMEA sentence.", "", _N),
    Template("no-fix", "the receiver had no fix.", "", _N),
    Template(
        "above-headings",
        "the row stands above the headings: what its fields are is not known.",
        "If the headings below are its own, copy them above the first row.",
        _W,
    ),
)

_VALUES = (
    Template("unreadable-value", "the value is not a number.", "", _N),
    Template("not-available-code", "a code that stands for 'not available'.", "", _N),
    Template("out-of-range", "the value lies outside what is plausible.", "", _N),
    Template("stuck", "the value is frozen while others move.", "", _N),
    Template(
        "no-count",
        "the values fall again and again, as no count does.",
        "If the column gives what was added since the row before, leave it alone under [columns].",
        _W,
    ),
    Template("null-island", "latitude and longitude zero: no fix.", "", _N),
    Template("leap", "the value leaps away for a row or two and back.", "", _N),
    Template("position-spike", "the position jumps away and back.", "", _N),
    Template(
        "second-table",
        "a second table stands beside the first, with a time of its own.",
        "Save each table to a file of its own.",
        _W,
    ),
    Template("half-position", "latitude without longitude, or the other way round.", "", _N),
    Template(
        "odometer-out-of-step",
        "the odometer does not fit the fill-ups before and after: it says '{shown}'.",
        "The reading was left out; what was filled counts to the next one.",
        _W,
        "the odometer does not fit the fill-ups before and after",
        {"shown": UserText("123456", "value")},
    ),
    Template(
        "maybe-cut",
        "the last value of a file without a final line end may be cut.",
        "",
        _N,
    ),
    Template(
        "wrong-dimension",
        "the column's unit does not fit what the heading names: {unit}.",
        "If the heading means something else, say so under [columns].",
        _W,
        "the column's unit does not fit what the heading names",
        {"unit": UserText("kPa")},
    ),
    Template(
        "partial-position",
        "the positions lack their degrees.",
        "Export latitude and longitude in decimal degrees.",
        _W,
    ),
)

TEMPLATES: tuple[Template, ...] = (*_FILES, *_ROWS, *_VALUES)
