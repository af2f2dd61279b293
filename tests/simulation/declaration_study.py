"""What is told of studies in which one thing is declared wrong, beside what is true.

    python tests/simulation/declaration_study.py [--studies 40] [--first-seed 0] [--kind all]
        [--jobs 2] [--out rows.parquet]

draws studies of `declaration_world` with seeds first, first + 1, ...; `all` takes the kinds in
turn. Kinds are those of the world's KINDS and, with everything declared right, `misfiled`,
`reprogrammed` (within the after period) and `receiver` (its speed and positions disagree). One
row a study goes to `--out`; a summary by kind is printed. Figures off outside their interval
count as surely wrong where no warning names a declaration that the logs contradict.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Sequence
from dataclasses import fields
from functools import partial
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path
from typing import Any

os.environ.setdefault("POLARS_MAX_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parent))

import polars as pl
from declaration_figures import KINDS, SIDES, Declared
from declaration_world import InventedStudy, Truth, make_study

from gearing.analysis.final_drive import find_final_drive
from gearing.analysis.speed import find_speed
from gearing.analysis.trip_figures import trip_figures
from gearing.study.model import Period, Study, Vehicle
from gearing.trips import declared as trips_declared
from gearing.trips.motion import make_trip
from gearing.trips.record import TripRecord, record_of

EXTRA = ("misfiled", "reprogrammed", "receiver")
ALL = (*KINDS, *EXTRA)
FIGURES = (
    "factor_before", "factor_after", "relative", "change", "rev_per_km_before",
    "rev_per_km_after", "programmed_now", "programmed_should_be", "restoring",
)  # fmt: skip
ABSOLUTE = FIGURES[4:]
NAMING = frozenset(
    {
        "declared-contradicts-logs", "gear-ratios-do-not-fit", "periods-swapped",
        "periods-out-of-order", "speed-unit-doubtful",
    }
)  # fmt: skip
LISTS = (
    "wrong_keys", "quantizers", "misfiled",
    "warnings", "keys", "texts", "questions", "told_misfiled", "told_steps",
)  # fmt: skip
MIN_POINTS = 0.2  # of the final drive: nearer than this is near enough


def study_of(declared: Declared) -> Study:
    """The package's study of what an owner declares."""
    known = {field.name for field in fields(Period)}
    axles = (declared.axle_ratio, declared.axle_ratio_after or declared.axle_ratio)
    periods = []
    for side, tire, figure, axle in zip(
        SIDES, declared.drive_tire, declared.revolutions_per_km, axles, strict=True
    ):
        own: dict[str, Any] = {"side": side, "drive_tire": tire, "revolutions_per_km": figure}
        if "axle_ratio" in known and declared.axle_ratio_after is not None:
            own["axle_ratio"] = axle
        periods.append(Period(**own))
    return Study(
        name="invented",
        slug="invented",
        path=Path("invented.toml"),
        vehicle=Vehicle(
            axle_ratio=declared.axle_ratio,
            gear_ratios=declared.gear_ratios,
            transmission="converter" if declared.converter else "manual",
            speed_source=declared.speed_source,  # type: ignore[arg-type]
        ),
        before=periods[0],
        after=periods[1],
    )


def records_of(invented: InventedStudy, study: Study) -> list[TripRecord]:
    declared = trips_declared.Declared.of(study)
    return [
        record_of(
            make_trip(trip.samples, name=trip.name, files=(trip.name,)),
            declared,
            trip.period,  # type: ignore[arg-type]
        )
        for trip in invented.trips
    ]


def told(study: Study, records: Sequence[TripRecord]) -> dict[str, Any]:
    """What the package says: the one place that knows the shape of its findings."""
    figures = trip_figures(study, records)
    final = find_final_drive(study, figures)
    speed = find_speed(study, records, figures, final)
    factor = speed.odometer_factor
    estimates = {
        "factor_before": factor.before,
        "factor_after": factor.after,
        "change": final.change_percent,
        "rev_per_km_before": speed.revolutions_per_km.before.estimate,
        "rev_per_km_after": speed.revolutions_per_km.after.estimate,
        "programmed_now": speed.programmed_revolutions_per_km.now,
        "programmed_should_be": speed.programmed_revolutions_per_km.should_be,
        "restoring": final.restoring_axle_ratio,
    }
    row: dict[str, Any] = {}
    for name, estimate in estimates.items():
        row[name] = estimate.value
        row[f"{name}_low"], row[f"{name}_high"] = estimate.low, estimate.high
        row[f"{name}_why"] = None if estimate.why is None else str(estimate.why)
    warnings = [*speed.warnings, *final.warnings]
    return row | _ratio(row) | {
        "warnings": sorted({w.code for w in warnings}),
        "keys": sorted({key for w in warnings for key in getattr(w, "keys", ())}),
        "texts": [w.text for w in warnings],
        "questions": [str(q) for q in getattr(speed, "questions", ())],
        "told_misfiled": sorted(speed.misfiled),
        "told_steps": sorted({p.trip for p in speed.change_points}),
        "agree": speed.reconciled.agree,
    }  # fmt: skip


