"""Tank verdicts over invented notebooks: `python tests/simulation/tank_study.py [STUDIES]`.

Each cell is one kind of notebook; a line gives how many intervals hold the true change, how wide
they are, and how many verdicts are false: any of "supported", "less fuel" and "some saving" where
nothing or the opposite was saved, "worse" where nothing was lost, "smaller than claimed" where the
claim was met.
"""

from __future__ import annotations

import functools
import math
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl

sys.path.insert(0, str(Path(__file__).parent))
from tank_world import FIRST, Fills, Plan, make_fills, moment

from gearing.analysis.fuel.driving import driving_difference
from gearing.analysis.fuel.fillups import full_to_full
from gearing.analysis.fuel.periods import change_at
from gearing.analysis.fuel.steps import NEEDED
from gearing.analysis.fuel.tank_model import Climate, TankPosterior
from gearing.analysis.fuel.tanks import TankDistance, _temperatures, tank_answer
from gearing.analysis.fuel.verdict import judge
from gearing.analysis.sides import BySide
from gearing.statistics.estimate import Estimate
from gearing.study import load_study
from gearing.study.model import Study

CLAIM = -4.0
STEPS = 10  # a day's drive in so many
SIZES = {"before": 245, "after": 265}
COLDEST = FIRST.timestamp() + 16 * 86_400
MEASURED, BY_SIZE = 0.0005, 0.0125 * math.sqrt(2)

CELLS: dict[str, tuple[Plan, str]] = {}
for tanks, first, pause, name in (
    (8, 60, 0, "8 tanks, one after the other"),
    (8, 330, 120, "8 tanks, winter and summer"),
    (60, 0, 0, "60 tanks, seasons as they come"),
    (60, 300, 60, "60 tanks, from autumn on"),
):
    for filling in (0.005, 0.03):
        plan = Plan(tanks=(tanks, tanks), first_day=first, pause_days=pause, filling=filling)
        CELLS[f"{name}, fills off {100 * filling:g} %"] = (plan, "measured")
CELLS["60 tanks, by size, fills off 1 %"] = (Plan(tanks=(60, 60), first_day=0), "size")
CELLS["8 tanks, by size, fills off 1 %"] = (Plan(tanks=(8, 8), first_day=60), "size")
CELLS["60 tanks, weather file, fills off 1 %"] = (Plan(tanks=(60, 60), first_day=0), "weather")
CELLS["8 tanks, winter and summer, weather file, fills off 1 %"] = (
    Plan(tanks=(8, 8), first_day=330, pause_days=120),
    "weather",
)
for tanks, tracked, way in (
    (8, 0.3, "tracks"), (8, 1.0, "tracks"), (60, 0.3, "tracks"), (60, 1.0, "tracks"),
    (60, 1.0, "tracks and weather"),
):  # fmt: skip
    name = f"{tanks} tanks, {way}, {100 * tracked:g} % of the days logged"
    CELLS[name] = (Plan((tanks, tanks), 0 if tanks > 8 else 60, tracked=tracked), way)


def study(plan: Plan, way: str, seed: int) -> tuple[bool, float, float, str, bool]:
    """Whether the interval holds the truth, its half-width, the error, the verdict, if false."""
    rng = np.random.default_rng(seed)
    plan = replace(plan, change=float(rng.choice([0.0, -0.02, -0.04])))
    fills = make_fills(plan, rng)
    error = BY_SIZE if way == "size" else MEASURED
    told = math.log(fills.larger) + rng.normal(0, error)
    low, middle, high = (math.exp(told + z * error) for z in (-1.96, 0.0, 1.96))
    one = Estimate(1.0, 1.0, 1.0, 9, "x")
    distance = TankDistance(BySide(one, Estimate(middle, low, high, 9, "x")), "test")
    tanks = tanks_of(fills, distance)
    temperature = _temperatures(weather_of(fills), tanks.units()) if "weather" in way else None
    driving = driving_difference(_study(), steps_of(fills), tanks) if fills.tracks else None
    climate = Climate(COLDEST, temperature)
    found = tank_answer(tanks, distance, climate, target_percent=2.0, driving=driving)
    truth = 100 * math.expm1(plan.change)
    value, low, high = found.change.value, found.change.low, found.change.high
    assert value is not None
    assert low is not None
    assert high is not None
    verdict, _ = judge(
        found.change, claim_percent=CLAIM, margin_percent=1.0, fewest_days=found.fewest
    )
    return low <= truth <= high, (high - low) / 2, value - truth, verdict, false(verdict, truth)


