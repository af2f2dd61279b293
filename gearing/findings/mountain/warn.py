"""What a reader of the mountain answer must be warned of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.findings.mountain.profile import MAX_HOLE_M, missing_words
from gearing.problems import StudyWarning

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gearing.findings.mountain.result import ModelCheck, Route
    from gearing.study.model import Study

MODEL_OFF_PERCENT = 8.0
MODEL_BIAS_KMH = 6.0


def unread_profiles(study: Study, reasons: Mapping[str, str]) -> tuple[StudyWarning, ...]:
    """Routes without a profile: which file gave none, why, and what to add; `reasons` by route."""
    return tuple(
        StudyWarning("profile-not-used", f"{route.name}: {reasons[route.name].rstrip('.')}.")
        for route in study.routes
        if route.name in reasons
    )


def mountain_warnings(
    study: Study, routes: tuple[Route, ...], check: ModelCheck
) -> tuple[StudyWarning, ...]:
    found = _profile_warnings(study, routes)
    smoothed = [
        declared.name
        for declared, route in zip(study.routes, routes, strict=True)
        if "smoothed" in route.elevation
    ]
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


def _profile_warnings(study: Study, routes: tuple[Route, ...]) -> list[StudyWarning]:
    """Holes in profiles, and points so far apart that much may happen between them."""
    found = []
    most = f"{MAX_HOLE_M / 1000:.1f} km"
    for declared, route in zip(study.routes, routes, strict=True):
        place = f"{declared.name} ({declared.profile.name})"
        widest = route.widest_spacing_km or 0.0
        if route.missing_km:
            holes = missing_words([(low * 1000, high * 1000) for low, high in route.missing_km])
            found.append(
                StudyWarning(
                    "profile-hole",
                    f"The profile of {place} has {holes}: what the road does there is not known, "
                    f"so the route is not judged. Add points there, at most {most} apart.",
                )
            )
        elif widest * 1000 > MAX_HOLE_M + 0.5:
            found.append(
                StudyWarning(
                    "coarse-profile",
                    f"Points of the profile of {place} lie up to {widest:.1f} km apart: the grade "
                    "is taken as even between them, and a steeper stretch there is not seen.",
                )
            )
    return found
