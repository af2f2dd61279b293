"""Fill-up logs as people write them: exhaust fluid among the fuel, typed twice, one stop in
parts, trip miles, slipped digits."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl

from gearing.logs.assign import Candidate
from gearing.logs.channels import read_numbers
from gearing.logs.column_rule import ColumnRule
from gearing.logs.companions import Companion, Kind, RowsRead, companion_of, read_rows
from gearing.logs.kinds import FILLUP_LOG
from gearing.logs.ledger import Ledger
from gearing.logs.table import Table
from gearing.logs.values import Numbers, to_numbers
from gearing.messages import UserText, message

Floats = npt.NDArray[np.float64]

# what stands under a heading "partial": there "full" is a no
_PARTIAL = {"partial": "yes", "teil": "yes", "partiel": "yes", "full": "no", "voll": "no"}
MAX_OUT_OF_STEP = 0.25  # of the odometer's readings; more is another odometer
MIN_STEPS = 3  # to know how far a tank usually goes
MAX_STEPS = 20.0  # times the usual, and no tank goes so far

THRIFTIEST_L_PER_M = 2e-5  # 2 L/100 km: no heavy vehicle, so what seems to take less is no trip
ONE_STOP = timedelta(hours=12)
_EXHAUST_FLUID = r"(?i)^(def|(diesel )?exhaust fluid|urea|aus ?32|harnstoff|urée|uree)$"
# kinds of fuel as people name them, the first that fits; those after the first burn in one engine
_FUELS = {
    "diesel": r"diesel|ga[sz]-?oil|gazole|gas[oó]leo|hvo|b7|b20",
    "gas": r"lpg|gpl|glp|autogas|propane?|cng|gnv|erdgas",
    "ethanol": r"e85",
    "gasoline": r"gasoline|petrol|unleaded|benzin|essence|gasolina|super|regular|premium|e5|e10",
}
# what may stand beside such a name; any other word makes it a station's, or a note
_BESIDE = r"#?\d+|no|winter|summer|plus|bio|ultra|low|sulfur|octane|mid|grade"
_KIND_ALONE = rf"^(?:(?:{'|'.join(_FUELS.values())}|{_BESIDE})[\s./-]*)+$"
MIN_NAMED = 0.9  # of a column's cells, that it is the kind of fuel
_ONE_FILL = ("time", "indicated_distance_m", "volume_l")


def _numbers(c: Candidate, name: str, table: Table) -> Numbers:
    cells = table.frame[c.column]
    if name == "partial":
        cells = cells.str.strip_chars().str.to_lowercase().replace(_PARTIAL)
    return read_numbers(name, cells, None, table.decimal)


def _with_numbers(columns: list[Candidate], table: Table) -> tuple[list[Candidate], Table]:
    """Without columns of words that are headed like a quantity: "Fuel" over kinds of fuel."""

    def is_words(c: Candidate) -> bool:
        cells = table.frame[c.column]
        return to_numbers(cells, table.decimal).values.null_count() == len(cells)

    kept = [c for c in columns if c.rule or c.target not in _KIND.must or not is_words(c)]
    return kept, table


def _fuel_only(frame: pl.DataFrame, table: Table, ledger: Ledger) -> pl.DataFrame:
    """Fill-ups without the rows that say in any cell that they are of exhaust fluid, or of another
    fuel than most are."""
    cells = table.frame.select(pl.col(pl.String).str.strip_chars().str.contains(_EXHAUST_FLUID))
    of_fluid = cells.select(pl.any_horizontal(pl.all().fill_null(False))).to_series()
    if cells.width and of_fluid.any():
        fluid = pl.col("line").is_in(table.lines[of_fluid.to_numpy()].tolist())
        frame = ledger.without(frame, fluid, message("other-fluid"))
    return _one_fuel(frame, table, ledger)


def _one_fuel(frame: pl.DataFrame, table: Table, ledger: Ledger) -> pl.DataFrame:
    """Fill-ups of the fuel that most are of. What else burns in the same engine drove it a part of
    the way: the fill behind such a one opens a new stretch."""
    kinds = [
        kind
        for name in table.frame.select(pl.col(pl.String)).columns
        if (kind := _kinds_of_fuel(table.frame[name])) is not None
    ]
    if not kinds or kinds[0].n_unique() < 2:
        return frame
    named = pl.DataFrame({"line": pl.Series(table.lines, dtype=pl.UInt32), "kind": kinds[0]})
    frame = frame.join(named, on="line", how="left").sort("time", "indicated_distance_m")
    usual = str(frame["kind"].drop_nulls().mode().sort().first())
    other = (pl.col("kind") != usual).fill_null(False)
    burnt = other & (pl.col("kind") != "diesel") & pl.lit(usual != "diesel")
    frame = frame.with_columns(stop=pl.col("indicated_distance_m").rle_id(), burnt=burnt)
    stops = frame.group_by("stop").agg(behind=pl.col("burnt").any())
    behind = stops.with_columns(pl.col("stop") + 1)
    missed = pl.when(pl.col("behind")).then(1.0).otherwise("missed")
    frame = frame.join(behind, on="stop", how="left", maintain_order="left")
    frame = frame.with_columns(missed=missed).drop("stop", "burnt", "behind")
    told = message("other-fuel", usual=UserText(usual))
    return ledger.without(frame, other, told).drop("kind")


def _kinds_of_fuel(cells: pl.Series) -> pl.Series | None:
    """Which of `_FUELS` each cell names; None where the column is of something else."""
    text = cells.str.strip_chars().str.to_lowercase()
    text = text.set(~text.str.contains(_KIND_ALONE), None)
    kinds = pl.select(
        pl.coalesce(
            pl.when(text.str.contains(rf"(^|[\s#])({words})($|[\s#])")).then(pl.lit(kind))
            for kind, words in _FUELS.items()
        )
    ).to_series()
    filled = cells.len() - cells.null_count()
    return kinds if filled and kinds.count() >= MIN_NAMED * filled else None


def _once(frame: pl.DataFrame, ledger: Ledger) -> pl.DataFrame:
    """Fill-ups without those typed twice."""
    whole = pl.all_horizontal(pl.col(_ONE_FILL).is_not_null())
    twice = whole & ~pl.struct(_ONE_FILL).is_first_distinct()
    return ledger.without(frame, twice, message("repeated-row"))


def _as_odometer(frame: pl.DataFrame, ledger: Ledger) -> pl.DataFrame:
    """Readings that fall, and go with the volume better than their differences do, are a trip
    meter's, set back at each fill-up: they are summed up. Ascending time."""
    way, volume = pl.col("indicated_distance_m"), pl.col("volume_l")
    frame = frame.sort("time", "indicated_distance_m", maintain_order=True)
    known = frame.drop_nulls("indicated_distance_m").with_columns(step=way.diff())
    by_reading, by_step = (
        known.filter(pl.col(name) > 0, volume > 0).select(volume / pl.col(name))["volume_l"]
        for name in ("indicated_distance_m", "step")
    )
    falls = (known["step"] < 0).any()
    usual = by_reading.median()
    if not falls or not isinstance(usual, float) or usual < THRIFTIEST_L_PER_M:
        return frame
    if len(by_step) and _spread(by_step.to_numpy()) <= _spread(by_reading.to_numpy()):
        return frame
    ledger.repair(message("trip-meter"), known.height)
    unknown = pl.when(way.is_null()).then(1.0)
    return frame.with_columns(
        way.fill_null(0.0).cum_sum(), missed=pl.max_horizontal("missed", unknown)
    )


