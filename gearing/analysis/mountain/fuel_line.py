"""Fuel from the logs: a Willans line of power and engine speed, and what standing takes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.mountain.inputs import Inputs, parameter
from gearing.messages import message
from gearing.statistics.estimate import NORMAL_95

if TYPE_CHECKING:
    from gearing.analysis.mountain.result import Parameter
    from gearing.statistics.arrays import Array

MIN_STEPS = 150
MIN_STANDING_S, MIN_STANDING_TRIPS = 60.0, 3  # by trip; trips


def fuel_line(
    used: pl.DataFrame, crank_power_w: Array, rpm: Array, inputs: Inputs
) -> dict[str, Parameter]:
    """The Willans line of road steps: fuel rate on power [W] and engine speed [rpm] by step.

    Its range is from trip to trip. Empty where fuel is not logged on enough steps.
    """
    rate = (used["fuel_l"] / used["duration_s"] * 3600).cast(pl.Float64).to_numpy()
    known = np.isfinite(rate) & (rate > 0)
    if known.sum() < MIN_STEPS:
        return {}
    rows = np.column_stack([crank_power_w / 1000, rpm / 1000])[known]
    rate, trip = rate[known], used["trip"].rle_id().to_numpy()[known]
    prior = np.array([inputs.central("l_per_kwh"), inputs.central("l_per_h_per_krpm")])
    deviation = np.array([0.15, 0.5]) * prior
    off, scaled = rate - rows @ prior, rows * deviation
    spread = float(np.std(off))
    begins = np.flatnonzero(np.diff(trip.astype(np.int64), prepend=-1))
    count = begins.size
    if count < 2:
        return {}
    # sums by trip, so that one trip after another can be left out (jackknife)
    squares = np.add.reduceat(scaled[:, :, None] * scaled[:, None, :], begins) / spread**2
    against = np.add.reduceat(scaled * off[:, None], begins) / spread**2

    def solve(information: Array, pull: Array) -> Array:
        found = np.linalg.solve(information + np.eye(2), pull[..., None])[..., 0]
        solved: Array = prior + deviation * found
        return solved

    middle = solve(squares.sum(axis=0), against.sum(axis=0))
    each = solve(squares.sum(axis=0) - squares, against.sum(axis=0) - against)
    error = np.sqrt((count - 1) / count * ((each - each.mean(axis=0)) ** 2).sum(axis=0))
    source = message("source/fitted")
    return {
        name: parameter(
            name, float(m), float(max(m - NORMAL_95 * e, 1e-4)), float(m + NORMAL_95 * e), source
        )
        for name, m, e in zip(("l_per_kwh", "l_per_h_per_krpm"), middle, error, strict=True)
    }


def standing_fuel(steps: pl.DataFrame, sides: pl.DataFrame) -> dict[str, Parameter]:
    """What the engine takes while the vehicle stands [L/h]: the middle trip's, and their range.

    Empty where too few trips stand for long enough with their fuel logged. `sides` as in `learn`.
    """
    if "fuel_stopped_l" not in steps.columns:
        return {}
    rates = (
        steps.filter((pl.col("stopped_s") > 0) & (pl.col("fuel_stopped_l") > 0))
        .join(sides.select("trip"), on="trip", how="semi", maintain_order="left")
        .group_by("trip", maintain_order=True)
        .agg(pl.col("stopped_s", "fuel_stopped_l").sum())
        .filter(pl.col("stopped_s") >= MIN_STANDING_S)
        .select(pl.col("fuel_stopped_l") / pl.col("stopped_s") * 3600)
        .to_series()
    )
    if rates.len() < MIN_STANDING_TRIPS:
        return {}
    low, middle, high = (float(x) for x in np.percentile(rates.to_numpy(), [2.5, 50, 97.5]))
    return {"idle_lph": parameter("idle_lph", middle, low, high, message("source/logs"))}
