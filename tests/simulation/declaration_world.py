"""Invented studies of known truth, with one thing declared wrong, as owners do.

    make_study(seed, kind, fault) -> InventedStudy

draws a vehicle, two periods of trips, and the figures its owner writes in a study file, of which
`kind` (one of KINDS) is wrong. Nothing of the package or of another world is used: the truth
comes by another route. Ranges are wider than vehicles are, on purpose. How an owner's figures lie
about the truth is in `declaration_figures`, how a trip is driven and logged in
`declaration_signals`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
from declaration_figures import SIDES, SOURCES, Declared, declare, drawn_axle, gearbox, other_axle
from declaration_signals import (
    QUANTIZERS,
    Counting,
    Driveline,
    Driving,
    Receiver,
    Recorder,
    log_trip,
)

FAULTS = ("none", "misfiled", "reprogrammed")
DRIVELINE = ("output shaft", "drive wheels")
CRUISE_RPM = (950.0, 3200.0)
KM_PER_DAY = (30.0, 300.0)


@dataclass(frozen=True)
class World:
    """One vehicle, its two tires, its computer, its recorders and its habits.

    `circumference_m` new and at rest, by period, as `axle`, `front_m`, `recorders`, `driving`
    and `highest`. `settings`: metres that the computer takes a turn of what it counts for:
    before, on the tire day, and from trip `reprogrammed_at` of the after period on (None: never
    again).
    """

    circumference_m: tuple[float, float]
    front_m: tuple[float, float]
    axle: tuple[float, float]
    ratios: tuple[float, ...]
    driveline: Driveline
    driving: tuple[Driving, Driving]
    highest: tuple[int, int]
    recorders: tuple[Recorder, Recorder]
    receiver: Receiver
    counts: str
    settings: tuple[float, float, float]
    reprogrammed_at: int | None
    trips: tuple[int, int]
    day_spread: float
    wear_per_10000_km: float
    warmth_per_k: float
    temperature_c: tuple[float, float]


@dataclass(frozen=True)
class TripLog:
    name: str
    period: str  # as filed
    samples: pl.DataFrame
    true_period: str


@dataclass(frozen=True)
class Regime:
    """A stretch of trips on one setting of the computer; `metres` to a turn of what it counts."""

    period: str
    first_trip: str
    counts: str
    metres: float


@dataclass(frozen=True)
class Truth:
    """Periods are those of the tires, however filed. `factor` is true over indicated distance
    in effect at a period's end, without quantization, chance of a day and receiver's errors;
    `relative` the after's over the before's; `change_percent` engine speed at equal true speed
    and load. `circumference_m` and `revolutions_per_km` as the drive tires roll, slip included.
    `programmed_now` is None where the computer does not count the drive tires. `could_show`:
    the wrong figure is 5 % off or more and the other figures tell it."""

    factor: dict[str, float]
    relative: float
    change_percent: float
    circumference_m: dict[str, float]
    revolutions_per_km: dict[str, float]
    axle: dict[str, float]
    gear_ratios: tuple[float, ...]
    regimes: tuple[Regime, ...]
    programmed_now: float | None
    programmed_should_be: float
    restoring_axle_ratio: float
    misfiled: tuple[str, ...]
    reprogrammed_at: str | None
    could_show: bool


@dataclass(frozen=True)
class InventedStudy:
    trips: tuple[TripLog, ...]
    declared: Declared
    truth: Truth
    world: World


def random_world(
    rng: np.random.Generator,
    *,
    axle_changed: bool | None = None,
    receiver_disagrees: bool = False,
) -> World:
    """A vehicle and its owner's habits at random."""
    cruise_rpm = 0.0
    while not CRUISE_RPM[0] < cruise_rpm < CRUISE_RPM[1]:
        ratios, axle = gearbox(rng), drawn_axle(rng)
        before = float(np.exp(rng.uniform(*np.log((1.9, 3.4)))))
        driving, highest = _habits(rng, len(ratios))
        cruise_rpm = driving[0].cruise_kmh / 3.6 * 60 * axle * ratios[min(highest)] / before
    changed = rng.random() < 0.08 if axle_changed is None else axle_changed
    axles = (axle, other_axle(rng, axle) if changed else axle)
    step = 0.0 if rng.random() < 0.08 else rng.uniform(-0.1, 0.1)
    tires = (before, before * float(np.exp(step)))
    lowest = cruise_rpm * rng.uniform(0.62, 0.88)
    converter = bool(rng.random() < 0.6)
    front = before * float(np.exp(rng.uniform(-0.03, 0.03)))
    fronts = (front, front * float(np.exp(step if rng.random() < 0.5 else 0.0)))
    driveline = Driveline(
        circumference_m=before,
        front_m=front,
        axle=axle,
        ratios=ratios,
        slip=rng.uniform(0.002, 0.02),
        growth=rng.uniform(0.0, 0.0025),
        drag=rng.uniform(1.5e-4, 4e-4),
        converter=converter,
        locked_from=int(rng.integers(1, len(ratios) - 1)),
        steady_lock=bool(rng.random() < 0.25),
        highest=len(ratios) - 1,
        lowest_rpm=lowest,
        kickdown=rng.uniform(0.45, 0.8),
    )
    counts = str(rng.choice(SOURCES, p=[0.55, 0.17, 0.15, 0.13]))
    settings, at = _settings(rng, counts, tires, fronts, axles)
    first = _recorder(rng)
    return World(
        circumference_m=tires,
        front_m=fronts,
        axle=axles,
        ratios=ratios,
        driveline=driveline,
        driving=driving,
        highest=highest,
        recorders=(first, first if rng.random() < 0.8 else _recorder(rng)),
        receiver=_receiver(rng, receiver_disagrees),
        counts=counts,
        settings=settings,
        reprogrammed_at=at,
        trips=(int(rng.integers(4, 9)), int(rng.integers(4, 9))),
        day_spread=float(np.exp(rng.uniform(*np.log((1e-4, 8e-4))))),
        wear_per_10000_km=rng.uniform(0.0, 0.005),
        warmth_per_k=rng.uniform(0.0, 4e-5),
        temperature_c=(rng.uniform(-12, 28), rng.uniform(-12, 28)),
    )


