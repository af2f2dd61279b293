"""Which estimate the verdict rests on, what forbids one, and all that warns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.analysis.fuel import rules
from gearing.analysis.fuel.notebook import Notebook, count_of
from gearing.analysis.fuel.verdict import judge
from gearing.messages import message

if TYPE_CHECKING:
    from gearing.analysis.fuel.facts import Facts
    from gearing.analysis.fuel.model import Basis, ChangePercent, Verdict
    from gearing.messages import StudyWarning, Text

# verdicts that call something a change
CHANGED = frozenset({"worse", "less fuel", "supported", "some saving, size unsettled"})


@dataclass(frozen=True, slots=True)
class Judgement:
    """The verdict, the reason for it, what it rests on, and every warning."""

    verdict: Verdict | None
    why: Text
    basis: Basis | None
    warnings: tuple[StudyWarning, ...]


def judgement_of(
    facts: Facts,
    change: ChangePercent,
    notebook: Notebook,
    *,
    no_days: Text | None,
    beyond: StudyWarning | None,
    physics_half: float | None,
) -> Judgement:
    """By days, else by tanks where no day decides.

    `no_days`: why there is none to compare, if so; `beyond` warns of a change no tires make;
    `physics_half` is the half-width [%] that no further day takes away.
    """
    study, has_fuel = facts.study, no_days is None
    claim = facts.claim_percent
    warnings = list(rules.told(facts)) if has_fuel else []
    if beyond is not None:
        warnings.append(beyond)
    verdict, why, basis = (
        _by_days(change, facts, warnings) if has_fuel else (None, no_days or "", None)
    )
    nothing_better = not change.adjusted.known and not change.matched.known
    nothing_better &= not any(one.code in rules.FORBIDS_COMPARING for one in warnings)
    if nothing_better and notebook.answer is not None and notebook.change.known:
        verdict, why = judge(
            notebook.change,
            claim_percent=claim,
            margin_percent=study.margin_percent,
            fewest_days=notebook.answer.fewest,
            unit="tanks",
        )
        basis = "fillups"
    elif not has_fuel and notebook.answer is not None and count_of(notebook.answer):
        verdict, why, basis = "cannot tell yet", notebook.change.why or "", "fillups"
    elif no_days == message("no-fuel-logged") and notebook.change.why != message("no-fillups"):
        why = notebook.change.why or ""  # a fill-up log that is named was to carry it
    if physics_half is not None and (warned := rules.seasons(physics_half, claim)) is not None:
        warnings.append(warned)
    if basis != "fillups" and verdict in CHANGED:
        warnings.append(rules.load_assumed(checked=notebook.change.known))
    return Judgement(verdict, why, basis, (*warnings, *notebook.warnings))


def _by_days(
    change: ChangePercent, facts: Facts, warnings: list[StudyWarning]
) -> tuple[Verdict, Text, Basis]:
    """By the adjusted change, else by the matched where the periods are alike in all it leaves."""
    basis: Basis = "adjusted" if change.adjusted.known else "matched"
    for warning in warnings:
        if warning.code in rules.FORBIDS_COMPARING:
            return "cannot tell yet", warning.told, basis
    if not change.adjusted.known and (differs := rules.unlike(facts)):
        return "cannot tell yet", differs, basis
    verdict, why = judge(
        change.adjusted if change.adjusted.known else change.matched,
        claim_percent=facts.claim_percent,
        margin_percent=facts.study.margin_percent,
        fewest_days=facts.fewest_days,
    )
    return verdict, why, basis
