"""The sums of a quote: by hand, and the range against a simulation that knows nothing of the formula."""

from dataclasses import replace
from fractions import Fraction
from random import Random
from statistics import NormalDist, quantiles

import pytest

from costing.core.quote import Z_TENTH, Doubt, Lot, compute_range, share_flasks

UNIT = 1_000_000
STUDS = Lot(
    label="Stud",
    quantity=12,
    metal_micro=4 * UNIT,
    work_micro=9 * UNIT,
    failed_pct100=1_000,
    doubt=Doubt(Fraction(UNIT**2), Fraction(UNIT**2, 4)),
)


def test_one_in_ten_is_that_of_the_standard_normal():
    assert float(Z_TENTH) == pytest.approx(NormalDist().inv_cdf(0.9), abs=1e-4)


def test_work_is_paid_again_for_what_fails_and_metal_comes_back():
    assert STUDS.each == 14 * UNIT
    assert STUDS.castings == 14  # 13.33
    assert replace(STUDS, failed_pct100=0).castings == 12
    found = compute_range([STUDS])
    assert found.middle_micro == 12 * 14 * UNIT


def test_the_range_by_hand():
    plain = replace(STUDS, failed_pct100=0)
    # 12 pieces of variance 1, and 12 squared times a quarter: 48, and its root 6.9282.
    found = compute_range([plain])
    assert found.high_micro - found.middle_micro == pytest.approx(1.2816 * 48**0.5 * UNIT, rel=1e-6)
    assert found.middle_micro - found.low_micro == found.high_micro - found.middle_micro
    assert found.working.result in (f"{147.12} to {164.88}", "147.12 to 164.88")


def test_the_range_holds_eight_in_ten_of_what_comes_about():
    random = Random(7)

    def once() -> float:
        mean = random.gauss(0, 0.5)
        pieces = sum(9 + mean + random.gauss(0, 1) + 4 for _ in range(12))
        failed = 0
        good = 0
        while good < 12:
            if random.random() < 0.1:
                failed += 1
            else:
                good += 1
        return pieces + failed * 9

    tenths = quantiles([once() for _ in range(4_000)], n=10)
    found = compute_range([STUDS])
    assert found.low_micro / UNIT == pytest.approx(tenths[0], rel=0.02)
    assert found.high_micro / UNIT == pytest.approx(tenths[-1], rel=0.02)


def test_designs_add_up_by_their_squares():
    other = replace(STUDS, label="Brooch", quantity=6)
    both = compute_range([STUDS, other])
    assert both.middle_micro == 18 * 14 * UNIT
    away = [compute_range([lot]).high_micro - compute_range([lot]).middle_micro for lot in (STUDS, other)]
    assert both.high_micro - both.middle_micro == pytest.approx((away[0] ** 2 + away[1] ** 2) ** 0.5, abs=3)


def test_nothing_learnt_gives_no_range():
    found = compute_range([replace(STUDS, doubt=None)])
    assert (found.low_micro, found.high_micro) == (None, None)
    assert "no range is known" in found.working.notes[0]


def test_flasks_hold_all_castings_and_none_is_lost():
    found = share_flasks([("Stud", 14, 20), ("Brooch", 7, 8)])
    # 0.7 and 0.875 of a flask.
    assert found.count == 2
    assert found.castings == ((7, 4), (7, 3))
    assert share_flasks([("Stud", 5, 20)]).castings == ((5,),)
    with pytest.raises(ValueError, match="at least one"):
        share_flasks([("Stud", 5, 0)])
