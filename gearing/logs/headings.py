"""What a heading names: channel or role, and the unit written with it.

Driven by the one table of quantities, the standards' numbers (SAE J1979 PID, SAE J1939 SPN)
and the words of `headings.toml`. Nothing is matched by position or on a guess: what a heading
leaves open stays open (`open` is then the group of meanings) and becomes a question.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib import resources

from gearing.quantities import QUANTITIES, Quantity
from gearing.units import BY_NAME, Unit, find_unit

# SPNs besides the table's own that carry the same channel, with the unit SAE J1939-71 scales to
_MORE_SPNS = {917: "indicated_distance_m", 918: "trip_distance", 244: "trip_distance",
              105: "intake_air_temperature_c"}  # fmt: skip
_BY_SPN = {q.spn: name for name, q in QUANTITIES.items() if q.spn is not None} | _MORE_SPNS
_BY_PID = {q.pid: name for name, q in QUANTITIES.items() if q.pid} | {"9D": "fuel_mass_rate_gps"}
# The unit a standard's number implies
STANDARD_UNITS = {
    "indicated_speed_mps": "km/h",
    "gps_speed_mps": "km/h",
    "indicated_distance_m": "km",
    "trip_distance": "km",
}
# Roles that are no channels: the clock, and the parts of a long table
ROLES = ("time", "date", "elapsed", "parameter", "value", "unit",
         "latitude_side", "longitude_side", "gps_week", "time_of_week",
         "zone")  # fmt: skip


def _beside(
    name: str, unit: str, label: str, low: float | None = None, high: float | None = None
) -> Quantity:
    return Quantity(name, unit, label, "", low, high, ())


# What companion files carry beside the channels: weather, fill-ups, road profiles. No wind blows
# on over 75 m/s (270 km/h, the strongest class of tropical cyclones; from memory)
BESIDE: dict[str, Quantity] = {
    quantity.name: quantity
    for quantity in (
        _beside("wind_speed_mps", "m/s", "wind speed", 0, 75),
        _beside("wind_from_deg", "deg", "wind direction", 0, 360),
        _beside("volume_l", "L", "volume"),
        _beside("full", "-", "full"),
        _beside("partial", "-", "partial"),
        _beside("missed", "-", "missed"),
        _beside("price", "-", "price"),
        _beside("other_l", "L", "other use"),
        _beside("distance_m", "m", "distance"),
        _beside("speed_limit_mps", "m/s", "speed limit"),
        _beside("stop_s", "s", "stop"),
        _beside("grade_percent", "%", "grade"),
    )
}


def quantity_of(name: str) -> Quantity:
    """The row of a channel, or of what companion files carry beside the channels.

    Raises
    ------
    KeyError
        there is none of that name.
    """
    return QUANTITIES.get(name) or BESIDE[name]


MAX_UNIT_WORDS = 3  # of a unit in words: miles per hour
_NO_UNITS = ("in", "-")  # as a heading's last word: a preposition, and a ratio of something else
# How SAE J1939's parameter names are shortened in data bases of signals
_SHORTENED = {
    "eng": "engine", "veh": "vehicle", "spd": "speed", "trans": "transmission",
    "accel": "accelerator", "pos": "position", "pos1": "position", "temp": "temperature",
    "press": "pressure", "hgh": "high", "rslution": "resolution", "pct": "percent",
}  # fmt: skip
# How airports' weather reports are shortened in open archives, units with them
_REPORTED = {
    "tmpf": "air temperature f", "tmpc": "air temperature c",
    "drct": "wind direction", "sknt": "wind speed kn", "alti": "sea level pressure inhg",
    "mslp": "sea level pressure hpa",
}  # fmt: skip
# What a weather station's value is of, and at the heights they are measured at by the World
# Meteorological Organization's guide (WMO-No. 8: 1.25 to 2 m and 10 m)
_STATION_WORDS = {"avg", "average", "mean", "hourly", "prevailing", "2m", "10m"}
# A parameter's number in SAE J1979 as the whole name: service 01 and the parameter, 010D, or 0x0D
PID_ALONE = re.compile(r"(?i)^\s*(?:(?:0x)?01[\s_]?|0x)([0-9a-f]{2})(?=\s*(?:$|[\[(]))")
# Acronyms of the parameter groups (SAE J1939-71) such names begin with, and the numbers of group
# and parameter (61444_190_EngineSpeed, and in SAE J1979 010D, 0x0D)
_GROUP_FIRST = re.compile(
    r"(?:eec\d|ccvs\d?|lf[ec]\d?|et\d|amb|vp\d?|vds?|vdhr|etc\d|erc\d|trf\d|hours|tco\d)"
    r"|(?:01|0x)[0-9a-f]{2}|\d{2,6}"
)


@dataclass(frozen=True, slots=True)
class Match:
    """What a heading names. `target` is a channel, a role, or the name of an open group."""

    target: str
    how: str
    unit: str | None = None  # name of the unit found in the heading
    unit_text: str = ""  # what stood where the unit stands, known or not
    source: str = ""  # receiver | bus | other | ""
    is_open: bool = False


@dataclass(frozen=True, slots=True)
class _Words:
    sources: dict[str, str]
    log: dict[str, str]
    open: dict[str, str]
    nouns: dict[str, list[str]]
    companion: dict[str, str]


@lru_cache(maxsize=1)
def _words() -> _Words:
    text = resources.files("gearing.logs").joinpath("headings.toml").read_text("utf-8")
    table = tomllib.loads(text)
    log: dict[str, str] = {}
    for name, quantity in QUANTITIES.items():
        for words in (*quantity.headings, quantity.label):
            log.setdefault(fold(words), name)
    log = _flat(table["words"]) | log | _flat(table["roles"])
    log["date"] = "date"
    opened = _flat(table["open"])
    for word in opened:
        log.pop(word, None)
    return _Words(
        {word: source for source, words in table["sources"].items() for word in words},
        log,
        opened,
        _nouns(table["nouns"]),
        _flat(table["companion"]),
    )


def _nouns(groups: dict[str, dict[str, list[str]]]) -> dict[str, list[str]]:
    """Each noun with the channels it may name."""
    found: dict[str, list[str]] = {}
    for name, languages in groups.items():
        for word in {fold(one) for words in languages.values() for one in words}:
            found.setdefault(word, []).append(name)
    return found


def _flat(groups: dict[str, dict[str, list[str]]]) -> dict[str, str]:
    return {
        fold(word): name
        for name, languages in groups.items()
        for words in languages.values()
        for word in words
    }


@lru_cache(maxsize=1 << 15)
def fold(text: str) -> str:
    """Lower case, camel case parted, accents and punctuation taken off."""
    text = re.sub(r"(?<=[a-zà-ÿ0-9])(?=[A-Z][a-z])|(?<=[a-z])(?=[A-Z])", " ", text)
    if not text.isascii():
        text = text.replace("ß", "ss").replace("ł", "l").replace("Ł", "L")
        text = unicodedata.normalize("NFKD", text)
        text = "".join(c for c in text if not unicodedata.combining(c))
    return " ".join(re.findall(r"[^\W_]+", text.lower()))


@lru_cache(maxsize=1 << 15)  # more than the widest log has
def recognise(heading: str, companion: bool = False) -> Match | None:
    """What the heading names, or None. `companion` adds the companion files' words."""
    bare, unit_text = _split_unit(heading)
    unit = find_unit(unit_text) if unit_text else None
    named = (
        _by_standard(heading)
        or _by_own_name(heading)
        or _by_words(bare, companion)
        or _by_first_row(bare, companion)
        or _by_noun(heading)
    )
    if named is None:
        return None
    if named.target == "dial" and (told := unit or find_unit(named.unit or "?")) is not None:
        turns = told.dimension == "rotation"
        target = "engine_speed_rpm" if turns else "indicated_speed_mps"
        named = replace(named, target=target, source=_source_of(target), is_open=False)
    if unit_text and unit is None and named.unit is None:
        more = fold(unit_text)
        source = _words().sources.get(more, named.source)
        return Match(named.target, named.how, None, unit_text, source, named.is_open)
    if unit is not None:
        found = unit_for(named.target, unit_text) or unit
        return Match(named.target, named.how, found.name, unit_text, named.source, named.is_open)
    if named.unit is None and (word := find_unit(bare, dimensions_of(named.target))) is not None:
        # the heading is the unit itself: 'Gallons', 'Rpm'
        return Match(named.target, named.how, word.name, bare, named.source, named.is_open)
    return named


