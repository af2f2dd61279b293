"""NMEA 0183: GGA, RMC and VTG sentences with their checksums, as samples of the receiver.

Field order from NMEA 0183 as commonly published (from memory): GGA time, latitude, N/S,
longitude, E/W, quality, satellites, HDOP, altitude [m]; RMC time, status, latitude, N/S,
longitude, E/W, speed [kn], course [deg], date ddmmyy; VTG course, T, magnetic course, M,
speed [kn], N, speed [km/h], K. The checksum is the exclusive or of all bytes between $ and *.
"""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import polars as pl

from gearing.logs.column_rule import find_rule, rule_line
from gearing.logs.fixes import read_fixes
from gearing.logs.ledger import Lines, answer
from gearing.logs.order import DAY
from gearing.logs.samples import Context, Part
from gearing.logs.timestamps.dates import find_start, parse_time_rule
from gearing.messages import message
from gearing.units import convert

_SENTENCE = r"\$([A-Z]{2})(GGA|RMC|VTG),([^*$]*)\*([0-9A-Fa-f]{2})\s*$"
_CHANNELS = {
    "latitude_deg": "GGA, RMC latitude",
    "longitude_deg": "GGA, RMC longitude",
    "altitude_m": "GGA altitude",
    "gps_speed_mps": "RMC, VTG speed over ground",
    "gps_course_deg": "RMC, VTG course over ground",
    "hdop": "GGA HDOP",
}


def is_nmea(data: bytes) -> bool:
    """Most of the first lines carry a sentence of a satellite receiver."""
    head = [line for line in data[:8192].split(b"\n")[:50] if line.strip()]
    sentences = sum(b"$G" in line or b"$B" in line for line in head)
    return bool(head) and sentences * 2 > len(head)


def read_nmea(data: bytes, context: Context) -> Part:
    """One sample an epoch, of all sentences that carry its time."""
    text = pl.Series("text", data.decode("utf-8", errors="replace").split("\n"))
    numbers = np.arange(1, len(text) + 1)
    filled = (text.str.strip_chars() != "").to_numpy()
    text, lines = text.filter(pl.Series(filled)), numbers[filled]
    rows = len(text)
    fixes = _with_fix(_fixes(*_whole(text, lines, context)), context)
    epochs = _epochs(fixes)
    us = _moments(epochs, context) if epochs.height else None
    if us is None:
        context.ledger.set_aside_rows(message("time-unknown"), fixes["line"].to_numpy())
        epochs, us = epochs.clear(), pl.Series([], dtype=pl.Int64)
    return read_fixes(
        epochs.with_columns(us.alias("us")),
        rows,
        context,
        _CHANNELS,
        kind="NMEA 0183",
        speed_unit="kn",
        time_form=(message("time-form/of-fix"),),
    )


def _whole(text: pl.Series, lines: Lines, context: Context) -> tuple[pl.Series, Lines]:
    """Sentences that are wanted and whole; the others go to the ledger."""
    ledger = context.ledger
    wanted = text.str.contains(r"\$[A-Z]{2}(?:GGA|RMC|VTG),").to_numpy()
    sentence = text.str.contains(r"\$[A-Z]{2,5}[A-Z0-9]*,").to_numpy()
    checked = text.str.contains(_SENTENCE).to_numpy()
    bare = text.str.contains(r"\$[A-Z]{2}(?:GGA|RMC|VTG),[^*$]*$").to_numpy()
    right = np.zeros(len(text), np.bool_)
    index = np.flatnonzero(checked)
    right[index] = _checksum_fits(text.gather(index))
    for told, mask in (
        (message("other-sentence"), sentence & ~wanted),
        (message("damaged-sentence"), ~sentence | (wanted & ~checked & ~bare)),
        (message("no-checksum"), wanted & bare & ~checked),
        (message("bad-checksum"), checked & ~right),
    ):
        if mask.any():
            ledger.set_aside_rows(told, lines[mask], text.filter(pl.Series(mask)).item(0))
    keep = checked & right
    return text.filter(pl.Series(keep)), lines[keep]


def _checksum_fits(text: pl.Series) -> np.ndarray:
    if len(text) == 0:
        return np.zeros(0, np.bool_)
    body = text.str.extract(r"\$([^*$]*)\*[0-9A-Fa-f]{2}\s*$")
    given = text.str.extract(r"\*([0-9A-Fa-f]{2})\s*$").str.to_integer(base=16).to_numpy()
    lengths = body.str.len_bytes().to_numpy().astype(np.int64)
    joined = np.frombuffer("".join(body.to_list()).encode(), np.uint8)
    starts = np.concatenate(([0], np.cumsum(lengths)[:-1]))
    got = np.bitwise_xor.reduceat(joined, starts)
    return np.asarray(got == given)


