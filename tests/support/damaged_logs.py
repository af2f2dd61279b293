"""One good log and the ways recorders write, cut and damage it.

The drive is made up: half an hour on a straight invented road, one row a second. Each variant
says what must come out of it: the same figures, or the codes and counts of what is set aside.
"""

from __future__ import annotations

import gzip
import io
import math
import random
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

from gearing.study.model import ColumnRule


def rule(heading: str, channel: str | None, unit: str | None = None) -> ColumnRule:
    return ColumnRule(heading=heading, channel=channel, unit=unit)


ROWS = 1800
START = datetime(2026, 3, 17, 14, 5, 7, tzinfo=UTC)
HEADINGS = {
    "time": "Time",
    "latitude_deg": "Latitude [deg]",
    "longitude_deg": "Longitude [deg]",
    "altitude_m": "Altitude [m]",
    "gps_speed_mps": "GPS speed [km/h]",
    "indicated_speed_mps": "Vehicle speed [km/h]",
    "engine_speed_rpm": "Engine speed [rpm]",
    "fuel_rate_lph": "Fuel rate [L/h]",
    "coolant_temperature_c": "Coolant temperature [degC]",
}
CHANNELS = tuple(name for name in HEADINGS if name != "time")
DECIMALS = {
    "latitude_deg": 6,
    "longitude_deg": 6,
    "altitude_m": 1,
    "gps_speed_mps": 2,
    "indicated_speed_mps": 0,
    "engine_speed_rpm": 1,
    "fuel_rate_lph": 2,
    "coolant_temperature_c": 0,
}
TO_WRITTEN = {"gps_speed_mps": 3.6, "indicated_speed_mps": 3.6}


