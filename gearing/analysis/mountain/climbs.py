"""Hills in the logs: the same one found again in every drive, by place and not by map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.mountain.check import FULL_LOAD_PERCENT
from gearing.analysis.mountain.powered_steps import followed
from gearing.analysis.mountain.sections import stretches_of
from gearing.trips.geodesy import apart_m

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearing.statistics.arrays import Array

MIN_RISE_M = 60.0
MIN_GRADE = 0.025
MIN_STEPS = 5
SAME_PLACE_M = 400.0
SAME_RISE = 0.25
MAX_HILLS = 12  # up, and as many down: those that are most of the work


@dataclass(frozen=True, slots=True)
class Pass:
    """One hill in one drive: its road steps, of shape (k,), and where it begins and ends."""

    side: str
    rise_m: float
    altitude_m: float  # where it begins
    ends_deg: tuple[float, float, float, float]  # latitude and longitude, first and last
    distance_m: Array
    climbed_m: Array
    speed_mps: Array  # at each step's beginning
    full_load: Array  # 1 or 0, nan where the load is not known
    gear: Array  # nan where none is known
    seconds: Array
    coolant_c: float | None
    oil_c: float | None

    @property
    def length_m(self) -> float:
        """Length of the hill [m]."""
        return float(self.distance_m.sum())

    @property
    def downshifts(self) -> float | None:
        """Steps in a lower gear than the one before; None where most gears are not known."""
        gear = self._known(self.gear)
        return None if gear is None else float((np.diff(gear) < 0).sum())

    @property
    def usual_gear(self) -> float | None:
        """The gear driven for most of the time; None where most are not known."""
        if self._known(self.gear) is None:
            return None
        seconds = np.bincount(np.nan_to_num(self.gear).astype(np.int64), self.seconds)
        seconds[0] = 0.0
        return float(np.argmax(seconds))

    @property
    def full_load_share(self) -> float | None:
        """Share of the steps at full load; None where most loads are not known."""
        full = self._known(self.full_load)
        return None if full is None else float(full.mean())

    def _known(self, values: Array) -> Array | None:
        known: Array = values[np.isfinite(values)]
        return known if known.size >= values.size / 2 else None


@dataclass(frozen=True, slots=True)
class Hill:
    """All drives over one hill, one way."""

    passes: tuple[Pass, ...]

    @property
    def climbs(self) -> bool:
        """Whether it is driven up."""
        return self.passes[0].rise_m > 0

    @property
    def length_m(self) -> float:
        """Median length of its drives [m]."""
        return float(np.median([one.length_m for one in self.passes]))

    @property
    def rise_m(self) -> float:
        """Median rise [m], negative where it is driven down."""
        return float(np.median([one.rise_m for one in self.passes]))

    def heights_m(self, share: Array) -> Array:
        """Median altitude [m] at shares (m,) of the way."""
        heights = [
            np.interp(
                share * one.length_m,
                np.concatenate([[0.0], np.cumsum(one.distance_m)]),
                np.concatenate([[0.0], np.cumsum(one.climbed_m)]),
            )
            for one in self.passes
        ]
        begins = np.median([one.altitude_m for one in self.passes])
        median: Array = begins + np.median(np.stack(heights), axis=0)
        return median


def find_hills(steps: pl.DataFrame, sides: pl.DataFrame) -> tuple[Hill, ...]:
    """The longest climbs of the logs, then the longest descents, each with all its drives.

    `sides` has `trip` and `side` of the trips to use. Empty without positions and altitudes.
    """
    trips = (
        followed(steps)
        .join(sides.select("trip", "side"), on="trip", how="inner", maintain_order="left")
        .filter(pl.all_horizontal(pl.col("rise_m", "altitude_m").is_not_null()))
        .filter(pl.col("distance_m") > 0)
        # a stretch without altitude, or a hole in the log, ends what is known of a drive
        .with_columns(
            run=pl.struct("trip", pl.col("step").cast(pl.Int64) - pl.int_range(pl.len())).rle_id()
        )
    )
    passes = [
        one for frame in trips.partition_by("run", maintain_order=True) for one in _passes_of(frame)
    ]
    found = [Hill(tuple(group)) for group in _by_place(passes)]
    found.sort(key=lambda hill: -len(hill.passes) * abs(hill.rise_m))
    ways = ([hill for hill in found if hill.climbs is up][:MAX_HILLS] for up in (True, False))
    return tuple(hill for way in ways for hill in way)


def _passes_of(frame: pl.DataFrame) -> list[Pass]:
    """What climbs or falls by 2.5 % and more, and by 60 m."""
    if frame.height < MIN_STEPS:
        return []
    edge, height = (
        np.concatenate([[0.0], np.cumsum(frame[name].cast(pl.Float64).to_numpy())])
        for name in ("distance_m", "rise_m")
    )
    found = (
        _pass(frame[one.first : one.last + 1])
        for one in stretches_of(edge, height, MIN_GRADE, MIN_RISE_M)
    )
    return [one for one in found if one is not None]


def _pass(rows: pl.DataFrame) -> Pass | None:
    places = rows.drop_nulls(["latitude_deg", "longitude_deg"])
    if rows.height < MIN_STEPS or places.height < 2:
        return None
    first, last = (places.row(at, named=True) for at in (0, -1))

    def column(name: str) -> Array:
        return rows[name].cast(pl.Float64).to_numpy()

    def peak(name: str) -> float | None:
        values = column(name)
        known = np.isfinite(values)
        return float(values[known].max()) if known.sum() >= rows.height / 2 else None

    load = column("engine_load_percent")
    return Pass(
        side=rows["side"][0],
        rise_m=float(rows["rise_m"].sum()),
        altitude_m=float(rows["altitude_m"][0]),
        ends_deg=(
            first["latitude_deg"],
            first["longitude_deg"],
            last["latitude_deg"],
            last["longitude_deg"],
        ),
        distance_m=column("distance_m"),
        climbed_m=column("rise_m"),
        speed_mps=np.where(
            np.nan_to_num(column("stopped_s")) > 0, np.nan, column("start_speed_mps")
        ),
        full_load=np.where(np.isfinite(load), load >= FULL_LOAD_PERCENT, np.nan),
        gear=column("gear"),
        seconds=column("duration_s"),
        coolant_c=peak("coolant_temperature_c"),
        oil_c=peak("transmission_oil_temperature_c"),
    )


def _by_place(passes: Sequence[Pass]) -> list[list[Pass]]:
    """Drives over the same hill the same way: both ends near, and much the same rise."""
    groups: list[list[Pass]] = []
    for one in passes:
        group = next((group for group in groups if _same(group[0], one)), None)
        if group is None:
            groups.append([one])
        else:
            group.append(one)
    return groups


def _same(a: Pass, b: Pass) -> bool:
    if abs(b.rise_m / a.rise_m - 1) >= SAME_RISE:
        return False
    ends = ((*a.ends_deg[at : at + 2], *b.ends_deg[at : at + 2]) for at in (0, 2))
    return all(apart_m(*one) < SAME_PLACE_M for one in ends)
