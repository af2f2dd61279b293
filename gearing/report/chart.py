"""What every chart has: a title, how to read it, a text for those who cannot see it, a table.

Colours are the page's own CSS variables, so that one drawing serves light, dark and print.
The two periods differ by colour, by lightness, by dash and by marker: any one is enough.
"""

from __future__ import annotations

import functools
import json
from dataclasses import dataclass
from typing import Any

import altair as alt
import polars as pl
from altair.utils import schemapi

from gearing.report.tables import Table

Spec = dict[str, Any]

OLD, NEW = "old tires", "new tires"
SIDES = {"before": OLD, "after": NEW}
STILL_WIDTH = 660  # pixels; the width of the printed page's column

# the commonest metrics there are, so that what was measured here fits on other machines
FONT = 'Arial, Helvetica, "Liberation Sans", sans-serif'

_INK, _MUTED, _LINE = "var(--ink)", "var(--muted)", "var(--line)"


@dataclass(frozen=True, slots=True)
class Chart:
    """One figure of the page: one panel, or several that share their horizontal axis."""

    key: str
    title: str
    reading: str
    alt: str
    table: Table
    panels: tuple[Spec, ...]
    sides: bool = True  # a key to old and new tires stands above it

    @property
    def shown_sides(self) -> tuple[str, ...]:
        """The sides its rows show, for the key above it."""
        drawn = json.dumps(self.panels) if self.sides else ""
        return tuple(side for side, tires in SIDES.items() if f'"tires": "{tires}"' in drawn)


def colour() -> alt.Color:
    """The two periods by colour; the key stands on the page, once for all panels."""
    return alt.Color(
        "tires:N",
        legend=None,
        sort=None,
        scale=alt.Scale(domain=[OLD, NEW], range=["var(--before)", "var(--after)"]),
    )


def dash() -> alt.StrokeDash:
    return alt.StrokeDash(
        "tires:N",
        legend=None,
        sort=None,
        scale=alt.Scale(domain=[OLD, NEW], range=[[6, 4], [1, 0]]),
    )


def marker() -> alt.Shape:
    return alt.Shape(
        "tires:N",
        legend=None,
        sort=None,
        scale=alt.Scale(domain=[OLD, NEW], range=["circle", "square"]),
    )


def data(frame: pl.DataFrame) -> alt.Data:
    """A small frame as the chart's own rows; dates as text, non-finite numbers as null."""
    if frame.height > 2000:
        raise ValueError(f"{frame.height} rows in one chart: aggregate before drawing")
    floats = pl.selectors.float()
    frame = frame.with_columns(
        pl.when(floats.is_finite()).then(floats.round_sig_figs(6)).name.keep(),
        pl.selectors.temporal().cast(pl.String),
    )
    return alt.Data(values=tuple(frame.to_dicts()))  # type: ignore[no-untyped-call]


def across(title: str | None, **options: Any) -> alt.Axis:
    """The horizontal axis."""
    return alt.Axis(title=title, titleFontWeight="normal", tickCount=6, **options)


def calendar() -> alt.Axis:
    """The horizontal axis of days; a date within its own width of the end stays inside."""
    return across("Day", format="%b %-d, %Y", labelFlush=50)


def finish(layers: Any, title: str, height: int) -> Spec:
    """The specification of a panel; its title stands for the vertical axis's."""
    spec: Spec = layers.properties(
        width="container",
        height=height,
        title=alt.Title(title, anchor="start", frame="bounds"),
        autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
    ).to_dict(validate=schemapi.DEBUG_MODE)
    # each step of a look given to a chart itself copies the chart
    return {**spec, "config": _look()}


@functools.cache
def _look() -> Spec:
    """What all panels look like."""
    bare = alt.Chart(alt.Data(values=())).mark_point()  # type: ignore[no-untyped-call]
    look: Spec = (
        bare.configure(font=FONT, background="transparent", aria=False, padding=6)
        .configure_view(stroke=None)
        .configure_title(color=_MUTED, fontSize=13, fontWeight="normal", offset=8)
        .configure_axis(
            labelColor=_MUTED,
            titleColor=_MUTED,
            gridColor=_LINE,
            domainColor=_LINE,
            tickColor=_LINE,
            labelFontSize=12,
            titleFontSize=13,
            titleFontWeight="normal",
        )
        .configure_axisY(minExtent=44)  # stacked panels stand in line
        .configure_text(color=_INK, fontSize=12)
        .configure_rule(color=_MUTED)
        .to_dict(validate=schemapi.DEBUG_MODE)["config"]
    )
    return look


def start_drawing() -> None:
    """Have the drawing engine ready: the first still picture takes several times the others."""
    import vl_convert

    vl_convert.vegalite_to_svg({"data": {"values": []}, "mark": "point", "config": _look()})


def still(spec: Spec, key: str) -> str:
    """A panel as a still picture (SVG), for print and for readers without script."""
    import re

    import vl_convert

    svg = str(vl_convert.vegalite_to_svg({**spec, "width": STILL_WIDTH}))
    # ids are page-wide: keep those of one picture apart from those of the next
    svg = re.sub(r'(\bid="|url\(#)', rf"\g<1>{key}-", svg)
    size = re.search(r'width="([\d.]+)" height="([\d.]+)"', svg)
    if size is not None:
        svg = svg.replace(size[0], 'aria-hidden="true"', 1)
    return svg
