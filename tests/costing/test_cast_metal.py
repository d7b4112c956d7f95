"""One reading of where a cast's metal is: its page, the list, the loss report and its cost say the same."""

from datetime import date

import pytest
from django.db.models import Q
from django.utils import timezone

from costing.queries.costed import cost_casts
from costing.queries.losses import cast_losses
from inventory.core.casting import Grams
from inventory.models import Cast, Lot
from inventory.posting.casting import post_found
from inventory.posting.pieces import post_finish, post_melt_back, post_sale
from inventory.posting.reversal import post_reversal
from inventory.queries.cast_metal import metal_of_casts
from inventory.queries.casting import casts_with_grams
from inventory.queries.casting_page import find_cast, read_cast_page
from inventory.queries.pieces import find_piece, read_piece_page
from tests import workshop as w

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def studio():
    return w.make_studio()


def closed_cast() -> Cast:
    """180 g: three pieces of 30 g, 80 g back, 4 g spilt, 0.45 g of filings; 5.55 g lost."""
    lot = w.buy(w.grain(), w.g(500), 500)
    return w.cast_metal([(lot, 180)], [w.piece("Leaf", 90, 3)], back=80, spill_mg=4_000, filings_mg=450)


def readings(cast: Cast, studio) -> dict[str, Grams]:
    row = casts_with_grams().get(pk=cast.pk)
    (loss,) = cast_losses(date(2020, 1, 1), timezone.localdate())
    return {
        "page": read_cast_page(find_cast(cast.number), studio).grams,
        "list": Grams(row.charge_mg, row.pieces_mg, row.back_mg, row.filings_mg, row.lost_mg),
        "report": loss.grams,
        "together": metal_of_casts(Q(entry__cast=cast.pk))[cast.pk].grams,
    }


def check_all_say(cast: Cast, studio, expected: Grams) -> None:
    found = readings(cast, studio)
    assert found == dict.fromkeys(found, expected)
    parts = (expected.pieces_mg, expected.back_mg, expected.filings_mg, expected.lost_mg)
    assert sum(parts) == expected.charge_mg
    inputs = cost_casts([cast.pk])[cast.pk].inputs
    assert (inputs.charge_mg, inputs.lost_mg) == (expected.charge_mg, expected.lost_mg)
    assert inputs.back_mg == expected.back_mg + expected.filings_mg
    held = sum(piece.own_metal_micro for piece in inputs.pieces)
    assert inputs.charge_micro == held + inputs.back_micro + inputs.lost_micro
    (loss,) = cast_losses(date(2020, 1, 1), timezone.localdate())
    assert loss.lost_micro == inputs.lost_micro


def test_page_list_report_and_cost_say_the_same_after_all_that_can_happen(studio):
    cast = closed_cast()
    check_all_say(cast, studio, Grams(180_000, 90_000, 80_000, 4_450, 5_550))
    leaf, pod, stud = cast.pieces.order_by("number")
    post_finish(leaf, w.g(28), w.g("1.50"), w.DAY)
    check_all_say(cast, studio, Grams(180_000, 88_000, 80_000, 5_950, 6_050))
    post_melt_back(pod, w.DAY)
    check_all_say(cast, studio, Grams(180_000, 58_000, 110_000, 5_950, 6_050))
    post_found(cast, 3_000, Lot.Origin.SWEEPS, w.DAY)
    post_found(cast, 1_000, Lot.Origin.CLEAN, w.DAY)
    check_all_say(cast, studio, Grams(180_000, 58_000, 111_000, 8_950, 2_050))
    post_sale(stud, w.DAY)
    check_all_say(cast, studio, Grams(180_000, 58_000, 111_000, 8_950, 2_050))
    post_reversal(cast.entries.filter(kind="found").order_by("pk").last())
    check_all_say(cast, studio, Grams(180_000, 58_000, 110_000, 8_950, 3_050))


def test_a_hair_more_than_went_in_is_below_zero_everywhere(studio):
    lot = w.buy(w.grain(), w.g(500), 500)
    cast = w.cast_metal([(lot, 100)], [w.piece("Leaf", "40.01")], back=60)
    check_all_say(cast, studio, Grams(100_000, 40_010, 60_000, 0, -10))


def test_a_piece_tells_what_finishing_took_as_its_cast_does(studio):
    cast = closed_cast()
    before = readings(cast, studio)["page"]
    leaf = cast.pieces.first()
    post_finish(leaf, w.g(28), w.g("1.50"), w.DAY)
    after, page = readings(cast, studio)["page"], read_piece_page(find_piece(leaf.pk))
    assert (page.filings_mg, page.lost_mg, page.last_mg) == (1_500, 500, 28_000)
    assert after.filings_mg - before.filings_mg == page.filings_mg
    assert after.lost_mg - before.lost_mg == page.lost_mg
