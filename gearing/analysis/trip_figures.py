"""Per trip: its odometer factor and what its engine turns say of the gearing.

    trip_figures(study, records) -> TripFigures

is made once from all records; `find_speed` and `find_final_drive` answer from it. Trips whose
figures belong to the other period, or to none, are named and kept out of what is pooled; they
are never moved.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.analysis.identification import Identification, identify
from gearing.analysis.identification.quantization import NONE, Rounding, Roundings, quantizations
from gearing.analysis.outliers import Verdicts, judge_trips
from gearing.analysis.sides import SIDES, BySide, by_side
from gearing.messages import StudyWarning
from gearing.study.model import Study
from gearing.trips.record import TripRecord
from gearing.trips.shifts import Upshifts, together
from gearing.trips.steps import SCHEMA as SCHEMA_OF_STEPS
from gearing.units import KMH_MPS

# the best a trip's factor is trusted to: a receiver's speed over a whole trip
FACTOR_FLOOR = 1.5e-4
SHORT_FLOOR = 1.5e-3
MIN_FACTOR_M = 1_500.0
MIN_BLOCKS = 3
MIN_COUNTED_STEPS = 20
LARGEST_BLIND = 0.05

SCHEMA: dict[str, pl.DataType | type[pl.DataType]] = {
    "trip": pl.String,
    "side": pl.String,
    "start": pl.Datetime("us", "UTC"),
    "end": pl.Datetime("us", "UTC"),
    "local_day": pl.Date,
    "duration_s": pl.Float64,
    "moving_s": pl.Float64,
    "stopped_s": pl.Float64,
    "true_m": pl.Float64,
    "way_error": pl.Float64,
    "turns_coarse": pl.Float64,
    "fuel_coarse": pl.Float64,
    "indicated_m": pl.Float64,
    "liters": pl.Float64,
    "idle_liters": pl.Float64,
    "odometer_factor": pl.Float64,
    "odometer_factor_se": pl.Float64,
    "odometer_factor_cut": pl.Float64,
    "odometer_factor_rounded": pl.Float64,
    "final_drive": pl.Float64,
    "final_drive_se": pl.Float64,
    "log_axle_turns": pl.Float64,
    "log_axle_turns_se": pl.Float64,
    "interval_s": pl.Float64,
    "steps_s": pl.Float64,
    "lag_s": pl.Float64,
    "ambient_temperature_c": pl.Float64,
    "bridged_m": pl.Float64,
    "measured_by_receiver": pl.Boolean,
    "flags": pl.List(pl.String),
    "used": pl.Boolean,
    "factor_used": pl.Boolean,
    "final_drive_used": pl.Boolean,
}


@dataclass(frozen=True, slots=True)
class TripFigures:
    """`trips`: one row a trip in order of start, columns of `SCHEMA`.

    `odometer_factor` has the rounding undone; `_cut` and `_rounded` are what it would be either
    way; `_se` is relative. `final_drive` is the declared axle ratio as this trip's engine felt
    it, or engine turns a metre in the highest gear where no ratio is declared; `log_axle_turns`
    is the log it comes from, `log_axle_turns_se` its error. `way_error` is the relative error of
    true distance that all trips told by positions far apart share. `used` false: kept out of every
    pooled figure; `factor_used` and `final_drive_used` of that one alone.
    """

    trips: pl.DataFrame
    rounding: Roundings
    identification: Identification
    verdicts: Verdicts
    histograms: dict[str, pl.DataFrame]
    driven: BySide[pl.DataFrame]
    upshifts: Upshifts
    warnings: tuple[StudyWarning, ...]


def trip_figures(study: Study, records: Sequence[TripRecord]) -> TripFigures:
    """Figures of all trips, and which are fit to be pooled."""
    ordered = sorted(records, key=lambda r: (r.start, r.name))
    rounding = quantizations(ordered, study.vehicle.speed_source)
    factors = {r.name: raw_factor(r, rounding.quantization_offset_mps(r.name)) for r in ordered}
    known = {name: float(np.log(one[0])) for name, one in factors.items() if one is not None}
    found = identify(study, ordered, known, rounding.contrast_error)
    rows = [
        _row(record, rounding.trips.get(record.name, NONE), factors[record.name], found)
        for record in ordered
    ]
    table = pl.DataFrame(rows, schema=SCHEMA, orient="row")
    verdicts = judge_trips(table)
    table = _without_receiver(table, verdicts)
    trips = _with_verdicts(table, verdicts, found, study)
    return TripFigures(
        trips,
        rounding,
        found,
        verdicts,
        _histograms(ordered),
        by_side(
            lambda side: driven_speeds([r for r in ordered if r.side == side], verdicts.out, found)
        ),
        together(record.upshifts for record in ordered),
        verdicts.warnings,
    )


def _histograms(records: list[TripRecord]) -> dict[str, pl.DataFrame]:
    """Engine turns a metre by trip, for the share of each gear."""
    return {record.name: record.gear_clusters.histogram for record in records}


def driven_speeds(
    records: Sequence[TripRecord], out: frozenset[str], identification: Identification
) -> pl.DataFrame:
    """Seconds by true speed (`kmh`, whole) and `gear` (null where unknown) over the road steps,
    and `turns`: engine turns in them (rpm x s), null without engine speed."""
    needed = ("speed_mps", "gear", "duration_s", "stopped_s", "engine_speed_rpm")
    parts = [
        record.steps.select(needed).with_columns(_gear_of(record, identification))
        for record in records
        if record.name not in out
    ]
    seconds = pl.col("duration_s") - pl.col("stopped_s")
    turns = pl.col("engine_speed_rpm").cast(pl.Float64) * seconds
    return (
        # one chunk, one order of sums, however many threads filtered
        pl.concat([pl.DataFrame(schema=SCHEMA_OF_STEPS).select(needed), *parts])
        .drop_nulls("speed_mps")
        .rechunk()
        .lazy()
        .group_by(
            (pl.col("speed_mps") / KMH_MPS).round().cast(pl.Int32).alias("kmh"),
            pl.col("gear").cast(pl.Int32),
            maintain_order=True,
        )
        .agg(
            seconds.sum().alias("seconds"),
            pl.when(pl.col("engine_speed_rpm").count() > 0).then(turns.sum()).alias("turns"),
        )
        .sort("kmh", "gear")
        .collect()
    )


def raw_factor(record: TripRecord, quantization_offset_mps: float) -> tuple[float, float] | None:
    """True over indicated distance, speed's offset undone, and its relative standard error."""
    blocks = record.blocks
    if not record.has_receiver:
        return None
    if blocks.height == 0:
        return _counted_factor(record)
    true = blocks["true_m"].to_numpy()
    indicated = (
        blocks["indicated_m"].to_numpy() + quantization_offset_mps * blocks["weight"].to_numpy()
    )
    if true.sum() < MIN_FACTOR_M:
        return None
    factor = float(true.sum() / indicated.sum())
    return factor, _relative_error(record, true, indicated, factor)


