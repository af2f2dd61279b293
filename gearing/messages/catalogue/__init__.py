"""Every message there is, by code: one module a subject, each a tuple of templates."""

from __future__ import annotations

from gearing.messages.catalogue import (
    candidates,
    contradictions,
    descents,
    explanations,
    fleet,
    fuel,
    fuel_answer,
    identification,
    input_checks,
    inspection,
    log_columns,
    log_questions,
    log_repairs,
    logs,
    mountain,
    mountain_answer,
    notebook,
    run,
    sizes,
    speed,
    starting,
    study,
    study_files,
    trips,
)
from gearing.messages.template import CATALOGUE, Template

__all__ = ["CATALOGUE"]


def _by_code(*groups: tuple[Template, ...]) -> dict[str, Template]:
    every = [one for group in groups for one in group]
    found = {one.code: one for one in every}
    if len(found) != len(every):
        raise ValueError("a code stands twice in the catalogue")
    return found


CATALOGUE.update(
    _by_code(
        study.TEMPLATES,
        study_files.TEMPLATES,
        logs.TEMPLATES,
        log_repairs.TEMPLATES,
        log_questions.TEMPLATES,
        log_columns.TEMPLATES,
        trips.TEMPLATES,
        speed.TEMPLATES,
        explanations.TEMPLATES,
        identification.TEMPLATES,
        sizes.TEMPLATES,
        fuel.TEMPLATES,
        fuel_answer.TEMPLATES,
        notebook.TEMPLATES,
        mountain.TEMPLATES,
        mountain_answer.TEMPLATES,
        contradictions.TEMPLATES,
        descents.TEMPLATES,
        candidates.TEMPLATES,
        fleet.TEMPLATES,
        run.TEMPLATES,
        input_checks.TEMPLATES,
        inspection.TEMPLATES,
        starting.TEMPLATES,
    )
)
