"""Drives whose speeds are held exactly, as by a cruise control, with known truth.

    python tests/simulation/held_speeds.py [--seeds 60]

counts, for each kind of driver, unit and rounding, how often cut or rounded is told right, told
wrong and left open, and how often the odometer factor's interval holds the truth.

Written apart from the package, and from `speed_world`, whose drivers' feet wander. Here a trip is
a few speeds, each held to 2 cm/s for minutes, with even ramps between them, so that whole units
stand on a few values and the part of a unit that they hide is each held speed's own chance.
Common practice, no source: a cruise control holds a heavy vehicle on level road to a tenth of
a km/h. SAE J1979 parameter 0D reports whole km/h; that some recorders write whole mph, and that
some cut and some round, is common practice, no source.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl

UNITS = {"mph": 0.44704, "km/h": 1 / 3.6}
RATIOS = np.array([3.8, 2.3, 1.48, 1.0, 0.73])
UP_MPS = np.array([6.0, 10.0, 15.0, 20.5])  # the next gear from here on
AXLE = 4.1
LIMITS_KMH = np.array([50.0, 60.0, 70.0, 80.0, 90.0, 100.0])


@dataclass(frozen=True)
class Held:
    """A driver and a recorder.

    `habit`: "each" trip holds speeds of its own, drawn anew; "biased" trips hold the limits, all
    of a trip's off by the same percent or so; "set" trips all hold the very same speeds, by what
    the computer counts; "one" speed a trip. `cut` and `unit` are the recorder's, by period.
    """

    habit: str
    cut: tuple[bool, bool]
    unit: tuple[str, str]
    trips: int = 6
    minutes: float = 40.0
    step: float = 1.024  # circumference after over before


def speeds_to_hold(
    held: Held, rng: np.random.Generator, stays: int, chosen: np.ndarray
) -> np.ndarray:
    """True speeds (m/s) of the stretches of a trip."""
    if held.habit == "one":
        return np.full(stays, rng.uniform(75, 100)) / 3.6
    if held.habit == "each":
        return rng.uniform(45, 100, stays) / 3.6
    if held.habit == "set":
        return rng.choice(chosen, stays) / 3.6
    return rng.choice(LIMITS_KMH, stays) * (1 + rng.normal(0, 0.01)) / 3.6


def speed_of_trip(held: Held, rng: np.random.Generator, chosen: np.ndarray) -> np.ndarray:
    """True speed each second: standing, then speeds held, even ramps between, standing."""
    parts, total = [np.zeros(20)], 20
    now = 0.0
    stays = int(held.minutes)
    for target in (*speeds_to_hold(held, rng, stays, chosen), 0.0):
        pace = rng.uniform(0.25, 0.6)
        ramp = np.arange(now, target, pace if target > now else -pace)
        stay = np.full(int(rng.uniform(60, 300)), target)
        enough = total > 60 * held.minutes and target > 0
        if enough:
            continue
        if held.habit != "one" or now == 0.0 or target == 0.0:
            parts.append(ramp)
        parts.append(stay + (0.02 * np.sin(np.arange(len(stay)) / 7) if target > 0 else 0.0))
        total += len(ramp) + len(stay)
        now = float(target)
    return np.concatenate(parts)


def samples(
    held: Held, side: int, rng: np.random.Generator, speed: np.ndarray, metres: float,
    programmed_m: float, start: datetime,
) -> pl.DataFrame:  # fmt: skip
    n = len(speed)
    wheel = speed / metres
    gear = np.searchsorted(UP_MPS, speed)
    rpm = np.maximum(wheel * AXLE * RATIOS[gear] * 60, 650) + rng.normal(0, 4, n)
    whole = wheel * programmed_m / UNITS[held.unit[side]]
    whole = np.floor(whole) if held.cut[side] else np.floor(whole + 0.5)
    second = np.arange(n)
    doppler = np.interp(second - 0.8, second, speed) + rng.normal(0, 0.05, n)
    micros = ((start.timestamp() + second) * 1e6).astype(np.int64)
    return pl.DataFrame(
        {
            "time": pl.Series(micros).cast(pl.Datetime("us", "UTC")),
            "line": pl.Series(second + 2, dtype=pl.UInt32),
            "gps_speed_mps": np.maximum(doppler, 0.0),
            "indicated_speed_mps": whole * UNITS[held.unit[side]],
            "engine_speed_rpm": np.round(rpm),
        }
    )


def drives(held: Held, seed: int) -> tuple[list[tuple[str, str, pl.DataFrame]], dict[str, float]]:
    """(name, period, samples) of each trip, and each period's true factor."""
    rng = np.random.default_rng(seed)
    before = rng.uniform(2.6, 3.3)
    programmed = before * np.exp(rng.normal(0, 0.01))
    tire = {"before": before, "after": before * held.step}
    counted = rng.uniform(45, 100, 4)  # km/h that the computer counts
    made, start = [], datetime(2026, 4, 1, 14, 0, tzinfo=UTC)
    for side, name in enumerate(tire):
        for i in range(held.trips):
            metres = tire[name] * np.exp(rng.normal(0, 4e-4))
            speed = speed_of_trip(held, rng, counted * metres / programmed)
            frame = samples(held, side, rng, speed, metres, programmed, start)
            made.append((f"{name}-{i}", name, frame))
            start += timedelta(days=2)
    return made, {name: metres / programmed for name, metres in tire.items()}


