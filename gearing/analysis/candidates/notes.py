"""What is to be said of a candidate besides its figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.analysis.speed.turns import SIZE
from gearing.messages import Quantity, UserText, message
from gearing.units import INCH_M
from gearing.vehicle.tire import TireSize, parse_size

if TYPE_CHECKING:
    from gearing.analysis.candidates.fittings import Fitting
    from gearing.analysis.candidates.gearing import Fittings
    from gearing.messages import Message
    from gearing.statistics.arrays import Array
    from gearing.study.model import Study

# A tire so much larger or smaller, and gearing so far off, is no change of tires or axle but a
# slip of the pen or a rebuilt vehicle: common practice, no source.
FAR_TIRE, FAR_GEARING_PERCENT = 0.15, 30.0


def notes_of(
    study: Study, name: str, fittings: Fittings, arrays: dict[str, Array], at_mps: float
) -> tuple[Message, ...]:
    """Notes of one row; none of a period's own."""
    one = fittings[name]
    if one.period is not None:
        return ()
    found = [*_same(name, fittings), *_far(one, fittings, arrays)]
    if one.basis == SIZE:
        found.append(message("candidate-by-size"))
    engine = study.vehicle.engine
    rpm = arrays.get("engine_rpm")
    if engine is not None and rpm is not None:
        governed = engine.governed_rpm or engine.rpm[-1]
        if rpm[0] > governed:
            speed = Quantity(at_mps * 3.6, "km/h")
            found.append(
                message("candidate-out-of-reach", speed=speed, governed=Quantity(governed, "rpm"))
            )
    return (*found, *_fit(one, fittings))


def _same(name: str, fittings: Fittings) -> list[Message]:
    """It is what another row is."""
    one = fittings[name]
    for other_name, other in fittings.items():
        if other_name == name:
            break
        if other.key != one.key:
            continue
        if other.period == "before":
            return [message("candidate-same/before")]
        if other.period == "after":
            return [message("candidate-same/after")]
        return [message("candidate-same", other=UserText(other.name))]
    return []


def _far(one: Fitting, fittings: Fittings, arrays: dict[str, Array]) -> list[Message]:
    """So far from the present tires that it is hardly meant."""
    turns = one.revolutions_per_km.value
    known = [p.revolutions_per_km.value for p in fittings.values() if p.period is not None]
    near = [abs(base / turns - 1) for base in known if base and turns]
    base = next((one for one in known if one), None)
    if near and min(near) > FAR_TIRE and base and turns:
        rolls = 100 * (base / turns - 1)
        code = Quantity(abs(rolls), "%")
        if rolls > 0:
            return [message("candidate-far/larger", by=code)]
        return [message("candidate-far/smaller", by=code)]
    change = arrays.get("gearing_change_percent")
    if change is not None and abs(change[0]) > FAR_GEARING_PERCENT:
        return [message("candidate-far/gearing", by=Quantity(float(change[0]), "%", sign=True))]
    return []


def _fit(one: Fitting, fittings: Fittings) -> list[Message]:
    """What its size says of wheels and clearance; of load it says nothing."""
    new = _size(one)
    present = [p for p in fittings.values() if p.period is not None]
    sizes = [size for p in present if (size := _size(p)) is not None]
    if new is None or not sizes or one.tire in {p.tire for p in present}:
        return []
    found = []
    if all(abs(new.rim_diameter_m - size.rim_diameter_m) > 1e-4 for size in sizes):
        found.append(
            message("candidate-other-wheels", rim=Quantity(new.rim_diameter_m / INCH_M, "in", 1))
        )
    if all(new.section_width_m > size.section_width_m + 1e-4 for size in sizes):
        found.append(message("candidate-wider"))
    return found


def _size(one: Fitting) -> TireSize | None:
    try:
        return None if one.drive_tire is None else parse_size(one.drive_tire)
    except ValueError:
        return None