def _habits(
    rng: np.random.Generator, gears: int
) -> tuple[tuple[Driving, Driving], tuple[int, int]]:
    """Driving and the highest gear used, by period."""
    motorway = rng.random() < 0.55
    narrow = rng.random() < 0.3
    one = Driving(
        cruise_kmh=rng.uniform(70 if motorway else 50, 110),
        spread_kmh=rng.uniform(0.5, 4) if narrow else rng.uniform(8, 35),
        stop_share=rng.uniform(0, 0.1) if motorway else rng.uniform(0.15, 0.5),
        hold_s=(45.0, 700.0) if motorway else (8.0, 120.0),
        wander_mps=rng.uniform(0.03, 0.5),
        rolling=False,
        hills=rng.choice([0.004, 0.012, 0.03]),
    )
    top = gears - 1 - int(rng.random() < 0.15)
    highest = (top, top)
    if rng.random() < 0.25:  # the last gear is not the same before and after
        highest = (top, top - 1) if rng.random() < 0.5 else (top - 1, top)
        if rng.random() < 0.6:  # and no other is seen
            one = replace(
                one, rolling=True, stop_share=0.0, hold_s=(60.0, 700.0), hills=0.002,
                spread_kmh=min(one.spread_kmh, 6.0), cruise_kmh=max(one.cruise_kmh, 70.0),
            )  # fmt: skip
    moved = replace(one, cruise_kmh=float(np.clip(one.cruise_kmh + rng.normal(0, 3), 50, 110)))
    return (one, moved), highest


def _recorder(rng: np.random.Generator) -> Recorder:
    weights = np.array([0.3, 0.2, 0.1, 0.1, 0.1, 0.1, 0.1])
    return Recorder(
        quantizer=str(rng.choice(QUANTIZERS, p=weights)),
        bus_delay_s=rng.uniform(0, 1.2),
        bus_filter_s=rng.uniform(0.3, 2.0),
        engine_delay_s=rng.uniform(0, 0.8),
        engine_filter_s=rng.uniform(0.02, 0.3),
        polled=bool(rng.random() < 0.15),
    )


