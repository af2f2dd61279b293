"""The symbols and names of the formulas: the one list that names in the code are held against.

Symbols are those usual in textbooks of vehicle dynamics and of statistics. Channels of logs have
a table of their own (`gearing.quantities`), whose names are used alike.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Symbol:
    """A symbol of the formulas, its name in the code, its unit and what it means."""

    symbol: str
    name: str
    unit: str
    meaning: str


NOMENCLATURE = (
    # gearing and speed
    Symbol("v", "speed_mps", "m/s", "true speed, over the ground and along the slope"),
    Symbol("k", "odometer_factor", "-", "true distance over what the vehicle's computer counts"),
    Symbol("U", "revolutions_per_km", "1/km", "revolutions of the drive tires, rolling under load"),
    Symbol("U1", "before_per_km", "1/km", "the same, or turns of a shaft or engine, before"),
    Symbol("U2", "after_per_km", "1/km", "the same after"),
    Symbol("Up", "programmed_per_km", "1/km", "revolutions a computer is programmed with"),
    Symbol("Ua", "actual_per_km", "1/km", "revolutions the tires make"),
    Symbol("C", "rolling_circumference_m", "m", "true distance a revolution of the drive tires"),
    Symbol("i_a", "axle_ratio", "-", "turns of the drive shaft for one of the drive wheels"),
    Symbol("i_g", "gear_ratio", "-", "input over output speed of the gearbox"),
    Symbol("n", "engine_speed_rpm", "rpm", "engine speed, where the converter is locked"),
    Symbol("n", "rpm", "rpm", "speed of the shaft a curve is given over"),
    Symbol("F_b", "brake_n", "N", "force of the service brakes at the wheels"),
    Symbol("n_g", "governed_rpm", "rpm", "engine speed that the governor holds at full load"),
    Symbol("n_min", "lowest_curve_rpm", "rpm", "lowest engine speed of a torque curve"),
    Symbol("w_g", "engine_radians_per_m", "rad/m", "angle the engine turns a metre in a gear"),
    Symbol("N_a", "axle_turns_per_m", "1/m", "turns of the drive shaft a metre"),
    Symbol("y", "log_axle_turns", "-", "ln(axle ratio over rolling circumference in m)"),
    Symbol("t_0", "tread_m", "m", "tread depth"),
    Symbol("t_w", "worn_tread_m", "m", "tread depth at which a tire is drawn"),
    Symbol("dt", "tread_lost_m", "m", "tread worn off"),
    # forces and energy
    Symbol("F", "force_n", "N", "force at the contact of the drive wheels"),
    Symbol("W", "weight_n", "N", "weight"),
    Symbol("m", "mass_kg", "kg", "mass of the vehicle as laden"),
    Symbol("m_r", "rotating_kg", "kg", "mass that the wheels' inertia acts as"),
    Symbol("J", "inertia_kgm2", "kg m2", "inertia of the engine and its flywheel"),
    Symbol("T", "torque_nm", "N m", "torque"),
    Symbol("T_max", "peak_torque_nm", "N m", "most torque of the engine's curve"),
    Symbol("P", "power_w", "W", "power"),
    Symbol("eta", "efficiency", "-", "share of the power passed on"),
    Symbol("C_r", "rolling", "-", "rolling resistance coefficient at the day's temperature"),
    Symbol("C_25", "rolling_at_25c", "-", "rolling resistance coefficient at 25 degC"),
    Symbol("K", "rolling_per_k", "1/K", "change of rolling resistance with temperature"),
    Symbol("C_d A", "drag_area_m2", "m2", "drag coefficient times frontal area"),
    Symbol("rho", "density_kgpm3", "kg/m3", "density of the air"),
    Symbol("p", "pressure_pa", "Pa", "pressure of the air"),
    Symbol("t", "temperature_c", "degC", "temperature of the air"),
    Symbol("u", "headwind_mps", "m/s", "wind along the road, against the way driven"),
    Symbol("u_10", "station_wind_mps", "m/s", "wind at a weather station"),
    Symbol("z", "height_m", "m", "height over the ground at which the vehicle meets the wind"),
    Symbol("z_10", "station_height_m", "m", "height of the station's wind gauge"),
    Symbol("z_0", "roughness_m", "m", "roughness length of the land"),
    Symbol("f_T", "torque_factor", "-", "torque at the wheels against the declared curve"),
    Symbol("f_f", "friction_factor", "-", "engine friction against the usual"),
    Symbol("f_r", "retarder_factor", "-", "retarder power against the declared"),
    Symbol("f_l", "loss_factor", "-", "losses of gearbox and axle against the standard ones"),
    Symbol("f_v", "speed_factor", "-", "speed held against the speed wanted"),
    Symbol("f_a", "pace", "-", "how hard the driver speeds up and slows down"),
    Symbol("b", "l_per_kwh", "L/kWh", "fuel for a kWh more at the engine (slope of Willans line)"),
    Symbol("q_0", "idle_lph", "L/h", "fuel taken standing"),
    Symbol("a", "l_per_h_per_krpm", "L/h", "fuel to turn the engine, per 1,000 rpm"),
    # road
    Symbol("G", "grade", "-", "rise over horizontal run"),
    Symbol("h", "altitude_m", "m", "height above the sea"),
    Symbol("h_d", "derate_above_m", "m", "height up to which the engine keeps its torque"),
    Symbol("d", "distance_m", "m", "distance along the road"),
    Symbol("ds", "step_m", "m", "length of a piece of road"),
    Symbol("v_w", "target_mps", "m/s", "speed wanted"),
    Symbol("v_s", "wanted_mps", "m/s", "speed sought along a stretch"),
    Symbol("t_s", "stop_s", "s", "time the vehicle stands"),
    # statistics
    Symbol("x", "value", "", "an estimate, in the unit its key names"),
    Symbol("L", "low", "", "lower end of its 95 % interval"),
    Symbol("H", "high", "", "upper end of its 95 % interval"),
    Symbol("n", "n", "-", "independent units an estimate rests on: days, or trips"),
    Symbol("r", "persistence", "-", "correlation of a day's deviation with the day's before"),
    Symbol("tau", "between", "", "standard deviation between groups"),
)