def _in_stops(frame: pl.DataFrame) -> pl.DataFrame:
    """Rows of one stop (a pump that cut off, two tanks) as one fill-up in parts: full with the
    last of them, missed with the first. Ascending time."""
    odometer, time = pl.col("indicated_distance_m"), pl.col("time")
    again = ((odometer.diff() == 0) & (time.diff() < ONE_STOP)).fill_null(False)
    frame = frame.with_columns(again=again, stop=(~again).cum_sum())
    last = ~pl.col("again").shift(-1, fill_value=False)
    return frame.with_columns(
        full=pl.col("full").any().over("stop") & last,
        missed=pl.col("missed").any().over("stop") & ~pl.col("again"),
    ).drop("again", "stop")


def _spread(rates: Floats) -> float:
    """Middle half of the values, in logarithms."""
    low, high = np.quantile(np.log(rates), [0.25, 0.75])
    return float(high - low)


_KIND = Kind(
    what=FILLUP_LOG,
    names=("indicated_distance_m", "volume_l", "full", "partial", "missed", "price", "other_l"),
    must=("volume_l", "indicated_distance_m"),
    means={"distance_m": "indicated_distance_m"},
    units={"indicated_distance_m": ("mi", "km")},
    numbers=_numbers,
    choose=_with_numbers,
    finish=_fuel_only,
)


