"""Charges: fineness, mending, melts."""

import pytest

from inventory.core.alloying import (
    Portion,
    compute_charge_fineness,
    compute_fineness,
    compute_highest_mark,
    compute_lower,
    compute_mark,
    compute_melts_after,
    compute_raise,
)


def test_metal_melted_for_the_first_time_has_one_melt():
    assert compute_melts_after([Portion("grain", 100_000)])[0] == 1_000


def test_melts_are_the_mean_by_mass_and_one_more():
    portions = [Portion("grain", 60_000), Portion("buttons", 40_000, melts_milli=1_500, is_fresh=False)]
    melts_milli, working = compute_melts_after(portions)
    assert melts_milli == 1_600
    assert [given.value.replace("\u00a0", " ") for given in working.givens] == [
        "60.00 g, 0 melts",
        "40.00 g, 1.5 melts",
    ]
    assert [
        (step.text.replace("\u00a0", " "), step.result.replace("\u00a0", " ")) for step in working.steps
    ] == [
        ("grams times melts, all added up", "60"),
        ("mean by mass: 60 ÷ 100.00 g", "0.6"),
        ("0.6 + 1", "1.6 melts"),
    ]


def test_melts_are_shown_to_the_thousandth_in_their_working():
    _, working = compute_melts_after([Portion("buttons", 40_000, melts_milli=1_234)])
    assert working.givens[0].value.replace("\u00a0", " ") == "40.00 g, 1.234 melts"
    assert [step.result.replace("\u00a0", " ") for step in working.steps] == ["49.36", "1.234", "2.234 melts"]


def test_an_empty_crucible_has_no_melts_and_no_fineness():
    with pytest.raises(ValueError, match="no metal"):
        compute_melts_after([])
    with pytest.raises(ValueError, match="no metal"):
        compute_charge_fineness([])
    with pytest.raises(ValueError, match="no metal"):
        compute_fineness(0, 0)
    with pytest.raises(ValueError, match="no metal"):
        compute_mark(0, 0, 925)


def test_the_working_of_a_fineness_lists_the_portions():
    portions = [Portion("grain", 60_000, 55_500_000), Portion("buttons", 40_000, 36_900_000)]
    fineness, working = compute_charge_fineness(portions)
    assert fineness == 924
    assert [given.label for given in working.givens] == ["grain", "buttons"]
    assert working.result == "924 of 1000"


def test_metal_short_of_its_mark_says_how_much_is_missing_and_what_mends_it():
    verdict = compute_mark(100_000, 92_400_000, 925)
    assert verdict.missing_ug == 100_000
    assert verdict.add_mg == 1_334
    assert "0.100\u00a0g of fine metal too little" in verdict.sentence
    assert "Add 1.334\u00a0g" in verdict.sentence
    assert [step.text.replace("\u00a0", " ") for step in verdict.working.steps] == [
        "fine metal in it",
        "100.00 g × 925 ÷ 1000",
        "fine metal missing",
        "0.100 g × 1000 ÷ (1000 − 925)",
    ]
    assert len(compute_mark(100_000, 92_500_000, 925).working.steps) == 3


def test_metal_short_by_a_hair_does_not_read_as_short_by_nothing():
    assert "0.001\u00a0g of fine metal too little" in compute_mark(100_000, 92_499_999, 925).sentence


def test_metal_no_finer_than_the_mark_cannot_mend_a_melt():
    mend = compute_raise(100_000, 90_000_000, 925, 925)
    assert "choose metal finer than 925" in mend.problem
    assert compute_mark(100_000, 90_000_000, 925, finer_per_mille=925).add_mg is None


def test_metal_that_is_fine_enough_needs_nothing():
    assert "fine enough already" in compute_raise(100_000, 92_500_000, 925, 1000).problem


def test_coming_down_to_no_fineness_is_refused():
    assert compute_lower(100_000, 92_500_000, 0).problem


def test_metal_below_every_mark_has_none():
    assert compute_highest_mark(10_000, 3_000_000, (375, 585)) is None
