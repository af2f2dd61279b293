"""Charts of the first question: what the needle and the computer really mean."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits, signed
from gearing.report import chart as draw
from gearing.report.reading import SIDES, Tree, estimate, inverse, number, rows
from gearing.report.tables import table
from gearing.statistics.estimate import Estimate

_US_SPEEDS, _METRIC_SPEEDS = range(20, 85, 5), range(30, 140, 10)
_POINTS = 10  # of straight lines
_LIMIT_AT_KMH, _LIMIT_KMH = 80.0, 8.0  # 49 CFR 393.82

_RULES = (
    " The outlined strip is where UN Regulation 39 wants a speedometer: never reading low, and not "
    "too high. The upright bar is the room 49 CFR 393.82 leaves at {at} {unit}."
)


def speed_charts(results: Tree, display: Display) -> tuple[draw.Chart, ...]:
    """How far the true speed lies from the needle's, where it was read, and from the computer's.

    The rules speak of what the driver is shown: they are drawn over readings of the needle alone.
    """
    read = {s: inverse(estimate(results, "speed", "needle_ratio", s)) for s in SIDES}
    counted = {s: estimate(results, "speed", "odometer_factor", s) for s in SIDES}
    table_of = rows(results, "speed", "table")
    shown = [kmh for row in table_of if (kmh := number(row.get("indicated_kmh")))]
    found = (
        _chart("needle", "needle", read, shown, display),
        _chart("speed", "computer", counted, shown, display),
    )
    return tuple(chart for chart in found if chart is not None)


def _chart(
    key: str, by: str, factors: dict[str, Estimate], shown: list[float], display: Display
) -> draw.Chart | None:
    speeds = sorted(display.speed(kmh) for kmh in shown) or list(
        _US_SPEEDS if display.us else _METRIC_SPEEDS
    )
    frame = _differences(factors, speeds[:: len(speeds) // _POINTS + 1], display)
    if frame.is_empty():
        return None
    unit = display.speed_unit
    axis = draw.across(f"Speed by the {by} [{unit}]")
    x = alt.X("shown:Q", axis=axis, scale=alt.Scale(zero=False, nice=False))
    base = alt.Chart(draw.data(frame))
    answer = draw.tips(
        ("tires:N", display.word("Tires")),
        ("shown:Q", f"By the {by} [{unit}]", ".0f"),
        ("true:Q", f"True [{unit}]", ".1f"),
    )
    layers: list[Any] = [
        draw.line_at(0.0, across=True),
        base.mark_area(opacity=0.25).encode(
            x=x, y=alt.Y("low:Q"), y2=alt.Y2("high:Q"), color=draw.colour()
        ),
        base.mark_line(strokeWidth=2.5).encode(
            x=x, y=draw.up("off:Q"), color=draw.colour(), strokeDash=draw.dash()
        ),
        base.mark_point(size=55, fill="var(--sheet)", strokeWidth=2, opacity=1)
        .encode(x=x, y=draw.up("off:Q"), color=draw.colour(), shape=draw.marker(), tooltip=answer)
        .add_params(draw.nearest()),
    ]
    if by == "needle":
        layers = [_never_low(frame), *layers, *_commercial_limit(display, max(speeds))]
    at = digits(display.speed(_LIMIT_AT_KMH), 0)
    told = [
        f"{display.on(side)}, {digits(display.round_speed, 0)} {unit} shown is "
        f"{digits(display.round_speed * factor.value, 1)} true"
        for side, factor in factors.items()
        if factor.value is not None
    ]
    return draw.Chart(
        key=key,
        title=f"How far the true speed lies from what the {by} says",
        reading=(
            f"On the zero line the {by} tells the truth; above it you go faster than it says. The "
            "shade around a line is its 95 % interval."
            + (_RULES.format(at=at, unit=unit) if by == "needle" else "")
        ),
        alt=f"Line chart: {'; '.join(told)}.",
        table=table(
            f"True less shown speed, by the {by}",
            (display.word("Tires"), f"Shown [{unit}]", f"True [{unit}]", f"Difference [{unit}]"),
            [
                (r["tires"], digits(r["shown"], 0), digits(r["true"], 1), signed(r["off"], 1))
                for r in frame.to_dicts()
            ],
        ),
        panels=(draw.finish(alt.layer(*layers), f"True less shown speed [{unit}]", 240),),
    )


def _differences(
    factors: dict[str, Estimate], speeds: list[float], display: Display
) -> pl.DataFrame:
    allowance = display.speed(4.0)
    return pl.DataFrame(
        [
            {
                "side": side,
                "tires": display.tires(side),
                "shown": shown,
                "true": shown * factor.value,
                "off": shown * factor.value - shown,
                "low": shown * (factor.value if factor.low is None else factor.low) - shown,
                "high": shown * (factor.value if factor.high is None else factor.high) - shown,
                # the slowest true speed at which the needle may show this much
                "strip": (shown - allowance) / 1.1 - shown,
            }
            for side, factor in factors.items()
            if factor.value is not None
            for shown in speeds
        ]
    )


def _never_low(frame: pl.DataFrame) -> Any:
    """Where UN Regulation 39 wants a speedometer: 0 <= shown - true <= true / 10 + 4 km/h."""
    strip = frame.select("shown", "strip", zero=0.0).unique("shown").sort("shown")
    return (
        alt.Chart(draw.data(strip))
        .mark_area(color="var(--strip)", stroke="var(--house)", strokeWidth=1.5, strokeDash=[3, 3])
        .encode(x=alt.X("shown:Q"), y=alt.Y("zero:Q"), y2=alt.Y2("strip:Q"))
    )


def _commercial_limit(display: Display, top: float) -> list[Any]:
    """The room 49 CFR 393.82 leaves: 8 km/h (5 mph) either way at 80 km/h (50 mph)."""
    at, room = (50.0, 5.0) if display.us else (_LIMIT_AT_KMH, _LIMIT_KMH)
    if at > top:
        return []
    frame = pl.DataFrame({"shown": [at], "low": [-room], "high": [room]})
    rule = alt.Chart(draw.data(frame)).mark_rule(strokeWidth=2.5, strokeDash=[2, 2])
    return [rule.encode(x=alt.X("shown:Q"), y=alt.Y("low:Q"), y2=alt.Y2("high:Q"))]
