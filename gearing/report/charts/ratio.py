"""The chart of the gearing: each trip's axle ratio against the earlier figure."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits, signed
from gearing.report import chart as draw
from gearing.report.reading import SIDES, Tree, estimate, rows, text
from gearing.report.tables import table
from gearing.statistics.estimate import NORMAL_95

_DRAWN_TRIPS = 300
_MISFILED = "A trip that lies with the other tires' marks was filed under the wrong tires. "


def ratio_chart(results: Tree, trips: pl.DataFrame | None, display: Display) -> draw.Chart | None:
    """How far each trip's ratio lies from the earlier figure; crosses are trips kept out."""
    frame = _trip_ratios(results, trips, display)
    if frame.is_empty():
        return None
    name = _ratio_name(results)
    several = frame["side"].n_unique() > 1
    return draw.Chart(
        key="ratio",
        title=f"{name}, trip by trip",
        reading=(
            "Each mark is one trip, its bar the 95 % interval; the long lines are the figures "
            f"used. {_MISFILED if several and display.role == 'changed' else ''}A cross is a trip "
            "left out, in the color it is filed under. A dotted upright line is a day on which "
            "something changed."
        ),
        alt=_ratio_alt(results, frame, display),
        table=table(
            f"{name} by trip",
            ("Trip", "Filed under", "Day", "Left out", name, "Off the earlier figure [%]"),
            [
                (
                    row["trip"],
                    row["tires"],
                    row["day"],
                    row["left_out"],
                    digits(row["ratio"], 3),
                    signed(row["off"], 2),
                )
                for row in frame.to_dicts()
            ],
            words=4,
        ),
        panels=(
            draw.finish(_layers(results, frame, name), f"{name}, off the earlier figure [%]", 240),
        ),
    )


def _layers(results: Tree, frame: pl.DataFrame, name: str) -> Any:
    x, y = draw.calendar(), draw.up("off:Q", zero=False)
    answer = draw.tips(
        ("trip:N", "Trip"),
        ("tires:N", "Filed under"),
        draw.day_tip(),
        ("off:Q", "Off the earlier figure [%]", "+.2f"),
        ("ratio:Q", name, ".3f"),
        ("left_out:N", "Left out"),
    )
    kept, out = (frame.filter((pl.col("left_out") == "no") == used) for used in (True, False))
    layers: list[Any] = list(_pooled_lines(results))
    if not kept.is_empty():
        spans = alt.Chart(draw.data(kept)).mark_rule(strokeWidth=1.5, opacity=0.7)
        layers.append(spans.encode(x=x, y=alt.Y("low:Q"), y2=alt.Y2("high:Q"), color=draw.colour()))
    if not out.is_empty():
        crosses = alt.Chart(draw.data(out)).mark_point(
            shape="cross", angle=45, size=130, filled=True, opacity=1
        )
        layers.append(crosses.encode(x=x, y=y, color=draw.colour()))
    for day, told in _change_points(results):
        frame_of = draw.data(pl.DataFrame({"day": [day], "text": [told]}))
        upright = alt.Chart(frame_of).mark_rule(
            strokeDash=[2, 3], strokeWidth=2, color="var(--ink)"
        )
        layers.append(upright.encode(x=alt.X("day:T"), tooltip=draw.tips(("text:N", "Change"))))
    seen = alt.condition("datum.left_out == 'no'", alt.value(60), alt.value(0))
    return alt.layer(*layers, draw.dots(frame, x, y, answer, size=seen))


def _ratio_name(results: Tree) -> str:
    """What the trips' figure is: without a declared axle ratio, turns for a distance."""
    if estimate(results, "final_drive", "effective", "before").known:
        return "Effective axle ratio"
    if estimate(results, "final_drive", "effective", "after").known:
        return "Effective axle ratio"
    return "Turns per meter, highest gear"


def _earlier(results: Tree) -> float | None:
    """What the deviations are from: the earliest figure there is."""
    found = (estimate(results, "final_drive", "effective", side).value for side in SIDES)
    return next((value for value in found if value), None)


