"""The engine: torque at full load, altitude, friction, retarder and fuel.

Curves are tuples of points and held level outside them; evaluation takes floats or
arrays. Torque is in N m, speed in rpm, power in W.

Sources
-------
[1] Torque against speed is the maker's published curve, given in the study.
[2] Altitude: naturally aspirated engines lose 3 % a 1,000 ft (vehicle manuals; an agricultural
    text says above 500 ft). Turbocharged diesels keep their torque to 5,000 or 10,000 ft and
    lose 2 to 4 % a 1,000 ft above (from memory): the default here is none to 2,000 m, then
    3 % a 1,000 ft, and the study may set both.
[3] Friction: the drag curve of one published 40 t truck simulation is 6.5 % of peak torque at
    idle and 10.6 % at rated speed; the default line is drawn through these and its interval is
    wide (common practice).
[4] Fuel as a Willans line: fuel rate is linear in power at a speed, the intercept being
    friction, which is proportional to speed (textbooks on combustion engines). The defaults
    stand in `parameters`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi
from typing import TYPE_CHECKING

import numpy as np

from gearing.units import FOOT_M

if TYPE_CHECKING:
    from typing import Any

    # a float or an array: numpy's own functions take either and give the same back
    Number = Any

PERCENT_PER_KM_PER_3_PERCENT_PER_1000_FT = 3 / (1000 * FOOT_M / 1000)  # 9.84 % a km
TURBO_DERATE_ABOVE_M = 2000.0  # [2]
ASPIRATED_DERATE_ABOVE_M = 500 * FOOT_M  # [2]
DRAG_AT_STANDSTILL = 0.045  # [3] of peak torque
DRAG_PER_1000_RPM = 0.035  # [3]
LUGGING_TORQUE_SHARE = 0.85  # common practice, no source
MIN_ALTITUDE_FACTOR = 0.3
HIGH_IDLE_RATIO = 1.08  # from governed speed to no fuel at all; common practice, no source


def radians_per_second(rpm: Number) -> Number:
    """Angular speed [rad/s] of a rotation [rpm]."""
    return rpm * (2 * pi / 60)


@dataclass(frozen=True, slots=True)
class WillansLine:
    """Fuel rate [L/h] = `l_per_kwh` x power [kW] + `l_per_h_per_krpm` x speed [1,000 rpm]."""

    l_per_kwh: float
    l_per_h_per_krpm: float

    def fuel_rate_lph(self, power_w: Number, rpm: Number) -> Number:
        """Fuel rate [L/h] at a power [W] and speed [rpm]; none on overrun. Source [4]."""
        return np.maximum(
            power_w * (self.l_per_kwh / 1000) + rpm * (self.l_per_h_per_krpm / 1000),
            0.0,
        )


@dataclass(frozen=True, slots=True)
class Retarder:
    """What brakes besides friction: power [W] against the speed [rpm] of the shaft it sits on."""

    rpm: tuple[float, ...]
    power_w: tuple[float, ...]
    on_output_shaft: bool = False

    def torque_nm(self, rpm: Number) -> Number:
        """Braking torque [N m] on its own shaft: straight from nothing at standstill to the
        first point, as after it from point to point."""
        torque: tuple[float, ...] = tuple(
            power / radians_per_second(speed)
            for speed, power in zip(self.rpm, self.power_w, strict=True)
        )
        return np.interp(rpm, (0.0, *self.rpm), (0.0, *torque))


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """An engine as the mountain part needs it. Curves as in the module's docstring."""

    rpm: tuple[float, ...]
    torque_nm: tuple[float, ...]
    governed_rpm: float
    idle_rpm: float
    willans: WillansLine
    derate_above_m: float = TURBO_DERATE_ABOVE_M
    derate_percent_per_km: float = PERCENT_PER_KM_PER_3_PERCENT_PER_1000_FT
    drag_at_standstill: float = DRAG_AT_STANDSTILL  # share of peak torque
    drag_per_1000_rpm: float = DRAG_PER_1000_RPM  # share of peak torque
    inertia_kgm2: float = 1.5
    retarder: Retarder | None = field(default=None)

    @property
    def peak_torque_nm(self) -> float:
        """Most torque [N m] among the points of the full-load curve."""
        return max(self.torque_nm)

    @property
    def peak_torque_rpm(self) -> tuple[float, float]:
        """The band [rpm] in which the curve gives at least 98 % of its peak."""
        return _band(self.rpm, self.torque_nm, 0.98 * self.peak_torque_nm)

    @property
    def peak_power_w(self) -> float:
        """Power [W] at most of the curve's points up to governed speed."""
        speeds = [min(rpm, self.governed_rpm) for rpm in self.rpm]
        return float(max(radians_per_second(rpm) * self.full_load_torque_nm(rpm) for rpm in speeds))

    @property
    def lugging_rpm(self) -> float:
        """Speed [rpm] under which the curve falls below 85 % of peak torque at the low end."""
        low, _ = _band(self.rpm, self.torque_nm, LUGGING_TORQUE_SHARE * self.peak_torque_nm)
        return low

    @property
    def efficient_rpm(self) -> tuple[float, float]:
        """The band [rpm] of least fuel for the work: from lugging speed to the end of the torque
        peak. By a Willans line the same power takes less fuel the slower the engine turns, so
        nothing but lugging bounds it below; source [4]."""
        return self.lugging_rpm, self.peak_torque_rpm[1]

    def full_load_torque_nm(self, rpm: Number) -> Number:
        """Torque [N m] at full load at sea level; none left at high idle. Source [1]."""
        # The governor's own fall from full torque to none, as a share of the torque.
        share = (self.governed_rpm * HIGH_IDLE_RATIO - rpm) / (
            self.governed_rpm * (HIGH_IDLE_RATIO - 1)
        )
        return np.interp(rpm, self.rpm, self.torque_nm) * np.clip(share, 0.0, 1.0)

    def drag_torque_nm(self, rpm: Number) -> Number:
        """Torque [N m] it takes to turn the engine without fuel. Source [3]."""
        return self.peak_torque_nm * (
            self.drag_at_standstill + rpm * (self.drag_per_1000_rpm / 1000)
        )

    def altitude_factor(self, altitude_m: Number) -> Number:
        """Share of its torque left at an altitude [m], at least 30 %. Source [2]."""
        return altitude_factor(altitude_m, self.derate_above_m, self.derate_percent_per_km)


