"""Road profiles: distances that run on, and heights, or grades that are summed to heights."""

from __future__ import annotations

from pathlib import Path

import polars as pl

from gearing.logs.column_rule import ColumnRule
from gearing.logs.companions import Companion, Kind, companion_of, no_rows, read_rows
from gearing.logs.endings import file_name
from gearing.logs.kinds import PROFILE
from gearing.messages import message, problem_of

_RISE_M_PER_KM_PERCENT = 10.0  # a grade of 1 % climbs 10 m a km
MAX_BACK = 0.6  # of the way on; a road written in parts, or a row out of place, goes back less


def _runs_on(distance_m: pl.Series) -> bool:
    """Whether distances, as the rows stand, get on one way or the other; lengths of stretches do
    not, nor does a way out and back."""
    step = distance_m.drop_nulls().diff().drop_nulls()
    on, back = float(step.clip(0, None).sum()), -float(step.clip(None, 0).sum())
    return min(on, back) <= MAX_BACK * max(on, back)


def _climbed(frame: pl.DataFrame) -> pl.DataFrame:
    """A profile of `distance_m`, ascending, and `grade_percent` with the `altitude_m` above its
    beginning. A grade holds to the next point; the last needs none, any other without is none."""
    last = pl.int_range(pl.len()) == pl.len() - 1
    frame = frame.filter(pl.col("grade_percent").is_not_null() | last)
    step_km = pl.col("distance_m").diff().fill_null(0.0) / 1000
    rise = step_km * pl.col("grade_percent").shift(1).fill_null(0.0) * _RISE_M_PER_KM_PERCENT
    return frame.with_columns(rise.cum_sum().alias("altitude_m"))


_KIND = Kind(
    what=PROFILE,
    names=("distance_m", "altitude_m", "speed_limit_mps", "stop_s", "grade_percent"),
    timed=False,
    must=("distance_m", "altitude_m"),
    means={"distance": "distance_m", "indicated_distance_m": "distance_m"},
)


def read_profile(path: Path, rules: tuple[ColumnRule, ...] = ()) -> Companion:
    """A road's profile: `distance_m` from its beginning, `altitude_m`, and where given
    `speed_limit_mps` and `stop_s`; ascending distance. A grade in percent instead of altitude is
    summed to an altitude above the beginning."""
    read = read_rows(path, "UTC", rules, _KIND)
    if isinstance(read, Companion):
        return read
    nothing = no_rows(_KIND).drop("grade_percent")
    given = [n for n in _KIND.names if read.frame[n].count()]
    if not _runs_on(read.frame["distance_m"]):
        back = problem_of(
            message("distance-back-and-forth"), file=file_name(path), count=read.frame.height
        )
        return Companion(nothing, (back,), (back,))
    ledger, frame = read.ledger, read.frame.select("line", *given)
    if "distance_m" in given:
        frame = ledger.without(frame, pl.col("distance_m").is_null())
        frame = frame.sort("distance_m", maintain_order=True)
        if "altitude_m" not in given and "grade_percent" in given:
            frame = _climbed(frame)
    if not {"distance_m", "altitude_m"} <= {*frame.columns}:
        ledger.set_aside_rows(message("no-values"), frame["line"].to_numpy())
        return companion_of(nothing, ledger)
    frame = ledger.without(frame, pl.col("altitude_m").is_null())
    again = ~pl.col("distance_m").is_first_distinct()
    frame = ledger.without(frame, again, message("repeated-distance"))
    return companion_of(frame.select(n for n in nothing.columns if n in frame.columns), ledger)
