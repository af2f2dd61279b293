"""What every chart has: a title, how to read it, a text for those who cannot see it, a table.

Colours are the page's own CSS variables, so that one drawing serves light, dark and print.
The two periods differ by colour, by lightness, by dash and by marker: any one is enough.
Rows name their period in `side`, `before` or `after`; `tires` is what the reader calls it.
Marks are altair's; what lies on or below one another is put together here, since altair copies
all of it, rows too, with every step of that.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import altair as alt
import polars as pl
from altair.utils import schemapi

from gearing.analysis import sides as periods
from gearing.report.tables import Table

Spec = dict[str, Any]
SIDES: tuple[str, ...] = periods.SIDES

STILL_WIDTH = 660  # pixels; the width of the printed page's column
BESIDE = 70  # pixels that labels take beside a picture
MAX_ROWS = 2000

# the page's own (`--plain` of page.css)
FONT = 'Seravek, "Gill Sans Nova", Ubuntu, Calibri, "DejaVu Sans", source-sans-pro, sans-serif'
LOOKS = {"before": ("var(--before)", [6, 4]), "after": ("var(--after)", [1, 0])}

_INK, _MUTED, _LINE = "var(--ink)", "var(--muted)", "var(--line)"
_POINTER = "pointermove, pointerdown"
CLAIM: dict[str, Any] = {"strokeDash": [2, 3], "strokeWidth": 2.5, "color": _INK}


@dataclass(frozen=True, slots=True)
class Chart:
    """One figure of the page: one panel, or several one below another."""

    key: str
    title: str
    reading: str
    alt: str
    table: Table
    panels: tuple[Spec, ...]
    sides: tuple[str, ...] = ()  # those its rows show, for the key above it


def sides_of(frame: pl.DataFrame) -> tuple[str, ...]:
    """The periods among a chart's rows."""
    found = set(frame["side"])
    return tuple(side for side in SIDES if side in found)


def coded(domain: Sequence[str], values: Sequence[Any]) -> dict[str, Any]:
    """How a channel codes a kind: no legend, for the key stands on the page."""
    return {"legend": None, "scale": alt.Scale(domain=list(domain), range=list(values))}


def colour() -> alt.Color:
    """The two periods by colour."""
    return alt.Color("side:N", **coded(SIDES, [LOOKS[side][0] for side in SIDES]))


def dash() -> alt.StrokeDash:
    """The two periods by the dash of a line."""
    return alt.StrokeDash("side:N", **coded(SIDES, [LOOKS[side][1] for side in SIDES]))


def marker() -> alt.Shape:
    """The two periods by the shape of a mark."""
    return alt.Shape("side:N", **coded(SIDES, ["circle", "square"]))


def tips(*fields: tuple[str, ...]) -> list[alt.Tooltip]:
    """What a chart answers with: (field with its type, title[, format])."""
    return [
        alt.Tooltip(field, title=title, format=form[0] if form else alt.Undefined)
        for field, title, *form in fields
    ]


def rows(frame: pl.DataFrame) -> list[dict[str, Any]]:
    """A small frame as a chart's own rows; dates as text, non-finite numbers as null.

    Raises
    ------
    ValueError
        over `MAX_ROWS` rows.
    """
    if frame.height > MAX_ROWS:
        raise ValueError(f"{frame.height} rows in one chart: aggregate before drawing")
    floats = pl.selectors.float()
    return frame.with_columns(
        pl.when(floats.is_finite()).then(floats.round_sig_figs(5)).name.keep(),
        pl.selectors.temporal().cast(pl.String),
    ).to_dicts()


def mark(
    kind: Literal["area", "bar", "line", "point", "rect", "rule", "text"],
    frame: pl.DataFrame | Sequence[dict[str, Any]] | None,
    look: dict[str, Any],
    *,
    nearest: Any = None,
    **channels: Any,
) -> Spec:
    """One layer: a mark a row of `frame`, or of the panel's own rows without one.

    With `nearest`, names of channels, it answers for the point nearest to pointer or finger, along
    those channels alone where there are any.
    """
    drawn: Any = alt.Chart(mark=alt.MarkDef(type=kind, **look)).encode(**channels)
    spec: Spec = drawn.to_dict(validate=False)
    if schemapi.DEBUG_MODE:
        drawn.validate(spec | {"data": {"name": "rows"}})
    layer = {key: spec[key] for key in ("mark", "encoding")}
    if frame is not None:
        found = rows(frame) if isinstance(frame, pl.DataFrame) else list(frame)
        layer = {"data": {"values": found}, **layer}
    if nearest is not None:
        select = {"type": "point", "nearest": True, "on": _POINTER, "clear": False}
        if nearest:
            select["encodings"] = list(nearest)
        layer["params"] = [{"name": "near", "select": select}]
    return layer


