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

from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.mountain.fuel_line import fuel_line
from gearing.analysis.mountain.inputs import Inputs, parameter
from gearing.analysis.mountain.powered_steps import NUMBERS, powered_steps
from gearing.messages import Text, message
from gearing.statistics.estimate import NORMAL_95
from gearing.statistics.robust import MAD_TO_DEVIATION
from gearing.units import STANDARD_GRAVITY_MPS2
from gearing.vehicle.atmosphere import density_at_altitude_kgpm3
from gearing.vehicle.parameters import driveline_drag_n
from gearing.vehicle.road_load import engine_equivalent_mass_kg, rolling_coefficient

if TYPE_CHECKING:
    from gearing.analysis.mountain.result import Parameter
    from gearing.statistics.arrays import Array, Index
    from gearing.study.model import Side
    from gearing.vehicle.engine import Engine

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
MAX_ROUNDS, SETTLED_DEVIATIONS = 20, 0.005
# What the law of each leaves out, however many trips: how the engine's own curve is read; gusts and
# wind from the side; tires that warm up, and how their resistance goes with air and speed. Shares
# of the value; common practice, no source.
LAW_DOUBT = {"torque": 0.02, "drag": 0.025, "rolling_before": 0.12, "rolling_after": 0.12}
SOURCE = message("source/fitted-with-prior")


@dataclass(frozen=True, slots=True)
class Learned:
    """Parameters by name, with the count of steps and trips, or why there are none."""

    parameters: dict[str, Parameter]
    steps: int
    trips: int
    why: Text | None = None


def learn(
    steps: pl.DataFrame | None,
    sides: pl.DataFrame | None,
    inputs: Inputs,
    revolutions_per_km: dict[Side, float],
) -> Learned:
    """Parameters the logs can say something about, each with its 95 % range.

    Parameters
    ----------
    steps, sides
        road steps, and a table with `trip` and `side` of those to use.
    inputs
        what is declared or assumed: the priors.
    revolutions_per_km
        of the drive tires [1/km] by side.
    """
    if steps is None or sides is None or steps.height == 0:
        return Learned({}, 0, 0, message("no-logs"))
    used = powered_steps(steps, sides)
    used = used.filter(
        pl.col("side").is_in(list(revolutions_per_km)),
        pl.col("gear") <= len(inputs.powertrain.gear_ratios),
    )
    trips = used["trip"].n_unique()
    if used.height < MIN_STEPS or trips < MIN_TRIPS:
        return Learned({}, used.height, trips, message("few-known-steps"))
    balance = _Balance(used, inputs, revolutions_per_km)
    found = balance.solve()
    found.update(fuel_line(used, balance.crank_power_w(), balance.rpm, inputs))
    return Learned(found, used.height, trips)


