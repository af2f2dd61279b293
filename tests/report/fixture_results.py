"""Hand-made results in the shape of results.json, and the frames beside them. All invented."""

from __future__ import annotations

import copy
from datetime import UTC, date, datetime, timedelta
from typing import Any

import polars as pl

HOSTILE = '<img src=x onerror="window.hacked=1">'
CLOSER = "</script><script>window.hacked=1</script>"

Results = dict[str, Any]


def estimate(
    value: float, low: float, high: float, n: int = 14, method: str = "weighted by day"
) -> dict[str, Any]:
    return {"value": value, "low": low, "high": high, "n": n, "method": method, "why": None}


def unknown(why: str) -> dict[str, Any]:
    return {"value": None, "low": None, "high": None, "n": None, "method": None, "why": why}


def side(before: Any, after: Any) -> dict[str, Any]:
    return {"before": before, "after": after}


def _route_side(lowest: float, downshifts: int, brake: float, minutes: float) -> dict[str, Any]:
    return {
        "minutes": minutes,
        "liters": 9.1,
        "lowest_speed_kmh": lowest,
        "downshifts": downshifts,
        "minutes_at_full_load": 6.4,
        "descent": {
            "gear": 3,
            "held_speed_kmh": 58.0,
            "brake_kwh": brake,
            "brake_share": 0.21,
        },
    }


