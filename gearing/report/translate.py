"""Sentences of the findings, which are metric, in the reader's units."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from gearing.report.display import Display, digits

_NAMES = frozenset({"study", "name", "drive_tire", "steer_tire", "code", "file", "start", "run_id"})
_NUMBER = r"-?\d+(?:,\d{3})*(?:\.\d+)?"
_FIGURE = re.compile(
    rf"(?<![\w.,-])({_NUMBER})(?:( to | and | or )({_NUMBER}))?"
    r" (km/h|km|degC|°C|K|L/100 km|kg|m|L)(?![\w/*^])"
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
        first, between, second, unit = match.groups()
        convert, name = _turn(unit, display)
        if convert is None:
            return f"{first}{between or ''}{second or ''} {name}"
        figures = [_like(first, convert)] + ([_like(second, convert)] if second else [])
        return f"{(between or '').join(figures)} {name}"

    sentence = _BOTH.sub(r"\1" if display.us else r"\2", sentence)
    return _FIGURE.sub(turned, sentence)


def _turn(unit: str, display: Display) -> tuple[Callable[[float], float | None] | None, str]:
    if not display.us:
        return None, "°C" if unit == "degC" else unit
    turns: dict[str, tuple[Callable[[float], float | None], str]] = {
        "km/h": (display.speed, "mph"),
        "km": (display.distance, "mi"),
        "m": (display.height, "ft"),
        "degC": (display.temperature, "°F"),
        "°C": (display.temperature, "°F"),
        "K": (lambda kelvin: 1.8 * kelvin, "°F"),
        "L/100 km": (display.fuel, "mpg"),
        "L": (display.volume, "gal"),
        "kg": (display.weight, "lb"),
    }
    return turns[unit]


def _like(shown: str, convert: Callable[[float], float | None]) -> str:
    """The converted figure with as many decimals as it came with."""
    value = convert(float(shown.replace(",", "")))
    if value is None:
        return shown
    return digits(value, len(shown.partition(".")[2]))
