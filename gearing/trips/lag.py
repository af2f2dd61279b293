"""How far one record of a speed trails another, by cross-correlation.

What carries the information is the change of speed, so both records are differenced and
smoothed alike before they are correlated; the peak is placed between samples by a parabola.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearing.statistics.arrays import Array, Index

SMOOTHING_S = 2.0
# below this the two records do not show the same drive well enough to move one
MIN_CORRELATION = 0.5
MIN_SAMPLES = 60
FEW_SHIFTS = 100  # sooner tried one by one than all by Fourier's transform


@dataclass(frozen=True, slots=True)
class Lag:
    """Seconds by which the receiver trails the bus, and how alike the two then are (0 to 1)."""

    seconds: float
    correlation: float
    found: bool


def find_lag(gps_mps: Array, bus_mps: Array, interval_s: float, limit_s: float = 30.0) -> Lag:
    """The lag of `gps_mps` behind `bus_mps`, both on one even clock, NaN where unknown.

    An event at bus time t shows in the receiver's record at t + lag. Searched within
    +-`limit_s`. Not found (0 s) where the drive has too few changes of speed in common.
    """
    gps, bus = _events(gps_mps, interval_s), _events(bus_mps, interval_s)
    if min(np.count_nonzero(gps), np.count_nonzero(bus)) < MIN_SAMPLES:
        return Lag(0.0, 0.0, False)
    scale = np.sqrt(np.sum(gps**2) * np.sum(bus**2))
    reach = min(int(np.ceil(limit_s / interval_s)), len(gps) - 2)
    shifts = np.arange(-reach, reach + 1)
    product = _products(gps, bus, shifts) / scale
    best = int(np.argmax(product))
    height = float(product[best])
    if height < MIN_CORRELATION or best in (0, len(shifts) - 1):
        return Lag(0.0, max(height, 0.0), False)
    left, right = float(product[best - 1]), float(product[best + 1])
    between = 0.5 * (left - right) / (left - 2 * height + right)
    return Lag(float((shifts[best] + between) * interval_s), height, True)


def _products(first: Array, second: Array, shifts: Index) -> Array:
    """Sums of products of the first moved back by each shift with the second; both as long."""
    if len(shifts) < FEW_SHIFTS:
        length = len(first)
        return np.array([
            first[max(k, 0) : length + min(k, 0)] @ second[max(-k, 0) : length - max(k, 0)]
            for k in shifts.tolist()
        ])  # fmt: skip
    size = 1 << int(np.ceil(np.log2(2 * len(first))))
    spectrum = np.fft.rfft(first, size) * np.conj(np.fft.rfft(second, size))
    return np.asarray(np.fft.irfft(spectrum, size)[shifts])


def _events(speed_mps: Array, interval_s: float) -> Array:
    """Smoothed change of speed, zero where it is not known."""
    change = np.diff(speed_mps, prepend=np.nan)
    change = np.where(np.isfinite(change), change, 0.0)
    # one wild step must not decide: no road vehicle changes speed faster than this
    change = np.clip(change, -8 * interval_s, 8 * interval_s)
    width = max(SMOOTHING_S / interval_s, 0.8)
    reach = int(np.ceil(3 * width))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / width) ** 2)
    return np.convolve(change, kernel / kernel.sum(), mode="same")
