"""Charts of the gearing: the effective axle ratio trip by trip, engine speed by gear."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
from gearing.report.chart import (
    SIDES,
    Chart,
    across,
    calendar,
    colour,
    dash,
    data,
    finish,
    marker,
)
from gearing.report.phrases import percent_of
from gearing.report.reading import Tree, branch, dig, estimate, number, rows, text
from gearing.report.tables import Table, table
from gearing.statistics.estimate import NORMAL_95

_DRAWN_TRIPS = 300
_MISFILED = "A trip that lies with the other tires' marks was filed under the wrong tires. "


def ratio_chart(results: Tree, trips: pl.DataFrame | None) -> Chart | None:
    """Effective axle ratio of every trip in time; crosses are trips kept out."""
    frame = _trip_ratios(trips)
    if frame.is_empty():
        return None
    x = alt.X("day:T", axis=calendar(), scale=alt.Scale(type="utc"))
    y = alt.Y("ratio:Q", axis=alt.Axis(title=None, tickCount=5), scale=alt.Scale(zero=False))
    tooltip = [
        alt.Tooltip("trip:N", title="Trip"),
        alt.Tooltip("tires:N", title="Filed under"),
        alt.Tooltip("day_text:N", title="Day"),
        alt.Tooltip("ratio:Q", title=_ratio_name(results), format=".3f"),
        alt.Tooltip("left_out:N", title="Left out"),
    ]
    layers = list(_pooled_lines(results))
    kept = frame.filter(pl.col("left_out") == "no")
    if not kept.is_empty():
        base = alt.Chart(data(kept))
        layers += [
            base.mark_rule(strokeWidth=1.5, opacity=0.7).encode(
                x=x, y=alt.Y("low:Q"), y2=alt.Y2("high:Q"), color=colour()
            ),
            base.mark_point(size=60, strokeWidth=2, opacity=1).encode(
                x=x, y=y, color=colour(), shape=marker(), tooltip=tooltip
            ),
        ]
    out = frame.filter(pl.col("left_out") != "no")
    if not out.is_empty():
        crosses = alt.Chart(data(out)).mark_point(
            shape="cross", angle=45, size=130, filled=True, opacity=1
        )
        layers.append(crosses.encode(x=x, y=y, color=colour(), tooltip=tooltip))
    changes = _change_points(results)
    if not changes.is_empty():
        upright = alt.Chart(data(changes)).mark_rule(
            strokeDash=[2, 3], strokeWidth=2, color="var(--ink)"
        )
        layers.append(
            upright.encode(x=alt.X("day:T"), tooltip=[alt.Tooltip("text:N", title="Change")])
        )
    name = _ratio_name(results)
    return Chart(
        key="ratio",
        title=f"{name}, trip by trip",
        reading=(
            "Each mark is one trip, its bar the 95 % interval; the long lines are the figures "
            f"used. {_MISFILED if frame['tires'].n_unique() > 1 else ''}A "
            "cross is a trip left out, in the color it is filed under. A dotted upright line is "
            "a day on which something changed."
        ),
        alt=_ratio_alt(results, frame),
        table=_ratio_table(frame, name),
        panels=(finish(alt.layer(*layers), name, 260),),
    )


def _ratio_name(results: Tree) -> str:
    """What the trips' figure is: without a declared axle ratio, turns for a distance."""
    if estimate(results, "final_drive", "effective", "before").known:
        return "Effective axle ratio"
    if estimate(results, "final_drive", "effective", "after").known:
        return "Effective axle ratio"
    return "Turns per meter, highest gear"


