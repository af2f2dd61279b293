"""What the change did to the gearing: effective axle ratio, change, gears."""

from gearing.analysis.final_drive.answer import (
    FinalDriveFinding,
    find_final_drive,
    pooled_axle_turns,
)

__all__ = ["FinalDriveFinding", "find_final_drive", "pooled_axle_turns"]
