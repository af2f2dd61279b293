"""Question three: what the new gearing does on mountain roads, up and down."""

from gearing.analysis.mountain.find import find_mountain
from gearing.analysis.mountain.result import MountainFinding

__all__ = ["MountainFinding", "find_mountain"]
