"""What else a study may declare: loads, checks of the dash, the claim, money and routes."""

from __future__ import annotations

import os
import re
from datetime import datetime
from pathlib import Path

from gearing.logs.column_rule import ColumnRule, rules_for
from gearing.logs.endings import shown_name
from gearing.messages import Quantity, UserText, message
from gearing.messages.display import places_of
from gearing.study.files import find_file
from gearing.study.model import Claim, DashReading, Load, Measured, Money, Route
from gearing.study.moments import read_moment
from gearing.study.section import Section
from gearing.study.words import shown
from gearing.units import BY_NAME, convert, find_unit

MIN_CLAIM_PERCENT = 0.2  # a smaller figure is a share where a percentage is wanted
CURRENCIES = {"$": "USD", "€": "EUR", "£": "GBP"}


def _span(section: Section) -> tuple[datetime, datetime] | None:
    start = read_moment(section, "from")
    end = read_moment(section, "to", end_of_day=True)
    section.require("from", "2026-03-14")
    section.require("to", "2026-03-15")
    if start is None or end is None:
        return None
    if end <= start:
        end_shown = shown(section.values["to"])
        section.fault("to", message("study-date/order", key=section.called("to"), shown=end_shown))
        return None
    return start, end


def read_loads(sections: list[Section]) -> tuple[Load, ...]:
    """The `[[load]]` tables that have both ends, in the order of the file; faults are noted."""
    loads: list[Load] = []
    for section in sections:
        span = _span(section)
        mass = section.quantity("mass", "kg", "28500 lb", 300, 150_000)
        towing = section.flag("towing")
        if not {"mass", "towing"} & set(section.values):
            section.require("mass", '"28500 lb"', message("needs/mass"))
        if span is None:
            continue
        clash = next((load for load in loads if load.start < span[1] and span[0] < load.end), None)
        if clash is not None:
            told = message(
                "study-conflict/same-moment",
                key=section.called("from"),
                shown=shown(section.values["from"]),
            )
            section.fault("from", told)
        loads.append(Load(start=span[0], end=span[1], mass_kg=mass, towing=bool(towing)))
    return tuple(loads)


def read_measured(sections: list[Section]) -> tuple[Measured, ...]:
    """The `[[measured]]` tables that can be used, in the order of the file; faults are noted."""
    measured = []
    for section in sections:
        span = _span(section)
        distance = section.quantity("distance", "m", "5.00 mi", 50, 1e7)
        road = section.text("road", '"county road 12, mile 3 to 8"')
        if not {"distance", "road"} & set(section.values):
            section.require("distance", '"5.00 mi"', message("needs/distance"))
        if span is not None and (distance is not None or road is not None):
            measured.append(Measured(start=span[0], end=span[1], distance_m=distance, road=road))
    return tuple(measured)


def read_dash(
    top: Section, columns: tuple[ColumnRule, ...], fillups: Path | None
) -> tuple[Path | None, tuple[DashReading, ...]]:
    """Readings of the dash, from `[[dash]]` tables or from the file that `dash = "..."` names;
    the fill-up log of the same dash tells its units where headings leave them open."""
    if isinstance(top.values.get("dash"), str):
        path = find_file(top, "dash", '"dash.csv"')
        return path, () if path is None else _dash_rows(top, path, columns, fillups)
    readings = []
    for section in top.parts("dash"):
        at = read_moment(section, "at")
        section.require("at", "2026-03-14T09:30:00")
        speed = section.quantity("speed", "m/s", "55 mph", 0, 70)
        odometer = section.quantity("odometer", "m", "48210 mi", 0, 5e9)
        if not {"speed", "odometer"} & set(section.values):
            section.require("speed", '"55 mph"', message("needs/reading"))
        if at is not None and (speed is not None or odometer is not None):
            readings.append(DashReading(at=at, speed_mps=speed, odometer_m=odometer))
    return None, tuple(readings)


def _dash_rows(
    top: Section, path: Path, columns: tuple[ColumnRule, ...], fillups: Path | None
) -> tuple[DashReading, ...]:
    """What is set aside in the file is told by the run, which reads it once more."""
    # slow to load, and seldom needed
    from gearing.logs.dash_rows import read_dash_rows
    from gearing.logs.fillups import read_fillups

    def rules(of: Path) -> tuple[ColumnRule, ...]:
        return rules_for(columns, shown_name(Path(os.path.relpath(of, folder))))

    folder, zone = top.faults.document.path.parent, str(top.zone)
    like = read_fillups(fillups, zone, rules(fillups)).written if fillups else None
    rows = read_dash_rows(path, zone, rules(path), like).frame
    return tuple(
        DashReading(at=at, speed_mps=speed, odometer_m=odometer)
        for at, speed, odometer in rows.iter_rows()
    )


