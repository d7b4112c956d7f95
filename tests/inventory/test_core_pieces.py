"""Pieces: which mark they may carry."""

import pytest

from inventory.core.fineness import Known
from inventory.core.pieces import tell_mark


def test_a_light_piece_of_silver_may_be_marked_and_need_not_be():
    said = tell_mark("silver", Known(60_000, 60_000 * 925), 7_779)
    assert said.startswith("Its metal may be marked 925.")
    assert "less than 7.78\u00a0g need not be" in said
    assert said.endswith("local law and the assay office decide.")


def test_a_heavier_piece_is_not_told_that_it_need_not_be():
    assert "need not be" not in tell_mark("silver", Known(60_000, 60_000 * 925), 7_780)


def test_metal_below_every_mark_is_said_to_be():
    assert "none of the marks of silver" in tell_mark("silver", Known(60_000, 60_000 * 700), 5_000)


@pytest.mark.parametrize(("metal", "charge"), [("base", Known(60_000)), ("silver", Known())])
def test_where_there_is_nothing_to_mark_nothing_is_said(metal, charge):
    assert tell_mark(metal, charge, 5_000) == ""