def _receiver(rng: np.random.Generator, disagrees: bool) -> Receiver:
    off = 1 + rng.uniform(0.005, 0.05) * rng.choice([-1, 1]) if disagrees else 1.0
    of_speed = rng.random() < 0.5
    return Receiver(
        delay_s=rng.uniform(0, 2.5),
        speed_noise_mps=rng.uniform(0.02, 0.12),
        position_noise_m=rng.uniform(0.5, 4.0),
        max_scale_error=rng.uniform(0, 2e-4),
        speed_scale=off if of_speed else 1.0,
        position_scale=1.0 if of_speed else off,
    )


def _settings(
    rng: np.random.Generator,
    counts: str,
    tires: tuple[float, float],
    fronts: tuple[float, float],
    axles: tuple[float, float],
) -> tuple[tuple[float, float, float], int | None]:
    """Metres a counted turn before, on the tire day and later, and the trip of the last change."""
    if counts == "receiver":
        return (1.0, 1.0, 1.0), None
    turned = fronts if counts == "front wheels" else tires
    right = [
        t / (a if counts == "output shaft" else 1.0) for t, a in zip(turned, axles, strict=True)
    ]
    error = rng.normal(0, 0.01) if rng.random() < 0.6 else rng.uniform(-0.06, 0.06)
    first = right[0] * float(np.exp(error))
    new = right[1] * float(np.exp(rng.normal(0, 0.006)))
    draw = rng.random()
    if draw < 0.25:  # on the tire day
        return (first, new, new), None
    if draw < 0.35:  # some days later
        return (first, first, new), int(rng.integers(1, 4))
    return (first, first, first), None


def make_study(
    seed: int, kind: str = "none", fault: str = "none", *, receiver_disagrees: bool = False
) -> InventedStudy:
    """One study: its trips, what its owner declares, and what is true."""
    rng = np.random.default_rng([seed, 20_240])
    world = random_world(
        rng,
        axle_changed=True if kind == "axle_after" else None,
        receiver_disagrees=receiver_disagrees,
    )
    if fault == "reprogrammed":
        world = _reprogrammed(world, rng)
    declared = declare(world, rng, wrong=kind)
    driven = _drive(world, declared, rng)
    wrong = (
        rng.choice(len(driven.trips), int(rng.integers(1, 3)), replace=False)
        if fault == "misfiled"
        else ()
    )
    trips = tuple(
        replace(t, period=SIDES[t.period == "before"]) if i in wrong else t
        for i, t in enumerate(driven.trips)
    )
    truth = _truth(world, declared, driven, tuple(trips[i].name for i in wrong))
    return InventedStudy(trips, declared, truth, world)


def _reprogrammed(world: World, rng: np.random.Generator) -> World:
    """The computer set anew by 1.2 to 6 % within the after period, whatever it counts."""
    after = int(rng.integers(6, 11))
    by = float(np.exp(rng.uniform(0.012, 0.06) * rng.choice([-1, 1])))
    counts, settings = world.counts, world.settings
    if counts == "receiver":
        counts = "drive wheels"
        settings = (world.circumference_m[0],) * 3
    return replace(
        world,
        counts=counts,
        settings=(settings[0], settings[1], settings[1] * by),
        reprogrammed_at=int(rng.integers(2, after - 1)),
        trips=(world.trips[0], after),
    )


@dataclass(frozen=True)
class _Driven:
    """By period, log factors and turns a km of the trips on its last setting, chance of the day
    and weather taken out, and the mean of wear and warmth."""

    trips: tuple[TripLog, ...]
    factor: tuple[float, float]
    revolutions_per_km: tuple[float, float]
    rolling: tuple[float, float]
    regimes: tuple[Regime, ...]


