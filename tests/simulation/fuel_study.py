"""How the fuel comparison behaves on invented studies of known truth.

    python tests/simulation/fuel_study.py --studies 500 --cell all --seed 20261

prints one line a cell: how often an A/A study is called changed (with the 99 % range a true 5 %
would give), mean error of the adjusted change with its standard error, how often its 95 %
interval holds the truth, and the median width of the adjusted interval against the naive one
(Welch's t on fuel per true distance and day), against the tool's own by true distance, which
allows for persistence as the adjusted one does, and, both by Welch's t, of days adjusted against
days as driven. Study number i of a cell has seed `--seed` + i; nothing else is random.
"""

from __future__ import annotations

import argparse
import math
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from fuel_world import Cell, World, make_world

from gearing.analysis.fuel import find_fuel
from gearing.analysis.sides import BySide
from gearing.statistics.comparison import percent, welch
from gearing.statistics.estimate import Estimate

CELLS = {
    cell.name: cell
    for cell in (
        Cell("aa-steady", changed=False, persistence=0.0),
        Cell("aa-persistent", changed=False, persistence=0.5),
        Cell("aa-apart", changed=False, seasons="apart"),
        Cell("shared-overlapping"),
        Cell("shared-overlapping-wind-file", weather=True),
        Cell("shared-overlapping-wind-file-quiet", weather=True, day_noise=0.01),
        Cell("shared-apart", seasons="apart"),
        Cell("one-way-apart", roads="one-way", seasons="apart"),
        Cell("one-way-apart-wind-file", roads="one-way", seasons="apart", weather=True),
        Cell("own-roads-apart", roads="own", seasons="apart"),
        Cell("shared-apart-drag-unknown", seasons="apart", drag_declared=False),
        Cell("few-days", days=6),
        Cell("three-days", days=3),
        Cell("aa-persistent-0.8", changed=False, persistence=0.8),
        Cell("persistence-drawn", persistence=None),
        Cell("persistence-0.8", persistence=0.8),
        Cell("aa-apart-no-temperature", changed=False, seasons="apart", sensor="none"),
        Cell("shared-apart-no-temperature", seasons="apart", sensor="none"),
        Cell("shared-overlapping-no-temperature", sensor="none"),
        Cell("aa-counter", changed=False, fuel="counter"),
        Cell("counter-short-trips", fuel="counter", road_km=8.0),
        Cell("rate-in-0.1", fuel="0.1"),
        Cell("rate-in-1", fuel="1"),
        Cell("aa-sensor-off", changed=False, weather=True, sensor="off"),
        Cell("aa-sensor-stuck", changed=False, weather=True, seasons="apart", sensor="stuck"),
        Cell("alike", seasons="same", follow_dash=False),
        Cell("quiet-days", day_noise=0.005, persistence=0.0),
        Cell("many-steps", days=120, road_km=125.0, changed=False),
    )
}
CHANGED = ("less fuel", "worse", "supported", "some saving, size unsettled")


@dataclass(frozen=True)
class Outcome:
    truth: float
    value: float
    low: float
    high: float
    naive_error: float
    naive_low: float
    naive_high: float
    tool_naive_width: float
    welch_width: float
    verdict: str
    matched: tuple[float, float, float] | None = None


def found_change(world: World, *, claim: bool = True) -> Outcome:
    """One study answered; the odometer factors are as good as the speed answer makes them."""
    from dataclasses import replace

    study = world.study if claim else replace(world.study, claim=None)
    odometer = BySide(*(Estimate(k, k * 0.999, k * 1.001, 14, "given") for k in world.odometer))
    found = find_fuel(
        study, world.trips, world.steps, odometer=odometer, fillups=None, weather=world.weather
    )
    adjusted, tool = found.change_percent.adjusted, found.change_percent.true_distance
    matched = found.change_percent.matched
    days = found.days
    logs = [
        np.log((d["liters"] / d["true_m"]).to_numpy())
        for d in (days.filter(days["side"] == side) for side in ("before", "after"))
    ]
    naive = welch(*logs)
    low, high = naive.interval()
    levels = [
        np.log1p(d["adjusted_percent"].drop_nulls().to_numpy() / 100)
        for d in (days.filter(days["side"] == side) for side in ("before", "after"))
    ]
    ends = welch(*levels).interval()
    assert adjusted.value is not None
    assert adjusted.low is not None
    assert adjusted.high is not None
    assert tool.low is not None
    assert tool.high is not None
    return Outcome(
        world.truth_percent,
        adjusted.value,
        adjusted.low,
        adjusted.high,
        percent(naive.value) - world.truth_percent,
        percent(low),
        percent(high),
        tool.high - tool.low,
        percent(ends[1]) - percent(ends[0]),
        found.verdict or "",
        (matched.value, matched.low, matched.high) if matched.known else None,
    )


