"""The files a study names beside its logs: read, and where one gives nothing, why."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import polars as pl

from gearing.analysis.fuel.weather import REACH_S
from gearing.logs.column_rule import ColumnRule, rules_for
from gearing.logs.companions import Companion
from gearing.logs.dash_rows import read_dash_rows
from gearing.logs.endings import file_name, shown_name
from gearing.logs.fillups import read_fillups
from gearing.logs.ledger import lines_to_add
from gearing.logs.weather import read_weather
from gearing.messages import (
    Items,
    Message,
    Moment,
    Problem,
    Severity,
    StudyWarning,
    UserText,
    message,
    message_of,
    warning,
)
from gearing.run.profiles import read_route
from gearing.study.model import Study

# rows of a fill-up log that are none, or are there already
_NO_LOSS = ("other-fluid", "repeated-row")
MAX_REASONS = 3
_WIND = ("wind_speed_mps", "wind_from_deg")


@dataclass(frozen=True, slots=True)
class CompanionFiles:
    """The frames, None where a file is not named or gives nothing; `no_fillups` and `no_weather`
    say under the answers why a file that is named gives nothing, `no_profiles` by route.
    `set_aside` is of rows, `values_set_aside` of single values."""

    fillups: pl.DataFrame | None
    weather: pl.DataFrame | None
    profiles: dict[str, pl.DataFrame]
    problems: tuple[Problem, ...]
    set_aside: tuple[Problem, ...]
    values_set_aside: tuple[Problem, ...]
    no_fillups: Message | None
    no_weather: Message | None
    no_profiles: dict[str, Message]
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
    if no_fillups:
        warnings.append(warning(message("fill-ups-not-used", why=no_fillups)))
    elif fillups is not None:
        values = fillups.set_aside_values
        warnings += [_doubted(p) for p in values if p.severity is Severity.WARNING]
        warnings += _rows_lost(fillups)
    if apart:
        warnings.append(warning(message("weather-not-used", why=apart)))
    like = fillups.written if fillups else None
    noted = study.dash_file
    dash = read_dash_rows(noted, zone, rules(noted), like) if noted else None
    read = [one for one in (fillups, weather, dash, *routes.values()) if one is not None]
    return CompanionFiles(
        fillups.frame if fillups and not no_fillups else None,
        weather.frame if weather and not apart else None,
        {name: one.frame for name, one in routes.items() if one.frame.height},
        tuple(p for one in read for p in one.problems),
        tuple(p for one in read for p in one.set_aside_rows),
        tuple(p for one in read for p in one.set_aside_values),
        no_fillups,
        apart or _no_wind(study.weather, weather),
        {
            one.name: _unused(
                message("profile-file", file=_file(one.profile)), routes[one.name].problems
            )
            for one in study.routes
            if routes[one.name].frame.is_empty()
        },
        tuple(warnings),
    )


def _file(path: Path) -> UserText:
    return UserText(file_name(path), "file")


def _doubted(problem: Problem) -> StudyWarning:
    """Of a reading of the fill-up log that was left out, which its trips would not show."""
    return warning(
        message(
            "fill-ups-doubted",
            file=UserText(problem.file, "file"),
            line=problem.first_line or 0,
            column=UserText(problem.column, "column"),
            why=message_of(problem),
        )
    )


def _rows_lost(fillups: Companion) -> list[StudyWarning]:
    """Of the fill-up log's rows that were to be read and were not: nobody looks for them."""
    lost = [p for p in fillups.set_aside_rows if p.code not in _NO_LOSS]
    if not lost:
        return []
    shown = dict.fromkeys(message_of(p) for p in lost[:MAX_REASONS])
    reasons = Items(tuple(message("companion-reason", why=one) for one in shown), ";")
    told = message(
        "fill-ups-set-aside",
        file=UserText(lost[0].file, "file"),
        rows=sum(p.count for p in lost),
        first=lost[0].first_line or 0,
        reasons=reasons,
    )
    return [warning(told)]


def _no_fillups(path: Path | None, fillups: Companion | None) -> Message | None:
    """Why a fill-up log that is named gives nothing; None where it does or there is none."""
    if path is None or fillups is None:
        return None
    if fillups.frame.get_column("indicated_distance_m").count():
        return None
    return _unused(message("fill-up-log", file=_file(path)), fillups.problems)


def _weather_apart(
    path: Path | None, weather: Companion | None, trips: pl.DataFrame | None
) -> Message | None:
    """Why the weather file gives nothing at all; None where it gives something."""
    if path is None or weather is None:
        return None
    frame = weather.frame
    if frame.is_empty():
        return _unused(message("weather-file", file=_file(path)), weather.problems)
    if trips is None or trips.is_empty():
        return None
    reach = timedelta(seconds=REACH_S)
    times = frame.get_column("time")
    behind = times.search_sorted(trips["start"] - reach)
    if (behind < times.search_sorted(trips["end"] + reach, side="right")).any():
        return None
    return message(
        "weather-covers-nothing",
        file=_file(path),
        first=_day(times.min()),
        last=_day(times.max()),
        start=_day(trips["start"].min()),
        end=_day(trips["end"].max()),
    )


def _day(moment: object) -> Moment:
    return Moment(str(moment)[:10])


def _no_wind(path: Path | None, weather: Companion | None) -> Message | None:
    """What is said where the file's wind covers too little of the driving."""
    if path is None or weather is None:
        return None
    file = _file(path)
    if any(weather.frame.get_column(name).count() == 0 for name in _WIND):
        return message("weather-without-wind", file=file)
    return message("weather-covers-little", file=file)


def _unused(what: Message, problems: Sequence[Problem]) -> Message:
    """One sentence: which file, why it gives nothing, and what to add."""
    asked = [p for p in problems if p.severity is Severity.QUESTION]
    told = asked or [p for p in problems if p.severity is Severity.ERROR] or list(problems)
    if not told:
        return message("companion-unused/no-rows", what=what)
    why = dict.fromkeys(message_of(p) for p in told)
    reasons = Items(tuple(message("companion-reason", why=one) for one in why), ";")
    advice = lines_to_add(told)
    if advice is None and told[0].fix:
        advice = message("companion-remedy", why=message_of(told[0]))
    if advice is None:
        return message("companion-unused", what=what, reasons=reasons)
    return message("companion-unused/advice", what=what, reasons=reasons, advice=advice)
