"""What a message carries: figures with their units, names as users wrote them, counts, places.

A field knows what it is and not how it is shown: units, sharing and audience are the renderer's.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from datetime import datetime

    from gearing.messages.render import Field

# what a user's text names: this decides what stands for it where a page is shared; `system` is
# what the operating system or a library says, which may name files
NameKind = Literal["name", "trip", "file", "column", "value", "line", "system"]
Joint = Literal["and", "or", ", and", ",", ";", "", "\n"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A figure in the metric unit named, shown with `places` decimals (-2: in round hundreds).

    Units are those of `gearing.messages.display`: km/h, km, m, L, L/100 km, kg, degC and so on;
    K is a difference of temperatures. `sign` shows a plus too.
    """

    value: float
    unit: str
    places: int = 0
    sign: bool = False


@dataclass(frozen=True, slots=True)
class Span:
    """From one figure to another, in one unit; `joint` is the word between them."""

    low: float
    high: float
    unit: str
    places: int = 0
    joint: Literal["to", "and", "or"] = "to"


@dataclass(frozen=True, slots=True)
class Measured:
    """A figure with its 95 % interval, in one unit: `3.1 (2.9 to 3.3) %`."""

    value: float
    low: float
    high: float
    unit: str
    places: int = 1


@dataclass(frozen=True, slots=True)
class UserText:
    """Text that comes from the user or from a file, shown as it is and never read for meaning."""

    text: str
    kind: NameKind = "name"


@dataclass(frozen=True, slots=True)
class Moment:
    """A point in time as ISO 8601; a shared page shows the date alone."""

    iso: str

    @classmethod
    def day(cls, at: datetime) -> Moment:
        """The date of a moment, in its own zone."""
        return cls(f"{at:%Y-%m-%d}")


@dataclass(frozen=True, slots=True)
class Position:
    """Latitude and longitude [degrees]; a shared page does not show them."""

    latitude_deg: float
    longitude_deg: float


@dataclass(frozen=True, slots=True)
class Items:
    """Several fields in a row: `a, b and c`; with the joint `\\n` each in a line of its own."""

    items: tuple[Field, ...]
    joint: Joint = "and"
