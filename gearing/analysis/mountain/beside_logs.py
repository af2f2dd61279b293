"""The road model driven over the owner's own hills, beside what the logs have of them.

Each hill is the median of its drives. Where most of them were driven at part load, the driver set
the speed, and the model seeks it; elsewhere it seeks the speed usual on open road. Shifts are
counted alike: a lower gear from one piece of road to the next. Where both disagree by more than
what is open of either, that is told, and where on a route.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.mountain.draws import ensemble_of
from gearing.analysis.mountain.result import ClimbSide, HillModel, LoggedClimb, Spread
from gearing.analysis.mountain.sections import altitude_at_edges
from gearing.messages import Items, Message, Quantity, Span, message
from gearing.vehicle.longitudinal import drive_all
from gearing.vehicle.road import even_road

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearing.analysis.mountain.climbs import Hill, Pass
    from gearing.analysis.mountain.draws import Draws
    from gearing.messages import Text
    from gearing.statistics.arrays import Array
    from gearing.vehicle.ensemble import Run
    from gearing.vehicle.road import Road

STEP_M = 100.0  # of the logs' road steps
PIECE_M = 25.0
MAX_DRAWS = 41  # the central one and 40 more: the ends of a range, not its tails
# By how much more than the model's own range the logs may differ, and from its middle.
SHIFTS, SHIFTS_FROM_MIDDLE = 1.0, 3.0
SPEED_KMH, SPEED_FROM_MIDDLE_KMH = 2.0, 5.0
# Oil and coolant so hot are a reason to look after it: common practice, no source.
HOT_OIL_C, HOT_COOLANT_C = 120.0, 105.0
# A hill of the logs lies on a route where its heights run along with the route's (standard
# deviation) and at its level. On the sample they do within 1 m where it is the same, and no better
# than 8 m, or 100 m above or below, where it is another.
SHAPE_M, LEVEL_M = 4.0, 30.0


@dataclass(frozen=True, slots=True)
class ComparedHill:
    """A hill of the logs with the model beside it, its shape, and where the two disagree."""

    told: LoggedClimb
    share: Array
    altitude_m: Array
    worse: tuple[Message, ...]  # than the model
    better: tuple[Message, ...]


def compare_hills(
    hills: Sequence[Hill], draws: Draws, usual_mps: float
) -> tuple[ComparedHill, ...]:
    """Every hill as logged and as the model drives it; `usual_mps` is wanted on open road."""
    if not hills:
        return ()
    some = draws.first(MAX_DRAWS)
    ensemble = ensemble_of(some, [(0, side) for side in some.sides])
    shares = [np.linspace(0.0, 1.0, int(hill.length_m / PIECE_M) + 2) for hill in hills]
    heights = [hill.heights_m(share) for hill, share in zip(hills, shares, strict=True)]
    roads = [
        even_road(share * hill.length_m, height, _wanted(hill, share, usual_mps))
        for hill, share, height in zip(hills, shares, heights, strict=True)
    ]
    runs = drive_all(some.inputs.powertrain, [(ensemble, [road]) for road in roads])
    columns = {
        side: slice(place * some.count, (place + 1) * some.count)
        for place, side in enumerate(some.sides)
    }
    models = [
        {side: _model(run, place, road) for side, place in columns.items()}
        for run, road in zip(runs, roads, strict=True)
    ]
    told = zip(hills, _names(hills), models, shares, heights, strict=True)
    return tuple(_compared(*one) for one in told)


def _wanted(hill: Hill, share: Array, usual_mps: float) -> Array:
    """The speed sought [m/s] at shares of the way (m,)."""
    speeds, full = [], []
    for one in hill.passes:
        edge = np.concatenate([[0.0], np.cumsum(one.distance_m)])[:-1] / one.length_m
        at = np.clip(np.searchsorted(edge, share, side="right") - 1, 0, edge.size - 1)
        speeds.append(one.speed_mps[at])
        full.append(np.nan_to_num(one.full_load[at], nan=1.0) > 0)
    driven, at_full = np.stack(speeds), np.stack(full)
    at_part = np.where(at_full | np.isnan(driven), np.inf, driven)
    by_driver = (np.isfinite(at_part)).mean(axis=0) >= 0.5
    # the lower median, so that places without a speed come last
    place = np.maximum(np.isfinite(at_part).sum(axis=0) - 1, 0) // 2
    middle = np.sort(at_part, axis=0)[place, np.arange(share.size)]
    sought = np.where(by_driver, middle, usual_mps)
    start = driven[:, 0][np.isfinite(driven[:, 0])]
    sought[0] = np.median(start) if start.size else usual_mps
    return sought


def _model(run: Run, rows: slice, road: Road) -> HillModel:
    """What the model's drives did on one hill."""
    places = np.arange(STEP_M / 2, road.length_m, STEP_M)
    piece = np.clip(np.searchsorted(road.edge_m, places) - 1, 0, road.grade.size - 1)
    gear = run.gear[piece][:, rows].astype(np.int64)
    downshifts = (np.diff(gear, axis=0) < 0).sum(axis=0)
    lowest = run.speed_mps[piece][:, rows].min(axis=0) * 3.6
    seconds = run.duration_s[:, rows]
    by_gear = np.stack(
        [(seconds * (run.gear[:, rows] == one)).sum(axis=0) for one in range(gear.max() + 1)]
    )
    usual = by_gear.argmax(axis=0)
    return HillModel(
        lowest_speed_kmh=float(lowest[0]),
        downshifts=int(downshifts[0]),
        gear=int(usual[0]),
        spread={
            name: Spread(*(float(one) for one in np.percentile(values, [2.5, 97.5])))
            for name, values in (
                ("lowest_speed_kmh", lowest), ("downshifts", downshifts), ("gear", usual),
            )
        },
    )  # fmt: skip


