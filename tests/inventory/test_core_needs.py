"""Whether there is enough, and the inside of a flask."""

import pytest

from inventory.core.picking import check_need
from inventory.core.powder import compute_flask_inside


def told(*need):
    return check_need("Powder", *need).sentence.replace("\u00a0", " ")


def test_just_enough_is_enough():
    need = check_need("Powder", 500, 600, 500)
    assert (need.short, need.short_mg) == (False, 0)
    assert told(500, 600, 500) == (
        "Powder: 0.50 g wanted, 0.60 g here, 0.10 g of it promised to other plans: enough."
    )


def test_a_milligram_short_is_short():
    need = check_need("Powder", 501, 500, 500)
    assert (need.short, need.short_mg) == (True, 1)
    assert told(501, 500, 500) == "Powder: 0.501 g wanted, 0.50 g here: 0.001 g short."


def test_no_more_is_free_than_is_held():
    with pytest.raises(ValueError, match="2 free of 1 held"):
        check_need("Powder", 1, 1, 2)


def test_the_inside_of_a_flask_and_its_sum():
    """A cylinder of 80 mm by 120 mm holds pi x 80 x 80 x 120 / 4 = 603.186 ml; computed."""
    volume_ul, working = compute_flask_inside(80_000, 120_000)
    assert volume_ul == 603_186
    (step,) = working.steps
    assert step.text.replace("\u00a0", " ") == "3.14159265 × 80 mm × 80 mm × 120 mm ÷ 4"
    assert step.result == working.result == "603.186\u00a0ml"
    assert [given.value.replace("\u00a0", " ") for given in working.givens] == ["80 mm", "120 mm"]
