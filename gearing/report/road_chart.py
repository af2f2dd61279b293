"""The chart of roads driven on both sets of tires: what each stretch took, before and after."""

from __future__ import annotations

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
from gearing.report.chart import Chart, across, data, finish
from gearing.report.tables import table
from gearing.units import MPG_L_PER_100KM

_DRAWN = 400
_HARDLY = 0.3  # of the median consumption
_MIN_M = 300.0


def road_chart(segments: pl.DataFrame | None, display: Display) -> Chart | None:
    """Before against after, a mark a stretch of road; on the diagonal nothing changed."""
    frame = _stretches(segments, display)
    if frame.height < 3:
        return None
    unit = display.fuel_unit
    bounds = [
        float(frame.select(pl.min_horizontal("before", "after").min()).item()),
        float(frame.select(pl.max_horizontal("before", "after").max()).item()),
    ]
    scale = alt.Scale(domain=bounds, zero=False, nice=True)
    marks = (
        alt.Chart(data(frame))
        .mark_point(filled=True, opacity=0.55, size=45, color="var(--after)")
        .encode(
            x=alt.X("before:Q", scale=scale, axis=across(f"Old tires [{unit}]")),
            y=alt.Y("after:Q", scale=scale, axis=alt.Axis(title=None, tickCount=5)),
            tooltip=[
                alt.Tooltip("before:Q", title=f"Old tires [{unit}]", format=".1f"),
                alt.Tooltip("after:Q", title=f"New tires [{unit}]", format=".1f"),
                alt.Tooltip(
                    "length:Q", title=f"Driven there [{display.distance_unit}]", format=".1f"
                ),
            ],
        )
    )
    diagonal = (
        alt.Chart(data(pl.DataFrame({"before": bounds, "after": bounds})))
        .mark_line(color="var(--muted)", strokeDash=[5, 3], strokeWidth=1.5)
        .encode(x=alt.X("before:Q"), y=alt.Y("after:Q"))
    )
    better = frame.filter(
        pl.col("after") > pl.col("before") if display.us else pl.col("after") < pl.col("before")
    ).height
    side = "Above" if display.us else "Below"
    return Chart(
        key="roads",
        title="The same roads on both sets of tires",
        reading=(
            f"Each mark is one stretch of road driven in the same direction on both sets. {side} "
            "the dashed line the new tires took less fuel there. A cloud along the line means no "
            "change to speak of; weather and speed are still in these figures. Stretches "
            "where hardly any fuel burns, such as descents, are not drawn."
        ),
        alt=f"Dot chart of {frame.height} stretches; on {better} of them the new tires took less.",
        table=table(
            f"Stretches of road, {display.fuel_word} [{unit}]",
            (f"Driven there [{display.distance_unit}]", "Old tires", "New tires"),
            [
                (digits(r["length"], 1), digits(r["before"], 1), digits(r["after"], 1))
                for r in frame.to_dicts()
            ],
            words=0,
            limit=60,
        ),
        panels=(finish(alt.layer(diagonal, marks), f"New tires [{unit}]", 320),),
        sides=False,
    )


def _stretches(segments: pl.DataFrame | None, display: Display) -> pl.DataFrame:
    """Stretches driven on both sets of tires, in the reader's units."""
    needed = {"segment", "side", "distance_m", "liters_per_100km"}
    if segments is None or not needed <= set(segments.columns):
        return pl.DataFrame()
    rate = pl.col("liters_per_100km")
    # where hardly any fuel burns, a ratio of two nothings would stretch the picture
    burning = segments.filter((rate > _HARDLY * rate.median()) & (pl.col("distance_m") >= _MIN_M))
    before, after = (burning.filter(pl.col("side") == side) for side in ("before", "after"))
    known = before.join(after, on="segment", suffix="_after").sort("segment")
    if known.height > _DRAWN:  # evenly through the list, so that no road is favoured
        known = known.gather_every(known.height // _DRAWN + 1)

    def fuel(column: str) -> pl.Expr:
        return MPG_L_PER_100KM / pl.col(column) if display.us else pl.col(column)

    driven = pl.col("distance_m") + pl.col("distance_m_after")
    return known.select(
        before=fuel("liters_per_100km"),
        after=fuel("liters_per_100km_after"),
        length=driven / 1000 * display.distance(1.0),
    )
