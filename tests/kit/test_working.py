import dataclasses

import pytest

from studio.kit.working import Given, Source, Step, Working

METAL_NEEDED = Working(
    title="Metal needed",
    formula="wax mass times the density of the metal over that of the wax",
    givens=(Given("wax", "5.00 g", "weighed"),),
    steps=(Step("5.00 g x 10.36 / 1.00", "51.80 g"),),
    result="51.80 g",
    source=Source.COMMON_PRACTICE,
)


def test_a_working_cannot_be_changed_after_it_was_made():
    with pytest.raises(dataclasses.FrozenInstanceError):
        METAL_NEEDED.result = "60 g"


def test_a_working_carries_no_notes_unless_given():
    assert METAL_NEEDED.notes == ()


def test_equal_sums_are_equal():
    assert dataclasses.replace(METAL_NEEDED) == METAL_NEEDED


def test_the_words_for_unpublished_sources():
    assert (Source.COMMON_PRACTICE, Source.OWN_SETTING) == ("common practice", "your own setting")
