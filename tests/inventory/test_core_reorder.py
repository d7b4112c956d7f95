"""When to order again."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from inventory.core.reorder import (
    ReorderInput,
    Use,
    compute_certainty_factor,
    compute_order_by,
    compute_poisson_point,
    compute_reorder,
    compute_use,
    round_most_down,
    round_point_up,
)

TODAY = date(2026, 6, 1)
STEADY = Use(Fraction(700_000), Fraction(0), 12)


def _known(**changed):
    facts = {
        "on_hand": 3_000_000,
        "use": STEADY,
        "lead_days": 10,
        "lead_spread_days": 0,
        "certainty_pct100": 9_500,
        "today": TODAY,
    }
    return ReorderInput(**(facts | changed))


def test_a_week_takes_the_mean_and_weeks_without_use_count():
    use = compute_use([0, 400, 0, 800])
    assert use.mean == 300
    assert use.variance == Fraction(440_000, 3)
    assert use.weeks == 4


def test_a_single_week_shows_no_spread_and_the_working_says_so():
    use = compute_use([500])
    assert (use.mean, use.variance) == (500, 0)
    assert "no spread is known" in compute_reorder(_known(use=use)).working.notes[0]


def test_no_weeks_take_nothing():
    assert compute_use([]) == Use(Fraction(0), Fraction(0), 0)


def test_steady_use_is_ordered_again_at_what_the_delivery_takes():
    assert compute_reorder(_known()).point == 1_000_000


def test_the_day_to_order_by_is_when_the_stock_falls_to_the_point():
    # 2 kg above the point at 100 g a day.
    assert compute_reorder(_known()).order_by == date(2026, 6, 21)


def test_stock_at_the_point_is_due_today():
    reorder = compute_reorder(_known(on_hand=1_000_000))
    assert reorder.is_due
    assert reorder.order_by == TODAY


def test_stock_above_the_point_is_not_due():
    assert not compute_reorder(_known(on_hand=1_000_001)).is_due


def test_what_nobody_uses_is_never_ordered():
    reorder = compute_reorder(_known(use=compute_use([0, 0, 0])))
    assert reorder.point == 0
    assert reorder.order_by is None


def test_a_day_too_far_to_plan_by_is_not_told():
    assert compute_order_by(10**8, 0, Fraction(1), TODAY) is None


def test_a_delivery_that_may_be_late_is_ordered_earlier():
    assert compute_reorder(_known(lead_spread_days=3)).point > 1_000_000


def test_less_certainty_than_half_never_goes_below_zero():
    use = Use(Fraction(10), Fraction(10_000), 12)
    assert compute_reorder(_known(use=use, certainty_pct100=100)).point == 0


@pytest.mark.parametrize("certainty_pct100", [0, 10_000])
def test_certainty_of_nothing_or_of_all_is_a_mistake_in_the_program(certainty_pct100):
    with pytest.raises(ValueError, match="below 100"):
        compute_certainty_factor(certainty_pct100)
    with pytest.raises(ValueError, match="below 100"):
        compute_poisson_point(Fraction(1), certainty_pct100)


@pytest.mark.parametrize(
    ("exact", "unit", "point"),
    [
        (1_400_239, "mass", 1_401_000),
        (1_400_000, "mass", 1_400_000),
        (4_201, "mass", 4_300),
        (231, "volume", 240),
        (0, "mass", 0),
        (7, "items", 7),
    ],
)
def test_the_point_is_rounded_up_to_what_a_person_would_weigh(exact, unit, point):
    assert round_point_up(exact, unit) == point


def test_stock_at_the_point_that_is_shown_is_due():
    reorder = compute_reorder(_known(on_hand=1_001_000, use=Use(Fraction(700_100), Fraction(0), 12)))
    assert (reorder.point, reorder.is_due) == (1_001_000, True)


def test_powder_is_ordered_in_whole_grams_and_the_sum_has_the_digits_to_reckon_on():
    use = compute_use([700_100, 712_345, 0, 803_002])
    working = compute_reorder(_known(use=use, per_cast=Fraction(1_234_567, 3))).working
    assert working.result == "order at 1,523\u00a0g"
    told = {step.text.replace("\u00a0", " "): step.result.replace("\u00a0", " ") for step in working.steps}
    assert told["taken in 10 days: 2,215.447 g × 10 ÷ (4 × 7)"] == "791.231 g"
    assert any(text.startswith("791.231 g + ") and total == "1,522.737 g" for text, total in told.items())


def test_casts_left_are_whole_casts():
    assert compute_reorder(_known(per_cast=Fraction(450_000))).casts_left == 6
    assert compute_reorder(_known()).casts_left is None


def test_crucibles_go_one_at_a_time():
    use = Use(Fraction(1, 4), Fraction(0), 12)
    reorder = compute_reorder(_known(on_hand=5, use=use, unit="items", one_at_a_time=True, lead_days=28))
    assert reorder.point == 3
    assert reorder.working.result == "order at 3\u00a0items"


def test_items_that_go_singly_show_what_they_are_reckoned_by_and_nothing_else():
    """One crucible in four weeks of delivery: at most two with 91.97 %, three with 98.10 %; scipy.stats."""
    use = Use(Fraction(1, 4), Fraction(9), 12)
    working = compute_reorder(
        _known(on_hand=5, use=use, unit="items", one_at_a_time=True, lead_days=28, lead_spread_days=3)
    ).working
    labels = [given.label for given in working.givens]
    assert labels == ["on hand", "taken", "delivery takes", "certainty wanted"]
    told = [(step.text.replace("\u00a0", " "), step.result.replace("\u00a0", " ")) for step in working.steps]
    assert ("taken in 28 days: 3 items × 28 ÷ (12 × 7)", "1 item") in told
    assert ("chance that at most 2 items will be taken", "91.97 %") in told
    assert ("chance that at most 3 items will be taken", "98.1 %") in told


def test_nothing_is_wanted_of_what_nobody_takes():
    assert compute_poisson_point(Fraction(0), 9_999) == 0


def test_the_working_ends_in_the_point_the_day_and_the_casts():
    reorder = compute_reorder(_known(per_cast=450_000))
    assert [step.result for step in reorder.working.steps[-3:]] == [
        "2.857",
        "Sun\u00a021\u00a0Jun\u00a02026",
        "6",
    ]
    assert reorder.working.result == "order at 1,000\u00a0g"


def test_the_spread_of_a_week_is_the_root_of_its_variance():
    assert Use(Fraction(0), Fraction(25), 3).deviation == Decimal(5)


def test_no_more_is_ordered_than_is_used_while_it_keeps():
    """700 g a week for 180 days are 18 kg, of which nothing is here any more when the parcel comes; by hand."""
    reorder = compute_reorder(_known(keeps_days=180))
    assert reorder.most == 18_000_000
    steps = {step.text: step.result.replace("\u00a0", " ") for step in reorder.working.steps}
    assert steps["order at most, rounded down"] == "18,000 g"
    # With a delivery that may be late, 500 g say is kept for it: that is still here at the mean, and used first.
    late = compute_reorder(_known(keeps_days=180, lead_spread_days=3))
    assert late.most == round_most_down(18_000_000 - (late.point - 1_000_000), "mass") < 18_000_000


def test_what_keeps_or_is_not_used_has_no_most():
    assert compute_reorder(_known()).most is None
    assert compute_reorder(_known(keeps_days=180, use=compute_use([0, 0]))).most is None


def test_the_most_is_rounded_to_what_a_person_would_order():
    assert round_most_down(11_449_999, "mass") == 11_400_000
    assert round_most_down(842_999, "mass") == 842_000
    assert round_most_down(7, "items") == 7
