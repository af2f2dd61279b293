"""Lines of the study's `[columns]` that speak of a heading no log has: they do nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from gearing.logs.column_rule import find_rule, rules_for
from gearing.logs.headings import BESIDE, ROLES, short_name
from gearing.messages import Message, StudyWarning, UserText, message, warning
from gearing.study.words import nearest

if TYPE_CHECKING:
    from gearing.logs.column_rule import ColumnRule
    from gearing.study.model import Study

# channels of logs that a fill-up log, a weather file or a road's profile may have as well
_ALSO_BESIDE = frozenset(
    {"indicated_distance_m", "ambient_temperature_c", "barometric_pressure_kpa", "altitude_m"}
)


def unseen_headings(study: Study, logs: Iterable[tuple[str, Sequence[str]]]) -> list[StudyWarning]:
    """One warning for each rule that no log's headings answer to; `logs` are names and headings.

    A line that may be meant for a file beside the logs, where the study names one, is passed
    over: only its reader knows.
    """
    beside = bool(study.fillups or study.weather or study.routes)
    asked = [rule for rule in study.columns if not (beside and _may_be_beside(rule))]
    if not asked:
        return []
    logs = list(logs)
    every = dict.fromkeys(heading for _, headings in logs for heading in headings if heading)
    if not every:
        return []  # no log could be read: that is told, and is the reason
    used = {
        id(find_rule(heading, rules_for(study.columns, log))) for log, hs in logs for heading in hs
    }
    return [_warning(rule, every) for rule in asked if id(rule) not in used]


def _may_be_beside(rule: ColumnRule) -> bool:
    channel = rule.channel
    return channel is None or channel in _ALSO_BESIDE or channel in {*BESIDE, *ROLES}


def _warning(rule: ColumnRule, every: Iterable[str]) -> StudyWarning:
    heading = UserText(rule.heading, "column")
    what = message("left-alone") if rule.channel is None else UserText(short_name(rule.channel))
    advice = _advice(rule, every)
    if rule.files is None:
        return warning(message("heading-not-seen", heading=heading, what=what, advice=advice))
    files = UserText(rule.files, "file")
    return warning(
        message("heading-not-seen/files", heading=heading, what=what, advice=advice, files=files)
    )


def _advice(rule: ColumnRule, every: Iterable[str]) -> Message:
    if rule.heading in set(every):
        return message("check-files")
    near = nearest(rule.heading, every)
    if near is None:
        return message("check-heading")
    return message("check-heading/near", near=UserText(near, "column"))
