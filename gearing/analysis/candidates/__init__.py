"""Before anything is bought: sizes and axle ratios side by side."""

from gearing.analysis.candidates.find import find_candidates
from gearing.analysis.candidates.result import CandidatesFinding

__all__ = ["CandidatesFinding", "find_candidates"]
