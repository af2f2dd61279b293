"""An owner's folder: a phone's GPX tracks, a notebook a spreadsheet saved, photos of the dash.

Made by another route than the package: drives second by second on invented roads out and back,
fuel by distance, season and chance, an odometer that the tires change, a needle with a gain and an
offset. What is true is set down in `Owner`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

MILE_M, GALLON_L = 1609.344, 3.785411784
LARGER = 1.035  # circumference, new tires over old
SAVED = -0.03  # of ln fuel per true distance
GAIN, OFFSET_KMH = 1.03, 1.0  # of the needle on the old tires
CHANGE = datetime(2026, 6, 15, tzinfo=UTC)
METRE_PER_DEGREE = 111_195.0


@dataclass
class Owner:
    """`fills`: moment, odometer [m], liters; `photos`: moment, needle [km/h]; local time."""

    zone: ZoneInfo
    fills: list[tuple[datetime, float, float]] = field(default_factory=list)
    photos: list[tuple[datetime, float]] = field(default_factory=list)

    def true_kmh(self, shown_kmh: float, *, after: bool) -> float:
        return (shown_kmh - OFFSET_KMH) / GAIN * (LARGER if after else 1.0)


def make_owner(
    folder: Path, zone: str, usual_kmh: float, write: Callable[[Path, Owner], None], seed: int
) -> Owner:
    """Nine months of drives, a fifth of them logged, and the files of one owner."""
    rng = np.random.default_rng(seed)
    owner = Owner(ZoneInfo(zone))
    odometer, burnt = 66_300_000.0, 0.0
    day = datetime(2026, 2, 2, tzinfo=owner.zone)
    owner.fills.append((day.replace(hour=18), odometer, 90.0))
    logged = {False: 0, True: 0}
    while day < datetime(2026, 11, 1, tzinfo=owner.zone):
        after = day >= CHANGE
        if rng.random() < 0.5:
            at = day.replace(hour=9, minute=int(rng.integers(50)), second=int(rng.integers(60)))
            way = rng.uniform(60, 140)
            cold = math.cos(2 * math.pi * (day.timetuple().tm_yday - 17) / 365.25)
            rate = 0.30 * math.exp(0.033 * cold + (SAVED if after else 0) + rng.normal(0, 0.03))
            if logged[after] < 6:
                speed = _track(folder, at, after, usual_kmh, rng)
                if logged[after] < 3:
                    second = int(rng.integers(420, len(speed) - 420))
                    shown = GAIN * speed[second] / (LARGER if after else 1) + OFFSET_KMH
                    owner.photos.append((at + timedelta(seconds=second), shown))
                logged[after] += 1
            odometer += 1000 * way / (LARGER if after else 1)
            burnt += way * rate
        if burnt > 130:
            pumped = burnt * rng.normal(1, 0.006)
            owner.fills.append((day.replace(hour=18, minute=20), odometer, pumped))
            burnt = 0.0
        day += timedelta(days=1)
    write(folder, owner)
    return owner


def _track(
    folder: Path, at: datetime, after: bool, usual_kmh: float, rng: np.random.Generator
) -> np.ndarray:
    """A drive of about half an hour as a phone writes it; its speed by the second [km/h]."""
    seconds = int(rng.integers(1500, 2100))
    t = np.arange(seconds)
    speed = usual_kmh * rng.uniform(0.9, 1.05) + np.cumsum(rng.normal(0, 0.12, seconds))
    speed *= np.clip(np.minimum(t, seconds - 1 - t) / 60, 0, 1)
    speed[int(seconds * 0.5) :][:20] *= np.abs(np.linspace(-1, 1, 20))  # halts once
    course = np.radians(rng.uniform(0, 360)) + 0.4 * np.sin(t / 300)
    step = speed / 3.6
    north, east = (np.cumsum(step * of(course)) for of in (np.cos, np.sin))
    north, east = (way + _wander(seconds, rng) for way in (north, east))
    latitude = 47.0 + north / METRE_PER_DEGREE
    longitude = 9.0 + east / METRE_PER_DEGREE / math.cos(math.radians(47.0))
    height = 500 + 150 * np.sin(np.cumsum(step) / 4000) + rng.normal(0, 0.7, seconds)
    begin = at.astimezone(UTC)
    points = [
        f'<trkpt lat="{a:.7f}" lon="{b:.7f}"><ele>{h:.1f}</ele>'
        f"<time>{begin + timedelta(seconds=int(i)):%Y-%m-%dT%H:%M:%SZ}</time></trkpt>"
        for i, a, b, h in zip(t, latitude, longitude, height, strict=True)
    ]
    place = folder / ("after" if after else "before")
    place.mkdir(parents=True, exist_ok=True)
    head = '<gpx version="1.1" creator="phone" xmlns="http://www.topografix.com/GPX/1/1">'
    text = f"{head}<trk><trkseg>{''.join(points)}</trkseg></trk></gpx>"
    (place / f"Track {at:%Y-%m-%d %H%M}.gpx").write_text(text, encoding="utf-8")
    return speed


def _wander(count: int, rng: np.random.Generator) -> np.ndarray:
    """A receiver's error [m]: a meter or so that drifts over a minute."""
    from scipy.signal import lfilter

    return np.asarray(lfilter([0.25], [1, -0.98], rng.normal(size=count)))


