"""What an owner writes of a vehicle in a study file: right, or with one thing wrong.

Common practice, no source: the axle ratios of the trade's list, that one tire lies within 1 %
of its published revolutions, that tires of one size differ by 2.5 %, that ratios are written
with two decimals.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from declaration_world import World

KINDS = (
    "none", "axle", "size", "published", "gears", "speed_source", "units", "swapped", "axle_after",
)  # fmt: skip
SIDES = ("before", "after")
SOURCES = ("output shaft", "drive wheels", "front wheels", "receiver")  # what may be counted
AXLES = (
    2.47, 2.64, 2.79, 2.93, 3.08, 3.21, 3.36, 3.42, 3.55, 3.70, 3.73, 3.90, 4.10, 4.30, 4.33, 4.56,
    4.63, 4.78, 4.88, 5.13, 5.29, 5.38, 5.57, 5.86, 6.14, 6.17, 6.50, 6.83, 7.17, 7.60, 8.10,
)  # fmt: skip
RIMS_IN = (15.0, 16.0, 17.5, 19.5, 20.0, 22.5, 24.0, 24.5)
# dynamic rolling circumference of a radial over its nominal diameter, ETRTO (from memory)
ROLLING = 3.05


@dataclass(frozen=True)
class Declared:
    """The study file's figures. `wrong_keys` are those that are not so, `wrong_percent` by how
    much the worst of them; `unit_factor` times true m/s is what stands in the file, by period;
    `filed_swapped`: the logs stand under the other period."""

    drive_tire: tuple[str, str]
    revolutions_per_km: tuple[float | None, float | None]
    axle_ratio: float
    axle_ratio_after: float | None
    gear_ratios: tuple[float, ...]
    converter: bool | None
    speed_source: str
    unit_factor: tuple[float, float] = (1.0, 1.0)
    filed_swapped: bool = False
    wrong: str = "none"
    wrong_keys: tuple[str, ...] = ()
    wrong_percent: float = 0.0


def gearbox(rng: np.random.Generator, count: int | None = None) -> tuple[float, ...]:
    """Ratios lowest gear first: geometric or irregular, close or wide overdrives."""
    count = int(rng.choice([5, 6, 8, 10, 12])) if count is None else count
    widest = {5: 1.8, 6: 1.75, 8: 1.55, 10: 1.42, 12: 1.33}.get(count, 1.6)
    if rng.random() < 0.4:
        steps = np.full(count - 1, rng.uniform(1.2 if count > 6 else 1.3, widest))
        steps = steps * np.exp(rng.normal(0, 0.004, count - 1))
    else:
        steps = np.sort(rng.uniform(1.16, widest + 0.1, count - 1))[::-1]
        steps = steps * np.exp(rng.normal(0, 0.05, count - 1))
    close = int(rng.integers(1, 4))
    steps[-close:] = rng.uniform(1.12, 1.35, close)
    ratios = np.append(np.cumprod(steps[::-1])[::-1], 1.0)
    direct = ratios[max(count - 1 - int(rng.integers(0, close + 1)), 0)]
    scale = 1 / direct if rng.random() < 0.8 else rng.uniform(0.6, 1.0)
    return tuple(float(r) for r in ratios * scale)


def drawn_axle(rng: np.random.Generator) -> float:
    """A ratio of two numbers of teeth, 2.3 to 7.2 or so."""
    pinion = int(rng.integers(6, 17))
    return round(float(np.exp(rng.uniform(*np.log((2.3, 7.2))))) * pinion) / pinion


def other_axle(rng: np.random.Generator, axle: float) -> float:
    """Another ratio of the trade's list, 3 to 25 % off."""
    off = np.abs(np.log(np.array(AXLES) / axle))
    near = np.array(AXLES)[(off > 0.03) & (off < 0.223)]
    return float(rng.choice(near))


