"""Declared figures that the logs rule out, and what must not be told because of them."""

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


def routes_doubted(warnings: Sequence[StudyWarning]) -> Message | None:
    """Why nothing is told of routes where axle or gear ratios, weight or torque curve do not fit
    the logs: gear, speed and brakes on a grade all rest on them."""
    keys = sorted({key for one in warnings for key in one.keys if key.endswith(ROUTES_REST_ON)})
    return not_as_declared(keys) if keys else None
