"""Hand-made results in the shape of results.json, and the frames beside them. All invented."""

from __future__ import annotations

import copy
import math
from datetime import UTC, date, datetime, timedelta
from typing import Any

import polars as pl
from typed_results import typed, typed_fleet

from gearing.analysis.mountain.routes import FRAME_SCHEMA
from gearing.analysis.trip_figures import SCHEMA

HOSTILE = '<img src=x onerror="window.hacked=1">'
CLOSER = "</script><script>window.hacked=1</script>"

Results = dict[str, Any]


def answers(results: Results, units: Any = "metric") -> Any:
    """The three answers as their reader has them."""
    from gearing.report.reader import display_of, for_reader
    from gearing.report.views.answers import answers

    found = typed(results)
    display = display_of(found, units)
    return answers(for_reader(found, display), display)


def fleet_answer(results: Results, units: Any) -> str:
    """A fleet's answer in a few sentences."""
    from gearing.report.reader import display_of, for_reader
    from gearing.report.views.fleet import fleet_sheet

    found = typed_fleet(results)
    display = display_of(found, units)
    return str(fleet_sheet(for_reader(found, display), display).answer.sentence())


def sentences(results: Results, units: Any = "metric") -> tuple[str, ...]:
    """The three answers, each with all that stands behind it in the words of the page."""
    return tuple(answer.sentence() for answer in answers(results, units))


def estimate(
    value: float, low: float, high: float, n: int = 14, method: str = "distance-weighted-days"
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
        "lowest_at_km": 8.2,
        "gear_at_lowest": 4,
        "engine_rpm_at_lowest": 1830.0,
        "downshifts": downshifts,
        "minutes_at_full_load": 6.4,
        "margin_before_downshift_percent": 4.0,
        "hunting": 0,
        "starts_on_steepest": True,
        "descent": {
            "gear": 3,
            "held_speed_kmh": 58.0,
            "brake_kwh": brake,
            "brake_share": 0.21,
            "steepest_percent": -6.4,
            "engine_and_retarder_kwh": 11.0,
            "retarder_kwh": 7.0,
        },
        "spread": {
            "lowest_speed_kmh": {"low": lowest - 4, "high": lowest + 3},
            "brake_kwh": {"low": brake / 2, "high": 2 * brake + 1},
        },
    }


def _section_side(lowest: float) -> dict[str, Any]:
    return {
        "lowest_speed_kmh": lowest,
        "gear": 4,
        "engine_rpm": 1830.0,
        "full_load_share": 0.8,
        "downshifts": 2,
        "minutes": 7.0,
        "liters": 6.1,
        "margin_before_downshift_percent": 4.0,
        "hunting": 0,
        "brake_kwh": 0.0,
    }


def _holds(grade: float, kmh: float) -> dict[str, Any]:
    return {
        "gradeability_percent": estimate(grade, grade - 0.4, grade + 0.4, 200, "road model"),
        "at_kmh": kmh,
        "engine_rpm": 1600.0,
        "up_percent": {"50": grade, "80": grade / 2, "90": None, "105": None},
        "down_percent": {"50": grade + 2, "80": grade, "90": None, "105": None},
    }


def mountain() -> dict[str, Any]:
    """What stands beside the routes."""
    return {
        "startability_percent": side(estimate(24.1, 22, 26), estimate(23.0, 21, 25)),
        "gears": [
            {
                "gear": gear,
                "ratio": ratio,
                "before": _holds(7.1 * ratio, 60 / ratio),
                "after": _holds(6.8 * ratio, 62 / ratio),
            }
            for gear, ratio in ((1, 3.51), (2, 1.91), (3, 1.43), (4, 1.00), (5, 0.74), (6, 0.64))
        ],
        "cruise": side(
            *(
                [
                    {
                        "speed_kmh": 90.0,
                        "gear": 6,
                        "engine_rpm": rpm,
                        "load_percent": 48.0,
                        "below_peak_torque": low,
                        "lugging": False,
                        "headwind_for_downshift_kmh": 34.0,
                    }
                ]
                for rpm, low in ((1828.0, False), (1748.0, True))
            )
        ),
        "lugging_rpm": 1100.0,
        "parameters": [
            {
                "name": "mass",
                "label": "Weight",
                "unit": "kg",
                "value": 12020.0,
                "low": 11700.0,
                "high": 12300.0,
                "source": "declared",
                "assumed": False,
            }
        ],
        "assumed": ["drag area 6 (4.8 to 7.2) m^2"],
        "climbs": [
            {
                "name": "climb 1",
                "length_km": 7.4,
                "rise_m": 390.0,
                "mean_grade_percent": 5.3,
                "before": {
                    "traversals": 6,
                    "lowest_speed_kmh": 64.0,
                    "full_load_share": 0.7,
                    "downshifts": 4.5,
                    "gear": 4,
                    "peak_coolant_c": 96.0,
                    "peak_transmission_oil_c": 104.0,
                    "model": {"lowest_speed_kmh": 66.0, "downshifts": 2, "gear": 4},
                },
                "after": None,
                "disagrees": [],
                "route": None,
                "from_km": None,
                "to_km": None,
            }
        ],
        "logged_descents": [],
        "model_check": {"stretches": 12, "km": 31.0, "bias_kmh": -0.8, "rms_kmh": 2.9},
        "draws": 200,
        "seed": 1,
    }


