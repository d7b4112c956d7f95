"""The spread of use until a parcel comes against numpy's convolution, and the backtest on a year of rain.

The rain is Seattle's of 2012, a day for a week: the record that vega-datasets carries.
"""

import csv
from importlib.metadata import files
from pathlib import Path
from random import Random

import numpy as np
import pytest

from inventory.core.backtest import compute_backtest
from inventory.core.demand import compute_enough, sum_weeks

LUMPY = [0, 5, 0, 0, 12, 3, 0, 7, 0, 0, 20, 1]


@pytest.mark.parametrize("weeks", [0, 1, 3, 6])
@pytest.mark.parametrize("certainty_pct100", [5_000, 9_000, 9_900])
def test_what_is_taken_past_the_point_and_until_a_parcel_comes(weeks, certainty_pct100):
    one = np.bincount(LUMPY) / len(LUMPY)
    past = np.array([sum(used > lacked for used in LUMPY) for lacked in range(max(LUMPY))]) / sum(LUMPY)
    spread = past
    for _ in range(weeks):
        spread = np.convolve(spread, one)
    judged = int(np.argmax(np.cumsum(spread) >= certainty_pct100 / 10_000 - 1e-12))
    assert compute_enough([sum_weeks(LUMPY, weeks, 1, from_level=True)], certainty_pct100) == judged


@pytest.fixture(scope="module")
def rain():
    """Tenths of a millimetre a day: two days in three are dry."""
    record = next(file for file in files("vega_datasets") or () if file.name == "seattle-weather.csv")
    with Path(str(record.locate())).open(newline="") as lines:
        return [round(float(day["precipitation"]) * 10) for day in csv.DictReader(lines)][:365]


def test_rain_in_random_order_is_covered_as_often_as_was_asked(rain):
    """Of 170 times that overlap; the deviation of so many is some 4 in a hundred."""
    Random(3).shuffle(rain := list(rain))
    assert 8_200 < compute_backtest(rain, 2, 9_000).enough_pct100 < 9_800


def test_rain_as_it_fell_comes_in_runs_and_the_backtest_says_so(rain):
    """Wet days follow wet days, which draws one by one do not know: the share is far below what was asked."""
    found = compute_backtest(rain, 2, 9_000)
    assert len(found.windows) > 150 and found.enough_pct100 < 8_000