def unit_for(target: str, text: str) -> Unit | None:
    """The unit `text` means for a channel; tells '°' (angle) from '°C' by what is asked."""
    text = text.strip().strip("[](){}<>").strip()
    if not text:
        return None
    return find_unit(text, dimensions_of(target)) or find_unit(text)


def dimensions_of(target: str) -> tuple[str, ...]:
    """The dimensions of units a channel may be written in."""
    if target == "grade_percent":
        return ("ratio", "angle")
    if target in QUANTITIES or target in BESIDE:
        quantity = quantity_of(target)
        return (BY_NAME[quantity.unit].dimension, *quantity.dimensions)
    return {
        "speed": ("speed",),
        "dial": ("speed", "rotation"),
        "temperature": ("temperature",),
        "distance": ("length",),
        "trip_distance": ("length",),
        "time": ("time",),
        "elapsed": ("time",),
    }.get(target, ())


def _split_unit(heading: str) -> tuple[str, str]:
    """The heading without its unit, and the unit: what stands in the last brackets, or behind
    a comma or a slash with blanks."""
    text = heading.strip()
    brackets = list(re.finditer(r"[\[(<{]\s*([^\[\](){}<>]*)\s*[\])>}]", text))
    for match in reversed(brackets):
        inside = match[1].strip()
        outside = text[: match.start()] + " " + text[match.end() :]
        if is_source(inside):  # 'GPS' names the receiver here, not grams per second
            continue
        if inside == "" or find_unit(inside) is not None:
            return outside, inside or "-"
    if brackets and _words().sources.get(fold(brackets[-1][1])) is None:
        inside = brackets[-1][1].strip()
        outside = text[: brackets[-1].start()] + " " + text[brackets[-1].end() :]
        if outside.strip() and not re.search(r"(?i)\b(?:spn|pid)\b", inside):
            return outside, inside
    for mark in (",", ";", " in ", " / "):
        before, found, after = text.rpartition(mark)
        if not (found and before.strip() and after.strip()) or is_source(before):
            continue  # ECU / RPM: the unit is the name
        if find_unit(after) is not None and fold(after) not in _words().sources:
            return before, after.strip()
    return text, ""


