"""What the indicated speed and distance really mean: `find_speed`."""

from gearing.analysis.speed.answer import SpeedFinding, find_speed

__all__ = ["SpeedFinding", "find_speed"]