class _Balance:
    """The balance of forces over the declared mass, one row a step.

    Unknowns, in units of the declared mass over the true one: torque factor, friction factor,
    rolling coefficient before and after, drag area, accessory power, drag of gearbox and axle as a
    share of the standard, tilt of the torque curve, delay of the load; then each gear's own
    efficiency.
    """

    names = (
        "torque", "friction", "rolling_before", "rolling_after", "drag", "auxiliary", "losses",
        "tilt", "load_delay",
    )  # fmt: skip

    def __init__(
        self, used: pl.DataFrame, inputs: Inputs, revolutions_per_km: dict[Side, float]
    ) -> None:
        self.inputs, self.used = inputs, used
        columns = {name: used[name].cast(pl.Float64).to_numpy() for name in NUMBERS}
        engine = inputs.powertrain.engine
        ratios = np.asarray(inputs.powertrain.gear_ratios)
        gear = columns["gear"].astype(np.int64) - 1
        self.after = (used["side"] == "after").to_numpy()
        turns = np.where(
            self.after,
            revolutions_per_km.get("after", np.nan),
            revolutions_per_km.get("before", np.nan),
        )
        self.turns_per_m = turns / 1000 * inputs.powertrain.axle_ratio * ratios[gear]
        self.speed = columns["speed_mps"]
        self.rpm = self.speed * self.turns_per_m * 60
        load = np.clip(columns["engine_load_percent"] / 100, 0.0, 1.0)
        altitude = (columns["altitude_m"] + columns["end_altitude_m"]) / 2
        full = engine.full_load_torque_nm(self.rpm) * engine.altitude_factor(altitude)
        self.torque = load * full
        drag = engine.drag_torque_nm(self.rpm)
        self.friction = (load - 1) * drag
        self.torque_per_s = columns["load_per_s"] / 100 * (full + drag)
        losses, share = inputs.powertrain.losses, inputs.central("loss_factor")
        efficiency = losses.efficiencies(inputs.powertrain.gear_ratios, share)[gear]
        shaft = self.turns_per_m / ratios[gear]
        standard = (
            driveline_drag_n(losses, np.asarray(share), shaft, ratios[gear], self.rpm) / share
        )
        at_wheel = 2 * pi * self.turns_per_m * efficiency
        # what a standard drag takes of the force at most torque
        self.drag_of_full = float(standard.sum() / at_wheel.sum()) / engine.peak_torque_nm
        self.gear = gear
        self._rows(columns, at_wheel, standard, altitude, engine)

    def _rows(
        self,
        columns: dict[str, Array],
        at_wheel: Array,
        standard_drag_n: Array,
        altitude: Array,
        engine: Engine,
    ) -> None:
        distance = columns["distance_m"]
        sine = np.clip(columns["rise_m"] / distance, -0.3, 0.3)
        acceleration = (columns["end_speed_mps"] ** 2 - columns["start_speed_mps"] ** 2) / (
            2 * distance
        )
        mass = self.inputs.central("mass_kg")
        celsius = self._temperature(altitude)
        self.density = density_at_altitude_kgpm3(altitude, celsius)
        rotating = self.inputs.rotating_kg + engine_equivalent_mass_kg(
            engine.inertia_kgm2, 2 * pi * self.turns_per_m
        )
        cooling = rolling_coefficient(
            np.ones_like(celsius), celsius, self.inputs.central("rolling_per_k")
        )
        pressing = STANDARD_GRAVITY_MPS2 * np.sqrt(1 - sine**2) * cooling
        self.shown = acceleration * (1 + rotating / mass) + STANDARD_GRAVITY_MPS2 * sine
        tilt = (self.rpm - self.rpm.mean()) / (TILT_SPEED * engine.governed_rpm)
        self.rows = np.column_stack(
            [
                at_wheel * self.torque / mass,
                at_wheel * self.friction / mass,
                -np.where(self.after, 0.0, pressing),
                -np.where(self.after, pressing, 0.0),
                -0.5 * self.density * columns["speed_squared_m2ps2"] / mass,
                -at_wheel / (self.rpm * 2 * pi / 60) / mass,
                -standard_drag_n / mass,
                at_wheel * self.torque * tilt / mass,
                at_wheel * self.torque_per_s / mass,
            ]
        )

    def _temperature(self, altitude: Array) -> Array:
        standard = self.inputs.central("temperature_c") - 0.0065 * altitude
        if "ambient_temperature_c" not in self.used.columns:
            return standard
        logged = self.used["ambient_temperature_c"].cast(pl.Float64).to_numpy()
        return np.where(np.isfinite(logged), logged, standard)

    def _winds(self) -> Array:
        """What wind of its usual size from the north, from the east takes away, shape (n, 2)."""
        if "course_deg" not in self.used.columns:
            return np.zeros((self.used.height, 2))
        course = np.radians(self.used["course_deg"].cast(pl.Float64).to_numpy())
        central = self.inputs.central
        usual = -WIND_SD_MPS * self.density * central("drag_area_m2") * self.speed
        along = np.stack([np.cos(course), np.sin(course)], axis=1)
        both: Array = np.nan_to_num((usual / central("mass_kg"))[:, None] * along)
        return both

    def _gears(self) -> Array:
        """A column a gear: what one hundredth more of its own efficiency gives."""
        gears = np.arange(len(self.inputs.powertrain.gear_ratios))
        given = self.rows[:, 0] + self.rows[:, 1]
        columns: Array = np.where(self.gear[:, None] == gears, 0.01 * given[:, None], 0.0)
        return columns

    def _relative_doubt(self, name: str) -> float:
        one = self.inputs.parameters[name]
        return (one.high - one.low) / 2 / NORMAL_95 / one.value

    def _priors(self, gears: int) -> tuple[Array, Array]:
        central = self.inputs.central
        mass = self._relative_doubt("mass_kg")
        torque = (self._relative_doubt("torque_factor") ** 2 + EFFICIENCY_DOUBT**2) ** 0.5
        auxiliary = self.inputs.powertrain.auxiliary_w
        rolling = central("rolling_at_25c")
        rolling_doubt = self._relative_doubt("rolling_at_25c") * rolling
        pairs = [
            (central("torque_factor"), (torque**2 + mass**2) ** 0.5),
            (central("friction_factor"), self._relative_doubt("friction_factor")),
            (rolling, rolling_doubt),
            (rolling, rolling_doubt),
            (
                central("drag_area_m2"),
                (self._relative_doubt("drag_area_m2") ** 2 + mass**2) ** 0.5
                * central("drag_area_m2"),
            ),
            (auxiliary, AUXILIARY_DOUBT_W),
            (central("loss_factor"), self._relative_doubt("loss_factor") * central("loss_factor")),
            (0.0, TILT_DOUBT),
            (0.0, LOAD_DELAY_DOUBT_S),
            *[(0.0, 100 * GEAR_DOUBT)] * gears,
        ]
        mean, deviation = np.array(pairs).T
        return mean, deviation

    def solve(self) -> dict[str, Parameter]:
        """The parameters with their ranges; each trip's wind is solved for and dropped."""
        gears, winds = self._gears(), self._winds()
        mean, deviation = self._priors(gears.shape[1])
        rows = np.column_stack([self.rows, gears])
        law = np.zeros(mean.size)
        law[[self.names.index(name) for name in LAW_DOUBT]] = list(LAW_DOUBT.values())
        law *= mean
        # rows show each unknown and its law's error as one: of that, what is the unknown's own
        both = np.hypot(deviation, law)
        own = deviation**2 / both
        # the prior's mean taken out, unknowns in units of what they vary by
        offset, scaled = self.shown - rows @ mean, rows * both
        trip = self.used["trip"].rle_id().to_numpy().astype(np.int64)
        answer, covariance, wind = np.zeros(mean.size), np.eye(mean.size), np.zeros(winds.shape)
        for _ in range(MAX_ROUNDS):
            residual = offset - scaled @ answer - (winds * wind).sum(axis=1)
            spread = max(MAD_TO_DEVIATION * float(np.median(np.abs(residual))), MIN_SPREAD_MPS2)
            weights = np.minimum(1.0, HUBER * spread / np.maximum(np.abs(residual), 1e-12))
            weights /= spread**2 * self._design_effect(residual)
            last, found = answer, without_levels(scaled, offset, weights, winds, trip)
            answer, covariance, wind = found[0], found[1], found[2][trip]
            if np.abs(answer - last).max() < SETTLED_DEVIATIONS:
                break
        # torque is that of the gears driven, each with its own efficiency; what is open of it is
        # what is open of the force at most torque
        count = len(self.names)
        told = np.eye(count, mean.size)
        told[0, count:] = 0.01 * np.bincount(self.gear, minlength=gears.shape[1]) / self.gear.size
        value, seen = told @ (mean + own * answer), told @ (mean + both * answer)
        told[0, self.names.index("losses")] = -self.drag_of_full
        among, left = told * own, deviation**2 - own**2
        error = np.sqrt(np.einsum("ij,jk,ik->i", among, covariance, among) + told**2 @ left)
        means, doubt = (dict(zip(self.names, one.tolist(), strict=True)) for one in (value, error))
        # power is what the rows show, however far from what is declared
        self.torque_factor, self.friction_factor = seen[:2] * self._heavier(means["torque"])
        return self._parameters(means, doubt)

    def _heavier(self, torque: float) -> float:
        """The true over the declared mass: torque over mass, split by what is known of each."""
        return float(torque ** -self._mass_share())

    def _mass_share(self) -> float:
        mass = self._relative_doubt("mass_kg")
        torque = (self._relative_doubt("torque_factor") ** 2 + EFFICIENCY_DOUBT**2) ** 0.5
        return float(mass**2 / (mass**2 + torque**2))

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

    def _parameters(self, value: dict[str, float], error: dict[str, float]) -> dict[str, Parameter]:
        """Unknowns over mass to parameters."""
        mass_doubt, share = self._relative_doubt("mass_kg"), self._mass_share()
        heavier = self._heavier(value["torque"])
        # what the road cannot show of either is open in both alike
        alike = mass_doubt**2 * (1 - share)
        mass_error = ((share * error["torque"]) ** 2 + alike) ** 0.5
        torque_error = (((1 - share) * error["torque"]) ** 2 + alike) ** 0.5
        rolling = [
            (value[key], error[key])
            for key, present in (
                ("rolling_before", bool((~self.after).any())),
                ("rolling_after", bool(self.after.any())),
            )
            if present
        ]
        # one for both sets of tires: drawn from either
        means, errors = np.array(rolling).T
        middle, reach = float(means.mean()), float(((errors**2).mean() + means.var()) ** 0.5)
        mass, drag = self.inputs.central("mass_kg") * heavier, value["drag"] * heavier

        def of(name: str, centre: float, reach: float) -> Parameter:
            return parameter(name, centre, max(centre - reach, 1e-6), centre + reach, SOURCE)

        return {
            "mass_kg": of("mass_kg", mass, NORMAL_95 * mass_error * mass),
            "torque_factor": of(
                "torque_factor", value["torque"] * heavier, NORMAL_95 * torque_error
            ),
            "drag_area_m2": of("drag_area_m2", drag, NORMAL_95 * error["drag"]),
            "rolling_at_25c": of("rolling_at_25c", middle, NORMAL_95 * reach),
            "loss_factor": of("loss_factor", value["losses"], NORMAL_95 * error["losses"]),
        }

    def crank_power_w(self) -> Array:
        """Power at the crankshaft [W] by step, with the solved factors."""
        brake = self.torque_factor * self.torque + self.friction_factor * self.friction
        power: Array = brake * self.rpm * 2 * pi / 60
        return power


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
