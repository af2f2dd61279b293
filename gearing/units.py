"""Units of measurement: exact factors with their source, for numbers and columns alike.

Every factor is exact by definition unless its comment says otherwise. Source of the
definitions: NIST Special Publication 811 (2008), Appendix B, and the International Yard and
Pound Agreement of 1959.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import polars as pl
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Number = TypeVar(
        "Number", float, "np.ndarray[tuple[int, ...], np.dtype[np.float64]]", pl.Expr, pl.Series
    )
else:
    Number = TypeVar("Number")

FOOT_M = 0.3048
INCH_M = 0.0254
MILE_M = 1609.344
NAUTICAL_MILE_M = 1852.0
POUND_KG = 0.45359237
GALLON_L = 3.785411784
IMPERIAL_GALLON_L = 4.54609
STANDARD_GRAVITY_MPS2 = 9.80665  # CGPM 1901
POUND_FORCE_N = POUND_KG * STANDARD_GRAVITY_MPS2
PSI_KPA = POUND_FORCE_N / INCH_M**2 / 1000
MPH_MPS = MILE_M / 3600
KMH_MPS = 1 / 3.6
# miles per US gallon x litres per 100 km
MPG_L_PER_100KM = 100 * GALLON_L / (MILE_M / 1000)


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: `base = value * factor + offset`, the base being its dimension's own."""

    name: str
    dimension: str
    factor: float
    offset: float = 0.0
    spellings: tuple[str, ...] = ()