def declare(world: World, rng: np.random.Generator, wrong: str = "none") -> Declared:
    """The study file: figures near the truth, but what `wrong` names."""
    cruise = [d.cruise_kmh / 100 for d in world.driving]
    rolling = [
        c * (1 + world.driveline.growth * v**2) / (1 + 0.25 * world.driveline.slip)
        for c, v in zip(world.circumference_m, cruise, strict=True)
    ]
    sizes = _sizes(rng, rolling, same=world.circumference_m[0] == world.circumference_m[1])
    publish = [wrong == "published" or bool(rng.random() < 0.6) for _ in SIDES]
    near = np.clip(rng.normal(0, 0.004, 2), -0.01, 0.01)
    figures = [round(1000 / c * (1 + e), 1) for c, e in zip(rolling, near, strict=True)]
    changed = world.axle[0] != world.axle[1]
    digits = 3 if rng.random() < 0.2 else 2
    told_gears = wrong == "gears" or rng.random() < 0.8
    source = world.counts if rng.random() < 0.7 and world.counts != "receiver" else "unknown"
    right = Declared(
        drive_tire=sizes,
        revolutions_per_km=(
            figures[0] if publish[0] else None, figures[1] if publish[1] else None,
        ),
        axle_ratio=round(world.axle[0], 2),
        axle_ratio_after=round(world.axle[1], 2) if changed else None,
        gear_ratios=tuple(round(r, digits) for r in world.ratios) if told_gears else (),
        converter=world.driveline.converter if rng.random() < 0.7 else None,
        speed_source=source,
    )  # fmt: skip
    if wrong == "none":
        return right
    return replace(_ERRORS[wrong](right, world, rolling, rng), wrong=wrong)


def size_table() -> tuple[list[str], np.ndarray]:
    """Metric sizes and their nominal circumference by the rule of UN Regulation 54 and ETRTO."""
    names, lengths = [], []
    for rim in RIMS_IN:
        for width in range(205, 446, 10):
            for aspect in range(45, 100, 5):
                names.append(f"{width}/{aspect}R{rim:g}")
                lengths.append(ROLLING * (rim * 0.0254 + 2e-5 * width * aspect))
    return names, np.array(lengths)


SIZE_NAMES, SIZE_M = size_table()


def _size_near(rng: np.random.Generator, circumference_m: float, rim: str = "") -> str:
    """A size whose nominal circumference lies within 2.5 % of a length."""
    off = np.log(SIZE_M / circumference_m)
    weight = np.exp(-0.5 * (off / 0.012) ** 2) * (np.abs(off) < 0.0247)
    of_rim = np.array([name.endswith("R" + rim) for name in SIZE_NAMES])
    if weight.sum() == 0:  # no size of the trade is that large or small: the nearest
        return str(SIZE_NAMES[int(np.argmin(np.abs(off)))])
    if rim and (weight * of_rim).sum() > 0:
        weight = weight * of_rim
    return str(rng.choice(SIZE_NAMES, p=weight / weight.sum()))


def _sizes(rng: np.random.Generator, rolling: list[float], *, same: bool) -> tuple[str, str]:
    first = _size_near(rng, rolling[0])
    if same:
        return first, first
    return first, _size_near(rng, rolling[1], first.split("R")[1])


def _off(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(low, high) * rng.choice([-1, 1])))


def _wrong_axle(
    right: Declared, world: World, _rolling: list[float], rng: np.random.Generator
) -> Declared:
    wrong = other_axle(rng, world.axle[0])
    percent = 100 * abs(wrong / world.axle[0] - 1)
    return replace(right, axle_ratio=wrong, wrong_keys=("axle_ratio",), wrong_percent=percent)


def _wrong_size(
    right: Declared, _world: World, rolling: list[float], rng: np.random.Generator
) -> Declared:
    which = [(0,), (1,), (0, 1)][int(rng.choice(3, p=[0.4, 0.4, 0.2]))]
    by = _off(rng, 0.04, 0.1)
    sizes = list(right.drive_tire)
    for i in which:
        sizes[i] = _size_near(rng, rolling[i] * by, sizes[i].split("R")[1])
    off = [abs(SIZE_M[SIZE_NAMES.index(sizes[i])] / rolling[i] - 1) for i in which]
    return replace(
        right,
        drive_tire=(sizes[0], sizes[1]),
        wrong_keys=tuple(f"{SIDES[i]}.drive_tire" for i in which),
        wrong_percent=100 * float(max(off)),
    )


