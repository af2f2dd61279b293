"""Standard parameter numbers as names, in any layout, with and without headings.

PIDs and units by SAE J1979 (0C engine speed [rpm], 0D vehicle speed [km/h], 05 coolant [degC]),
SPNs by SAE J1939-71 (190 engine speed, 84 vehicle speed).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from gearing.logs.read import read_log

START_MS = 1_772_352_000_000  # 2026-03-01T08:00:00Z
N = 200


def _values(i: int) -> tuple[float, int, int]:
    return 800 + 7.25 * i, i % 90, 40 + i // 10


def _long(template: str, names: tuple[str, str, str], head: str = "") -> str:
    lines = [head] if head else []
    for i in range(N):
        for j, (name, value) in enumerate(zip(names, _values(i), strict=True)):
            lines.append(template.format(ms=START_MS + i * 1000 + j, name=name, value=value))
    return "\n".join(lines) + "\n"


LONG = {
    "no headings": _long("{ms};{name};{value}", ("010C", "010D", "0105")),
    "no headings, five columns": _long("7;{ms};{name};x;{value}", ("010C", "010D", "0105")),
    "no headings, by words": _long(
        "{ms},{name},{value}", ("Engine speed", "Vehicle speed (km/h)", "Coolant temperature (°C)")
    ),
    "headings, service and number": _long(
        "{ms};{name};{value}", ("010C", "010D", "0105"), "time;pid;value"
    ),
    "headings, number alone": _long("{ms};{name};{value}", ("0C", "0D", "05"), "time;PID;value"),
    "suspect parameter numbers": _long(
        "{ms},{name},{value}", ("190", "84", "110"), "Time,SPN,Value"
    ),
}


@pytest.mark.parametrize("name", LONG)
def test_one_value_a_row(name: str, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(LONG[name])
    reading = read_log(path)
    assert (reading.rows_read, reading.rows_used) == (3 * N, 3 * N)
    assert reading.dialect.kind == "long table"
    samples = reading.samples
    assert samples["engine_speed_rpm"].drop_nulls().to_list() == [_values(i)[0] for i in range(N)]
    speeds = [_values(i)[1] / 3.6 for i in range(N)]
    assert samples["indicated_speed_mps"].drop_nulls().to_list() == pytest.approx(speeds)
    assert samples["coolant_temperature_c"].drop_nulls().to_list() == [
        _values(i)[2] for i in range(N)
    ]
    assert str(samples["time"][0]) == "2026-03-01 08:00:00+00:00"


@pytest.mark.parametrize(
    "head", ["Time;010C;010D;0105", "Time;0x010C;0x010D;0x0105", "Time;010C [rpm];010D [km/h];0105"]
)
def test_one_row_a_time(head: str, tmp_path: Path) -> None:
    rows = [f"{START_MS + i * 1000};" + ";".join(map(str, _values(i))) for i in range(N)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([head, *rows]) + "\n")
    samples = read_log(path).samples
    assert samples["engine_speed_rpm"].to_list() == [_values(i)[0] for i in range(N)]
    assert samples["coolant_temperature_c"].to_list() == [_values(i)[2] for i in range(N)]
    speeds = [_values(i)[1] / 3.6 for i in range(N)]
    assert samples["indicated_speed_mps"].to_list() == pytest.approx(speeds)


def test_numbers_without_names_are_not_guessed_at(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("\n".join(f"{START_MS + i * 1000};{i};{i * 2}" for i in range(N)) + "\n")
    assert [p.code for p in read_log(path).set_aside_rows] == ["no-headings"]


@pytest.mark.parametrize(
    "heading", ["PID 0F", "010F", "SPN 172", "SPN 105", "Intake air temperature"]
)
def test_the_air_the_engine_draws(heading: str, tmp_path: Path) -> None:
    """SAE J1979 PID 0F; SAE J1939-71 SPN 172 (air intake) and 105 (intake manifold 1)."""
    rows = [f"{START_MS + i * 1000};800;{-3 + i % 2}" for i in range(N)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([f"Time;Engine speed [rpm];{heading} [degC]", *rows]) + "\n")
    samples = read_log(path).samples
    assert samples["intake_air_temperature_c"].to_list() == [-3 + i % 2 for i in range(N)]


@pytest.mark.parametrize(
    ("headings", "channel", "first"),
    [
        ("SPN 105,SPN 172", "intake_air_temperature_c", "SPN 172"),
        ("SPN 245,SPN 917", "indicated_distance_m", "SPN 917"),
        ("SPN 918,SPN 245", "indicated_distance_m", "SPN 245"),
    ],
)
def test_of_several_parameters_for_one_channel_the_better_serves(
    headings: str, channel: str, first: str, tmp_path: Path
) -> None:
    """SAE J1939-71 (from memory): 105 is the air behind the charger, 172 before it; 917 counts by
    5 m, 245 by 125 m, 244 and 918 the trip. No question need be asked."""
    rows = [f"{START_MS + i * 1000},{20 + i},{25 + i}" for i in range(N)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([f"Time,{headings}", *rows]) + "\n")
    reading = read_log(path)
    assert reading.questions == ()
    assert [c.heading for c in reading.columns if c.channel == channel] == [first]


def test_numbers_in_hexadecimal_alone(tmp_path: Path) -> None:
    rows = [f"{START_MS + i * 1000};" + ";".join(map(str, _values(i))) for i in range(N)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(["Time;0x0C;0x0D;0x05", *rows]) + "\n")
    samples = read_log(path).samples
    assert samples["engine_speed_rpm"].to_list() == [_values(i)[0] for i in range(N)]
    assert samples["indicated_speed_mps"].max() == pytest.approx(89 / 3.6)


def test_units_in_a_column_of_their_own_without_headings(tmp_path: Path) -> None:
    lines = [
        f"{START_MS + i * 1000},{name},{value},{unit}"
        for i in range(N)
        for name, value, unit in (
            ("Vehicle speed", 30 + i % 40, "mph"),
            ("Engine speed", 1500, "rpm"),
        )
    ]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines) + "\n")
    reading = read_log(path)
    assert reading.questions == ()
    assert reading.samples["indicated_speed_mps"].max() == pytest.approx(69 * 0.44704)
