"""Positions and speed of one log held against each other: either may be in another form, or unit,
than it is said to be in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import polars as pl

from gearing.logs.assign import Candidate, ask_unit
from gearing.logs.channels import SPEEDS, Channel, seen_range
from gearing.logs.evidence import DEGREE_M, MOVING_MPS, fitting_unit
from gearing.logs.ledger import Ledger
from gearing.logs.model import How
from gearing.logs.positions import POSITION
from gearing.logs.values import in_unit
from gearing.messages import message
from gearing.units import BY_NAME

Floats = npt.NDArray[np.float64]
PAIRS, MIN_PAIRS = 200, 20  # of rows, looked at
APART_S, MAX_APART_S = 20.0, 60.0
STEADY = 1.2  # speed at both ends and between them, the highest by the lowest
PLAIN, SURE = 0.1, 0.02  # logarithms, how far off the way may be as it stands, and in another form
FAR = 0.4
_MINUTES = 0.6  # of a degree, written behind its point
Place = tuple[Floats, Floats]  # latitude and longitude [deg]


def _of_radians(lat: Floats, lon: Floats) -> Place | None:
    if np.nanmax(np.abs(lat)) > np.pi / 2 or np.nanmax(np.abs(lon)) > np.pi:
        return None
    return np.degrees(lat), np.degrees(lon)


def _other_way_round(lat: Floats, lon: Floats) -> Place | None:
    return (lon, lat) if np.nanmax(np.abs(lon)) <= 90 else None


def _of_minutes(lat: Floats, lon: Floats) -> Place | None:
    """44.1264 as 44 degrees and 12.64 minutes."""
    if max(np.nanmax(np.abs(one) % 1) for one in (lat, lon)) >= _MINUTES:
        return None
    north, east = (np.trunc(one) + (one - np.trunc(one)) / _MINUTES for one in (lat, lon))
    return north, east


_FORMS = (
    (_of_radians, message("positions-in/radians")),
    (_other_way_round, message("positions-in/other-order")),
    (_of_minutes, message("positions-in/minutes")),
)


def as_driven(
    done: dict[str, Channel],
    written: dict[str, Candidate],
    relative_us: pl.Series | None,
    ledger: Ledger,
) -> tuple[dict[str, Channel], dict[int, How]]:
    """The channels with positions in the one form that fits the speed between them, where as they
    stand they do not; and without a speed that fits them in another unit than it is said to be
    in, which is asked for: of those columns the reason, by index."""
    speeds = [name for name in SPEEDS if name in done]
    if relative_us is None or not speeds or not all(name in done for name in POSITION):
        return done, {}
    seconds = relative_us.cast(pl.Float64).to_numpy() / 1e6
    if not np.isfinite(seconds).any():
        return done, {}
    if speeds[0] == SPEEDS[0]:
        done = _in_true_form(done, done[speeds[0]].values, seconds, ledger)
    return _asked_units(done, written, speeds, seconds, ledger)


def _in_true_form(
    done: dict[str, Channel], speed: pl.Series, seconds: Floats, ledger: Ledger
) -> dict[str, Channel]:
    pairs, place = _steady_pairs(seconds, speed.to_numpy()), _place(done)
    plain = _ratio(place, *pairs)
    for form, told in _FORMS if _is_off(plain) else ():
        turned = form(*place)
        if turned is not None and _is_surer(_ratio(turned, *pairs), plain):
            ledger.repair(told, len(seconds))
            return done | {
                name: replace(done[name], values=pl.Series(values).fill_nan(None))
                for name, values in zip(POSITION, turned, strict=True)
            }
    return done


def _place(done: dict[str, Channel]) -> Place:
    lat, lon = (done[name].values.to_numpy() for name in POSITION)
    return lat, lon


def _asked_units(
    done: dict[str, Channel],
    written: dict[str, Candidate],
    speeds: Sequence[str],
    seconds: Floats,
    ledger: Ledger,
) -> tuple[dict[str, Channel], dict[int, How]]:
    left: dict[int, How] = {}
    for name in speeds:
        c, channel = written[name], done[name]
        ratio = _ratio(_place(done), *_steady_pairs(seconds, channel.values.to_numpy()))
        if c.unit_how == "study" or not _is_off(ratio):
            continue
        unit = fitting_unit(ratio / BY_NAME[channel.unit].factor, name == SPEEDS[0])
        if unit is not None and unit != channel.unit:
            asked = replace(c, rivals=(channel.unit, unit))
            raw = in_unit(channel.values, "m/s", channel.unit)
            ask_unit(asked, name, asked.rivals, seen_range(raw), ledger)
            left[c.index] = (message("column-asked/unit"),)
    return {name: one for name, one in done.items() if written[name].index not in left}, left


def _steady_pairs(seconds: Floats, speed_mps: Floats) -> tuple[npt.NDArray[np.intp], Floats]:
    """Rows some 20 s apart between which the speed held, as two lines of their numbers, and the
    way driven from one to the other."""
    rows = len(seconds)
    span = np.nanmax(seconds) - np.nanmin(seconds)
    apart = max(1, round(APART_S * rows / span)) if span > 0 else 1
    begins = np.unique(np.linspace(0, max(rows - apart - 1, 0), PAIRS).astype(np.intp))
    ends = np.array([begins, np.minimum(begins + apart, rows - 1)])
    speeds = speed_mps[np.array([ends[0], ends.sum(axis=0) // 2, ends[1]])]
    gone_s = seconds[ends[1]] - seconds[ends[0]]
    slowest = speeds.min(axis=0)
    steady = (slowest > MOVING_MPS) & (speeds.max(axis=0) < STEADY * slowest)
    steady &= (gone_s > 0) & (gone_s < MAX_APART_S)
    return ends[:, steady], (speeds.mean(axis=0) * gone_s)[steady]


def _ratio(place: Place, ends: npt.NDArray[np.intp], way_m: Floats) -> Floats:
    """The way driven, by that between the positions at both its ends; empty where too few tell."""
    (lat_1, lat_2), (lon_1, lon_2) = (one[ends] for one in place)
    seen_m = np.hypot(lat_2 - lat_1, (lon_2 - lon_1) * np.cos(np.radians(lat_1))) * DEGREE_M
    known = seen_m > 0
    few = np.count_nonzero(known) < MIN_PAIRS
    return np.zeros(0) if few else way_m[known] / seen_m[known]


def _is_off(ratio: Floats) -> bool:
    return len(ratio) > 0 and _off(ratio) > PLAIN


def _is_surer(ratio: Floats, plain: Floats) -> bool:
    """Whether a form fits, and as it stands the way is off by far or by how it turns: a speed that
    is a little off is so in all directions."""
    if not len(ratio) or _off(ratio) > SURE:
        return False
    return _off(plain) > FAR or _off(plain / np.median(plain)) > 2 * SURE


def _off(ratio: Floats) -> float:
    """How far a ratio is from one, in the middle."""
    return float(np.median(np.abs(np.log(ratio))))
