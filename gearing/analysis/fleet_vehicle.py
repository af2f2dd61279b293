"""One vehicle's figures, as a fleet's answer reads them from its results."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from gearing.analysis.fuel.rules import FORBIDS_COMPARING
from gearing.messages import Message, Text, message, told_of
from gearing.statistics.estimate import Estimate, unknown
from gearing.statistics.intervals import t_quantile
from gearing.study.model import Role

NO_FUEL, NOT_FOUND = message("fleet-no-fuel"), message("fleet-not-found")
_NO_COST = unknown(NOT_FOUND)


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleFigures:
    """What one vehicle's study found. Changes are after against before, in percent.

    `change_percent` is of consumption, on `basis` (adjusted, else matched). `seasons` is whether
    the study warns that the seasons decide. `shared_points` is one standard deviation, in points,
    of what physics leaves open and vehicles side by side have in common; it is part of the
    interval of `change_percent`. `temperature_change_k` is how much warmer the air
    was after. `unseen` is whether the study declares two sizes and its logs show no change of
    them. `weight` is its share of the pooled figure, None where it is not in it.

    The rest is for the list of vehicles alone: tire revolutions the computer works with and should,
    when the cost is back, the worst verdict of any mountain route, and what its run warned of.
    """

    name: str
    role: Role
    change_percent: Estimate
    basis: str | None
    verdict: str | None = None
    final_drive_change_percent: Estimate
    odometer_factor_after: Estimate
    true_km: float = 0.0
    shared_points: float = 0.0
    seasons: bool = False
    temperature_change_k: float | None = None
    unseen: bool = False
    weight: float | None = None
    programmed_now_per_km: float | None = None
    programmed_should_be_per_km: float | None = None
    years_to_pay: Estimate = _NO_COST
    mountain: str | None = None
    warning_codes: tuple[str, ...] = ()


def estimate_of(figures: Mapping[str, Any] | None, missing: Text) -> Estimate:
    """An estimate as results.json has it, read back."""
    if figures is None or figures.get("value") is None:
        why = (figures or {}).get("why")
        return unknown(told_of(why) if why else missing)
    return Estimate(**{key: figures.get(key) for key in ("value", "low", "high", "n", "method")})


def vehicle_figures(
    results: Mapping[str, Any],
    role: Role,
    *,
    name: str | None = None,
    missing: Text = NO_FUEL,
) -> VehicleFigures:
    """One vehicle's figures from its results.json; `missing` says why, where these are none."""
    fuel = results.get("fuel") or {}
    changes = {} if (unread := _nothing_read(results)) else fuel.get("change_percent") or {}
    adjusted = estimate_of(changes.get("adjusted"), unread or missing)
    matched = estimate_of(changes.get("matched"), unread or missing)
    codes = {warning["code"] for warning in results.get("warnings") or ()}
    spoiled = bool(codes & FORBIDS_COMPARING)  # and the matched change just as well
    basis = "adjusted" if adjusted.known else "matched" if matched.known and not spoiled else None
    factors = (results.get("speed") or {}).get("odometer_factor") or {}
    drive = (results.get("final_drive") or {}).get("change_percent")
    return VehicleFigures(
        name=name or str(results.get("name") or results.get("study") or ""),
        role=role,
        change_percent=matched if basis == "matched" else adjusted,
        basis=basis,
        verdict=fuel.get("verdict"),
        final_drive_change_percent=estimate_of(drive, NOT_FOUND),
        odometer_factor_after=estimate_of(factors.get("after"), NOT_FOUND),
        true_km=sum(trip.get("true_km") or 0.0 for trip in results.get("trips") or ()),
        shared_points=_shared_points(fuel),
        seasons="seasons" in codes,
        temperature_change_k=_temperature_change_k(fuel),
        **_beside_fuel(results),
        unseen="no-tire-change-seen" in codes and _two_sizes(results.get("declared") or {}),
    )


_WORST_FIRST = ("does not suit", "suits with care", "cannot tell yet", "suits")


def _beside_fuel(results: Mapping[str, Any]) -> dict[str, Any]:
    """What the list of vehicles tells besides fuel."""
    programmed = (results.get("speed") or {}).get("programmed_revolutions_per_km") or {}
    now, should_be = ((programmed.get(key) or {}).get("value") for key in ("now", "should_be"))
    savings = (results.get("fuel") or {}).get("savings") or {}
    routes = results.get("routes") or ()
    ways = [way for route in routes for way in (route, route.get("reversed") or {})]
    found = {way.get("verdict") for way in ways}
    return {
        "programmed_now_per_km": now,
        "programmed_should_be_per_km": should_be,
        "years_to_pay": estimate_of(savings.get("years_to_pay"), NOT_FOUND),
        "mountain": next((verdict for verdict in _WORST_FIRST if verdict in found), None),
        "warning_codes": tuple(
            dict.fromkeys(warning["code"] for warning in results.get("warnings") or ())
        ),
    }


def _nothing_read(results: Mapping[str, Any]) -> Message | None:
    """Why there is nothing of a vehicle, where no row of its logs could be used."""
    read = results.get("input") or {}
    if read.get("rows_used") != 0:
        return None
    one = read.get("files") == 1
    return message("fleet-unread/one-log" if one else "fleet-unread/all-logs")


def _two_sizes(declared: Mapping[str, Any]) -> bool:
    sizes = {(declared.get(side) or {}).get("drive_tire") for side in ("before", "after")}
    return len(sizes - {None}) == 2


def _shared_points(fuel: Mapping[str, Any]) -> float:
    """One standard deviation of what physics leaves open in the adjusted change, in points."""
    half_width = fuel.get("physics_half_width_percent")
    return 0.0 if half_width is None else float(half_width) / t_quantile(0.975, math.inf)


def _temperature_change_k(fuel: Mapping[str, Any]) -> float | None:
    sides = fuel.get("sides") or {}
    before, after = (
        (sides.get(side) or {}).get("mean_temperature_c") for side in ("before", "after")
    )
    return None if before is None or after is None else float(after - before)
