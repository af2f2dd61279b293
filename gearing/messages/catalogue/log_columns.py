"""What `gearing inspect` tells of columns: how each was read, or why it is not used."""

from __future__ import annotations

from gearing.messages.fields import UserText
from gearing.messages.render import Field
from gearing.messages.template import Template

_OTHER: dict[str, Field] = {"other": UserText("Speed", "column")}
_UNIT: dict[str, Field] = {"unit": UserText("kPa")}

_READ_AS = (
    Template("named-by", "{what}", example={"what": UserText("PID 0D")}),
    Template("named-by/study", "study"),
    Template("named-by/engine", "words, beside engine channels"),
    Template("named-by/unit", "words and unit"),
    Template("unit-from/heading", "unit from the heading"),
    Template("unit-from/units-row", "unit from the units row"),
    Template("unit-from/study", "unit from the study"),
    Template("unit-from/cells", "unit from the cells"),
    Template("unit-from/standard", "unit by the standard"),
    Template("unit-settled/size", "unit settled by the size of the values"),
    Template("unit-settled/speed", "unit settled against the positions or GPS speed"),
    Template("whole-steps", "whole {unit}", example={"unit": UserText("km/h")}),
    Template("read-so-in", "in {logs} of {all}", example={"logs": 3, "all": 4}),
)

_NOT_USED = (
    Template("column-unknown", "not a channel the program knows"),
    Template("column-unnamed", "no name"),
    Template("column-empty", "empty"),
    Template("column-left-alone", "left alone by the study"),
    Template(
        "column-of-no-channel",
        "the study names no channel: {channel}",
        example={"channel": UserText("sped")},
    ),
    Template("column-of-sides", "the side of the position"),
    Template("column-of-zone", "the zone of the times"),
    Template("column-of-parts", "read with the degrees of the position"),
    Template("column-given-up/study", "the study gives this channel to '{other}'", example=_OTHER),
    Template("column-given-up/same", "the same values as '{other}'", example=_OTHER),
    Template("column-given-up/standard", "'{other}' serves this channel better", example=_OTHER),
    Template("column-given-up/channel", "the channel is given by another column"),
    Template("column-given-up/indicated", "the indicated speed is given by another column"),
    Template(
        "column-unit",
        "{unit} is not a unit of a {group}",
        example=_UNIT | {"group": UserText("speed")},
    ),
    Template(
        "wrong-unit",
        "wrong unit: {unit} is not a unit of {channel}",
        example=_UNIT | {"channel": UserText("indicated speed")},
    ),
    Template("column-without-degrees", "the degrees are missing"),
    Template("column-of-second-table", "of a second table beside the first"),
    Template("column-of-trips", "numbers the trips"),
    Template("column-asked/column", "question: which column"),
    Template("column-asked/channel", "question: which channel"),
    Template("column-asked/unit", "question: which unit"),
)

_TIME_FORMS = (
    Template("time-form/iso", "ISO 8601"),
    Template("time-form/iso-basic", "ISO 8601 without separators"),
    Template("time-form/month-name", "month name"),
    Template("time-form/day-first", "day first"),
    Template("time-form/month-first", "month first"),
    Template("time-form/date-and-time", "date and time in columns of their own"),
    Template("time-form/time-of-day", "time of day"),
    Template("time-form/elapsed-clock", "elapsed"),
    Template("time-form/elapsed", "elapsed {unit}", example={"unit": UserText("s")}),
    Template("time-form/elapsed-open", "elapsed, unit unknown"),
    Template("time-form/epoch", "epoch {unit}", example={"unit": UserText("ms")}),
    Template("time-form/serial-days", "spreadsheet days"),
    Template("time-form/days", "a count of days"),
    Template("time-form/of-fix", "UTC of the fix"),
    Template("time-form/zone-by-heading", "zone by heading"),
    Template("time-form/zone-by-column", "zone by a column of its own"),
    Template("time-form/zone-unknown", "zone name unknown: local time"),
    Template("time-form/empty", "empty"),
    Template("time-form/unknown", "unknown"),
)

_LACKING = (
    Template("lacks-true-speed", "GPS speed or positions"),
    Template("lacks-indicated", "indicated speed or distance"),
    Template("lacks-turns", "engine speed or output shaft speed"),
    Template("lacks-fuel", "fuel rate, fuel used or mass air flow"),
    Template("lacks-positions", "positions"),
    Template("lacks-altitude", "altitude"),
)

TEMPLATES: tuple[Template, ...] = (*_READ_AS, *_NOT_USED, *_TIME_FORMS, *_LACKING)
