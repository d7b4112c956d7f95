"""What the melter is set to for a pour that takes its time."""

import pytest

from inventory.core.heat import Heats
from inventory.core.slow_pour import SlowPour, compute_melter_set_point

STERLING = Heats(802, 893, 943, 993, 400, 675)


def test_a_slow_pour_of_sterling_against_common_practice():
    """Set to 965 to 970 C, and a slow pour can fall to 940 (common practice): 943 + 2.5 x 10 = 968."""
    found = compute_melter_set_point(STERLING, SlowPour(25, 10))
    assert found.set_c == 968 and found.problem == ""
    assert found.working.result == "968\u00a0°C"


def test_without_a_pouring_range_it_is_liquidus_and_superheat():
    """Bronze C90700 is liquid from 999 C (memory); 50 C above it is common practice."""
    assert compute_melter_set_point(Heats(831, 999), SlowPour(30, 10)).set_c == 999 + 50 + 30


def test_the_alloys_range_bounds_it_and_that_is_said():
    found = compute_melter_set_point(STERLING, SlowPour(60, 12), "Sterling")
    assert found.set_c == 993
    said = found.problem.replace("\u00a0", " ")
    assert "Sterling is poured at 993 °C at most, and you lose 72 °C on the way: 921 °C are left" in said


@pytest.mark.parametrize(
    ("heats", "slow"),
    [
        (STERLING, SlowPour()),
        (STERLING, SlowPour(30)),
        (STERLING, SlowPour(None, 5)),
        (Heats(), SlowPour(30, 5)),
    ],
)
def test_what_nobody_measured_adds_nothing(heats, slow):
    assert compute_melter_set_point(heats, slow) is None
