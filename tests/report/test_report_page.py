"""The page as text: whole, small, private, and in the reader's units alone."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import altair as alt
import fixture_results
import polars as pl
import pytest
from typed_results import typed

from gearing.messages import Items, Message, Moment, Position, UserText
from gearing.messages.display import Display
from gearing.messages.plain import to_plain
from gearing.report.chart import mark, panel, rows, still
from gearing.report.charts.ratio import ratio_chart
from gearing.report.document import drawing_library
from gearing.report.evidence.data import data_section
from gearing.report.evidence.speed_tables import months_table
from gearing.report.page import render, sections
from gearing.report.reader import for_reader, shared_names
from gearing.report.views.sheet import sheet
from gearing.results import dumps, read
from gearing.results.record import read_results
from gearing.run.batch import lines_again

VOID = {"meta", "br", "img", "path", "circle", "rect", "line", "link", "hr", "input"}


class Outline(HTMLParser):
    """Words outside scripts, styles and pictures; headings; whether every element is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.words: list[str] = []
        self.headings: list[int] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        del attrs
        if tag not in VOID:
            self.open.append(tag)
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        pass

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        assert self.open, tag
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not {"script", "style", "svg"} & set(self.open):
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))


def outline(page: str) -> Outline:
    found = Outline()
    found.feed(page)
    found.close()
    assert found.open == []
    return found


@pytest.fixture(scope="module")
def library() -> str:
    return drawing_library()


@pytest.mark.parametrize(
    ("case", "units"),
    [
        ("full", "metric"),
        ("one_period", "us"),
        ("no_fuel", "us"),
        ("cannot_tell", "metric"),
        ("empty", "us"),
    ],
)
def test_every_case_makes_a_whole_page(case: str, units: str, library: str) -> None:
    results = fixture_results.CASES[case]()
    page = render(typed(results), fixture_results.frames(results), units=units, library=library)
    found = outline(page)
    # headings go down one step at a time
    assert found.headings[0] == 1
    assert all(b - a <= 1 for a, b in zip(found.headings, found.headings[1:], strict=False))
    assert not re.search(r"\bNone\b|\bnan\b|\binf\b|Undefined", found.text)
    assert len(page.encode()) < 3_000_000


def test_charts_keep_to_their_grammar_and_say_what_they_show() -> None:
    results = fixture_results.full()
    for part in sections(typed(results), fixture_results.frames(results), Display("us")):
        for chart in part.charts:
            assert chart.title
            assert chart.reading.endswith(".")
            assert chart.alt.endswith(".")
            assert chart.table.rows
            assert all(len(row) == len(chart.table.head) for row in chart.table.rows)
            assert chart.panels
            for spec in chart.panels:  # against the grammar's own schema, which altair brings
                kind = alt.VConcatChart if "vconcat" in spec else alt.LayerChart
                assert kind.from_dict(spec)
        for shown in (*part.tables, *part.more):
            assert all(len(row) == len(shown.head) for row in shown.rows), shown.caption


def test_us_and_metric_words_never_mix(sample_run: tuple[Path, str], library: str) -> None:
    results = read_results(sample_run[0])
    frames = {
        name: pl.read_parquet(sample_run[0] / f"{name}.parquet")
        for name in ("trips", "segments", "routes")
    }
    us = outline(render(results, frames, units="us", library=library)).text
    metric = outline(render(results, frames, units="metric", library=library)).text
    # cautions and the glossary are the same for all; the claim is told both ways
    us, metric = (page.split("Cautions Wheel nuts Have")[0] for page in (us, metric))
    for both in ("miles or km alike", "to the whole revolution per mile"):  # the unit is the point
        us, metric = us.replace(both, ""), metric.replace(both, "")
    assert not re.search(r"km/h|L/100 km|\b(?:km|kg|m|kPa|m/s)\b|°C|m²", us)
    assert not re.search(r"\b(?:mph|mpg|miles?|lb|gal|ft|psi)\b|°F", metric)
    assert us.count("fuel consumption") == 1
    assert metric.count("fuel economy") == 1


def test_names_from_outside_never_become_markup(library: str) -> None:
    results = fixture_results.hostile()
    page = render(typed(results), fixture_results.frames(results), library=library)
    assert fixture_results.HOSTILE not in page
    assert "</script><script>" not in page.replace(library, "")
    found = re.search(r'id="specs">(.*?)</script>', page, re.DOTALL)
    assert found is not None
    assert fixture_results.CLOSER in json.dumps(json.loads(found[1]), ensure_ascii=False)


def test_the_policy_lets_nothing_in_but_the_pages_own_scripts(library: str) -> None:
    page = render(typed(fixture_results.full()), {}, library=library)
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page)
    assert policy is not None
    rules = policy[1].replace("&#39;", "'")
    assert "default-src 'none'" in rules
    assert "'unsafe-inline'" not in rules.split("script-src")[1].split(";")[0]
    outside = re.findall(r'(?:src|href)="([^#"][^"]*)"', page.replace(library, ""))
    assert outside == []


