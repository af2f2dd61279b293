"""From a TOML file to a checked study; all that is wrong is told at once."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from gearing.messages import GearingError, Items, UserText, message, names
from gearing.study.document import read_document
from gearing.study.faults import Faults
from gearing.study.files import NAMED_AT_MOST, check_logs, shared_logs
from gearing.study.model import Side, Study
from gearing.study.schema import keys_by_table
from gearing.study.section import Section
from gearing.study.sections import read_sections


def load_study(path: Path, *, logs_needed: bool = True) -> Study:
    """Read and check a study file. Quantities come out in SI, moments in UTC.

    With `logs_needed` false the logs, fill-ups and weather need not be there: enough for tables
    made from what is declared alone.

    Raises
    ------
    GearingError
        with every fault found, each with its line where it has one.
    """
    document = read_document(path)
    faults = Faults(document)
    top = Section(faults, document.data)
    study = read_sections(top, path, companions=logs_needed)
    _check_periods(top, logs_needed=logs_needed)
    if logs_needed:
        _check_shared(top, study)
    if not top.all_known():
        top.close(keys_by_table())
    if faults.found:
        raise GearingError(faults.in_order())
    return study


def _check_periods(top: Section, *, logs_needed: bool) -> None:
    """Which tires and which logs belong to which period must be plain."""
    sections = {child.where[0]: child for child in top.children if len(child.where) == 1}
    before, after = sections.get("before"), sections.get("after")
    periods = [section for section in (before, after) if section is not None]
    if not periods:
        if not {"before", "after"} & top.faulty:
            top.require(
                "before",
                '{ drive_tire = "245/70R19.5", logs = ["before/*.csv"] }',
                message("needs/period"),
            )
        return
    own = [section for section in periods if "logs" in section.values]
    if "logs" in top.values and own:
        told = message(
            "study-conflict/logs-twice", key=top.called("logs"), period=UserText(own[0].label)
        )
        top.fault("logs", told)
    elif (
        after is not None
        and "from" in after.values
        and not {"logs", "fillups", "measured"} & set(top.values)
        and logs_needed
    ):
        after.fault("from", message("study-conflict/splits-nothing", key=after.called("from")))
    if after is not None and "from" in after.values and before is None:
        top.require("before", '{ drive_tire = "245/70R19.5" }', message("needs/before"))
    if "logs" in top.values and before is not None and after is not None and not own:
        after.require("from", "2026-03-14", message("needs/from"))
    if not logs_needed:
        return
    if not own and "logs" not in top.values and not _notes_tell(top, before, after):
        reason = message("needs/evidence")
        periods[0].require("logs", f'["{periods[0].where[0]}/*.csv"]', reason)
    for section in (top, *periods):
        if section is top or section in own:
            check_logs(section)


def _notes_tell(top: Section, before: Section | None, after: Section | None) -> bool:
    """Whether what was noted is evidence without logs, fill-ups or the needle over measured
    stretches: it falls into its periods by the date of the change, or there is one period."""
    if "fillups" not in top.values and not {"measured", "dash"} <= set(top.values):
        return False
    return before is None or after is None or "from" in after.values


def _check_shared(top: Section, study: Study) -> None:
    after = next((child for child in top.children if child.where == ("after",)), None)
    shared = shared_logs(study)
    if after is None or not shared:
        return
    files = names([path.name for path in shared[:NAMED_AT_MOST]], "file", ",")
    if (more := len(shared) - NAMED_AT_MOST) > 0:
        files = Items((files, message("more-files", count=more)))
    told = message("study-conflict/shared-logs", key=after.called("logs"), files=files)
    after.fault("logs", told)


def side_at(study: Study, moment: datetime) -> Side | None:
    """The period a moment falls in where the study splits its logs by date; else None."""
    if study.after is None or study.after.start is None:
        return None
    return "after" if moment >= study.after.start else "before"