def _names(hills: Sequence[Hill]) -> list[str]:
    count = {True: 0, False: 0}
    names = []
    for hill in hills:
        count[hill.climbs] += 1
        names.append(f"{'climb' if hill.climbs else 'descent'} {count[hill.climbs]}")
    return names


def _compared(
    hill: Hill, name: str, models: dict[str, HillModel], share: Array, altitude_m: Array
) -> ComparedHill:
    sides = {side: _side(hill, side, models.get(side)) for side in ("before", "after")}
    newest = sides["after"] or sides["before"]
    worse, better = ((), ()) if newest is None else _disagreements(hill, newest)
    told = LoggedClimb(
        name=name,
        length_km=hill.length_m / 1000,
        rise_m=hill.rise_m,
        mean_grade_percent=hill.rise_m / hill.length_m * 100,
        before=sides["before"],
        after=sides["after"],
        disagrees=(*worse, *better),
    )
    return ComparedHill(told, share, altitude_m, worse, better)


def _side(hill: Hill, side: str, model: HillModel | None) -> ClimbSide | None:
    passes = [one for one in hill.passes if one.side == side]
    if not passes:
        return None

    def middle(values: Sequence[float | None]) -> float | None:
        known = [value for value in values if value is not None]
        return float(np.median(known)) if known else None

    gear = middle([one.usual_gear for one in passes])
    lowest = middle([_lowest_mps(one) for one in passes])
    return ClimbSide(
        traversals=len(passes),
        lowest_speed_kmh=None if lowest is None else lowest * 3.6,
        full_load_share=middle([one.full_load_share for one in passes]),
        downshifts=middle([one.downshifts for one in passes]),
        gear=None if gear is None else round(gear),
        peak_coolant_c=middle([one.coolant_c for one in passes]),
        peak_transmission_oil_c=middle([one.oil_c for one in passes]),
        model=model,
    )


def _lowest_mps(one: Pass) -> float | None:
    known = one.speed_mps[np.isfinite(one.speed_mps)]
    return float(known.min()) if known.size >= 3 else None


