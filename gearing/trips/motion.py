"""Samples of one drive -> motion on an even clock: the stretch between logs and findings.

The receiver's clock is the clock; the bus is moved onto it by the lag found per trip.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from gearing.messages import Message, Problem, Quantity, message, problem_of
from gearing.statistics.arrays import Array, Mask, moving_mean
from gearing.statistics.robust import median_deviation
from gearing.trips import fuel
from gearing.trips.clock import (
    Channels,
    Neighbours,
    between_samples,
    clock_interval_s,
    on_clock,
)
from gearing.trips.copied import without_copy
from gearing.trips.drawn import without_drawn
from gearing.trips.grade import smooth_altitude
from gearing.trips.lag import Lag, find_lag
from gearing.trips.receiver import Receiver, read_receiver
from gearing.trips.rounding import Grid, find_grid
from gearing.trips.stands_still import falls_to_none, stands_still
from gearing.trips.ticks import STOPPED_MPS, Ticks

RECEIVER_CHANNELS = ("latitude_deg", "longitude_deg", "altitude_m", "gps_course_deg", "hdop")
NOT_CARRIED = frozenset({"gps_speed_mps", *RECEIVER_CHANNELS})
MIN_LOGGED = 10
# a factor outside these is no tire change but a wrong unit or a strange file
PLAUSIBLE_FACTOR = (0.7, 1.4)
MIN_FACTOR_M = 500.0
# of the way along the slope, where no altitude is logged: half the mean square of the grade, for
# grades of some 3 % on the mean (common practice, no source)
SLOPE_UNKNOWN = 6e-4
# One deviation of a receiver's speed about the bus's from tick to tick: 0.05 to 0.3 in real logs
JITTER_MPS = 0.3
CALM_S = 15.0
SECOND_DIFFERENCE = 6**0.5  # its deviation over that of independent values
MIN_JERKS = 50
# 0.90 to 1.03 in real logs, 1.04 to 1.08 beside a speed that is a mean over eight or ten seconds
FOLLOWS_S, SLUGGISH = 4.0, 1.035


@dataclass(frozen=True, slots=True)
class Trip:
    """One drive; `motion` a frame of its `ticks`.

    `lag_s` is by how much the receiver trails the bus. `grid` is what the indicated speed was
    rounded to, `factor` true over indicated distance of this trip, raw (None without both).
    `logged_mps` are the indicated speeds as logged, at `logged_s` (epoch, receiver's clock), and
    `engine_rpm` the engine speeds at `engine_s`: drawn onto the even clock they would lose what
    they were rounded to, and a part of their spread; `fuel_rate` likewise, in its channel's unit.
    """

    name: str
    files: tuple[str, ...]
    start: datetime
    end: datetime
    local_day: date
    interval_s: float
    lag_s: float
    lag_found: bool
    grid: Grid
    factor: float | None
    speed_from: str | None
    way_error: float
    problems: tuple[Problem, ...]
    ticks: Ticks
    logged_s: Array
    logged_mps: Array
    engine_s: Array
    engine_rpm: Array
    fuel_rate: Array

    @property
    def motion(self) -> pl.DataFrame:
        """The ticks as a frame: `time` (UTC), `dt_s`, `bridged` and the channels."""
        return self.ticks.frame()


def make_trip(
    samples: pl.DataFrame,
    *,
    name: str,
    files: tuple[str, ...],
    time_zone: str = "UTC",
    gasoline: bool = False,
    problems: tuple[Problem, ...] = (),
) -> Trip:
    """Motion of one drive.

    Parameters
    ----------
    samples
        `time` (UTC, ascending) and any channels of the table of quantities, null where missing.
    gasoline
        whether fuel may be told from air flow.
    """
    logged, filled = without_drawn(Channels.of(samples), files[0])
    interval_s, time_s = clock_interval_s(logged), logged.time_s
    first = np.floor(time_s[0] / interval_s) * interval_s
    clock_s = first + interval_s * np.arange(int((time_s[-1] - first) / interval_s) + 1)
    logged, fallen = _without_none(logged, clock_s, interval_s, files[0])
    receiver = read_receiver(logged, clock_s, interval_s, files[0])
    lag, doubts = _lag_of(logged, receiver, clock_s, interval_s, files[0])
    grid = find_grid(logged.known("indicated_speed_mps")[1])
    logged, held = _without_held(logged, receiver, clock_s, lag, grid, files[0])
    channels = _channels(logged, clock_s, lag, interval_s)
    bus_s, bus_mps = logged.known("indicated_speed_mps")
    engine_s, engine_rpm = logged.known("engine_speed_rpm")
    if held:
        grid = find_grid(bus_mps)
    columns, bridged, factor = _motion(clock_s, interval_s, receiver, channels, grid)
    drawn = receiver.drawn | between_samples(bus_s + lag.seconds, clock_s, interval_s)
    standing = columns["true_speed_mps"] < STOPPED_MPS
    columns |= _fuel(logged, clock_s - lag.seconds, interval_s, channels, standing, gasoline)
    fuel_rate = _rate(logged)
    lost = _without_lost_fuel(columns, files[0]) if fuel_rate.size else ()
    start, end = (datetime.fromtimestamp(float(t), UTC) for t in (time_s[0], time_s[-1]))
    return Trip(
        name=name,
        files=files,
        start=start,
        end=end,
        local_day=start.astimezone(ZoneInfo(time_zone)).date(),
        interval_s=interval_s,
        lag_s=lag.seconds,
        lag_found=lag.found,
        grid=grid,
        factor=factor,
        speed_from=receiver.source,
        way_error=_way_error(receiver, columns["grade"]),
        problems=(*problems, *filled, *receiver.problems, *doubts, *fallen, *held, *lost),
        ticks=_ticks(clock_s, interval_s, columns, bridged, drawn),
        logged_s=bus_s + lag.seconds,
        logged_mps=bus_mps,
        engine_s=engine_s + lag.seconds,
        engine_rpm=engine_rpm,
        fuel_rate=fuel_rate,
    )


def _lag_of(
    logged: Channels, receiver: Receiver, clock_s: Array, interval_s: float, file: str
) -> tuple[Lag, tuple[Problem, ...]]:
    """By how much the receiver trails the bus, and the doubt where nothing tells."""
    bus_s, bus_mps = logged.known("indicated_speed_mps")
    if len(bus_mps) < MIN_LOGGED or receiver.source is None:
        return Lag(0.0, 0.0, False), ()

    def sought(kept: Mask) -> Lag:
        speed = on_clock(bus_s[kept], bus_mps[kept], clock_s, interval_s, "indicated_speed_mps")
        return find_lag(receiver.speed_mps, speed, interval_s)

    lag = sought(np.ones(len(bus_s), dtype=bool))
    if not lag.found:
        # once more without what seems to fall to none, which would hide a delay; a receiver that
        # is late may only make it seem so
        none = falls_to_none(bus_s, bus_mps, clock_s, receiver.speed_mps)
        lag = sought(~none) if none.any() else lag
    if lag.found:
        return lag, ()
    told = message("lag-unknown", correlation=Quantity(lag.correlation, "-", 2))
    return lag, (problem_of(told, file=file),)


def _without_none(
    logged: Channels, clock_s: Array, interval_s: float, file: str
) -> tuple[Channels, tuple[Problem, ...]]:
    """Without a speed that is a copy of the other, or a receiver's that falls to none."""
    logged, copied = without_copy(logged, clock_s, interval_s)
    logged, fallen = _without_fallen(logged, file)
    return logged, fallen if copied is None else (problem_of(copied, file=file), *fallen)


def _without_fallen(logged: Channels, file: str) -> tuple[Channels, tuple[Problem, ...]]:
    """Without a receiver's speeds that fall to none while the bus drives, and how many they are."""
    time_s, speed = logged.known("gps_speed_mps")
    bus_s, bus_mps = logged.known("indicated_speed_mps")
    if min(len(speed), len(bus_mps)) < MIN_LOGGED:
        return logged, ()
    none = falls_to_none(time_s, speed, bus_s, bus_mps)
    told = message("speed-stands-still/receiver", rows=int(none.sum()))
    return _left_out(logged, "gps_speed_mps", none, told, file)


def _without_held(
    logged: Channels, receiver: Receiver, clock_s: Array, lag: Lag, grid: Grid, file: str
) -> tuple[Channels, tuple[Problem, ...]]:
    """Without bus speeds that stand still while the receiver's changes, and how many they are."""
    bus_s, bus_mps = logged.known("indicated_speed_mps")
    if not lag.found or len(bus_mps) < MIN_LOGGED:
        return logged, ()
    bus_s = bus_s + lag.seconds
    none = stands_still(bus_s, bus_mps, clock_s, receiver.speed_mps, grid.step_mps)
    none |= falls_to_none(bus_s, bus_mps, clock_s, receiver.speed_mps)
    told = message("speed-stands-still/bus", rows=int(none.sum()))
    return _left_out(logged, "indicated_speed_mps", none, told, file)


def _left_out(
    logged: Channels, name: str, none: Mask, told: Message, file: str
) -> tuple[Channels, tuple[Problem, ...]]:
    """Without one channel's values that are none, and what is told of it if there are any."""
    if not none.any():
        return logged, ()
    return logged.without(name, none), (problem_of(told, file=file),)


def _way_error(receiver: Receiver, grade: Array) -> float:
    """A receiver's speed is horizontal: without a grade the way along the slope is not known."""
    if receiver.source is None or np.isfinite(grade).any():
        return receiver.way_error
    return float(np.hypot(receiver.way_error, SLOPE_UNKNOWN))


def _channels(logged: Channels, clock_s: Array, lag: Lag, interval_s: float) -> dict[str, Array]:
    """What bus and receiver carry, at the moments of a clock that is the receiver's."""
    of_bus = [name for name in logged.values if name not in NOT_CARRIED]
    of_receiver = [name for name in RECEIVER_CHANNELS if name in logged]
    channels = _on_clock(logged, of_bus, clock_s - lag.seconds, interval_s)
    for channel, values in _on_clock(logged, of_receiver, clock_s, interval_s).items():
        channels[channel.removeprefix("gps_")] = values
    return channels


def _on_clock(
    logged: Channels, names: Iterable[str], at_s: Array, interval_s: float
) -> dict[str, Array]:
    """Channels at the moments of a clock."""
    found = {}
    every = Neighbours.of(logged.time_s, at_s)
    for name in names:
        time_s, values = logged.known(name)
        beside = every if time_s is logged.time_s else None
        found[name] = on_clock(time_s, values, at_s, interval_s, name, beside)
    return found


def _motion(
    clock_s: Array,
    interval_s: float,
    receiver: Receiver,
    channels: dict[str, Array],
    grid: Grid,
) -> tuple[dict[str, Array], Mask, float | None]:
    """The channels with true speed along the slope and what follows; where the receiver was blind
    and it is bridged; true over indicated distance."""
    nothing = np.full(len(clock_s), np.nan)
    indicated = channels.get("indicated_speed_mps", nothing)
    flat = receiver.speed_mps
    standing = (indicated == 0) & ((flat < 1.5) | np.isnan(flat))
    flat = np.where(standing, 0.0, flat)
    # a value cut to whole units is somewhere in the unit above it, a rounded one around it:
    # until all trips together tell which, half-way between is taken, and undone the same way
    lifted = np.where(indicated > 0, indicated + grid.step_mps / 4, indicated)
    factor = _raw_factor(flat, lifted)
    if factor is not None:
        flat = _calmed(flat, lifted * factor, receiver.drawn, interval_s)
    known = np.isfinite(flat)
    bridged = ~known & np.isfinite(lifted)
    level = np.where(known, flat, lifted * (1.0 if factor is None else factor))
    way = np.cumsum(np.nan_to_num(level)) * interval_s
    altitude, grade = smooth_altitude(way, channels.get("altitude_m", nothing))
    slope = np.sqrt(1 + np.nan_to_num(grade) ** 2)
    true = np.where(known, flat * slope, level)
    columns = dict(channels)
    columns |= {
        "altitude_m": altitude,
        "true_speed_mps": true,
        "true_step_m": true * interval_s,
        "grade": grade,
        "acceleration_mps2": _acceleration(true, interval_s),
        "indicated_speed_mps": indicated,
        "indicated_step_m": indicated * interval_s,
    }
    return columns, bridged, factor


def _raw_factor(flat: Array, lifted: Array) -> float | None:
    both = (flat > 3.0) & (lifted > 3.0)
    if float(lifted[both].sum()) < MIN_FACTOR_M:
        return None
    factor = float(flat[both].sum() / lifted[both].sum())
    return factor if PLAUSIBLE_FACTOR[0] < factor < PLAUSIBLE_FACTOR[1] else None


def _calmed(flat: Array, bus: Array, drawn: Mask, interval_s: float) -> Array:
    """A receiver's speed that jitters from tick to tick as no vehicle does, or follows the
    vehicle's sluggishly: its own, where not `drawn`, over `CALM_S`, the bus's within, if that does
    neither. What is left of jitter would pass for speeding up, what is smoothed away for none."""
    both = np.isfinite(flat) & np.isfinite(bus) & (bus > 3.0)
    apart, own = np.where(both, flat - bus, np.nan), np.where(both, bus, np.nan)
    jitters = _jitter(apart) > JITTER_MPS and _jitter(own) <= _jitter(flat)
    sluggish = _jitter(own) < JITTER_MPS and _outruns(own, flat, interval_s) > SLUGGISH
    if not (jitters or sluggish):
        return flat
    apart[drawn] = np.nan
    mean, seen = moving_mean(apart, 2 * round(CALM_S / interval_s / 2) + 1)
    return np.where(both & (seen > 0), np.maximum(bus + mean, 0.0), flat)


def _jitter(speed: Array) -> float:
    """One deviation from tick to tick, were all of it noise; 0 where too little is known."""
    jerk = speed[2:] - 2 * speed[1:-1] + speed[:-2]
    jerk = jerk[np.isfinite(jerk)]
    return median_deviation(jerk) / SECOND_DIFFERENCE if len(jerk) >= MIN_JERKS else 0.0


def _outruns(own: Array, speed: Array, interval_s: float) -> float:
    """By how much the vehicle's `own` speed changes over `FOLLOWS_S` where the receiver's changes
    by one; 1 where too little is known."""
    k = max(1, round(FOLLOWS_S / interval_s))
    change, by = own[k:] - own[:-k], speed[k:] - speed[:-k]
    known = np.isfinite(change) & np.isfinite(by)
    square = float(by[known] @ by[known])
    if np.count_nonzero(known) < MIN_JERKS or not square:
        return 1.0
    return float(change[known] @ by[known]) / square


def _acceleration(speed: Array, interval_s: float) -> Array:
    """Central difference over one tick to either side; one-sided or unknown at holes."""
    if len(speed) < 3:
        return np.zeros(len(speed))
    change = np.full(len(speed), np.nan)
    change[1:-1] = (speed[2:] - speed[:-2]) / (2 * interval_s)
    return change


def _rate(logged: Channels) -> Array:
    """The fuel rates as logged, by volume or mass; none where a count or air flow tells."""
    return next((logged.known(name)[-1] for name in fuel.RATES if name in logged), np.empty(0))


def _fuel(
    logged: Channels,
    bus_clock_s: Array,
    interval_s: float,
    channels: dict[str, Array],
    standing: Mask,
    gasoline: bool,
) -> dict[str, Array]:
    """Litres burnt in each tick, by rate (volume or mass), by count, or (gasoline) by air."""
    if "fuel_rate_lph" in channels:
        return {"fuel_step_l": fuel.from_rate(channels["fuel_rate_lph"], interval_s)}
    if "fuel_mass_rate_gps" in channels:
        rate_gps = channels["fuel_mass_rate_gps"]
        return {"fuel_step_l": fuel.from_mass_rate(rate_gps, interval_s, gasoline)}
    if "fuel_used_l" in channels:
        time_s, used = logged.known("fuel_used_l")
        return {"fuel_step_l": fuel.from_counter(time_s, used, bus_clock_s, interval_s, standing)}
    if gasoline and "mass_air_flow_gps" in channels:
        return {"fuel_step_l": fuel.from_air_flow(channels["mass_air_flow_gps"], interval_s)}
    return {}


def _without_lost_fuel(columns: dict[str, Array], file: str) -> tuple[Problem, ...]:
    """Blanks the fuel of ticks that cannot have burnt none, and tells how many they are."""
    names = ("fuel_step_l", "true_speed_mps", "acceleration_mps2", "grade")
    lost = fuel.missing_while_pulling(*(columns[name] for name in names))
    if not lost.any():
        return ()
    columns["fuel_step_l"] = np.where(lost, np.nan, columns["fuel_step_l"])
    return (problem_of(message("fuel-none-while-pulling", rows=int(lost.sum())), file=file),)


def _ticks(
    clock_s: Array, interval_s: float, columns: dict[str, Array], bridged: Mask, drawn: Mask
) -> Ticks:
    """The ticks at which a speed of the vehicle or of its engine is known."""
    told = np.zeros(len(clock_s), dtype=bool)
    for name in ("true_speed_mps", "indicated_speed_mps", "engine_speed_rpm"):
        if name in columns:
            told |= np.isfinite(columns[name])
    micros = np.rint(clock_s * 1e6).astype(np.int64)
    if told.all():
        return Ticks(micros, interval_s, bridged, drawn, columns)
    kept = {name: values[told] for name, values in columns.items()}
    return Ticks(micros[told], interval_s, bridged[told], drawn[told], kept)
