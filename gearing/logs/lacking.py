"""Columns that no name tells, asked about where their unit fits a channel the file lacks."""

from __future__ import annotations

import itertools
from collections.abc import Callable

from gearing.logs.assign import UNKNOWN, Assignment, Candidate
from gearing.logs.column_rule import ignore_line, rule_lines
from gearing.logs.headings import dimensions_of, fold
from gearing.logs.ledger import Ledger, answer
from gearing.messages import message, names
from gearing.quantities import QUANTITIES
from gearing.units import BY_NAME

_FUEL = ("fuel_rate_lph", "fuel_mass_rate_gps")
# Many columns carry g/s or L/h; only those that say so may be fuel
_FUEL_WORDS = {"fuel", "fc", "kraftstoff", "verbrauch", "carburant", "combustible", "consumption"}
_SPEEDS = ("indicated_speed_mps", "gps_speed_mps")
# Speeds of something else, or none that was driven at a moment (common practice, no source)
_OTHER_SPEEDS = {
    "wind", "gust", "air", "fan", "limit", "limiter", "max", "maximum", "min", "avg", "average",
    "mean", "set", "target", "cruise", "pump", "piston", "flow", "vertical", "climb",
    "accuracy", "error", "uncertainty", "deviation",
    "windgeschwindigkeit", "vent", "viento", "sollgeschwindigkeit", "soll", "consigne",
}  # fmt: skip
MAX_ASKED = 8


def wanted_names(
    assignment: Assignment, is_numeric: Callable[[Candidate], bool], ledger: Ledger
) -> None:
    """Ask about unknown headings whose unit fits a channel the file lacks."""
    have = set(assignment.channels)
    lacking = [t for t in ("indicated_speed_mps", "engine_speed_rpm") if t not in have]
    if not have & {"gps_speed_mps", "latitude_deg"}:
        lacking.insert(1, "gps_speed_mps")
    if not have & {"fuel_rate_lph", "fuel_used_l", "mass_air_flow_gps", "fuel_mass_rate_gps"}:
        lacking += _FUEL
    unknown = [c for c in assignment.unused if c.how == UNKNOWN and c.unit is not None]
    unknown = list(itertools.islice(filter(is_numeric, unknown), MAX_ASKED))
    fitting: dict[tuple[str, ...], list[tuple[str, str]]] = {}
    for c in unknown:
        targets = tuple(t for t in lacking if _fits(c, t))
        if targets and c.unit:
            fitting.setdefault(targets, []).append((c.heading, c.unit))
    for targets, headings in fitting.items():
        lines = [
            line
            for heading, unit in headings
            for line in (*rule_lines(heading, targets, (unit,)), ignore_line(heading))
        ]
        channels = names([QUANTITIES[t].label for t in targets], joint="or")
        ledger.ask(message("which-name", channels=channels, answer=answer(lines)))


def _fits(c: Candidate, target: str) -> bool:
    if c.unit is None or BY_NAME[c.unit].dimension not in dimensions_of(target):
        return False
    words = set(fold(c.heading).split())
    if target in _SPEEDS:
        return not words & _OTHER_SPEEDS
    return target not in _FUEL or bool(words & _FUEL_WORDS)
