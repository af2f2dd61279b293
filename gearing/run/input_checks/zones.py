"""Logs whose times name no zone, in a study that names none."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from gearing.messages import StudyWarning, message, warning

if TYPE_CHECKING:
    from gearing.run.tasks import FileReport
    from gearing.study.model import Study


def times_without_zone(study: Study, reports: Iterable[FileReport]) -> list[StudyWarning]:
    """One warning where the hour of day was taken on trust."""
    local = {one.log for one in reports if one.local_times and one.rows_used}
    if study.zone_named or not local:
        return []
    return [warning(message("times-without-zone", logs=len(local)))]