def _drive(world: World, declared: Declared, rng: np.random.Generator) -> _Driven:
    """All trips in order of time."""
    start = datetime(2025, 3, 3, 6, tzinfo=UTC) + timedelta(hours=rng.uniform(0, 9000))
    trips: list[TripLog] = []
    regimes: list[Regime] = []
    ends = []
    for p, period in enumerate(SIDES):
        km = 0.0
        logs = []
        rolling = []
        for i in range(world.trips[p]):
            later = p == 1 and world.reprogrammed_at is not None and i >= world.reprogrammed_at
            metres = world.settings[2 if later else p]
            chance = rng.normal(0, world.day_spread)
            warm = rng.normal(0, 5)
            worn = 1 - world.wear_per_10000_km * km / 10_000
            size = worn * (1 + world.warmth_per_k * (world.temperature_c[p] - 15))
            today = size * (1 + world.warmth_per_k * warm) * np.exp(chance)
            logged = log_trip(
                replace(
                    world.driveline,
                    circumference_m=world.circumference_m[p] * today,
                    front_m=world.front_m[p] * today,
                    axle=world.axle[p],
                    highest=world.highest[p],
                ),
                world.driving[p], Counting(world.counts, metres), world.recorders[p],
                world.receiver, rng,
                start=start, seconds=int(60 * rng.uniform(8, 40)),
                temperature_c=world.temperature_c[p] + warm,
            )  # fmt: skip
            name = f"{len(trips) + 1:02d}"
            if not regimes or regimes[-1].metres != metres or i == 0:
                regimes.append(Regime(period, name, world.counts, metres))
                logs = []
            extra = chance + world.warmth_per_k * warm
            shared = 0.0 if world.counts == "receiver" else extra
            logs.append((np.log(logged.factor) - shared, np.log(logged.revolutions_per_km) + extra))
            rolling.append(np.log(size))
            units = declared.unit_factor[p]
            samples = logged.samples.with_columns(pl.col("indicated_speed_mps") * units)
            filed = SIDES[1 - p] if declared.filed_swapped else period
            trips.append(TripLog(name, filed, samples, period))
            start += timedelta(days=rng.uniform(0.5, 3))
            km += rng.uniform(*KM_PER_DAY)
        mean = np.exp(np.mean(logs, axis=0))
        ends.append((float(mean[0]), float(mean[1]), float(np.exp(np.mean(rolling)))))
        start += timedelta(days=rng.uniform(1, 30))
    (fb, rb, sb), (fa, ra, sa) = ends
    return _Driven(tuple(trips), (fb, fa), (rb, ra), (sb, sa), tuple(regimes))


def _truth(world: World, declared: Declared, driven: _Driven, misfiled: tuple[str, ...]) -> Truth:
    tires = [c * s for c, s in zip(world.circumference_m, driven.rolling, strict=True)]
    final = (tires[0] / world.axle[0]) / (tires[1] / world.axle[1])
    counted = world.counts in DRIVELINE
    steps = [r for r in driven.regimes if r.period == "after"][1:]
    return Truth(
        factor=dict(zip(SIDES, driven.factor, strict=True)),
        relative=driven.factor[1] / driven.factor[0],
        change_percent=100 * (final - 1),
        circumference_m={
            s: 1000 / r for s, r in zip(SIDES, driven.revolutions_per_km, strict=True)
        },
        revolutions_per_km=dict(zip(SIDES, driven.revolutions_per_km, strict=True)),
        axle=dict(zip(SIDES, world.axle, strict=True)),
        gear_ratios=world.ratios,
        regimes=driven.regimes,
        programmed_now=driven.factor[1] * driven.revolutions_per_km[1] if counted else None,
        programmed_should_be=driven.revolutions_per_km[1],
        restoring_axle_ratio=world.axle[0] * tires[1] / tires[0],
        misfiled=misfiled,
        reprogrammed_at=steps[0].first_trip if steps else None,
        could_show=_could_show(declared),
    )


def _could_show(declared: Declared) -> bool:
    """An axle ratio shows where gears are declared; one size shows against the other or that."""
    if declared.wrong_percent < 5:
        return False
    if declared.wrong in ("axle", "axle_after"):
        return bool(declared.gear_ratios) or declared.wrong == "axle_after"
    one_side = len(declared.wrong_keys) == 1
    return declared.wrong in ("size", "published") and (one_side or bool(declared.gear_ratios))