def one(task: tuple[Cell, int]) -> Outcome:
    cell, seed = task
    return found_change(make_world(cell, seed), claim=cell.changed)


def binomial_range(n: int, p: float = 0.05) -> tuple[float, float]:
    from scipy.stats import binom

    return binom.ppf(0.005, n, p) / n, binom.ppf(0.995, n, p) / n


def line(cell: Cell, outcomes: list[Outcome]) -> str:
    n = len(outcomes)
    error = np.array([o.value - o.truth for o in outcomes])
    covered = np.mean([o.low <= o.truth <= o.high for o in outcomes])
    width = np.array([o.high - o.low for o in outcomes])
    naive = np.array([o.naive_high - o.naive_low for o in outcomes])
    tool = np.array([o.tool_naive_width for o in outcomes])
    by_welch = np.array([o.welch_width for o in outcomes])
    called = np.mean([o.verdict in CHANGED for o in outcomes])
    outside = np.mean([o.low > 0 or o.high < 0 for o in outcomes])
    naive_covered = np.mean([o.naive_low <= o.truth <= o.naive_high for o in outcomes])
    low, high = binomial_range(n)
    alarm = (
        f"{100 * called:5.1f} ({100 * outside:4.1f} exclude 0; 99 % range of 5 %: "
        f"{100 * low:.1f} to {100 * high:.1f})"
        if not cell.changed
        else "    -"
    )
    return (
        f"{cell.name:36s} {n:5d}  {error.mean():+5.2f} +- {error.std(ddof=1) / math.sqrt(n):4.2f}"
        f"  {100 * covered:5.1f}  {np.median(width) / 2:5.2f}"
        f"  {np.median(width / naive):5.2f}  {np.median(width / tool):5.2f}"
        f"  {np.median(by_welch / naive):5.2f}"
        f"  {np.mean([o.naive_error for o in outcomes]):+5.2f} {100 * naive_covered:5.1f}"
        f"  {100 * np.mean([o.verdict == 'cannot tell yet' for o in outcomes]):5.1f}"
        f"  {_matched(outcomes)}  {alarm}"
    )


def _matched(outcomes: list[Outcome]) -> str:
    """How often it answers, holds the truth of the tires alone, its median half-width."""
    known = [(o.matched, o.truth) for o in outcomes if o.matched is not None]
    if not known:
        return "    -                "
    holds = np.mean([low <= truth <= high for (_, low, high), truth in known])
    half = np.median([(high - low) / 2 for (_, low, high), _ in known])
    return f"{100 * len(known) / len(outcomes):5.1f} {100 * holds:5.1f} {half:5.2f}"


HEAD = (
    f"{'cell':36s} {'n':>5s}  {'mean error':>13s}  {'cover':>5s}  {'half':>5s}  {'/naive':>5s}"
    f"  {'/tool':>5s}  {'Welch':>5s}  {'naive: err, cover':>12s}  {'open':>5s}"
    f"  {'matched: %, cover, half':>18s}  A/A called changed, %"
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--studies", type=int, default=100)
    parser.add_argument("--cell", default="all", help=f"all or one of {', '.join(CELLS)}")
    parser.add_argument("--seed", type=int, default=20261)
    parser.add_argument("--jobs", type=int, default=1)
    given = parser.parse_args()
    cells = CELLS.values() if given.cell == "all" else [CELLS[c] for c in given.cell.split(",")]
    print(HEAD, flush=True)
    with ProcessPoolExecutor(given.jobs) as pool:
        for cell in cells:
            tasks = [(cell, given.seed + i) for i in range(given.studies)]
            print(line(cell, list(pool.map(one, tasks, chunksize=5))), flush=True)


if __name__ == "__main__":
    main()
