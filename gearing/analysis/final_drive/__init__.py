"""What the change did to the gearing: effective axle ratio, change, gears."""

from gearing.analysis.final_drive.answer import (
    FinalDriveFinding,
    declared_axle,
    find_final_drive,
    pooled_axle_turns,
)
from gearing.analysis.final_drive.as_declared import as_declared

__all__ = [
    "FinalDriveFinding",
    "as_declared",
    "declared_axle",
    "find_final_drive",
    "pooled_axle_turns",
]