_UNITS = (
    Unit("m/s", "speed", 1.0, spellings=("mps", "m.s-1", "meters/second", "meter/second")),
    Unit(
        "km/h",
        "speed",
        KMH_MPS,
        spellings=("kmh", "kph", "kmph", "km/hr", "km/std", "km/hour", "km/u", "km/t"),
    ),
    Unit("mph", "speed", MPH_MPS, spellings=("mi/h", "mp/h", "miles/h", "miles/hour", "mi/hr")),
    Unit("kn", "speed", NAUTICAL_MILE_M / 3600, spellings=("kt", "kts", "knot", "knots")),
    Unit("m", "length", 1.0, spellings=("meter", "meters", "metre", "metres", "mtr")),
    Unit(
        "km",
        "length",
        1000.0,
        spellings=("kilometer", "kilometers", "kilometre", "kilometres", "kms", "kilometros"),
    ),
    Unit("mi", "length", MILE_M, spellings=("mile", "miles", "meilen", "millas")),
    Unit("ft", "length", FOOT_M, spellings=("feet", "foot", "'")),
    Unit("in", "length", INCH_M, spellings=("inch", "inches", '"')),
    Unit("mm", "length", 0.001, spellings=("millimeter", "millimeters", "millimetres")),
    Unit("cm", "length", 0.01),
    Unit("yd", "length", 3 * FOOT_M, spellings=("yard", "yards")),
    Unit(
        "L",
        "volume",
        1.0,
        spellings=("l", "liter", "liters", "litre", "litres", "ltr", "litro", "litros"),
    ),
    Unit("mL", "volume", 0.001, spellings=("ml",)),
    Unit(
        "gal",
        "volume",
        GALLON_L,
        spellings=("gallon", "gallons", "gals", "us gal", "usgal", "gal us"),
    ),
    Unit(
        "imp gal",
        "volume",
        IMPERIAL_GALLON_L,
        spellings=("imperial gallon", "imperial gallons", "uk gal", "gal uk", "gal imp"),
    ),
    Unit(
        "L/h",
        "volume rate",
        1.0,
        spellings=("l/h", "lph", "l/hr", "liters/hour", "l/std", "l/u"),
    ),
    Unit("L/s", "volume rate", 3600.0, spellings=("l/s", "l/sec")),
    Unit("mL/s", "volume rate", 3.6, spellings=("ml/s", "cc/s", "cm3/s", "cm^3/s")),
    Unit("mL/min", "volume rate", 0.06, spellings=("ml/min", "cc/min", "cm3/min", "cm^3/min")),
    Unit("mL/h", "volume rate", 0.001, spellings=("ml/h", "ml/hr", "cc/h", "cc/hr")),
    Unit("L/min", "volume rate", 60.0, spellings=("l/min", "lpm")),
    Unit("gal/h", "volume rate", GALLON_L, spellings=("gph", "gal/hr", "gallons/hour")),
    Unit(
        "imp gal/h",
        "volume rate",
        IMPERIAL_GALLON_L,
        spellings=("imp gal/hr", "uk gal/h", "uk gal/hr", "gal/h imp", "gal/h uk", "imperial gph"),
    ),
    Unit("gal/min", "volume rate", 60 * GALLON_L, spellings=("gpm",)),
    Unit("g/s", "mass rate", 1.0, spellings=("gps", "g/sec", "grams/second")),
    Unit("kg/h", "mass rate", 1 / 3.6, spellings=("kg/hr",)),
    Unit("g/h", "mass rate", 1 / 3600, spellings=("g/hr",)),
    Unit("lb/min", "mass rate", POUND_KG * 1000 / 60),
    Unit("lb/h", "mass rate", POUND_KG * 1000 / 3600, spellings=("lb/hr", "lbs/h", "lbs/hr")),
    Unit(
        "rpm",
        "rotation",
        1.0,
        spellings=(
            "1/min",
            "r/min",
            "rev/min",
            "u/min",
            "min-1",
            "tr/min",
            "revs/min",
            "/min",
            "tpm",
            "obr/min",
            "giri/min",
            "varv/min",
        ),
    ),
    Unit("Hz", "rotation", 60.0, spellings=("1/s", "rps", "rev/s")),
    Unit("rad/s", "rotation", 9.549296585513721, spellings=("radians/s", "1/s rad")),
    # a dial's figures, and the steps of SAE J1939 and SAE J1979
    Unit(
        "1000 rpm",
        "rotation",
        1000.0,
        spellings=(
            "krpm",
            "x1000",
            "x 1000",
            "x1000 rpm",
            "rpm x1000",
            "rpm x 1000",
            "x 1000 rpm",
            "1000/min",
            "rpm*1000",
        ),
    ),
    Unit("0.125 rpm", "rotation", 0.125, spellings=("0.125 rpm/bit", "1/8 rpm")),
    Unit("0.25 rpm", "rotation", 0.25, spellings=("0.25 rpm/bit", "1/4 rpm")),
    Unit("%", "ratio", 1.0, spellings=("percent", "percentage", "pct", "prozent", "0-100")),
    # as a byte of a bus, and as a fraction
    Unit("% of 255", "ratio", 100 / 255, spellings=("0-255", "0..255", "0 to 255")),
    Unit("fraction", "ratio", 100.0, spellings=("0-1", "0..1", "0 to 1")),
    Unit("-", "plain", 1.0, spellings=("", "1", "ratio", "none", "[]")),
    Unit("deg", "angle", 1.0, spellings=("°", "degree", "degrees", "grad")),
    # how receivers' binary records write positions
    Unit("1e-7 deg", "angle", 1e-7, spellings=("dege7", "deg e7", "deg*1e7", "1e-7 °", "e7")),
    Unit("1e-6 deg", "angle", 1e-6, spellings=("dege6", "deg e6", "deg*1e6", "1e-6 °", "e6")),
    Unit("semicircles", "angle", 180 / 2**31, spellings=("semicircle",)),
    Unit("rad", "angle", 57.29577951308232, spellings=("radian", "radians")),
    Unit("degC", "temperature", 1.0, spellings=("c", "°c", "celsius", "deg c", "grad c")),
    Unit("degF", "temperature", 5 / 9, -160 / 9, ("f", "°f", "fahrenheit", "deg f")),
    Unit("K", "temperature", 1.0, -273.15, ("kelvin",)),
    # as buses carry it in a byte: counts above -40 degC (SAE J1979 PID 05, SAE J1939-71 SPN 110)
    Unit("counts above -40 degC", "temperature", 1.0, -40.0, ("degc + 40",)),
    Unit("kPa", "pressure", 1.0, spellings=("kilopascal",)),
    Unit("Pa", "pressure", 0.001, spellings=("pascal",)),
    Unit("hPa", "pressure", 0.1, spellings=("mbar", "mb")),
    Unit("bar", "pressure", 100.0),
    Unit("psi", "pressure", PSI_KPA, spellings=("lbf/in2", "lb/in2", "psig", "psia")),
    Unit("inHg", "pressure", 3.386389, spellings=("in hg", "inches hg")),  # conventional, 0 degC
    Unit("mmHg", "pressure", 0.133322387415),
    Unit("kg", "mass", 1.0, spellings=("kilogram", "kilograms", "kgs")),
    Unit("t", "mass", 1000.0, spellings=("tonne", "tonnes", "metric ton")),
    Unit("lb", "mass", POUND_KG, spellings=("lbs", "pound", "pounds", "lbm")),
    Unit("N*m", "torque", 1.0, spellings=("nm", "n m", "newton meter")),
    Unit(
        "lbf*ft",
        "torque",
        POUND_FORCE_N * FOOT_M,
        spellings=(
            "lb-ft",
            "lbf ft",
            "lb ft",
            "ft-lb",
            "ft lb",
            "ftlb",
            "lbft",
            "ft*lbf",
            "ft-lbf",
        ),
    ),
    Unit("W", "power", 1.0, spellings=("watt", "watts")),
    Unit("kW", "power", 1000.0, spellings=("kilowatt", "kilowatts")),
    # 550 foot pounds-force a second
    Unit("hp", "power", 550 * FOOT_M * POUND_FORCE_N, spellings=("horsepower", "bhp")),
    Unit("PS", "power", 75 * STANDARD_GRAVITY_MPS2, spellings=("ch", "cv", "metric hp")),
    Unit("m^2", "area", 1.0, spellings=("m2", "sq m", "sqm", "square meters", "square metres")),
    Unit("ft^2", "area", FOOT_M**2, spellings=("ft2", "sq ft", "sqft", "square feet")),
    Unit("s", "time", 1.0, spellings=("sec", "secs", "second", "seconds", "sek")),
    Unit("ms", "time", 0.001, spellings=("msec", "millisecond", "milliseconds")),
    Unit("us", "time", 1e-6, spellings=("µs", "microsecond", "microseconds")),
    Unit("ns", "time", 1e-9, spellings=("nsec", "nanosecond", "nanoseconds")),
    Unit("min", "time", 60.0, spellings=("minute", "minutes", "mins")),
    Unit("h", "time", 3600.0, spellings=("hr", "hrs", "hour", "hours", "std")),
    Unit("1/km", "per length", 1.0, spellings=("rev/km", "per km")),
    Unit("1/mi", "per length", 1000 / MILE_M, spellings=("rev/mi", "rev/mile", "per mile")),
    Unit("1/m", "per length", 1000.0, spellings=("rev/m", "per m")),
    Unit("1/K", "per kelvin", 1.0, spellings=("per k",)),
)

