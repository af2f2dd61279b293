"""The mountain answer as frozen dataclasses: field names are the keys of `results.json`.

Speeds in km/h, grades in percent, energies in kWh. A `spread` gives the 95 % range of a figure
over the draws of what is not known for sure; the figure itself is that of the central inputs,
or of braking the mean over the draws.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import polars as pl

from gearing.analysis.mountain.descent_figures import LongDescent
from gearing.analysis.sides import BySide
from gearing.messages import StudyWarning, Text
from gearing.statistics.estimate import Estimate

Verdict = Literal["suits", "suits with care", "does not suit", "cannot tell yet"]


@dataclass(frozen=True, slots=True)
class Spread:
    """95 % range over the draws."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Descent:
    """What gears and retarder do on the way down, and what is left to the service brakes.

    `gear` is the highest that holds the route's steepest 500 m of descent at or under the
    speed wanted there without service brakes, and does so in 95 % of the draws; else the lowest
    that can be driven there. `held_speed_kmh` is what it holds, with its 95 % range over the
    draws in `held_spread_kmh`; None where it does not hold the grade so. `brake_share` is the
    service brakes' part of all braking; `retarder_kwh` is what falls to them too where the retarder
    is off. Energies are means over the draws.
    """

    gear: int | None
    held_speed_kmh: float | None
    brake_kwh: float
    brake_share: float
    steepest_percent: float
    engine_and_retarder_kwh: float
    retarder_kwh: float
    held_by_gear_kmh: dict[str, float | None]  # by gear, None: not held under governed speed
    held_spread_kmh: Spread | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteSide:
    """One route on one set of tires, one way.

    `sustained_lowest_kmh` is the lowest mean over 300 m of a climb, `top_gear_sustains_percent` the
    grade top gear holds at the speed wanted (None where it cannot run at it), `gear_time_share` by
    gear of the time under way. `downshifts` are all changes to a lower gear, in the middle one of
    all draws; those under drive are counted apart, of one drive, with where they are.
    `brake_stops`: the service brakes' work on descents in full stops from the speed wanted, in
    95 % of the draws no more.
    """

    minutes: float
    liters: float
    lowest_speed_kmh: float
    sustained_lowest_kmh: float
    top_gear_sustains_percent: float | None
    gear_time_share: dict[str, float]
    downshifts_under_drive: int
    downshifts_at_km: tuple[float, ...]
    converter_open_minutes: float
    brake_stops: float
    lowest_at_km: float
    gear_at_lowest: int
    engine_rpm_at_lowest: float
    downshifts: int
    minutes_at_full_load: float
    margin_before_downshift_percent: float | None
    hunting: int
    starts_on_steepest: bool
    descent: Descent | None
    spread: dict[str, Spread]


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionSide:
    """One grade section on one set of tires."""

    lowest_speed_kmh: float
    gear: int
    engine_rpm: float
    full_load_share: float
    downshifts: int
    minutes: float
    liters: float
    margin_before_downshift_percent: float | None
    hunting: int
    brake_kwh: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeSection:
    """A stretch that climbs or falls throughout."""

    from_km: float
    to_km: float
    mean_grade_percent: float
    steepest_grade_percent: float
    rise_m: float
    before: SectionSide | None
    after: SectionSide | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteWay:
    """One route one way, under the name of that way; `care` is what to watch there, or what fails.

    `change` judges what the change of tires does, `vehicle` how the vehicle on its new tires
    stands on this road by itself; `verdict` is the worse of the two.
    """

    name: Text
    before: RouteSide | None
    after: RouteSide | None
    verdict: Verdict
    verdict_why: Text | None = None
    care: tuple[Text, ...] = ()
    sections: tuple[GradeSection, ...] = ()
    descents: tuple[LongDescent, ...] = ()
    change: Verdict = "cannot tell yet"
    vehicle: Verdict = "cannot tell yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Route(RouteWay):
    """A named route both ways; `verdict` and sides are those of the way that `name` names.

    That is the way of the study, or the other one where routes are judged in reverse.
    `missing_km` are stretches of the profile without points, from and to as its file counts;
    `widest_spacing_km` is the longest way between two of its points.
    """

    reversed: RouteWay | None = None
    length_km: float | None = None
    climb_m: float | None = None
    impossible_grade_percent: float | None = None  # where one withholds the verdict
    mended: int = 0  # false heights of the profile drawn straight between their neighbors
    elevation: Text = ""  # how the profile's altitude was handled
    smoothed: bool = False
    missing_km: tuple[tuple[float, float], ...] = ()
    widest_spacing_km: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GearHolds:
    """What one gear holds on one set of tires. None where the gear cannot run at a speed."""

    gradeability_percent: Estimate
    at_kmh: float | None
    engine_rpm: float | None
    up_percent: dict[str, float | None]  # by speed, "80" km/h
    down_percent: dict[str, float | None]
    sustained_percent: dict[str, float]  # up, every 5 km/h that the gear can run at


