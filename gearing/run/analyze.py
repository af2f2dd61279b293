"""From reports and records to the findings, and from these to `results.json` and the tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import polars as pl

from gearing.analysis.final_drive import FinalDriveFinding, as_declared, find_final_drive
from gearing.analysis.fuel import FuelFinding, find_fuel
from gearing.analysis.fuel.find import NO_FILLUPS, NO_WEATHER
from gearing.analysis.fuel.tanks import tank_distance
from gearing.analysis.heights import consistent_heights
from gearing.analysis.mountain import MountainFinding, find_mountain
from gearing.analysis.mountain.doubts import look_swapped, not_as_declared, routes_doubted
from gearing.analysis.mountain.find import mountain_of
from gearing.analysis.mountain.model import RoadModel, road_model
from gearing.analysis.mountain.result import Verdict
from gearing.analysis.sides import SIDES
from gearing.analysis.speed import SpeedFinding, find_speed
from gearing.analysis.speed.misread import without_misread
from gearing.analysis.speed.turns import for_usual_axle
from gearing.analysis.trip_figures import TripFigures, road_steps_of, trip_figures
from gearing.messages import (
    Message,
    Moment,
    Problem,
    Severity,
    StudyWarning,
    Text,
    message,
    warning,
)
from gearing.results.record import Declared, DeclaredPeriod, InputCount, Results, Trip
from gearing.run.account import grouped, input_count, set_aside, with_duplicates, without_trips
from gearing.run.companion_files import CompanionFiles, read_companions
from gearing.run.input_checks.unseen_headings import unseen_headings
from gearing.run.input_checks.unused_logs import logs_not_used
from gearing.run.input_checks.zones import times_without_zone
from gearing.run.tasks import FileReport
from gearing.study.model import Period, Study
from gearing.trips.join import Groups
from gearing.trips.record import TripRecord
from gearing.version import __version__

if TYPE_CHECKING:
    from gearing.analysis.candidates.result import CandidatesFinding

# of a vehicle that kept its tires, no change of them is what is to be seen
_EXPECTED = {"changed": (), "control": ("no-tire-change-seen", "new-tires")}
OPEN: Verdict = "cannot tell yet"
_WHOLE = Severity.ERROR  # of rows set aside: those of a whole file


@dataclass(frozen=True, slots=True, kw_only=True)
class Conclusion:
    """All findings of a run, and the tables that go with them."""

    study: Study
    speed: SpeedFinding
    final_drive: FinalDriveFinding
    fuel: FuelFinding
    mountain: MountainFinding
    candidates: CandidatesFinding | None  # None where the study names none
    figures: TripFigures
    input: InputCount
    problems: tuple[Problem, ...]  # questions, companions, joins: what the reader should act on
    warnings: tuple[StudyWarning, ...]
    set_aside: pl.DataFrame

    @property
    def frames(self) -> dict[str, pl.DataFrame]:
        """The tables that go with the answers, by name: `days` is drawn, the others written too."""
        return {
            "trips": self.figures.trips,
            "segments": self.fuel.segments,
            "routes": self.mountain.frame,
            "days": self.fuel.days,
        }

    def results(self, run_id: str) -> Results:
        """All that `results.json` tells."""
        return Results(
            study=self.study.name,
            program="gearing",
            version=__version__,
            seed=self.study.seed,
            run_id=run_id,
            units=self.study.units,
            answered=_answered(self.speed, self.final_drive, self.fuel, self.mountain),
            input=self.input,
            declared=_declared(self.study),
            speed=self.speed,
            final_drive=self.final_drive,
            gears=self.final_drive.gears,
            fuel=self.fuel,
            routes=self.mountain.routes,
            mountain=self.mountain,
            candidates=() if self.candidates is None else self.candidates.candidates,
            candidates_basis=None if self.candidates is None else self.candidates.basis,
            warnings=self.warnings,
            questions=grouped(self.problems, {Severity.QUESTION}),
            notes=grouped(self.problems, {Severity.ERROR, Severity.WARNING, Severity.NOTE}),
            trips=tuple(_trip(row) for row in self.figures.trips.iter_rows(named=True)),
        )


def conclude(
    study: Study, reports: Sequence[FileReport], groups: Groups, records: list[TripRecord]
) -> Conclusion:
    """All findings, in the order they rest on one another.

    The road steps are taken out of `records` once they stand in one frame: with a lifetime of
    logs they are most of the memory.
    """
    made = list(records)
    records[:] = [r for r in made if study.holds(r.side, r.start, r.end)]
    records[:], misread = without_misread(records)
    figures = trip_figures(study, records)
    companions = read_companions(study, figures.trips)
    speed = find_speed(study, records, figures, fillups=companions.fillups)
    steps, heights = consistent_heights(road_steps_of(records, figures))
    records[:] = [replace(record, steps=record.steps.clear()) for record in records]
    fuel = _fuel(study, figures, steps, speed, companions)
    model = road_model(
        study,
        for_usual_axle(study, speed.revolutions_per_km),
        steps=steps,
        trips=figures.trips,
        upshifts=figures.upshifts,
    )
    mountain = mountain_of(
        study,
        model,
        profiles=companions.profiles,
        no_profiles=companions.no_profiles,
        upshifts=figures.upshifts,
    )
    final_drive = _gearing(study, figures, speed)
    doubted = routes_doubted((*speed.warnings, *final_drive.warnings, *mountain.warnings))
    candidates = _candidates(study, companions, speed, final_drive, model, doubted)
    reports = with_duplicates(reports, groups)
    return Conclusion(
        study=study,
        speed=speed,
        final_drive=final_drive,
        fuel=_fuel_withheld(fuel, (*speed.warnings, *mountain.warnings)),
        mountain=_withheld(mountain, doubted),
        candidates=candidates,
        figures=figures,
        input=input_count(reports),
        problems=_problems(reports, made, records, companions),
        warnings=(
            *logs_not_used(reports),
            *unseen_headings(study, ((one.log, one.headings) for one in reports)),
            *times_without_zone(study, reports),
            *misread,
            *heights,
            *companions.warnings,
            *_of_other_tires(made, records),
            *_change_outside(study, made),
            *_expected_left_out(study, speed, final_drive, fuel, mountain),
        ),
        set_aside=set_aside(reports, companions),
    )


def _candidates(
    study: Study,
    companions: CompanionFiles,
    speed: SpeedFinding,
    final_drive: FinalDriveFinding,
    model: RoadModel | Message,
    doubted: Message | None,
) -> CandidatesFinding | None:
    if not study.candidates:
        return None
    from gearing.analysis.candidates.find import find_candidates  # a quarter of a second to load

    return find_candidates(
        study,
        profiles=companions.profiles,
        turns=speed.revolutions_per_km,
        odometer_factor=speed.odometer_factor,
        change_percent=final_drive.change_percent,
        model=model,
        withheld=doubted,
    )


def _fuel(
    study: Study,
    figures: TripFigures,
    steps: pl.DataFrame,
    speed: SpeedFinding,
    companions: CompanionFiles,
) -> FuelFinding:
    odometer, tires = speed.odometer_factor, speed.relative
    return find_fuel(
        study,
        figures.trips,
        steps,
        odometer=odometer,
        tank_distance=tank_distance(odometer, tires.factor, tires.by),
        fillups=companions.fillups,
        weather=companions.weather,
        no_fillups=companions.no_fillups or NO_FILLUPS,
        no_weather=companions.no_weather or NO_WEATHER,
        no_indicated=_no_indicated(speed),
    )


def _problems(
    reports: Sequence[FileReport],
    made: Sequence[TripRecord],
    records: Sequence[TripRecord],
    companions: CompanionFiles,
) -> tuple[Problem, ...]:
    """What the reader should act on, or know of the files."""
    return (
        *(p for report in reports for p in (*report.questions, *report.repairs)),
        *(p for report in reports for p in report.set_aside_rows if p.severity is _WHOLE),
        *without_trips(reports, made),
        *companions.problems,
        # the trips of one log share what was found of it
        *dict.fromkeys(p for record in records for p in record.problems),
    )


def _expected_left_out(
    study: Study, *found: SpeedFinding | FinalDriveFinding | FuelFinding | MountainFinding
) -> list[StudyWarning]:
    """What the findings warn of, but for what is to be expected of such a vehicle."""
    return [w for one in found for w in one.warnings if w.code not in _EXPECTED[study.role]]


def _of_other_tires(
    made: Sequence[TripRecord], used: Sequence[TripRecord]
) -> tuple[StudyWarning, ...]:
    """Drives outside the periods as the study bounds them."""
    kept = {record.name for record in used}
    left = tuple(record.name for record in made if record.name not in kept)
    if not left:
        return ()
    return (warning(message("drives-of-other-tires", drives=len(left)), left),)


def _change_outside(study: Study, made: Sequence[TripRecord]) -> tuple[StudyWarning, ...]:
    """A change before or behind all drives: a date mistyped, or one still to come."""
    if not made:
        return ()
    first, last = min(one.start for one in made), max(one.end for one in made)
    change = study.change_outside(first, last)
    if change is None:
        return ()
    told = message(
        "change-outside-drives",
        after=change >= last,
        change=Moment.day(change),
        first=Moment.day(first),
        last=Moment.day(last),
    )
    return (warning(told),)


def _gearing(study: Study, figures: TripFigures, speed: SpeedFinding) -> FinalDriveFinding:
    """The gearing as engine or shaft speed shows it, else as the tires' figures make it."""
    found = find_final_drive(study, figures)
    if figures.trips["log_axle_turns"].count():
        return found
    turns = speed.revolutions_per_km.map(lambda one: one.estimate)
    tires = speed.relative
    return as_declared(found, study, figures.driven, turns, tires.tires, tires.tires_by)


