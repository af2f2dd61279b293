"""What of a study its trips are made by."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gearing.study.model import Study

MINUTE = timedelta(minutes=1)


def noted_within(at: datetime) -> tuple[datetime, datetime]:
    """When a moment noted by hand may have been: within its minute, where it names no second."""
    whole = at.second == 0 and at.microsecond == 0
    return at, at + MINUTE if whole else at


@dataclass(frozen=True, slots=True)
class Declared:
    """What a study says of vehicle and days that trips are made by; its column rules and what a
    log is filed under are told beside."""

    time_zone: str
    gasoline: bool
    has_before: bool
    after_from: datetime | None
    measured: tuple[tuple[datetime, datetime], ...]
    dash: tuple[datetime, ...]

    @classmethod
    def of(cls, study: Study) -> Declared:
        """What of a study the trips are made by."""
        return cls(
            time_zone=study.time_zone,
            gasoline=study.vehicle.fuel == "gasoline",
            has_before=study.before is not None,
            after_from=study.after.start if study.after is not None else None,
            measured=tuple((one.start, one.end) for one in study.measured),
            dash=tuple(one.at for one in study.dash),
        )
