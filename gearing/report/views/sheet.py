"""The first screen: what to set, whether the claim holds, whether the roads suit, how sure.

Page and terminal tell the same sheet; each part leads to the evidence behind it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from gearing.messages.display import Display, digits, rough
from gearing.report.phrases import capital, counted, joined, roughly, said, with_interval
from gearing.report.reader import sides_of
from gearing.report.views.answers import answers
from gearing.report.views.bar import Bar, fuel_bar
from gearing.report.views.fuel import contradicted, decisive
from gearing.report.views.mountain import (
    VERDICTS,
    care,
    told_ways,
    top_gear_share,
    ways,
    worst_first,
)
from gearing.report.views.rules import own_rule_broken
from gearing.report.views.speed import (
    contradicted_keys,
    looks_swapped,
    misfiled_trips,
    needle,
    needle_at,
    present,
    to_reprogram,
    true_by_needle,
)
from gearing.report.views.strip import Strip, strip

if TYPE_CHECKING:
    from gearing.report.views.answer import Answer
    from gearing.report.views.mountain import Way, WayTold
    from gearing.results.record import Results
    from gearing.statistics.estimate import Estimate

ROUTES_SHOWN = 3
UNTIL_SET = "Only until the computer is reprogrammed."
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
    """One route: its verdict, what decides it in a few words, its strip."""

    name: str
    verdict: str
    text: str
    strip: Strip | None


@dataclass(frozen=True, slots=True)
class Look:
    """Something the reader must look at before trusting the answers."""

    text: str
    link: str
    warned: bool = True  # whether a warning tells it at length


@dataclass(frozen=True, slots=True)
class Before:
    """What to see to before driving, in short."""

    title: str
    text: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """The first screen, in finished strings."""

    title: str
    tires: str
    facts: tuple[str, ...]
    speed: Answer
    fuel: Answer
    mountain: Answer
    speeds: Speeds | None
    card: Speeds | None
    bar: Bar | None
    money: str
    routes: tuple[RouteLine, ...]
    more_routes: int
    ways: tuple[WayTold, ...]
    look: tuple[Look, ...]
    driving: tuple[Before, ...]


def sheet(results: Results, frames: dict[str, pl.DataFrame], display: Display) -> Sheet:
    """The sheet of results told for their reader."""
    speed, fuel, mountain = answers(results, display)
    return Sheet(
        title=results.study or "A study without a name",
        tires=_tires(results, display),
        facts=_facts(frames, display),
        speed=speed,
        fuel=fuel,
        mountain=mountain,
        speeds=_speeds(results, display, _US_SPEEDS if display.us else _METRIC_SPEEDS),
        card=_speeds(results, display, _US_CARD if display.us else _METRIC_CARD),
        bar=fuel_bar(results, display),
        money=_money(results, display),
        routes=_routes(results, frames.get("routes"), display),
        more_routes=max(0, len(results.routes) - ROUTES_SHOWN),
        ways=tuple(told_ways(worst_first(ways(results.routes)), display)),
        look=tuple(_look(results, display)),
        driving=_before_driving(display),
    )


def _tires(results: Results, display: Display) -> str:
    sizes = [period.drive_tire for _, period in sides_of(results.declared)]
    if display.role == "control" and sizes:
        return f"{sizes[0]}, kept while others changed theirs"
    if len(sizes) > 1 and len(set(sizes)) == 1:
        return f"{sizes[0]} throughout: old and new mean before and after"
    return " to ".join(sizes)


def _facts(frames: dict[str, pl.DataFrame], display: Display) -> tuple[str, ...]:
    trips = frames.get("trips")
    if trips is None or trips.is_empty():
        return ()
    count, days = counted(trips.height, "trip"), trips["local_day"].cast(pl.String)
    total = float(trips["true_m"].sum()) / 1000
    way = f"{digits(display.distance(total), 0)} true {display.distance_word}"
    # without a receiver how far was driven is not known, and not nothing
    return (f"{count}, {way}" if total > 0 else count, f"{days.min()!s} to {days.max()!s}")


def _speeds(results: Results, display: Display, speeds: Iterable[int]) -> Speeds | None:
    """True and engine speed at round speeds on the needle, or by the computer without readings;
    none where it is in doubt which tires they would be of."""
    if looks_swapped(results):
        return None
    read, side = needle(results).known, present(results)
    factor = results.speed.odometer_factor.of(side)
    at = display.speed(1.0)  # of a km/h
    by_needle = [true_by_needle(results, side, speed / at).value for speed in speeds]
    true = [one * at for one in by_needle if one is not None]
    if not read:
        if factor.value is None:
            return None
        true = [speed * factor.value for speed in speeds]
    until = f" {UNTIL_SET}" if to_reprogram(results, display) else ""
    engine = [_engine_rpm(results, side, speed / at) for speed in true]
    rpm = tuple("-" if one is None else digits(10 * round(one / 10), 0) for one in engine)
    return Speeds(
        "needle" if read else "computer",
        display.speed_unit,
        tuple(digits(speed, 0) for speed in speeds),
        tuple(digits(speed, 1) for speed in true),
        rpm if any(engine) else (),
        _speeds_note(results, display) if read else f"Needle not read: it may show more.{until}",
    )


def _speeds_note(results: Results, display: Display) -> str:
    """How long the speeds hold and what follows; what the odometer counts, where readings of it
    tell another story than the needle."""
    factor = results.speed.odometer_factor.of(present(results))
    if factor.method == "odometer-readings" and factor.value is not None:
        far = digits(1000 * factor.value, 0)
        return f"1,000 {display.distance_word} on the odometer are {far}."
    if factor.value is None or not to_reprogram(results, display):
        return ""
    at, unit = digits(display.round_speed, 0), display.speed_unit
    once_set = needle_at(results, display).map(lambda true: true / (factor.value or 1.0))
    return (
        f"{UNTIL_SET} Then, if the needle follows that computer, {at} on it will be about "
        f"{with_interval(once_set, 1)} {unit}."
    )


def _engine_rpm(results: Results, side: str, kmh: float) -> float | None:
    """Engine speed in the highest gear; None where that gear would lug or is not known."""
    uses = [gear.before if side == "before" else gear.after for gear in results.gears]
    per_km = min((one.rev_per_km for one in uses if one.rev_per_km), default=None)
    if per_km is None:
        return None
    rpm = per_km * kmh / 60
    return rpm if rpm >= (results.mountain.lugging_rpm or 0.0) else None


def _money(results: Results, display: Display) -> str:
    """What the saving is worth a year, and when the cost is back."""
    savings, money = results.fuel.savings, results.declared.money
    if savings is None or money is None or savings.saving_per_year.value is None:
        return ""
    told, years = _saving(savings.saving_per_year, savings.currency), savings.years_to_pay
    far = digits(display.distance((money.distance_per_year_m or 0.0) / 1000), 0)
    given = f"At {far} {display.distance_word} a year"
    if money.fuel_price_per_l is not None:
        price = digits(money.fuel_price_per_l / display.volume(1.0), 2)
        given += f" and {price} {savings.currency}/{display.volume_unit}"
    told = f"{given}: {told}"
    if years.value is None or money.cost is None:
        return told
    places = 0 if years.value >= 10 else 1
    low = digits(years.low if years.low is not None else years.value, places)
    high = "never" if years.high is None else digits(years.high, places)
    back = f"{digits(years.value, places)} years ({low} to {high})"
    return f"{told} The {digits(money.cost, 0)} {savings.currency} are back in {back}."


def _saving(saving: Estimate, currency: str) -> str:
    """Money a year, told without signs."""
    value, ends = saving.value or 0.0, saving.ends
    if ends is not None and ends[0] < 0 < ends[1]:
        best = f"{rough(abs(value))} {'saved' if value >= 0 else 'lost'}"
        span = f"from {rough(-ends[0])} {currency} lost to {rough(ends[1])} saved"
        return f"somewhere {span} a year, best put at {best}."
    return f"{'saves' if value >= 0 else 'costs'} {roughly(saving.map(abs), currency)} a year."


def _routes(results: Results, road: pl.DataFrame | None, display: Display) -> tuple[RouteLine, ...]:
    """The routes, the worst first, each by the worse of its ways."""
    by_way = {name: route for route in results.routes for name, _ in ways((route,))}
    lines: dict[str, RouteLine] = {}
    for name, way in worst_first(ways(results.routes)):
        route = said(by_way[name].name)
        if route in lines or len(lines) == ROUTES_SHOWN:
            continue
        watch = [f"{capital(one)}." for one in care(way)[:1]]
        direction = "forward" if way is by_way[name] else "reversed"
        lines[route] = RouteLine(
            name,
            VERDICTS[way.verdict],
            joined((*watch, _top_gear(way))),
            strip(route, direction, way, road, display),
        )
    return tuple(lines.values())


def _top_gear(way: Way) -> str:
    """Whether top gear serves: its share of the time under way, before and after."""
    now, was = top_gear_share(way.after), top_gear_share(way.before)
    changed = f", {was} before" if was and was != now else ""
    return f"Top gear {now} of the time{changed}." if now else ""


_SAID_ON_TOP = {
    "change-outside-drives": "No drive lies on one side of the day of the change as declared.",
    "fuel-missing-under-load": "Fuel is missing from the logs where most of it is burnt.",
    "engine-otherwise": "The engine itself takes other fuel than before, whatever the tires do.",
    "dash-left-out": "A reading of the needle is left out.",
}


def _look(results: Results, display: Display) -> Iterable[Look]:
    """What is to be looked at before the answers are trusted, the heaviest first."""
    if looks_swapped(results):
        yield Look("The logs of before and after look swapped.", "warnings")
    if keys := contradicted_keys(results):
        told = f"Does not fit the logs as declared: {', '.join(keys)}."
        yield Look(told, "warnings", warned=False)
    if trips := misfiled_trips(results):
        told = counted(len(trips), "trip looks", "trips look")
        yield Look(f"{told} filed wrongly: left out.", "warnings")
    if contradicted(results, decisive(results)[1]):
        yield Look("The fill-ups say otherwise than the logs.", "fuel", warned=False)
    for code, told in _SAID_ON_TOP.items():
        if any(row.code == code for row in results.warnings):
            yield Look(told, "warnings")
    if broken := own_rule_broken(results, present(results), display):
        yield Look(broken, "speed", warned=False)
    if asked := len(results.questions):
        one, many = "question about your files is", "questions about your files are"
        yield Look(f"{counted(asked, one, many)} open.", "warnings")


def _before_driving(display: Display) -> tuple[Before, ...]:
    """The first of the cautions in short; wheel nuts where wheels were changed."""
    far = "50 to 100 miles" if display.us else "80 to 160 km"
    nuts = Before("Wheel nuts", f"check torque again after {far} on newly fitted wheels.")
    return (
        *((nuts,) if display.role == "changed" else ()),
        Before("Load", "weigh each axle end laden; a dual carries less than a single."),
        Before("Pressure", "set it cold, by the tire maker's table for that size and load."),
    )
