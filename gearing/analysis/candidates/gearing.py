"""What follows from revolutions and axle ratio alone, by draw: no road, no engine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.mountain.draws import make_draws
from gearing.analysis.mountain.model import RoadModel
from gearing.analysis.speed.turns import own_over_usual
from gearing.messages import message
from gearing.statistics.estimate import NORMAL_95

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gearing.analysis.candidates.fittings import Fitting
    from gearing.analysis.mountain.draws import Draws
    from gearing.analysis.sides import BySide
    from gearing.messages import Message, Text
    from gearing.statistics.arrays import Array
    from gearing.statistics.estimate import Estimate
    from gearing.study.model import Side, Study

    Fittings = Mapping[str, Fitting]


def draw_tires(
    study: Study, model: RoadModel | Message, fittings: Fittings, count: int, seed: int
) -> tuple[dict[str, Array], Draws | None]:
    """Revolutions a km [1/km] by tire and draw, and the vehicle's draws where there is a model.

    With it those of the periods are drawn as `find_mountain` draws them. Fittings of one tire
    share its draws; two tires have each their own.
    """
    estimates = {
        one.tire: one.revolutions_per_km
        for one in fittings.values()
        if one.revolutions_per_km.known
    }
    if not isinstance(model, RoadModel):
        rng = np.random.default_rng(seed)
        return {tire: _drawn(one, count, rng) for tire, one in estimates.items()}, None
    others = {tire: one for tire, one in estimates.items() if tire not in model.known}
    known: dict[str, Estimate] = {str(side): one for side, one in model.known.items()}
    draws = make_draws(model.inputs, known | others, count, seed)
    tires = dict(draws.revolutions_per_km)
    for side in model.known:
        tires[side] = tires[side] / own_over_usual(study, side)
    return tires, draws


def _drawn(estimate: Estimate, count: int, rng: np.random.Generator) -> Array:
    assert estimate.value is not None
    low, high = estimate.low or estimate.value, estimate.high or estimate.value
    deviates = np.concatenate([[0.0], rng.standard_normal(count)])
    drawn: Array = estimate.value + deviates * (high - low) / 2 / NORMAL_95
    return drawn


def shafts_of(fittings: Fittings, tires: Mapping[str, Array]) -> dict[str, Array]:
    """Turns a km of the shaft to the axle, by fitting; those of the tires where no axle is told."""
    return {
        name: tires[one.tire] * (one.axle_ratio or 1.0)
        for name, one in fittings.items()
        if one.tire in tires
    }


@dataclass(frozen=True, slots=True)
class Dash:
    """What the vehicle's computer counts, left as it is: its counts a true km over that true km at
    present, by draw, and what they go with."""

    over_true: Array | None
    present: Side
    source: str
    told: tuple[Text, ...]
    why: Text | None = None

    @classmethod
    def of(
        cls, study: Study, factor: BySide[Estimate], present: Side, count: int, seed: int
    ) -> Dash:
        """From the odometer factor of the present tires; without logs the computer is taken to be
        right on the tires compared with."""
        source = study.vehicle.speed_source
        known = factor.of(present)
        if known.value is not None:
            rng = np.random.default_rng([seed, 2])
            return cls(1 / _drawn(known, count, rng), present, source, ())
        first: Side = "before" if study.before is not None else present
        told = message("candidates-computer-right")
        return cls(np.ones(count + 1), first, source, (told,))

    def indicated_over_true(
        self, fittings: Fittings, tires: Mapping[str, Array], name: str
    ) -> tuple[Array | None, Text | None]:
        """What is shown over what is true on a fitting, or why that is not known."""
        one, now = fittings[name], fittings[self.present]
        if self.over_true is None or one.tire not in tires or now.tire not in tires:
            return None, one.revolutions_per_km.why or now.revolutions_per_km.why
        if self.source == "front wheels":
            return self.over_true, None
        turned = tires[one.tire] / tires[now.tire]
        if one.axle_ratio == now.axle_ratio or self.source == "drive wheels":
            return self.over_true * turned, None
        if self.source == "unknown":
            return None, message("candidate-source-unknown")
        if one.axle_ratio is None or now.axle_ratio is None:
            return None, message("candidate-axle-unknown")
        return self.over_true * turned * (one.axle_ratio / now.axle_ratio), None


def gearing_figures(
    fittings: Fittings, tires: Mapping[str, Array], compared_with: str
) -> dict[str, dict[str, Array]]:
    """By fitting: change of engine speed [%] and the axle ratio that takes it back."""
    shafts, base = shafts_of(fittings, tires), fittings[compared_with]
    found: dict[str, dict[str, Array]] = {name: {} for name in fittings}
    if compared_with not in shafts:
        return found
    for name, shaft in shafts.items():
        if (fittings[name].axle_ratio is None) != (base.axle_ratio is None):
            continue
        found[name]["gearing_change_percent"] = 100 * (shaft / shafts[compared_with] - 1)
        if base.axle_ratio is not None:
            found[name]["restoring_axle_ratio"] = shafts[compared_with] / tires[fittings[name].tire]
    return found