def _no_indicated(speed: SpeedFinding) -> Text | None:
    """Why no distance of the dash can be believed; None where it can."""
    doubted = [side for side in SIDES if speed.unit_doubts.of(side) is not None]
    return speed.odometer_factor.of(doubted[0]).why if doubted else None


def _fuel_withheld(fuel: FuelFinding, warnings: Sequence[StudyWarning]) -> FuelFinding:
    """The fuel change without verdict and savings where the weight, by which each day's work is
    taken out, does not fit the logs, or where the periods look swapped."""
    keys = next((one.keys for one in warnings if "vehicle.fuel" in one.keys), None)
    why = look_swapped(warnings)
    if keys is not None and fuel.verdict_basis != "fillups":
        why = not_as_declared(keys)
    if why is None or fuel.verdict is None:
        return fuel
    nothing: dict[str, Any] = {"verdict": "cannot tell yet", "verdict_why": why}
    return replace(fuel, **nothing, savings=None, savings_why=why)


def _withheld(mountain: MountainFinding, why: Message | None) -> MountainFinding:
    """The routes without an answer where there is a reason to withhold them."""
    if why is None:
        return mountain
    nothing: dict[str, Any] = {
        "before": None, "after": None, "verdict": OPEN, "verdict_why": why, "care": (),
        "sections": (), "descents": (), "change": OPEN, "vehicle": OPEN,
    }  # fmt: skip
    routes = tuple(
        replace(
            route,
            **nothing,
            reversed=None if route.reversed is None else replace(route.reversed, **nothing),
        )
        for route in mountain.routes
    )
    return replace(mountain, routes=routes)