def test_the_page_holds_no_position(library: str) -> None:
    results = fixture_results.full()
    frames = fixture_results.frames(results)
    frames["segments"] = frames["segments"].with_columns(
        latitude_deg=pl.lit(39.123456), longitude_deg=pl.lit(-105.654321)
    )
    page = render(typed(results), frames, library=library)
    assert "39.123" not in page
    assert "105.654" not in page


def test_a_shared_page_has_no_times_files_or_positions(library: str) -> None:
    results = fixture_results.full()
    everything = Items(
        (
            UserText("/home/ann/logs/a-trip.csv", "file"),
            Position(39.12345, -105.54321),
            Moment("2026-03-02T07:15:30Z"),
            UserText("old-03", "trip"),
        )
    )
    told = Message("duplicate", (("other", everything),))
    results["warnings"][0] |= {"text": str(told), "trips": ["old-03"]}
    results["messages"] = {"/warnings/0/text": to_plain(told)}
    whole = typed(results)
    shown = for_reader(whole, Display(), hidden_trips=shared_names(whole)).warnings[0]
    assert shown.trips == ("before 3",)
    assert "as a file, a position, 2026-03-02 and before 3, which" in str(shown.told)
    found = fixture_results.frames(results)
    found["set_aside"] = pl.DataFrame(
        {
            "file": ["home/new-20.csv"],
            "column": ["Latitude"],
            "first_line": [2429],
            "count": [1],
            "value": ["39.12345"],
            "reason": ["cut-record"],
            "message": ["ends in 39.12345 at 07:20:11"],
        }
    )
    page = outline(render(typed(results), found, share=True, library=library)).text
    assert "cut record" in page
    assert "39.12345" not in page
    assert not re.search(r"\bold-\d\d\b|\bnew-\d\d\b|\.csv\b(?! beside)", page)
    assert not re.search(r"\b\d{1,2}:\d{2}\b", page)
    assert "without positions, times of day and file names" in page
    # sizes, rules and ratios are no paths or times
    assert "245/70R19.5" in page
    assert "49 CFR 393.82" in page


