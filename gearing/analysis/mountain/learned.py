"""What the owner's own logs say of the vehicle: weight, drag, rolling, friction, torque, fuel.

Over road steps driven under power in a known gear with the converter locked, the force the
engine gives at the wheels (from its logged load and the declared torque curve) must equal
rolling + air + grade + inertia. Divided by the mass, what the altitude and the speed show (their
noise is the largest) stands alone on one side, and the rest is linear in the unknowns over the
mass. With what is known of each beforehand as a prior that has one solution: linear regression
with Gaussian priors, outliers weighted down (Huber), wind of each trip as unknowns of their own,
and the autocorrelation of neighbors taken out of the count. Torque over mass is all a road can
show of these two: what it differs from the declared is shared between them by how well each is
known. Where the logs carry no more than the prior, the prior stands.

Engine load (SAE J1979 PID 04, SAE J1939 SPN 92) is the share of the torque available at the
present speed, friction included (from memory): brake torque = load x (full + friction) -
friction. The friction found so, at part load, takes up whatever that law does not fit, so it
serves the balance alone: what holds a vehicle back on a descent does not rest on it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.mountain.fuel_line import fuel_line
from gearing.analysis.mountain.inputs import Inputs, parameter
from gearing.analysis.mountain.powered_steps import NUMBERS, powered_steps
from gearing.analysis.sides import SIDES
from gearing.messages import message
from gearing.statistics.estimate import NORMAL_95
from gearing.statistics.robust import MAD_TO_DEVIATION
from gearing.units import STANDARD_GRAVITY_MPS2
from gearing.vehicle.atmosphere import LAPSE_K_PER_M, density_at_altitude_kgpm3
from gearing.vehicle.parameters import driveline_drag_n
from gearing.vehicle.road_load import engine_equivalent_mass_kg, rolling_coefficient

if TYPE_CHECKING:
    from gearing.analysis.mountain.result import Parameter
    from gearing.statistics.arrays import Array, Index
    from gearing.study.model import Side

MIN_STEPS = 150
MIN_TRIPS = 2
WIND_SD_MPS = 2.0  # at the vehicle, by trip; common practice, no source
# Deviation of the share of torque the driveline passes on, and of a gear's beside the others': what
# is usual of the standard losses (0.1 to 1.0 of them, `parameters`) times the 6 % they take of it
# and the 3 % between a direct and an indirect gear. Their drag is an unknown of its own.
EFFICIENCY_DOUBT, GEAR_DOUBT = 0.014, 0.007
AUXILIARY_DOUBT_W = 1000.0
# By how much the declared curve may tilt over a quarter of governed speed: two of its points, each
# with a deviation of 2 % (UN Regulation 85 leaves 4 %, from memory).
TILT_DOUBT, TILT_SPEED = 0.028, 0.25
# By how long load and speed of one row lie apart, on the bus and in the receiver: common practice,
# no source.
LOAD_DELAY_DOUBT_S = 0.5
# The balance itself is no better than this: a fifth of a percent of grade.
MIN_SPREAD_MPS2 = 0.02
HUBER = 1.5
# A declaration far off takes some fifteen rounds to be seen as such, another three or four.
MAX_ROUNDS, SETTLED_DEVIATIONS = 100, 0.005
# What the law of each leaves out, however many trips: how the engine's own curve is read; gusts and
# wind from the side; tires that warm up, and how their resistance goes with air and speed. Shares
# of the value; common practice, no source.
TORQUE_LAW, AIR_LAW, ROLLING_LAW = 0.02, 0.025, 0.12
SOURCE = message("source/fitted-with-prior")


def learn(
    steps: pl.DataFrame,
    sides: pl.DataFrame,
    inputs: Inputs,
    revolutions_per_km: dict[Side, float],
) -> dict[str, Parameter]:
    """Parameters the logs can say something about, each with its 95 % range; none where too few
    steps tell, or their balance never settles.

    Parameters
    ----------
    steps, sides
        road steps, and a table with `trip` and `side` of those to use.
    inputs
        what is declared or assumed: the priors.
    revolutions_per_km
        of the drive tires [1/km] by side.
    """
    balance = _balance_of(powered_steps(steps, sides), inputs, revolutions_per_km)
    solution = None if balance is None else balance.solve()
    if balance is None or solution is None:
        return {}
    found = balance.parameters(solution)
    crank_w = balance.crank_power_w(solution)
    return found | fuel_line(balance.used, crank_w, balance.rpm, inputs)


def fuel_by_road(
    steps: pl.DataFrame,
    sides: pl.DataFrame,
    inputs: Inputs,
    revolutions_per_km: dict[Side, float],
) -> dict[str, Parameter]:
    """Fuel on power where no engine load is logged: the power is what the road asked for by what
    is declared or usual, so that a route's fuel is as the logs have it, whatever these are off by.
    """
    powered = powered_steps(steps, sides, loaded=False)
    balance = _balance_of(powered, inputs, revolutions_per_km)
    if balance is None:
        return {}
    asked_w = balance.asked_power_w()
    pulls = asked_w > 0
    used = balance.used.filter(pl.Series(pulls))
    return fuel_line(used, asked_w[pulls], balance.rpm[pulls], inputs)


def _balance_of(
    powered: pl.DataFrame, inputs: Inputs, revolutions_per_km: dict[Side, float]
) -> _Balance | None:
    """The balance over steps in known gears; None of too few."""
    used = powered.filter(
        pl.col("side").is_in(list(revolutions_per_km)),
        pl.col("gear") <= len(inputs.powertrain.gear_ratios),
    )
    if used.height < MIN_STEPS or used["trip"].n_unique() < MIN_TRIPS:
        return None
    return _Balance(used, inputs, revolutions_per_km)


@dataclass(frozen=True, slots=True)
class _Unknown:
    """An unknown of the balance: what one of it gives [m/s2], step by step (n,), its prior, and
    the share of its value that its law leaves open however many the steps."""

    column: Array
    mean: float
    deviation: float
    law: float = 0.0


@dataclass(frozen=True, slots=True)
class _Solution:
    """Value and standard error of each unknown, and the two factors of power, over no mass."""

    value: dict[str, float]
    error: dict[str, float]
    torque_factor: float
    friction_factor: float


class _Balance:
    """The balance of forces over the declared mass [m/s2], one row a step; arrays of shape (n,)."""

    def __init__(
        self, used: pl.DataFrame, inputs: Inputs, revolutions_per_km: dict[Side, float]
    ) -> None:
        self.inputs, self.used = inputs, used
        powertrain, engine = inputs.powertrain, inputs.powertrain.engine
        columns = {name: used[name].cast(pl.Float64).to_numpy() for name in NUMBERS}
        self.gear = columns["gear"].astype(np.int64) - 1
        self.after = (used["side"] == "after").to_numpy()
        before, after = (revolutions_per_km.get(side, np.nan) for side in SIDES)
        shaft_per_m = np.where(self.after, after, before) / 1000 * powertrain.axle_ratio
        ratio = np.asarray(powertrain.gear_ratios)[self.gear]
        self.turns_per_m = shaft_per_m * ratio
        self.rpm = columns["speed_mps"] * self.turns_per_m * 60
        load = np.clip(columns["engine_load_percent"] / 100, 0.0, 1.0)
        self.altitude_m = (columns["altitude_m"] + columns["end_altitude_m"]) / 2
        full_nm = engine.full_load_torque_nm(self.rpm) * engine.altitude_factor(self.altitude_m)
        friction_nm = engine.drag_torque_nm(self.rpm)
        self.torque_nm, self.friction_nm = load * full_nm, (load - 1) * friction_nm
        self.torque_nm_per_s = columns["load_per_s"] / 100 * (full_nm + friction_nm)
        losses, share = powertrain.losses, inputs.central("loss_factor")
        efficiency = losses.efficiencies(powertrain.gear_ratios, share)[self.gear]
        drag_n = driveline_drag_n(losses, np.asarray(share), shaft_per_m, ratio, self.rpm)
        self.standard_drag_n = drag_n / share
        self.wheel_n_per_nm = 2 * pi * self.turns_per_m * efficiency
        # what a standard drag takes of the force at most torque
        per_torque = float(self.standard_drag_n.sum() / self.wheel_n_per_nm.sum())
        self.drag_of_full = per_torque / engine.peak_torque_nm
        self.celsius = self._temperature_c()
        self.density_kgpm3 = density_at_altitude_kgpm3(self.altitude_m, self.celsius)
        # clipped wider than a road is steep: a single step's rise is mostly noise
        self.sine = np.clip(columns["rise_m"] / columns["distance_m"], -0.3, 0.3)
        self.speed_mps, self.speed_squared = columns["speed_mps"], columns["speed_squared_m2ps2"]
        gained = columns["end_speed_mps"] ** 2 - columns["start_speed_mps"] ** 2
        self.acceleration_mps2 = gained / (2 * columns["distance_m"])

    def _temperature_c(self) -> Array:
        """The air's as logged, else as usual at the altitude [degC]."""
        standard: Array = self.inputs.central("temperature_c") - LAPSE_K_PER_M * self.altitude_m
        logged = self.used["ambient_temperature_c"].cast(pl.Float64).to_numpy()
        return np.where(np.isfinite(logged), logged, standard)

    def _shown_mps2(self) -> Array:
        """What altitude and speed show: acceleration, with what turns, and the pull of grade."""
        rotating_kg = self.inputs.rotating_kg + engine_equivalent_mass_kg(
            self.inputs.powertrain.engine.inertia_kgm2, 2 * pi * self.turns_per_m
        )
        turning = 1 + rotating_kg / self.inputs.central("mass_kg")
        shown: Array = self.acceleration_mps2 * turning + STANDARD_GRAVITY_MPS2 * self.sine
        return shown

    def _unknowns(self) -> dict[str, _Unknown]:
        """What is solved for, in units of the declared mass over the true one; a gear's own is its
        efficiency beside the others'."""
        central, relative = self.inputs.central, self._relative_deviation
        mass_kg, mass = central("mass_kg"), relative("mass_kg")
        per_nm, engine = self.wheel_n_per_nm / mass_kg, self.inputs.powertrain.engine
        torque, friction = per_nm * self.torque_nm, per_nm * self.friction_nm
        rolling, area = central("rolling_at_25c"), central("drag_area_m2")
        cooling = rolling_coefficient(
            np.ones_like(self.celsius), self.celsius, central("rolling_per_k")
        )
        pressing = STANDARD_GRAVITY_MPS2 * np.sqrt(1 - self.sine**2) * cooling
        air = 0.5 * self.density_kgpm3 * self.speed_squared / mass_kg
        tilt = (self.rpm - self.rpm.mean()) / (TILT_SPEED * engine.governed_rpm)
        rolled = rolling, relative("rolling_at_25c") * rolling, ROLLING_LAW
        found = {
            "torque": _Unknown(
                torque, central("torque_factor"), math.hypot(self._torque(), mass), TORQUE_LAW
            ),
            "friction": _Unknown(friction, central("friction_factor"), relative("friction_factor")),
            "rolling_before": _Unknown(-np.where(self.after, 0.0, pressing), *rolled),
            "rolling_after": _Unknown(-np.where(self.after, pressing, 0.0), *rolled),
            "drag": _Unknown(
                -air, area, math.hypot(relative("drag_area_m2"), mass) * area, AIR_LAW
            ),
            "auxiliary": _Unknown(
                -per_nm / (self.rpm * 2 * pi / 60),
                self.inputs.powertrain.auxiliary_w,
                AUXILIARY_DOUBT_W,
            ),
            "losses": _Unknown(
                -self.standard_drag_n / mass_kg,
                central("loss_factor"),
                relative("loss_factor") * central("loss_factor"),
            ),
            "tilt": _Unknown(torque * tilt, 0.0, TILT_DOUBT),
            "load_delay": _Unknown(per_nm * self.torque_nm_per_s, 0.0, LOAD_DELAY_DOUBT_S),
        }
        for gear in range(len(self.inputs.powertrain.gear_ratios)):
            own = np.where(self.gear == gear, torque + friction, 0.0)
            found[f"gear_{gear + 1}"] = _Unknown(own, 0.0, GEAR_DOUBT)
        return found

    def _winds(self) -> Array:
        """What wind of its usual size from the north, from the east takes away, shape (n, 2)."""
        course = np.radians(self.used["course_deg"].cast(pl.Float64).to_numpy())
        central = self.inputs.central
        usual = -WIND_SD_MPS * self.density_kgpm3 * central("drag_area_m2") * self.speed_mps
        along = np.stack([np.cos(course), np.sin(course)], axis=1)
        both: Array = np.nan_to_num((usual / central("mass_kg"))[:, None] * along)
        return both

    def _relative_deviation(self, name: str) -> float:
        """Prior standard deviation of a parameter over its value [-]."""
        one = self.inputs.parameters[name]
        return (one.high - one.low) / 2 / NORMAL_95 / one.value

    def _torque(self) -> float:
        """The same of the force at the wheels: the engine's torque and what gears pass on of it."""
        return math.hypot(self._relative_deviation("torque_factor"), EFFICIENCY_DOUBT)

    def solve(self) -> _Solution | None:
        """The unknowns, each trip's wind solved for and dropped; None where they never settle."""
        unknowns, winds = self._unknowns(), self._winds()
        rows = np.column_stack([one.column for one in unknowns.values()])
        mean, deviation, law = np.array(
            [(one.mean, one.deviation, one.law * one.mean) for one in unknowns.values()]
        ).T
        # rows show each unknown and its law's error as one: of that, what is the unknown's own
        both = np.hypot(deviation, law)
        own = deviation**2 / both
        # the prior's mean taken out, unknowns in units of what they vary by
        offset, scaled = self._shown_mps2() - rows @ mean, rows * both
        trip = self.used["trip"].rle_id().to_numpy().astype(np.int64)
        answer, covariance, wind = np.zeros(mean.size), np.eye(mean.size), np.zeros(winds.shape)
        for _ in range(MAX_ROUNDS):
            residual = offset - scaled @ answer - (winds * wind).sum(axis=1)
            spread = max(MAD_TO_DEVIATION * float(np.median(np.abs(residual))), MIN_SPREAD_MPS2)
            weights = np.minimum(1.0, HUBER * spread / np.maximum(np.abs(residual), 1e-12))
            weights /= spread**2 * self._design_effect(residual)
            last = answer
            answer, covariance, level = without_levels(scaled, offset, weights, winds, trip)
            wind = level[trip]
            if np.abs(answer - last).max() < SETTLED_DEVIATIONS:
                break
        else:
            return None
        names = list(unknowns)
        shown = np.eye(mean.size)
        # torque is that of the gears driven, each with its own efficiency; what is open of it is
        # what is open of the force at most torque
        gears = np.bincount(self.gear, minlength=len(self.inputs.powertrain.gear_ratios))
        shown[0, -gears.size :] = gears / self.gear.size
        value, seen = shown @ (mean + own * answer), shown @ (mean + both * answer)
        shown[0, names.index("losses")] = -self.drag_of_full
        among, left = shown * own, deviation**2 - own**2
        error = np.sqrt(np.einsum("ij,jk,ik->i", among, covariance, among) + shown**2 @ left)
        found = dict(zip(names, value.tolist(), strict=True))
        # power is what the rows show, however far from what is declared
        power = seen[:2] * self._heavier(found["torque"])
        return _Solution(found, dict(zip(names, error.tolist(), strict=True)), *power.tolist())

    def _heavier(self, torque: float) -> float:
        """The true over the declared mass: torque over mass, split by what is known of each."""
        return float(torque ** -self._mass_share())

    def _mass_share(self) -> float:
        """Share of what torque over mass is off by that is the mass's, by what is known of each."""
        mass, torque = self._relative_deviation("mass_kg"), self._torque()
        return mass**2 / (mass**2 + torque**2)

    def _design_effect(self, residual: Array) -> float:
        """How many steps count as one: (1 + r)/(1 - r), r their lag-1 autocorrelation."""
        trip = self.used["trip"].to_numpy()
        same = trip[1:] == trip[:-1]
        reach = 3 * float(np.std(residual))
        clipped = np.clip(residual, -reach, reach)
        if same.sum() < 20 or reach <= 0:
            return 1.0
        together = float(clipped[1:][same] @ clipped[:-1][same])
        r = min(max(together / float(clipped @ clipped), 0.0), 0.95)
        return (1 + r) / (1 - r)

    def parameters(self, solution: _Solution) -> dict[str, Parameter]:
        """Unknowns over mass to parameters, with their 95 % ranges."""
        value, error = solution.value, solution.error
        mass_doubt, share = self._relative_deviation("mass_kg"), self._mass_share()
        heavier = self._heavier(value["torque"])
        # what the road cannot show of either is open in both alike
        alike = mass_doubt**2 * (1 - share)
        mass_error = ((share * error["torque"]) ** 2 + alike) ** 0.5
        torque_error = (((1 - share) * error["torque"]) ** 2 + alike) ** 0.5
        # one for both sets of tires: drawn from either that was driven
        driven = [side for side in SIDES if (self.after == (side == "after")).any()]
        means, errors = (np.array([of[f"rolling_{s}"] for s in driven]) for of in (value, error))
        rolling_error = float(((errors**2).mean() + means.var()) ** 0.5)
        mass_kg = self.inputs.central("mass_kg") * heavier
        found = {
            "mass_kg": (mass_kg, mass_error * mass_kg),
            "torque_factor": (value["torque"] * heavier, torque_error),
            "drag_area_m2": (value["drag"] * heavier, error["drag"]),
            "rolling_at_25c": (float(means.mean()), rolling_error),
            "loss_factor": (value["losses"], error["losses"]),
        }
        return {
            name: parameter(
                name, middle, max(middle - NORMAL_95 * sd, 1e-6), middle + NORMAL_95 * sd, SOURCE
            )
            for name, (middle, sd) in found.items()
        }

    def asked_power_w(self) -> Array:
        """Power at the crankshaft [W] that the road asks for by what is known beforehand, by
        step."""
        unknowns = self._unknowns()
        takes = ("rolling_before", "rolling_after", "drag", "auxiliary", "losses")
        taken = [unknowns[name].column * unknowns[name].mean for name in takes]
        per_nm = self.wheel_n_per_nm / self.inputs.central("mass_kg")
        torque_nm = (self._shown_mps2() - np.sum(taken, axis=0)) / per_nm
        power: Array = torque_nm * self.rpm * 2 * pi / 60
        return power

    def crank_power_w(self, solution: _Solution) -> Array:
        """Power at the crankshaft [W] by step."""
        torque, friction = solution.torque_factor, solution.friction_factor
        power: Array = (torque * self.torque_nm + friction * self.friction_nm) * self.rpm * 2 * pi
        return power / 60


