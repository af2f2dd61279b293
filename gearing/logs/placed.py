"""Positions and speed of one log held against each other: either may be in another form, or unit,
than it is said to be in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import polars as pl

from gearing.logs.assign import Candidate, ask_unit
from gearing.logs.channels import SPEEDS, Channel, seen_range
from gearing.logs.column_rule import rule_line
from gearing.logs.evidence import BUS_SHARE, DEGREE_M, MOVING_MPS, fitting_unit
from gearing.logs.ledger import Ledger, answer
from gearing.logs.model import How
from gearing.logs.positions import POSITION
from gearing.logs.values import in_unit
from gearing.messages import UserText, message
from gearing.units import BY_NAME

Floats = npt.NDArray[np.float64]
Rows = npt.NDArray[np.intp]
PAIRS, MIN_PAIRS = 120, 20  # of rows, looked at
APART_S, MAX_APART_S = 20.0, 60.0
MOSTLY_FRESH, MIN_FIXES = 0.9, 8
BETWEEN = 11  # rows of a pair and between them, from which the way driven is taken
STEADY = 1.2  # speed in them, the highest by the lowest
PLAIN, SURE = 0.1, 0.02  # logarithms, how far off the way may be as it stands, and in another form
FAR, UNLIKE = 0.4, 0.15
_SEMICIRCLE = BY_NAME["semicircles"].factor / BY_NAME["1e-7 deg"].factor
_MINUTES = 0.6  # of a degree, written behind its point
_BY_SIZE = message("unit-settled/size")
Place = tuple[Floats, Floats]  # latitude and longitude [deg]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Rows, those between them, each as a line of their numbers from the first of a pair to the
    last, and the time from one to the other [s]."""

    rows: Rows
    gone_s: Floats

    def driven(self, speed_mps: pl.Series) -> tuple[Rows, Floats]:
        """Those between which the speed held, and the way driven from one to the other [m]."""
        speeds = speed_mps.to_numpy()[self.rows]
        slowest = speeds.min(axis=0)
        steady = (slowest > MOVING_MPS) & (speeds.max(axis=0) < STEADY * slowest)
        steady &= (self.gone_s > 0) & (self.gone_s < MAX_APART_S)
        middle = (speeds[1:] + speeds[:-1]).mean(axis=0) / 2
        return self.rows[[0, -1]][:, steady], (middle * self.gone_s)[steady]


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


def _of_semicircles(lat: Floats, lon: Floats) -> Place:
    """Whole numbers that were taken for ten-millionths of a degree."""
    return lat * _SEMICIRCLE, lon * _SEMICIRCLE


_FORMS = (
    (_of_radians, message("positions-in/radians")),
    (_other_way_round, message("positions-in/other-order")),
    (_of_minutes, message("positions-in/minutes")),
)
_OF_WHOLE = (_of_semicircles, message("positions-in/semicircles"))


def as_driven(
    done: dict[str, Channel],
    written: dict[str, Candidate],
    relative_us: pl.Series | None,
    ledger: Ledger,
) -> tuple[dict[str, Channel], dict[int, How]]:
    """The channels with positions in the one form that fits the speed between them, where as they
    stand they do not; and without a speed that fits them in another unit than it is said to be
    in, or positions that may be the other way round, which are asked for: of those columns the
    reason, by index."""
    speeds = [name for name in SPEEDS if name in done]
    pairs = _pairs(relative_us) if relative_us is not None else None
    if pairs is None or not speeds or not all(name in done for name in POSITION):
        return done, {}
    done = _in_true_form(done, speeds[0], pairs, ledger)
    left = _asked_units(done, written, speeds, pairs, ledger)
    left = left or _asked_order(done, written, speeds[0], pairs, ledger)
    return {name: one for name, one in done.items() if written[name].index not in left}, left


def _in_true_form(
    done: dict[str, Channel], name: str, pairs: Pairs, ledger: Ledger
) -> dict[str, Channel]:
    speed = done[name].values
    place, driven = _place(done), pairs.driven(speed)
    plain = _ratio(place, *driven)
    whole = all(_BY_SIZE in done[name].how for name in POSITION)
    for form, told in (_OF_WHOLE, *_FORMS) if whole else _FORMS:
        turned = form(*place) if _is_off(plain) else None
        if turned is None:
            continue
        ratio = _own(_ratio(turned, *driven), name)
        if _is_surer(ratio, plain) or (form is _of_semicircles and _fits(ratio)):
            ledger.repair(told, len(speed))
            return done | {
                name: replace(done[name], values=pl.Series(values).fill_nan(None))
                for name, values in zip(POSITION, turned, strict=True)
            }
    return done


def _own(ratio: Floats, name: str) -> Floats:
    """The ratios without what the tires alone make of a vehicle's computer, the same all along."""
    if name == SPEEDS[0] or not len(ratio):
        return ratio
    middle = np.median(ratio)
    return ratio / middle if abs(middle - 1) < BUS_SHARE else ratio