def _wrong_published(
    right: Declared, _world: World, rolling: list[float], rng: np.random.Generator
) -> Declared:
    figures = list(right.revolutions_per_km)
    assert figures[0] is not None
    assert figures[1] is not None
    apart = abs(np.log(figures[0] / figures[1]))
    if rng.random() < 0.4 and apart > 0.02:
        return replace(
            right,
            revolutions_per_km=(figures[1], figures[0]),
            wrong_keys=("before.revolutions_per_km", "after.revolutions_per_km"),
            wrong_percent=100 * float(apart),
        )
    i = int(rng.integers(2))
    figures[i] = round(1000 / rolling[i] * _off(rng, 0.03, 0.1), 1)
    return replace(
        right,
        revolutions_per_km=(figures[0], figures[1]),
        wrong_keys=(f"{SIDES[i]}.revolutions_per_km",),
        wrong_percent=100 * abs(figures[i] * rolling[i] / 1000 - 1),
    )


def _wrong_gears(
    right: Declared, world: World, _rolling: list[float], rng: np.random.Generator
) -> Declared:
    true = right.gear_ratios
    ratios = list(true)
    if rng.random() < 0.5:
        i = int(rng.integers(len(ratios)))
        ratios[i] = round(ratios[i] * _off(rng, 0.04, 0.25), 2)
    else:
        count = len(ratios) if rng.random() < 0.5 else None
        ratios = [round(r, 2) for r in gearbox(rng, count)]
    off = [np.abs(np.log(np.array(ratios) / r)).min() for r in world.ratios]
    return replace(
        right,
        gear_ratios=tuple(sorted(ratios, reverse=True)),
        wrong_keys=("gear_ratios",),
        wrong_percent=100 * float(max(off)),
    )


def _wrong_source(
    right: Declared, world: World, _rolling: list[float], rng: np.random.Generator
) -> Declared:
    others = [s for s in SOURCES if s not in (world.counts, "receiver")]
    return replace(right, speed_source=str(rng.choice(others)), wrong_keys=("speed_source",))


def _wrong_units(
    right: Declared, _world: World, _rolling: list[float], rng: np.random.Generator
) -> Declared:
    by = float(rng.choice([1.609344, 1 / 1.609344]))
    both = rng.random() < 0.7
    factors = (by, by) if both else ((by, 1.0) if rng.random() < 0.5 else (1.0, by))
    return replace(
        right, unit_factor=factors, wrong_keys=("units",), wrong_percent=100 * abs(by - 1)
    )


def _wrong_order(
    right: Declared, _world: World, rolling: list[float], rng: np.random.Generator
) -> Declared:
    """Either the logs are filed under the other period, or the tires are written there."""
    percent = 100 * abs(rolling[1] / rolling[0] - 1)
    if rng.random() < 0.5 or right.drive_tire[0] == right.drive_tire[1]:
        return replace(
            right,
            filed_swapped=True,
            wrong_keys=("before.logs", "after.logs"),
            wrong_percent=percent,
        )
    return replace(
        right,
        wrong_percent=percent,
        drive_tire=right.drive_tire[::-1],
        revolutions_per_km=right.revolutions_per_km[::-1],
        wrong_keys=("before.drive_tire", "after.drive_tire"),
    )


def _wrong_axle_after(
    right: Declared, world: World, _rolling: list[float], _rng: np.random.Generator
) -> Declared:
    percent = 100 * abs(world.axle[1] / world.axle[0] - 1)
    return replace(
        right, axle_ratio_after=None, wrong_keys=("after.axle_ratio",), wrong_percent=percent
    )


_ERRORS = {
    "axle": _wrong_axle,
    "size": _wrong_size,
    "published": _wrong_published,
    "gears": _wrong_gears,
    "speed_source": _wrong_source,
    "units": _wrong_units,
    "swapped": _wrong_order,
    "axle_after": _wrong_axle_after,
}
