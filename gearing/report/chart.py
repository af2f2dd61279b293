"""What every chart has: a title, how to read it, a text for those who cannot see it, a table.

Colours are the page's own CSS variables, so that one drawing serves light, dark and print.
The two periods differ by colour, by lightness, by dash and by marker: any one is enough.
Rows name their period in `side`, `before` or `after`; `tires` is what the reader calls it.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Any, Literal

import altair as alt
import polars as pl
from altair.utils import schemapi

from gearing.report.reading import SIDES
from gearing.report.tables import Table

Spec = dict[str, Any]

STILL_WIDTH = 660  # pixels; the width of the printed page's column
BESIDE = 70  # pixels that labels take beside a stacked picture, whose panels get their own widths

# the commonest metrics there are, so that what was measured here fits on other machines
FONT = 'Arial, Helvetica, "Liberation Sans", sans-serif'

_INK, _MUTED, _LINE = "var(--ink)", "var(--muted)", "var(--line)"


@dataclass(frozen=True, slots=True)
class Chart:
    """One figure of the page: one panel, or several one below another."""

    key: str
    title: str
    reading: str
    alt: str
    table: Table
    panels: tuple[Spec, ...]
    sides: bool | tuple[str, ...] = True  # whether a key to the periods stands above it

    @property
    def shown_sides(self) -> tuple[str, ...]:
        """The sides its rows show, for the key above it."""
        if isinstance(self.sides, tuple):
            return self.sides
        drawn = json.dumps(self.panels) if self.sides else ""
        return tuple(side for side in SIDES if f'\\"side\\": \\"{side}\\"' in drawn)


def _scale(*values: Any) -> dict[str, Any]:
    return {"legend": None, "scale": alt.Scale(domain=list(SIDES), range=list(values))}


def colour() -> alt.Color:
    """The two periods by colour; the key stands on the page, once for all panels."""
    return alt.Color("side:N", **_scale("var(--before)", "var(--after)"))


def dash() -> alt.StrokeDash:
    return alt.StrokeDash("side:N", **_scale([6, 4], [1, 0]))


def marker() -> alt.Shape:
    return alt.Shape("side:N", **_scale("circle", "square"))


def tips(*fields: tuple[str, ...]) -> list[alt.Tooltip]:
    """What a chart answers with: (field with its type, title[, format])."""
    return [
        alt.Tooltip(field, title=title, format=form[0] if form else alt.Undefined)
        for field, title, *form in fields
    ]


def nearest(*channels: Literal["x", "y"]) -> alt.Parameter:
    """Have a layer of marks answer for the point nearest to pointer or finger."""
    return alt.selection_point(
        nearest=True,
        on="pointermove, pointerdown",
        empty=False,
        clear=False,
        encodings=list(channels) or alt.Undefined,
    )


def data(frame: pl.DataFrame) -> alt.Data:
    """A small frame as the chart's own rows; dates as text, non-finite numbers as null."""
    if frame.height > 2000:
        raise ValueError(f"{frame.height} rows in one chart: aggregate before drawing")
    floats = pl.selectors.float()
    frame = frame.with_columns(
        pl.when(floats.is_finite()).then(floats.round_sig_figs(5)).name.keep(),
        pl.selectors.temporal().cast(pl.String),
    )
    # as text, which the charts' library does not copy cell by cell with every layer
    text = json.dumps(frame.to_dicts(), ensure_ascii=False)
    form = alt.JsonDataFormat(type="json")
    return alt.Data(values=text, format=form)  # type: ignore[no-untyped-call]


def line_at(value: float, *, across: bool = False, **look: Any) -> alt.Chart:
    """A rule through the whole picture: upright at x = `value`, or across at y."""
    at = alt.datum(value)
    rule = alt.Chart(alt.Data(values=({},))).mark_rule(**look)  # type: ignore[no-untyped-call]
    drawn: alt.Chart = rule.encode(y=at) if across else rule.encode(x=at)
    return drawn


