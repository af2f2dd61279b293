"""Needle readings over invented instruments: `python tests/simulation/needle_study.py [STUDIES]`.

Written apart from the package's ranges: gain and offset come from what UN Regulation 39 and SAE
J2976 allow, readings are rounded as dials are marked, held a little unsteadily, and beside a
receiver's error; or noted by the minute alone, while the road slows and lets go.
"""

from __future__ import annotations

import sys

import numpy as np

from gearing.analysis.speed.needle_fit import Reading, fit_needle

MPH = 1.609344
SHOWN = (60.0, 80.0, 100.0)  # km/h, where the correction is asked for
# what a needle shows too much [km/h]. Half of them by UN R39, 5.3, between what is true and a tenth
# and 4 km/h more, of which makers leave the upper half: at 80; half by SAE J2976, 1 % less to 4 %
# more, at 45 mph
TOO_MUCH = ((80.0, 0.0, 6.0), (45 * MPH, -0.45 * MPH, 1.8 * MPH))
# what a dial can be read to: digits, or half a mark of 1, 2, 5 (UN R39, 5.2.1) and a fifth of 10,
# in km/h or mph
READ_TO = (0.5, 1.0, 2.0, 2.5, MPH, 2.5 * MPH)


def world(
    count: int, rng: np.random.Generator, *, by_minute: bool = False
) -> tuple[list[Reading], tuple[float, float, float]]:
    """Readings before and after, and the truth: both gains and the offset."""
    at, least, most = TOO_MUCH[rng.integers(len(TOO_MUCH))]
    too_much = rng.uniform(least, most)
    offset = rng.uniform(0.0, 1.0) * too_much  # as the rule has both
    gain = 1 + (too_much - offset) / at
    larger = np.exp(rng.normal(0.03, 0.025))
    gains = (gain, gain / larger)
    step, foot = rng.choice(READ_TO), rng.uniform(0.1, 0.6)
    readings = []
    for after in (False, True):
        for _ in range(count):
            true = rng.uniform(45, 105)
            steady = rng.normal(0, foot)  # the needle lags, the foot is no machine
            told, unsteady = true + rng.normal(0, 0.1), 0.0
            if by_minute:
                minute = true + _minute(rng)
                true = float(rng.choice(minute))
                told, unsteady = float(minute.mean() + rng.normal(0, 0.1)), float(minute.std())
            shown = gains[after] * true + offset + steady
            readings.append(Reading(after, told, float(np.round(shown / step) * step), unsteady))
    return readings, (*gains, offset)


def _minute(rng: np.random.Generator) -> np.ndarray:
    """Speed over a minute about its usual one [km/h]: a walk, and at times a bend or a hill."""
    walk = np.cumsum(rng.normal(0, rng.uniform(0.05, 0.4), 60))
    slows = rng.random() < 0.3
    dip = -slows * rng.uniform(2, 15) * np.exp(-(((np.arange(60) - rng.uniform(0, 60)) / 10) ** 2))
    return np.asarray(walk + dip)


def cell(
    count: int, studies: int, seed: int = 7000, *, by_minute: bool = False
) -> dict[str, float]:
    """Percent of intervals that hold the truth, and half-widths in percent."""
    held_true, held_ratio, half_true, half_ratio, per_study = [], [], [], [], []
    for i in range(studies):
        readings, (before, after, offset) = world(
            count, np.random.default_rng(seed + i), by_minute=by_minute
        )
        fit = fit_needle(readings)
        assert fit is not None
        inside = []
        for side, gain in (("before", before), ("after", after)):
            for shown in SHOWN:
                found, truth = fit.true(side, shown), (shown - offset) / gain
                assert found.low is not None
                assert found.high is not None
                inside.append(found.low <= truth <= found.high)
                half_true.append(50 * (found.high - found.low) / shown)
        held_true += inside
        per_study.append(all(inside))
        ratio = fit.relative()
        assert ratio.low is not None
        assert ratio.high is not None
        held_ratio.append(ratio.low <= before / after <= ratio.high)
        half_ratio.append(50 * (ratio.high - ratio.low))
    return {
        "true": 100 * float(np.mean(held_true)),
        "all six": 100 * float(np.mean(per_study)),
        "half": float(np.median(half_true)),
        "relative": 100 * float(np.mean(held_ratio)),
        "half relative": float(np.median(half_ratio)),
    }


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    print(
        f"readings a side: correction held, half-width; relative held, half-width [%] of {number}"
    )
    for readings_a_side in (1, 3, 8, 20):
        for by_minute in (False, True):
            got = cell(readings_a_side, number, by_minute=by_minute)
            how = "by the minute" if by_minute else "by the second"
            print(readings_a_side, how, {k: round(v, 2) for k, v in got.items()}, flush=True)
