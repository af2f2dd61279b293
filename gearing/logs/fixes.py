"""What formats of receivers share: from fixes with their moments to the part of a reading."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from gearing.logs.channels import set_aside_doubtful
from gearing.logs.checks import check_samples
from gearing.logs.model import Column, empty_samples
from gearing.logs.order import in_order
from gearing.logs.samples import Context, Part
from gearing.messages import Message, UserText, message

# how GPX 1.1 and NMEA 0183 write them; a receiver's speed is told by each format
_UNITS = {"altitude_m": "m", "hdop": "-"}


def read_fixes(
    fixes: pl.DataFrame,
    rows: int,
    context: Context,
    words: Mapping[str, str],
    *,
    kind: str,
    speed_unit: str,
    time_form: tuple[Message, ...],
) -> Part:
    """The samples of fixes: `us` (microseconds UTC), `line`, and the channels.

    `words` say of each channel what the format calls it, `rows` how many records there were.
    """
    samples = _samples(fixes, context, words)
    columns = tuple(
        Column(
            heading=heading,
            channel=name,
            unit=speed_unit if name == "gps_speed_mps" else _UNITS.get(name, "deg"),
            how=(message("named-by", what=UserText(kind)),),
            filled=1 - samples[name].null_count() / max(samples.height, 1),
            low=_number(samples[name].min()),
            high=_number(samples[name].max()),
        )
        for name, heading in words.items()
        if name in samples.columns
    )
    return Part(samples=samples, rows=rows, columns=columns, kind=kind, time_form=time_form)


def _samples(fixes: pl.DataFrame, context: Context, words: Mapping[str, str]) -> pl.DataFrame:
    ledger, headings = context.ledger, dict(words)
    if fixes.height == 0:
        return empty_samples()
    names = [name for name in headings if fixes[name].null_count() < fixes.height]
    fixes = set_aside_doubtful(fixes.select("line", "us", *names), headings, ledger)
    return check_samples(in_order(fixes, ledger), headings, ledger)


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None
