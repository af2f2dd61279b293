"""The fill-up log: every drive between two visits to the pump, logged or not."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from .chance import stream

GALLON_L = 3.785411784
MILE_M = 1609.344
ODOMETER_MI = 84213.0
FIRST, LAST = date(2026, 2, 9), date(2026, 4, 24)
# drove home without the recorder
WITHOUT_RECORDER = (date(2026, 2, 26), date(2026, 3, 4), date(2026, 4, 15))
CHANGED = date(2026, 3, 12)  # new tires fitted that afternoon, tank filled first
PARTIAL, LOST_SLIP = 4, 11  # which visit to the pump


@dataclass(frozen=True)
class Day:
    """What was logged on a day: true distance [m], what the dash counted [m], fuel [L]."""

    true_m: float
    indicated_m: float
    liters: float


def fillup_rows(
    logged: dict[date, Day], factor: dict[str, float], liters_per_km: dict[str, float]
) -> tuple[list[dict[str, str]], dict[str, float]]:
    """Rows of the log, and the true fuel and distance of each period.

    `factor`: true over indicated of each period. `liters_per_km`: what a true kilometre takes
    on the drives nobody logged.
    """
    rng = stream("fillups")
    odometer, tank, heater = ODOMETER_MI * MILE_M, 0.0, 0.0
    rows: list[dict[str, str]] = []
    totals = {f"{side}_{what}": 0.0 for side in ("before", "after") for what in ("km", "liters")}
    price, unsaid, visits = 3.92, False, 0
    for day in (FIRST + timedelta(days=i) for i in range((LAST - FIRST).days + 1)):
        side = "before" if day <= CHANGED else "after"
        if day.weekday() < 5:
            log = logged.get(day, Day(0.0, 0.0, 0.0))
            other_m, other_l, burned = _unlogged(rng, day, liters_per_km[side])
            odometer += log.indicated_m + other_m / factor[side]
            tank += log.liters + other_l + burned
            heater += burned
            totals[f"{side}_km"] += (log.true_m + other_m) / 1000
            totals[f"{side}_liters"] += log.liters + other_l
        if tank <= 72 and day != CHANGED:
            continue
        visits += 1
        partial, lost = visits == PARTIAL, visits == LOST_SLIP
        volume = tank * 0.55 if partial else tank + rng.normal(0, 0.8)
        volume *= rng.normal(1, 0.002)
        price += rng.normal(0, 0.03)
        if not lost:
            rows.append(_row(day, odometer, volume, heater, price, full=not partial, missed=unsaid))
        unsaid = lost
        tank, heater = tank - volume, 0.0
    return rows, totals


def _unlogged(
    rng: np.random.Generator, day: date, liters_per_km: float
) -> tuple[float, float, float]:
    """Distance [m] and fuel [L] of the day's other driving, and what the heater burned [L]."""
    metres = rng.uniform(16, 48) * 1000 + (46_000 if day in WITHOUT_RECORDER else 0)
    liters = metres / 1000 * liters_per_km * rng.lognormal(0, 0.03)
    spring = max(0.0, (day - FIRST).days - 10) / 60
    burned = float(rng.uniform(0.5, 1.4)) * max(0.1, 1 - spring) if spring < 0.9 else 0.0
    return metres, liters, burned


def _row(
    day: date,
    odometer_m: float,
    volume_l: float,
    heater_l: float,
    price: float,
    *,
    full: bool,
    missed: bool,
) -> dict[str, str]:
    return {
        "date": day.isoformat(),
        "odometer (mi)": f"{odometer_m / MILE_M:.0f}",
        "volume (gal)": f"{volume_l / GALLON_L:.2f}",
        "full": "yes" if full else "no",
        "missed": "yes" if missed else "no",
        "price (USD/gal)": f"{price:.3f}",
        "other use (gal)": f"{heater_l / GALLON_L:.2f}",
    }