def _by_standard(heading: str) -> Match | None:
    spn = re.search(r"(?i)\bspn[\s_:#.-]*0*(\d{1,6})\b", heading)
    if spn:
        return _numbered(f"SPN {int(spn[1])}", _BY_SPN.get(int(spn[1])))
    pid = re.search(r"(?i)\bpid[\s_:#.-]*(?:0x|01[\s_-]?)?([0-9a-f]{2})\b", heading)
    pid = pid or PID_ALONE.match(heading)
    return _numbered(f"PID {pid[1].upper()}", _BY_PID.get(pid[1].upper())) if pid else None


def _numbered(number: str, name: str | None) -> Match | None:
    return Match(name, number, source=_source_of(name) or "bus") if name else None


def _source_of(name: str) -> str:
    return QUANTITIES[name].source if name in QUANTITIES else ""


def _by_own_name(heading: str) -> Match | None:
    name = heading.strip()
    if name in QUANTITIES and name != "time":
        return Match(name, "own name", QUANTITIES[name].unit, source=QUANTITIES[name].source)
    return None


def _by_words(bare: str, companion: bool) -> Match | None:
    tokens = fold(bare).split()
    if not tokens:
        return None
    found = _look_up(tokens, companion) or _look_up(
        [t for t in tokens if t != "1"],
        companion,  # J1939 numbers what there may be two of
    )
    if found:
        return found
    most = min(MAX_UNIT_WORDS, len(tokens) - 1)
    endings = [(tokens[:-words], " ".join(tokens[-words:])) for words in range(most, 0, -1)]
    if len(parts := bare.split()) > 1:  # kPa and min-1, which folding parts
        name = fold(" ".join(parts[:-1])).split()
        endings += [(one, parts[-1]) for one in (name, _spelled_out(name, companion))]
    for words, ending in endings:
        found = _look_up(words, companion)
        unit = unit_for(found.target, ending) if found else None
        if found is None or unit is None or unit.name in _NO_UNITS:
            continue
        if unit.dimension in (dimensions_of(found.target) or (unit.dimension,)):
            return replace(found, unit=unit.name, unit_text=ending)
    full = _spelled_out(tokens, companion)
    return _by_words(" ".join(full), companion) if full != tokens else None


