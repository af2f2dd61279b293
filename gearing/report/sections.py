"""The sections of the page, in the order they are read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.report.candidates_section import candidates_section
from gearing.report.evidence.data import data_section, set_aside_section
from gearing.report.evidence.fuel import fuel_section
from gearing.report.evidence.mountain import mountain_section
from gearing.report.evidence.speed import speed_section
from gearing.report.evidence.warnings import warnings_section

if TYPE_CHECKING:
    import polars as pl

    from gearing.messages.display import Display
    from gearing.report.reading import Tree
    from gearing.report.section import Section


def sections(
    results: Tree, frames: dict[str, pl.DataFrame], display: Display
) -> tuple[Section, ...]:
    """Speed, fuel, mountain, candidates, warnings, what was done, what was set aside."""
    candidates = candidates_section(results, display)
    return (
        speed_section(results, frames, display),
        fuel_section(results, frames, display),
        mountain_section(results, frames, display),
        *(() if candidates is None else (candidates,)),
        warnings_section(results),
        data_section(results, frames, display),
        set_aside_section(results, frames),
    )
