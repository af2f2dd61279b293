"""What was done and assumed, what the data covered, and what was set aside."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from gearing.messages.display import Display, digits
from gearing.report.charts.data import by_tires, cover_chart, temperature_chart
from gearing.report.evidence.declared import assumed_table, declared_table
from gearing.report.phrases import capital, said, shown
from gearing.report.reader import NEWEST_FIRST
from gearing.report.section import Section, drawn, filled
from gearing.report.tables import Grid, Table

if TYPE_CHECKING:
    from gearing.results.record import Results

_TRIPS_SHOWN = 120
_CASES_SHOWN = 60
_LEAD = (
    "True speed and distance come from the GPS receiver, on the ellipsoid and along the slope; the "
    "delay between receiver and vehicle was measured trip by trip and taken out. Each interval "
    "rests on whole days of driving, not on seconds, since the seconds of a day share its weather, "
    "load and fuel.",
    "What the tires themselves change, such as engine speed and gear, is never corrected for: that "
    "would take away the effect in question.",
)


def data_section(results: Results, frames: dict[str, pl.DataFrame], display: Display) -> Section:
    """What was driven, what was assumed, what the study declares, every trip."""
    trips = frames.get("trips")
    return Section(
        key="done",
        title="What was done and assumed",
        short="Data",
        lead=_LEAD,
        charts=drawn(cover_chart(trips, display), temperature_chart(trips, display)),
        tables=filled(
            _cover_table(trips, display),
            assumed_table(results, display),
            declared_table(results, display),
            _trip_table(results, display),
            _notes_table(results),
        ),
        folded="What was driven, what was assumed, what the study declares, every trip",
    )


def _cover_table(trips: pl.DataFrame | None, display: Display) -> Table:
    """Each period's trips in sum."""
    parts: list[tuple[str, pl.DataFrame]] = []
    if trips is not None:
        trips = by_tires(trips)
        parts = [(one, trips.filter(side=one)) for one in NEWEST_FIRST]
    return (
        Grid((side, part) for side, part in parts if not part.is_empty())
        .words(display.word("Tires"), lambda row: display.tires(row[0]))
        .figure("Trips", lambda row: row[1].height)
        .figure("Days", lambda row: row[1]["local_day"].n_unique())
        .told(
            f"True {display.distance_word}",
            lambda row: _total(row[1], "true_m", display.distance(1.0) / 1000, "not known"),
        )
        .told("Hours moving", lambda row: _total(row[1], "moving_s", 1 / 3600))
        .told(
            f"Fuel [{display.volume_unit}]",
            lambda row: _total(row[1], "liters", display.volume(1.0)),
        )
        .told(f"Outside [{display.temperature_unit}]", lambda row: _warmth(row[1], display))
        .table("What the logs covered")
    )


def _total(part: pl.DataFrame, column: str, factor: float, none: str = "not logged") -> str:
    if not part[column].count():
        return none
    return digits(float(part[column].sum()) * factor, 0)


def _warmth(part: pl.DataFrame, display: Display) -> str:
    column = "ambient_temperature_c"
    if not part[column].count():
        return "not logged"
    ends = (float(part[column].min()), float(part[column].max()))  # type: ignore[arg-type]
    return " to ".join(shown(one, 0, display.temperature) for one in ends)


def _trip_table(results: Results, display: Display) -> Table:
    more = len(results.trips) - _TRIPS_SHOWN
    far, volume = display.distance_unit, display.volume_unit
    return (
        Grid(results.trips[:_TRIPS_SHOWN])
        .words("Trip", lambda row: row.name)
        .words(display.word("Tires"), lambda row: display.tires(row.period))
        .words("Day", lambda row: row.start[:10])
        .words("Flags", lambda row: ", ".join(row.flags))
        .figure(f"True [{far}]", lambda row: row.true_km, 1, display.distance)
        .figure(f"Indicated [{far}]", lambda row: row.indicated_km, 1, display.distance)
        .figure(f"Fuel [{volume}]", lambda row: row.liters, 1, display.volume)
        .figure("Odometer factor", lambda row: row.odometer_factor, 4)
        .figure("Effective axle ratio", lambda row: row.final_drive, 3)
        .table(
            "Trips",
            note=f"{more:,} more trips are in trips.csv beside this page." if more > 0 else "",
        )
    )


def _notes_table(results: Results) -> Table:
    """What was repaired or passed over while reading, like cases as one."""
    return (
        Grid(results.notes)
        .words("What", lambda row: f"{said(row.message)} {said(row.remedy)}")
        .words("First file", lambda row: row.file)
        .figure("Files", lambda row: row.files)
        .figure("Times", lambda row: row.count)
        .table("Notes from reading")
    )


def set_aside_section(results: Results, frames: dict[str, pl.DataFrame]) -> Section:
    """Rows and values set aside, by reason."""
    read = results.input
    lead = (
        f"Of {read.rows_read:,} rows read, {read.rows_used:,} were used and "
        f"{read.rows_set_aside:,} set aside. Nothing is dropped without a reason. set_aside.csv "
        "beside this page lists each case."
    )
    return Section(
        key="set-aside",
        title="What was set aside",
        short="Set aside",
        lead=(lead,),
        folded="Rows and values set aside, by reason",
        tables=filled(
            _counts(read.reasons, "Why rows were set aside", "Rows"),
            _counts(read.values_set_aside, "Single values set aside, their rows used", "Values"),
            _counts(read.repairs, "What was mended while reading", "Times"),
            _set_aside_table(frames.get("set_aside")),
        ),
    )


def _counts(found: dict[str, int], caption: str, unit: str) -> Table:
    """How often each code came, most often first."""
    return (
        Grid(sorted(found.items(), key=lambda item: -item[1]))
        .words("Reason", lambda row: capital(row[0].replace("-", " ")))
        .figure(unit, lambda row: row[1])
        .table(caption)
    )


def _set_aside_table(frame: pl.DataFrame | None) -> Table:
    """Like cases together, as far as the page may name them."""
    frame = pl.DataFrame() if frame is None else frame
    like = [name for name in ("file", "reason", "column") if name in frame.columns]
    line = [pl.col("first_line").min()] if {"file", "first_line"} <= set(frame.columns) else []
    if not frame.is_empty():
        frame = (
            frame.group_by(like, maintain_order=True)
            .agg(*line, pl.col("count").sum())
            .with_columns(pl.col("reason").cast(pl.String).str.replace_all("-", " ", literal=True))
            .sort("count", descending=True, maintain_order=True)
        )

    def add(grid: Grid[dict[str, Any]], name: str) -> None:
        """One column of the frame."""
        told = grid.words if name in like else grid.told
        told(name.replace("_", " ").capitalize(), lambda row: str(row[name] or ""))

    return (
        Grid(frame.to_dicts())
        .each(frame.columns, add)
        .table(
            "Like cases, the most frequent first",
            limit=_CASES_SHOWN,
            note="Each by itself, with its line, is in set_aside.csv beside this page.",
        )
    )
