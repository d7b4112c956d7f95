"""The sum behind a landed cost, and how long stock keeps."""

from datetime import date

import pytest

from inventory.core.keeping import compute_use_by, compute_use_by_once_opened
from inventory.core.landed import (
    LandedLine,
    OnTop,
    compute_unit_cost_micro,
    explain_landed_cost,
    print_unit_cost,
)

UNIT = 1_000_000
DAY = date(2026, 3, 2)


def test_a_unit_cost_is_divided_once_and_last():
    assert compute_unit_cost_micro(100 * UNIT, 3_000, "mass") == 33_333_333
    assert compute_unit_cost_micro(5 * UNIT, 500_000, "volume") == 10_000
    assert compute_unit_cost_micro(5 * UNIT, 20, "items") == 250_000


def test_nothing_has_no_unit_cost():
    assert print_unit_cost(5 * UNIT, 0, "mass") == ""
    with pytest.raises(ValueError, match="no unit cost"):
        compute_unit_cost_micro(5 * UNIT, 0, "mass")


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
        ("over 100.00\u00a0g", "1.3750 per g"),
    ]
    assert working.result == "137.50"


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
