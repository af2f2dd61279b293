"""Grade of the road from altitude against distance.

Raw receiver altitude makes false grades without limit, so it is laid against distance, not
time, and averaged over 100 m to either side twice, much as the procedure of Regulation (EU)
2017/1151, Annex IIIA, Appendix 10 does over 200 m (from memory).
"""

from __future__ import annotations

import numpy as np

from gearing.statistics.arrays import Array, Mask

SPACING_M = 20.0
REACH_M = 100.0
STEEPEST = 0.25
FAR_M = 1000.0


def smooth_altitude(distance_m: Array, altitude_m: Array) -> tuple[Array, Array]:
    """Altitude and grade (rise over horizontal run) at each row; NaN where there is none, and over
    1 km from any.

    Parameters
    ----------
    distance_m
        distance driven up to each row, never falling, shape (n,).
    altitude_m
        as recorded, NaN where missing, shape (n,).
    """
    known = np.isfinite(altitude_m)
    length = float(distance_m[-1] - distance_m[0]) if len(distance_m) else 0.0
    if np.count_nonzero(known) < 5 or length < 2 * SPACING_M:
        return altitude_m, np.full(len(altitude_m), np.nan)
    along = distance_m - distance_m[0]
    cells = int(length / SPACING_M) + 2
    nearest = np.rint(along[known] / SPACING_M).astype(np.int64)
    count = np.bincount(nearest, minlength=cells)
    total = np.bincount(nearest, weights=altitude_m[known], minlength=cells)
    places = np.arange(cells, dtype=np.float64) * SPACING_M
    filled = count > 0
    profile = np.interp(places, places[filled], total[filled] / count[filled])
    reach = min(int(REACH_M / SPACING_M), cells // 2)
    for _ in range(2):
        profile = _moving_mean(profile, reach)
    slope = np.clip(np.gradient(profile, SPACING_M), -STEEPEST, STEEPEST)
    far = _far_from_known(places, places[filled])
    grade = np.interp(along, places, np.where(far, np.nan, slope))
    return np.interp(along, places, np.where(far, np.nan, profile)), grade


def _moving_mean(values: Array, reach: int) -> Array:
    """Mean over +-`reach` cells; at the ends the line through the last cells is drawn on."""
    if reach == 0:
        return values
    padded = np.concatenate((
        2 * values[0] - values[reach:0:-1],
        values,
        2 * values[-1] - values[-2 : -reach - 2 : -1],
    ))  # fmt: skip
    total = np.concatenate(([0.0], np.cumsum(padded)))
    width = 2 * reach + 1
    return (total[width:] - total[:-width]) / width


def _far_from_known(places: Array, known: Array) -> Mask:
    """Places more than `FAR_M` from any measured altitude."""
    ends = max(known[0] - places[0], places[-1] - known[-1])
    if ends <= FAR_M and np.diff(known, prepend=known[0]).max() <= 2 * FAR_M:
        return np.zeros(len(places), np.bool_)
    right = np.searchsorted(known, places)
    gap = np.minimum(
        np.abs(places - known[np.minimum(right, len(known) - 1)]),
        np.abs(places - known[np.maximum(right - 1, 0)]),
    )
    return np.asarray(gap > FAR_M)
