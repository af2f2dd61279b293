"""Charts of the first question: what the needle and the computer really mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
from gearing.report import chart as draw
from gearing.report.phrases import interval_or_value
from gearing.report.tables import Grid
from gearing.report.views.speed import true_by_needle

if TYPE_CHECKING:
    from collections.abc import Callable

    from gearing.results.record import Results
    from gearing.statistics.estimate import Estimate

    TrueSpeed = Callable[[str, float], Estimate]  # of a period, at a speed shown

_US_SPEEDS, _METRIC_SPEEDS = range(20, 85, 5), range(30, 140, 10)
_POINTS = 10  # of straight lines
_LIMIT_AT_KMH, _LIMIT_KMH = 80.0, 8.0  # 49 CFR 393.82

_RULES = (
    " The outlined strip is where UN Regulation 39 wants a speedometer: never reading low, and not "
    "too high. The upright bar is the room 49 CFR 393.82 leaves at {at} {unit}."
)


def speed_charts(results: Results, display: Display) -> tuple[draw.Chart, ...]:
    """How far the true speed lies from the needle's, where it was read, and from the computer's.

    The rules speak of what the driver is shown: they are drawn over readings of the needle alone.
    """
    speed, unit = results.speed, display.speed(1.0)  # of a km/h
    shown = [row.indicated_kmh for row in speed.table]
    speeds = sorted(display.speed(kmh) for kmh in shown) or list(
        map(float, _US_SPEEDS if display.us else _METRIC_SPEEDS)
    )

    def read(side: str, shown: float) -> Estimate:
        """By the needle."""
        return true_by_needle(results, side, shown / unit).map(display.speed)

    def counted(side: str, shown: float) -> Estimate:
        """By the computer's count."""
        return speed.odometer_factor.of(side).map(lambda factor: factor * shown)

    found = (
        _chart("needle", "needle", read, speeds, display),
        _chart("speed", "computer", counted, speeds, display),
    )
    return tuple(chart for chart in found if chart is not None)


def _chart(
    key: str, by: str, true: TrueSpeed, speeds: list[float], display: Display
) -> draw.Chart | None:
    frame = _differences(true, speeds[:: len(speeds) // _POINTS + 1], display)
    if frame.is_empty():
        return None
    unit = display.speed_unit
    rules, layers = "", _lines(frame, by, display)
    if by == "needle":
        at = digits(display.speed(_LIMIT_AT_KMH), 0)
        rules = _RULES.format(at=at, unit=unit)
        layers = [_never_low(frame), *layers, *_commercial_limit(display, max(speeds))]
    told = [
        f"{display.on(side)}, {digits(display.round_speed, 0)} {unit} shown is "
        f"{digits(found.value, 1)} true"
        for side in draw.SIDES
        if (found := true(side, display.round_speed)).value is not None
    ]
    return draw.Chart(
        key=key,
        title=f"How far what the {by} says lies from the true speed",
        reading=(
            f"On the zero line the {by} tells the truth; below it you go faster than it says. The "
            f"shade around a line is its 95 % interval.{rules}"
        ),
        alt=f"Line chart: {'; '.join(told)}.",
        table=Grid(frame.to_dicts())
        .words(display.word("Tires"), lambda row: row["tires"])
        .figure(f"Shown [{unit}]", lambda row: row["shown"])
        .figure(f"True [{unit}]", lambda row: row["true"], 1)
        .figure(f"Difference [{unit}]", lambda row: row["value"], 1, sign=True)
        .table(f"Shown less true speed, by the {by}"),
        panels=(draw.panel(layers, f"Shown less true speed [{unit}]", 240),),
        sides=draw.sides_of(frame),
    )


def _lines(frame: pl.DataFrame, by: str, display: Display) -> list[draw.Spec]:
    unit = display.speed_unit
    axis = draw.across(f"Speed by the {by} [{unit}]")
    x = alt.X("shown:Q", axis=axis, scale=alt.Scale(zero=False, nice=False))
    y, color = draw.up("value:Q"), draw.colour()
    answer = draw.tips(
        ("tires:N", display.word("Tires")),
        ("shown:Q", f"By the {by} [{unit}]", ".0f"),
        ("true:Q", f"True [{unit}]", ".1f"),
    )
    shade = {"x": x, "y": alt.Y("low:Q"), "y2": alt.Y2("high:Q"), "color": color}
    line = {"x": x, "y": y, "color": color, "strokeDash": draw.dash()}
    return [
        draw.line_at(0.0, across=True),
        draw.mark("area", frame, {"opacity": 0.25}, **shade),
        draw.mark("line", frame, {"strokeWidth": 2.5}, **line),
        draw.dots(frame, x, y, answer, size=alt.SizeValue(55)),
    ]


def _differences(true: TrueSpeed, speeds: list[float], display: Display) -> pl.DataFrame:
    allowance = display.speed(4.0)
    found = [(side, shown, true(side, shown)) for side in draw.SIDES for shown in speeds]
    return pl.DataFrame(
        [
            {
                "side": side,
                "tires": display.tires(side),
                "shown": shown,
                "true": at.value,
                **{name: shown - end for name, end in interval_or_value(at).items()},
                # at the slowest true speed at which the needle may show this much
                "strip": shown - (shown - allowance) / 1.1,
            }
            for side, shown, at in found
            if at.known
        ]
    )


def _never_low(frame: pl.DataFrame) -> draw.Spec:
    """Where UN Regulation 39 wants a speedometer: 0 <= shown - true <= true / 10 + 4 km/h."""
    strip = frame.select("shown", "strip", zero=0.0).unique("shown").sort("shown")
    look = {"stroke": "var(--house)", "strokeWidth": 1.5, "strokeDash": [3, 3]}
    ends = {"y": alt.Y("zero:Q"), "y2": alt.Y2("strip:Q")}
    return draw.mark("area", strip, {"color": "var(--strip)"} | look, x=alt.X("shown:Q"), **ends)


def _commercial_limit(display: Display, top: float) -> list[draw.Spec]:
    """The room 49 CFR 393.82 leaves: 8 km/h (5 mph) either way at 80 km/h (50 mph)."""
    at, room = (50.0, 5.0) if display.us else (_LIMIT_AT_KMH, _LIMIT_KMH)
    if at > top:
        return []
    ends = [{"shown": at, "low": -room, "high": room}]
    y = {"y": alt.Y("low:Q"), "y2": alt.Y2("high:Q")}
    look = {"strokeWidth": 2.5, "strokeDash": [2, 2]}
    return [draw.mark("rule", ends, look, x=alt.X("shown:Q"), **y)]