def without_levels(
    rows: Array, values: Array, weights: Array, own: Array, group: Index
) -> tuple[Array, Array, Array]:
    """Posterior of coefficients that all rows share, beside others that each group has of its own.

    All have standard normal priors; `rows` (n, p) and `own` (n, q) are their designs, `group` (n,)
    rises from 0. Gives the shared (p,), their covariance (p, p) and the groups' own (g, q). Each
    group's are eliminated by its Schur complement, so that the work grows with the rows alone.
    """
    begins = np.flatnonzero(np.diff(group, prepend=-1))
    weighted = own * weights[:, None]

    def sums(products: Array) -> Array:
        total: Array = np.add.reduceat(products, begins, axis=0)
        return total

    among = sums(weighted[:, :, None] * own[:, None, :]) + np.eye(own.shape[1])
    across = sums(weighted[:, :, None] * rows[:, None, :])
    toward = sums(weighted * values[:, None])
    solved = np.linalg.solve(among, across)
    information = rows.T @ (rows * weights[:, None]) + np.eye(rows.shape[1])
    covariance = np.asarray(np.linalg.inv(information - np.einsum("gqp,gqr->pr", across, solved)))
    pull = rows.T @ (weights * values) - np.einsum("gqp,gq->p", solved, toward)
    shared: Array = covariance @ pull
    left = (toward - across @ shared)[:, :, None]
    return shared, covariance, np.asarray(np.linalg.solve(among, left)[:, :, 0])