def line_at(value: float, *, across: Any = False, **look: Any) -> Spec:
    """A rule through the whole picture: upright at x = `value`, or across at y."""
    at = {"y": alt.YDatum(value)} if across else {"x": alt.XDatum(value)}
    return mark("rule", [{}], look, **at)


def intervals(
    frame: pl.DataFrame,
    axis: alt.Axis,
    y: alt.Y,
    answer: list[alt.Tooltip],
    *,
    bar: dict[str, Any],
    dot: dict[str, Any],
    scale: Any = alt.Undefined,
    **channels: Any,
) -> list[Spec]:
    """A bar from `low` to `high` a row, and on it a mark at `value` that answers."""
    x = alt.X("value:Q", axis=axis, scale=scale)
    low, high = alt.X("low:Q", axis=axis, scale=scale), alt.X2("high:Q")
    of_bar = {name: one for name, one in channels.items() if name != "shape"}
    of_dot = {name: one for name, one in channels.items() if name != "strokeWidth"}
    look = {"opacity": 1} | dot
    return [
        mark("rule", frame, bar, x=low, x2=high, y=y, **of_bar),
        mark("point", frame, look, nearest=["y"], x=x, y=y, tooltip=answer, **of_dot),
    ]


def dots(
    frame: pl.DataFrame,
    x: alt.X,
    y: alt.Y,
    answer: list[alt.Tooltip],
    nearest: Sequence[Literal["x", "y"]] = (),
    *,
    size: Any = None,
    **look: Any,
) -> Spec:
    """A mark a row, by its period, that answers to what points near it."""
    look = {"strokeWidth": 2, "fill": "var(--sheet)", "opacity": 1} | look
    channels = {"color": colour(), "shape": marker(), "size": size or alt.SizeValue(60)}
    return mark("point", frame, look, nearest=nearest, x=x, y=y, tooltip=answer, **channels)


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
    """The day of a mark, as an answer."""
    return ("day:T", "Day", "%b %-d, %Y")


def up(field: str, *, zero: bool = True, **options: Any) -> alt.Y:
    """The vertical channel; its title stands over the picture."""
    axis = alt.Axis(title=None, **({"tickCount": 5} | options))
    return alt.Y(field, axis=axis, scale=alt.Scale(zero=zero))


def names(field: str = "name:N", *, width: int = 130, sort: Any = None, **options: Any) -> alt.Y:
    """Names down the side, in the order of the rows."""
    look: dict[str, Any] = {"grid": False, "ticks": False, "labelColor": _INK}
    look |= {"labelLimit": width} | options
    return alt.Y(field, sort=sort, axis=alt.Axis(title=None, **look))


def _title(text: str) -> Spec:
    return {"text": text, "anchor": "start", "frame": "bounds"}


def panel(layers: Iterable[Spec], title: str, height: int) -> Spec:
    """The specification of a panel; its title stands for the vertical axis's."""
    return {
        "layer": list(layers),
        "width": "container",
        "height": height,
        "title": _title(title),
        "autosize": {"type": "fit-x", "contains": "padding"},
        "config": CONFIG,
    }


