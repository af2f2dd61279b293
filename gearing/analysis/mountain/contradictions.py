"""Weight, torque curve and fuel against what the engine's fuel and the road's work allow.

What the logs ask of the wheels grows with the weight declared. Too high a weight leaves less fuel
for each kilowatt hour at the crankshaft than its energy can give; too low a one more than engines
burn.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages import Quantity, Span, StudyWarning, message, warning

if TYPE_CHECKING:
    from gearing.analysis.mountain.inputs import Inputs
    from gearing.study.model import Study

# Net heat of combustion [MJ/L]: AFDC fuel properties, 128,488 and 115,000 Btu a US gallon.
MJ_PER_L = {"diesel": 35.81, "gasoline": 32.05}
# Share of it that a further kilowatt hour at the crankshaft can be, at the least and at the very
# most: the best engines reach 0.50 (diesel) and 0.41 (gasoline) in all, and somewhat more without
# their own friction, which a Willans line counts apart. From memory.
EFFICIENCY = {"diesel": (0.28, 0.55), "gasoline": (0.20, 0.46)}
MJ_PER_KWH = 3.6
TORQUE_FAR_OFF = 0.3  # common practice, no source: no tune or tired engine is as far off


def contradictions(study: Study, inputs: Inputs) -> tuple[StudyWarning, ...]:
    """What of weight, fuel and torque curve cannot be true with the logs, by study key."""
    return _efficiency(study, inputs) or _torque(study, inputs)


def _efficiency(study: Study, inputs: Inputs) -> tuple[StudyWarning, ...]:
    line = inputs.parameters["l_per_kwh"]
    fuel = study.vehicle.fuel
    if line.assumed or fuel not in MJ_PER_L or study.vehicle.mass_kg is None:
        return ()
    low, high = (MJ_PER_KWH / (end * MJ_PER_L[fuel]) for end in (line.high, line.low))
    least, most = EFFICIENCY[fuel]
    if low <= most and high >= least:
        return ()
    told = message(
        "declared-contradicts-logs/efficiency",
        weight=Quantity(study.vehicle.mass_kg, "kg"),
        share=Quantity(100 * (low if low > most else high), "%"),
        possible=Span(100 * least, 100 * most, "%"),
        diesel=fuel == "diesel",
    )
    return (warning(told, keys=("vehicle.mass", "vehicle.fuel")),)


def _torque(study: Study, inputs: Inputs) -> tuple[StudyWarning, ...]:
    factor = inputs.parameters["torque_factor"]
    declared = study.vehicle.mass_kg
    if factor.assumed or declared is None:
        return ()
    shown = factor.value * declared / inputs.central("mass_kg")  # torque over weight is what shows
    if abs(shown - 1) <= TORQUE_FAR_OFF:
        return ()
    told = message(
        "declared-contradicts-logs/torque",
        off=Quantity(100 * abs(shown - 1), "%"),
        more=shown > 1,
        check=message("check-engine"),
    )
    return (warning(told, keys=("vehicle.engine.torque_curve", "vehicle.mass")),)