def _parts() -> list[dict[str, Any]]:
    """Parts whose logarithms make, with the adjusted change's, that of the indicated change."""
    logs = {"distance": 0.0456, "speed_from_dash": 0.012, "temperature": 0.0186, "grade": -0.004}
    rest = math.log1p(0.039) - math.log1p(-0.028) - sum(logs.values())
    return [
        {
            "name": name,
            "log": log,
            "percent": 100 * math.expm1(log),
            "text": "the dash counts too little distance" if name == "distance" else "",
        }
        for name, log in (logs | {"rest": rest}).items()
    ]


def _rule(
    rule: str, period: str, low: float, high: float, figure: float, meets: bool | None
) -> dict[str, Any]:
    return {
        "rule": rule,
        "period": period,
        "at_kmh": 80.0,
        "limit": f"{low:g} to {high:g} km/h at 80 km/h",
        "limit_low_kmh": low,
        "limit_high_kmh": high,
        "figure": figure,
        "figure_low": figure - 0.1,
        "figure_high": figure + 0.1,
        "basis": "speedometer readings" if meets is not None else "bus speed",
        "meets": meets,
        "why": None if meets is not None else "no reading of the needle is declared",
    }


def full() -> Results:
    """Both periods, fuel, a claim, two routes, warnings."""
    trips = []
    for index in range(28):
        period = "before" if index < 14 else "after"
        factor = (1.0006 if period == "before" else 1.0461) + 0.0008 * ((index * 7) % 5 - 2) / 2
        tall = 1.0 if period == "before" or index == 16 else 1.0455
        ratio = 4.88 / tall * (1 + 0.0006 * ((index * 3) % 5 - 2))
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
        "schema": 2,
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
            "values_set_aside": {"not-available": 41},
            "repairs": {"decoded-as-cp1252": 4},
            "reasons": {"cut-record": 1, "no-time": 301, "repeated-row": 20},
        },
        "declared": {
            "name": "bookmobile",
            "before": {"drive_tire": "245/70R19.5", "fitment": "dual"},
            "after": {"drive_tire": "265/70R19.5", "fitment": "dual"},
            "claim": {"consumption_change_percent": -4.0},
            "money": {
                "fuel_price_per_l": 4.10 / 3.785411784,
                "currency": "USD",
                "distance_per_year_m": 9_656_064.0,
                "cost": None,
            },
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
                for kmh in (5 * step * 1.609344 for step in range(4, 17))
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
                _rule("49 CFR 393.82", "before", -8.0, 8.0, 0.0, True),
                _rule("49 CFR 393.82", "after", -8.0, 8.0, -3.5, True),
                _rule("UN Regulation 39", "after", 0.0, 12.0, -3.5, None),
            ],
            "warnings": [],
        },
        "final_drive": {
            "effective": side(
                {**estimate(4.88, 4.88, 4.88), "method": "declared"},
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
            "parts": _parts(),
            "smallest_detectable_percent": 1.9,
            "more_driving_km": 640.0,
            "deciding_km": None,
            "verdict": "supported",
            "claim_percent": -4.0,
            "margin_percent": 1.0,
            "expected_percent": estimate(-1.6, -2.3, -0.9),
            "engine_computer_scale": side(unknown("no fill-ups"), unknown("no fill-ups")),
            "idle": side(
                {"hours": 3.1, "liters_per_hour": 2.4, "fuel_share_percent": 2.1},
                {"hours": 2.8, "liters_per_hour": 2.6, "fuel_share_percent": 2.0},
            ),
            "sides": side(
                {
                    "days": 14,
                    "trips": 14,
                    "true_km": 1530.0,
                    "liters_per_100km": 26.4,
                    "mean_temperature_c": 14.0,
                    "mean_speed_kmh": 71.0,
                },
                {
                    "days": 13,
                    "trips": 13,
                    "true_km": 1440.0,
                    "liters_per_100km": 26.2,
                    "mean_temperature_c": 3.0,
                    "mean_speed_kmh": 74.0,
                },
            ),
            "physics": [
                {
                    "name": "rolling_per_k",
                    "value": 0.005,
                    "deviation": 0.002,
                    "unit": "1/K",
                    "points": 0.62,
                    "estimated_share": 0.1,
                    "source": "default",
                }
            ],
            "chance": {"p": 0.004, "draws": 9999, "block_days": 2, "seed": 1},
            "savings": {
                "currency": "USD",
                "saving_per_year": estimate(104.0, 55.0, 152.0),
                "years_to_pay": unknown("the study gives no cost"),
                "co2_kg_per_year": estimate(258.0, 137.0, 377.0),
            },
            "set_apart_km": {"warm-up": 61.0, "regeneration": 12.0},
            "weather_used": "Wind enters from the weather file, brought down to vehicle height.",
            "disagreement": "True distance and adjusted differ by the cold: 11 K between means.",
        },
        "mountain": mountain(),
        "routes": [
            {
                "name": "Cold Spring Pass",
                "care": ["a climb's lowest speed falls by 5 km/h"],
                "sections": [
                    {
                        "from_km": 1.2,
                        "to_km": 12.0,
                        "mean_grade_percent": 5.4,
                        "steepest_grade_percent": 6.4,
                        "rise_m": 580.0,
                        "before": _section_side(66.0),
                        "after": _section_side(61.0),
                    }
                ],
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
        "questions": [
            {
                "code": "unit-not-known",
                "message": "The unit of 'Speed 2' cannot be told from its size.",
                "remedy": "Give its unit under [columns].",
                "file": "after/new-18.csv",
                "files": 1,
                "count": 1,
            }
        ],
        "notes": [
            {
                "code": "cut-record",
                "message": "The last record is cut off.",
                "remedy": "",
                "file": "after/new-20.csv",
                "files": 1,
                "count": 1,
            }
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
        "deciding_km": None,
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
        estimate(1.046, 1.041, 1.051, 1, "few-trips"),
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
    return {"schema": 2, "study": "nothing"}


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
            "segment": index,
            "side": period,
            "passes": 3,
            "distance_m": 2000.0 + 35 * index,
            "liters_per_100km": 26.0
            + (index * 7) % 11
            + (0.0 if period == "before" else ((index * 3) % 5 - 2) / 2 - 0.7),
        }
        for index in range(40)
        for period in ("before", "after")
    )
    routes = whole_routes(_routes_frame(results))
    return {"trips": whole_trips(table), "segments": segments, "routes": routes}


def whole_trips(frame: pl.DataFrame) -> pl.DataFrame:
    """Trips with all columns that a run's have; those nobody keeps out are used."""
    found = pl.concat([pl.DataFrame(schema=SCHEMA), frame], how="diagonal_relaxed")
    return found.with_columns(
        pl.col("used", "factor_used", "final_drive_used").fill_null(True),
        pl.col("flags").fill_null(pl.lit([], pl.List(pl.String))),
    )


def whole_routes(frame: pl.DataFrame) -> pl.DataFrame:
    """Routes with all columns that a run's have."""
    return pl.concat([pl.DataFrame(schema=FRAME_SCHEMA), frame], how="diagonal_relaxed")


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
                        "before_service_brake_w": [8e3 * (share == 1) for share in up],
                        "after_service_brake_w": [9e3 * (share == 1) for share in up],
                    }
                )
            )
    return pl.concat(parts) if parts else pl.DataFrame()