def full() -> Results:
    """Both periods, fuel, a claim, two routes, warnings."""
    trips = []
    for index in range(28):
        period = "before" if index < 14 else "after"
        factor = (1.0006 if period == "before" else 1.0461) + 0.0008 * ((index * 7) % 5 - 2) / 2
        ratio = (
            4.88 / (1.0 if period == "before" else 1.0455) * (1 + 0.0006 * ((index * 3) % 5 - 2))
        )
        trips.append(
            {
                "name": f"{'old' if period == 'before' else 'new'}-{index + 1:02d}",
                "period": period,
                "start": (
                    datetime(2026, 1, 5, 7, 12, tzinfo=UTC) + timedelta(days=4 * index)
                ).isoformat(),
                "true_km": 92.0 + (index * 13) % 40,
                "indicated_km": (92.0 + (index * 13) % 40) / factor,
                "liters": 27.0 - 0.6 * (index >= 14) + ((index * 5) % 7) * 0.8,
                "odometer_factor": factor,
                "final_drive": ratio,
                "flags": ["misfiled"] if index == 16 else [],
            }
        )
    return {
        "schema": 1,
        "study": "bookmobile",
        "version": "0.1.0",
        "seed": 1,
        "run_id": "3f2a9c",
        "units": "us",
        "input": {
            "files": 28,
            "rows_read": 184_233,
            "rows_used": 183_911,
            "rows_set_aside": 322,
            "reasons": {"cut-record": 1, "no-time": 301, "repeated-row": 20},
        },
        "declared": {
            "name": "bookmobile",
            "before": {"drive_tire": "245/70R19.5", "fitment": "dual"},
            "after": {"drive_tire": "265/70R19.5", "fitment": "dual"},
            "claim": {"consumption_change_percent": -4.0},
        },
        "speed": {
            "odometer_factor": side(
                estimate(1.0006, 0.9997, 1.0015), estimate(1.0461, 1.0450, 1.0472)
            ),
            "table": [
                {
                    "indicated_kmh": kmh,
                    "true_kmh": side(kmh * 1.0006, kmh * 1.0461),
                }
                for kmh in (30.0, 50.0, 80.0, 90.0, 100.0, 110.0)
            ],
            "revolutions_per_km": side(
                {**estimate(390.2, 389.6, 390.9), "basis": "engine speed and ratios"},
                {**estimate(373.2, 372.5, 373.9), "basis": "engine speed and ratios"},
            ),
            "programmed_revolutions_per_km": {
                "now": estimate(390.4, 389.7, 391.1),
                "should_be": estimate(373.2, 372.5, 373.9),
            },
            "rules": [
                {
                    "rule": "49 CFR 393.82",
                    "period": "before",
                    "limit": "within 8 km/h at 80 km/h",
                    "figure": 0.0,
                    "meets": True,
                },
                {
                    "rule": "49 CFR 393.82",
                    "period": "after",
                    "limit": "within 8 km/h at 80 km/h",
                    "figure": -3.5,
                    "meets": True,
                },
                {
                    "rule": "UN Regulation 39",
                    "period": "after",
                    "limit": "never reads low",
                    "figure": -3.5,
                    "meets": None,
                    "why": "no reading of the needle is declared",
                },
            ],
            "warnings": [],
        },
        "final_drive": {
            "effective": side(
                {**estimate(4.88, 4.88, 4.88), "method": "as declared"},
                estimate(4.667, 4.659, 4.675),
            ),
            "change_percent": estimate(-4.37, -4.54, -4.20),
            "restoring_axle_ratio": estimate(5.10, 5.09, 5.11),
        },
        "gears": [
            {
                "gear": gear,
                "ratio": ratio,
                "before": {
                    "rev_per_km": 390.2 * 4.88 * ratio,
                    "time_share": share,
                    "distance_share": share * 0.8 + 0.03,
                },
                "after": {
                    "rev_per_km": 373.2 * 4.88 * ratio,
                    "time_share": share * 0.95 + 0.005,
                    "distance_share": share * 0.76 + 0.035,
                },
            }
            for gear, ratio, share in (
                (1, 3.51, 0.03),
                (2, 1.91, 0.05),
                (3, 1.43, 0.09),
                (4, 1.00, 0.15),
                (5, 0.74, 0.26),
                (6, 0.64, 0.42),
            )
        ],
        "fuel": {
            "change_percent": {
                "indicated": estimate(3.9, 0.2, 7.7),
                "true_distance": estimate(-0.7, -4.2, 2.9),
                "matched": estimate(-1.9, -4.4, 0.6),
                "adjusted": estimate(-2.8, -4.1, -1.5),
                "fillups": unknown("fewer than two full tanks lie on the new tires"),
            },
            "parts": [
                {"name": "distance", "percent": -4.4, "low": -4.5, "high": -4.3},
                {"name": "speed", "percent": 1.2, "low": 0.6, "high": 1.8},
                {"name": "temperature", "percent": -1.9, "low": -3.0, "high": -0.8},
                {"name": "grade", "percent": -0.4, "low": -0.9, "high": 0.1},
                {"name": "rest", "percent": -1.1, "low": -1.9, "high": -0.3},
            ],
            "smallest_detectable_percent": 1.9,
            "more_driving_km": 640.0,
            "verdict": "supported",
        },
        "routes": [
            {
                "name": "Cold Spring Pass",
                "before": _route_side(66.0, 2, 3.2, 31.0),
                "after": _route_side(61.0, 3, 3.6, 31.6),
                "reversed": {
                    "before": _route_side(71.0, 1, 2.1, 30.0),
                    "after": _route_side(68.0, 2, 2.3, 30.2),
                    "verdict": "suits",
                },
                "verdict": "suits with care",
            },
            {
                "name": "Larkspur Gap",
                "before": _route_side(74.0, 1, 1.1, 22.0),
                "after": _route_side(73.0, 1, 1.1, 22.0),
                "verdict": "suits",
            },
        ],
        "warnings": [
            {
                "code": "seasons",
                "text": "The old tires were driven at 12 to 24 degC, the new at -6 to 10 degC; "
                "what cold does to rolling resistance is carried into the interval.",
                "trips": [],
            },
            {
                "code": "misfiled",
                "text": "One trip fits the other tires better than those it is filed under; "
                "it is left out of the pooled figures.",
                "trips": ["new-17"],
            },
        ],
        "trips": trips,
    }