def drive(rows: int = ROWS) -> list[dict[str, Any]]:
    """The drive as written: every value a string, time as a datetime."""
    latitude, longitude, out = 40.0, -3.0, []
    for i in range(rows):
        moving = i % 900 >= 300
        speed = 16 + 7 * math.sin(i / 47) + 2 * math.sin(i / 5) if moving else 0.0
        latitude += speed / 111_132
        written = {
            "latitude_deg": latitude,
            "longitude_deg": longitude,
            "altitude_m": 700 + 60 * math.sin(i / 300),
            "gps_speed_mps": speed * 3.6,
            "indicated_speed_mps": math.floor(speed * 3.6 / 1.02 + 0.5),
            "engine_speed_rpm": 700 + speed * 60 + 5 * math.sin(i),
            "fuel_rate_lph": 2 + speed * 0.9 + 0.1 * math.sin(i / 3),
            "coolant_temperature_c": min(85, 40 + i // 20),
        }
        row: dict[str, Any] = {n: f"{v:.{DECIMALS[n]}f}" for n, v in written.items()}
        row["time"] = START + timedelta(seconds=i)
        out.append(row)
    return out


GOOD = drive()


def expected() -> pl.DataFrame:
    """What any faithful reading of the good log gives."""
    data: dict[str, Any] = {"time": [row["time"] for row in GOOD]}
    for name in CHANNELS:
        scale = TO_WRITTEN.get(name, 1.0)
        data[name] = [float(row[name]) / scale for row in GOOD]
    return pl.DataFrame(data).with_columns(pl.col("time").cast(pl.Datetime("us", "UTC")))


Rows = list[dict[str, Any]]
Stamp = Callable[[datetime], str]


def iso(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def table(
    rows: Rows | None = None,
    *,
    headings: dict[str, str] | None = None,
    delimiter: str = ",",
    decimal: str = ".",
    stamp: Stamp = iso,
    quote: bool = False,
) -> list[str]:
    """Lines of a table, headings first, without line ends."""
    rows = GOOD if rows is None else rows
    headings = HEADINGS if headings is None else headings

    def written(text: str) -> str:
        return f'"{text}"' if quote else text

    lines = [delimiter.join(written(h) for h in headings.values())]
    for row in rows:
        fields = []
        for name in headings:
            value = row.get(name, "")
            text = stamp(value) if isinstance(value, datetime) else str(value)
            if name != "time" and decimal == ",":
                text = text.replace(".", ",")
            fields.append(written(text))
        lines.append(delimiter.join(fields))
    return lines


def text(lines: list[str], end: str = "\n", last: bool = True) -> str:
    return end.join(lines) + (end if last else "")


@dataclass(frozen=True, kw_only=True)
class Variant:
    """A way to write the log and what must come of it.

    `same`: every channel equals the good log's in all rows used (or in `rows_used` of them).
    `codes`: code to count, of rows, values and repairs together; `asks`: codes of questions.
    """

    name: str
    data: bytes
    file: str = "log.csv"
    same: bool = True
    rows_read: int = ROWS
    rows_used: int = ROWS
    codes: dict[str, int] = field(default_factory=dict)
    asks: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()  # channels that must not come out
    changed: tuple[str, ...] = ()  # channels whose values differ in some rows
    shift_s: float | None = None  # all times are off by this much
    any_time: bool = False
    options: dict[str, Any] = field(default_factory=dict)
    check: Callable[[Any], None] | None = None

    def write(self, folder: Path) -> Path:
        path = folder / self.file
        path.write_bytes(self.data)
        return path


def _v(name: str, content: str | bytes | list[str], **kwargs: Any) -> Variant:
    if isinstance(content, list):
        content = text(content)
    data = content.encode() if isinstance(content, str) else content
    return Variant(name=name, data=data, **kwargs)


def _changed(index: int, **values: str) -> Rows:
    return [row | values if i == index else row for i, row in enumerate(GOOD)]


def _without_unit(*names: str) -> dict[str, str]:
    return {n: (h.split(" [")[0] if n in names else h) for n, h in HEADINGS.items()}


def dialects() -> list[Variant]:
    plain = text(table())
    german = table(delimiter=";", decimal=",")
    degrees = {n: h.replace("[deg]", "[°]").replace("[degC]", "[°C]") for n, h in HEADINGS.items()}
    return [
        _v("comma", plain),
        _v("semicolon and decimal comma", german),
        _v("semicolon and decimal point", table(delimiter=";")),
        _v("tab", table(delimiter="\t"), file="log.tsv"),
        _v("pipe", table(delimiter="|"), file="log.txt"),
        _v("UTF-8 with mark", b"\xef\xbb\xbf" + plain.encode()),
        _v("UTF-16 little-endian", b"\xff\xfe" + plain.encode("utf-16-le")),
        _v("UTF-16 big-endian", b"\xfe\xff" + plain.encode("utf-16-be")),
        _v("UTF-16 without mark", plain.encode("utf-16-le")),
        _v("UTF-8 beyond ASCII", table(headings=degrees)),
        _v(
            "cp1252",
            text(table(headings=degrees)).encode("cp1252"),
            codes={"decoded-as-cp1252": 1},
        ),
        _v("CRLF", text(table(), "\r\n")),
        _v("CR alone", text(table(), "\r")),
        _v(
            "mixed line ends",
            text(table()[:500], "\r\n") + text(table()[500:]),
            codes={"line-ends": ROWS + 1},
        ),
        _v("all quoted", table(quote=True)),
        _v(
            "quoted decimal comma in a comma table",
            table(decimal=",", quote=True),
        ),
        _v("no final line end", text(table(), last=False)),
        _v("delimiter at the end of every line", [line + "," for line in table()]),
        _v(
            "delimiter at the end of every row",
            [table()[0], *(line + "," for line in table()[1:])],
        ),
        _v("gzip", gzip.compress(plain.encode(), mtime=0), file="log.csv.gz"),
        _v("zip", zipped({"log.csv": plain.encode()}), file="log.zip"),
        _v(
            "comment lines",
            ["# a recorder", "# version 3", *table()[:100], "# paused", *table()[100:]],
            codes={"preamble": 2, "comment": 1},
        ),
        _v(
            "a list of channels in the preamble",
            ["Channels,Latitude,Longitude,Altitude,Engine speed,Fuel rate", "x", "y", *table()],
            codes={"preamble": 3},
        ),
        _v(
            "preamble with fields",
            [f"Setting {i},{i * 3},," for i in range(900)] + table(),
            codes={"preamble": 900},
        ),
        _v("preamble of blank lines", ["", "", "", *table()]),
        _v("separator line", ["sep=;", *german], codes={"preamble": 1}),
        _v(
            "units row",
            [
                ",".join(h.split(" [")[0] for h in HEADINGS.values()),
                "UTC,deg,deg,m,km/h,km/h,rpm,L/h,degC",
                *table()[1:],
            ],
        ),
        _v(
            "stacked headings and units",
            [
                "Time,Latitude,Longitude,Altitude,Speed,Speed,Engine speed,Fuel rate,"
                "Coolant temperature",
                "UTC,GPS,GPS,GPS,GPS,OBD,OBD,OBD,OBD",
                ",[deg],[deg],[m],[km/h],[km/h],[rpm],[L/h],[degC]",
                *table()[1:],
            ],
        ),
        _v(
            "group row over repeated headings",
            [
                "Clock,GPS,,,,OBD,,,",
                "Time,Latitude [deg],Longitude [deg],Altitude [m],Speed [km/h],Speed [km/h],"
                "Engine speed [rpm],Fuel rate [L/h],Coolant temperature [degC]",
                *table()[1:],
            ],
        ),
        _v(
            "blank lines between",
            [line for row in table() for line in (row, "")],
            codes={"blank-line": ROWS + 1},
        ),
    ]


def zipped(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            # of no day: the same bytes at each call, so that a seed damages the same file again
            archive.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def damage() -> list[Variant]:
    lines = table()
    half = lines[900].rsplit(",", 4)[0]
    noted = HEADINGS | {"note": "Note"}
    fewer = {n: HEADINGS[n] for n in ("time", "engine_speed_rpm", "latitude_deg", "longitude_deg")}
    restart = lines[:601] + table(GOOD[600:], headings=fewer)
    return [
        _v(
            "short row",
            [*lines[:900], half, *lines[901:]],
            rows_used=ROWS - 1,
            codes={"short-row": 1},
        ),
        _v(
            "long row",
            [*lines[:900], lines[900] + ",7,8", *lines[901:]],
            rows_used=ROWS - 1,
            codes={"long-row": 1},
        ),
        _v(
            "last record cut",
            text(lines[:-1]) + lines[-1][:31],
            rows_used=ROWS - 1,
            codes={"cut-record": 1},
        ),
        _v(
            "last value cut",
            text(lines, last=False)[:-1],
            codes={"maybe-cut": 1},
            changed=("coolant_temperature_c",),
        ),
        _v(
            "footer",
            [*lines, "End of recording", "Rows: 1800"],
            rows_read=ROWS + 2,
            codes={"footer-line": 2},
        ),
        _v(
            "NUL bytes",
            text(lines).replace("3.0", "3.\x000"),
            codes={"nul-bytes": text(lines).count("3.0")},
        ),
        _v(
            "block of NULs at the end",
            text(lines).encode() + b"\0" * 4096,
            codes={"nul-bytes": 4096},
        ),
        _v(
            "headings repeated",
            [*lines[:700], lines[0], *lines[700:]],
            codes={"repeated-heading": 1},
        ),
        _v(
            "other headings after a restart",
            restart,
            codes={"new-headings": 1},
            changed=tuple(n for n in CHANNELS if n not in fewer),
        ),
        _v(
            "trailing empty fields left out",
            [line if i % 3 == 0 else line.rsplit(",", 2)[0] for i, line in enumerate(lines)],
            codes={"trailing-blanks": ROWS * 2 // 3},
            changed=("fuel_rate_lph", "coolant_temperature_c"),
        ),
        _v(
            "rows of delimiters alone",
            [*lines, *[",,,,,,,,"] * 3],
            rows_read=ROWS + 3,
            codes={"no-time": 3},
        ),
        _v(
            "quoted text with delimiters",
            table([row | {"note": '"wet, cold"'} for row in GOOD], headings=noted),
        ),
        _v(
            "quoted text with a line end",
            table([*GOOD[:50], GOOD[50] | {"note": '"wet\ncold"'}, *GOOD[51:]], headings=noted),
            codes={"joined-lines": 1},
        ),
        _v(
            "quote that does not end",
            table([*GOOD[:50], GOOD[50] | {"note": '"wet'}, *GOOD[51:]], headings=noted),
            rows_used=ROWS - 1,
            codes={"broken-quotes": 1},
        ),
        _v(
            "quote in mid-field",
            table([*GOOD[:50], GOOD[50] | {"note": '5" snow"'}, *GOOD[51:]], headings=noted),
        ),
        _v(
            "bytes that are no text",
            text(table(headings=noted)).encode().replace(b"Note", b"Note \xc2\xb0 \xc3\xbc", 1)
            + table([GOOD[-1]])[1].encode().replace(b"14:35", b"14:3\xff")
            + b",\n",
            rows_read=ROWS + 1,
            codes={"undecodable-bytes": 1, "unreadable-time": 1},
        ),
        _v(
            "cut gzip",
            gzip.compress(text(lines).encode(), mtime=0)[:-2000],
            file="log.csv.gz",
            same=False,
            rows_read=-1,
        ),
        _v(
            "zip bomb",
            zipped({"log.csv": b"0" * (80 << 20)}),
            file="log.zip",
            same=False,
            rows_read=1,
            rows_used=0,
            codes={"too-large-unpacked": 1},
        ),
        _v(
            "gzip bomb",
            gzip.compress(b"0" * (80 << 20), mtime=0),
            file="log.csv.gz",
            same=False,
            rows_read=1,
            rows_used=0,
            codes={"too-large-unpacked": 1},
        ),
        _v(
            "two logs in one zip",
            zipped({"a.csv": text(lines).encode(), "b.csv": text(lines).encode()}),
            file="log.zip",
            same=False,
            rows_read=1,
            rows_used=0,
            codes={"several-in-archive": 1},
        ),
        _v(
            "spreadsheet",
            zipped({"xl/workbook.xml": b"<x/>", "[Content_Types].xml": b"<x/>"}),
            file="log.csv",
            same=False,
            rows_read=1,
            rows_used=0,
            codes={"spreadsheet": 1},
        ),
        _v(
            "broken zip",
            zipped({"log.csv": text(lines).encode()})[:3000],
            file="log.zip",
            same=False,
            rows_read=1,
            rows_used=0,
            codes={"damaged-archive": 1},
        ),
        _v("empty file", b"", same=False, rows_read=1, rows_used=0, codes={"empty-file": 1}),
        _v(
            "picture",
            random.Random(1).randbytes(5000),
            same=False,
            rows_read=1,
            rows_used=0,
            codes={"not-text": 1},
        ),
        _v(
            "no headings",
            lines[1:],
            same=False,
            rows_used=0,
            codes={"no-headings": ROWS},
        ),
        _v(
            "headings alone",
            lines[:1],
            same=False,
            rows_read=0,
            rows_used=0,
            codes={"no-records": 0},
        ),
    ]


def clocks() -> list[Variant]:
    zone = ZoneInfo("America/Denver")

    def local(form: str, tz: ZoneInfo = zone) -> Stamp:
        return lambda moment: moment.astimezone(tz).strftime(form)

    def epoch(scale: int) -> Stamp:
        return lambda moment: str(int(moment.timestamp()) * scale)

    def elapsed(moment: datetime) -> str:
        return f"{(moment - START).total_seconds():.1f}"

    early = [row | {"time": row["time"].replace(day=4)} for row in GOOD]
    early_shift = -13 * 86_400.0
    parted = {"date": "Date", "clock": "Time"} | {n: HEADINGS[n] for n in CHANNELS}

    def two_columns(form: str, day: Rows = GOOD) -> list[str]:
        rows = [
            r | {"date": r["time"].strftime(form), "clock": r["time"].strftime("%H:%M:%S")}
            for r in day
        ]
        return table(rows, headings=parted)

    seconds = HEADINGS | {"time": "Time [s]"}
    since = rule("Time [s]", "time", "s since 2026-03-17 14:05:07")
    german_months = lambda m: m.strftime("%d. März %Y %H:%M:%S")  # noqa: E731
    denver: dict[str, Any] = {"options": {"time_zone": "America/Denver"}}
    return [
        _v(
            "ISO with offset",
            table(stamp=lambda m: m.astimezone(zone).isoformat()),
        ),
        _v(
            "ISO with blank and fraction",
            table(stamp=lambda m: m.strftime("%Y-%m-%d %H:%M:%S.000")),
        ),
        _v(
            "ISO with comma in seconds",
            table(delimiter=";", stamp=lambda m: m.strftime("%Y-%m-%d %H:%M:%S,000")),
        ),
        _v("ISO basic", table(stamp=lambda m: m.strftime("%Y%m%dT%H%M%SZ"))),
        _v("local ISO", table(stamp=local("%Y-%m-%dT%H:%M:%S")), **denver),
        _v("epoch seconds", table(stamp=epoch(1))),
        _v("epoch milliseconds", table(stamp=epoch(1000))),
        _v("epoch microseconds", table(stamp=epoch(1_000_000))),
        _v("epoch seconds with fraction", table(stamp=lambda m: f"{m.timestamp():.3f}")),
        _v(
            "epoch seconds with decimal comma",
            table(
                delimiter=";", decimal=",", stamp=lambda m: f"{m.timestamp():.3f}".replace(".", ",")
            ),
        ),
        _v("date and time apart", two_columns("%Y-%m-%d")),
        _v("day first apart", two_columns("%d/%m/%Y")),
        _v("day first", table(stamp=lambda m: m.strftime("%d/%m/%Y %H:%M:%S"))),
        _v("month first", table(stamp=lambda m: m.strftime("%m/%d/%Y %H:%M:%S"))),
        _v(
            "points in the date",
            table(early, stamp=lambda m: m.strftime("%d.%m.%Y %H:%M:%S")),
            shift_s=early_shift,
        ),
        _v(
            "two-digit year",
            table(stamp=lambda m: m.strftime("%d.%m.%y %H:%M:%S")),
        ),
        _v("month name", table(stamp=lambda m: m.strftime("%d-Mar-%Y %H:%M:%S"))),
        _v(
            "month name first",
            table(delimiter=";", stamp=lambda m: m.strftime("Mar %d, %Y %H:%M:%S")),
        ),
        _v("German month name", table(stamp=german_months)),
        _v("twelve hours", table(stamp=lambda m: m.strftime("%m/%d/%Y %I:%M:%S %p"))),
        _v(
            "day or month first, open",
            table(early, stamp=lambda m: m.strftime("%d/%m/%Y %H:%M:%S")),
            same=False,
            rows_used=0,
            codes={"time-unknown": ROWS},
            asks=("which-date-order",),
        ),
        _v(
            "day or month first, answered",
            table(early, stamp=lambda m: m.strftime("%d/%m/%Y %H:%M:%S")),
            shift_s=early_shift,
            options={"rules": (rule("Time", "time", "day first"),)},
        ),
        _v(
            "day or month first, told by the file's name",
            table(early, stamp=lambda m: m.strftime("%d/%m/%Y %H:%M:%S")),
            file="2026-03-04_run.csv",
            shift_s=early_shift,
            codes={"order-by-name": 1},
        ),
        _v(
            "day or month first apart, told by the preamble",
            ["Recorded on 4 Mar 2026", "Recorded on 04.03.2026", *two_columns("%m/%d/%Y", early)],
            shift_s=early_shift,
            codes={"order-by-name": 1, "preamble": 2},
        ),
        _v(
            "spreadsheet days",
            table(
                stamp=lambda m: (
                    f"{(m - datetime(1899, 12, 30, tzinfo=UTC)) / timedelta(days=1):.10f}"
                )
            ),
            codes={"counted-from-1900": 1},
        ),
        _v(
            "dates of 2006",
            table(_moved(0, ROWS, -1024 * 7 * 86_400)),
            shift_s=-1024 * 7 * 86_400.0,
            asks=("old-dates",),
        ),
        _v(
            "dates of 2006, answered",
            table(_moved(0, ROWS, -1024 * 7 * 86_400)),
            options={"rules": (rule("Time", "time", "+ 1024 weeks"),)},
        ),
        _v(
            "elapsed, start in the preamble",
            ["Recorder,7", "Start,2026-03-17 14:05:07", *table(headings=seconds, stamp=elapsed)],
            codes={"preamble": 2, "start-from-preamble": 1},
        ),
        _v(
            "elapsed, start in the preamble on two lines",
            [
                "Start date: 17.03.2026",
                "Start time: 14:05:07",
                *table(headings=seconds, stamp=elapsed),
            ],
            codes={"preamble": 2, "start-from-preamble": 1},
        ),
        _v(
            "elapsed, only the day in the preamble",
            ["Day,2026-03-17", *table(headings=seconds, stamp=elapsed)],
            shift_s=-(14 * 3600 + 5 * 60 + 7.0),
            codes={"preamble": 1, "start-from-preamble": 1, "start-of-day-assumed": 1},
        ),
        _v(
            "two clocks, the receiver's is used",
            table(
                [r | {"device": iso(r["time"] + timedelta(seconds=9))} for r in GOOD],
                headings={"device": "Device time"} | HEADINGS | {"time": "GPS time"},
            ),
            codes={"two-clocks": 1},
        ),
        _v(
            "elapsed, start in the file name",
            table(headings=seconds, stamp=elapsed),
            file="trip_2026-03-17_14-05-07.csv",
            codes={"start-from-name": 1},
        ),
        _v(
            "elapsed since midnight, told by the time in the file name",
            table(
                headings=seconds,
                stamp=lambda m: f"{m.hour * 3600 + m.minute * 60 + m.second + m.microsecond / 1e6}",
            ),
            file="trip_2026-03-17_1405.csv",
            codes={"start-from-name": 1, "from-midnight": 1},
        ),
        _v(
            "elapsed, start under [columns]",
            table(headings=seconds, stamp=elapsed),
            options={"rules": (since,)},
        ),
        _v(
            "elapsed milliseconds",
            table(
                headings=HEADINGS | {"time": "Elapsed time (ms)"},
                stamp=lambda m: str(int((m - START).total_seconds()) * 1000),
            ),
            options={"rules": (rule("Elapsed time (ms)", "time", "ms since 2026-03-17 14:05:07"),)},
        ),
        _v(
            "elapsed as hours, minutes, seconds",
            table(
                headings=HEADINGS | {"time": "Elapsed time"},
                stamp=lambda m: str(m - START),
            ),
            options={"rules": (rule("Elapsed time", "time", "since 2026-03-17 14:05:07"),)},
        ),
        _v(
            "elapsed, no start",
            table(headings=seconds, stamp=elapsed),
            same=False,
            rows_used=0,
            codes={"time-unknown": ROWS},
            asks=("which-start",),
        ),
        _v(
            "time of day past midnight, day in the file name",
            table(stamp=lambda m: (m + timedelta(hours=9, minutes=40)).strftime("%H:%M:%S")),
            file="2026-03-17.csv",
            shift_s=9 * 3600 + 40 * 60.0,
            codes={"midnight": 1, "start-from-name": 1},
        ),
        _v(
            "a date that stays past midnight",
            table(
                [
                    r
                    | {
                        "date": "2026-03-17",
                        "clock": (r["time"] + timedelta(hours=9, minutes=40)).strftime("%H:%M:%S"),
                    }
                    for r in GOOD
                ],
                headings=parted,
            ),
            shift_s=9 * 3600 + 40 * 60.0,
            codes={"midnight": 1},
        ),
        _v(
            "the hour that comes twice",
            table(_at(datetime(2026, 11, 1, 7, 40, tzinfo=UTC)), stamp=local("%Y-%m-%d %H:%M:%S")),
            shift_s=_shift(datetime(2026, 11, 1, 7, 40, tzinfo=UTC)),
            codes={"summer-time": ROWS},
            **denver,
        ),
        _v(
            "the hour that is left out",
            table(_at(datetime(2026, 3, 8, 8, 45, tzinfo=UTC)), stamp=local("%Y-%m-%d %H:%M:%S")),
            shift_s=_shift(datetime(2026, 3, 8, 8, 45, tzinfo=UTC)),
            **denver,
        ),
        _v(
            "a clock that was not switched",
            table(
                _at(datetime(2026, 3, 8, 8, 45, tzinfo=UTC)),
                stamp=lambda m: (m - timedelta(hours=7)).strftime("%Y-%m-%d %H:%M:%S"),
            ),
            shift_s=_shift(datetime(2026, 3, 8, 8, 45, tzinfo=UTC)),
            codes={"clock-not-switched": 900},
            **denver,
        ),
        _v(
            "clock set back by an hour",
            table(_moved(1100, ROWS, -3600)),
            codes={"clock-set": ROWS - 1100},
        ),
        _v(
            "clock set forward",
            table(_moved(1100, ROWS, 600)),
            any_time=True,
        ),
        _v(
            "week rollover, day in the file name",
            table(_moved(0, ROWS, -1024 * 7 * 86_400)),
            file="2026-03-17 run.csv",
            codes={"week-rollover": ROWS},
        ),
        _v(
            "a heading's unit that the positions disprove",
            table(headings=HEADINGS | {"gps_speed_mps": "GPS speed [mph]"}),
            asks=("two-units",),
            lacks=("gps_speed_mps",),
        ),
        _v(
            "seconds of GPS, day in the file name",
            table(stamp=lambda m: f"{m.timestamp() - 315_964_800 + 18:.0f}"),
            file="2026-03-17 run.csv",
            codes={"counted-from-1980": ROWS},
        ),
        _v(
            "days since 1904, day in the file name",
            table(
                stamp=lambda m: f"{(m - datetime(1904, 1, 1, tzinfo=UTC)) / timedelta(days=1):.10f}"
            ),
            file="2026-03-17 run.csv",
            codes={"counted-from-1904": ROWS},
        ),
        _v(
            "twelve hours, time in the file name",
            table(stamp=lambda m: m.strftime("%Y-%m-%d %I:%M:%S")),
            file=f"{START:%Y-%m-%d %H%M} run.csv",
            codes={"twelve-hours": ROWS},
        ),
        _v(
            "minutes behind the point of a degree",
            table([r | {"latitude_deg": _behind_the_point(r["latitude_deg"])} for r in GOOD]),
            same=False,
            codes={"positions-in": ROWS},
        ),
        _v(
            "week rollover at the start",
            table(_moved(0, 60, -1024 * 7 * 86_400)),
            codes={"week-rollover": 60},
        ),
        _v(
            "clock not set at the start",
            table(_at_rows(0, 30, datetime(2000, 1, 1, tzinfo=UTC))),
            rows_used=ROWS - 30,
            codes={"clock-not-set": 30},
        ),
        _v(
            "one stray time",
            table(_moved(700, 701, 7200)),
            rows_used=ROWS - 1,
            codes={"stray-time": 1},
        ),
        _v(
            "one unreadable time",
            table(
                [r | ({"time": "2026-03-17T14:9x"} if i == 700 else {}) for i, r in enumerate(GOOD)]
            ),
            rows_used=ROWS - 1,
            codes={"unreadable-time": 1},
        ),
        _v(
            "one time left out",
            table([r | ({"time": ""} if i == 700 else {}) for i, r in enumerate(GOOD)]),
            rows_used=ROWS - 1,
            codes={"no-time": 1},
        ),
        _v(
            "rows written late",
            table([*GOOD[:500], *GOOD[503:506], *GOOD[500:503], *GOOD[506:]]),
            codes={"out-of-order": 1},
        ),
        _v(
            "two stretches in the wrong order",
            table([*GOOD[1000:], *GOOD[:1000]]),
            codes={"out-of-order": 1},
        ),
        _v(
            "a stretch written twice",
            table([*GOOD[:800], *GOOD[700:]]),
            rows_read=ROWS + 100,
            codes={"repeated-row": 100},
        ),
        _v(
            "the day alone",
            table(headings=HEADINGS | {"time": "Date"}, stamp=lambda m: m.strftime("%Y-%m-%d")),
            same=False,
            rows_used=0,
            codes={"time-unknown": ROWS},
            asks=("which-time",),
        ),
        _v(
            "no time column",
            table(headings={n: h for n, h in HEADINGS.items() if n != "time"}),
            same=False,
            rows_used=0,
            codes={"time-unknown": ROWS},
            asks=("which-time",),
        ),
    ]


def _at(start: datetime) -> Rows:
    return [row | {"time": start + (row["time"] - START)} for row in GOOD]


def _shift(start: datetime) -> float:
    return (start - START).total_seconds()


def _behind_the_point(degrees: str) -> str:
    whole, part = divmod(float(degrees), 1)
    return f"{whole + part * 0.6:.8f}"


def _moved(first: int, last: int, seconds: float) -> Rows:
    step = timedelta(seconds=seconds)
    return [
        row | ({"time": row["time"] + step} if first <= i < last else {})
        for i, row in enumerate(GOOD)
    ]


def _at_rows(first: int, last: int, start: datetime) -> Rows:
    return [
        row | ({"time": start + timedelta(seconds=i)} if first <= i < last else {})
        for i, row in enumerate(GOOD)
    ]


def layouts() -> list[Variant]:
    """Other shapes of the same drive."""
    polled = []
    for i, row in enumerate(GOOD):
        name = CHANNELS[2:][i % (len(CHANNELS) - 2)]
        polled.append({n: row[n] for n in ("time", name)})
    long_headings = {"time": "Time", "p": "Parameter", "v": "Value", "u": "Unit"}
    long_rows = [
        {"time": row["time"], "p": HEADINGS[n].split(" [")[0], "v": row[n], "u": _unit(n)}
        for row in GOOD
        for n in CHANNELS
    ]
    other = [
        {"time": row["time"], "p": "Intake manifold pressure", "v": "40", "u": "kPa"}
        for row in GOOD
    ]
    return [
        _v(
            "sparse rows of polled parameters",
            table(polled),
            changed=CHANNELS,
            check=lambda r: _assert(r.dialect.kind == "sparse table"),
        ),
        _v(
            "long table",
            table(long_rows, headings=long_headings),
            rows_read=ROWS * 8,
            rows_used=ROWS * 8,
            changed=CHANNELS,
            check=lambda r: _assert(r.dialect.kind == "long table"),
        ),
        _v(
            "long table with other parameters",
            table([*long_rows, *other], headings=long_headings),
            rows_read=ROWS * 9,
            rows_used=ROWS * 8,
            changed=CHANNELS,
            codes={"unknown-parameter": ROWS},
        ),
        _v(
            "long table with a parameter in two units",
            table(
                [
                    r | ({"u": "mph"} if n < 8 * 300 and r["u"] == "km/h" else {})
                    for n, r in enumerate(long_rows)
                ],
                headings=long_headings,
            ),
            rows_read=ROWS * 8,
            rows_used=ROWS * 8 - 600,
            changed=CHANNELS,
            codes={"other-unit": 600},
        ),
        _v(
            "latitude and longitude polled apart",
            table([{"time": r["time"], n: r[n]} for r in GOOD for n in CHANNELS]),
            rows_read=ROWS * 8,
            rows_used=ROWS * 8,
            changed=CHANNELS,
            codes={"paired-position": ROWS},
        ),
        _v(
            "NMEA without a fix at first",
            nmea(GOOD, fix_from=40) + "noise\n",
            file="log.nmea",
            rows_read=ROWS * 3 + 1,
            rows_used=(ROWS - 40) * 3,
            changed=CHANNELS,
            codes={"no-fix": 80, "no-time": 40, "damaged-sentence": 1},
        ),
        _v("GPX 1.1", gpx(GOOD), file="log.gpx", changed=_BUS),
        _v(
            "GPX in a zip",
            zipped({"__MACOSX/._log.gpx": b"x", "log.gpx": gpx(GOOD).encode()}),
            file="log.zip",
            changed=_BUS,
        ),
        _v(
            "GPX cut",
            gpx(GOOD)[:60_000],
            file="log.gpx",
            same=False,
            rows_read=-1,
            codes={"salvaged-xml": 1, "cut-record": 1},
        ),
        _v(
            "GPX that declares entities",
            '<?xml version="1.0"?>\n<!DOCTYPE gpx [<!ENTITY a "b">]>\n<gpx><trk/></gpx>\n',
            file="log.gpx",
            same=False,
            rows_read=3,
            rows_used=0,
            codes={"damaged-xml": 3},
        ),
        _v(
            "NMEA 0183",
            nmea(GOOD),
            file="log.nmea",
            rows_read=ROWS * 3,
            rows_used=ROWS * 3,
            changed=CHANNELS,
            check=_nmea_agrees,
        ),
        _v(
            "NMEA with bad checksums",
            nmea(GOOD).replace("*5", "*4"),
            file="log.nmea",
            same=False,
            rows_read=ROWS * 3,
            rows_used=-1,
            codes={"bad-checksum": nmea(GOOD).count("*5")},
        ),
        _v(
            "NMEA with other sentences and noise",
            nmea(GOOD) + "$GPGSV,3,1,11,03,03,111,00*74\n$GPRMC,1405\n",
            file="log.nmea",
            rows_read=ROWS * 3 + 2,
            rows_used=ROWS * 3,
            changed=CHANNELS,
            codes={"other-sentence": 1, "no-checksum": 1},
        ),
    ]


_BUS = ("indicated_speed_mps", "engine_speed_rpm", "fuel_rate_lph", "coolant_temperature_c")


def _unit(name: str) -> str:
    return HEADINGS[name].split("[")[1].rstrip("]")


def _assert(holds: bool) -> None:
    assert holds


def gpx(rows: Rows) -> str:
    points = "\n".join(
        f'<trkpt lat="{r["latitude_deg"]}" lon="{r["longitude_deg"]}"><ele>{r["altitude_m"]}</ele>'
        f"<time>{iso(r['time'])}</time><extensions><x:speed>{float(r['gps_speed_mps']) / 3.6:.12f}"
        "</x:speed></extensions></trkpt>"
        for r in rows
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="none" xmlns="http://www.topografix.com/GPX/1/1" '
        f'xmlns:x="http://example.org/x">\n<trk><trkseg>\n{points}\n</trkseg></trk></gpx>\n'
    )


def checksum(body: str) -> str:
    total = 0
    for char in body:
        total ^= ord(char)
    return f"${body}*{total:02X}"


def nmea(rows: Rows, fix_from: int = 0) -> str:
    out = []
    for i, r in enumerate(rows):
        quality, status = ("1", "A") if i >= fix_from else ("0", "V")
        lat, lon = float(r["latitude_deg"]), float(r["longitude_deg"])
        knots = float(r["gps_speed_mps"]) / 1.852
        clock = r["time"].strftime("%H%M%S")
        place = f"{_dm(lat, 2)},{'N' if lat >= 0 else 'S'},{_dm(lon, 3)},{'E' if lon >= 0 else 'W'}"
        out.append(checksum(f"GPGGA,{clock},{place},{quality},09,0.9,{r['altitude_m']},M,47.0,M,,"))
        date = r["time"].strftime("%d%m%y")
        out.append(checksum(f"GPRMC,{clock},{status},{place},{knots:.3f},0.0,{date},,,A"))
        out.append(checksum(f"GPVTG,0.0,T,,M,{knots:.3f},N,{knots * 1.852:.3f},K,A"))
    return "\n".join(out) + "\n"


def _dm(angle: float, width: int, decimals: int = 4) -> str:
    angle = abs(angle)
    degrees = int(angle)
    return f"{degrees:0{width}d}{(angle - degrees) * 60:0{decimals + 3}.{decimals}f}"


def _nmea_agrees(reading: Any) -> None:
    """Positions to a ten-thousandth of a minute and speeds to a thousandth of a knot."""
    good = expected()
    got = reading.samples
    assert got.height == ROWS
    assert (got["time"] == good["time"]).all()
    for name, within in (("latitude_deg", 1e-6), ("longitude_deg", 1e-6), ("gps_speed_mps", 3e-4)):
        assert (got[name] - good[name]).abs().max() < within


def words() -> list[Variant]:
    """Other headings and units for the same values."""

    def named(**names: str) -> dict[str, str]:
        return HEADINGS | names

    german = named(
        time="Zeit",
        latitude_deg="Breite [°]",
        longitude_deg="Länge [°]",
        altitude_m="Höhe [m]",
        gps_speed_mps="Geschwindigkeit GPS [km/h]",
        indicated_speed_mps="Fahrzeuggeschwindigkeit [km/h]",
        engine_speed_rpm="Motordrehzahl [1/min]",
        fuel_rate_lph="Kraftstoffverbrauch [l/h]",
        coolant_temperature_c="Kühlmitteltemperatur [°C]",
    )
    french = named(
        time="Horodatage",
        latitude_deg="Latitude (°)",
        longitude_deg="Longitude (°)",
        altitude_m="Altitude (m)",
        gps_speed_mps="Vitesse GPS (km/h)",
        indicated_speed_mps="Vitesse véhicule (km/h)",
        engine_speed_rpm="Régime moteur (tr/min)",
        fuel_rate_lph="Débit carburant (l/h)",
        coolant_temperature_c="Température liquide de refroidissement (°C)",
    )
    spanish = named(
        time="Fecha y hora",
        latitude_deg="Latitud (°)",
        longitude_deg="Longitud (°)",
        altitude_m="Altitud (m)",
        gps_speed_mps="Velocidad GPS (km/h)",
        indicated_speed_mps="Velocidad del vehículo (km/h)",
        engine_speed_rpm="Revoluciones del motor (rpm)",
        fuel_rate_lph="Consumo de combustible (l/h)",
        coolant_temperature_c="Temperatura del refrigerante (°C)",
    )
    numbers = named(
        gps_speed_mps="SPN 517 [km/h]",
        indicated_speed_mps="SPN 84 [km/h]",
        engine_speed_rpm="SPN 190",
        fuel_rate_lph="SPN 183 [L/h]",
        coolant_temperature_c="SPN 110 [degC]",
    )
    pids = named(
        indicated_speed_mps="PID 0D",
        engine_speed_rpm="PID 0x0C",
        fuel_rate_lph="PID 5E",
        coolant_temperature_c="PID 05",
    )
    snake = named(
        time="timestamp",
        latitude_deg="lat",
        longitude_deg="lon",
        altitude_m="altitude_m",
        gps_speed_mps="gps_speed_kmh",
        indicated_speed_mps="vehicle_speed_kmh",
        engine_speed_rpm="engine_rpm",
        fuel_rate_lph="fuel_rate_lph",
        coolant_temperature_c="coolant_temp_c",
    )
    odd = named(indicated_speed_mps="v_fzg [km/h]", engine_speed_rpm="n_mot [1/min]")
    us_headings = named(
        altitude_m="Altitude (ft)",
        gps_speed_mps="GPS Speed (mph)",
        indicated_speed_mps="Vehicle Speed (mph)",
        fuel_rate_lph="Fuel Rate (gal/h)",
        coolant_temperature_c="Coolant Temperature (°F)",
    )
    us = [
        row
        | {
            "altitude_m": f"{float(row['altitude_m']) / 0.3048:.12f}",
            "gps_speed_mps": f"{float(row['gps_speed_mps']) / 1.609344:.12f}",
            "indicated_speed_mps": f"{float(row['indicated_speed_mps']) / 1.609344:.12f}",
            "fuel_rate_lph": f"{float(row['fuel_rate_lph']) / 3.785411784:.12f}",
            "coolant_temperature_c": f"{float(row['coolant_temperature_c']) * 1.8 + 32:.12f}",
        }
        for row in GOOD
    ]
    mystery = rule("v_fzg [km/h]", "indicated_speed_mps")
    turns = rule("n_mot [1/min]", "engine_speed_rpm", "rpm")
    lone = {n: h for n, h in HEADINGS.items() if n not in _BUS and n != "gps_speed_mps"}
    lone |= {"indicated_speed_mps": "Speed [km/h]"}
    twice = HEADINGS | {"second": "Vehicle speed [km/h]"}
    two_speeds = [row | {"second": f"{float(row['indicated_speed_mps']) + 1:.0f}"} for row in GOOD]
    return [
        _v("German words", table(headings=german, delimiter=";", decimal=",")),
        _v("French words", table(headings=french, delimiter=";", decimal=",")),
        _v("Spanish words", table(headings=spanish, delimiter=";", decimal=",")),
        _v("J1939 numbers", table(headings=numbers)),
        _v("J1979 numbers", table(headings=pids)),
        _v("words with underscores", table(headings=snake)),
        _v("US units", table(us, headings=us_headings)),
        _v(
            "plain speed beside engine channels",
            table(headings=named(indicated_speed_mps="Speed [km/h]")),
        ),
        _v(
            "speeds without units, settled by the positions",
            table(headings=_without_unit("gps_speed_mps", "indicated_speed_mps")),
        ),
        _v(
            "coolant without unit, settled by its size",
            table(headings=_without_unit("coolant_temperature_c")),
        ),
        _v(
            "fuel rate without unit",
            table(headings=_without_unit("fuel_rate_lph")),
            asks=("which-unit",),
            lacks=("fuel_rate_lph",),
        ),
        _v(
            "fuel rate without unit, answered",
            table(headings=_without_unit("fuel_rate_lph")),
            options={"rules": (rule("Fuel rate", "fuel_rate_lph", "L/h"),)},
        ),
        _v(
            "unknown names with fitting units",
            table(headings=odd),
            asks=("which-name", "which-name"),
            lacks=("indicated_speed_mps", "engine_speed_rpm"),
        ),
        _v(
            "unknown names, answered",
            table(headings=odd),
            options={"rules": (mystery, turns)},
        ),
        _v(
            "a speed that could be anyone's",
            table(headings=lone),
            asks=("which-channel",),
            lacks=("gps_speed_mps", *_BUS),
        ),
        _v(
            "two columns for one channel",
            table(two_speeds, headings=twice),
            asks=("which-column",),
            lacks=("indicated_speed_mps",),
        ),
        _v(
            "two columns for one channel, answered",
            table(two_speeds, headings=twice),
            options={
                "rules": (rule("Vehicle speed [km/h] #2", None),),
            },
        ),
        _v(
            "two columns with the same values",
            table([row | {"second": row["indicated_speed_mps"]} for row in GOOD], headings=twice),
            codes={"same-values-twice": 1},
        ),
        _v(
            "a unit that does not fit",
            table(headings=named(fuel_rate_lph="Fuel rate [km]")),
            codes={"wrong-dimension": ROWS},
            lacks=("fuel_rate_lph",),
        ),
        _v(
            "air flow by volume",
            table(headings=named(fuel_rate_lph="MAF [l/s]")),
            codes={"wrong-dimension": ROWS},
            lacks=("fuel_rate_lph", "mass_air_flow_gps"),
        ),
    ]


def values() -> list[Variant]:
    """Cells that are no good values."""
    markers = ("", "-", "n/a", "NaN", "null", "NODATA", "--", "#N/A", "k.A.", "unavailable")
    marked = [
        row | ({"engine_speed_rpm": markers[i % 10]} if i < 100 else {})
        for i, row in enumerate(GOOD)
    ]
    sides = [
        row
        | {
            "latitude_deg": f"{row['latitude_deg']} N",
            "longitude_deg": f"{abs(float(row['longitude_deg'])):.6f} W",
        }
        for row in GOOD
    ]
    degrees = [
        row
        | {
            "latitude_deg": _dms(float(row["latitude_deg"]), "NS"),
            "longitude_deg": _dms(float(row["longitude_deg"]), "EW"),
        }
        for row in GOOD
    ]
    with_sides = HEADINGS | {"ns": "N/S", "ew": "E/W"}
    apart = [
        row | {"longitude_deg": row["longitude_deg"].lstrip("-"), "ns": "N", "ew": "W"}
        for row in GOOD
    ]
    minutes = [
        row
        | {
            "latitude_deg": _dm(float(row["latitude_deg"]), 2, 6),
            "longitude_deg": _dm(float(row["longitude_deg"]), 3, 6),
            "ns": "N",
            "ew": "W",
        }
        for row in GOOD
    ]
    partial = [row | {"latitude_deg": "31:23.9", "longitude_deg": "17:04.0"} for row in GOOD]
    stuck = [
        row | ({"indicated_speed_mps": GOOD[400]["indicated_speed_mps"]} if 400 <= i < 600 else {})
        for i, row in enumerate(GOOD)
    ]
    no_fix = [
        row | ({"latitude_deg": "0.000000", "longitude_deg": "0.000000"} if i < 40 else {})
        for i, row in enumerate(GOOD)
    ]
    spike = _changed(900, latitude_deg="41.500000")
    lonely = _changed(900, longitude_deg="")
    flags = HEADINGS | {"lockup_engaged": "Torque converter lockup", "gear": "Gear"}
    geared = [
        row | {"lockup_engaged": "on" if i % 2 else "off", "gear": ("N", "1", "2", "R")[i % 4]}
        for i, row in enumerate(GOOD)
    ]
    thousands = [
        row | {"engine_speed_rpm": f'"{float(row["engine_speed_rpm"]):,.1f}"'} for row in GOOD
    ]
    points = [
        row | {"engine_speed_rpm": f"{float(row['engine_speed_rpm']):,.1f}".replace(",", "\1")}
        for row in GOOD
    ]
    spelled = [row | {"fuel_rate_lph": f"{row['fuel_rate_lph']} L/h"} for row in GOOD]
    one = ("engine_speed_rpm",)
    return [
        _v("null markers", table(marked), changed=one),
        _v(
            "not-available codes",
            table(
                [
                    row
                    | ({"engine_speed_rpm": ("16383.75", "65535", "-999")[i % 3]} if i < 30 else {})
                    for i, row in enumerate(GOOD)
                ]
            ),
            codes={"not-available-code": 30},
            changed=one,
        ),
        _v(
            "implausible values",
            table(_changed(900, engine_speed_rpm="41000.0", coolant_temperature_c="900")),
            codes={"out-of-range": 2},
            changed=(*one, "coolant_temperature_c"),
        ),
        _v(
            "text in a number's place",
            table(_changed(900, engine_speed_rpm="ERR#7")),
            codes={"unreadable-value": 1},
            changed=one,
        ),
        _v("stuck speed", table(stuck), codes={"stuck": 199}, changed=("indicated_speed_mps",)),
        _v(
            "null island",
            table(no_fix),
            codes={"null-island": 80},
            changed=("latitude_deg", "longitude_deg"),
        ),
        _v(
            "position spike",
            table(spike),
            codes={"position-spike": 2},
            changed=("latitude_deg", "longitude_deg"),
        ),
        _v(
            "a speed of zero in the middle of the road",
            table(_changed(650, indicated_speed_mps="0")),
            codes={"leap": 1},
            changed=("indicated_speed_mps",),
        ),
        _v(
            "half a position",
            table(lonely),
            codes={"half-position": 1},
            changed=("latitude_deg", "longitude_deg"),
        ),
        _v(
            "whole km/h",
            table(),
            check=lambda r: _assert(
                abs(next(c.step for c in r.columns if c.channel == "indicated_speed_mps") - 1 / 3.6)
                < 1e-12
                and next(c.step for c in r.columns if c.channel == "gps_speed_mps") is None
            ),
        ),
        _v("positions with their side", table(sides)),
        _v("positions with a column for the side", table(apart, headings=with_sides)),
        _v(
            "positions in degrees and minutes",
            table(minutes, headings=with_sides),
            changed=("latitude_deg", "longitude_deg"),
            check=_near_positions,
        ),
        _v(
            "positions in degrees, minutes, seconds",
            table(degrees),
            changed=("latitude_deg", "longitude_deg"),
            check=_near_positions,
        ),
        _v(
            "positions without their degrees",
            table(
                partial,
                headings=HEADINGS
                | {
                    "latitude_deg": "Latitude [deg:min:s]",
                    "longitude_deg": "Longitude [deg:min:s]",
                },
            ),
            codes={"partial-position": 2 * ROWS},
            lacks=("latitude_deg", "longitude_deg"),
        ),
        _v(
            "gears and switches in words",
            table(geared, headings=flags),
            check=lambda r: _assert(
                r.samples["gear"].to_list()[:4] == [0, 1, 2, -1]
                and r.samples["lockup_engaged"].to_list()[:2] == [0, 1]
            ),
        ),
        _v(
            "thousands separators",
            table(thousands),
            codes={"thousands-separator": sum("," in r["engine_speed_rpm"] for r in thousands)},
        ),
        _v(
            "thousands with points",
            # the point is put in after the decimal points have become commas
            [line.replace("\1", ".") for line in table(points, delimiter=";", decimal=",")],
            codes={"thousands-separator": sum("\1" in r["engine_speed_rpm"] for r in points)},
        ),
        _v(
            "units in the cells",
            table(spelled, headings=_without_unit("fuel_rate_lph")),
            codes={"unit-in-cell": 1},
        ),
        _v(
            "rows that carry nothing",
            table([{"time": r["time"]} if i % 2 else r for i, r in enumerate(GOOD)]),
            rows_used=ROWS // 2,
            codes={"no-values": ROWS // 2},
        ),
        _v(
            "speed a little below zero",
            table(_changed(10, gps_speed_mps="-0.01")),
            codes={"small-negative-speed": 1},
        ),
    ]


def _dms(angle: float, sides: str) -> str:
    side = sides[0] if angle >= 0 else sides[1]
    angle = abs(angle)
    minutes = (angle - int(angle)) * 60
    return f"{int(angle)}°{int(minutes)}'{(minutes - int(minutes)) * 60:.4f}{chr(8243)}{side}"


def _near_positions(reading: Any) -> None:
    good = expected()
    for name in ("latitude_deg", "longitude_deg"):
        assert (reading.samples[name] - good[name]).abs().max() < 1e-7


@cache
def variants() -> tuple[Variant, ...]:
    """All of them: many files of tests ask, and making them takes seconds."""
    return (*dialects(), *damage(), *clocks(), *layouts(), *words(), *values())
