"""What a reader of the mountain answer must be warned of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.problems import StudyWarning

if TYPE_CHECKING:
    from gearing.findings.mountain.result import ModelCheck, Route
    from gearing.study.model import Study

MODEL_OFF_PERCENT = 8.0
MODEL_BIAS_KMH = 6.0


def mountain_warnings(
    study: Study, routes: tuple[Route, ...], check: ModelCheck
) -> tuple[StudyWarning, ...]:
    found = []
    smoothed = [route.name for route in routes if "smoothed" in route.elevation]
    if smoothed:
        found.append(
            StudyWarning(
                "smoothed-profile",
                f"The elevation of {', '.join(smoothed)} is a recording with false grades in it; "
                "it was smoothed, and short steep stretches are steeper than shown here.",
            )
        )
    off, bias = check.median_absolute_percent, check.bias_kmh
    if off is not None and (off > MODEL_OFF_PERCENT or abs(bias or 0.0) > MODEL_BIAS_KMH):
        found.append(
            StudyWarning(
                "mountain-model-off",
                f"At full load the road model is off by {off:.0f} % of the logged speed in the "
                f"middle case ({bias:+.1f} km/h on average): take the figures for the routes as "
                "a comparison of the tires, not as speeds to expect.",
            )
        )
    if any(load.towing for load in study.loads):
        found.append(
            StudyWarning(
                "mountain-towing",
                "The routes are reckoned at the vehicle's own weight, without what is towed on "
                "some days: with a trailer it climbs slower and brakes more.",
            )
        )
    return tuple(found)