def _asked_order(
    done: dict[str, Channel],
    written: dict[str, Candidate],
    name: str,
    pairs: Pairs,
    ledger: Ledger,
) -> dict[int, How]:
    """Where no tires make positions and speed so unlike, and the other way round they fit, which of
    the two columns is which is asked: a straight road does not tell."""
    columns = [written[one] for one in POSITION]
    place, driven = _place(done), pairs.driven(done[name].values)
    plain = _ratio(place, *driven)
    if not len(plain) or _off(plain) < UNLIKE or any(c.rule is not None for c in columns):
        return {}
    turned = _other_way_round(*place)
    if turned is None or not _fits(_own(_ratio(turned, *driven), name)):
        return {}
    for c, other in zip(columns, columns[::-1], strict=True):
        told = message(
            "which-channel/positions",
            column=UserText(c.heading, "column"),
            other=UserText(other.heading, "column"),
            answer=answer([rule_line(c.heading, channel, None) for channel in POSITION]),
        )
        ledger.ask(told, c.heading)
    return {c.index: (message("column-asked/channel"),) for c in columns}


def _place(done: dict[str, Channel]) -> Place:
    lat, lon = (done[name].values.to_numpy() for name in POSITION)
    return lat, lon


def _asked_units(
    done: dict[str, Channel],
    written: dict[str, Candidate],
    speeds: Sequence[str],
    pairs: Pairs,
    ledger: Ledger,
) -> dict[int, How]:
    left: dict[int, How] = {}
    for name in speeds:
        c, channel = written[name], done[name]
        ratio = _ratio(_place(done), *pairs.driven(channel.values))
        if c.unit_how == "study" or not _is_off(ratio):
            continue
        unit = fitting_unit(ratio / BY_NAME[channel.unit].factor, name == SPEEDS[0])
        if unit is not None and unit != channel.unit:
            asked = replace(c, rivals=(channel.unit, unit))
            raw = in_unit(channel.values, "m/s", channel.unit)
            ask_unit(asked, name, asked.rivals, seen_range(raw), ledger)
            left[c.index] = (message("column-asked/unit"),)
    return left


def _pairs(relative_us: pl.Series) -> Pairs | None:
    """Rows all through a log, each with one some 20 s behind it; None where it has no times."""
    first, last, rows = relative_us.min(), relative_us.max(), len(relative_us)
    if not (isinstance(first, int) and isinstance(last, int) and last > first):
        return None
    apart = max(1, round(APART_S * 1e6 * rows / (last - first)))
    begins = np.linspace(0, max(rows - apart - 1, 0), min(PAIRS, rows)).astype(np.intp)
    ends = np.minimum(begins + apart, rows - 1)
    times = relative_us.to_numpy()
    gone_s = (times[ends] - times[begins]) / 1e6
    return Pairs(np.linspace(begins, ends, BETWEEN).round().astype(np.intp), gone_s)


def _ratio(place: Place, ends: Rows, way_m: Floats) -> Floats:
    """The way driven, by that between the positions at both its ends; empty where too few tell, or
    fixes are held too long to."""
    if len(way_m) < MIN_PAIRS or not _are_fresh(place, ends):
        return np.zeros(0)
    (lat_1, lat_2), (lon_1, lon_2) = (one[ends] for one in place)
    seen_m = np.hypot(lat_2 - lat_1, (lon_2 - lon_1) * np.cos(np.radians(lat_1))) * DEGREE_M
    known = seen_m > 0
    return way_m[known] / seen_m[known] if np.count_nonzero(known) >= MIN_PAIRS else np.zeros(0)


def _are_fresh(place: Place, ends: Rows) -> bool:
    """Whether most rows have a fix of their own, or many lie between the two of a pair."""
    begins, behind = ends
    moved = np.zeros(len(begins), np.bool_)
    for one in place:
        moved |= one[begins] != one[begins + 1]
    share = float(np.mean(moved))
    return share > MOSTLY_FRESH or share * float(np.min(behind - begins)) >= MIN_FIXES


def _is_off(ratio: Floats) -> bool:
    return len(ratio) > 0 and _off(ratio) > PLAIN


def _is_surer(ratio: Floats, plain: Floats) -> bool:
    """Whether a form fits, and as it stands the way is off by far or by how it turns: a speed that
    is a little off is so in all directions."""
    turns = len(plain) > 0 and _off(plain / np.median(plain)) > 2 * SURE
    return _fits(ratio) and (turns or _off(plain) > FAR)


def _fits(ratio: Floats) -> bool:
    return len(ratio) > 0 and _off(ratio) < SURE


def _off(ratio: Floats) -> float:
    """How far a ratio is from one, in the middle."""
    return float(np.median(np.abs(np.log(ratio))))
