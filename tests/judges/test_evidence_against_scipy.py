"""The exact test and the interval of the odds ratio against scipy, which works in floats and by another search."""

from itertools import product
from math import inf

import pytest
from scipy.stats import fisher_exact
from scipy.stats.contingency import odds_ratio

from inventory.core.odds import Split, compute_chance, compute_odds

TABLES = [
    Split(*cells)
    for cells in [*product((0, 1, 3), (0, 2, 7), (0, 1, 4), (1, 9)), (12, 30, 4, 90), (40, 160, 20, 1780)]
]
TELLING = [one for one in TABLES if one.cases and one.others and 0 < one.failed < one.count]


def cells(split):
    return [[split.failed_with, split.good_with], [split.failed_without, split.good_without]]


@pytest.mark.parametrize("split", TELLING, ids=str)
def test_chance_and_interval(split):
    chance, _ = compute_chance(split)
    assert float(chance) == pytest.approx(fisher_exact(cells(split)).pvalue, rel=1e-9)
    judged = odds_ratio(cells(split), kind="conditional").confidence_interval(0.95)
    odds = compute_odds(split)
    assert float(odds.low) == pytest.approx(judged.low, rel=2e-4)
    assert (inf if odds.high is None else float(odds.high)) == pytest.approx(judged.high, rel=2e-4)
