"""A trip's motion as arrays, one entry a tick of an even clock where anything was measured."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.statistics.arrays import Array, Index

STOPPED_MPS = 0.3


@dataclass(frozen=True, slots=True)
class Ticks:
    """`time_us` (epoch) ascending; `interval_s` from tick to tick of the clock; `bridged` where
    the receiver was blind; `drawn` between measured speeds, true or indicated, several ticks
    apart; `values` by channel, NaN where one is missing."""

    time_us: Index
    interval_s: float
    bridged: NDArray[np.bool_]
    drawn: NDArray[np.bool_]
    values: dict[str, Array]

    def __len__(self) -> int:
        return len(self.time_us)

    def __contains__(self, name: str) -> bool:
        return name in self.values

    def __getitem__(self, name: str) -> Array:
        """A channel, NaN all along where it is missing altogether."""
        found = self.values.get(name)
        return np.full(len(self), np.nan) if found is None else found

    @property
    def time_s(self) -> Array:
        """Seconds since the epoch, shape (ticks,)."""
        return np.asarray(self.time_us / 1e6)

    def seconds(self, mask: NDArray[np.bool_], begins: Index) -> Array:
        """Of each run that begins at `begins`, how long `mask` held."""
        return np.asarray(counts(mask, begins) * self.interval_s, dtype=np.float64)

    def frame(self) -> pl.DataFrame:
        """The same as a frame: `time` (UTC), `dt_s`, `bridged` and the channels, null where
        missing."""
        return pl.DataFrame(
            {"time": self.time_us, **self.values, "bridged": self.bridged}, nan_to_null=True
        ).with_columns(
            pl.from_epoch("time", time_unit="us").dt.replace_time_zone("UTC"),
            dt_s=pl.lit(self.interval_s),
        )


def sums(values: Array, begins: Index) -> Array:
    """Sums of what is known of the runs that begin at `begins`, 0 where nothing is."""
    return np.asarray(np.add.reduceat(np.where(np.isnan(values), 0.0, values), begins))


def counts(mask: NDArray[np.bool_], begins: Index) -> Index:
    """How many of each run are true."""
    return np.asarray(np.add.reduceat(mask.astype(np.int64), begins))


def means(values: Array, begins: Index) -> Array:
    """Means of what is known of each run, NaN where nothing is."""
    known = ~np.isnan(values)
    if known.all():
        return np.asarray(np.add.reduceat(values, begins) / np.diff(begins, append=len(values)))
    with np.errstate(invalid="ignore", divide="ignore"):
        return sums(values, begins) / counts(known, begins)


def mean_of(values: Array) -> float | None:
    """Mean of what is known, None where nothing is."""
    known = values[~np.isnan(values)]
    return float(known.mean()) if len(known) else None
