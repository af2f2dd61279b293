"""What is told of the study file: text, values and files it names. `key` is a key as the reader
finds it (`[before] drive_tire`), `name` the key alone, `shown` a value as it stands in the file."""

from __future__ import annotations

from collections.abc import Mapping

from gearing.messages.fields import Items, Quantity, Span, UserText
from gearing.messages.render import Field, Message
from gearing.messages.template import Severity, Template

_E = Severity.ERROR
_NONE: Mapping[str, Field] = {}
_KEY: dict[str, Field] = {"key": UserText("[vehicle] mass")}
_SHOWN: dict[str, Field] = _KEY | {"shown": UserText('"12"', "value")}
_EXAMPLE: dict[str, Field] = {"name": UserText("mass"), "example": UserText('"26500 lb"')}
_NEAR = Message("near-miss", (("near", UserText('"diesel"')),))
_ADVICE: dict[str, Field] = {"advice": _NEAR}
_FILE: dict[str, Field] = {"folder": UserText("logs", "file")}
_SYSTEM: dict[str, Field] = {"system": UserText("Permission denied", "system")}
_WRITE = "Write {name} = {example}"


def _fault(code: str, text: str, remedy: str = "", *examples: Mapping[str, Field]) -> Template:
    """A fault of the study file; `examples` are put together."""
    example: dict[str, Field] = {}
    for one in examples:
        example |= one
    return Template(code, text, remedy, _E, example=example)


_KIND: dict[str, Field] = {"kind": Message("kind/number")}

_KINDS = (
    Template("kind/flag", "true or false"),
    Template("kind/number", "a number"),
    Template("kind/text", "text"),
    Template("kind/moment", "a moment"),
    Template("kind/date", "a date"),
    Template("kind/time", "a time of day"),
    Template("kind/list", "a list"),
    Template("kind/table", "a table"),
    Template("kind/other", "something else"),
    Template("kind/quoted", "text in quotes"),
    Template("kind/bare-number", "a number without quotes"),
    Template("kind/whole-number", "a whole number without quotes"),
    Template("kind/quantity", "a number with its unit"),
    Template("kind/brackets", "a list in brackets"),
    Template("kind/numbers", "a list of numbers without quotes"),
    Template("kind/texts", "a list of texts in quotes"),
    Template("near-miss", "Did you mean {near}?", example={"near": UserText('"diesel"')}),
)

