"""What is declared and the logs rule out, and what must not be told because of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages import Message, message, names

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearing.messages import StudyWarning

ROUTES_REST_ON = ("axle_ratio", "gear_ratios", "vehicle.mass", "torque_curve")


def not_as_declared(keys: Sequence[str]) -> Message:
    """That these keys of the study do not fit the logs."""
    return message("not-as-declared", keys=names(keys), one=len(keys) == 1)


def look_swapped(warnings: Sequence[StudyWarning]) -> Message | None:
    """Why no verdict on what the tires changed is told where the periods look swapped."""
    swapped = any(one.code == "periods-swapped" for one in warnings)
    return message("not-as-declared/swapped") if swapped else None


def routes_doubted(warnings: Sequence[StudyWarning]) -> Message | None:
    """Why nothing is told of routes where axle or gear ratios, weight or torque curve do not fit
    the logs, or the tires may be the others: gear, speed and brakes on a grade all rest on them."""
    keys = sorted({key for one in warnings for key in one.keys if key.endswith(ROUTES_REST_ON)})
    return not_as_declared(keys) if keys else look_swapped(warnings)