def stacked(
    frame: pl.DataFrame,
    field: str,
    panels: list[tuple[list[Spec], str, int]],
    answer: list[alt.Tooltip],
) -> Spec:
    """Panels (layers, title, height) of the same rows, one below another; pointed at anywhere,
    all show a rule at the row nearest along `field`, and `answer` tells of it."""
    parts = []
    for index, (layers, title, height) in enumerate(panels):
        place = {key: layers[0]["encoding"][key] for key in ("x", "y")}
        rule = mark("rule", None, {"color": _INK, "strokeWidth": 1})
        rule["encoding"] = {"x": place["x"]}
        rule["transform"] = [{"filter": {"param": "at", "empty": False}}]
        # the page's script gives the others the first panel's answer again
        caught = mark("point", None, {"opacity": 0}, **({} if index else {"tooltip": answer}))
        caught |= {"name": f"panel_{index}", "encoding": place | caught["encoding"]}
        layer = [*layers, rule, caught]
        parts.append({"layer": layer, "height": height, "title": _title(title)})
    pick = {"type": "point", "fields": [field], "nearest": True, "on": _POINTER}
    views = [f"panel_{index}" for index in range(len(parts))]
    return {
        "data": {"values": rows(frame)},
        "vconcat": parts,
        "spacing": 6,
        "resolve": {"scale": {"x": "shared"}},
        "params": [{"name": "at", "select": pick, "views": views}],
        "config": CONFIG,
    }


CONFIG: Spec = {
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
    "axisX": {"grid": False},
    "axisY": {"minExtent": 44},  # stacked panels stand in line
    "text": {"color": _INK, "fontSize": 12},
    "rule": {"color": _MUTED},
}


def start_drawing() -> None:
    """Have the drawing engine ready: the first still picture takes several times the others, and
    the next ones half as long again until it has compiled what it draws with."""
    days, y = [{"day": f"2026-01-{day:02}", "off": float(day)} for day in range(1, 29)], up("off:Q")
    kinds: tuple[Literal["area", "line", "point"], ...] = ("area", "line", "point")
    for _ in range(8):
        layers = [mark(kind, days, {}, x=calendar(), y=y) for kind in kinds]
        still(panel(layers, "", 240), "first")


# what draws nothing or is what it would be anyway
_NEEDLESS = "|".join(
    (
        *(f'{name}="[^"]*"' for name in ("font-family", "class", "role", "aria-[a-z]+")),
        *('opacity="1"', 'pointer-events="none"', 'stroke-width="1"', 'font-size="12px"'),
        'transform="translate\\(0,0\\)"',
    )
)


def still(spec: Spec, key: str) -> str:
    """A panel as a still picture (SVG), for print and for readers without script.

    `key` sets its ids apart from those of the page's other pictures.
    """
    import vl_convert

    spec = _unpointed(spec)
    spec.pop("autosize", None)  # to fit the labels in, each would be laid out twice
    for part in spec.get("vconcat", (spec,)):
        part["width"] = STILL_WIDTH - BESIDE
    return _lean(str(vl_convert.vegalite_to_svg(spec)), key)


def _coarse(found: re.Match[str]) -> str:
    """A coordinate as fine as it can be seen: the curves of a mark are small numbers."""
    value = float(found[0])
    return f"{value:.0f}" if abs(value) >= 20 else f"{value:.1f}".removesuffix(".0")


def _unpointed(part: Any) -> Any:
    """A specification without what only answers to a pointer; rows are taken as they are."""
    if isinstance(part, dict):
        return {
            key: value if key == "data" else _unpointed(value)
            for key, value in part.items()
            if key != "params"
        }
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
    svg = re.sub(r"<[^>]+>", lambda tag: re.sub(r"-?\d+\.\d+", _coarse, tag[0]), svg)
    svg = re.sub(f" (?:{_NEEDLESS})", "", svg)
    svg = re.sub(r'<path d="(?:M0,0h0v0h0Z|)"[^>]*/>|<path d="M0,0h\d+v\d+h-\d+Z"/>', "", svg)
    svg = re.sub(r'(<line\b[^>]*?) [xy]2="0"', r"\1", svg)  # what a line takes without being told
    svg = _ungrouped(re.sub(r' (?:xmlns:xlink|version)="[^"]*"|<g></g>', "", svg))
    size = re.search(r'width="([\d.]+)" height="([\d.]+)"', svg)
    return svg if size is None else svg.replace(size[0], 'aria-hidden="true"', 1)


def _ungrouped(svg: str) -> str:
    """The picture without groups that say nothing of what is in them."""
    bare: list[bool] = []

    def tag(found: re.Match[str]) -> str:
        """A group's tag, empty where the group goes."""
        if found[0] == "</g>":
            return "" if bare.pop() else found[0]
        bare.append(found[0] == "<g>")
        return "" if bare[-1] else found[0]

    return re.sub(r"</g>|<g\b[^>]*(?<!/)>", tag, svg)