_TEXT: dict[str, Field] = {"shown": UserText('"12"', "value")}
_UNREAD = Message("quantity-unread/unit", tuple(_TEXT.items()))
_NO_SIZE: dict[str, Field] = {"why": Message("kind/other")}
_VALUES = (
    _fault(
        "study-type",
        "{key} = {shown} is {kind}; {wanted} is wanted.",
        _WRITE,
        _SHOWN,
        _EXAMPLE,
        _KIND,
        {"wanted": Message("kind/quoted")},
    ),
    _fault(
        "study-type/unfilled",
        "{key} is still to be filled in; {wanted} is wanted.",
        _WRITE,
        _KEY,
        _EXAMPLE,
        {"wanted": Message("kind/date")},
    ),
    _fault(
        "study-type/tables",
        "{key} = {shown} is {kind}; a list of tables is wanted.",
        "Start each with a line [[{name}]]",
        _SHOWN,
        _KIND,
        {"name": UserText("dash")},
    ),
    _fault("study-type/blank", "{key} is blank.", _WRITE, _KEY, _EXAMPLE),
    _fault(
        "study-type/control",
        "{key} = {shown} holds a control character.",
        _WRITE,
        _SHOWN,
        _EXAMPLE,
    ),
    _fault("study-type/empty", "{key} is an empty list.", _WRITE, _KEY, _EXAMPLE),
    _fault("study-type/holds", "{key} holds {shown}.", _WRITE, _SHOWN, _EXAMPLE),
    _fault(
        "study-type/no-channel",
        "{key} = {shown} names no channel.",
        "Write {line}",
        _SHOWN,
        {"line": UserText('"Speed" = ...', "line")},
    ),
    _fault(
        "study-choice",
        "{key} = {shown} is not one of {choices}.",
        "",
        _SHOWN,
        {"choices": Items((UserText('"us"'), UserText('"metric"')), ",")},
    ),
    _fault(
        "study-choice/near",
        "{key} = {shown} is not one of {choices}.",
        "{advice}",
        _SHOWN,
        _ADVICE,
        {"choices": Items((UserText('"us"'), UserText('"metric"')), ",")},
    ),
    _fault(
        "study-choice/channel", "{key} = {shown} is not a channel.", "{advice}", _SHOWN, _ADVICE
    ),
    Template(
        "channels-known",
        "Channels are: {channels}.",
        example={"channels": Items((UserText("gear"),), ",")},
    ),
    _fault(
        "study-unit",
        "{key} = {shown} has no unit.",
        "Write the number and its unit in quotes, as in {name} = {example}",
        _SHOWN,
        _EXAMPLE,
    ),
    _fault(
        "study-unit/unread",
        "{key}: {why}.",
        "Write it in one of {units}, as in {name} = {example}",
        _KEY,
        _EXAMPLE,
        {"why": _UNREAD, "units": Items((UserText("kg"),), ",")},
    ),
    Template("quantity-unread/number", "{shown} is not a number with a unit", example=_TEXT),
    Template("quantity-unread/unit", "{shown} has no unit", example=_TEXT),
    Template(
        "quantity-unread/comma",
        "{shown} has a comma that sets no thousands apart",
        example=_TEXT,
    ),
    Template(
        "quantity-unread",
        "{shown} is not a unit of {dimension}",
        example=_TEXT | {"dimension": UserText("mass")},
    ),
    _fault(
        "study-unit/of-channel",
        "{key} = {shown} is not a unit of {dimensions}.",
        'The program keeps {channel} in "{unit}".',
        _SHOWN,
        {
            "dimensions": Items((UserText("speed"),), "or"),
            "channel": UserText("indicated_speed"),
            "unit": UserText("m/s"),
        },
    ),
    _fault("study-unit/currency", "{key} = {shown} has no currency.", _WRITE, _SHOWN, _EXAMPLE),
    _fault(
        "study-unit/money",
        "{key} = {shown} is not an amount of money{volume: for a volume|}.",
        _WRITE,
        _SHOWN,
        _EXAMPLE,
        {"volume": True},
    ),
    _fault(
        "study-range",
        "{key} = {shown} is not plausible; {bounds} is expected.",
        "Check it; an example is {name} = {example}",
        _SHOWN,
        _EXAMPLE,
        {"bounds": Span(300, 150_000, "kg")},
    ),
    _fault(
        "study-range/least",
        "{key} = {shown} is not plausible; {least} or more is expected.",
        "Check it; an example is {name} = {example}",
        _SHOWN,
        _EXAMPLE,
        {"least": Quantity(0, "kg")},
    ),
    _fault("study-range/date", "{key} = {shown} is not a plausible date.", "", _SHOWN),
    _fault(
        "study-date",
        "{key} = {shown} {forward:did not exist|came twice} in {zone}: the clocks changed.",
        "Add the offset from UTC, as in {name} = {example}",
        _SHOWN,
        _EXAMPLE,
        {"forward": True, "zone": UserText("America/Denver")},
    ),
    _fault("study-date/order", "{key} = {shown} is not after from.", "Swap them?", _SHOWN),
    _fault("study-time-zone", "{key} = {shown} is not a time zone.", "{advice}", _SHOWN, _ADVICE),
    Template("write-a-place", 'Write a place, as in "America/Denver".'),
    _fault("study-size/key", "{key}: {why}.", "", _KEY, _NO_SIZE),
    _fault(
        "study-size/key-near",
        "{key}: {why}.",
        "{advice}",
        _KEY,
        _ADVICE,
        _NO_SIZE,
    ),
)

_REASON: dict[str, Field] = {"reason": Message("needs/mass")}
_TABLE: dict[str, Field] = {"table": UserText("[before]")}

_KEYS = (
    _fault("study-missing", "{table} has no {name}.", "Add {name} = {example}", _TABLE, _EXAMPLE),
    _fault("study-missing/top", "{name} is missing.", "Add {name} = {example}", _EXAMPLE),
    _fault(
        "study-missing/why",
        "{table} has no {name}. {reason}",
        "Add {name} = {example}",
        _TABLE,
        _EXAMPLE,
        _REASON,
    ),
    _fault(
        "study-missing/top-why",
        "{name} is missing. {reason}",
        "Add {name} = {example}",
        _EXAMPLE,
        _REASON,
    ),
    Template("needs/mass", "A load needs a mass, or towing = true."),
    Template("needs/distance", 'A stretch needs its distance, or road = "name".'),
    Template("needs/reading", "A reading needs a speed or an odometer."),
    Template("needs/profile", "A route needs distances and elevations."),
    Template("needs/period", "A study needs [before] or [after] with drive_tire and logs."),
    Template("needs/tires", "Nothing can be said of tires not named."),
    Template("needs/before", "[after] has from, so it is needed."),
    Template("needs/from", "It splits the logs at the top of the file."),
    Template("needs/torque-curve", "Without one, leave [vehicle.engine] out."),
    Template(
        "needs/retarder-figures",
        "Without the maker's figures, leave [vehicle.engine.retarder] out: what it does not hold "
        "back is then calculated for the service brakes.",
    ),
    Template(
        "needs/changed",
        "{study} has one period only.",
        example={"study": UserText("bus_1/study.toml", "file")},
    ),
    _fault(
        "study-unknown-key",
        "{shown} is not a key of {place}.",
        "{advice}",
        {
            "shown": UserText('"spede"'),
            "place": Message("top-of-file"),
            "advice": Items((_NEAR,), ""),
        },
    ),
    Template("top-of-file", "the top of the file"),
    Template(
        "belongs-in",
        "{alone:It|Else it} belongs in {places}{above:, above the first [table]|}.",
        example={
            "alone": True,
            "places": Items((Message("top-of-file"),), "or"),
            "above": True,
        },
    ),
    Template(
        "keys-known",
        "Known here: {keys}.",
        example={"keys": Items((UserText("mass"), UserText("fuel")), ",")},
    ),
)