def one_period() -> Results:
    """Only the old tires driven: a plan for the change."""
    results = copy.deepcopy(full())
    missing = "there are no logs on the new tires yet"
    results["units"] = "metric"
    results["declared"]["after"] = None
    results["speed"]["odometer_factor"]["after"] = unknown(missing)
    results["speed"]["revolutions_per_km"]["after"] = unknown(missing)
    for row in results["speed"]["table"]:
        row["true_kmh"]["after"] = None
    results["speed"]["rules"] = results["speed"]["rules"][:1]
    results["final_drive"]["effective"]["after"] = unknown(missing)
    results["final_drive"]["change_percent"] = unknown(missing)
    results["final_drive"]["restoring_axle_ratio"] = unknown(missing)
    for gear in results["gears"]:
        gear["after"] = None
    results["fuel"] = {
        "change_percent": {
            key: unknown(missing)
            for key in ("indicated", "true_distance", "matched", "adjusted", "fillups")
        },
        "parts": [],
        "smallest_detectable_percent": None,
        "smallest_detectable_percent_why": missing,
        "more_driving_km": None,
        "more_driving_km_why": missing,
        "verdict": None,
        "verdict_why": missing,
    }
    results["routes"] = []
    results["routes_why"] = "no [[route]] is named in the study"
    results["warnings"] = []
    results["trips"] = [trip for trip in results["trips"] if trip["period"] == "before"]
    return results


def no_fuel() -> Results:
    """No fuel channel and no engine: two of the three questions stand open in part."""
    results = copy.deepcopy(full())
    missing = "no log carries fuel rate, fuel used or air flow; log one of them"
    results["fuel"] = {
        "change_percent": {
            key: unknown(missing)
            for key in ("indicated", "true_distance", "matched", "adjusted", "fillups")
        },
        "parts": [],
        "verdict": None,
        "verdict_why": missing,
    }
    for trip in results["trips"]:
        trip["liters"] = None
    for route in results["routes"]:
        route["verdict"] = "cannot tell yet"
        route["verdict_why"] = "the study declares no torque curve under [vehicle.engine]"
        route["before"] = route["after"] = None
        route.pop("reversed", None)
    return results


def cannot_tell() -> Results:
    """Three days a side: everything wide open."""
    results = copy.deepcopy(full())
    results["units"] = "metric"
    results["declared"]["claim"] = None
    results["fuel"]["change_percent"] = {
        "indicated": estimate(2.0, -6.0, 10.0, 3),
        "true_distance": estimate(-2.4, -10.0, 5.6, 3),
        "matched": unknown("the periods share no road of a kilometre or more"),
        "adjusted": estimate(-1.1, -6.3, 4.4, 3),
        "fillups": unknown("the study names no fill-up log"),
    }
    results["fuel"]["verdict"] = "cannot tell yet"
    results["fuel"]["more_driving_km"] = 1830.0
    results["fuel"]["smallest_detectable_percent"] = 7.4
    results["speed"]["odometer_factor"] = side(
        unknown("no log from before carries GPS"),
        estimate(1.046, 1.041, 1.051, 9, "one trip, five-minute blocks"),
    )
    results["final_drive"] = {
        "effective": side(
            unknown("no engine speed is logged"), unknown("no engine speed is logged")
        ),
        "change_percent": unknown("no engine speed is logged"),
        "restoring_axle_ratio": unknown("no engine speed is logged"),
    }
    results["gears"] = []
    results["routes"] = []
    return results


def hostile() -> Results:
    """Markup, script ends and formulas wherever a name can come from outside."""
    results = copy.deepcopy(full())
    results["study"] = results["declared"]["name"] = f"{HOSTILE}{CLOSER} study"
    results["declared"]["before"]["drive_tire"] = f"{HOSTILE}245"
    results["routes"][0]["name"] = f"{CLOSER}{HOSTILE} pass"
    results["routes"][1]["name"] = "{{ 7 * 7 }} & <b>gap</b>"
    results["warnings"][0]["text"] = f"{HOSTILE} {CLOSER}"
    results["warnings"][0]["trips"] = [HOSTILE, CLOSER]
    results["warnings"][1]["code"] = CLOSER
    results["input"]["reasons"] = {HOSTILE: 3, CLOSER: 319}
    results["fuel"]["change_percent"]["fillups"] = unknown(f"{HOSTILE} {CLOSER}")
    for index, trip in enumerate(results["trips"]):
        trip["name"] = f"{HOSTILE}{CLOSER}{index}"
        trip["flags"] = [HOSTILE]
    results["speed"]["rules"][2]["why"] = HOSTILE
    return results


