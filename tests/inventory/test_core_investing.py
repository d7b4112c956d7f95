"""The working time of the powder, split for the clock at the bench."""

import pytest

from inventory.core.investing import (
    Hand,
    WorkingSplit,
    allocate_working_time,
    check_split,
    compute_phase_at,
    compute_phases,
)
from studio.kit.printing import print_seconds

PHASES = compute_phases()


def test_the_phases_stand_end_to_end():
    assert [(phase.hand, phase.start_s, phase.end_s) for phase in PHASES] == [
        (Hand.MIX, 0, 240),
        (Hand.VACUUM_BOWL, 240, 300),
        (Hand.FILL, 300, 360),
        (Hand.VACUUM_FLASK, 360, 480),
    ]


def test_a_studio_without_a_pump_has_no_vacuum_phases():
    phases = compute_phases(WorkingSplit(240, 0, 60, 0))
    assert [(phase.hand, phase.start_s, phase.end_s) for phase in phases] == [
        (Hand.MIX, 0, 240),
        (Hand.FILL, 240, 300),
    ]


@pytest.mark.parametrize(
    ("elapsed_s", "hand", "left_s", "over_s"),
    [
        (-5, Hand.MIX, 240, 0),
        (0, Hand.MIX, 240, 0),
        (239, Hand.MIX, 1, 0),
        (240, Hand.VACUUM_BOWL, 60, 0),
        (479, Hand.VACUUM_FLASK, 1, 0),
        (480, None, 0, 0),
        (500, None, 0, 20),
    ],
)
def test_the_clock_says_what_the_hands_do_now(elapsed_s, hand, left_s, over_s):
    now = compute_phase_at(PHASES, elapsed_s)
    assert (now.phase and now.phase.hand, now.left_s, now.over_s) == (hand, left_s, over_s)


def test_a_clock_without_phases_is_over_at_once():
    assert compute_phase_at((), 7).over_s == 7


def test_parts_within_the_working_time_are_good():
    assert check_split(WorkingSplit(), working_s=480) == ()
    assert check_split(WorkingSplit()) == ()


def test_parts_longer_than_the_working_time_say_by_how_much():
    (sentence,) = check_split(WorkingSplit(), working_s=450)
    plain = sentence.replace("\u00a0", " ")
    assert "take 8 min, and this powder can be worked for 7 min 30 s" in plain
    assert "Shorten them by 30 s" in plain


@pytest.mark.parametrize(
    ("split", "words"),
    [
        (WorkingSplit(mix_s=-1), "below zero"),
        (WorkingSplit(0, 0, 0, 0), "no parts"),
        (WorkingSplit(mix_s=9_000), "more than 1\u00a0h"),
    ],
)
def test_parts_nobody_works_by_are_told_how_to_mend_them(split, words):
    assert words in check_split(split)[0]


def test_a_shorter_working_time_is_shared_alike_to_the_last_second():
    split, working = allocate_working_time(421)
    assert split.total_s == 421
    assert split == WorkingSplit(210, 53, 53, 105)
    assert working.result == "7\u00a0min\u00a01\u00a0s"


def test_a_working_time_below_zero_is_the_programs_mistake():
    with pytest.raises(ValueError, match="more than nothing"):
        allocate_working_time(-1)


@pytest.mark.parametrize(
    ("seconds", "printed"), [(0, "0 min"), (45, "45 s"), (240, "4 min"), (210, "3 min 30 s")]
)
def test_seconds_are_said_as_a_person_would(seconds, printed):
    assert print_seconds(seconds).replace("\u00a0", " ") == printed