def _trip_ratios(trips: pl.DataFrame | None) -> pl.DataFrame:
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
    return known.select(
        "trip",
        tires=pl.col("side").cast(pl.String).replace(SIDES),
        day=pl.col("local_day").cast(pl.String),
        day_text=pl.col("local_day").cast(pl.String),
        ratio="final_drive",
        low=pl.col("final_drive") - NORMAL_95 * se.cast(pl.Float64),
        high=pl.col("final_drive") + NORMAL_95 * se.cast(pl.Float64),
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


def _pooled_lines(results: Tree) -> tuple[alt.Chart, ...]:
    pooled = _pooled(results)
    if pooled.is_empty():
        return ()
    rules = alt.Chart(data(pooled)).mark_rule(strokeWidth=1.5)
    return (rules.encode(y=alt.Y("ratio:Q"), color=colour(), strokeDash=dash()),)


def _pooled(results: Tree) -> pl.DataFrame:
    known = {
        tires: estimate(results, "final_drive", "effective", side).value
        for side, tires in SIDES.items()
    }
    return pl.DataFrame(
        [{"tires": tires, "ratio": value} for tires, value in known.items() if value is not None],
        schema={"tires": pl.String, "ratio": pl.Float64},
    )


def _change_points(results: Tree) -> pl.DataFrame:
    out = []
    for part in ("speed", "final_drive"):
        for row in rows(results, part, "change_points"):
            day = next(
                (text(row.get(key)) for key in ("at", "day") if row.get(key)),
                "",
            )
            if day:
                out.append({"day": day[:10], "text": text(row.get("text")) or "something changed"})
    return pl.DataFrame(out, schema={"day": pl.String, "text": pl.String}).unique(
        "day", maintain_order=True
    )


def _ratio_alt(results: Tree, frame: pl.DataFrame) -> str:
    parts = []
    for side, tires in SIDES.items():
        count = frame.filter(pl.col("tires") == tires).height
        value = estimate(results, "final_drive", "effective", side).value
        if count:
            around = f" around {digits(value, 2)}" if value is not None else ""
            parts.append(f"{count} marks for the {tires}{around}")
    out = frame.filter(pl.col("left_out") != "no").height
    return f"Dot chart in time: {'; '.join(parts)}; {out} left out."


def _ratio_table(frame: pl.DataFrame, name: str) -> Table:
    return table(
        f"{name} by trip",
        ("Trip", "Filed under", "Day", "Left out", name),
        [
            (
                row["trip"],
                row["tires"],
                row["day_text"],
                row["left_out"],
                digits(row["ratio"], 3),
            )
            for row in frame.to_dicts()
        ],
        words=4,
    )


def engine_chart(results: Tree, display: Display) -> Chart | None:
    """Engine speed against road speed, a line a gear, before and after."""
    frame = _engine_lines(results, display)
    if frame.is_empty():
        return None
    unit, both = display.speed_unit, frame["tires"].n_unique() > 1
    x = alt.X("speed:Q", axis=across(f"True speed [{unit}]"))
    y = alt.Y("rpm:Q", axis=alt.Axis(title=None, tickCount=5))
    base = alt.Chart(data(frame))
    lines = base.mark_line(strokeWidth=2).encode(
        x=x,
        y=y,
        color=colour(),
        strokeDash=dash(),
        detail=alt.Detail("gear:N"),
        tooltip=[
            alt.Tooltip("tires:N", title="Tires"),
            alt.Tooltip("gear:N", title="Gear"),
            alt.Tooltip("speed:Q", title=f"True speed [{unit}]", format=".0f"),
            alt.Tooltip("rpm:Q", title="Engine [rpm]", format=",.0f"),
        ],
    )
    labels = (
        alt.Chart(data(_line_ends(frame)))
        .mark_text(align="left", dx=4, dy=-4, fontWeight="bold")
        .encode(x=x, y=y, text=alt.Text("gear:N"))
    )
    return Chart(
        key="engine",
        title="Engine speed by gear and road speed",
        reading=(
            f"Each {'pair of lines' if both else 'line'} is one gear, its number at the end. Go up "
            "from a road speed to the line of your gear and read the engine speed at the left."
            + (" The gap within a pair is what the tires did." if both else "")
            + _numbering(results)
        ),
        alt=_engine_alt(results, display),
        table=_engine_table(results, display),
        panels=(finish(alt.layer(lines, labels), "Engine speed [rpm]", 300),),
    )


_HIGHEST_RPM, _LOWEST_RPM, _HIGHEST_KMH = 2600.0, 700.0, 120.0


def _numbering(results: Tree) -> str:
    if any(gear.get("labelled") is False for gear in rows(results, "gears")):
        return " The study gives no gear ratios, so gears are numbered as found, the lowest first."
    return ""


def _engine_lines(results: Tree, display: Display) -> pl.DataFrame:
    highest = _governed(results) or _HIGHEST_RPM
    out: list[dict[str, Any]] = []
    for gear in rows(results, "gears"):
        for side, tires in SIDES.items():
            per_km = number(dig(gear, side, "rev_per_km"))
            if not per_km:
                continue
            fastest = min(_HIGHEST_KMH, highest * 60 / per_km)
            out.extend(
                {
                    "tires": tires,
                    "gear": _gear_name(gear),
                    "speed": display.speed(kmh),
                    "rpm": per_km * kmh / 60,
                }
                for kmh in (min(fastest, _LOWEST_RPM * 60 / per_km), fastest)
            )
    return pl.DataFrame(out)


def _governed(results: Tree) -> float | None:
    return number(dig(results, "declared", "vehicle", "engine", "governed_rpm"))


def _gear_name(gear: Tree) -> str:
    found = gear.get("gear")
    return str(found) if isinstance(found, int | str) else digits(number(found) or 0, 0)


def _line_ends(frame: pl.DataFrame) -> pl.DataFrame:
    """Where each gear's lines end: the farther of the pair."""
    return frame.sort("speed").group_by("gear", maintain_order=True).last()


def _engine_alt(results: Tree, display: Display) -> str:
    top = rows(results, "gears")
    if not top:
        return ""
    last = top[-1]
    kmh = 100.0 if not display.us else display_kmh(60.0)
    parts = []
    for side, tires in SIDES.items():
        per_km = number(dig(last, side, "rev_per_km"))
        if per_km is not None:
            parts.append(f"{digits(per_km * kmh / 60, 0)} rpm on the {tires}")
    at = f"{digits(display.speed(kmh), 0)} {display.speed_unit}"
    return f"Line chart. In the highest gear at {at}: {' and '.join(parts)}."


def display_kmh(mph: float) -> float:
    from gearing.units import convert

    return convert(mph, "mph", "km/h")


def _engine_table(results: Tree, display: Display) -> Table:
    fastest = _governed(results) or 4000.0
    speeds = [30.0, 40.0, 50.0, 60.0, 70.0] if display.us else [50.0, 65.0, 80.0, 90.0, 105.0]
    cells = []
    for gear in rows(results, "gears"):
        for side, tires in SIDES.items():
            per_km = number(dig(gear, side, "rev_per_km"))
            if per_km is None:
                continue
            kmh = [display_kmh(v) if display.us else v for v in speeds]
            shown = [per_km * v / 60 for v in kmh]
            if shown[0] > fastest:
                continue
            cells.append(
                (_gear_name(gear), tires, *(digits(r, 0) if r <= fastest else "-" for r in shown))
            )
    heads = [f"at {digits(v, 0)} {display.speed_unit}" for v in speeds]
    return table(
        "Engine speed [rpm]",
        ("Gear", "Tires", *heads),
        cells,
        words=2,
        note=f"A dash, or no line: above {digits(fastest, 0)} rpm.",
    )


def gear_table(results: Tree, display: Display) -> Table:
    """Gears with their ratio, engine turns per distance, and how they were used."""
    unit = "turns per mile" if display.us else "turns per km"
    cells = []
    for gear in rows(results, "gears"):
        sides = [branch(gear, side) for side in SIDES]
        ratio = number(gear.get("ratio"))
        turns = [number(side.get("rev_per_km")) for side in sides]
        cells.append(
            (
                _gear_name(gear),
                digits(ratio, 2) if ratio is not None else "not known",
                *(digits(display.revolutions(t), 0) if t is not None else "-" for t in turns),
                *(percent_of(number(side.get("time_share"))) for side in sides),
                *(percent_of(number(side.get("distance_share"))) for side in sides),
            )
        )
    return table(
        f"Gears: engine {unit}, and how much of the time and distance each gear was in use",
        (
            "Gear",
            "Ratio",
            "Turns, old tires",
            "Turns, new tires",
            "Time, old",
            "Time, new",
            "Distance, old",
            "Distance, new",
        ),
        cells,
    )