_PERIODS = (
    _fault(
        "study-conflict/logs-twice",
        "{key} stand at the top of the file and in {period} too.",
        "Give each period its own, or one list at the top and [after] from = 2026-03-14.",
        _KEY,
        {"period": UserText("[before]")},
    ),
    _fault(
        "study-conflict/splits-nothing",
        "{key} splits nothing: there are no logs at the top of the file.",
        'Write logs = ["logs/*.csv"] or fillups = "fillups.csv" above the first [table], or leave '
        "from out.",
        _KEY,
    ),
    _fault(
        "study-conflict/shared-logs",
        "{key} match files that the logs of [before] match too: {files}.",
        "A log belongs to one period: keep the folders or patterns apart.",
        _KEY,
        {"files": Items((UserText("a.csv", "file"),), ",")},
    ),
    _fault(
        "study-conflict/same-moment",
        "{key} = {shown} lies within an earlier [[load]].",
        "Give each moment one load.",
        _SHOWN,
    ),
    _fault(
        "study-conflict/both-claims",
        "{key} and {other} are both given.",
        "Keep one; the other follows from it and both are printed.",
        _KEY,
        {"other": UserText("economy_change_percent")},
    ),
    _fault(
        "study-range/share",
        "{key} = {shown} is {shown} %, which nobody can measure.",
        "If the share {shown} is meant, write {name} = {percent}",
        _SHOWN,
        {"name": UserText("economy_change_percent"), "percent": Quantity(4, "-")},
    ),
    _fault(
        "study-range/economy",
        "{key} = {shown} claims no saving; a better fuel economy is positive.",
        "Write economy_change_percent = 4.2, or leave [claim] out.",
        _SHOWN,
    ),
    _fault(
        "study-range/consumption",
        "{key} = {shown} claims no saving; less consumption is negative.",
        "Write consumption_change_percent = -4, or leave [claim] out.",
        _SHOWN,
    ),
    _fault(
        "study-conflict/currencies",
        "{key} is in {cost} and fuel_price in {price}.",
        "Use one.",
        _KEY,
        {"cost": UserText("USD"), "price": UserText("EUR")},
    ),
    _fault("study-conflict/two-routes", "{key} = {shown} names two routes.", "", _SHOWN),
    _fault("study-conflict/two-candidates", "{key} = {shown} names two candidates.", "", _SHOWN),
    _fault(
        "study-range/candidates",
        "{key}: no more than {most} candidates are compared at once.",
        "Leave out those that are out of the question.",
        _KEY,
        {"most": 24},
    ),
)

_VEHICLE = (
    _fault(
        "study-range/gear-order",
        "{key} do not fall from one gear to the next.",
        "Write them from first gear to top gear, as in {example}",
        _KEY,
        {"example": UserText("[3.51, 1.91]")},
    ),
    _fault(
        "study-conflict/converter",
        '{key} = {shown} does not fit transmission = "{transmission}".',
        "Keep transmission alone.",
        _SHOWN,
        {"transmission": UserText("manual")},
    ),
    _fault("study-conflict/idle", "{key} is not below governed_rpm.", "", _KEY),
    _fault("study-range/rpm-order", "{key} does not rise from one figure to the next.", "", _KEY),
    _fault(
        "study-conflict/curve",
        "{key} has {figures} {figures:figure|figures} and rpm has {speeds}.",
        "Give one figure for each engine speed.",
        _KEY,
        {"figures": 2, "speeds": 3},
    ),
    _fault(
        "study-conflict/both-revolutions",
        "{key} and revolutions_per_mile are both given.",
        "Keep one.",
        _KEY,
    ),
    _fault(
        "study-conflict/revolutions",
        "{key} = {given} is far from the {by_size} that {tire} gives.",
        "Check both: a mile has 1.609 times the revolutions of a km.",
        _KEY,
        {
            "given": Quantity(390, "-"),
            "by_size": Quantity(628, "-"),
            "tire": UserText("245/70R19.5"),
        },
    ),
)

TEMPLATES: tuple[Template, ...] = (*_KINDS, *_VALUES, *_KEYS, *_PERIODS, *_VEHICLE)