def _spelled_out(tokens: list[str], companion: bool) -> list[str]:
    """Shortened words in full, without the group's acronym or the parameter's number in front."""
    last = len(tokens) - 1
    first = next(
        (i for i, one in enumerate(tokens[:last]) if not _GROUP_FIRST.fullmatch(one)), last
    )
    if companion:
        tokens = [token for token in tokens if token not in _STATION_WORDS]
    short = _SHORTENED | _REPORTED if companion else _SHORTENED
    return [short.get(token, token) for token in tokens[first:]]


def _by_first_row(bare: str, companion: bool) -> Match | None:
    """Of stacked heading rows the one that names a role, where the others say nothing."""
    rows = bare.split(" / ")
    for row in rows if len(rows) > 1 else ():
        named = _by_words(row, companion)
        if named is not None and named.target in ROLES:
            return named
    return None


def _by_noun(heading: str) -> Match | None:
    """'Fuel L/h', 'GPS km/h', 'Outside C': a noun, and a unit that says what of it."""
    parts = re.fullmatch(r"(.*[^\W_])[\s_:,;(\[{<]+(\S+?)[)\]}>]?", heading.strip())
    for target in _words().nouns.get(fold(parts[1]), ()) if parts else ():
        if parts and (unit := find_unit(parts[2], dimensions_of(target))) is not None:
            return Match(target, "words", unit.name, parts[2], _source_of(target))
    return None


def _look_up(tokens: list[str], companion: bool) -> Match | None:
    words = _words()
    text = " ".join(tokens)
    if companion and text in words.companion:
        return Match(words.companion[text], "words")
    if text in words.log:
        name = words.log[text]
        return Match(name, "words", source=_source_in(tokens) or _source_of(name))
    if text in words.open:
        return Match(words.open[text], "words", is_open=True)
    core = [token for token in tokens if token not in words.sources]
    source = _source_in(tokens)
    text = " ".join(core)
    if not source or not core:
        return None
    if text in words.open:
        group = words.open[text]
        if group == "speed" and source in ("receiver", "bus"):
            target = "gps_speed_mps" if source == "receiver" else "indicated_speed_mps"
            return Match(target, "words", source=source)
        if group == "speed" and source == "other":
            return None
        return Match(group, "words", source=source, is_open=True)
    name = words.log.get(text, "")
    if name == "indicated_speed_mps" and source == "receiver":
        name = "gps_speed_mps"
    if not name or source == "other":
        return None
    return Match(name, "words", source=source)


def is_source(text: str) -> bool:
    """Whether the text says who measured, such as 'GPS' or 'OBD'."""
    return fold(text) in _words().sources


def _source_in(tokens: list[str]) -> str:
    return next((source for one in tokens if (source := _words().sources.get(one))), "")


def short_name(channel: str) -> str:
    """The channel without its unit, as the study's [columns] writes it."""
    return re.sub(r"_(mps|rpm|deg|m|lph|gps|l|percent|c|kpa|s|nm|h)$", "", channel)


def channel_named(text: str) -> str | None:
    """The channel a [columns] entry names, with or without its unit; None if there is none."""
    folded = text.strip()
    if folded in QUANTITIES or folded in BESIDE:
        return folded
    for name in (*QUANTITIES, *BESIDE):
        if short_name(name) == folded:
            return name
    if folded in ROLES:
        return folded
    match = recognise(folded.replace("_", " "))  # by a word that heads it in logs
    return match.target if match is not None and match.target in QUANTITIES else None
