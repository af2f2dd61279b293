"""Figures as the reader has them: US or metric units, fuel economy or fuel consumption."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, Protocol, Self, TypeVar

from gearing.messages.audience import Role, word
from gearing.units import MPG_L_PER_100KM, convert

if TYPE_CHECKING:
    from collections.abc import Callable

System = Literal["us", "metric"]
MINUS = "\N{MINUS SIGN}"


class Mapped(Protocol):
    """What can be put through a monotone function, as an estimate can."""

    def map(self, transform: Callable[[float], float]) -> Self:
        """The same through a monotone function."""
        ...


Changed = TypeVar("Changed", bound=Mapped)


def economy_percent(consumption_percent: float) -> float:
    """Change of distance per volume that a change of volume per distance amounts to [%]."""
    return 100.0 * (100.0 / (100.0 + consumption_percent) - 1.0)


def digits(value: float, places: int) -> str:
    """A number with thousands separated; a rounded zero has no sign. Places below zero round to
    tens, hundreds and so on."""
    if places < 0:
        value, places = round(value, places), 0
    shown = f"{value:,.{places}f}"
    return shown.lstrip("-") if float(shown.replace(",", "")) == 0 else shown


def places_of(*values: float, figures: int = 3) -> int:
    """The fewest decimals that show each value as well as so many significant figures do."""

    def fits(places: int) -> bool:
        return all(
            abs(round(value, places) - value)
            <= abs(float(f"{value:.{figures}g}") - value) + 1e-12 * abs(value)
            for value in values
        )

    return next((places for places in range(8) if fits(places)), 8)


def signed(value: float, places: int = 1) -> str:
    """A number with its sign, the minus as a proper minus sign."""
    shown = digits(value, places)
    if shown.startswith("-"):
        return MINUS + shown[1:]
    return shown if float(shown.replace(",", "")) == 0 else "+" + shown


def minus(value: float, places: int) -> str:
    """A number with a proper minus sign, and no plus."""
    return digits(value, places).replace("-", MINUS)


def rough(value: float) -> str:
    """A number to two figures, for what is known no better: 1,234 becomes 1,200."""
    if value == 0:
        return "0"
    power = len(f"{abs(value):.0f}") - 2
    return digits(round(value, -power), 0) if power > 0 else digits(value, 0)


# a unit findings name: (as units.py knows it, what the reader has instead, how that is written)
_BOTH = {
    "-": ("-", "-", ""),
    "1/deg": ("1/deg", "1/deg", "per degree"),
}
_METRIC = _BOTH | {
    "degC": ("degC", "degC", "°C"),
    "m^2": ("m^2", "m^2", "m²"),
    "m2": ("m^2", "m^2", "m²"),
    "1/K": ("1/K", "1/K", "per °C"),
    "W": ("W", "kW", "kW"),
    "s/m": ("s/m", "h/km", "per km/h"),
}
_US = _BOTH | {
    "kg": ("kg", "lb", "lb"),
    "m^2": ("m^2", "ft^2", "sq ft"),
    "m2": ("m^2", "ft^2", "sq ft"),
    "degC": ("degC", "degF", "°F"),
    "m/s": ("m/s", "mph", "mph"),
    "L/h": ("L/h", "gal/h", "gal/h"),
    "1/K": ("1/K", "1/degF", "per °F"),
    "W": ("W", "hp", "hp"),
    "s/m": ("s/m", "h/mi", "per mph"),
    "L/kWh": ("L/kWh", "gal/hp-h", "gal per hp-hour"),
}
# those that are one unit over another: what the figure is multiplied by
_OVER = {
    ("s/m", "h/km"): convert(1.0, "km/h", "m/s"),
    ("s/m", "h/mi"): convert(1.0, "mph", "m/s"),
    ("1/K", "1/degF"): 5 / 9,
    ("L/kWh", "gal/hp-h"): convert(1.0, "L", "gal") * convert(1.0, "hp", "kW"),
}


def _turned(value: float, source: str, target: str) -> float:
    times = _OVER.get((source, target))
    return convert(value, source, target) if times is None else value * times


@dataclass(frozen=True, slots=True)
class Display:
    """How figures are shown, and to whom: each method takes the metric figure and gives the
    reader's. `role` is the vehicle's: a fleet's control kept its tires, and has periods."""

    system: System = "metric"
    role: Role = "changed"

    def word(self, key: str) -> str:
        """A wording that depends on the role, by its key in `gearing.messages.audience`."""
        return word(key, self.role)

    def tires(self, side: str) -> str:
        """`old tires`, `new tires`; the text itself for what is neither period."""
        names = {"before": "old tires", "after": "new tires"}
        return self.word(names[side]) if side in names else side

    def on(self, side: str) -> str:
        """`on the old tires`, `on the new tires`."""
        return self.word("on the old tires" if side == "before" else "on the new tires")

    @property
    def us(self) -> bool:
        """Whether the reader has US units."""
        return self.system == "us"

    @property
    def speed_unit(self) -> str:
        """Unit of speeds."""
        return "mph" if self.us else "km/h"

    @property
    def distance_unit(self) -> str:
        """Unit of distances."""
        return "mi" if self.us else "km"

    @property
    def distance_word(self) -> str:
        """Unit of distances, written out where it has a word."""
        return "miles" if self.us else "km"

    @property
    def height_unit(self) -> str:
        """Unit of heights."""
        return "ft" if self.us else "m"

    @property
    def volume_unit(self) -> str:
        """Unit of volumes of fuel."""
        return "gal" if self.us else "L"

    @property
    def temperature_unit(self) -> str:
        """Unit of temperatures."""
        return "°F" if self.us else "°C"

    @property
    def fuel_word(self) -> str:
        """What is told of fuel: distance per volume or volume per distance."""
        return "fuel economy" if self.us else "fuel consumption"

    @property
    def fuel_unit(self) -> str:
        """Unit of what is told of fuel."""
        return "mpg" if self.us else "L/100 km"

    @property
    def revolutions_unit(self) -> str:
        """Unit of revolutions per distance, written out."""
        return "revolutions per mile" if self.us else "revolutions per km"

    @property
    def round_speed(self) -> float:
        """A round road speed to give examples at, in the reader's unit."""
        return 60.0 if self.us else 100.0

    def speed(self, kmh: float) -> float:
        """A speed [km/h] in the reader's unit."""
        return convert(kmh, "km/h", "mph") if self.us else kmh

    def distance(self, km: float) -> float:
        """A distance [km] in the reader's unit."""
        return convert(km, "km", "mi") if self.us else km

    def height(self, m: float) -> float:
        """A height [m] in the reader's unit."""
        return convert(m, "m", "ft") if self.us else m

    def volume(self, liters: float) -> float:
        """A volume [L] in the reader's unit."""
        return convert(liters, "L", "gal") if self.us else liters

    def temperature(self, c: float) -> float:
        """A temperature [degC] in the reader's unit."""
        return convert(c, "degC", "degF") if self.us else c

    def weight(self, kg: float) -> float:
        """A weight [kg] in the reader's unit."""
        return convert(kg, "kg", "lb") if self.us else kg

    def revolutions(self, per_km: float) -> float:
        """Revolutions per distance [1/km] in the reader's unit."""
        return convert(per_km, "1/km", "1/mi") if self.us else per_km

    def plain(self, value: float, unit: str) -> tuple[float, str]:
        """A figure and its unit, any of those findings name, as the reader has them."""
        turn = (_US if self.us else _METRIC).get(unit)
        if turn is None:
            return value, unit
        source, target, name = turn
        return (value if source == target else _turned(value, source, target)), name

    def fuel(self, l_per_100km: float) -> float | None:
        """Economy for US readers, consumption for metric ones; None for economy of nothing."""
        if not self.us:
            return l_per_100km
        return MPG_L_PER_100KM / l_per_100km if l_per_100km > 0 else None

    def fuel_change(self, consumption: Changed) -> Changed:
        """The change in the reader's sense: of economy or of consumption."""
        return consumption.map(economy_percent) if self.us else consumption

    def fuel_change_percent(self, consumption_percent: float) -> float:
        """A change of consumption [%] in the reader's sense: of economy or of consumption."""
        return economy_percent(consumption_percent) if self.us else consumption_percent

    def turned(self, value: float, unit: str) -> tuple[float, str]:
        """A figure of a message and how its unit is written, as the reader has them.

        Besides the units of `plain`: K is a difference of temperatures, `% consumption` a change
        of fuel consumption, which US readers have as one of fuel economy, and `mm tread` a
        depth, which they have in 32nds of an inch.
        """
        match unit:
            case "km/h":
                return self.speed(value), self.speed_unit
            case "km":
                return self.distance(value), self.distance_unit
            case "m":
                return self.height(value), self.height_unit
            case "L":
                return self.volume(value), self.volume_unit
            case "1/km":
                return self.revolutions(value), self.revolutions_unit
            case "K":
                return (1.8 * value if self.us else value), self.temperature_unit
            case "mm tread":
                return (convert(value, "mm", "in") * 32, "/32 in") if self.us else (value, "mm")
            case "% consumption":
                return self.fuel_change_percent(value), "%"
            case "L/100 km" if self.fuel(value) is not None:
                return self.fuel(value) or 0.0, self.fuel_unit
        return self.plain(value, unit)