def empty() -> Results:
    """As little as a damaged or very old results.json may hold."""
    return {"schema": 1, "study": "nothing"}


CASES = {
    "full": full,
    "one_period": one_period,
    "no_fuel": no_fuel,
    "cannot_tell": cannot_tell,
    "hostile": hostile,
    "empty": empty,
}


def frames(results: Results) -> dict[str, pl.DataFrame]:
    """The frames beside the results, in the shape of the parquet files."""
    trips = results.get("trips", [])
    if not trips:
        return {}
    table = pl.DataFrame(
        {
            "trip": [trip["name"] for trip in trips],
            "side": [trip["period"] for trip in trips],
            "start": [datetime.fromisoformat(trip["start"]) for trip in trips],
            "local_day": [datetime.fromisoformat(trip["start"]).date() for trip in trips],
            "true_m": [trip["true_km"] * 1000 for trip in trips],
            "indicated_m": [trip["indicated_km"] * 1000 for trip in trips],
            "liters": pl.Series([trip["liters"] for trip in trips], dtype=pl.Float64),
            "odometer_factor": [trip["odometer_factor"] for trip in trips],
            "odometer_factor_se": [0.0004] * len(trips),
            "final_drive": [trip["final_drive"] for trip in trips],
            "final_drive_se": [0.006] * len(trips),
            "moving_s": [trip["true_km"] * 48 for trip in trips],
            "stopped_s": [600.0] * len(trips),
            "ambient_temperature_c": [
                18.0 - 0.6 * index if trip["period"] == "before" else 2.0 + 0.3 * (index % 9)
                for index, trip in enumerate(trips)
            ],
            "flags": [trip["flags"] for trip in trips],
            "used": [not trip["flags"] for trip in trips],
        }
    )
    segments = pl.DataFrame(
        {
            "segment": list(range(40)),
            "distance_m": [2000.0 + 35 * index for index in range(40)],
            "before_l_per_100km": [26.0 + (index * 7) % 11 for index in range(40)],
            "after_l_per_100km": [
                25.3 + (index * 7) % 11 + ((index * 3) % 5 - 2) / 2 for index in range(40)
            ],
        }
    )
    return {"trips": table, "segments": segments, "routes": _routes_frame(results)}


def _routes_frame(results: Results) -> pl.DataFrame:
    parts = []
    for route in results.get("routes", []):
        if route.get("before") is None:
            continue
        for direction in ("forward", "reversed"):
            steps = range(0, 20_000, 100)
            up = [min(step, 12_000) / 12_000 for step in steps]
            parts.append(
                pl.DataFrame(
                    {
                        "route": [route["name"]] * len(up),
                        "direction": [direction] * len(up),
                        "distance_m": [float(step) for step in steps],
                        "altitude_m": [1800 + 640 * share for share in up],
                        "before_speed_mps": [26 - 7 * (0.1 < share < 0.95) for share in up],
                        "after_speed_mps": [26 - 8.5 * (0.1 < share < 0.95) for share in up],
                        "before_gear": [6 - (0.1 < share < 0.95) for share in up],
                        "after_gear": [6 - 2 * (0.1 < share < 0.95) for share in up],
                        "before_load": [0.5 + 0.45 * (0.1 < share < 0.95) for share in up],
                        "after_load": [0.52 + 0.46 * (0.1 < share < 0.95) for share in up],
                    }
                )
            )
    return pl.concat(parts) if parts else pl.DataFrame()


def day(index: int) -> date:
    return date(2026, 1, 5) + timedelta(days=index)
