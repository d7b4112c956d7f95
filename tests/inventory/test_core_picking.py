"""Which lot to take first."""

from datetime import date

from inventory.core.picking import LotOnHand, suggest_first_to_expire, suggest_oldest_first

OLD = LotOnHand(1, "grain of March", date(2026, 3, 1), 40_000)
NEW = LotOnHand(2, "grain of May", date(2026, 5, 1), 100_000)
TODAY = date(2026, 6, 1)


def test_metal_comes_from_the_oldest_lot_first():
    assert suggest_oldest_first([NEW, OLD], 60_000).takes == ((1, 40_000), (2, 20_000))


def test_lots_of_one_day_go_in_the_order_they_were_written():
    twin = LotOnHand(3, "grain of March, second bag", date(2026, 3, 1), 5_000)
    assert suggest_oldest_first([twin, OLD], 41_000).takes == ((1, 40_000), (3, 1_000))


def test_an_empty_lot_is_not_suggested():
    empty = LotOnHand(3, "used up", date(2026, 1, 1), 0)
    assert suggest_oldest_first([empty, OLD], 1_000).takes == ((1, 1_000),)


def test_more_than_is_held_is_refused_with_both_figures():
    suggestion = suggest_oldest_first([OLD, NEW], 150_000)
    assert suggestion.takes == ()
    assert "140.00" in suggestion.problem
    assert "150.00" in suggestion.problem


def test_powder_is_good_through_its_last_day_and_left_out_after_it():
    powder = LotOnHand(4, "powder", date(2026, 1, 1), 1_000_000, use_by=TODAY)
    assert suggest_first_to_expire([powder], 1_000, TODAY).takes == ((4, 1_000),)
    later = suggest_first_to_expire([powder], 1_000, date(2026, 6, 2))
    assert later.takes == ()
    assert later.left_out[0].key == 4
    assert "Mon\u00a01\u00a0Jun\u00a02026" in later.problem


def test_powder_without_a_last_day_goes_after_powder_with_one():
    keeps = LotOnHand(5, "keeps", date(2026, 1, 1), 1_000)
    ends = LotOnHand(6, "ends", date(2026, 2, 1), 1_000, use_by=date(2026, 12, 31))
    assert suggest_first_to_expire([keeps, ends], 1_500, TODAY).takes == ((6, 1_000), (5, 500))


def test_damp_powder_is_left_out_and_every_reason_is_said():
    damp = LotOnHand(7, "tub", date(2026, 1, 1), 1_000, use_by=date(2026, 5, 31), damp_on=date(2026, 5, 1))
    left = suggest_first_to_expire([damp], 1, TODAY)
    assert left.takes == ()
    assert left.left_out[0].reason.startswith("tub was good until")
    assert left.left_out[0].reason.endswith(" and has been damp since Fri\xa01\xa0May\xa02026.")
