"""What was done and assumed, what the data covered, and what was set aside."""

from __future__ import annotations

import polars as pl

from gearing.messages.display import Display, digits, minus
from gearing.report.charts.data import cover_chart, temperature_chart
from gearing.report.evidence.declared import assumed_table, declared_table
from gearing.report.phrases import capital, plain
from gearing.report.reading import NEWEST_FIRST, Tree, branch, dig, number, rows, text
from gearing.report.section import Section
from gearing.report.tables import Table, table

_TRIPS_SHOWN = 120
_CASES_SHOWN = 60


def data_section(results: Tree, frames: dict[str, pl.DataFrame], display: Display) -> Section:
    trips = frames.get("trips")
    charts = (cover_chart(trips, display), temperature_chart(trips, display))
    tables = (_cover_table(trips, display), assumed_table(results, display))
    more = (declared_table(results, display), _trip_table(results, display), _notes_table(results))
    return Section(
        key="done",
        title="What was done and assumed",
        short="Data",
        lead=(
            "True speed and distance come from the GPS receiver, on the ellipsoid and along the "
            "slope; the delay between receiver and vehicle was measured trip by trip and taken "
            "out. Each interval rests on whole days of driving, not on seconds, since the seconds "
            "of a day share its weather, load and fuel.",
            "What the tires themselves change, such as engine speed and gear, is never corrected "
            "for: that would take away the effect in question.",
        ),
        charts=tuple(chart for chart in charts if chart is not None),
        tables=tuple(t for t in (*tables, *more) if t.rows),
        folded="What was driven, what was assumed, what the study declares, every trip",
    )


def _cover_table(trips: pl.DataFrame | None, display: Display) -> Table:
    needed = {"side", "true_m", "local_day"}
    if trips is None or not needed <= set(trips.columns):
        return table("What the logs covered", (), ())
    cells = []
    for side in NEWEST_FIRST:
        part = trips.filter(pl.col("side").cast(pl.String) == side)
        if part.is_empty():
            continue
        cells.append(
            (
                display.tires(side),
                digits(part.height, 0),
                digits(part["local_day"].n_unique(), 0),
                _total(part, "true_m", display.distance(1.0) / 1000, 0, "not known"),
                _total(part, "moving_s", 1 / 3600, 0),
                _total(part, "liters", display.volume(1.0), 0),
                _range(part, display),
            )
        )
    return table(
        "What the logs covered",
        (
            display.word("Tires"),
            "Trips",
            "Days",
            f"True {display.distance_word}",
            "Hours moving",
            f"Fuel [{display.volume_unit}]",
            f"Outside [{display.temperature_unit}]",
        ),
        cells,
    )


def _total(
    part: pl.DataFrame, column: str, factor: float, places: int, none: str = "not logged"
) -> str:
    if column not in part.columns or part[column].null_count() == part.height:
        return none
    return digits(float(part[column].sum()) * factor, places)


def _range(part: pl.DataFrame, display: Display) -> str:
    column = "ambient_temperature_c"
    if column not in part.columns or part[column].null_count() == part.height:
        return "not logged"
    low, high = (float(part[column].min()), float(part[column].max()))  # type: ignore[arg-type]
    return f"{minus(display.temperature(low), 0)} to {minus(display.temperature(high), 0)}"


def _trip_table(results: Tree, display: Display) -> Table:
    cells = []
    found = rows(results, "trips")
    for trip in found[:_TRIPS_SHOWN]:
        true, indicated = number(trip.get("true_km")), number(trip.get("indicated_km"))
        flags = trip.get("flags")
        liters = number(trip.get("liters"))
        cells.append(
            (
                text(trip.get("name")),
                display.tires(text(trip.get("period"))),
                text(trip.get("start"))[:10],
                ", ".join(map(str, flags)) if isinstance(flags, list) else "",
                plain(None if true is None else display.distance(true), 1),
                plain(None if indicated is None else display.distance(indicated), 1),
                plain(None if liters is None else display.volume(liters), 1),
                plain(number(trip.get("odometer_factor")), 4),
                plain(number(trip.get("final_drive")), 3),
            )
        )
    more = len(found) - len(cells)
    return table(
        "Trips",
        (
            "Trip",
            display.word("Tires"),
            "Day",
            "Flags",
            f"True [{display.distance_unit}]",
            f"Indicated [{display.distance_unit}]",
            f"Fuel [{display.volume_unit}]",
            "Odometer factor",
            "Effective axle ratio",
        ),
        cells,
        words=4,
        note=f"{more:,} more trips are in trips.csv beside this page." if more > 0 else "",
    )


def _notes_table(results: Tree) -> Table:
    """What was repaired or passed over while reading, like cases as one."""
    cells = [
        (
            f"{text(row.get('message'))} {text(row.get('remedy'))}".strip(),
            text(row.get("file")),
            digits(number(row.get("files")) or 1, 0),
            digits(number(row.get("count")) or 1, 0),
        )
        for row in rows(results, "notes")
    ]
    return table("Notes from reading", ("What", "First file", "Files", "Times"), cells, words=2)


def set_aside_section(results: Tree, frames: dict[str, pl.DataFrame]) -> Section:
    read = number(dig(results, "input", "rows_read"))
    used = number(dig(results, "input", "rows_used"))
    aside = number(dig(results, "input", "rows_set_aside"))
    lead = "Nothing is dropped without a reason. set_aside.csv beside this page lists each case."
    if read is not None and used is not None and aside is not None:
        lead = (
            f"Of {read:,.0f} rows read, {used:,.0f} were used and {aside:,.0f} set aside. " + lead
        )
    tables = [
        _counts(results, "reasons", "Why rows were set aside", "Rows"),
        _counts(results, "values_set_aside", "Single values set aside, their rows used", "Values"),
        _counts(results, "repairs", "What was mended while reading", "Times"),
        _set_aside_table(frames.get("set_aside")),
    ]
    return Section(
        key="set-aside",
        title="What was set aside",
        short="Set aside",
        lead=(lead,),
        folded="Rows and values set aside, by reason",
        tables=tuple(t for t in tables if t.rows),
    )


def _counts(results: Tree, key: str, caption: str, unit: str) -> Table:
    """How often each code came, most often first."""
    found = branch(results, "input", key)
    cells = [
        (capital(str(code).replace("-", " ")), digits(count, 0))
        for code, value in sorted(found.items(), key=lambda item: -(number(item[1]) or 0))
        if (count := number(value)) is not None
    ]
    return table(caption, ("Reason", unit), cells)


def _set_aside_table(frame: pl.DataFrame | None) -> Table:
    if frame is None or frame.is_empty():
        return table("Cases", (), ())
    like = [name for name in ("file", "reason", "column") if name in frame.columns]
    line = [pl.col("first_line").min()] if {"file", "first_line"} <= set(frame.columns) else []
    shown = (
        frame.group_by(like, maintain_order=True)
        .agg(*line, pl.col("count").sum())
        .with_columns(pl.col("reason").cast(pl.String).str.replace_all("-", " ", literal=True))
        .sort("count", descending=True, maintain_order=True)
    )
    cells = [
        tuple(str(value) if value is not None else "" for value in row) for row in shown.iter_rows()
    ]
    return table(
        "Like cases, the most frequent first",
        [name.replace("_", " ").capitalize() for name in shown.columns],
        cells,
        words=len(like),
        limit=_CASES_SHOWN,
        note="Each by itself, with its line, is in set_aside.csv beside this page.",
    )