BY_NAME = {unit.name: unit for unit in _UNITS}


def _fold(text: str) -> str:
    folded = text.strip().lower()
    folded = folded.replace("²", "^2").replace("·", "*").replace("⋅", "*").replace("º", "°")
    return re.sub(r"\s+", " ", folded).strip(" .")


_EXACT: dict[str, Unit] = {unit.name: unit for unit in _UNITS}
_FOLDED: dict[str, Unit] = {}
# first as they are, then as headings without signs have them: km h, gal per hr
for _over in ("/", " ", " per "):
    for _unit in _UNITS:
        for _spelling in (_unit.name, *_unit.spellings):
            if _over == "/" or "/" in _spelling.strip("/"):
                _FOLDED.setdefault(_fold(_spelling.replace("/", _over)), _unit)


def find_unit(text: str, dimensions: tuple[str, ...] | None = None) -> Unit | None:
    """The unit a text names, or None.

    Case matters only where two units differ by nothing else. `dimensions`, where given,
    keeps to units of these.
    """
    unit = _EXACT.get(text.strip()) or _FOLDED.get(_fold(text))
    if unit is not None and dimensions is not None and unit.dimension not in dimensions:
        return None
    return unit


def convert(value: Number, source: str, target: str) -> Number:
    """`value`, a float, array, column or expression, in unit `source` expressed in unit `target`.

    Raises
    ------
    KeyError
        a name that is no unit's.
    ValueError
        two units of different dimension.
    """
    a, b = BY_NAME[source], BY_NAME[target]
    if a.dimension != b.dimension:
        raise ValueError(f"{a.name} is a {a.dimension}, {b.name} a {b.dimension}")
    if a is b:
        return value
    if a.offset == b.offset == 0.0:
        return value * (a.factor / b.factor)
    return (value * a.factor + (a.offset - b.offset)) * (1 / b.factor)


_QUANTITY = re.compile(r"^\s*([-+]?(?:\d[\d_,]*(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$")


class QuantityError(ValueError):
    """A text that is no quantity: why, and what of it was found."""

    def __init__(
        self, fault: Literal["no number", "no unit", "comma", "other unit"], found: str
    ) -> None:
        super().__init__(fault, found)
        self.fault, self.found = fault, found


def parse_quantity(text: str, target: str) -> float:
    """A number with its unit, such as `"26500 lb"`, in unit `target`.

    Raises
    ------
    QuantityError
        no number, a comma that sets no thousands apart, no unit, or none of the target's
        dimension.
    """
    match = _QUANTITY.match(text)
    if match is None:
        raise QuantityError("no number", text)
    if not match[2]:
        raise QuantityError("no unit", text)
    # a fraction of an inch, "6/32 in", is how tread depth is written
    fraction = re.match(r"^\s*(\d+)\s*/\s*(\d+)\s*(\D.*)$", text)
    try:
        if fraction is not None and int(fraction[2]):
            number, unit_text = int(fraction[1]) / int(fraction[2]), fraction[3]
        else:
            number, unit_text = _number(match[1]), match[2]
    except OverflowError:  # of a fraction's digits
        raise QuantityError("no number", text) from None
    unit = find_unit(unit_text, (BY_NAME[target].dimension,))
    if unit is None:
        raise QuantityError("other unit", unit_text)
    return convert(number, unit.name, target)


def _number(text: str) -> float:
    if "," in text and not re.match(r"[-+]?[1-9]\d{0,2}(,\d{3})+(?!\d|,)", text):
        raise QuantityError("comma", text)
    return float(re.sub("[_,]", "", text))
