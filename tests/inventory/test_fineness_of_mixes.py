"""How well a fineness is known where lots become other lots: in tins, out of them, cleaned, passed on, at a refiner."""

import pytest

from inventory.core.refining import Charges
from inventory.models import Lot
from inventory.posting.assaying import Assay, post_assay
from inventory.posting.casting import Portion, post_found
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.reclaim import post_apart, post_cleaned, post_together
from inventory.posting.refining import (
    BatchFacts,
    MetalBack,
    SettledPart,
    post_send,
    post_sent_back,
    post_settle,
)
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.setup import mixed_alloy, reclaim_material
from inventory.posting.stock import OpeningLot, post_opening
from inventory.posting.topping import post_top_up
from inventory.queries.refining import amounts_sent, expected_of
from tests import workshop as w
from tests.support import problems

By = Lot.FinenessBy
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


def jar(low, high, grams, origin="clean"):
    """Old buttons, or what else, of which somebody says from what to what (parts per thousand) they may be."""
    ends = (low * 1000, high * 1000)
    material = reclaim_material(w.sterling())
    return post_opening(OpeningLot(material, w.g(grams), w.money(9), origin, guess=ends), w.DAY)


def tinned(*lots):
    return post_together(w.tin(name="Mixed tin", alloy=mixed_alloy("silver")), lots, w.DAY)


def assay(lot, fineness, goes_on=True):
    return post_assay(Assay(now(lot), fineness * 1000, fineness * 1000, goes_on=goes_on), w.DAY)


def now(row):
    return type(row).objects.select_related("holder").get(pk=row.pk)


def fine(row):
    return now(row).holder.fine_ug


def says(lot):
    lot = now(lot)
    return lot.fineness_by, lot.fine_low_ppm, lot.fine_high_ppm


def test_a_guess_in_a_tin_makes_the_tin_a_guess():
    """By hand: 100 g from 800 to 925 and 50 g from 860 to 900 are from 820 to 916.666 of 1000, rounded outwards."""
    made = tinned(jar(800, 925, 100), jar(860, 900, 50))
    assert says(made) == (By.GUESS, 820_000, 916_667)
    out = post_apart(made, w.g(30), w.DAY)
    assert says(out) == (By.GUESS, 820_000, 916_667)
    known = post_together(w.tin(), [w.lot_of(_cast_of(w.buy(w.grain(), w.g(50), 40)), "clean")], w.DAY)
    assert says(known) == (By.CHARGE, None, None), "known where every part is"
    assert problems() == []


def _cast_of(lot, **changes):
    return w.cast_metal([(lot, 20)], [w.piece("Leaf", 12)], back="7.9", as_it_is=True, **changes)


def test_an_assay_is_carried_on_through_a_tin():
    """880 instead of a guess at 862.5 is 17.5 of 1000 more in two thirds of all that was in the tin."""
    lot, other = jar(800, 925, 100), jar(860, 900, 50)
    made = tinned(lot, other)
    out = post_apart(made, w.g(30), w.DAY)
    cast = _cast_of(now(out))
    gone = post_send(BatchFacts(w.refiner()), [Portion(now(made), w.g(60))], w.DAY)
    more = tinned(jar(700, 800, 30))
    before = {row: fine(row) for row in (out, gone, more)}
    entry = assay(lot, 880)

    per_gram = 17_500 * 100 / 150
    assert fine(out) == round(before[out] + 10 * per_gram)
    assert fine(gone) == round(before[gone] + 60 * per_gram)
    assert abs(fine(more) - (before[more] + 60 * per_gram)) <= 1
    assert abs(fine(cast.pieces.get()) - 12_000 * 880) <= 1, "both halves of the tin are 880"
    # The second was between 860 and 900, so the tin is a guess still, but a narrower one.
    assert says(out) == (By.GUESS, 873_333, 886_667)
    assert problems() == []
    with pytest.raises(Refused, match="fineness put right"):
        post_reversal(now(made).entry)
    post_reversal(entry)
    assert {row: fine(row) for row in before} == before
    assert says(out) == (By.GUESS, 820_000, 916_667)
    assert problems() == []


