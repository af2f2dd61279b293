"""What a folder's evidence can answer, and the one thing that would help most."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.logs.dash_rows import read_dash_rows
from gearing.logs.fillups import read_fillups
from gearing.messages import Message, Moment, UserText, message

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from gearing.logs.column_rule import ColumnRule
    from gearing.logs.companions import Companion

MIN_NEEDLE = 3  # readings a period: fewer leave two percent open
MIN_FILLS = 10  # both periods' tanks, of four each


@dataclass(frozen=True, slots=True)
class Evidence:
    """Which kinds there are: by logs, a receiver, the vehicle's own speed or count, its engine
    speed and fuel; beside them fills, readings of the needle and of the odometer, road profiles."""

    receiver: bool = False
    bus: bool = False
    engine: bool = False
    fuel: bool = False
    fills: int = 0
    needle: int = 0
    odometer: int = 0
    profiles: int = 0
    local_dash: bool = False  # the dash's readings name no zone
    asked: bool = False  # a log or a notebook leaves something open


@dataclass(frozen=True, slots=True)
class Beside:
    """The notebooks beside the logs as they are read, None where there are none."""

    fillups: Companion | None
    dash: Companion | None

    @property
    def files(self) -> tuple[Companion, ...]:
        """The companion files there are."""
        return tuple(one for one in (self.fillups, self.dash) if one is not None)

    @property
    def in_miles(self) -> bool:
        """Whether any of them is written in miles, mph or gallons."""
        units = {u for one in self.files if one.written for u in one.written.units.values()}
        return bool({"mi", "mph", "gal"} & units)


def read_beside(
    fillups: Path | None,
    dash: Path | None,
    zone: str = "UTC",
    rules: Callable[[Path], tuple[ColumnRule, ...]] | None = None,
) -> Beside:
    """Fill-ups, and by how they are written the readings of the dash; `rules` of each file."""

    def of(path: Path) -> tuple[ColumnRule, ...]:
        return rules(path) if rules else ()

    filled = None if fillups is None else read_fillups(fillups, zone, of(fillups))
    like = filled.written if filled else None
    noted = None if dash is None else read_dash_rows(dash, zone, of(dash), like)
    return Beside(filled, noted)


def evidence_in(
    channels: frozenset[str], beside: Beside, profiles: int, *, asked: bool
) -> Evidence:
    """By the channels of the logs and the notebooks beside them; `asked`: headings are open."""
    rows = beside.dash.frame if beside.dash else None
    fills = beside.fillups.frame["indicated_distance_m"] if beside.fillups else None
    return Evidence(
        receiver=bool({"gps_speed_mps", "latitude_deg"} & channels),
        bus=bool({"indicated_speed_mps", "indicated_distance_m"} & channels),
        engine=bool({"engine_speed_rpm", "output_shaft_rpm"} & channels),
        fuel=bool({"fuel_rate_lph", "fuel_used_l", "fuel_mass_rate_gps"} & channels),
        fills=0 if fills is None else fills.count(),
        needle=0 if rows is None else rows["indicated_speed_mps"].count(),
        odometer=0 if rows is None else rows["indicated_distance_m"].count(),
        profiles=profiles,
        asked=asked,
        local_dash=bool(beside.dash and beside.dash.written and beside.dash.written.local),
    )


def carried(of: Evidence) -> tuple[Message, ...]:
    """One sentence for each answer it can carry, with what it rests on."""
    found = [_speed(of), _fuel(of), _gearing(of)]
    if of.profiles:
        found.append(message("carries-mountain", routes=of.profiles))
    return tuple(one for one in found if one is not None)


def _speed(of: Evidence) -> Message:
    if of.receiver and of.bus:
        return message("carries-speed/measured")
    if of.receiver and of.needle:
        return message("carries-speed/needle", readings=of.needle)
    if of.bus:
        return message("carries-speed/bus")
    return message("carries-speed/declared")


def _fuel(of: Evidence) -> Message | None:
    if of.fuel and of.receiver:
        return message("carries-fuel/days")
    return message("carries-fuel/tanks", fills=of.fills) if of.fills else None


def _gearing(of: Evidence) -> Message:
    measured = of.engine and of.receiver
    return message("carries-gearing/measured" if measured else "carries-gearing/declared")


def helps_most(of: Evidence) -> Message:
    """The one addition that would narrow or open most."""
    if of.asked:
        return message("helps-most/answers")
    if not of.fuel and not of.fills:
        return message("helps-most/fills")
    if of.bus and not of.receiver:
        return message("helps-most/receiver")
    if not of.bus and of.receiver and of.needle < 2 * MIN_NEEDLE:
        return message("helps-most/needle")
    if not of.bus and of.odometer < 2:
        return message("helps-most/odometer")
    if of.fills and not of.fuel and of.fills < MIN_FILLS:
        return message("helps-most/tanks", least=MIN_FILLS // 2)
    if not of.profiles:
        return message("helps-most/profile")
    return message("helps-most/weather")


def beside_lines(beside: Beside) -> list[str]:
    """How each notebook is read, for a terminal."""
    lines = []
    for one in beside.files:
        asides = dict.fromkeys(p.sentence() for p in one.problems if p not in one.questions)
        lines += [str(_read(one)), *(f"  {aside}" for aside in asides)]
    return lines


def _read(one: Companion) -> Message:
    frame = one.frame
    file = UserText(one.written.file if one.written else one.problems[0].file, "file")
    if not frame.height:
        return message("notebook-read/nothing", file=file)
    days = frame["time"].dt.strftime("%Y-%m-%d")
    return message(
        "notebook-read",
        file=file,
        rows=frame.height,
        odometer=frame["indicated_distance_m"].count(),
        needle=frame["indicated_speed_mps"].count() if "indicated_speed_mps" in frame else 0,
        first=Moment(days[0]),
        last=Moment(days[-1]),
    )


def carried_lines(of: Evidence) -> list[str]:
    """For a terminal and for the head of a study file."""
    return [
        str(message("carries")),
        *(f"  {one}" for one in carried(of)),
        str(message("helps-most", what=helps_most(of))),
    ]
