"""When a loss, a weight or a temperature is asked about before it is written down."""

import pytest

from inventory.core.doubts import doubt_loss, doubt_mass, doubt_shares, doubt_shrunk
from inventory.core.heat import Heats
from tests.support import plain

# The melting range of sterling as makers of bullion print it: 802 to 893 C (from memory).
STERLING = Heats(802, 893, 950, 1_000, 400, 675)


@pytest.mark.parametrize(
    ("lost", "before", "asked"),
    [
        (2_000, 0, False), (2_010, 0, True), (1_000, 1_500, True),
        (100, 2_500, False), (2_100, 2_500, True), (-5, 9_000, False),
    ],
)  # fmt: skip
def test_a_loss_is_asked_about_when_it_passes_what_is_usual(lost, before, asked):
    assert bool(doubt_loss(lost, 100_000, 200, before)) is asked


def test_a_loss_is_told_with_its_share_and_what_is_usual():
    assert plain(doubt_loss(9_200, 20_000, 210)) == (
        "9.20 g would be lost, 46 % of the charge: your casts usually lose at most 2.1 %."
    )
    assert plain(doubt_loss(1_000, 20_000, 210, 100)) == (
        "1.00 g would be lost with the 0.10 g before, 5.5 % of the charge: your casts usually lose at most 2.1 %."
    )


def test_before_a_studio_has_a_usual_loss_five_per_cent_is_asked_about():
    assert not doubt_loss(1_000, 20_000, None)
    assert plain(doubt_loss(1_010, 20_000, None)).endswith("casts usually lose less than 5 %.")


def test_ten_times_what_was_to_be_expected_is_asked_about():
    assert not doubt_mass(409_990, 41_000, "the plan says")
    assert plain(doubt_mass(412_000, 41_200, "the plan says")) == (
        "412.00 g is 10 times what the plan says, 41.20 g."
    )
    assert not doubt_mass(9_000_000, None, "the plan says")


def test_a_piece_that_lost_half_of_itself_is_asked_about():
    assert not doubt_shrunk(4_500, 9_000)
    assert plain(doubt_shrunk(900, 9_000)) == "0.90 g is less than half of the 9.00 g that it weighed before."


@pytest.mark.parametrize(
    ("heats", "metal_c", "said"),
    [
        (STERLING, 56, "At 56 °C Sterling is not liquid: that is from 893 °C on."),
        (STERLING, 970, ""),
        (STERLING, 1_300, ""),
        (STERLING, 1_301, "1,301 °C is far above 1,000 °C, up to which Sterling is poured."),
        (Heats(), 56, "At 56 °C no casting metal is liquid."),
        (Heats(), 230, ""),
        (Heats(solidus_c=802), 700, "At 700 °C Sterling is not liquid: that is from 802 °C on."),
    ],
)
def test_metal_that_cannot_be_so_hot_or_cold_is_asked_about(heats, metal_c, said):
    assert plain(heats.doubt_metal(metal_c, "Sterling")) == said


@pytest.mark.parametrize(
    ("heats", "flask_c", "metal_c", "said"),
    [
        (STERLING, 600, 970, ""),
        (STERLING, 20, None, ""),
        (STERLING, 970, 600, "The flask at 970 °C would be hotter than the metal. Are the two swapped?"),
        (STERLING, 810, None, "In a flask at 810 °C Sterling would not go solid."),
        (Heats(), 810, None, ""),
    ],
)
def test_a_flask_that_is_too_hot_is_asked_about(heats, flask_c, metal_c, said):
    assert plain(heats.doubt_flask(flask_c, metal_c, "Sterling")) == said


def test_a_firing_that_is_shared_anew_tells_whose_share_changes():
    # 12 kWh over flasks of 400 and 200 ml, by hand: 8 and 4; with another of 400, 4.8 and 2.4.
    said = doubt_shares("firing 3", 12_000, {7: 400, 8: 200}, {7: 400, 8: 200, 9: 400}, [7, 8])
    assert plain(said) == (
        "Firing 3 took 12 kWh. What earlier casts carry of it would change: cast 7 from 8 kWh to 4.8 kWh, "
        "cast 8 from 4 kWh to 2.4 kWh."
    )
    # A cast that is still open has no cost yet; without a flask's size all count alike.
    assert doubt_shares("firing 3", 12_000, {7: 400}, {7: 400, 9: 400}, []) == ""
    said = plain(doubt_shares("firing 3", 0, {7: 0}, {7: 0, 9: 400}, [7]))
    assert said.startswith("Firing 3 is of unknown energy.") and "cast 7 from 100 % to 50 %" in said