def read_fillups(path: Path, time_zone: str, rules: tuple[ColumnRule, ...] = ()) -> Companion:
    """Fill-ups: `time` (UTC), `indicated_distance_m` (odometer as shown), `volume_l`, `full`,
    `missed` (Boolean), `price`, `other_l`; ascending time, on one day ascending distance.

    Without a column of its own every fill-up counts as full and none as missed. Where full ones
    are ticked, those left blank were not; a word that cannot be read is no tick. A fill-up
    without its volume or its date is missed by the next. Rows of one stop are one fill-up in parts,
    and a trip meter set back at each fill-up is summed up to an odometer.
    """
    read = read_rows(path, time_zone, rules, _KIND)
    if isinstance(read, Companion):
        return read
    ticked = (pl.col("full") > 0.5).any().fill_null(False)
    lost = pl.col("volume_l").is_null() | (pl.col("volume_l") <= 0)
    part = pl.col("partial").fill_null(0.0) > 0.5
    rows = _once(read.frame, read.ledger)
    frame = (
        _in_step(_as_odometer(rows, read.ledger), read)
        .sort("time", "indicated_distance_m", maintain_order=True)
        .with_columns(
            lost_before=lost.cum_sum(),
            full=pl.coalesce(pl.col("full") > 0.5, ~ticked) & ~part,
            missed=(pl.col("missed").fill_null(0.0) > 0.5)
            | (pl.col("undated").diff() != 0).fill_null(False),
        )
        .drop("partial", "shown", "undated")
        .pipe(_in_stops)
    )
    frame = read.ledger.without(frame, lost)
    since = pl.col("lost_before") > pl.col("lost_before").shift(1, fill_value=0)
    frame = frame.with_columns(missed=pl.col("missed") | since).drop("lost_before", "line")
    return replace(companion_of(frame, read.ledger), written=read.written)


def _in_step(frame: pl.DataFrame, read: RowsRead) -> pl.DataFrame:
    """Fill-ups without the odometer readings that do not fit between those before and behind:
    a digit slipped. What was filled stays, and counts to the next reading."""
    ordered = frame.drop_nulls("indicated_distance_m").sort("time", "indicated_distance_m")
    counted = ordered["indicated_distance_m"].to_numpy()
    off = out_of_step(counted)
    if anew := int((np.diff(counted[~off]) < 0).sum()):
        heading = read.columns["indicated_distance_m"].heading
        read.ledger.repair(message("odometer-anew"), anew, heading)
    if not off.any():
        return frame
    lines = ordered["line"].filter(pl.Series(off))
    odometer = read.columns["indicated_distance_m"]
    shown_in = dict(frame.select("line", "shown").iter_rows())
    for line in lines:
        shown = str(shown_in[line])
        told = message("odometer-out-of-step", shown=UserText(shown, "value"))
        read.ledger.set_aside_values(told, odometer.heading, np.array([line]), shown)
    kept = pl.when(~pl.col("line").is_in(lines.implode())).then("indicated_distance_m")
    return frame.with_columns(kept.alias("indicated_distance_m"))


def out_of_step(counted: Floats) -> npt.NDArray[np.bool_]:
    """Which readings of a counter that only rises do not fit with the others.

    The fewest that, left out, let the rest rise, and any that would be a stretch `MAX_STEPS`
    times the usual. Where more than `MAX_OUT_OF_STEP` of them do not fit, or some one behind the
    other rise by steps as usual, it is no slip but another counter, and none of those is named.
    """
    n = len(counted)
    best, before = np.ones(n, np.int64), np.full(n, -1)
    for i in range(n):
        fits = np.flatnonzero(counted[:i] <= counted[i])
        if len(fits):
            before[i] = fits[np.argmax(best[fits])]
            best[i] = best[before[i]] + 1
    kept: list[int] = []
    at = int(np.argmax(best)) if n else -1
    while at >= 0:
        kept.append(at)
        at = int(before[at])
    kept.reverse()
    steps = np.diff(counted[kept])
    usual = float(np.median(steps[steps > 0])) if (steps > 0).any() else np.inf
    # of the first and the last one, no other shows by falling that it is too low or too high
    if len(steps) >= MIN_STEPS:
        first, last = (int(step > MAX_STEPS * usual) for step in (steps[0], steps[-1]))
        kept = kept[first : len(kept) - last]
    off = np.ones(n, np.bool_)
    off[kept] = False
    edges = np.flatnonzero(np.diff(np.concatenate([[0], off.view(np.int8), [0]])))
    for begin, end in edges.reshape(-1, 2):
        own = np.diff(counted[begin:end])
        if len(own) >= MIN_STEPS - 1 and (own > 0).all() and own.max() <= MAX_STEPS * usual:
            off[begin:end] = False
    return off if off.sum() <= MAX_OUT_OF_STEP * n else np.zeros(n, np.bool_)
