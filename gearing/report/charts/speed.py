"""Charts of the first question: what the indicated speed really means."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits, signed
from gearing.report.chart import SIDES, Chart, across, colour, dash, data, finish, marker
from gearing.report.reading import Tree, dig, estimate, number, rows
from gearing.report.tables import Table, table


def _speeds(results: Tree, display: Display) -> list[tuple[float, dict[str, float | None]]]:
    """Indicated speeds with the true ones of each side, all in the reader's unit."""

    def shown(kmh: float | None) -> float | None:
        return None if kmh is None else display.speed(kmh)

    return [
        (indicated, {side: shown(number(dig(row, "true_kmh", side))) for side in SIDES})
        for row in rows(results, "speed", "table")
        if (indicated := shown(number(row.get("indicated_kmh")))) is not None
    ]


def speed_table(results: Tree, display: Display) -> Table:
    """True speed at round indicated speeds, before and after."""
    unit = display.speed_unit
    found = _speeds(results, display)
    known = [side for side in SIDES if any(true[side] is not None for _, true in found)]
    cells = [
        (
            digits(shown, 0),
            *("not known" if (v := true[side]) is None else digits(v, 1) for side in known),
        )
        for shown, true in found
    ]
    return table(
        "True speed at what the dash shows",
        (f"Indicated [{unit}]", *(f"True, {SIDES[side]} [{unit}]" for side in known)),
        cells if known else (),
        words=0,
    )


def speed_chart(results: Tree, display: Display) -> Chart | None:
    """How far the true speed lies above or below the indicated one."""
    frame = _differences(results, display)
    if frame.is_empty():
        return None
    unit, top = display.speed_unit, float(frame["indicated"].max())  # type: ignore[arg-type]
    x = alt.X("indicated:Q", axis=across(f"Indicated speed [{unit}]"), scale=alt.Scale(zero=False))
    y = alt.Y("true_less_indicated:Q", axis=alt.Axis(title=None, tickCount=5))
    lines = (
        alt.Chart(data(frame))
        .mark_line(strokeWidth=2.5)
        .encode(
            x=x,
            y=y,
            color=colour(),
            strokeDash=dash(),
            tooltip=[
                alt.Tooltip("tires:N", title="Tires"),
                alt.Tooltip("indicated:Q", title=f"Indicated [{unit}]", format=".1f"),
                alt.Tooltip("true:Q", title=f"True [{unit}]", format=".1f"),
            ],
        )
    )
    marks = (
        alt.Chart(data(frame))
        .mark_point(size=55, fill="var(--sheet)", strokeWidth=2, opacity=1)
        .encode(x=x, y=y, color=colour(), shape=marker())
    )
    band = (
        alt.Chart(data(frame))
        .mark_area(opacity=0.25)
        .encode(x=x, y=alt.Y("low:Q"), y2=alt.Y2("high:Q"), color=colour())
    )
    level = alt.Chart(data(pl.DataFrame({"at": [0.0]}))).mark_rule().encode(y=alt.Y("at:Q"))
    layers = alt.layer(
        _never_low(frame), level, band, lines, marks, _commercial_limit(display, top)
    )
    return Chart(
        key="speed",
        title="How far the true speed lies from the indicated one",
        reading=(
            "Each line is one set of tires. On the zero line the dash tells the truth; above it "
            "you go faster than shown. The shaded strip is where UN Regulation 39 wants a "
            "speedometer: never reading low, and not too high. The bar is the room 49 CFR "
            f"393.82 leaves at {digits(display.speed(_LIMIT_AT_KMH), 0)} {unit}."
        ),
        alt=_alt(results, display),
        table=_difference_table(frame, display),
        panels=(finish(layers, f"True less indicated speed [{unit}]", 260),),
    )


_LIMIT_AT_KMH, _LIMIT_KMH = 80.0, 8.0  # 49 CFR 393.82


def _commercial_limit(display: Display, top: float) -> Any:
    """The room 49 CFR 393.82 leaves: 8 km/h (5 mph) either way at 80 km/h (50 mph)."""
    at, room = (50.0, 5.0) if display.us else (_LIMIT_AT_KMH, _LIMIT_KMH)
    frame = pl.DataFrame({"indicated": [at], "low": [-room], "high": [room]})
    shown = frame if at <= top else frame.clear()
    return (
        alt.Chart(data(shown))
        .mark_rule(strokeWidth=2, strokeDash=[2, 2])
        .encode(x=alt.X("indicated:Q"), y=alt.Y("low:Q"), y2=alt.Y2("high:Q"))
    )


def _never_low(frame: pl.DataFrame) -> Any:
    """Where UN Regulation 39 wants a speedometer: 0 <= shown - true <= true / 10 + 4 km/h."""
    strip = frame.select("indicated", "strip").unique().sort("indicated")
    return (
        alt.Chart(data(strip.with_columns(zero=pl.lit(0.0))))
        .mark_area(color="var(--strip)", opacity=0.6)
        .encode(x=alt.X("indicated:Q"), y=alt.Y("zero:Q"), y2=alt.Y2("strip:Q"))
    )


def _differences(results: Tree, display: Display) -> pl.DataFrame:
    allowance = display.speed(4.0)
    out = []
    for shown, true_speeds in _speeds(results, display):
        for side, tires in SIDES.items():
            true = true_speeds[side]
            if true is None:
                continue
            factor = estimate(results, "speed", "odometer_factor", side)
            low = shown * factor.low if factor.low is not None else true
            high = shown * factor.high if factor.high is not None else true
            out.append(
                {
                    "tires": tires,
                    "indicated": shown,
                    "true": true,
                    "true_less_indicated": true - shown,
                    "low": low - shown,
                    "high": high - shown,
                    # the slowest true speed at which the dash may show this much
                    "strip": (shown - allowance) / 1.1 - shown,
                }
            )
    return pl.DataFrame(out)


def _difference_table(frame: pl.DataFrame, display: Display) -> Table:
    unit = display.speed_unit
    return table(
        "True less indicated speed",
        ("Tires", f"Indicated [{unit}]", f"True [{unit}]", f"Difference [{unit}]"),
        [
            (
                row["tires"],
                digits(row["indicated"], 1),
                digits(row["true"], 1),
                signed(row["true_less_indicated"], 1),
            )
            for row in frame.to_dicts()
        ],
    )


def _alt(results: Tree, display: Display) -> str:
    parts = []
    for side, tires in SIDES.items():
        factor = estimate(results, "speed", "odometer_factor", side)
        if factor.value is not None:
            at = display.round_speed
            parts.append(
                f"on the {tires}, {digits(at, 0)} {display.speed_unit} shown is "
                f"{digits(at * factor.value, 1)} true"
            )
    return "Line chart: " + "; ".join(parts) + "."
