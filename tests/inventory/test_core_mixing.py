"""Powder split over bowls: no bowl too full, nothing lost, and a flask filled from one bowl where it can be."""

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.mixing import MixTurn, compute_bowls, list_turns, split_bowls, tell_bowls

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


def powders(*shares, most=KG, step=1):
    """Milligrams of powder in each bowl, in the order in which they are mixed."""
    return [mix.powder_mg for mix in split_bowls(shares, 0, most, step)]


def test_a_bowl_may_be_full_to_its_brim_and_there_are_no_more_than_needed():
    assert powders(600_000, 400_000) == [KG]
    assert powders(600_000, 600_000, 600_000, 100_000) == [700_000, 600_000, 600_000]
    assert powders(6 * KG, 5 * KG, most=0) == [11 * KG], "nobody said what a bowl takes"


def test_bowls_are_mixed_in_the_order_of_the_flasks_that_they_fill():
    mixes = split_bowls([100_000, 900_000, 800_000], 0, KG)
    assert [mix.fills for mix in mixes] == [((0, 100_000), (2, 800_000)), ((1, 900_000),)]


def test_a_flask_of_several_bowls_is_split_by_the_step_of_the_scale_and_the_odd_rest_is_in_a_smaller_bowl():
    """Worked by hand: 4.5 g by bowls of 2 g on a scale of whole grams, and the rest of the smallest."""
    assert powders(4_500, most=2_000, step=1_000) == [2_000, 1_500, 1_000]
    assert powders(2_500, most=1_000, step=1_000) == [1_000, 1_000, 500]
    # A bowl that takes less than the scale shows is no reason to stop.
    alike = split_bowls([2_001], 0, 999)
    assert powders(2_001, most=999, step=1_000) == [667, 667, 667] == [mix.powder_mg for mix in alike]


def test_what_is_said_of_bowls_names_the_flasks():
    labels = ["leaves", "hooks", "rings"]
    (all_in_one,) = mixes = split_bowls([300_000, 300_000, 300_000], 360_000, KG)
    assert tell_bowls(mixes, KG, 480, labels) == ""
    bowl = MixTurn((), "leaves, hooks and rings", "900.00\u00a0g of powder into 360.00\u00a0g of water")
    assert list_turns([all_in_one], (), labels) == [bowl] and bowl.seconds == 0
    _, working = compute_bowls([300_000, 300_000], 0, KG, 1_000, labels[:2])
    assert (working.result, working.steps[0].text) == ("1 mix", "mix 1: leaves and hooks")
    two = tell_bowls(split_bowls([900_000, 900_000], 0, KG), KG, 480, labels[:2])
    assert "mix 2 bowls in turn" in two and "takes 2 of them" not in two
    large = tell_bowls(split_bowls([900_000, 1_800_000], 0, KG), KG, 480, labels[:2])
    assert " hooks takes 2 of them" in large and "leaves takes" not in large
    alone = split_bowls([1_800_000], 0, KG)
    assert " The flask takes 2 of them" in tell_bowls(alone, KG, 480, labels[:1])


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
