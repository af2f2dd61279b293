"""Climbs in the logs: the same hill found again in every pass, by place and not by map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.mountain.check import FULL_LOAD_PERCENT
from gearing.analysis.mountain.learned import followed
from gearing.analysis.mountain.result import ClimbSide, LoggedClimb

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

MIN_RISE_M = 60.0
MIN_GRADE = 0.025
WINDOW_STEPS = 5
MAX_GAP_STEPS = 6
SAME_PLACE_M = 400.0
SAME_RISE = 0.25
MAX_CLIMBS = 12
_METRE_PER_DEGREE = 111_195.0  # of latitude, to a fraction of a percent: places only

_NEEDED = (
    "trip", "step", "start_s", "duration_s", "distance_m", "altitude_m", "start_speed_mps",
    "latitude_deg", "longitude_deg",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Pass:
    """One climb in one trip."""

    side: str
    latitude_deg: float
    longitude_deg: float
    end_latitude_deg: float
    end_longitude_deg: float
    length_m: float
    rise_m: float
    lowest_mps: float
    full_load_share: float | None
    coolant_c: float | None
    oil_c: float | None


def logged_climbs(
    steps: pl.DataFrame | None, sides: pl.DataFrame | None
) -> tuple[LoggedClimb, ...]:
    """The longest climbs of the logs with what was driven on each, before and after.

    `sides` has `trip` and `side` of the trips to use. Empty without positions and altitudes.
    """
    if steps is None or sides is None or any(name not in steps.columns for name in _NEEDED):
        return ()
    trips = (
        followed(steps)
        .join(sides.select("trip", "side"), on="trip", how="inner", maintain_order="left")
        .filter(pl.col("altitude_m").is_not_null(), pl.col("distance_m") > 0)
    )
    passes = [
        one
        for frame in trips.partition_by("trip", maintain_order=True)
        for one in _passes_of(frame)
    ]
    groups: list[list[Pass]] = []
    for one in passes:
        group = next((g for g in groups if _same(g[0], one)), None)
        if group is None:
            groups.append([one])
        else:
            group.append(one)
    groups.sort(key=lambda g: -len(g) * _median([p.rise_m for p in g]))
    return tuple(_climb(number, g) for number, g in enumerate(groups[:MAX_CLIMBS], start=1))


def _passes_of(frame: pl.DataFrame) -> list[Pass]:
    """Runs of steps that climb 2.5 % or more over half a kilometre and gain 60 m."""
    distance = frame["distance_m"].to_numpy().astype(np.float64)
    rise = (frame["end_altitude_m"] - frame["altitude_m"]).to_numpy().astype(np.float64)
    if distance.size < WINDOW_STEPS:
        return []
    ones = np.ones(WINDOW_STEPS)
    grade = np.convolve(rise, ones, "same") / np.convolve(distance, ones, "same")
    found = []
    for first, last in _runs(grade >= MIN_GRADE):
        if rise[first : last + 1].sum() >= MIN_RISE_M:
            one = _pass(frame[first : last + 1])
            if one is not None:
                found.append(one)
    return found


def _runs(inside: NDArray[np.bool_]) -> list[tuple[int, int]]:
    padded = np.concatenate([[False], inside, [False]]).astype(np.int8)
    starts = np.flatnonzero(np.diff(padded) == 1).tolist()
    ends = (np.flatnonzero(np.diff(padded) == -1) - 1).tolist()
    joined: list[tuple[int, int]] = []
    for start, end in zip(starts, ends, strict=True):
        if joined and start - joined[-1][1] <= MAX_GAP_STEPS:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined


def _pass(rows: pl.DataFrame) -> Pass | None:
    places = rows.drop_nulls(["latitude_deg", "longitude_deg"])
    if places.height < 2:
        return None
    moving = rows.filter(pl.col("stopped_s") <= 0) if "stopped_s" in rows.columns else rows
    speeds = moving["start_speed_mps"].drop_nulls()
    if speeds.len() < 3:
        return None
    load = _column(rows, "engine_load_percent")
    share = None if load is None else float((load.to_numpy() >= FULL_LOAD_PERCENT).mean())
    return Pass(
        side=rows["side"][0],
        latitude_deg=places["latitude_deg"][0],
        longitude_deg=places["longitude_deg"][0],
        end_latitude_deg=places["latitude_deg"][-1],
        end_longitude_deg=places["longitude_deg"][-1],
        length_m=float(rows["distance_m"].sum()),
        rise_m=float((rows["end_altitude_m"] - rows["altitude_m"]).sum()),
        lowest_mps=float(speeds.to_numpy().min()),
        full_load_share=share,
        coolant_c=_peak(rows, "coolant_temperature_c"),
        oil_c=_peak(rows, "transmission_oil_temperature_c"),
    )


def _column(rows: pl.DataFrame, name: str) -> pl.Series | None:
    if name not in rows.columns:
        return None
    known = rows[name].drop_nulls()
    return known if known.len() >= rows.height / 2 else None


def _peak(rows: pl.DataFrame, name: str) -> float | None:
    known = _column(rows, name)
    return None if known is None else float(known.to_numpy().max())


def _same(a: Pass, b: Pass) -> bool:
    """The same hill, the same way: both ends near, and much the same rise."""
    return (
        _apart_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg) < SAME_PLACE_M
        and _apart_m(
            a.end_latitude_deg, a.end_longitude_deg, b.end_latitude_deg, b.end_longitude_deg
        )
        < SAME_PLACE_M
        and abs(b.rise_m / a.rise_m - 1) < SAME_RISE
    )


def _apart_m(lat: float, lon: float, other_lat: float, other_lon: float) -> float:
    north = (other_lat - lat) * _METRE_PER_DEGREE
    east = (other_lon - lon) * _METRE_PER_DEGREE * float(np.cos(np.radians(lat)))
    return float(np.hypot(north, east))


def _median(values: list[float]) -> float:
    return float(np.median(values))


def _climb(number: int, passes: list[Pass]) -> LoggedClimb:
    length, rise = _median([p.length_m for p in passes]), _median([p.rise_m for p in passes])
    return LoggedClimb(
        name=f"climb {number}",
        length_km=length / 1000,
        rise_m=rise,
        mean_grade_percent=rise / length * 100,
        before=_side([p for p in passes if p.side == "before"]),
        after=_side([p for p in passes if p.side == "after"]),
    )


def _side(passes: list[Pass]) -> ClimbSide | None:
    if not passes:
        return None

    def middle(values: list[float | None]) -> float | None:
        known = [value for value in values if value is not None]
        return _median(known) if known else None

    return ClimbSide(
        passes=len(passes),
        lowest_speed_kmh=_median([p.lowest_mps for p in passes]) * 3.6,
        full_load_share=middle([p.full_load_share for p in passes]),
        peak_coolant_c=middle([p.coolant_c for p in passes]),
        peak_transmission_oil_c=middle([p.oil_c for p in passes]),
    )
