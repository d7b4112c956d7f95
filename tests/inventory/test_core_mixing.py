"""Powder split over bowls: no bowl too full, nothing lost, and a flask filled from one bowl where it can be."""

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.mixing import compute_bowls, split_bowls, tell_bowls

KG = 1_000_000


def test_one_bowl_that_takes_it_all_is_one_mix():
    (mix,) = split_bowls([558_000, 305_000], 345_200, 2 * KG)
    assert (mix.powder_mg, mix.water_mg) == (863_000, 345_200)
    assert mix.fills == ((0, 558_000), (1, 305_000))


def test_flasks_are_shared_out_whole_and_the_bowls_are_alike():
    mixes = split_bowls([900_000, 500_000, 400_000], 720_000, KG)
    assert [mix.fills for mix in mixes] == [((0, 900_000),), ((1, 500_000), (2, 400_000))]
    assert [mix.water_mg for mix in mixes] == [360_000, 360_000]


def test_a_batch_the_size_of_a_bucket_is_split_equally_and_said():
    """10 kg for one flask by bowls of 2 kg: five mixes of 2 kg, computed."""
    mixes = split_bowls([10 * KG], 4 * KG, 2 * KG, 1_000)
    assert [mix.powder_mg for mix in mixes] == [2 * KG] * 5
    said = tell_bowls(mixes, 2 * KG, 480).replace("\u00a0", " ")
    assert "one bowl takes, 2.00 kg: mix 5 bowls in turn. Each has 8 min of its own" in said
    assert "The flask takes 5 of them, and the first begins to set before the last is in" in said


def test_the_working_names_what_each_mix_fills():
    _, working = compute_bowls([900_000, 500_000], 560_000, KG, 1_000, ["leaves", "hooks"])
    assert [step.text for step in working.steps] == ["mix 1: leaves", "mix 2: hooks"]
    assert working.result == "2 mixes"


SHARES = st.lists(st.integers(0, 6 * KG), min_size=1, max_size=6)


@given(SHARES, st.integers(0, 4 * KG), st.sampled_from([0, 700_000, 2 * KG]), st.sampled_from([1, 1_000]))
def test_no_bowl_is_too_full_and_nothing_is_lost(shares, water_mg, most_mg, step_mg):
    mixes = split_bowls(shares, water_mg, most_mg, step_mg)
    of_each = [0] * len(shares)
    for mix in mixes:
        assert mix.powder_mg == sum(part for _, part in mix.fills) > 0
        assert not most_mg or mix.powder_mg <= most_mg
        for place, part in mix.fills:
            of_each[place] += part
            assert part == shares[place] or shares[place] > most_mg
    assert of_each == shares
    assert sum(mix.water_mg for mix in mixes) == (water_mg if mixes else 0)
