"""Drives of both periods at one logging interval."""

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from gearing.trips.even_rows import every, interval_of

START = datetime(2031, 5, 3, 8, tzinfo=UTC)


def samples(seconds: list[float], **channels: list[float | None]) -> pl.DataFrame:
    return pl.DataFrame({"time": [START + timedelta(seconds=s) for s in seconds], **channels})


def test_the_first_row_of_each_interval_is_kept() -> None:
    made = every(samples(list(range(12)), speed=[float(s) for s in range(12)]), 5.0)
    assert made["speed"].to_list() == [0.0, 5.0, 10.0]
    assert made["time"][1] == START + timedelta(seconds=5)


def test_of_two_recorders_rows_each_channel_is_kept() -> None:
    bus = [1.0, None, 2.0, None, 3.0, None]
    receiver = [None, 10.0, None, 20.0, None, 30.0]
    made = every(samples([0, 0.5, 2, 2.5, 4, 4.5], bus=bus, receiver=receiver), 4.0)
    assert made["bus"].to_list() == [1.0, 3.0]
    assert made["receiver"].to_list() == [10.0, 30.0]


@pytest.mark.parametrize(("share", "expected"), [(0.5, 1.0), (0.75, 5.0), (0.2, 1.0)])
def test_the_interval_that_so_much_of_the_road_is_logged_at_or_oftener(
    share: float, expected: float
) -> None:
    found = interval_of(np.array([5.0, 1.0, 1.0]), np.array([4.0, 3.0, 3.0]), share=share)
    assert found == expected


def test_without_any_road_there_is_no_interval() -> None:
    assert interval_of(np.array([1.0]), np.array([0.0]), share=0.5) == 0.0
    assert interval_of(np.array([]), np.array([]), share=0.5) == 0.0