def german(folder: Path, owner: Owner) -> None:
    """A spreadsheet's CSV: semicolons, decimal commas, days as 07.02.26, not UTF-8."""
    rows = ["Datum;km-Stand;Liter;Preis;voll getankt"]
    for at, odometer, liters in owner.fills:
        km = int(odometer / 1000)
        shown = f"{liters:.2f};{1.7 * liters:.2f} €".replace(".", ",")
        rows.append(f"{at:%d.%m.%y};{km // 1000}.{km % 1000:03d};{shown};ja")
    (folder / "Tankbuch.csv").write_bytes("\r\n".join(rows).encode("cp1252"))
    dash = [f"{at:%d.%m.%Y %H:%M};{shown:.0f}" for at, shown in owner.photos]
    (folder / "dash.csv").write_text("\n".join(["Uhrzeit;Tacho", *dash]) + "\n", encoding="utf-8")


def american(folder: Path, owner: Owner) -> None:
    """Thousands in quotes, days as 2/7/26, two odometers not noted and one fill left out."""
    rows = ["Date,Odometer,Gallons,Price/gal,Notes"]
    for number, (at, odometer, liters) in enumerate(owner.fills):
        shown = "" if number in (4, 11) else f'"{odometer / MILE_M:,.0f}"'
        if number != 7:
            rows.append(f"{at.month}/{at.day}/{at:%y},{shown},{liters / GALLON_L:.3f},$3.80,")
    (folder / "gas log.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    dash = ["When,Needle"]
    for at, shown in owner.photos:
        clock = f"{at.hour % 12 or 12}:{at:%M} {'AM' if at.hour < 12 else 'PM'}"
        dash.append(f"{at.month}/{at.day}/{at:%y} {clock},{shown / 1.609344:.0f} mph")
    (folder / "dash.csv").write_text("\n".join(dash) + "\n", encoding="utf-8")


def spanish(folder: Path, owner: Owner) -> None:
    rows = ["Fecha;Kilometraje;Litros;Importe;Lleno"]
    for at, odometer, liters in owner.fills:
        km = int(odometer / 1000)
        shown = f"{liters:.2f};{1.5 * liters:.2f}".replace(".", ",")
        rows.append(f"{at.day}/{at.month}/{at.year};{km // 1000}.{km % 1000:03d};{shown};sí")
    (folder / "repostajes.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    dash = [
        f"{at.day}/{at.month}/{at.year} {at:%H:%M};{shown:.0f} km/h" for at, shown in owner.photos
    ]
    head = "Fecha y hora;Velocidad"
    (folder / "dash.csv").write_text("\n".join([head, *dash]) + "\n", encoding="utf-8")