def _trip_ratios(results: Tree, trips: pl.DataFrame | None, display: Display) -> pl.DataFrame:
    needed = {"trip", "side", "local_day", "final_drive"}
    if trips is None or not needed <= set(trips.columns):
        return pl.DataFrame()
    known = trips.filter(
        pl.col("final_drive").is_not_null() & pl.col("side").is_in(list(SIDES))
    ).sort("local_day")
    if known.height > _DRAWN_TRIPS:
        known = _by_month(known)
    se = pl.col("final_drive_se") if "final_drive_se" in known.columns else pl.lit(None)
    used = pl.lit(True)
    for column in ("used", "final_drive_used"):
        if column in known.columns:
            used = used & pl.col(column).fill_null(False)
    flags = (
        pl.col("flags").cast(pl.List(pl.String)).list.join(", ")
        if "flags" in known.columns
        else pl.lit("")
    )
    middle = _earlier(results) or float(known["final_drive"].median() or 1.0)  # type: ignore[arg-type]

    def off(ratio: pl.Expr) -> pl.Expr:
        return 100 * (ratio / middle - 1)

    reach = NORMAL_95 * se.cast(pl.Float64)
    side = pl.col("side").cast(pl.String)
    return known.select(
        "trip",
        side=side,
        tires=side.replace({one: display.tires(one) for one in SIDES}),
        day=pl.col("local_day").cast(pl.String),
        ratio="final_drive",
        off=off(pl.col("final_drive")),
        low=off(pl.col("final_drive") - reach),
        high=off(pl.col("final_drive") + reach),
        left_out=pl.when(used)
        .then(pl.lit("no"))
        .otherwise(pl.when(flags == "").then(pl.lit("yes")).otherwise(flags)),
    )


def _by_month(trips: pl.DataFrame) -> pl.DataFrame:
    """Trips put together by month and side: a mark a trip would be too many to draw."""
    used = trips.filter(pl.col("used")) if "used" in trips.columns else trips
    months = used.group_by(
        "side", local_day=pl.col("local_day").dt.truncate("1mo"), maintain_order=True
    ).agg(
        trip=pl.format("{} trips", pl.len()),
        final_drive=pl.col("final_drive").median(),
        final_drive_se=pl.col("final_drive").std() / pl.len().sqrt(),
        used=pl.lit(True).first(),
    )
    if "used" not in trips.columns:
        return months
    out = trips.filter(~pl.col("used")).head(_DRAWN_TRIPS)
    return pl.concat([months, out], how="diagonal_relaxed")


def _pooled_lines(results: Tree) -> list[alt.Chart]:
    middle = _earlier(results)
    found = {side: estimate(results, "final_drive", "effective", side).value for side in SIDES}
    looks = {"before": ("var(--before)", [6, 4]), "after": ("var(--after)", [1, 0])}
    return [
        draw.line_at(
            100 * (value / middle - 1),
            across=True,
            strokeWidth=1.5,
            color=looks[side][0],
            strokeDash=looks[side][1],
        )
        for side, value in found.items()
        if value is not None and middle
    ]


def _change_points(results: Tree) -> list[tuple[str, str]]:
    """Days on which something changed, and what."""
    out: dict[str, str] = {}
    for part in ("speed", "final_drive"):
        for row in rows(results, part, "change_points"):
            day = next((text(row.get(key)) for key in ("at", "day") if row.get(key)), "")
            if day:
                out.setdefault(day[:10], text(row.get("text")) or "something changed")
    return list(out.items())


def _ratio_alt(results: Tree, frame: pl.DataFrame, display: Display) -> str:
    parts = []
    for side in SIDES:
        count = frame.filter(pl.col("side") == side).height
        value = estimate(results, "final_drive", "effective", side).value
        if count:
            around = f" around {digits(value, 2)}" if value is not None else ""
            parts.append(f"{count} marks for the {display.tires(side)}{around}")
    out = frame.filter(pl.col("left_out") != "no").height
    return f"Dot chart in time: {'; '.join(parts)}; {out} left out."
