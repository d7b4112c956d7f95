"""A tree that was weighed whole on its base: what of it is sprues and stem."""

from inventory.core.tree import compute_sprues
from tests import workshop as w


def test_sprues_are_what_is_left_without_base_and_patterns():
    mass_mg, working = compute_sprues(w.g("14.2"), w.g("8.6"), w.g("3.2"))
    assert mass_mg == 2_400
    assert working.result.replace("\u00a0", " ") == "2.40 g"
    assert len(working.steps) == 2


def test_patterns_heavier_than_the_tree_leave_less_than_nothing():
    assert compute_sprues(w.g(10), 0, w.g(12))[0] == -2_000