def day(index: int) -> date:
    return date(2026, 1, 5) + timedelta(days=index)


def fleet() -> Results:
    """Eight vehicles with new tires, three left as they were; one name is hostile."""
    vehicles = []
    for index in range(11):
        role = "changed" if index < 8 else "control"
        value = -3.4 + 0.5 * (index % 4) if role == "changed" else 0.8 - 0.4 * (index - 9)
        vehicles.append(
            {
                "name": f"bus {index + 1}" if index != 5 else f"{HOSTILE} '] {CLOSER}",
                "role": role,
                "change_percent": estimate(value, value - 1.6, value + 1.6, 24),
                "basis": "adjusted",
                "verdict": "less fuel" if role == "changed" else "no change",
                "final_drive_change_percent": estimate(-4.4, -4.6, -4.2),
                "odometer_factor_after": estimate(1.046, 1.045, 1.047),
                "true_km": 2400.0 + 90 * index,
                "weight": 0.125 if role == "changed" else None,
            }
        )
    return {
        "schema": 2,
        "fleet": "county buses",
        "version": "0.1.0",
        "run_id": "77aa",
        "units": "us",
        "studies": [
            {"name": v["name"], "folder": f"bus-{i + 1}", "role": v["role"]}
            for i, v in enumerate(vehicles)
        ],
        "name": "county buses",
        "vehicles": vehicles,
        "fuel": {
            "pooled": estimate(-2.6, -3.2, -2.0, 8, "random effects over vehicles with new tires"),
            "controls": estimate(0.4, -0.6, 1.4, 3, "random effects over controls"),
            "difference": estimate(-3.0, -4.2, -1.8, 11, "changed against controls"),
            "answer": estimate(-3.0, -4.2, -1.8, 11, "changed against controls"),
            "vehicle_low": -4.1,
            "vehicle_high": -1.1,
            "between_percent": 0.4,
            "heterogeneity_percent": 21.0,
            "claim_percent": -4.0,
            "verdict": "supported",
            "verdict_why": None,
        },
        "warnings": [
            {"code": "few-controls", "text": "Three controls are few.", "trips": []},
        ],
    }