def posterior_of(plan: Plan, seed: int) -> tuple[TankPosterior, float]:
    """What is found of one world, and how much its tank holds [l]."""
    fills = make_fills(plan, np.random.default_rng(seed))
    one = Estimate(1.0, 1.0, 1.0, 9, "x")
    distance = TankDistance(BySide(one, one), "test")
    found = tank_answer(tanks_of(fills, distance), distance, Climate(COLDEST), target_percent=2.0)
    assert found.posterior is not None
    return found.posterior, fills.capacity_l


def false(verdict: str, truth: float) -> bool:
    """Whether a verdict says what is not so, of a claim of 4 % less fuel."""
    if verdict in ("supported", "some saving, size unsettled", "less fuel"):
        return truth > -1.0
    if verdict == "worse":
        return truth <= 0
    if verdict == "smaller than claimed":
        return truth <= CLAIM
    return verdict == "no change" and abs(truth) > 1.0


def tanks_of(fills: Fills, distance: TankDistance):
    frame = pl.DataFrame(
        {
            "time": [moment(s) for s in fills.time_s],
            "indicated_distance_m": fills.odometer_m,
            "volume_l": fills.volume_l,
        }
    ).with_columns(full=pl.lit(True), missed=pl.lit(False), other_l=pl.lit(0.0))
    return full_to_full(frame, distance.odometer, change_at(moment(fills.changed_s)))


def steps_of(fills: Fills) -> pl.DataFrame:
    """Road steps of the days a phone logged, as a run would hand them on: level, no bus."""
    rows = []
    for number, track in enumerate(fills.tracks):
        each = track.distance_m / STEPS
        lasts = each / track.speed_mps
        rows += [
            {
                "trip": number,
                "step": step,
                "start_s": track.start_s + step * lasts,
                "duration_s": lasts,
                "distance_m": each,
                "speed_mps": track.speed_mps,
                "speed_squared_m2ps2": track.speed_mps**2,
                "start_speed_mps": track.speed_mps,
                "end_speed_mps": track.speed_mps,
                "side": "after" if track.on_new else "before",
                "local_day": moment(track.start_s).date(),
            }
            for step in range(STEPS)
        ]
    level = {"stopped_s": 0.0, "bridged_m": 0.0, "altitude_m": 300.0, "end_altitude_m": 300.0,
             "regeneration_s": 0.0, "steps_s": 1.0}  # fmt: skip
    frame = pl.DataFrame(rows).with_columns(pl.lit(value).alias(n) for n, value in level.items())
    lacking = [name for name in NEEDED if name not in frame.columns]
    return frame.with_columns(pl.lit(None, pl.Float64).alias(name) for name in lacking)


@functools.cache
def _study() -> Study:
    """A vehicle of which nothing but the two sizes is declared."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "study.toml"
        sizes = [f'[{side}]\ndrive_tire = "{w}/70R19.5"\n' for side, w in SIZES.items()]
        path.write_text('name = "notebook"\n' + "".join(sizes), encoding="utf-8")
        return load_study(path, logs_needed=False)


def weather_of(fills: Fills) -> pl.DataFrame:
    days = len(fills.daily_c)
    start = FIRST.timestamp() + 43_200
    return pl.DataFrame(
        {
            "time": [moment(start + 86_400 * d) for d in range(days)],
            "ambient_temperature_c": fills.daily_c,
        }
    )


def cell(name: str, studies: int, seed: int = 5000) -> dict[str, float]:
    plan, way = CELLS[name]
    rows = [study(plan, way, seed + i) for i in range(studies)]
    held, half, off, verdicts, wrong = zip(*rows, strict=True)
    return {
        "held": 100 * float(np.mean(held)),
        "half": float(np.median(half)),
        "bias": float(np.mean(off)),
        "told": 100 * float(np.mean([v != "cannot tell yet" for v in verdicts])),
        "false": 100 * float(np.mean(wrong)),
    }


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    words = sys.argv[2] if len(sys.argv) > 2 else ""
    print(f"{'':58} held  half-width  bias  told  false [%], of {number}")
    for name in (one for one in CELLS if words in one):
        got = cell(name, number)
        print(
            f"{name:58} {got['held']:5.1f} {got['half']:9.1f} {got['bias']:8.2f} "
            f"{got['told']:5.1f} {got['false']:5.2f}",
            flush=True,
        )