def _counted_factor(record: TripRecord) -> tuple[float, float] | None:
    """From the running count of distance, where no indicated speed is logged."""
    count = record.counter
    if count is None or count.counted_m < max(MIN_COUNTED_STEPS * count.step_m, MIN_FACTOR_M):
        return None
    if count.blind_m > LARGEST_BLIND * count.true_m or count.true_m < MIN_FACTOR_M:
        return None
    # both ends fall anywhere within the time between two looks at the count: a few seconds' road
    ends = min(count.step_m, 30.0) / count.counted_m
    return count.true_m / count.counted_m, float(np.hypot(ends, SHORT_FLOOR / 2))


def _relative_error(
    record: TripRecord, true: np.ndarray, indicated: np.ndarray, factor: float
) -> float:
    residual = true - factor * indicated
    count = len(residual)
    if count >= MIN_BLOCKS:
        spread = np.sqrt((residual**2).sum() * count / (count - 1)) / true.sum()
    else:
        spread = SHORT_FLOOR
    # blocks that differ show the chance of whole units already, blocks at one speed do not
    return float(np.hypot(max(float(spread), _unseen_phase(record)), FACTOR_FLOOR))


def _unseen_phase(record: TripRecord) -> float:
    """Relative error left by whole units at a speed that hardly changed.

    A whole unit is met anywhere with equal chance (variance of a uniform step); each two
    changes of the logged value are one fresh look at it.
    """
    if record.grid.unit is None:
        return 0.0
    changes = float(record.blocks["changes"].sum())
    seconds = float(record.blocks["weight"].sum())
    mean = float(record.blocks["indicated_m"].sum()) / max(seconds, 1.0)
    return float(record.grid.step_mps / np.sqrt(12.0) / max(mean, 3.0) / np.sqrt(1 + changes / 2))