def _ratio(row: dict[str, Any]) -> dict[str, Any]:
    """The factor after over that before, half-widths added in squares."""
    before, after = row["factor_before"], row["factor_after"]
    if before is None or after is None:
        return dict.fromkeys(("relative", "relative_low", "relative_high"))
    value = after / before
    half = sum(
        ((row[f"factor_{s}_high"] - row[f"factor_{s}_low"]) / 2 / row[f"factor_{s}"]) ** 2
        for s in SIDES
    )
    reach = value * half**0.5
    return {"relative": value, "relative_low": value - reach, "relative_high": value + reach}


def true_figures(truth: Truth) -> dict[str, float | None]:
    """The truth under the names of FIGURES."""
    return {
        "factor_before": truth.factor["before"],
        "factor_after": truth.factor["after"],
        "relative": truth.relative,
        "change": truth.change_percent,
        "rev_per_km_before": truth.revolutions_per_km["before"],
        "rev_per_km_after": truth.revolutions_per_km["after"],
        "programmed_now": truth.programmed_now,
        "programmed_should_be": truth.programmed_should_be,
        "restoring": truth.restoring_axle_ratio,
    }


def study_row(seed: int, kind: str) -> dict[str, Any]:
    """One study: what is told, what is true, and how long it took."""
    kind = ALL[seed % len(ALL)] if kind == "all" else kind
    clock = [time.perf_counter()]
    invented = make_study(
        seed,
        "none" if kind in EXTRA else kind,
        kind if kind in EXTRA[:2] else "none",
        receiver_disagrees=kind == "receiver",
    )
    clock.append(time.perf_counter())
    study = study_of(invented.declared)
    records = records_of(invented, study)
    clock.append(time.perf_counter())
    try:
        found: dict[str, Any] = told(study, records)
    except Exception as error:  # a study that cannot be answered is a finding, not an end
        found = {"failed": f"{type(error).__name__}: {error}"}
    clock.append(time.perf_counter())
    world, declared, truth = invented.world, invented.declared, invented.truth
    row = {
        "seed": seed,
        "kind": kind,
        "trips": len(invented.trips),
        "wrong_keys": list(declared.wrong_keys),
        "wrong_percent": declared.wrong_percent,
        "could_show": truth.could_show,
        "counts": world.counts,
        "declared_source": declared.speed_source,
        "quantizers": [r.quantizer for r in world.recorders],
        "gears_declared": bool(declared.gear_ratios),
        "axle_changed": world.axle[0] != world.axle[1],
        "gears_apart": world.highest[0] != world.highest[1],
        "misfiled": list(truth.misfiled),
        "reprogrammed_at": truth.reprogrammed_at,
        "failed": None,
        **{f"true_{name}": value for name, value in true_figures(truth).items()},
        **dict(zip(("making_s", "reading_s", "finding_s"), _steps(clock), strict=True)),
    }
    return row | dict.fromkeys(_told_names()) | {name: [] for name in LISTS[-6:]} | found


def _steps(clock: list[float]) -> list[float]:
    return [b - a for a, b in pairwise(clock)]


def _told_names() -> list[str]:
    return [f"{name}{end}" for name in FIGURES for end in ("", "_low", "_high")]


def judged(rows: pl.DataFrame) -> pl.DataFrame:
    """Error (percent; points for the change) and coverage of each figure, and what is named."""
    made = []
    for name in FIGURES:
        truth, value = pl.col(f"true_{name}"), pl.col(name)
        low, high = pl.col(f"{name}_low"), pl.col(f"{name}_high")
        error = value - truth if name == "change" else 100 * (value / truth - 1)
        made += [
            error.alias(f"{name}_error"),
            ((low <= truth) & (truth <= high)).alias(f"{name}_covered"),
        ]
    named = (
        pl.col("warnings").list.eval(pl.element().is_in(list(NAMING))).list.any()
        | (pl.col("keys").list.len() > 0)
    ).fill_null(False)
    out = pl.any_horizontal(~pl.col(f"{name}_covered") for name in ABSOLUTE).fill_null(False)
    rows = rows.with_columns(*made, named.alias("named"))
    return rows.with_columns(
        ((pl.col("change_error").abs() > MIN_POINTS) & ~pl.col("change_covered"))
        .fill_null(False).alias("change_surely_wrong"),
        out.alias("absolute_outside"),
    ).with_columns(
        (pl.col("change_surely_wrong") & ~pl.col("named")).alias("surely_wrong_unnamed"),
        (pl.col("absolute_outside") & ~pl.col("named")).alias("absolute_outside_unnamed"),
    )  # fmt: skip


