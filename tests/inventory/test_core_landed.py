"""The sum behind a landed cost, and how long stock keeps."""

from datetime import date
from fractions import Fraction

import pytest

from inventory.core.landed import (
    LandedLine,
    OnTop,
    explain_landed_cost,
    print_unit_cost,
)
from inventory.core.picking import compute_use_by, compute_use_by_once_opened

UNIT = 1_000_000
DAY = date(2026, 3, 2)


def test_a_unit_cost_is_divided_once_and_last():
    assert print_unit_cost(100 * UNIT, 3_000, "mass") == "33.3333 per g"
    assert print_unit_cost(5 * UNIT, 500_000, "volume") == "0.0100 per ml"
    assert print_unit_cost(5 * UNIT, 20, "items") == "0.2500 per item"


@pytest.mark.parametrize(("cost_micro", "kilograms"), [(43_210_000, 10), (38_990_000, 22), (61_170_000, 5)])
def test_a_tub_of_powder_at_its_price_for_a_gram_is_what_it_cost(cost_micro, kilograms):
    rate = Fraction(print_unit_cost(cost_micro, kilograms * 1_000_000, "mass").removesuffix(" per g"))
    assert abs(rate * kilograms * 1000 - Fraction(cost_micro, UNIT)) <= Fraction("0.005")


def test_nothing_has_no_unit_cost():
    assert print_unit_cost(5 * UNIT, 0, "mass") == ""


def test_the_working_tells_price_share_and_later_bills():
    line = LandedLine(
        100_000, "mass", 130 * UNIT, 6_500_000, weight=130 * UNIT, weights=200 * UNIT, late_micro=UNIT
    )
    working = explain_landed_cost(line, OnTop(carriage_micro=8 * UNIT, duty_micro=2 * UNIT))
    steps = [(step.text, step.result) for step in working.steps]
    assert steps == [
        ("share by price: 10.00 × 130.00 ÷ 200.00", "6.50"),
        ("share of bills that came later", "1.00"),
        ("130.00 + 6.50 + 1.00", "137.50"),
        ("137.50 ÷ 100.00\u00a0g", "1.3750 per g"),
    ]
    assert working.result == "137.50"


def test_what_was_used_before_a_bill_came_is_said():
    line = LandedLine(100_000, "mass", 100 * UNIT, late_micro=20 * UNIT, late_used_micro=18 * UNIT)
    working = explain_landed_cost(line, OnTop())
    assert working.result == "120.00"
    assert working.notes[0].startswith("18.00 of the later bills is for what was used before they came")


def test_a_share_by_mass_is_told_in_grams():
    line = LandedLine(25_000, "mass", 0, 9 * UNIT, weight=25_000, weights=100_000)
    working = explain_landed_cost(line, OnTop(carriage_micro=36 * UNIT, by_mass=True))
    assert working.steps[0].text == "share by mass: 36.00 × 25.00\u00a0g ÷ 100.00\u00a0g"


def test_gifts_share_alike():
    line = LandedLine(25_000, "mass", 0, 5 * UNIT)
    assert explain_landed_cost(line, OnTop(carriage_micro=10 * UNIT)).steps[0].text == "10.00 in equal shares"


def test_what_keeps_has_no_use_by():
    assert compute_use_by(DAY, None) is None
    assert compute_use_by(DAY, 365) == date(2027, 3, 2)


def test_an_opened_tub_is_good_until_whichever_day_is_sooner():
    sooner, later = date(2026, 4, 1), date(2027, 3, 2)
    assert compute_use_by_once_opened(later, DAY, 90) == date(2026, 5, 31)
    assert compute_use_by_once_opened(sooner, DAY, 90) == sooner
    assert compute_use_by_once_opened(None, DAY, 90) == date(2026, 5, 31)
    assert compute_use_by_once_opened(later, DAY, None) == later
