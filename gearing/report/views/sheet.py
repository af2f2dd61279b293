"""The first screen: what to set, whether the claim holds, whether the roads suit, how sure.

Page and terminal tell the same sheet; each part leads to the evidence behind it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import polars as pl

from gearing.messages.display import Display, digits, rough
from gearing.report.cautions import Caution, before_driving
from gearing.report.phrases import percent_of, roughly
from gearing.report.reading import SIDES, Tree, branch, dig, estimate, number, rows, text
from gearing.report.views.answer import Answer
from gearing.report.views.answers import answers
from gearing.report.views.bar import Bar, fuel_bar
from gearing.report.views.fuel import contradicted, decisive
from gearing.report.views.mountain import top_gear_number, verdict
from gearing.report.views.speed import (
    broken_rules,
    contradicted_keys,
    looks_swapped,
    misfiled_trips,
    needle,
    present,
)
from gearing.report.views.strip import Strip, strip
from gearing.statistics.estimate import Estimate

ROUTES_SHOWN = 3
_US_SPEEDS, _METRIC_SPEEDS = (35, 45, 55, 60, 65), (50, 60, 80, 90, 100)
_US_CARD, _METRIC_CARD = range(25, 80, 5), range(40, 130, 10)


@dataclass(frozen=True, slots=True)
class Speeds:
    """What the driver reads, what is true, and the engine in top gear: a column a speed."""

    shown_by: str  # the needle or the computer
    unit: str
    shown: tuple[str, ...]
    true: tuple[str, ...]
    engine: tuple[str, ...]  # empty where no gear is known
    note: str


@dataclass(frozen=True, slots=True)
class RouteLine:
    name: str
    verdict: str
    lines: tuple[str, ...]
    strip: Strip | None


@dataclass(frozen=True, slots=True)
class Look:
    """Something the reader must look at before trusting the answers."""

    text: str
    link: str
    warned: bool = True  # whether a warning tells it at length


@dataclass(frozen=True, slots=True)
class Wheel:
    """One tire of the drawing, in drawing units; it stands on y = 0, up is negative."""

    side: str
    radius: float


@dataclass(frozen=True, slots=True)
class Sheet:
    title: str
    tires: str
    facts: tuple[str, ...]
    wheels: tuple[Wheel, ...]
    speed: Answer
    fuel: Answer
    mountain: Answer
    speeds: Speeds | None
    card: Speeds | None
    bar: Bar | None
    money: str
    routes: tuple[RouteLine, ...]
    more_routes: int
    look: tuple[Look, ...]
    driving: tuple[Caution, ...]


def sheet(
    results: Tree,
    frames: dict[str, pl.DataFrame],
    display: Display,
    messages: Tree | None = None,
) -> Sheet:
    """The sheet of results told for their reader; `messages` are those they were told from."""
    found = dict(results)
    speed, fuel, mountain = answers(found, display)
    routes = rows(results, "routes")
    told = messages or {}
    us = display.us
    return Sheet(
        title=text(results.get("study")) or text(results.get("name")) or "A study without a name",
        tires=_tires(results, display),
        facts=_facts(frames, display),
        wheels=_wheels(results),
        speed=speed,
        fuel=fuel,
        mountain=mountain,
        speeds=_speeds(found, display, _US_SPEEDS if us else _METRIC_SPEEDS),
        card=_speeds(found, display, _US_CARD if us else _METRIC_CARD),
        bar=fuel_bar(results, display),
        money=_money(results),
        routes=tuple(
            _route(index, route, frames.get("routes"), display, told)
            for index, route in enumerate(routes[:ROUTES_SHOWN])
        ),
        more_routes=max(0, len(routes) - ROUTES_SHOWN),
        look=_look(found, display),
        driving=before_driving(display),
    )


def tire(results: Tree, side: str) -> str:
    """The drive tire of a side as declared."""
    return text(dig(results, "declared", side, "drive_tire"))


def _tires(results: Tree, display: Display) -> str:
    sizes = [size for side in SIDES if (size := tire(results, side))]
    if display.role == "control" and sizes:
        return f"{sizes[0]}, kept while others changed theirs"
    if len(sizes) > 1 and len(set(sizes)) == 1:
        return f"{sizes[0]} throughout: old and new mean before and after"
    return " to ".join(sizes)


def _facts(frames: dict[str, pl.DataFrame], display: Display) -> tuple[str, ...]:
    trips = frames.get("trips")
    facts = []
    if trips is not None and not trips.is_empty() and "true_m" in trips.columns:
        count = f"{trips.height:,} trip{'' if trips.height == 1 else 's'}"
        total = float(trips["true_m"].sum()) / 1000
        way = f"{digits(display.distance(total), 0)} true {display.distance_word}"
        # without a receiver how far was driven is not known, and not nothing
        facts.append(f"{count}, {way}" if total > 0 else count)
    if trips is not None and not trips.is_empty() and "local_day" in trips.columns:
        days = trips["local_day"].cast(pl.String)
        facts.append(f"{days.min()!s} to {days.max()!s}")
    return tuple(facts)


def _wheels(results: Tree) -> tuple[Wheel, ...]:
    turns = {s: number(dig(results, "speed", "revolutions_per_km", s)) for s in SIDES}
    radii = {side: 1000 / (2 * math.pi * per_km) for side, per_km in turns.items() if per_km}
    scale = 60 / max(radii.values(), default=1.0)
    return tuple(Wheel(side, radius * scale) for side, radius in radii.items())


def _speeds(results: dict[str, Any], display: Display, speeds: Any) -> Speeds | None:
    """True and engine speed at round speeds on the needle, or by the computer without readings."""
    read = needle(results)
    side = present(results)
    factor = read if read.value else estimate(results, "speed", "odometer_factor", side)
    if factor.value is None:
        return None
    at = display.speed(1.0)  # of a km/h
    true = [speed * factor.value for speed in speeds]
    engine = [_engine_rpm(results, side, speed / at) for speed in true]
    return Speeds(
        "needle" if read.value else "computer",
        display.speed_unit,
        tuple(digits(speed, 0) for speed in speeds),
        tuple(digits(speed, 1) for speed in true),
        tuple("-" if rpm is None else digits(10 * round(rpm / 10), 0) for rpm in engine)
        if any(engine)
        else (),
        "" if read.value else "Needle not read: it may show more.",
    )


def _engine_rpm(results: Tree, side: str, kmh: float) -> float | None:
    """Engine speed in the highest gear; None where that gear would lug or is not known."""
    turns = [number(dig(gear, side, "rev_per_km")) for gear in rows(results, "gears")]
    per_km = min((one for one in turns if one), default=None)
    if per_km is None:
        return None
    rpm = per_km * kmh / 60
    return rpm if rpm >= (number(dig(results, "mountain", "lugging_rpm")) or 0.0) else None


def _money(results: Tree) -> str:
    """What the saving is worth a year, and when the cost is back."""
    worth = branch(results, "fuel", "worth")
    saving, years = estimate(worth, "saving_per_year"), estimate(worth, "years_to_pay")
    if saving.value is None:
        return ""
    told = _saving(saving, text(worth.get("currency")))
    if years.value is None:
        return told
    places = 0 if years.value >= 10 else 1
    low = digits(years.low if years.low is not None else years.value, places)
    high = "never" if years.high is None else digits(years.high, places)
    return f"{told} Paid back in {digits(years.value, places)} years ({low} to {high})."


def _saving(saving: Estimate, currency: str) -> str:
    """Money a year, told without signs."""
    value, low, high = saving.value or 0.0, saving.low, saving.high
    if low is not None and high is not None and low < 0 < high:
        best = f"{rough(abs(value))} {'saved' if value >= 0 else 'lost'}"
        ends = f"from {rough(-low)} {currency} lost to {rough(high)} saved"
        return f"Somewhere {ends} a year, best put at {best}."
    return f"{'Saves' if value >= 0 else 'Costs'} {roughly(saving.map(abs), currency)} a year."


def _route(
    index: int, route: Tree, frame: pl.DataFrame | None, display: Display, messages: Tree
) -> RouteLine:
    back = branch(route, "reversed")
    other = f"Other way: {verdict(back)}." if back and verdict(back) != verdict(route) else ""
    lines = (_top_gear(route), other)
    return RouteLine(
        text(route.get("name")) or "Route",
        verdict(route),
        tuple(line for line in lines if line),
        strip(index, route, frame, display, messages),
    )


def _top_gear(route: Tree) -> str:
    """Whether top gear serves: its share of the time under way, before and after."""
    now, was = (_share(branch(route, side)) for side in ("after", "before"))
    if now is None:
        return ""
    changed = "" if was is None or was == now else f", {was} before"
    return f"Top gear serves {now} of the time{changed}."


def _share(drive: Tree) -> str | None:
    shares = branch(drive, "gear_time_share")
    return percent_of(number(shares.get(top_gear_number(drive))) or 0.0) if shares else None


def _look(results: dict[str, Any], display: Display) -> tuple[Look, ...]:
    """What is to be looked at before the answers are trusted, the heaviest first."""
    out = []
    if looks_swapped(results):
        out.append(Look("The logs of before and after look swapped.", "warnings"))
    if keys := contradicted_keys(results):
        told = f"Does not fit the logs as declared: {', '.join(keys)}."
        out.append(Look(told, "warnings", warned=False))
    if trips := misfiled_trips(results):
        named = f"{trips[0]} looks" if len(trips) == 1 else f"{len(trips)} trips look"
        out.append(Look(f"{named} filed under the wrong tires, and is left out.", "warnings"))
    if contradicted(results, decisive(results)[1]):
        out.append(Look("The fill-ups say otherwise than the logs.", "fuel", warned=False))
    if broken := broken_rules(results, display):
        out.append(Look(broken, "speed", warned=False))
    asked = len(rows(results, "questions"))
    if asked:
        many = "question about your files is" if asked == 1 else "questions about your files are"
        out.append(Look(f"{asked} {many} open.", "warnings"))
    return tuple(out)
