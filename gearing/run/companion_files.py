"""The files a study names beside its logs: read, and where one gives nothing, why."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import polars as pl

from gearing.analysis.fuel.find import NO_FILLUPS, NO_WEATHER
from gearing.analysis.fuel.weather import REACH_S
from gearing.logs.column_rule import ColumnRule, rules_for
from gearing.logs.companions import Companion, read_fillups, read_weather
from gearing.logs.endings import file_name, shown_name
from gearing.logs.ledger import lines_to_add
from gearing.messages import Problem, Severity, StudyWarning, Text
from gearing.run.profiles import read_route
from gearing.study.model import Study

_WIND = ("wind_speed_mps", "wind_from_deg")


@dataclass(frozen=True, slots=True)
class CompanionFiles:
    """The frames, None where a file is not named or gives nothing; `no_fillups` and `no_weather`
    say under the answers why not, `no_profiles` by route. `set_aside` is of rows,
    `values_set_aside` of single values."""

    fillups: pl.DataFrame | None
    weather: pl.DataFrame | None
    profiles: dict[str, pl.DataFrame]
    problems: tuple[Problem, ...]
    set_aside: tuple[Problem, ...]
    values_set_aside: tuple[Problem, ...]
    no_fillups: Text
    no_weather: Text
    no_profiles: dict[str, str]
    warnings: tuple[StudyWarning, ...]


def read_companions(study: Study, trips: pl.DataFrame | None = None) -> CompanionFiles:
    """All of them. `trips` has the `start` and `end` of each drive: a weather file that reaches
    none of them is told."""
    zone = study.time_zone

    def rules(path: Path) -> tuple[ColumnRule, ...]:
        """The study's column rules that apply to a file beside its logs."""
        shown = shown_name(Path(os.path.relpath(path, study.folder)))
        return rules_for(study.columns, shown)

    fillups = read_fillups(study.fillups, zone, rules(study.fillups)) if study.fillups else None
    weather = read_weather(study.weather, zone, rules(study.weather)) if study.weather else None
    routes = {
        route.name: read_route(route.profile, zone, rules(route.profile)) for route in study.routes
    }
    no_fillups = _no_fillups(study.fillups, fillups)
    apart = _weather_apart(study.weather, weather, trips)
    warnings = []
    if fillups is not None and no_fillups != NO_FILLUPS:
        warnings.append(StudyWarning("fill-ups-not-used", _sentence(str(no_fillups))))
    elif fillups is not None:
        warnings += [
            StudyWarning("fill-ups-doubted", f"The fill-up log {p.sentence()}")
            for p in fillups.set_aside_values
            if p.severity is Severity.WARNING
        ]
    if apart:
        warnings.append(StudyWarning("weather-not-used", _sentence(apart)))
    read = [one for one in (fillups, weather, *routes.values()) if one is not None]
    return CompanionFiles(
        fillups.frame if fillups and no_fillups == NO_FILLUPS else None,
        weather.frame if weather and not apart else None,
        {name: one.frame for name, one in routes.items() if one.frame.height},
        tuple(p for one in read for p in one.problems),
        tuple(p for one in read for p in one.set_aside_rows),
        tuple(p for one in read for p in one.set_aside_values),
        no_fillups,
        apart or _no_wind(study.weather, weather),
        {
            one.name: _unused(f"the profile {file_name(one.profile)}", routes[one.name].problems)
            for one in study.routes
            if routes[one.name].frame.is_empty()
        },
        tuple(warnings),
    )


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".") + "."


def _no_fillups(path: Path | None, fillups: Companion | None) -> Text:
    if path is None or fillups is None:
        return NO_FILLUPS
    if fillups.frame.get_column("indicated_distance_m").count():
        return NO_FILLUPS
    return _unused(f"the fill-up log {file_name(path)}", fillups.problems)


def _weather_apart(path: Path | None, weather: Companion | None, trips: pl.DataFrame | None) -> str:
    """Why the weather file gives nothing at all; empty where it gives something."""
    if path is None or weather is None:
        return ""
    what, frame = f"the weather file {file_name(path)}", weather.frame
    if frame.is_empty():
        return _unused(what, weather.problems)
    if trips is None or trips.is_empty():
        return ""
    reach = timedelta(seconds=REACH_S)
    times = frame.get_column("time")
    behind = times.search_sorted(trips["start"] - reach)
    if (behind < times.search_sorted(trips["end"] + reach, side="right")).any():
        return ""
    return (
        f"{what} covers none of the driving: it runs {_days(times, times)}, the driving "
        f"{_days(trips['start'], trips['end'])}. Give one that does; check its dates and the "
        "study's time_zone"
    )


def _days(starts: pl.Series, ends: pl.Series) -> str:
    first, last = starts.dt.to_string("%Y-%m-%d").min(), ends.dt.to_string("%Y-%m-%d").max()
    return f"from {first!s} to {last!s}"


def _no_wind(path: Path | None, weather: Companion | None) -> Text:
    """What is said where the file's wind covers too little of the driving."""
    if path is None or weather is None:
        return NO_WEATHER
    if any(weather.frame.get_column(name).count() == 0 for name in _WIND):
        return f"the weather file {file_name(path)} gives no wind speed with its direction"
    return f"the weather file {file_name(path)} covers too little of the driving to take its wind"


def _unused(what: str, problems: Sequence[Problem]) -> str:
    """One sentence: which file, why it gives nothing, and what to add."""
    asked = [p for p in problems if p.severity is Severity.QUESTION]
    told = asked or [p for p in problems if p.severity is Severity.ERROR] or list(problems)
    if not told:
        return f"{what} could not be used: it has no rows"
    reasons = "; ".join(dict.fromkeys(p.message.rstrip(".") for p in told))
    remedy = lines_to_add(told) or told[0].remedy
    return f"{what} could not be used: {reasons}. {remedy}".strip().rstrip(".")