def _row(
    record: TripRecord,
    rounding: Rounding,
    found: tuple[float, float] | None,
    identification: Identification,
) -> tuple[object, ...]:
    hidden = rounding.quantization_offset_mps
    factor, error = found if found else (None, None)
    ends = [raw_factor(record, q) for q in (rounding.high_mps, rounding.low_mps)]
    indicated = _indicated_m(record, hidden, factor)
    gearing = identification.trips.get(record.name)
    return (
        record.name, record.side, record.start, record.end, record.local_day,
        record.duration_s, record.moving_s, record.stopped_s, record.true_m, record.way_error,
        record.turns_coarse, record.fuel_coarse,
        indicated,
        record.liters, record.idle_liters, factor, error,
        ends[0][0] if ends[0] else None, ends[1][0] if ends[1] else None,
        None, None, gearing.log_axle_turns if gearing else None,
        gearing.error if gearing else None,
        record.interval_s, record.steps_s, record.lag_s, record.ambient_temperature_c,
        record.bridged_m, record.has_receiver,
        [], True, found is not None, gearing is not None,
    )  # fmt: skip


def _indicated_m(
    record: TripRecord, quantization_offset_mps: float, factor: float | None
) -> float | None:
    """Distance as the computer counts it: summed speed, rounding undone, else the count.

    Road without a logged speed is drawn up by the trip's factor; where that is unknown, so is
    the whole if more than a little is missing.
    """
    if record.indicated_m is not None:
        counted = record.indicated_m + quantization_offset_mps * record.indicated_s
        if not record.has_receiver:
            return counted
        untold_m = float(record.steps.filter(pl.col("indicated_m").is_null())["distance_m"].sum())
        if factor is not None:
            return counted + untold_m / factor
        return counted if untold_m <= LARGEST_BLIND * record.true_m else None
    count = record.counter
    return None if count is None else count.last_m - count.first_m


def _with_verdicts(
    table: pl.DataFrame, verdicts: Verdicts, identification: Identification, study: Study
) -> pl.DataFrame:
    names = table["trip"].to_list()
    reference = _reference(table, verdicts)
    ratio = study.axle_ratio("before")
    if ratio is None or reference is None:
        scale = float(np.exp(min((g.log_ratio for g in identification.gears), default=0.0)))
    else:
        scale = ratio / float(np.exp(reference))
    blind = dict(table.select("trip", "measured_by_receiver").iter_rows())
    flags = [
        [*verdicts.flags.get(name, ()), *([] if blind[name] else ["no-receiver"])] for name in names
    ]
    return table.with_columns(
        (pl.col("log_axle_turns").exp() * scale).alias("final_drive"),
        (pl.col("log_axle_turns_se") * pl.col("log_axle_turns").exp() * scale).alias(
            "final_drive_se"
        ),
        pl.Series("flags", flags, dtype=pl.List(pl.String)),
        pl.Series("used", _kept(names, verdicts.out)),
        pl.col("factor_used") & _kept(names, verdicts.factor_out),
        pl.col("final_drive_used") & _kept(names, verdicts.final_drive_out),
    )


def _kept(names: list[str], out: Collection[str]) -> pl.Series:
    return pl.Series([name not in out for name in names], dtype=pl.Boolean)