def test_a_tin_that_was_assayed_by_itself_is_not_told_again():
    lot = jar(800, 925, 100)
    made = tinned(lot)
    assay(made, 870)
    out = post_apart(now(made), w.g(30), w.DAY)
    assert says(out) == (By.ASSAYED, None, None) and fine(out) == 30_000 * 870
    with pytest.raises(Refused, match="nor of what was made of it"):
        assay(lot, 880)
    assert problems() == []


def test_metal_passed_to_a_customer_is_known_as_well_as_it_was():
    lot = jar(800, 925, 100)
    theirs = post_top_up(lot, w.customer(), w.g(40), w.money(30), w.DAY)
    cast = _cast_of(now(theirs), owner=w.customer())
    assert says(theirs) == (By.GUESS, 800_000, 925_000) and fine(theirs) == 20_000 * 862.5
    assay(lot, 880)
    assert says(theirs) == (By.ASSAYED, None, None) and fine(theirs) == 20_000 * 880
    assert fine(cast.pieces.get()) == 12_000 * 880
    with pytest.raises(Refused, match="fineness put right"):
        post_reversal(theirs.entry)
    bought = w.buy(w.grain(), w.g(40), 50)
    assert says(post_top_up(bought, w.customer(), w.g(5), 0, w.DAY)) == (By.MARKED, None, None)
    assert problems() == []


def test_castings_keep_what_is_known_of_them_when_they_are_cleaned():
    first = jar(800, 925, 10, "failed")
    clean = post_cleaned(first, w.g(9), w.DAY)
    assert says(clean) == (By.GUESS, 800_000, 925_000)
    cast = _cast_of(jar(800, 925, 40), failed_mg=w.g("0.1"))
    failed = w.lot_of(cast, "failed")
    assay(failed, 850)
    again = post_cleaned(now(failed), w.g("0.09"), w.DAY)
    assert again.from_cast == cast and says(again) == (By.ASSAYED, None, None)
    assay(first, 880)
    assert fine(clean) == 9_000 * 880
    assert problems() == []


def test_each_lot_has_its_own_metal_back_from_a_refiner_as_it_was_assayed_meanwhile():
    """One was assayed and carried on, one assayed by itself, one left as it was."""
    lots = [jar(800, 900, 50), jar(820, 920, 30), jar(700, 800, 20)]
    batch = post_send(BatchFacts(w.refiner()), [Portion(lot, w.g(20)) for lot in lots], w.DAY)
    assert expected_of(amounts_sent(batch).items()).is_guess
    assay(lots[0], 880)
    assay(lots[1], 890, goes_on=False)
    assert fine(batch) == 20_000 * (880 + 870 + 750)
    post_sent_back(now(batch), [Portion(now(lot), w.g(20)) for lot in lots], w.DAY)
    assert [fine(lot) for lot in lots] == [50_000 * 880, 30_000 * 890, 20_000 * 750]
    assert fine(batch) == 0
    assert problems() == []
    entry = lots[0].entry
    post_mended({entry: Mend(entry.day, read_given(entry))})
    assert [fine(lot) for lot in lots] == [50_000 * 880, 30_000 * 890, 20_000 * 750]
    assert problems() == []


def test_what_a_refiner_gives_back_is_as_their_paper_says():
    lot = jar(800, 900, 50)
    batch = post_send(BatchFacts(w.refiner()), [Portion(lot, w.g(40))], w.DAY)
    with pytest.raises(Refused, match="no alloy's fineness"):
        post_settle(batch, _paper(MetalBack(lot.material, w.g(20))), w.DAY)
    post_settle(batch, _paper(MetalBack(w.grain(w.fine_silver()), w.g(20))), w.DAY)
    assert says(Lot.objects.get(origin="refined")) == (By.MARKED, None, None)
    assay(lot, 880)
    assert fine(lot) == 10_000 * 880
    assert problems() == []


def _paper(back):
    return SettledPart(w.g(40), 85_000, 9_900, Charges(), None, [back])


def test_what_is_found_of_a_cast_of_tinned_metal_is_put_right():
    lot = jar(800, 925, 100)
    cast = _cast_of(tinned(lot))
    assay(lot, 880)
    assert post_found(cast, w.g("0.05"), Lot.Origin.SPILL, w.DAY).holder.fine_ug == 50 * 880
    assert problems() == []