def claim_at(value: float, *, across: bool = False) -> alt.Chart:
    """The claim's dotted line."""
    look = {"strokeDash": [2, 3], "strokeWidth": 2.5, "color": _INK}
    return line_at(value, across=across, **look)


def dots(
    frame: pl.DataFrame,
    x: alt.X,
    y: alt.Y,
    answer: list[alt.Tooltip],
    *channels: Literal["x", "y"],
    size: Any = None,
) -> alt.Chart:
    """A mark a row, by its period, that answers to what points near it."""
    marks: alt.Chart = (
        alt.Chart(data(frame))
        .mark_point(strokeWidth=2, fill="var(--sheet)", opacity=1)
        .encode(
            x=x, y=y, color=colour(), shape=marker(), size=size or alt.value(60), tooltip=answer
        )
        .add_params(nearest(*channels))
    )
    return marks


def across(title: str | None, **options: Any) -> alt.Axis:
    """The horizontal axis."""
    look: dict[str, Any] = {"titleFontWeight": "normal", "tickCount": 6} | options
    return alt.Axis(title=title, **look)


def calendar(**options: Any) -> alt.X:
    """Days as the horizontal channel; a date within its own width of the end stays inside."""
    axis = across(
        None,
        format="%b %-d, %Y",
        labelFlush=50,
        labelOverlap="greedy",
        labelSeparation=16,
        **options,
    )
    return alt.X("day:T", axis=axis, scale=alt.Scale(type="utc"))


def day_tip() -> tuple[str, str, str]:
    return ("day:T", "Day", "%b %-d, %Y")


def up(field: str, *, zero: bool = True, **options: Any) -> alt.Y:
    """The vertical channel; its title stands over the picture."""
    axis = alt.Axis(title=None, **({"tickCount": 5} | options))
    return alt.Y(field, axis=axis, scale=alt.Scale(zero=zero))


def names(field: str = "name:N", *, width: int = 130, sort: Any = None) -> alt.Y:
    """Names down the side, in the order of the rows."""
    axis = alt.Axis(title=None, grid=False, ticks=False, labelColor=_INK, labelLimit=width)
    return alt.Y(field, sort=sort, axis=axis)


def finish(layers: Any, title: str, height: int) -> Spec:
    """The specification of a panel; its title stands for the vertical axis's."""
    return _dressed(
        layers.properties(
            width="container",
            height=height,
            title=alt.Title(title, anchor="start", frame="bounds"),
            autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
        )
    )


def stacked(
    rows: alt.Data,
    field: str,
    panels: list[tuple[list[alt.Chart], str, int]],
    answer: list[alt.Tooltip],
) -> Spec:
    """Panels (layers, title, height) of the same rows, one below another; pointed at anywhere,
    all show a rule at the row nearest along `field`, and `answer` tells of it."""
    parts = []
    for layers, title, height in panels:
        x = layers[0].encoding.x
        rule = (
            alt.Chart()
            .mark_rule(color=_INK, strokeWidth=1)
            .encode(x=x)
            .transform_filter({"param": "at", "empty": False})
        )
        caught = alt.Chart().mark_point(opacity=0).encode(x=x, y=layers[0].encoding.y)
        parts.append(
            alt.layer(*layers, rule, caught.encode(tooltip=answer)).properties(
                height=height, title=alt.Title(title, anchor="start", frame="bounds")
            )
        )
    spec = _dressed(alt.vconcat(*parts, data=rows, spacing=6).resolve_scale(x="shared"))
    # one selection for all panels, which the library would make anew for each
    for index, part in enumerate(spec["vconcat"]):
        part["layer"][-1]["name"] = f"panel_{index}"
        if index:  # the page's script gives them the first panel's again
            del part["layer"][-1]["encoding"]["tooltip"]
    pick = {"type": "point", "fields": [field], "nearest": True, "on": "pointermove, pointerdown"}
    spec["params"] = [
        {"name": "at", "select": pick, "views": [f"panel_{i}" for i in range(len(parts))]}
    ]
    return spec


