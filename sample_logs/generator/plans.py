"""Which trips were driven, when, with what left to chance: the calendar of both periods."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from . import roads
from .chance import stream, wandering
from .drive import Plan
from .record import LOCAL, Recording

# day, hour, minute, road, direction, dialect
_BEFORE = (
    ("2026-02-10", 8, 20, "ollerby", "out", "a"),
    ("2026-02-10", 14, 5, "ollerby", "back", "a"),
    ("2026-02-11", 8, 40, "quill", "out", "b"),
    ("2026-02-11", 13, 30, "quill", "back", "b"),
    ("2026-02-13", 9, 10, "ollerby", "out", "c"),
    ("2026-02-16", 10, 15, "ollerby", "back", "c"),
    ("2026-02-19", 8, 30, "quill", "out", "a"),
    ("2026-02-19", 14, 20, "quill", "back", "a"),
    ("2026-02-24", 8, 15, "ollerby", "out", "b"),
    ("2026-02-24", 14, 45, "ollerby", "back", "b"),
    ("2026-02-26", 9, 30, "quill", "out", "c"),
    ("2026-03-02", 8, 25, "quill", "out", "c"),
    ("2026-03-02", 13, 50, "quill", "back", "c"),
    ("2026-03-04", 9, 5, "ollerby", "out", "a"),
)
_AFTER = (
    ("2026-03-17", 8, 20, "ollerby", "out", "b"),
    ("2026-03-17", 14, 10, "ollerby", "back", "b"),
    ("2026-03-19", 8, 35, "quill", "out", "c"),
    ("2026-03-19", 13, 40, "quill", "back", "c"),
    ("2026-03-24", 7, 15, "ollerby", "out", "a"),
    ("2026-03-24", 9, 50, "ollerby", "back", "a"),
    ("2026-03-24", 12, 55, "quill", "out", "a"),
    ("2026-03-24", 15, 40, "quill", "back", "a"),
    ("2026-03-27", 9, 20, "ollerby", "out", "b"),
    ("2026-03-30", 10, 5, "ollerby", "back", "b"),
    ("2026-04-09", 8, 30, "quill", "out", "c"),
    ("2026-04-09", 13, 45, "quill", "back", "c"),
    ("2026-04-15", 9, 15, "quill", "out", "a"),
    ("2026-04-21", 8, 10, "ollerby", "out", "c"),
    ("2026-04-21", 14, 25, "ollerby", "back", "c"),
)
MISFILED = "2026-04-09_quill_back"  # driven on the new tires, filed among the old
CUT_SHORT = "2026-04-15_quill_out"  # its file ends in the middle of a number


@dataclass(frozen=True)
class Job:
    side: str  # the tires it was driven on
    plan: Plan
    recording: Recording

    @property
    def folder(self) -> str:
        """Where its file lies."""
        return "before" if self.plan.name == MISFILED else self.side


def make_jobs() -> list[Job]:
    both_ways = {
        (road.slug, way): road if way == "out" else road.reversed()
        for road in (roads.ollerby(), roads.quill())
        for way in ("out", "back")
    }
    rows = [("before", *row) for row in _BEFORE] + [("after", *row) for row in _AFTER]
    days = sorted({row[1] for row in rows})
    # what nobody can see lasts from one driving day to the next
    day_burn = wandering(stream("day burn"), len(days), sd=0.008, length=1.44)
    day_haste = wandering(stream("day haste"), len(days), sd=0.012, length=1.44)
    jobs, done, earlier = [], {"before": 0, "after": 0}, ""
    for side, day, hour, minute, slug, way, dialect in rows:
        name = f"{day}_{slug}_{way}"
        rng, i = stream("plan", name), days.index(day)
        first_today, earlier = day != earlier, day
        plan = Plan(
            name=name,
            start=datetime.fromisoformat(f"{day}T{hour:02d}:{minute:02d}:00").replace(
                tzinfo=LOCAL, second=int(rng.integers(0, 60))
            ),
            road=both_ways[slug, way],
            done=done[side],
            haste=1 + day_haste[i] + rng.normal(0, 0.005),
            burn=day_burn[i] + rng.normal(0, 0.005),
            mass_kg=12020 + rng.normal(0, 55),
            coolant_c=rng.uniform(30, 42) if first_today else rng.uniform(52, 72),
            cold_tires=0.14 if first_today else 0.09,
            dwell_s=(float(rng.integers(90, 420)), float(rng.integers(60, 360))),
            idle_s=(float(rng.integers(30, 80)), float(rng.integers(15, 40))),
        )
        done[side] += 1
        jobs.append(Job(side, plan, _recording(name, dialect)))
    return jobs


def _recording(name: str, dialect: str) -> Recording:
    rng = stream("recording", name)
    blind = []
    for _ in range(int(rng.integers(0, 3))):
        first = float(rng.integers(300, 2300))
        blind.append((first, first + float(rng.integers(12, 75))))
    encoding = ("cp1252", "utf-8-sig")[int(rng.integers(0, 2))] if dialect == "b" else "utf-8"
    return Recording(dialect, round(float(rng.uniform(0.3, 2.0)), 2), encoding, tuple(blind))