def test_ten_years_of_a_fleet_vehicle_stay_small(library: str) -> None:
    results = fixture_results.full()
    days = 3000
    start = date(2016, 1, 4)
    results["trips"] = [
        {**results["trips"][index % 28], "name": f"trip {index}"} for index in range(days)
    ]
    results["routes"] = [{**results["routes"][0], "name": f"pass {index}"} for index in range(12)]
    index = pl.int_range(days, eager=True)
    trips = pl.DataFrame({"index": index}).select(
        trip=pl.format("trip {}", "index"),
        side=pl.when(pl.col("index") < 2000).then(pl.lit("before")).otherwise(pl.lit("after")),
        start=pl.lit(datetime(2016, 1, 4, tzinfo=UTC)) + pl.duration(days=pl.col("index")),
        local_day=pl.lit(start) + pl.duration(days=pl.col("index")),
        true_m=pl.lit(90_000.0),
        final_drive=4.88 - 0.2 * (pl.col("index") >= 2000),
        final_drive_se=pl.lit(0.004),
        ambient_temperature_c=10.0 + (pl.col("index") % 20),
        flags=pl.lit([], dtype=pl.List(pl.String)),
        used=pl.lit(True),
    )
    steps = pl.int_range(6000, eager=True)
    routes = pl.concat(
        pl.DataFrame(
            {
                "route": f"pass {number}",
                "direction": way,
                "distance_m": steps * 50.0,
                "altitude_m": 1500.0 + 400 * (steps / 500).sin(),
                **{
                    f"{side}_{column}": 3.0 + (steps / 97).sin()
                    for side in ("before", "after")
                    for column in ("speed_mps", "gear", "load")
                },
            }
        )
        for number in range(12)
        for way in ("forward", "reversed")
    )
    segments = pl.DataFrame(
        {
            "segment": [number // 2 for number in range(40_000)],
            "side": ["before", "after"] * 20_000,
            "distance_m": [1000.0] * 40_000,
            "liters_per_100km": [25.0, 24.0] * 20_000,
        }
    )
    frames = {
        "trips": fixture_results.whole_trips(trips),
        "routes": fixture_results.whole_routes(routes),
        "segments": segments,
    }
    page = render(typed(results), frames, library=library)
    assert len(page.encode()) < 3_000_000
    outline(page)


def test_no_chart_takes_more_than_it_can_show() -> None:
    with pytest.raises(ValueError, match="aggregate"):
        rows(pl.DataFrame({"x": pl.int_range(5000, eager=True)}))


def test_before_and_after_differ_in_grey_print_and_stand_out_on_the_sheet() -> None:
    from importlib import resources

    style = (
        resources.files("gearing.report")
        .joinpath("templates", "page.css")
        .read_text(encoding="utf-8")
    )
    light, dark = (
        dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", block))
        for block in re.findall(r":root \{(.*?)\}", style, re.DOTALL)[:2]
    )
    for theme in (light, dark):
        for name in ("before", "after", "raise"):
            # graphics against what is beside them want 3 to 1 (WCAG 2.2, 1.4.11); thin lines and
            # small marks are held to what text wants
            assert _contrast(theme[name], theme["sheet"]) >= 4.5, name
        for name in ("ink", "muted", "house"):
            # text: WCAG 2.2, 1.4.3, at least 4.5 to 1
            assert _contrast(theme[name], theme["paper"]) >= 4.5, name
    assert _contrast(light["before"], light["after"]) >= 2


def _contrast(one: str, other: str) -> float:
    """Contrast ratio as WCAG 2.2 defines it."""
    low, high = sorted(_luminance(colour) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_months_of_many_trips_are_drawn_as_used() -> None:
    """Their marks once lacked what says so, and were left out of the picture."""
    days = pl.int_range(900, eager=True)
    trips = pl.DataFrame({"day": days}).select(
        trip=pl.format("t{}", "day"),
        side=pl.when(pl.col("day") < 450).then(pl.lit("before")).otherwise(pl.lit("after")),
        local_day=pl.lit(date(2016, 1, 4)) + pl.duration(days=pl.col("day")),
        final_drive=4.88 - 0.2 * (pl.col("day") >= 450),
        used=pl.col("day") != 5,
    )
    results = typed(fixture_results.full())
    found = ratio_chart(results, fixture_results.whole_trips(trips), Display("us"))
    assert found is not None
    left_out = [row[found.table.head.index("Left out")] for row in found.table.rows]
    assert left_out.count("yes") == 1
    # by the calendar 15 months before, 16 after
    assert left_out.count("no") == len(left_out) - 1 == 31


def test_the_years_make_months() -> None:
    results = fixture_results.full()
    first = datetime(2016, 1, 4, tzinfo=UTC)
    trips = pl.DataFrame(
        {
            "trip": [f"t{i}" for i in range(400)],
            "side": ["before"] * 400,
            "local_day": [(first + timedelta(days=i)).date() for i in range(400)],
            "true_m": [50_000.0] * 400,
        }
    )
    found = {"trips": fixture_results.whole_trips(trips)}
    parts = sections(typed(results), found, Display("metric"))
    cover = next(c for part in parts for c in part.charts if c.key == "cover")
    assert "month" in cover.reading
    assert len(cover.table.rows) == 14


def _paths(tree: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Every key of the results, of lists the first row alone."""
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield (*path, key)
            yield from _paths(value, (*path, key))
    elif isinstance(tree, list) and tree:
        yield (*path, 0)
        yield from _paths(tree[0], (*path, 0))


@pytest.mark.parametrize(
    ("first", "damage"), [(0, None), (2, "gone"), (4, "words where none belong"), (6, -1.0)]
)
def test_any_key_of_a_results_file_may_be_missing_or_strange(
    first: int, damage: object, tmp_path: Path
) -> None:
    """What an earlier run left is read again from disk; in memory nothing goes missing.

    Either there is no telling it, and the study is run anew, or it is told.
    """
    file = tmp_path / "results.json"
    whole = typed(fixture_results.full()).tree()
    places = list(_paths(whole))
    assert len(places) > 400
    told = 0
    for path in places[first::8]:
        damaged = copy.deepcopy(whole)
        parent: Any = damaged
        for step in path[:-1]:
            parent = parent[step]
        if damage == "gone" and isinstance(parent, dict):
            del parent[path[-1]]
        else:
            parent[path[-1]] = damage
        file.write_text(dumps(damaged), encoding="utf-8")
        results = read(file)
        if path == ("schema",):
            assert results is None
            continue
        assert results is not None
        lines = lines_again(results)
        told += lines is not None
        assert lines is None or all(line.text for line in lines)
    assert told < len(places[first::8])


def test_a_distance_nobody_measured_is_not_nothing() -> None:
    """Without a receiver the page once told of 0 true miles."""
    results = fixture_results.full()
    found = fixture_results.frames(results)
    found["trips"] = found["trips"].with_columns(true_m=pl.lit(None, pl.Float64))
    results["speed"]["distance_by_month"] = [
        {"month": "2026-02", "side": "before", "true_km": 0.0, "indicated_km": 508.0}
    ]
    display = Display("metric")
    assert sheet(typed(results), found, display).facts[0].endswith(" trips")
    months = months_table(typed(results), display)
    assert months.head[2:] == ("By the computer [km]",)
    assert months.rows[0][2:] == ("508",)
    covered = next(
        t
        for t in data_section(typed(results), found, display).tables
        if t.caption.startswith("What the")
    )
    assert {row[3] for row in covered.rows} == {"not known"}


def test_one_trip_is_counted_in_the_singular() -> None:
    results = fixture_results.full()
    found = {"trips": fixture_results.frames(results)["trips"].head(1)}
    facts = sheet(typed(results), found, Display("us")).facts
    assert facts[0].startswith("1 trip, ")


def test_one_size_throughout_says_what_old_and_new_mean() -> None:
    results = fixture_results.full()
    results["declared"]["after"]["drive_tire"] = results["declared"]["before"]["drive_tire"]
    told = sheet(typed(results), {}, Display("us")).tires
    assert told.startswith("245/70R19.5 throughout: old and new mean before")


def test_a_page_of_one_period_speaks_of_one_set_of_tires(library: str) -> None:
    """It once asked the reader to compare lines of which one was not drawn."""
    results = fixture_results.full()
    kept = copy.deepcopy(results["routes"])
    results = fixture_results.one_period()
    for route in kept:
        route["after"] = None
        route.get("reversed", {})["after"] = None
    results["routes"] = kept
    found = fixture_results.frames(results)
    found["routes"] = found["routes"].with_columns(
        pl.lit(None, pl.Float64).alias(c) for c in found["routes"].columns if "after" in c
    )
    mountain = sections(typed(results), found, Display("us"))[2]
    routes = [chart for chart in mountain.charts if chart.key.startswith("route")]
    assert routes
    for chart in mountain.charts:
        if chart.sides and chart.key != "gradeability":  # the fixture's gears hold on both
            assert chart.sides == ("before",), chart.key
            assert not re.search(r"both|pair|other tires|new tires", chart.reading), chart.key
        assert not any("new" in name for name in chart.table.head)
    assert "both sets" not in " ".join(mountain.lead)
    key = render(typed(results), found, library=library).split('class="sides"')[1].split("</p>")[0]
    assert "old tires" in key
    assert "new tires" not in key


def test_a_routes_slowest_point_is_that_of_the_answer() -> None:
    """To those who hear the chart a standing start was once the slowest point of the climb."""
    results = fixture_results.full()
    found = fixture_results.frames(results)
    for side in ("before", "after"):
        at = pl.col(f"{side}_speed_mps")
        found["routes"] = found["routes"].with_columns(
            pl.when(pl.col("distance_m") == 0).then(1.0).otherwise(at).name.keep()
        )
    told = next(
        chart.alt
        for chart in sections(typed(results), found, Display("metric"))[2].charts
        if chart.key == "route-0"
    )
    for side, tires in (("before", "old"), ("after", "new")):
        lowest = results["routes"][0][side]["lowest_speed_kmh"]
        assert re.search(rf"slowest {lowest:.0f} km/h in gear \d on the {tires} tires", told)


def test_thousands_of_cases_set_aside_make_a_short_table() -> None:
    results = fixture_results.full()
    lines = pl.DataFrame({"first_line": range(2, 4002)}).with_columns(
        file=pl.lit("a.csv"), column=pl.lit(""), count=pl.lit(1), reason=pl.lit("long-row")
    )
    other = pl.DataFrame({"file": [f"{i}.csv" for i in range(70)]}).with_columns(
        column=pl.lit(""), first_line=pl.lit(9), count=pl.lit(2), reason=pl.lit("short-row")
    )
    frame = pl.concat([other, lines], how="diagonal_relaxed")
    shown = sections(typed(results), {"set_aside": frame}, Display("us"))[5].tables[-1]
    assert len(shown.rows) == 60
    assert shown.head == ("File", "Reason", "First line", "Count")
    assert shown.rows[0] == ("a.csv", "long row", "2", "4000")
    assert "11 more rows" in shown.note


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (0, ""),
        (1, "1 question about your files is open."),
        (3, "3 questions about your files are open."),
    ],
)
def test_open_questions_are_told_at_the_top(count: int, words: str, library: str) -> None:
    results = fixture_results.full()
    results["questions"] = results["questions"][:1] * count
    page = render(typed(results), {}, library=library)
    top = page.split('id="answers"')[1].split("<article")[0]
    assert words in top
    assert ("about your files" in top) == bool(count)


def test_a_still_picture_tells_figures_as_they_are() -> None:
    """Coordinates are cut short in it; a label of 1.0 % once was, too."""
    row = [{"at": 1.25, "said": "1.0 %"}]
    layer = mark("text", row, {}, x=alt.X("at:Q"), text=alt.Text("said:N"))
    drawn = still(panel([layer], "", 60), "a")
    assert ">1.0 %<" in drawn
    assert not re.search(r"\d\.\d{2}", re.sub(r">[^<]*<", "><", drawn))
