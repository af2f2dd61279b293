"""Tire sizes: from the text on the sidewall to diameter, rolling circumference and revolutions.

Sources
-------
[1] UN Regulation 54 (commercial tires), paragraph 6.1.2: the nominal outer diameter of a
    metric size is rim diameter + 2 x 0.01 x section width x aspect ratio (from memory).
[2] UN Regulation 54, Annex V: outer diameters of inch-series sizes (from memory).
[3] ETRTO Standards Manual, general section: the dynamic rolling circumference of a radial
    tire at reference load and pressure and 60 km/h is 3.05 x nominal diameter, of a bias-ply
    tire 2.99 x (from memory), with limits of +1.5 % and -2.5 %.
[4] SAE J1025 and ISO 9112 measure revolutions per distance of one tire on the road or drum.
    A published figure of that kind is better than [3]: tires of one size differ by over 2 %
    with tread alone.
[5] "Heavy Vehicle Tire Rolling Resistance Information", NREL ADVISOR documentation, April
    2002: rolling radii of six truck tires from their makers' revolutions per mile.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import pi
from typing import Literal

from gearing.messages import Message, MessageError, UserText, message, names
from gearing.units import INCH_M, Number

ROLLING_PER_DIAMETER = {"radial": 3.05, "bias": 2.99}  # [3]
ROLLING_TOLERANCE_LOW = -0.025  # [3]
# [3] says +1.5 %; a deep drive tread among [5] lies 2.0 % beyond the rule
ROLLING_TOLERANCE_HIGH = 0.025
# The tread of new commercial tires and the depth at which they are drawn, common practice,
# no source; the legal minimum of 2/32 in on other than steer axles is 49 CFR 393.75.
NEW_TREAD_M = 18 / 32 * INCH_M
WORN_TREAD_M = 4 / 32 * INCH_M

Construction = Literal["radial", "bias"]

# Section (inches, as written) and rim code -> outer diameter in mm; radial, from [2].
_INCH_SERIES_MM = {
    ("8", "17.5"): 784,
    ("8.5", "17.5"): 802,
    ("9", "17.5"): 820,
    ("9.5", "17.5"): 842,
    ("10", "17.5"): 858,
    ("8", "19.5"): 859,
    ("9", "19.5"): 893,
    ("8", "22.5"): 936,
    ("9", "22.5"): 970,
    ("10", "22.5"): 1020,
    ("11", "22.5"): 1050,
    ("12", "22.5"): 1084,
    ("13", "22.5"): 1124,
    ("11", "24.5"): 1100,
    ("12", "24.5"): 1134,
    ("7.00", "15"): 746,
    ("7.50", "15"): 772,
    ("8.25", "15"): 836,
    ("10.00", "15"): 918,
    ("6.50", "16"): 742,
    ("7.00", "16"): 778,
    ("7.50", "16"): 802,
    ("8.25", "16"): 860,
    ("9.00", "16"): 912,
    ("7.50", "20"): 928,
    ("8.25", "20"): 962,
    ("9.00", "20"): 1018,
    ("10.00", "20"): 1052,
    ("11.00", "20"): 1082,
    ("12.00", "20"): 1122,
    ("10.00", "22"): 1102,
    ("11.00", "22"): 1132,
}

_EXAMPLES = names(('"245/70R19.5"', '"275/80R22.5"', '"445/50R22.5"', '"11R22.5"'), joint="or")
# behind the size: what it is for, then the load range, a letter that may follow at once
_BEHIND = r"(?:C|LT|ST|TR)?(?:(?:LR)?[A-N])?$"
_METRIC = re.compile(
    r"^(?:P|LT|ST|C)?(\d{3})/(\d{2,3})(?:[A-Z]?(R)F?|([-D]))(\d{2}(?:\.5)?)" + _BEHIND
)
_INCH = re.compile(r"^(?:P|LT|ST)?(\d{1,2}(?:\.\d{1,2})?)(?:(R)|([-XD]))(\d{2}(?:\.5)?)" + _BEHIND)
_FLOTATION = re.compile(
    r"^(?:LT)?(\d{2}(?:\.\d{1,2})?)X(\d{1,2}\.\d{1,2})(?:(R)|[-D])(\d{2}(?:\.5)?)" + _BEHIND
)
# Tires of flotation sizes measure up to half an inch in 35 less than they are called: trade
# tables, from memory
FLOTATION_UNDERSIZE = 0.015


@dataclass(frozen=True, slots=True)
class TireSize:
    """A size as written, with what follows from it. Lengths in m.

    `diameter_source` names the rule or table the diameter is from. Real tires of the size
    differ: see `ROLLING_TOLERANCE_LOW` and `ROLLING_TOLERANCE_HIGH`.
    """

    designation: str
    construction: Construction
    section_width_m: float
    rim_diameter_m: float
    diameter_m: float
    diameter_source: Message
    undersize: float = 0.0  # share by which such tires may measure less than they are called

    @property
    def rolling_circumference_m(self) -> float:
        """Distance per turn at rated load and pressure by the rule of thumb [3], m."""
        return ROLLING_PER_DIAMETER[self.construction] * self.diameter_m

    @property
    def revolutions_per_km(self) -> float:
        """Turns a km by the rule of thumb [3]; a published figure is better [4]."""
        return 1000 / self.rolling_circumference_m

    @property
    def revolutions_per_km_range(self) -> tuple[float, float]:
        """Lowest and highest turns a km that the limits of [3], widened by [5], allow."""
        return (
            self.revolutions_per_km / (1 + ROLLING_TOLERANCE_HIGH),
            self.revolutions_per_km / (1 + ROLLING_TOLERANCE_LOW) / (1 - self.undersize),
        )


def parse_size(text: str) -> TireSize:
    """The tire size a text names: metric (`245/70R19.5`), inch series (`11R22.5`) or flotation
    (`35x12.50R17LT`).

    Load index, speed symbol and load range after the size are passed over. Inch sizes carry
    no aspect ratio, so their diameter is looked up in [2]: a rule would be wrong by about
    2 %, as much as the change in question.

    Raises
    ------
    MessageError
        a text that is no tire size, a size that cannot be, or an inch size outside the
        table; the message says what is expected.
    """
    if not isinstance(text, str) or not text.strip():
        raise MessageError(message("no-size", examples=_EXAMPLES))
    core = _size_part(text)
    metric, inch, flotation = (form.match(core) for form in (_METRIC, _INCH, _FLOTATION))
    if metric is not None:
        return _metric_size(text, metric)
    if inch is not None:
        return _inch_size(text, inch)
    if flotation is not None:
        return _flotation_size(text, flotation)
    raise MessageError(message("no-size/form", size=UserText(text), examples=_EXAMPLES))


def _size_part(text: str) -> str:
    """The size alone, spaces inside it closed, what follows it on the sidewall cut off."""
    folded = text.upper().replace(",", ".").replace("\N{MULTIPLICATION SIGN}", "X").strip()
    folded = re.sub(r"\s*([/RX-])\s*", r"\1", folded, count=3)
    folded = re.sub(r"^(P|LT|ST)\s+", r"\1", folded)
    return folded.split()[0]


def _metric_size(text: str, match: re.Match[str]) -> TireSize:
    width_mm, aspect_percent = float(match[1]), float(match[2])
    rim_m = float(match[5]) * INCH_M
    diameter_m = rim_m + 2 * width_mm / 1000 * aspect_percent / 100
    if not (125 <= width_mm <= 495 and 20 <= aspect_percent <= 105 and 0.3 <= rim_m <= 0.65):
        raise MessageError(
            message(
                "no-size/measures",
                size=UserText(text),
                width_mm=UserText(match[1]),
                aspect=UserText(match[2]),
                rim=UserText(match[5]),
            )
        )
    construction: Construction = "radial" if match[3] else "bias"
    letter = "R" if match[3] else "-"
    return TireSize(
        designation=f"{match[1]}/{match[2]}{letter}{match[5]}",
        construction=construction,
        section_width_m=width_mm / 1000,
        rim_diameter_m=rim_m,
        diameter_m=diameter_m,
        diameter_source=message("diameter-source/metric"),
    )


def _inch_size(text: str, match: re.Match[str]) -> TireSize:
    width, rim = match[1], match[4]
    diameter_mm = _INCH_SERIES_MM.get((width, rim))
    if diameter_mm is None:
        known = names([f"{w}R{r}" for w, r in _INCH_SERIES_MM], joint=",")
        raise MessageError(message("no-size/not-in-table", size=UserText(text), known=known))
    construction: Construction = "radial" if match[2] else "bias"
    return TireSize(
        designation=f"{width}{'R' if match[2] else '-'}{rim}",
        construction=construction,
        section_width_m=float(width) * INCH_M,
        rim_diameter_m=float(rim) * INCH_M,
        diameter_m=diameter_mm / 1000,
        diameter_source=message("diameter-source/inch"),
    )


def _flotation_size(text: str, match: re.Match[str]) -> TireSize:
    diameter_m, width_m, rim_m = (float(match[i]) * INCH_M for i in (1, 2, 4))
    if not (rim_m + 0.1 < diameter_m < 1.6 and 0.15 <= width_m <= 0.6):
        raise MessageError(
            message(
                "no-size/flotation",
                size=UserText(text),
                diameter=UserText(match[1]),
                width=UserText(match[2]),
                rim=UserText(match[4]),
            )
        )
    return TireSize(
        designation=f"{match[1]}x{match[2]}{'R' if match[3] else '-'}{match[4]}",
        construction="radial" if match[3] else "bias",
        section_width_m=width_m,
        rim_diameter_m=rim_m,
        diameter_m=diameter_m,
        diameter_source=message("diameter-source/flotation"),
        undersize=FLOTATION_UNDERSIZE,
    )


def revolutions_after_wear(revolutions_per_km: Number, tread_lost_m: float) -> Number:
    """Turns a km [1/km] once `tread_lost_m` [m] of tread is gone.

    Tread lost shortens the rolling radius one for one (common practice, no source).
    """
    return revolutions_per_km / (1 - revolutions_per_km * (2 * pi * tread_lost_m / 1000))


def revolutions_at_half_wear(
    revolutions_per_km: Number,
    tread_m: float = NEW_TREAD_M,
    worn_tread_m: float = WORN_TREAD_M,
) -> Number:
    """Turns a km [1/km] half-way from tread depth `tread_m` [m] to the worn depth.

    A computer programmed for this is right on average over the tire's life.
    """
    return revolutions_after_wear(revolutions_per_km, max(tread_m - worn_tread_m, 0.0) / 2)
