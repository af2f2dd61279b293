"""What is told of a study file or fleet file as text, and of the files and studies it names."""

from __future__ import annotations

from gearing.messages.fields import Items, UserText
from gearing.messages.render import Field, Message
from gearing.messages.template import Severity, Template

_E, _W = Severity.ERROR, Severity.WARNING
_SYSTEM: dict[str, Field] = {"system": UserText("Permission denied", "system")}
_SHOWN: dict[str, Field] = {
    "key": UserText("fillups"),
    "shown": UserText('"fills.csv"', "file"),
    "folder": UserText("trips_2026", "file"),
    "advice": Message("paths-relative"),
}
_SYNTAX: dict[str, Field] = {
    "why": UserText("Invalid value", "system"),
    "found": UserText("mass = 26500 lb", "value"),
    "advice": Message("toml-hint/line"),
}
_STUDY: dict[str, Field] = {"study": UserText("bus_1/study.toml", "file")}
_KEY: dict[str, Field] = {"key": UserText("[[studies]] 1 changed")}
_LEAVE = "give whoever runs this leave to read it."

_TEXT = (
    Template(
        "study-unreadable/folder",
        "this is a folder; a study file is wanted.",
        "Name the .toml file in it.",
        _E,
    ),
    Template(
        "study-unreadable/large",
        "the file has {bytes} bytes, far more than a study file.",
        "Name the .toml file, not a log.",
        _E,
        example={"bytes": 7_000_000},
    ),
    Template(
        "study-unreadable/missing",
        "there is no such file.",
        "Check the path; gearing inspect --write-study PATH FOLDER writes a study to fill in.",
        _E,
    ),
    Template("study-unreadable", "cannot be read: {system}.", "", _E, example=_SYSTEM),
    Template("study-unreadable/encoding", "the text is not UTF-8.", "Save the file as UTF-8.", _E),
    Template(
        "study-unreadable/shut",
        "the folder may not be looked into, so no study in it was found.",
        _LEAVE[0].upper() + _LEAVE[1:],
        _E,
    ),
    Template("study-syntax/deep", "brackets are nested too deep.", "", _E),
    Template(
        "study-syntax",
        "not TOML here: {why}. Found: '{found}'.",
        "{advice}",
        _E,
        example=_SYNTAX,
    ),
    Template(
        "study-syntax/nowhere",
        "not TOML here: {why}.",
        "{advice}",
        _E,
        example={key: one for key, one in _SYNTAX.items() if key != "found"},
    ),
    Template("too-many-digits", "a number has too many digits"),
    Template("toml-hint/paths", "Write paths with / or in single quotes: 'C:\\logs'."),
    Template("toml-hint/twice", "The same key or table stands twice; keep one."),
    Template(
        "toml-hint/quotes",
        "Text and quantities stand in quotes, as in {example}.",
        example={"example": UserText('mass = "26500 lb"')},
    ),
    Template("toml-hint/equals", 'Each line is key = value, as in name = "bookmobile".'),
    Template("toml-hint/line", "A line is a [table], a key = value or a # comment."),
    Template("toml-hint/closing", "Look for a missing quote or ]."),
    Template("toml-hint/log", "This looks like a log; name the study file (.toml) instead."),
)

_NAMED = (
    Template(
        "study-files/folder",
        "{key} = {shown} is a folder (looked in {folder}).",
        "{advice}",
        _E,
        example=_SHOWN,
    ),
    Template(
        "study-files/missing",
        "{key} = {shown} is not there (looked in {folder}).",
        "{advice}",
        _E,
        example=_SHOWN,
    ),
    Template(
        "study-files/closed",
        "{key} = {shown} cannot be looked at (looked in {folder}).",
        "{advice}",
        _E,
        example=_SHOWN,
    ),
    Template(
        "study-files/no-match",
        "{key} {shown} matches no file.",
        "{advice}",
        _E,
        example={key: one for key, one in _SHOWN.items() if key != "folder"},
    ),
    Template("paths-relative", "Paths are relative to the study file."),
    Template("folder-empty", "The folder {folder} is empty.", example={"folder": _SHOWN["folder"]}),
    Template(
        "folder-holds",
        "In {folder} there is: {files}.",
        example={
            "folder": _SHOWN["folder"],
            "files": Items((UserText("a.csv", "file"), Message("and-so-on")), ","),
        },
    ),
    Template("and-so-on", "and more"),
    Template(
        "take-folder",
        "To take all logs in that folder, write {pattern}.",
        example={"pattern": UserText('"logs/*.csv"', "file")},
    ),
    Template(
        "folder-shut",
        f"The folder {{folder}} may not be looked into; {_LEAVE}",
        example={"folder": _SHOWN["folder"]},
    ),
)

_STARTING = (
    Template(
        "study-files/not-a-folder",
        "this is not a folder.",
        "Name the folder that holds the logs.",
        _E,
    ),
    Template(
        "study-files/no-logs",
        "there are no logs in this folder.",
        "Logs end in {endings}, or these packed as .gz or .zip.",
        _E,
        example={"endings": Items((UserText(".csv"), UserText(".gpx")), ",")},
    ),
    Template(
        "study-files/no-logs-but",
        "there are no logs in this folder.",
        "Logs end in {endings}, or these packed as .gz or .zip. {skipped}",
        _E,
        example={
            "endings": Items((UserText(".csv"), UserText(".gpx")), ","),
            "skipped": Items(
                (
                    Message(
                        "file-skipped",
                        (
                            ("file", UserText("a.xlsx", "file")),
                            ("why", Message("skipped/spreadsheet")),
                        ),
                    ),
                ),
                "",
            ),
        },
    ),
    Template(
        "file-skipped",
        "{file}: {why}.",
        example={"file": UserText("a.xlsx", "file"), "why": Message("skipped/spreadsheet")},
    ),
    Template(
        "study-files/exists",
        "this file exists and is left as it is.",
        "Name another, or move it.",
        _E,
    ),
    Template("study-files/not-written", "cannot be written: {system}.", "", _E, example=_SYSTEM),
)

_FLEET = (
    Template(
        "study-files/no-study",
        "{key} = {shown} matches no file.",
        "Paths are relative to the fleet file.",
        _E,
        example={"key": _KEY["key"], "shown": UserText('"bus_9/*.toml"', "file")},
    ),
    Template(
        "study-conflict/all-controls",
        "{key} are all controls; none has changed its tires.",
        "",
        _E,
        example=_KEY,
    ),
    Template(
        "study-conflict/changed",
        "{key} is for controls.",
        "A changed vehicle's own study says when: [after] from, or logs by period.",
        _E,
        example=_KEY,
    ),
    Template(
        "study-conflict/listed",
        "is listed more than once, with different roles or dates.",
        "List it once.",
        _E,
    ),
    Template(
        "listed-twice",
        "{study} is listed more than once and counts once. If another vehicle was meant, name it "
        "in the fleet file.",
        severity=_W,
        example=_STUDY,
    ),
    Template(
        "study-conflict/control-sizes",
        '{key} = "control", but {study} declares two tire sizes.',
        "A control keeps its tires; take the role out, or mend the study.",
        _E,
        example=_KEY | _STUDY,
    ),
    Template(
        "study-conflict/same-name",
        "name = {name}, and {study} is called {same} too.",
        "Give each study a name of its own.",
        _E,
        example=_STUDY | {"name": UserText('"Bus"'), "same": UserText('"bus"')},
    ),
)

TEMPLATES: tuple[Template, ...] = (*_TEXT, *_NAMED, *_STARTING, *_FLEET)