def _without_receiver(table: pl.DataFrame, verdicts: Verdicts) -> pl.DataFrame:
    """Trips without a receiver: true distance from indicated by the period's factor, that of
    their time where it stepped, or unknown."""
    levels = [one for side in SIDES for one in verdicts.levels_of(side, "factor")]
    told = [name for level in levels for name in level.trips]
    kept = pl.col("trip").is_in(told) & ~pl.col("trip").is_in([*verdicts.out])
    # levels begun by then, of its own period
    level = pl.sum_horizontal(
        pl.lit(0), *((pl.col("side") == one.side) & (pl.col("start") >= one.at) for one in levels)
    ).clip(lower_bound=1)
    factor = pl.col("odometer_factor").filter(kept).median().over("side", level)
    return table.with_columns(
        pl.when(pl.col("measured_by_receiver"))
        .then(pl.col("true_m"))
        .otherwise(pl.col("indicated_m") * factor)
        .alias("true_m")
    )


def _reference(table: pl.DataFrame, verdicts: Verdicts) -> float | None:
    """log_axle_turns the declared axle ratio stands for: the old tires', else the only ones'."""
    kept = table.filter(
        ~pl.col("trip").is_in([*verdicts.out, *verdicts.final_drive_out])
        & pl.col("log_axle_turns").is_not_null()
    )
    for side in ("before", "after"):
        middle = kept.filter(pl.col("side") == side)["log_axle_turns"].median()
        if isinstance(middle, float):
            return middle
    return None


def road_steps_of(records: Sequence[TripRecord], figures: TripFigures) -> pl.DataFrame:
    """All trips' road steps in one frame, a chunk each trip still: to copy a lifetime takes long.

    `indicated_m` has the rounding undone, and is drawn up by the trip's own factor where the speed
    was not logged for a part of its road. Where a trip had no receiver its distances and speeds
    are indicated ones times the period's factor, null where that is unknown.
    """
    frames = []
    told = figures.trips.select(
        "trip",
        pl.when(~pl.col("measured_by_receiver")).then(pl.col("true_m") / pl.col("indicated_m")),
        "odometer_factor",
    )
    factors = {trip: (scale, own) for trip, scale, own in told.iter_rows()}
    for record in sorted(records, key=lambda r: (r.start, r.name)):
        hidden = figures.rounding.quantization_offset_mps(record.name)
        moving = pl.col("duration_s") - pl.col("stopped_s")
        scale, own = factors[record.name]
        indicated = pl.col("indicated_m") + hidden * moving
        if own is not None:
            indicated = indicated.fill_null(pl.col("distance_m") / own)
        measured = [] if record.has_receiver else _scaled(scale)
        gear = _gear_of(record, figures.identification)
        frames.append(record.steps.with_columns(indicated, *measured, gear))
    return pl.concat([pl.DataFrame(schema=SCHEMA_OF_STEPS), *frames])


def _gear_of(record: TripRecord, identification: Identification) -> pl.Expr:
    """The study's number for the gear of each road step, in place of the trip's own cluster; null
    where it is none. A gear the transmission reports stays where no engine speed tells one."""
    if len(record.gear_clusters.of_engine()) == 0:
        return pl.col("gear")
    gearing = identification.trips.get(record.name)
    numbers = gearing.gears if gearing is not None and identification.source == "engine" else ()
    known = {float(i + 1): float(n) for i, n in enumerate(numbers) if n}
    return pl.col("gear").replace_strict(known, default=None, return_dtype=pl.Float32)


def _scaled(factor: float | None) -> list[pl.Expr]:
    """Distances and speeds that are indicated ones, as true ones."""
    speeds = ("speed_mps", "start_speed_mps", "end_speed_mps", "distance_m", "bridged_m")
    times = pl.lit(factor, dtype=pl.Float64)
    return [
        *((pl.col(name) * times).cast(SCHEMA_OF_STEPS[name]) for name in speeds),
        (pl.col("speed_squared_m2ps2") * times**2).cast(pl.Float32),
    ]