def mountain_alone(study: Study, *, reverse: bool, seed: int | None) -> MountainFinding:
    """The routes from what is declared, without any logs."""
    companions = read_companions(study)
    bare = trip_figures(study, ())
    turns = find_speed(study, (), bare).revolutions_per_km
    return find_mountain(
        study,
        profiles=companions.profiles,
        no_profiles=companions.no_profiles,
        revolutions_per_km=for_usual_axle(study, turns),
        seed=study.seed if seed is None else seed,
        reverse=reverse,
    )


def _trip(row: dict[str, Any]) -> Trip:
    indicated = row["indicated_m"]
    return Trip(
        name=row["trip"],
        period=row["side"],
        start=row["start"].isoformat(),
        true_km=None if row["true_m"] is None else row["true_m"] / 1000,
        indicated_km=None if indicated is None else indicated / 1000,
        liters=row["liters"],
        odometer_factor=row["odometer_factor"],
        final_drive=row["final_drive"],
        flags=tuple(row["flags"] or ()),
    )


def _declared(study: Study) -> Declared:
    return Declared(
        role=study.role,
        vehicle=study.vehicle,
        before=_declared_period(study.before),
        after=_declared_period(study.after),
        claim=study.claim,
        money=study.money,
        time_zone=study.time_zone,
        private_radius_m=study.private_radius_m,
        routes=tuple(route.name for route in study.routes),
    )


def _declared_period(period: Period | None) -> DeclaredPeriod | None:
    if period is None:
        return None
    said = {one.name: getattr(period, one.name) for one in fields(DeclaredPeriod)}
    return DeclaredPeriod(**said)


def _answered(
    speed: SpeedFinding,
    final_drive: FinalDriveFinding,
    fuel: FuelFinding,
    mountain: MountainFinding,
) -> bool:
    """At least one of the three questions has an answer."""
    estimates = (
        speed.odometer_factor.before,
        speed.odometer_factor.after,
        speed.speedometer_ratio.before,
        speed.speedometer_ratio.after,
        # what is declared alone is no answer of the evidence given
        *([] if final_drive.told else [final_drive.change_percent]),
    )
    roads = any(road.holds and road.ratio.known for road in speed.measured.roads)
    known = roads or any(one.known for one in estimates)
    return known or fuel.verdict is not None or bool(mountain.routes)
