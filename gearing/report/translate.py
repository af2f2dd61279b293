"""Sentences of the findings, which are metric, in the reader's units."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from gearing.messages.display import Display, digits

_NAMES = frozenset({"study", "name", "drive_tire", "steer_tire", "code", "file", "start", "run_id"})
_NUMBER = r"-?\d+(?:,\d{3})*(?:\.\d+)?"
_FIGURE = re.compile(
    rf"(?<![\w.,-])({_NUMBER})(?:( to | and | or )({_NUMBER}))?"
    rf"(?: \(({_NUMBER}) to ({_NUMBER})\))?"
    r" (km/h|km|degC|°C|K|L/100 km|L/h|L/kWh|1/K|kg|m\^2|m2|m/s|m|L)(?![\w/*^])"
)
# a figure told in both systems keeps the reader's own
_BOTH = re.compile(
    rf"({_NUMBER} (?:miles|mi|mph|ft|lb|gal|mpg|°F)) \(({_NUMBER} (?:km/h|km|m|kg|L|L/100 km|°C))\)"
)


def translated(value: Any, display: Display) -> Any:
    """The tree with the figures in its sentences turned; names and lists of names stay."""
    if isinstance(value, dict):
        return {
            key: item
            if key in _NAMES or (key == "trips" and _names(item))
            else translated(item, display)
            for key, item in value.items()
        }
    if isinstance(value, list | tuple):
        return [translated(item, display) for item in value]
    return in_reader_units(value, display) if isinstance(value, str) else value


def _names(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(item, str) for item in value)


def in_reader_units(sentence: str, display: Display) -> str:
    """`5 km/h` becomes `3 mph` for US readers; metric ones only get proper degree signs."""

    def turned(match: re.Match[str]) -> str:
        first, between, second, low, high, unit = match.groups()
        convert, name = _turn(unit, display)
        shown = _like(first, convert)
        if second:
            shown += between + _like(second, convert)
        if low:
            shown += f" ({_like(low, convert)} to {_like(high, convert)})"
        return f"{shown} {name}"

    sentence = _BOTH.sub(r"\1" if display.us else r"\2", sentence)
    return _FIGURE.sub(turned, sentence)


Convert = Callable[[float], float | None]


def _turn(unit: str, display: Display) -> tuple[Convert | None, str]:
    turns: dict[str, tuple[Convert, str]] = {
        "km/h": (display.speed, "mph"),
        "km": (display.distance, "mi"),
        "m": (display.height, "ft"),
        "K": (lambda kelvin: 1.8 * kelvin, "°F"),  # a difference
        "L/100 km": (display.fuel, "mpg"),
        "L": (display.volume, "gal"),
    }
    if display.us and unit in turns:
        return turns[unit]
    shown = "degC" if unit == "°C" else unit
    name = display.plain(0.0, shown)[1]
    return (lambda value: display.plain(value, shown)[0]) if display.us else None, name


def _like(shown: str, convert: Convert | None) -> str:
    """The converted figure with as many decimals as it came with."""
    if convert is None:
        return shown
    value = convert(float(shown.replace(",", "")))
    if value is None:
        return shown
    return digits(value, len(shown.partition(".")[2]))