def _disagreements(hill: Hill, side: ClimbSide) -> tuple[tuple[Message, ...], tuple[Message, ...]]:
    """What the logs show worse than the model, and what better."""
    model = side.model
    worse: list[Message] = []
    better: list[Message] = []
    if model is not None and hill.climbs:
        if side.downshifts is not None and _apart(
            side.downshifts, model, "downshifts", SHIFTS, SHIFTS_FROM_MIDDLE
        ):
            told = message(
                "logs/downshifts",
                logged=round(side.downshifts),
                model=model.downshifts,
                drives=side.traversals,
            )
            (worse if side.downshifts > model.downshifts else better).append(told)
        if side.lowest_speed_kmh is not None and _apart(
            side.lowest_speed_kmh, model, "lowest_speed_kmh", SPEED_KMH, SPEED_FROM_MIDDLE_KMH
        ):
            told = message(
                "logs/speed",
                logged=Quantity(side.lowest_speed_kmh, "km/h"),
                model=Quantity(model.lowest_speed_kmh, "km/h"),
            )
            (worse if side.lowest_speed_kmh < model.lowest_speed_kmh else better).append(told)
    elif model is not None and side.gear is not None and _apart(side.gear, model, "gear", 0, 0):
        told = message("logs/gear", logged=side.gear, model=model.gear)
        (worse if side.gear > model.gear else better).append(told)
    return (*worse, *_heat(side)), tuple(better)


def _apart(logged: float, model: HillModel, name: str, beyond: float, middle: float) -> bool:
    """Whether a logged figure lies out of the model's range, and far from its middle."""
    spread = model.spread[name]
    outside = logged > spread.high + beyond or logged < spread.low - beyond
    return outside and abs(logged - float(getattr(model, name))) > middle


def _heat(side: ClimbSide) -> list[Message]:
    found = []
    oil, coolant = side.peak_transmission_oil_c, side.peak_coolant_c
    if oil is not None and oil >= HOT_OIL_C:
        found.append(message("logs/oil", highest=Quantity(oil, "degC")))
    if coolant is not None and coolant >= HOT_COOLANT_C:
        found.append(message("logs/coolant", highest=Quantity(coolant, "degC")))
    return found


def place_on(road: Road, one: ComparedHill) -> tuple[float, float] | None:
    """Where along a road [km] a hill of the logs lies, by the run of its heights; None if not."""
    length = one.told.length_km * 1000
    edge, height = road.edge_m, altitude_at_edges(road)
    starts = np.arange(0.0, edge[-1] - length + 1.0, 50.0)
    if not starts.size:
        return None
    along = np.interp(starts[:, None] + one.share * length, edge, height)
    off = along - one.altitude_m
    shape = np.std(off, axis=1)
    best = int(np.argmin(shape))
    if shape[best] > SHAPE_M or abs(off[best].mean()) > LEVEL_M:
        return None
    return float(starts[best] / 1000), float((starts[best] + length) / 1000)


def log_disagreements_on(
    road: Road, hills: Sequence[ComparedHill]
) -> tuple[list[Message], list[Message]]:
    """What the logs of hills along a road show worse and better than the model, and where."""
    found: tuple[list[Message], list[Message]] = [], []
    for one in hills:
        place = place_on(road, one) if one.worse or one.better else None
        if place is None:
            continue
        at = Span(*place, "km", 1)
        for told, kept in zip((one.worse, one.better), found, strict=True):
            if told:
                climbs = one.told.rise_m > 0
                kept.append(message("watch/logs", climbs=climbs, at=at, what=Items(told)))
    return found


def on_routes(
    hills: Sequence[ComparedHill], roads: Sequence[tuple[Text, Road]]
) -> tuple[LoggedClimb, ...]:
    """The hills with the first way of a route that each lies on."""
    told = []
    for one in hills:
        places = ((name, place_on(road, one)) for name, road in roads)
        name, place = next(((n, at) for n, at in places if at is not None), (None, None))
        low, high = (None, None) if place is None else place
        told.append(replace(one.told, route=name, from_km=low, to_km=high))
    return tuple(told)