def _fixes(text: pl.Series, lines: Lines) -> pl.DataFrame:
    """One row a sentence: kind, time of day, date and the receiver's values as numbers."""
    frame = text.to_frame("text").select(
        pl.col("text").str.extract(_SENTENCE, 2).alias("kind"),
        pl.col("text").str.extract(_SENTENCE, 3).str.split(",").alias("f"),
    )

    def field(gga: int | None, rmc: int | None, vtg: int | None = None) -> pl.Expr:
        """A field as text, by its place in each kind of sentence that has it."""
        out = pl.lit(None, pl.String)
        for name, index in (("GGA", gga), ("RMC", rmc), ("VTG", vtg)):
            if index is not None:
                value = pl.col("f").list.get(index, null_on_oob=True)
                out = pl.when(pl.col("kind") == name).then(value).otherwise(out)
        return out

    def number(text_expr: pl.Expr) -> pl.Expr:
        return text_expr.cast(pl.Float64, strict=False)

    def angle(value: pl.Expr, side: pl.Expr) -> pl.Expr:
        raw = number(value)
        degrees = (raw / 100).floor()
        minutes = raw - degrees * 100
        sign = pl.when(side.is_in(["S", "W"])).then(-1.0).when(side.is_in(["N", "E"])).then(1.0)
        return pl.when(minutes < 60).then((degrees + minutes / 60) * sign)

    clock = field(0, 0)
    second = number(clock.str.slice(4))
    hour, minute = (clock.str.slice(i, 2).cast(pl.Int64, strict=False) for i in (0, 2))
    tod = pl.when((hour < 24) & (minute < 60) & (second < 61)).then(
        hour * 3_600_000_000 + minute * 60_000_000 + (second * 1e6).round(0).cast(pl.Int64)
    )
    return frame.select(
        pl.Series("line", lines, dtype=pl.UInt32),
        pl.col("kind"),
        tod.alias("tod"),
        field(None, 8).alias("date"),
        angle(field(1, 2), field(2, 3)).alias("latitude_deg"),
        angle(field(3, 4), field(4, 5)).alias("longitude_deg"),
        number(field(8, None)).alias("altitude_m"),
        convert(number(field(None, 6, 4)), "kn", "m/s").alias("gps_speed_mps"),
        number(field(None, 7, 0)).alias("gps_course_deg"),
        number(field(7, None)).alias("hdop"),
        field(5, 1).alias("fix"),
    )


def _with_fix(fixes: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Only sentences with a fix, a value and, but for VTG, a time; VTG takes the time before it."""
    ledger, kind, fix = context.ledger, pl.col("kind"), pl.col("fix")
    none = ((kind == "GGA") & fix.fill_null("0").is_in(["0", ""])) | (
        (kind == "RMC") & (fix != "A").fill_null(True)
    )
    fixes = ledger.without(fixes, none, message("no-fix"))
    fixes = fixes.with_columns(
        pl.when(kind == "VTG").then(pl.col("tod").forward_fill()).otherwise(pl.col("tod"))
    )
    fixes = ledger.without(fixes, pl.col("tod").is_null(), message("no-time"))
    return ledger.without(fixes, pl.all_horizontal(pl.col(*_CHANNELS).is_null()))


def _epochs(fixes: pl.DataFrame) -> pl.DataFrame:
    """Sentences of one time put together: the first value of each channel."""
    names = list(_CHANNELS)
    return (
        fixes.with_columns(pl.col("tod").rle_id().alias("epoch"))
        .group_by("epoch", maintain_order=True)
        .agg(
            pl.col("tod").first(),
            pl.col("line").first(),
            pl.len().alias("sentences"),
            pl.col("date").drop_nulls().first(),
            *(pl.col(n).drop_nulls().first() for n in names),
        )
    )


def _moments(epochs: pl.DataFrame, context: Context) -> pl.Series | None:
    """Microseconds UTC of each epoch, by the dates RMC gives, else by the study or the file's
    name."""
    tod = epochs["tod"]
    passed = (tod.diff() < -DAY // 2).fill_null(False).cast(pl.Int64).cum_sum()
    date = epochs["date"]
    day = (
        pl.DataFrame({"d": date})
        .select(pl.col("d").str.to_date("%d%m%y", strict=False).cast(pl.Int64))
        .to_series()
    )
    # days since the first midnight are added where an epoch has no date of its own
    base = (day - passed).forward_fill().backward_fill()
    if base.null_count() == len(base):
        rule = find_rule("time", context.rules)
        told = parse_time_rule(rule.unit).since if rule else None
        start = told or find_start(context.name)[0]
        if start is None:
            line = rule_line("time", "time", "s since 2026-03-01")
            context.ledger.ask(message("which-start/sentences", answer=answer([line])))
            return None
        midnight = datetime(start.year, start.month, start.day, tzinfo=UTC)
        base = pl.repeat(int(midnight.timestamp()) // 86400, len(tod), dtype=pl.Int64, eager=True)
    return day.fill_null(base + passed) * DAY + tod
