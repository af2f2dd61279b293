"""Candidates from the study, its logs and route profiles to the rows of the comparison."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.candidates.columns import figure, standings
from gearing.analysis.candidates.drives import Driven, draw_fuel, drive_candidates
from gearing.analysis.candidates.fittings import (
    as_it_is,
    candidate_fittings,
    period_fittings,
)
from gearing.analysis.candidates.gearing import (
    Dash,
    draw_tires,
    gearing_figures,
    shafts_of,
)
from gearing.analysis.candidates.notes import notes_of
from gearing.analysis.candidates.result import (
    CandidateDrive,
    CandidateRow,
    CandidatesBasis,
    CandidatesFinding,
    Figure,
    Standing,
)
from gearing.analysis.mountain.contradictions import contradictions
from gearing.analysis.mountain.doubts import routes_doubted
from gearing.analysis.mountain.draws import holding
from gearing.analysis.mountain.holds import cruise_at
from gearing.analysis.mountain.model import (
    DEFAULT_TARGET_MPS,
    DRAWS,
    NO_ROUTES,
    RoadModel,
    mean_altitude,
)
from gearing.analysis.mountain.result import Route
from gearing.analysis.mountain.routes import Course

if TYPE_CHECKING:
    from gearing.analysis.candidates.fittings import Fitting
    from gearing.analysis.candidates.gearing import Fittings
    from gearing.analysis.mountain.draws import Draws
    from gearing.analysis.mountain.model import Profiles
    from gearing.analysis.sides import BySide
    from gearing.analysis.speed.turns import Turns
    from gearing.messages import Message, Text
    from gearing.statistics.arrays import Array
    from gearing.statistics.estimate import Estimate
    from gearing.study.model import Side, Study


@dataclass(slots=True)
class _Row:
    """One row while it is made: figures by draw, why some are missing, gear and drives."""

    arrays: dict[str, Array] = field(default_factory=dict)
    why: dict[str, Text] = field(default_factory=dict)
    gear: int | None = None
    drives: list[Driven] = field(default_factory=list)


def find_candidates(
    study: Study,
    *,
    profiles: Profiles,
    turns: BySide[Turns],
    odometer_factor: BySide[Estimate],
    change_percent: Estimate | None = None,
    model: RoadModel | Message,
    seed: int | None = None,
    draws: int = DRAWS,
    withheld: Text | None = None,
) -> CandidatesFinding:
    """Every `[[candidate]]` beside the tires of the periods: gearing, routes, fuel, brakes.

    Parameters
    ----------
    profiles
        as of `mountain_of`.
    model
        what the routes are driven with, or why nothing is; with `seed` and `draws` as here.
    turns
        revolutions a km [1/km] of the drive tires of each period, as they are.
    odometer_factor
        true over indicated distance, each period.
    change_percent
        of the final drive between the periods, where the logs tell it better than each alone.
    withheld
        why nothing is said of routes, where what is declared does not fit the logs.
    """
    seed = study.seed if seed is None else seed
    present = as_it_is(study)
    compared_with: Side = "before" if study.before is not None else present
    fittings = _fittings(study, turns, present)
    tires, drawn = draw_tires(study, model, fittings, draws, seed)
    at_mps = max((r.target_speed_mps or 0.0 for r in study.routes), default=0.0)
    at_mps = at_mps or DEFAULT_TARGET_MPS
    dash = Dash.of(study, odometer_factor, present, draws, seed)
    gearing = gearing_figures(fittings, tires, compared_with)
    rows = {name: _Row(arrays) for name, arrays in gearing.items()}
    _add_speeds(study, rows, fittings, tires, dash, at_mps)
    why = withheld or _doubt(study, model)
    if why is None and isinstance(model, RoadModel) and drawn is not None:
        why = _add_roads(rows, fittings, tires, model, drawn, compared_with, profiles, at_mps)
    told = _told(rows, fittings, fittings[compared_with], why, at_mps, study)
    if change_percent is not None and change_percent.known and compared_with == "before":
        told = [_as_measured(row, fittings, change_percent) for row in told]
    return CandidatesFinding(
        candidates=tuple(row for row in told if row.period is None),
        basis=CandidatesBasis(
            references=tuple(row for row in told if row.period is not None),
            compared_with=compared_with,
            at_kmh=at_mps * 3.6,
            assumed=dash.told,
            why=why,
            draws=draws,
            seed=seed,
        ),
    )


def _doubt(study: Study, model: RoadModel | Message) -> Message | None:
    """Why no route can be driven, where it is so."""
    if not isinstance(model, RoadModel):
        return model
    return routes_doubted(contradictions(study, model.inputs))


def _fittings(study: Study, turns: BySide[Turns], present: Side) -> dict[str, Fitting]:
    """The tires and axles of the periods, then those of the candidates, by name."""
    periods = period_fittings(study, turns)
    fittings = {one.name: one for one in periods}
    wanted = candidate_fittings(study, periods, present)
    return fittings | {f"candidate {number}": one for number, one in enumerate(wanted, start=1)}


def _add_speeds(
    study: Study,
    rows: dict[str, _Row],
    fittings: Fittings,
    tires: dict[str, Array],
    dash: Dash,
    at_mps: float,
) -> None:
    """What the computer shows at the speed asked, and what the engine turns in top gear there."""
    ratios = study.vehicle.gear_ratios
    for name, shaft in shafts_of(fittings, tires).items():
        row = rows[name]
        shown, why = dash.indicated_over_true(fittings, tires, name)
        if shown is not None:
            row.arrays["indicated_kmh"] = shown * at_mps * 3.6
        elif why is not None:
            row.why["indicated_kmh"] = why
        if ratios and fittings[name].axle_ratio is not None:
            row.gear = len(ratios)
            row.arrays["engine_rpm"] = shaft * ratios[-1] * at_mps * 0.06


def _add_roads(
    rows: dict[str, _Row],
    fittings: Fittings,
    tires: dict[str, Array],
    model: RoadModel,
    drawn: Draws,
    compared_with: str,
    profiles: Profiles,
    at_mps: float,
) -> Text | None:
    """Startability, the gear at the speed asked and the drives; in words why there are none."""
    axle = model.study.vehicle.axle_ratio
    shafts = shafts_of(fittings, tires)
    if axle is None or compared_with not in shafts:
        return fittings[compared_with].revolutions_per_km.why or NO_ROUTES
    alike: dict[tuple[str, float | None], str] = {}  # the first fitting of each tire and axle
    for name in shafts:
        alike.setdefault(fittings[name].key, name)
    draws = replace(
        drawn, revolutions_per_km={name: shafts[name] / axle for name in alike.values()}
    )
    altitude = mean_altitude(profiles, model.study)
    for name in alike.values():
        row, held = rows[name], holding(draws, name, altitude)
        row.arrays["startability_percent"] = 100 * held.startability()
        cruise = cruise_at(holding(draws.central(), name, altitude), at_mps)
        row.gear = None if cruise is None else cruise.gear
        if row.gear is not None:
            row.arrays["engine_rpm"] = held.rpm(at_mps, row.gear - 1)
    fuel = draw_fuel(draws)
    planned = [model.course(route, profiles) for route in model.study.routes]
    courses = [one for one in planned if isinstance(one, Course)]
    base, hills = alike[fittings[compared_with].key], model.hills if courses else ()
    for name, driven in drive_candidates(draws, courses, base, fuel, hills):
        rows[name].drives.append(driven)
    for name in shafts:
        first = rows[alike[fittings[name].key]]
        row = rows[name]
        row.gear, row.drives = first.gear, first.drives
        for key in ("startability_percent", "engine_rpm"):
            if key in first.arrays:
                row.arrays[key] = first.arrays[key]
    _add_totals(rows, rows[compared_with])
    if courses:
        return None
    return next((one.verdict_why for one in planned if isinstance(one, Route)), NO_ROUTES)


def _add_totals(rows: dict[str, _Row], base: _Row) -> None:
    """Over all drives, and fuel against the row compared with."""
    for row in rows.values():
        if not row.drives:
            continue
        for one, was in zip(row.drives, base.drives, strict=True):
            if "fuel_change_percent" not in one.figures:
                one.figures["fuel_change_percent"] = _change(
                    one.figures["liters"], was.figures["liters"]
                )
        drives, minutes = row.drives, np.stack([one.minutes for one in row.drives])

        def all_of(name: str, drives: list[Driven] = drives) -> Array:
            return np.stack([one.figures[name] for one in drives])

        before = np.stack([one.figures["liters"] for one in base.drives])
        row.arrays |= {
            "top_gear_share": (all_of("top_gear_share") * minutes).sum(0) / minutes.sum(0),
            "sustained_lowest_kmh": all_of("sustained_lowest_kmh").min(0),
            "downshifts_under_drive": all_of("downshifts_under_drive").sum(0),
            "fuel_change_percent": _change(all_of("liters").sum(0), before.sum(0)),
            "brake_kwh": all_of("brake_kwh").sum(0),
        }


def _change(now: Array, before: Array) -> Array:
    changed: Array = 100 * (now / before - 1)
    return changed


def _as_measured(row: CandidateRow, fittings: Fittings, change: Estimate) -> CandidateRow:
    """A row that is [after], with the change of gearing as the logs tell it."""
    after = fittings.get("after")
    if after is None or row.drive_tire != after.drive_tire or row.axle_ratio != after.axle_ratio:
        return row
    if row.revolutions_per_km.value != after.revolutions_per_km.value:
        return row
    axle = after.axle_ratio
    told = {"gearing_change_percent": change}
    if axle is not None:
        told["restoring_axle_ratio"] = change.map(lambda percent: axle / (1 + percent / 100))
    figures = {
        key: Figure(value=one.value, low=one.low, high=one.high) for key, one in told.items()
    }
    return replace(row, figures=row.figures | figures)


FIGURES = (
    "gearing_change_percent", "restoring_axle_ratio", "indicated_kmh", "engine_rpm",
    "startability_percent", "top_gear_share", "sustained_lowest_kmh", "downshifts_under_drive",
    "fuel_change_percent", "brake_kwh",
)  # fmt: skip


def _told(
    rows: dict[str, _Row],
    fittings: Fittings,
    base: Fitting,
    why: Text | None,
    at_mps: float,
    study: Study,
) -> list[CandidateRow]:
    """The rows as told, with how each figure stands among all."""
    columns = {
        name: _standing(name, {row: one.arrays for row, one in rows.items()}) for name in FIGURES
    }
    drives = max((len(row.drives) for row in rows.values()), default=0)
    by_drive = [
        {
            name: _standing(
                name, {r: one.drives[place].figures for r, one in rows.items() if one.drives}
            )
            for name in _drive_figures(rows)
        }
        for place in range(drives)
    ]
    return [
        CandidateRow(
            name=one.name,
            period=one.period,
            drive_tire=one.drive_tire,
            axle_ratio=one.axle_ratio,
            changed=_changed(one, base),
            revolutions_per_km=_revolutions(one),
            basis=one.basis,
            gear=rows[name].gear,
            figures={
                key: _figure(
                    key, rows[name].arrays, rows[name].why.get(key, why), columns[key], name
                )
                for key in FIGURES
            },
            drives=tuple(
                _drive(driven, by_drive[place], name)
                for place, driven in enumerate(rows[name].drives)
            ),
            notes=notes_of(study, name, fittings, rows[name].arrays, at_mps),
        )
        for name, one in fittings.items()
    ]


def _drive_figures(rows: dict[str, _Row]) -> list[str]:
    first = next(row for row in rows.values() if row.drives)
    return list(first.drives[0].figures)


def _standing(name: str, arrays: dict[str, dict[str, Array]]) -> dict[str, Standing]:
    return standings(name, {row: one[name] for row, one in arrays.items() if name in one})


def _figure(
    key: str, arrays: dict[str, Array], why: Text | None, standing: dict[str, Standing], row: str
) -> Figure:
    made = figure(key, arrays.get(key), why)
    return replace(made, standing=standing.get(row))


def _drive(driven: Driven, standing: dict[str, dict[str, Standing]], row: str) -> CandidateDrive:
    return CandidateDrive(
        route=driven.route,
        verdict=driven.judgement.verdict,
        care=driven.judgement.care,
        figures={
            key: _figure(key, driven.figures, None, standing[key], row) for key in driven.figures
        },
        gear_down=driven.gear_down,
        held_speed_kmh=None if driven.held_mps is None else driven.held_mps * 3.6,
    )


def _changed(one: Fitting, base: Fitting) -> tuple[str, ...]:
    changed = {"drive_tire": one.tire != base.tire, "axle_ratio": one.axle_ratio != base.axle_ratio}
    return tuple(key for key, differs in changed.items() if differs)


def _revolutions(one: Fitting) -> Figure:
    turns = one.revolutions_per_km
    return Figure(value=turns.value, low=turns.low, high=turns.high, why=turns.why)