def summary(rows: pl.DataFrame) -> pl.DataFrame:
    """One row a kind: shares of all studies, or of those with the figure told."""
    named = pl.col("named")
    return rows.group_by("kind").agg(
        pl.len().alias("n"),
        pl.col("failed").count().alias("failed"),
        pl.col("change").is_not_null().mean().alias("final_drive_told"),
        pl.col("change_surely_wrong").mean().alias("surely_wrong"),
        pl.col("surely_wrong_unnamed").mean(),
        pl.col("factor_after").is_not_null().mean().alias("factor_told"),
        (pl.col("factor_after_error").abs() <= 0.1).mean().alias("factor_within_0.1"),
        (pl.col("relative_error").abs() <= 0.1).mean().alias("relative_within_0.1"),
        pl.col("absolute_outside").mean(),
        pl.col("absolute_outside_unnamed").mean(),
        named.mean().alias("named"),
        named.filter(pl.col("could_show")).mean().alias("named_where_5"),
        pl.col("could_show").sum().alias("n_where_5"),
        (named & (pl.col("wrong_keys").list.set_intersection("keys").list.len() > 0))
        .mean().alias("named_rightly"),
    ).sort("kind")  # fmt: skip


def figure_table(rows: pl.DataFrame, kind: str) -> pl.DataFrame:
    """Told share, bias, spread, largest error, coverage and half-width of each figure."""
    made = []
    for name in FIGURES:
        some = rows.filter(pl.col("kind") == kind, pl.col(f"true_{name}").is_not_null())
        error = some[f"{name}_error"]
        width = (some[f"{name}_high"] - some[f"{name}_low"]) / 2
        scale = 1.0 if name == "change" else 100 / some[name]
        made.append(
            {
                "kind": kind,
                "figure": name,
                "told": error.is_not_null().mean(),
                "bias": error.mean(),
                "median": error.median(),
                "spread": error.std(),
                "largest": error.abs().max(),
                "coverage": some[f"{name}_covered"].mean(),
                "half_width": (width * scale).median(),
            }
        )
    return pl.DataFrame(made)


def misfiled_table(rows: pl.DataFrame) -> pl.DataFrame:
    """Trips filed wrong: found, and right ones called misfiled."""
    found = pl.col("misfiled").list.set_intersection("told_misfiled").list.len()
    return rows.group_by("kind").agg(
        pl.col("trips").sum(),
        pl.col("misfiled").list.len().sum().alias("filed_wrong"),
        found.sum().alias("found"),
        (pl.col("told_misfiled").list.len() - found).sum().alias("false_alarms"),
        pl.col("reprogrammed_at").count().alias("reprogrammed"),
        (pl.col("told_steps").list.contains(pl.col("reprogrammed_at"))).sum().alias("dated_right"),
        (pl.col("told_steps").list.len() > 0).sum().alias("studies_with_steps"),
    ).sort("kind")  # fmt: skip


def run(seeds: range, kind: str, jobs: int) -> pl.DataFrame:
    """All studies, in `jobs` processes."""
    work = partial(study_row, kind=kind)
    if jobs == 1:
        rows = [work(seed) for seed in seeds]
    else:
        with get_context("spawn").Pool(jobs) as pool:
            rows = list(pool.imap_unordered(work, seeds, chunksize=4))
    frame = pl.DataFrame(sorted(rows, key=lambda r: r["seed"]), infer_schema_length=None)
    # a column of nothing but empty lists or None has no type of its own
    return frame.with_columns(
        pl.col(LISTS).cast(pl.List(pl.String)),
        pl.col(*_told_names(), *[f"true_{name}" for name in FIGURES]).cast(pl.Float64),
        pl.col("failed", "reprogrammed_at").cast(pl.String),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--studies", type=int, default=40)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--kind", default="all", choices=("all", *ALL))
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    seeds = range(options.first_seed, options.first_seed + options.studies)
    rows = judged(run(seeds, options.kind, options.jobs))
    if options.out:
        rows.write_parquet(options.out)
    pl.Config.set_tbl_cols(20)
    pl.Config.set_tbl_rows(200)
    pl.Config.set_tbl_width_chars(230)
    pl.Config.set_float_precision(3)
    pl.Config.set_tbl_hide_column_data_types(True)
    print(summary(rows))
    for kind in ("none", *(k for k in rows["kind"].unique().sort() if k != "none")):
        if kind in ("none", options.kind, "misfiled", "reprogrammed", "receiver"):
            some = figure_table(rows, kind)
            if (rows["kind"] == kind).any():
                print(some)
    print(misfiled_table(rows))
    print(rows.filter(pl.col("failed").is_not_null()).select("seed", "kind", "failed"))
    print("seconds a study", rows.select(pl.col("making_s", "reading_s", "finding_s").mean()))


if __name__ == "__main__":
    main()
