"""What is kept between runs comes back the same, and damage is refused."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gearing.messages import Problem, Severity
from gearing.run.serialize import pack, unpack
from gearing.trips.join import Recording


@dataclass(frozen=True)
class Inner:
    text: str
    pair: tuple[float, str]


@dataclass(frozen=True)
class Outer:
    when: datetime
    day: date
    number: int
    maybe: float | None
    names: frozenset[str]
    shares: dict[str, float]
    inner: Inner | None
    many: tuple[Inner, ...]
    problems: tuple[Problem, ...]
    frame: pl.DataFrame


def _outer(number: int, maybe: float | None, text: str) -> Outer:
    problem = Problem(code="c", severity=Severity.NOTE, told=text, count=3, first_line=2)
    inner = Inner(text, (0.1, text))
    return Outer(
        datetime(2026, 3, 1, 12, tzinfo=UTC),
        date(2026, 3, 1),
        number,
        maybe,
        frozenset({"a", text}),
        {"x": 0.5},
        None if maybe is None else inner,
        (inner, inner),
        (problem,),
        pl.DataFrame({"a": [1.5, None], "t": [text, "y"]}),
    )


def _same(one: Outer, other: Outer) -> bool:
    names = [name for name in Outer.__dataclass_fields__ if name != "frame"]
    return all(getattr(one, n) == getattr(other, n) for n in names) and one.frame.equals(
        other.frame
    )


@given(
    st.integers(-(2**60), 2**60),
    st.none() | st.floats(allow_nan=False),
    st.text(st.characters(exclude_categories=["Cs"])),
)
def test_every_field_comes_back(number: int, maybe: float | None, text: str) -> None:
    value = _outer(number, maybe, text)
    assert _same(unpack(Outer, pack(value)), value)
    assert len(unpack(list[Outer], pack([value, value]))) == 2


def test_a_recording_comes_back() -> None:
    when = datetime(2026, 3, 1, tzinfo=UTC)
    value = Recording("f", when, when, frozenset({"a"}), (1, 2), (0.5, 1.5), "a")
    assert unpack(Recording, pack(value)) == value


@pytest.mark.parametrize("cut", [0, 1, 10, 200, -1])
def test_a_cut_pack_is_refused(cut: int) -> None:
    with pytest.raises(ValueError, match="not a"):
        unpack(Outer, pack(_outer(1, 2.0, "x"))[:cut])


def test_another_shape_is_refused() -> None:
    with pytest.raises(ValueError, match="not a"):
        unpack(Outer, pack(Inner("a", (1.0, "b"))))
