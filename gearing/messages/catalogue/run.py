"""What is told of the run as a whole: files read, output written, workers, progress."""

from __future__ import annotations

from gearing.messages.fields import Items, Quantity, UserText
from gearing.messages.render import Field, Message
from gearing.messages.template import Severity, Template

_E, _W = Severity.ERROR, Severity.WARNING
_SYSTEM: dict[str, Field] = {"system": UserText("No space left on device", "system")}
_OTHER = "Choose another folder with --out."
_FAULT = "a fault of the program, not of your data: {system}"
_MAINTAINERS = "and send what it prints to the maintainers."
_FILES = Message("files-done", (("done", 3), ("files", 12)))

_READ = (
    Template(
        "changed-while-read",
        "the file changed while it was read; what stood there at the last read was used.",
        "Run again once the recorder has closed it.",
        _W,
    ),
    Template(
        "killed-the-reader",
        "the process that read this file died, twice ({system}); it was set aside.",
        "Check whether the file is far larger than the others, or give fewer --jobs.",
        _E,
        example=_SYSTEM,
    ),
    Template(
        "duplicate",
        "shows the same drive as {other}, which was used.",
        "Take one of the two off the list of logs.",
        _W,
        example={"other": UserText("a.csv", "file")},
    ),
    Template(
        "no-trip",
        "was read but gave no trip: too few samples in which anything moves.",
        "`gearing inspect` shows what it holds.",
        _W,
    ),
)

_OUTPUT = (
    Template(
        "cache-not-written",
        "could not be written: {system}.",
        "Free some space where the study lies, or run with --no-cache.",
        _E,
        example=_SYSTEM,
    ),
    Template("output-not-a-folder", "is not a folder.", _OTHER, _E),
    Template("output-not-writable/make", "cannot be made: {system}.", _OTHER, _E, example=_SYSTEM),
    Template("output-not-writable", "cannot be written: {system}.", _OTHER, _E, example=_SYSTEM),
    Template(
        "output-of-another-study",
        "holds the output of another study, '{owner}'.",
        _OTHER,
        _E,
        example={"owner": UserText("mobile library")},
    ),
    Template(
        "output-not-ours",
        "holds {name}, which this program did not write.",
        _OTHER,
        _E,
        example={"name": UserText("trips.csv", "file")},
    ),
    Template(
        "output-not-written",
        "could not be written: {system}.",
        "Free some space or choose another folder with --out, and run again.",
        _E,
        example=_SYSTEM,
    ),
)

_WORKERS = (
    Template(
        "cluster-not-installed",
        "--cluster needs the package distributed, which is not installed.",
        'Install it with: python -m pip install "gearing[cluster]"',
        _E,
    ),
    Template(
        "cluster-not-there",
        "no scheduler answers at {address}: {system}",
        "Start one with: dask scheduler",
        _E,
        example={"address": UserText("tcp://10.0.0.1:8786", "system"), **_SYSTEM},
    ),
)

_COMMANDS = (
    Template(
        "stripped-python",
        "Python runs with -OO (PYTHONOPTIMIZE=2), which strips what the charts are drawn by.",
        "Run without it, or with -O.",
        _E,
    ),
    Template(
        "output-not-written/printed",
        "could not be written: {system}.",
        "Files of a run are written before it; only these words are lost.",
        _E,
        example=_SYSTEM,
    ),
    Template("stopped", "stopped. Run the same command again to go on from here."),
    Template(
        "program-fault",
        _FAULT,
        f"Run the same command with --debug {_MAINTAINERS}",
        _E,
        example=_SYSTEM,
    ),
)

_FLEET = (
    Template(
        "program-fault/study",
        _FAULT,
        f"Run this study by itself with --debug {_MAINTAINERS}",
        _E,
        example=_SYSTEM,
    ),
    Template(
        "killed-the-reader/study",
        "the process that ran this study died, twice ({system}); it was left out.",
        "Run this study by itself, which tells the file if it was one, or with fewer --jobs.",
        _E,
        example=_SYSTEM,
    ),
    Template(
        "fleet-none-run",
        "no vehicle could be run.",
        "What is to be mended is told above.",
        _E,
    ),
)

_INSPECTION = (
    Template("no-such-file", "is not there.", "Check the name; a folder may be named too.", _E),
    Template(
        "inspected-study",
        "is a study file, and no log.",
        "gearing inspect --columns {file} FOLDER reads the logs of a folder as it says; gearing "
        "run {file} answers it.",
        _E,
        example={"file": UserText("study.toml", "file")},
    ),
    Template(
        "no-logs/here",
        "holds no logs; looked for {endings}.",
        "Name the files themselves if they end otherwise.",
        _E,
        example={"endings": Items((UserText(".csv"), UserText(".gpx")), ",")},
    ),
    Template(
        "no-logs/skipped",
        "holds no logs; looked for {endings}.",
        "{skipped}: {why}.",
        _E,
        example={
            "endings": Items((UserText(".csv"), UserText(".gpx")), ","),
            "skipped": UserText("may.xlsx", "file"),
            "why": Message("skipped/spreadsheet"),
        },
    ),
    Template("kept-beside/fill-ups", "fill-ups, not a log"),
    Template("kept-beside/dash", "readings of the dash, not a log"),
    Template("kept-beside/weather", "weather, not a log"),
    Template("kept-beside/profile", "road profile, not a log"),
    Template("skipped/spreadsheet", "a spreadsheet; save it as CSV"),
    Template("skipped/broken-link", "a link to nothing"),
    Template("skipped/not-plain", "not a regular file"),
    Template(
        "drives-joined",
        "{files} show one drive; joined, good for: {answers}",
        example={
            "files": Items((UserText("a.csv", "file"), UserText("b.csv", "file"))),
            "answers": Items((UserText("speed"), UserText("fuel")), ","),
        },
    ),
    Template(
        "drives-joined/nothing",
        "{files} show one drive; joined, good for nothing",
        example={"files": Items((UserText("a.csv", "file"), UserText("b.csv", "file")))},
    ),
    Template(
        "drives-joined/more",
        "and {drives} more {drives:drive|drives} that several logs show",
        example={"drives": 3},
    ),
)

_PROGRESS = (
    Template("reading-logs", "Reading"),
    Template("measuring-trips", "Measuring trips"),
    Template("finding-answers", "Finding the answers"),
    Template("comparing-candidates", "Comparing the candidates"),
    Template("writing-report", "Writing the report"),
    Template(
        "running-vehicles",
        "{done} of {vehicles} {vehicles:vehicle|vehicles} done",
        example={"done": 1, "vehicles": 2},
    ),
    Template(
        "progress",
        "{step}: {figures}",
        example={"step": Message("reading-logs"), "figures": Items((_FILES,), ",")},
    ),
    Template("files-done", "{done} of {files} files", example={"done": 3, "files": 12}),
    Template("rows-done", "{rows} {rows:row|rows}", example={"rows": 4000}),
    Template("time-left", "about {left} left", example={"left": Quantity(20, "s")}),
)

TEMPLATES: tuple[Template, ...] = (
    *_READ,
    *_OUTPUT,
    *_WORKERS,
    *_COMMANDS,
    *_FLEET,
    *_INSPECTION,
    *_PROGRESS,
)
