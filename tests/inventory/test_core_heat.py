"""How hot alloys are: how ranges are said, what is wrong with them, and which kiln suits a flask."""

import pytest

from inventory.core.heat import Heats, check_heats, print_range


@pytest.mark.parametrize(
    ("least", "most", "said"),
    [
        (943, 1_003, "943 to 1,003 °C"),
        (962, 962, "962 °C"),
        (950, None, "950 °C at least"),
        (None, 675, "675 °C at most"),
        (None, None, "–"),
    ],
)
def test_a_range_is_said(least, most, said):
    assert print_range(least, most).replace("\u00a0", " ") == said


@pytest.mark.parametrize(
    ("heats", "wrong"),
    [
        (Heats(802, 893, 943, 993, 400, 675), []),
        (Heats(962, 962), []),
        (Heats(), []),
        (Heats(893, 802), ["liquidus_c"]),
        (Heats(pour_least_c=990, pour_most_c=940), ["pour_most_c"]),
        (Heats(flask_least_c=600, flask_most_c=500), ["flask_most_c"]),
        (Heats(802, 893, 850, 990), ["pour_least_c"]),
    ],
)
def test_what_cannot_be_is_named_by_its_figure(heats, wrong):
    assert [name for name, _ in check_heats(heats)] == wrong


@pytest.mark.parametrize(("kiln_c", "suits"), [(429, False), (430, True), (590, True), (591, False)], ids=str)
def test_a_kiln_suits_a_flask_within_its_range(kiln_c, suits):
    bronze = Heats(flask_least_c=430, flask_most_c=590)
    assert (bronze.check_flask(kiln_c, "Bronze") == "") == suits


def test_a_kiln_suits_a_flask_of_which_nothing_is_known():
    assert Heats().check_flask(900, "Odd") == ""
