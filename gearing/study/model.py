"""The study as declared: frozen, checked, everything in SI or in the unit a name ends with."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from gearing.logs.column_rule import ColumnRule

Transmission = Literal["converter", "manual", "automated"]
SpeedSource = Literal["output shaft", "drive wheels", "front wheels", "unknown"]
Side = Literal["before", "after"]
Role = Literal["changed", "control"]
FuelKind = Literal["diesel", "gasoline"]
Fitment = Literal["single", "dual", "wide-base single"]
RetarderKind = Literal["compression", "exhaust", "hydraulic", "electric"]
Brakes = Literal["drum", "disc", "mixed"]
RetarderShaft = Literal["engine", "output shaft"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Retarder:
    """What brakes the vehicle besides the service brakes: power against the speed of `shaft`."""

    kind: RetarderKind
    shaft: RetarderShaft
    rpm: tuple[float, ...]
    power_w: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """What the mountain part needs of the engine."""

    rpm: tuple[float, ...]
    torque_nm: tuple[float, ...]
    governed_rpm: float | None = None
    idle_rpm: float | None = None
    derate_above_m: float | None = None  # altitude below which the engine keeps its torque
    derate_percent_per_km: float | None = None
    retarder: Retarder | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    mass_kg: float | None = None
    fuel: FuelKind | None = None
    axle_ratio: float | None = None
    gear_ratios: tuple[float, ...] = ()
    transmission: Transmission | None = None  # None: unknown
    speed_source: SpeedSource = "unknown"
    shaft_pulses: int | None = None  # pulses per output-shaft turn
    drag_area_m2: float | None = None
    rolling_resistance: float | None = None
    rolling_temperature_per_k: float | None = None
    combination: bool = False  # a tractor with its semitrailer
    axles: int | None = None  # of the whole vehicle or combination
    brakes: Brakes | None = None  # service brakes, on all axles
    engine: Engine | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    side: Side
    drive_tire: str
    steer_tire: str | None = None
    revolutions_per_km: float | None = None  # published figure
    axle_ratio: float | None = None  # only where the axle was changed too
    logs: tuple[str, ...] = ()
    start: datetime | None = None  # when they went on; of [after], the change
    end: datetime | None = None  # when they came off again
    pressure_kpa: float | None = None
    fitment: Fitment | None = None
    tread_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Weight between two moments, where it differs from the vehicle's usual."""

    start: datetime
    end: datetime
    mass_kg: float | None = None
    towing: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A stretch of known true length, or the same road driven in both periods (`road`)."""

    start: datetime
    end: datetime
    distance_m: float | None = None
    road: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DashReading:
    """What the needle or the odometer showed at a moment."""

    at: datetime
    speed_mps: float | None = None
    odometer_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    consumption_change_percent: float  # negative is a saving


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    fuel_price_per_l: float | None = None
    currency: str = "USD"
    distance_per_year_m: float | None = None
    cost: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    name: str
    profile: Path
    target_speed_mps: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A size or an axle not bought yet; what is None stays as it is on the vehicle."""

    name: str
    drive_tire: str | None = None
    revolutions_per_km: float | None = None  # published figure
    axle_ratio: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    name: str
    slug: str
    path: Path  # the study file itself
    role: Role = "changed"  # a fleet's control kept its tires: both periods are on one size
    units: Literal["us", "metric"] = "metric"
    time_zone: str = "UTC"
    zone_named: bool = False  # whether the study says so
    fillups: Path | None = None
    weather: Path | None = None
    dash_file: Path | None = None  # its readings stand in `dash`
    private_radius_m: float = 0.0
    seed: int = 1
    margin_percent: float = 1.0  # smaller than this a fuel change counts as none
    vehicle: Vehicle = Vehicle()
    before: Period | None = None
    after: Period | None = None
    logs: tuple[str, ...] = ()  # where the periods are split by date
    loads: tuple[Load, ...] = ()
    measured: tuple[Measured, ...] = ()
    dash: tuple[DashReading, ...] = ()
    columns: tuple[ColumnRule, ...] = ()
    claim: Claim | None = None
    money: Money | None = None
    routes: tuple[Route, ...] = ()
    candidates: tuple[Candidate, ...] = ()

    @property
    def folder(self) -> Path:
        """The folder of the study file, to which its paths are relative."""
        return self.path.parent

    @property
    def has_logs(self) -> bool:
        """Whether the study names logs, of both periods together or of either."""
        return bool(self.logs or any(one and one.logs for one in (self.before, self.after)))

    def period(self, side: str) -> Period | None:
        """The period `before`, or for any other word `after`; None where it is not declared."""
        return self.before if side == "before" else self.after

    def holds(self, side: str, start: datetime, end: datetime) -> bool:
        """Whether a span of time lies in a period as far as the study bounds it."""
        period = self.period(side)
        first = None if period is None else period.start
        last = None if period is None else period.end
        return (first is None or start >= first) and (last is None or end <= last)

    def change_outside(self, first: datetime, last: datetime) -> datetime | None:
        """The change of tires where it does not lie between two moments; None where it does, or
        no day is declared."""
        if self.before is None or self.after is None or self.after.start is None:
            return None
        return None if first < self.after.start < last else self.after.start

    def axle_ratio(self, side: str) -> float | None:
        """The axle ratio declared for a period, else the vehicle's."""
        period = self.period(side)
        own = None if period is None else period.axle_ratio
        return self.vehicle.axle_ratio if own is None else own