_CONFIG: Spec = {
    "font": FONT,
    "background": "transparent",
    "aria": False,
    "padding": 6,
    "view": {"stroke": None},
    "title": {"color": _MUTED, "fontSize": 13, "fontWeight": "normal", "offset": 8},
    "axis": {
        "labelColor": _MUTED,
        "titleColor": _MUTED,
        "gridColor": _LINE,
        "domainColor": _LINE,
        "tickColor": _LINE,
        "labelFontSize": 12,
        "titleFontSize": 13,
        "titleFontWeight": "normal",
    },
    "axisY": {"minExtent": 44},  # stacked panels stand in line
    "text": {"color": _INK, "fontSize": 12},
    "rule": {"color": _MUTED},
}


def _dressed(chart: Any) -> Spec:
    # put on the finished specification: each `configure` would copy the whole chart
    spec: Spec = chart.to_dict(validate=schemapi.DEBUG_MODE)
    return spec | {"config": _CONFIG}


def start_drawing() -> None:
    """Have the drawing engine ready: the first still picture takes several times the others."""
    import vl_convert

    vl_convert.vegalite_to_svg({"data": {"values": []}, "mark": "point", "config": _CONFIG})


# what draws nothing or is what it would be anyway
_NEEDLESS = "|".join(
    (
        *(f'{name}="[^"]*"' for name in ("font-family", "class", "role", "aria-[a-z]+")),
        *('opacity="1"', 'pointer-events="none"', 'stroke-width="1"', 'font-size="12px"'),
        'transform="translate\\(0,0\\)"',
    )
)


def still(spec: Spec, key: str) -> str:
    """A panel as a still picture (SVG), for print and for readers without script."""
    import vl_convert

    spec = _unpointed(spec)
    for part in spec.get("vconcat", ()):
        part["width"] = STILL_WIDTH - BESIDE
    if "vconcat" not in spec:
        spec["width"] = STILL_WIDTH
    return _lean(str(vl_convert.vegalite_to_svg(spec)), key)


def _coarse(found: re.Match[str]) -> str:
    """A coordinate as fine as it can be seen: the curves of a mark are small numbers."""
    value = float(found[0])
    return f"{value:.0f}" if abs(value) >= 20 else f"{value:.1f}".removesuffix(".0")


def _unpointed(part: Any) -> Any:
    """A specification without what only answers to a pointer."""
    if isinstance(part, dict):
        return {key: _unpointed(value) for key, value in part.items() if key != "params"}
    if isinstance(part, list):
        return [_unpointed(one) for one in part if not _only_caught(one)]
    return part


def _only_caught(part: Any) -> bool:
    mark = part.get("mark") if isinstance(part, dict) else None
    unseen = isinstance(mark, dict) and mark.get("opacity") == 0
    return unseen or (isinstance(part, dict) and "param" in str(part.get("transform")))


def _lean(svg: str, key: str) -> str:
    """The picture with ids of its own, coordinates to a tenth, and nothing that draws nothing."""
    # ids are page-wide: keep those of one picture apart from those of the next
    svg = re.sub(r'(\bid="|url\(#)', rf"\g<1>{key}-", svg)
    svg = re.sub(r"-?\d+\.\d+", _coarse, svg)
    svg = re.sub(f" (?:{_NEEDLESS})", "", svg)
    svg = re.sub(r'<path d="(?:M0,0h0v0h0Z|)"[^>]*/>|<path d="M0,0h\d+v\d+h-\d+Z"/>', "", svg)
    svg = re.sub(r' (?:xmlns:xlink|version)="[^"]*"|<g></g>', "", svg)
    size = re.search(r'width="([\d.]+)" height="([\d.]+)"', svg)
    return svg if size is None else svg.replace(size[0], 'aria-hidden="true"', 1)