def answer(held: Held, seed: int) -> list[tuple[str, bool, float]]:
    """By period: "right", "wrong" or "open"; whether the interval holds the truth; its error."""
    from gearing.analysis.speed import find_speed
    from gearing.analysis.trip_figures import trip_figures
    from gearing.study.model import Period, Study, Vehicle
    from gearing.trips.declared import Declared
    from gearing.trips.motion import make_trip
    from gearing.trips.record import record_of

    made, truth = drives(held, seed)
    study = Study(
        name="held",
        slug="held",
        path=Path("held.toml"),
        vehicle=Vehicle(speed_source="output shaft"),
        before=Period(side="before", drive_tire="245/70R19.5"),
        after=Period(side="after", drive_tire="265/70R19.5"),
    )
    records = [
        record_of(make_trip(frame, name=name, files=(name,)), Declared.of(study), side)  # type: ignore[arg-type]
        for name, side, frame in made
    ]
    figures = trip_figures(study, records)
    factor = find_speed(study, records, figures).odometer_factor
    found = []
    for index, side in enumerate(truth):
        rounding, estimate = figures.rounding.of(side), factor.of(side)
        assert estimate.value is not None
        assert estimate.low is not None
        assert estimate.high is not None
        right = "cut" if held.cut[index] else "rounded"
        told = "open" if not rounding.settled else "right" if rounding.kind == right else "wrong"
        holds = estimate.low <= truth[side] <= estimate.high
        found.append((told, holds, 100 * (estimate.value / truth[side] - 1)))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=60)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--habits", nargs="*", default=["each", "biased", "set", "one"])
    options = parser.parse_args()
    for habit in options.habits:
        for unit in UNITS:
            for cut in (True, False):
                held = Held(habit, (cut, cut), (unit, unit))
                seeds = range(options.first_seed, options.first_seed + options.seeds)
                rows = [row for seed in seeds for row in answer(held, seed)]
                told = Counter(row[0] for row in rows)
                holds = np.mean([row[1] for row in rows])
                largest = max(abs(row[2]) for row in rows)
                print(
                    f"{habit:7} {unit:5} {'cut' if cut else 'rounded':8}",
                    *(f"{word} {told[word]:4}" for word in ("right", "open", "wrong")),
                    f"holds {100 * holds:5.1f} %, largest error {largest:.2f} %",
                    flush=True,
                )


if __name__ == "__main__":
    main()