def altitude_factor(altitude_m: Number, above_m: float, percent_per_km: float) -> Number:
    """Share of torque left at an altitude [m]: a straight loss above `above_m`, at least 30 %."""
    left = 1 - np.maximum(altitude_m - above_m, 0.0) * (percent_per_km / 100 / 1000)
    return np.maximum(left, MIN_ALTITUDE_FACTOR)


def default_idle_rpm(lowest_curve_rpm: float, governed_rpm: float) -> float:
    """Idle where the study does not say: 40 CFR 1037.520(h) has 600 to 750 rpm for diesels."""
    return min(700.0, lowest_curve_rpm, governed_rpm / 2)


def default_inertia_kgm2(peak_torque_nm: float) -> float:
    """Rotating inertia of engine and flywheel: about 2 kg m2 a 1,000 N m (common practice)."""
    return 2.0 * peak_torque_nm / 1000


def _band(rpm: tuple[float, ...], torque: tuple[float, ...], level: float) -> tuple[float, float]:
    """Where a curve's stretch around its peak stays above `level`, between the points too."""
    peak = torque.index(max(torque))
    low, high = rpm[peak], rpm[peak]
    for i in range(peak, 0, -1):
        if torque[i - 1] < level:
            low = rpm[i] - (rpm[i] - rpm[i - 1]) * (torque[i] - level) / (torque[i] - torque[i - 1])
            break
        low = rpm[i - 1]
    for i in range(peak, len(rpm) - 1):
        if torque[i + 1] < level:
            high = rpm[i] + (rpm[i + 1] - rpm[i]) * (torque[i] - level) / (
                torque[i] - torque[i + 1]
            )
            break
        high = rpm[i + 1]
    return low, high
