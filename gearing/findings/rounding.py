"""Whether the logged speed was cut or rounded to whole units, from all trips together.

`indicated = true / k + q`: a value cut to the whole unit hides half a unit on average, a
rounded one nothing. Three witnesses can tell: engine speed in gear, which sits on the same
shaft and knows no tire; a running count of distance; and true speed over a range of speeds,
which a tire that grows with speed can mislead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from gearing.findings.hidden_share import (
    RECEIVER_DOUBT,
    UNIFORM,
    Witness,
    met_again,
    together,
    witnesses,
)
from gearing.findings.made_miles import ONCE, SPREAD_OF_KMH, Ways, of_kmh, off_whole, ways_of
from gearing.findings.sides import BySide, by_side
from gearing.statistics.estimate import NORMAL_95
from gearing.trips.record import TripRecord

DECIDED = np.log(200.0)
LARGEST_MISFIT = 4.0  # in errors squared
LARGEST_APART = 1.5  # two witnesses, in errors


@dataclass(frozen=True, slots=True)
class Rounding:
    """How the logged speed was rounded: `kind` "cut", "rounded", "none" or "cut or rounded".

    `hidden_mps` is what to add to a moving logged speed; `low_mps`, `high_mps` the two ends
    where it could not be told, beyond cut and rounded where speeds were held that every trip met
    again at one place of their unit. `seen_share` is the share of a unit the witnesses show.
    """

    kind: str
    unit: str | None
    hidden_mps: float
    low_mps: float
    high_mps: float
    seen_share: float | None = None
    witness: str | None = None

    @property
    def settled(self) -> bool:
        return self.low_mps == self.high_mps


NONE = Rounding("none", None, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Roundings:
    """Rounding of each trip by name, and of most trips of each side."""

    trips: dict[str, Rounding]
    sides: BySide[Rounding]

    def of(self, side: str) -> Rounding:
        return self.sides.of(side)

    def hidden_mps(self, trip: str) -> float:
        """What to add to a trip's moving logged speeds."""
        return self.trips.get(trip, NONE).hidden_mps


def settle_roundings(records: Sequence[TripRecord]) -> Roundings:
    """Of both periods together: an owner's recorder is the same before and after, unless each
    period by itself is sure of the other way. Whole miles are another recorder's than whole
    kilometres; those times a correction are not. So are logs with other headings."""
    groups: dict[bool, list[TripRecord]] = {}
    for record in records:
        if record.grid.unit is not None:
            groups.setdefault(record.grid.unit == "mph", []).append(record)
    trips: dict[str, Rounding] = {}
    for some in (one for group in groups.values() for one in _by_recorder(group)):
        ways = ways_of(some)
        made = [replace(record, lines=of_kmh(record.lines, ways)) for record in some]
        for same in _alike(made, ways):
            seen = _surest(same, ways)
            for side in ("before", "after"):
                own = [record for record in same if record.side == side]
                alike = met_again(own, _spread(ways)) if own else 0.0
                trips |= {record.name: _rounding(record, seen, alike, ways) for record in own}

    def main(side: str) -> Rounding:
        """The widest that any trip of the side has: one unsettled leaves the side so."""
        found = [trips.get(r.name, NONE) for r in records if r.side == side]
        return max(found, key=lambda q: (q.high_mps - q.low_mps, q.hidden_mps), default=NONE)

    return Roundings(trips, by_side(main))


def _by_recorder(records: list[TripRecord]) -> list[list[TripRecord]]:
    """Trips apart by recorder: by their headings, but that a column more or less makes none."""
    found: dict[frozenset[str], list[TripRecord]] = {}
    for record in sorted(records, key=lambda record: -len(record.headings)):
        whole = next((one for one in found if record.headings <= one), record.headings)
        found.setdefault(whole, []).append(record)
    return list(found.values())


def _alike(records: list[TripRecord], ways: Ways) -> list[list[TripRecord]]:
    """Trips on grids of one kind, apart by period if the periods contradict each other for sure."""
    sides = [[r for r in records if r.side == side] for side in ("before", "after")]
    if not all(sides):
        return [records]
    odds = [_odds(_surest(side, ways), ways) for side in sides]
    return sides if min(odds) < -DECIDED and max(odds) > DECIDED else [records]


def _spread(ways: Ways) -> float:
    return UNIFORM * (1.0 if ways == ONCE else SPREAD_OF_KMH)


def _surest(same: Sequence[TripRecord], ways: Ways) -> Witness | None:
    found = witnesses(same, _spread(ways))
    if not found:
        return None
    # one that fits neither way is wrong about something else
    fit = [witness for witness in found if _misfit(witness, ways) < LARGEST_MISFIT] or found
    # and so is one that speaks against the surest, a receiver or drawn lines being that last
    first = min(fit, key=lambda witness: (witness.doubt >= RECEIVER_DOUBT, witness.error))
    return together([witness for witness in fit if _agree(witness, first)])


def _agree(one: Witness, other: Witness) -> bool:
    return abs(one.share - other.share) <= LARGEST_APART * float(np.hypot(one.error, other.error))


def _rounding(record: TripRecord, seen: Witness | None, alike: float, ways: Ways) -> Rounding:
    """What the share of a unit seen comes to on a trip's grid; `alike` is the error of a unit that
    all trips of the period have in common."""
    grid, off = record.grid, off_whole(record.lines)
    share = seen.share if seen else None
    name = seen.name if seen else None
    least, most = (grid.step_mps * (way + off) for way in ways)
    odds = _odds(seen, ways)
    if odds > DECIDED:
        return Rounding("cut", grid.unit, most, most, most, share, name)
    if odds < -DECIDED:
        kind = "cut" if ways[0] else "rounded"
        return Rounding(kind, grid.unit, least, least, least, share, name)
    likely = float(1 / (1 + np.exp(-odds)))
    wider = NORMAL_95 * alike * grid.step_mps
    hidden = least + likely * (most - least)
    return Rounding("cut or rounded", grid.unit, hidden, least - wider, most + wider, share, name)


def _odds(witness: Witness | None, ways: Ways) -> float:
    """Log odds of the most hidden against the least, no witness trusted beyond 1 in 10^6."""
    if witness is None:
        return 0.0
    least, most = (((witness.share - share) / witness.error) ** 2 for share in ways)
    # one that fits neither says little, whichever it is nearer to
    fits = np.exp(-0.5 * max(_misfit(witness, ways) - LARGEST_MISFIT, 0.0))
    return float(np.clip(0.5 * (least - most) * fits, -14.0, 14.0))


def _misfit(witness: Witness, ways: Ways) -> float:
    """How far the share seen is from the nearer of the two ways, in errors squared."""
    return min(((witness.share - share) / witness.error) ** 2 for share in ways)
