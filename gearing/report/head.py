"""The head of the page: which study, which tires, and the two tires drawn to scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

import polars as pl

from gearing.messages.display import Display, digits
from gearing.report.chart import SIDES
from gearing.report.kept import is_control
from gearing.report.reading import Tree, dig, number, text


@dataclass(frozen=True, slots=True)
class Wheel:
    """One tire of the drawing, in drawing units; it stands on y = 0, up is negative."""

    side: str
    label: str
    radius: float

    @property
    def centre(self) -> float:
        return -self.radius


@dataclass(frozen=True, slots=True)
class Head:
    title: str
    tires: str
    facts: tuple[str, ...]
    wheels: tuple[Wheel, ...]
    caption: str


def head(results: Tree, frames: dict[str, pl.DataFrame], display: Display) -> Head:
    return Head(
        title=text(results.get("study")) or text(results.get("name")) or "A study without a name",
        tires=_tires(results),
        facts=_facts(results, frames, display),
        wheels=_wheels(results),
        caption=_caption(results, display),
    )


def _tires(results: Tree) -> str:
    sizes = [size for side in SIDES if (size := tire(results, side))]
    if is_control(results) and sizes:
        return (
            f"{sizes[0]} throughout: a vehicle that kept its tires, compared with itself before "
            "and after the day the others changed"
        )
    if len(sizes) > 1 and len(set(sizes)) == 1:
        return f"{sizes[0]} throughout: by old and new tires this page means before and after"
    return " to ".join(sizes)


def tire(results: Tree, side: str) -> str:
    """The drive tire of a side as declared."""
    return text(dig(results, "declared", side, "drive_tire"))


def _facts(results: Tree, frames: dict[str, pl.DataFrame], display: Display) -> tuple[str, ...]:
    trips = frames.get("trips")
    facts = []
    if trips is not None and not trips.is_empty() and "true_m" in trips.columns:
        count = f"{trips.height:,} trip{'' if trips.height == 1 else 's'}"
        total = float(trips["true_m"].sum()) / 1000
        way = f"{digits(display.distance(total), 0)} true {display.distance_word}"
        # without a receiver how far was driven is not known, and not nothing
        facts.append(f"{count}, {way}" if total > 0 else count)
    if trips is not None and not trips.is_empty() and "local_day" in trips.columns:
        days = trips["local_day"].cast(pl.String)
        facts.append(f"{days.min()!s} to {days.max()!s}")
    files = number(dig(results, "input", "files"))
    rows = number(dig(results, "input", "rows_read"))
    if files is not None and rows is not None:
        many = "" if files == 1 else "s"
        facts.append(f"{files:,.0f} file{many}, {rows:,.0f} rows read")
    return tuple(facts)


def _rolling_radius_m(results: Tree, side: str) -> float | None:
    per_km = number(dig(results, "speed", "revolutions_per_km", side))
    return 1000 / (2 * math.pi * per_km) if per_km else None


def _wheels(results: Tree) -> tuple[Wheel, ...]:
    radii = {side: _rolling_radius_m(results, side) for side in SIDES}
    known = {side: radius for side, radius in radii.items() if radius}
    if not known:
        return ()
    scale = 60 / max(known.values())
    return tuple(Wheel(side, SIDES[side], radius * scale) for side, radius in known.items())


def _caption(results: Tree, display: Display) -> str:
    parts = []
    for side, name in SIDES.items():
        per_km = number(dig(results, "speed", "revolutions_per_km", side))
        if per_km is not None:
            turns = digits(display.revolutions(per_km), 0)
            parts.append(f"{name}: {turns} {display.revolutions_unit}")
    return "; ".join(parts)
