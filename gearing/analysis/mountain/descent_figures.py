"""Each long descent as frozen dataclasses: field names are the keys of `results.json`.

Speeds in km/h, grades in percent and positive where the road falls, energies in kWh, temperatures
in degC.
"""

from __future__ import annotations

from dataclasses import dataclass

from gearing.messages import Text


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """95 % range over the draws."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BrakeTemperature:
    """Drum brakes at their hottest on a descent, by the published grade severity model.

    The range is over both published sets of constants and 95 % of the draws; `with_stop` is with
    one emergency stop there, `limit` what the model's authors call the most.
    """

    low: float
    high: float
    with_stop_low: float
    with_stop_high: float
    limit: float
    source: Text


@dataclass(frozen=True, slots=True, kw_only=True)
class GearsDown:
    """What gears hold on the steepest 500 m, by engine and retarder or by the engine alone.

    `held_by_gear_kmh` is that of the central draw, None where a gear does not hold the grade under
    governed speed; `gear` the highest that holds it at or under the speed wanted, in the central
    draw and in 95 % of all, None where none does. `unheld_share`: of the draws, in which no gear
    holds it at the very speed wanted.
    """

    held_by_gear_kmh: dict[str, float | None]
    gear: int | None
    unheld_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DescentSide:
    """One descent on one set of tires.

    `retarder_off` is None where the vehicle has none. `brake_kwh` is the service brakes' work,
    the mean over the draws, `brake_kw` their mean power, `brake_kw_highest` the highest over
    500 m, `brake_stops` that work in full stops from the speed wanted on the road's descents, in
    95 % of the draws no more. `care` says what asks for care there.
    """

    retarder_on: GearsDown
    retarder_off: GearsDown | None
    minutes: float
    brake_kwh: float
    brake_kwh_spread: Range
    brake_kw: float
    brake_kw_highest: float
    brake_stops: float
    brake_temperature_c: BrakeTemperature | None
    brake_temperature_c_why: Text | None
    care: tuple[Text, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LongDescent:
    """A stretch that falls throughout; `steepest_percent` is over 500 m, or all if shorter."""

    from_km: float
    to_km: float
    length_km: float
    drop_m: float
    mean_grade_percent: float
    steepest_percent: float
    wanted_kmh: float  # there, on the steepest 500 m
    before: DescentSide | None
    after: DescentSide | None