def read_claim(section: Section | None) -> Claim | None:
    """The claim as a change of consumption; economy is its reciprocal."""
    if section is None:
        return None
    consumption = section.number("consumption_change_percent", "-4", -60, 60)
    economy = section.number("economy_change_percent", "4.2", -60, 150)
    given = [key for key in section.asked if key in section.values]
    if len(given) == 2:
        told = message(
            "study-conflict/both-claims", key=section.called(given[1]), other=UserText(given[0])
        )
        section.fault(given[1], told)
        return None
    if not given:
        section.require("consumption_change_percent", "-4")
    claimed = {"consumption_change_percent": consumption, "economy_change_percent": economy}
    for key, value in claimed.items():
        if value is not None and 0 < abs(value) < MIN_CLAIM_PERCENT:
            percent = 100 * value
            told = message(
                "study-range/share",
                key=section.called(key),
                shown=shown(section.values[key]),
                name=UserText(key),
                percent=Quantity(percent, "-", places_of(round(percent, 3), figures=6)),
            )
            section.fault(key, told)
            return None
    if economy is not None:
        if economy <= 0:
            key = "economy_change_percent"
            told = message(
                "study-range/economy", key=section.called(key), shown=shown(section.values[key])
            )
            section.fault(key, told)
            return None
        return Claim(consumption_change_percent=(1 / (1 + economy / 100) - 1) * 100)
    if consumption is not None and consumption >= 0:
        key = "consumption_change_percent"
        told = message(
            "study-range/consumption", key=section.called(key), shown=shown(section.values[key])
        )
        section.fault(key, told)
        return None
    return None if consumption is None else Claim(consumption_change_percent=consumption)


_MONEY = re.compile(r"([$€£]?)\s*(\d[\d_]*(?:,\d{3})*(?:\.\d*)?|\.\d+)\s*([A-Za-z]{3}|[$€£])?")


def _money(section: Section, key: str, example: str, per: str | None) -> tuple[float, str] | None:
    """An amount and its currency; with `per`, an amount for one of that unit."""
    text = section.text(key, f'"{example}"') if isinstance(section.get(key), str) else None
    called, name, written = section.called(key), UserText(key), UserText(f'"{example}"')
    if text is None:
        if section.get(key) is not None and key not in section.faulty:
            given = shown(section.values[key])
            told = message(
                "study-unit/currency", key=called, shown=given, name=name, example=written
            )
            section.fault(key, told)
        return None
    amount_text, _, unit_text = text.partition("/")
    match = _MONEY.fullmatch(amount_text.strip())
    unit = find_unit(unit_text, (BY_NAME[per].dimension,)) if per else None
    mark = (match[1] or match[3]) if match else None
    if match is None or not mark or bool(unit_text) != bool(per) or (per and unit is None):
        told = message(
            "study-unit/money",
            key=called,
            shown=shown(text),
            volume=bool(per),
            name=name,
            example=written,
        )
        section.fault(key, told)
        return None
    amount = float(re.sub("[_,]", "", match[2]))
    if unit is not None and per is not None:
        amount /= convert(1.0, unit.name, per)
    return amount, CURRENCIES.get(mark, mark.upper())


def read_money(section: Section | None) -> Money | None:
    """The `[money]` table: price by liter, distance in meters; None without one."""
    if section is None:
        return None
    price = _money(section, "fuel_price", "4.10 USD/gal", "L")
    cost = _money(section, "cost", "2400 USD", None)
    distance = section.quantity("distance_per_year", "m", "6000 mi", 1, 1e9)
    if price is not None and cost is not None and price[1] != cost[1]:
        told = message(
            "study-conflict/currencies",
            key=section.called("cost"),
            cost=UserText(cost[1]),
            price=UserText(price[1]),
        )
        section.fault("cost", told)
    return Money(
        fuel_price_per_l=price[0] if price else None,
        currency=(price or cost or (0, "USD"))[1],
        distance_per_year_m=distance,
        cost=cost[0] if cost else None,
    )


def read_routes(sections: list[Section]) -> tuple[Route, ...]:
    """The `[[route]]` tables that have a name and a profile, in the order of the file; faults
    are noted."""
    routes: list[Route] = []
    for section in sections:
        name = section.text("name", '"Cold Spring Pass"')
        section.require("name", '"Cold Spring Pass"')
        if name is not None and any(route.name == name for route in routes):
            told = message(
                "study-conflict/two-routes", key=section.called("name"), shown=shown(name)
            )
            section.fault("name", told)
        profile = find_file(section, "profile", '"routes/cold_spring.csv"')
        section.require("profile", '"routes/cold_spring.csv"', message("needs/profile"))
        speed = section.quantity("target_speed", "m/s", "60 mph", 1, 45)
        if name is not None and profile is not None:
            routes.append(Route(name=name, profile=profile, target_speed_mps=speed))
    return tuple(routes)