@dataclass(frozen=True, slots=True, kw_only=True)
class GearGrades:
    """Steepest grades a gear holds, before and after."""

    gear: int
    ratio: float
    before: GearHolds | None
    after: GearHolds | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HillSpeed:
    """Highest steady speed at full load on a long grade, and its gear; None where none holds."""

    grade_percent: float
    before_kmh: float | None
    before_gear: int | None
    after_kmh: float | None
    after_gear: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cruise:
    """Level road at one speed in top gear, on one set of tires."""

    speed_kmh: float
    gear: int
    engine_rpm: float
    load_percent: float
    below_peak_torque: bool
    lugging: bool
    in_efficient_band: bool
    headwind_for_downshift_kmh: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One input of the road model: its figure, where it is from, and whether it is assumed."""

    name: str
    label: Text
    unit: str
    value: float
    low: float
    high: float
    source: Text
    assumed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HillModel:
    """A logged hill as the road model drives it: the central drive, and `spread` of each figure."""

    lowest_speed_kmh: float
    downshifts: int
    gear: int  # driven for most of the time
    spread: dict[str, Spread]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClimbSide:
    """All passes of one logged hill on one set of tires, medians of them, and the model beside.

    `downshifts` are steps of 100 m in a lower gear than the one before, in the model too.
    """

    traversals: int
    lowest_speed_kmh: float | None
    full_load_share: float | None
    downshifts: float | None
    gear: int | None  # driven for most of the time
    peak_coolant_c: float | None
    peak_transmission_oil_c: float | None
    model: HillModel | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedClimb:
    """A climb or descent found in the logs, the same hill in every pass.

    `route` is the route it lies on and `from_km`, `to_km` where, None where on none; `disagrees`
    is where logs and model differ by more than what is open of either.
    """

    name: str
    length_km: float
    rise_m: float
    mean_grade_percent: float
    before: ClimbSide | None
    after: ClimbSide | None
    disagrees: tuple[Text, ...] = ()
    route: Text | None = None
    from_km: float | None = None
    to_km: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedStretch:
    """One stretch driven at full load: where it began, where it ended, what the model says."""

    side: str
    km: float
    grade_percent: float
    start_kmh: float
    logged_kmh: float
    model_kmh: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelCheck:
    """The road model against the logs: speed at the end of stretches driven at full load."""

    stretches: int
    km: float
    bias_kmh: float | None
    rms_kmh: float | None
    median_absolute_percent: float | None
    checked: tuple[CheckedStretch, ...] = ()
    why: Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedGrade:
    """How far the logged drives went on grades between two limits, None for no limit, and the
    speed that half of that way was driven faster than."""

    low_percent: float | None
    high_percent: float | None
    km: float
    speed_kmh: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GearShare:
    """Of the road that climbs, and of that which falls, by 2 % or more over a kilometer, the share
    [%] for which a gear is the highest that holds at the speed driven there; None where no road
    does."""

    up_percent: Estimate | None
    down_percent: Estimate | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedGear:
    """What one gear holds of the roads driven, before and after; without a gear, what none does."""

    gear: int | None
    before: GearShare | None
    after: GearShare | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadsAsked:
    """Grades and speeds of the logged drives, at their mean altitude, and what each gear holds."""

    km: float
    altitude_m: float
    up_km: float
    down_km: float
    grades: tuple[AskedGrade, ...]
    gears: tuple[AskedGear, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MountainFinding:
    """The third question's answer. `frame` has a row each piece of each route, for
    `routes.parquet`: route, direction, distance_m, altitude_m, and for each side speed_mps,
    gear, engine_rpm, load (share of full load, negative where the engine brakes)."""

    routes: tuple[Route, ...]
    routes_why: Text | None
    startability_percent: BySide[Estimate]
    gears: tuple[GearGrades, ...] = ()
    gears_why: Text | None = None
    gears_altitude_m: float | None = None  # at which gears, startability and cruise are calculated
    hills: tuple[HillSpeed, ...] = ()
    cruise: BySide[tuple[Cruise, ...]] = field(default_factory=lambda: BySide((), ()))
    peak_power_kw: float | None = None  # of the torque curve declared
    lugging_rpm: float | None = None
    peak_torque_rpm: tuple[float, float] | None = None
    efficient_rpm: tuple[float, float] | None = None  # see `vehicle.engine.Engine.efficient_rpm`
    parameters: tuple[Parameter, ...] = ()
    assumed: tuple[Text, ...] = ()
    climbs: tuple[LoggedClimb, ...] = ()
    logged_descents: tuple[LoggedClimb, ...] = ()
    model_check: ModelCheck
    draws: int
    seed: int
    warnings: tuple[StudyWarning, ...]
    frame: pl.DataFrame = field(repr=False)
    asked: RoadsAsked | None = None  # by the drives themselves, None without altitudes
