"""Fuel burnt in each clock interval, from the best channel a log has."""

from __future__ import annotations

import numpy as np

from gearing.statistics.arrays import Array, Mask
from gearing.trips.clock import own_interval_s
from gearing.units import STANDARD_GRAVITY_MPS2

# Air to fuel by mass at which a gasoline engine with a three-way catalyst is held, and the
# density of gasoline: common practice, no source. A diesel runs at whatever air it gets.
STOICHIOMETRIC_AIR = 14.7
GASOLINE_G_PER_L = 745.0
# the middle of what EN 590 (2013) allows at 15 degC: 820 to 845
DIESEL_G_PER_L = 832.5
RATES = ("fuel_rate_lph", "fuel_mass_rate_gps")  # the first that a log has
# Gathering speed, the share of weight a road asks for included, that no rolling vehicle does by
# itself; and for how many ticks a change of gear may cut the fuel (common practice, no source)
PULLS_MPS2, MIN_PULLING = 0.05, 4
IDLE_SHARE = 0.1  # 2 of 20 L/h; common practice, no source


def from_counter(
    time_s: Array,
    used_l: Array,
    clock_s: Array,
    interval_s: float,
    standing: Mask | None = None,
) -> Array:
    """Litres per interval from a running count, each step spread over the time it took, with a
    small share for `standing` (clock,): an engine at idle takes about a tenth.

    What lies before the first change of the count and after the last is not known: how much of
    a step was burnt there no reading tells, and a whole one for the part would add 3 % to a
    quarter of an hour. A count that falls (reset) or a hole of over half an hour gives nothing
    there.
    """
    change = np.flatnonzero(np.diff(used_l) != 0) + 1
    ticks, counts = time_s[change], used_l[change]
    if len(ticks) < 2:
        return np.full(len(clock_s), np.nan)
    edges = np.concatenate((clock_s - interval_s / 2, clock_s[-1:] + interval_s / 2))
    flow = np.ones(len(clock_s)) if standing is None else np.where(standing, IDLE_SHARE, 1.0)
    # as a clock that idle turns slowly: steady flow from tick to tick on it
    spent = np.concatenate(([0.0], np.cumsum(flow * np.diff(edges))))
    burnt = np.diff(np.interp(spent, np.interp(ticks, edges, spent), counts))
    step = np.clip(np.searchsorted(ticks, clock_s, side="right"), 1, len(ticks) - 1)
    sound = (np.diff(counts)[step - 1] >= 0) & (
        np.diff(ticks)[step - 1] <= max(1800.0, 10 * own_interval_s(ticks))
    )
    inside = (edges[:-1] >= ticks[0]) & (edges[1:] <= ticks[-1])  # whole intervals alone
    return np.where(sound & inside & (burnt >= 0), burnt, np.nan)


def from_rate(rate_lph: Array, interval_s: float) -> Array:
    """Liters per interval [L] of length `interval_s` [s] from a fuel rate [L/h]."""
    return rate_lph * (interval_s / 3600)


def missing_while_pulling(
    step_l: Array, speed_mps: Array, acceleration_mps2: Array, grade: Array
) -> Mask:
    """Runs of no fuel along which the engine must have pulled, shape (n,): an engine that is
    driven by the wheels burns none, one that gathers speed or climbs does."""
    none = (step_l == 0) & (speed_mps > 0)
    run = np.cumsum(np.diff(none, prepend=False))
    asked = acceleration_mps2 + STANDARD_GRAVITY_MPS2 * np.nan_to_num(grade)
    known = np.isfinite(asked)
    count = np.bincount(run[known], minlength=run[-1] + 1)
    mean = np.bincount(run[known], asked[known], minlength=run[-1] + 1) / np.maximum(count, 1)
    return np.asarray(none & (count >= MIN_PULLING)[run] & (mean > PULLS_MPS2)[run])


def from_air_flow(air_flow_gps: Array, interval_s: float) -> Array:
    """Litres of gasoline per interval from air mass per second; for stoichiometric engines."""
    return air_flow_gps * (interval_s / STOICHIOMETRIC_AIR / GASOLINE_G_PER_L)


def from_mass_rate(rate_gps: Array, interval_s: float, gasoline: bool) -> Array:
    """Litres per interval from fuel mass per second; the same density in both periods, so that it
    has no part in their difference."""
    return rate_gps * (interval_s / (GASOLINE_G_PER_L if gasoline else DIESEL_G_PER_L))
