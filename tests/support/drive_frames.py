"""Small drives of exactly known course for the tests of motion."""

from __future__ import annotations

import numpy as np
import polars as pl

from gearing.logs.model import Dialect, Reading

EPOCH_S = 1_770_000_000


def speeds(seconds: int = 1800) -> np.ndarray:
    """Metres a second, second by second: standing, town, standing, open road, standing."""
    t = np.arange(seconds, dtype=float)
    speed = 18 + 6 * np.sin(t / 140) + 2 * np.sin(t / 23)
    for stand in (0, seconds // 2, seconds - 40):
        speed *= 1 - np.exp(-np.clip(np.abs(t - stand - 20) - 20, 0, None) / 8)
    return np.where(speed < 0.3, 0.0, speed)


def at_times(time_s: np.ndarray, **channels: np.ndarray) -> pl.DataFrame:
    """Samples with these channels at these seconds from `EPOCH_S`."""
    micros = np.rint((EPOCH_S + time_s) * 1e6).astype(np.int64)
    return pl.DataFrame(
        {
            "time": pl.Series(micros).cast(pl.Datetime("us", "UTC")),
            "line": pl.Series(np.arange(2, len(time_s) + 2), dtype=pl.UInt32),
            **channels,
        },
        nan_to_null=True,
    )


def positions(speed: np.ndarray, course_deg: float = 30.0) -> dict[str, np.ndarray]:
    """A straight road on the ellipsoid, one position a second."""
    from pyproj import Geod

    way = np.concatenate(([0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]))))
    n = len(way)
    longitude, latitude, _ = Geod(ellps="WGS84").fwd(
        np.full(n, -105.0), np.full(n, 40.0), np.full(n, course_deg), way
    )
    return {"latitude_deg": np.asarray(latitude), "longitude_deg": np.asarray(longitude)}


def reading(samples: pl.DataFrame, file: str = "a.csv") -> Reading:
    return Reading(
        file=file,
        samples=samples,
        rows_read=samples.height,
        rows_used=samples.height,
        set_aside_rows=(),
        set_aside_values=(),
        repairs=(),
        questions=(),
        columns=(),
        dialect=Dialect(kind="table"),
    )
