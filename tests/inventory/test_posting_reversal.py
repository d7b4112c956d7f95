"""A mistake is reversed by a new entry, in the right order, and the history shows both."""

from datetime import timedelta

import pytest

from inventory.models import Entry, Lot, Piece, TreePart
from inventory.posting.buying import post_late_bill
from inventory.posting.casting import CastFacts, post_found, post_start, post_tree
from inventory.posting.pieces import post_finish, post_melt_back, post_sale
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_count, post_scrap, post_use
from tests import workshop as w
from tests.support import problems

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


@pytest.fixture
def cast():
    lot = w.buy(w.grain(), w.g(100), 130)
    return w.cast_metal([(lot, 60)], [w.piece("Leaf", 20), w.piece("Stud", 10)], back="29.7")


def entry_of(cast, kind):
    return Entry.objects.get(cast=cast, kind=kind)


def test_a_reversed_delivery_leaves_nothing_in_stock():
    lot = w.buy(w.grain(), w.g(100), 130, carriage=9)
    post_reversal(lot.entry)
    lot.refresh_from_db()
    assert lot.void
    assert (lot.holder.quantity, lot.holder.cost_micro) == (0, 0)
    assert problems() == []


def test_a_delivery_in_use_names_the_entries_to_reverse_first_newest_first(cast):
    lot = Lot.objects.get(origin="bought")
    with pytest.raises(Refused, match="used or weighed again since") as refused:
        post_reversal(lot.entry)
    assert refused.value.blockers == (entry_of(cast, "charge").pk,)


def test_a_charge_cannot_be_reversed_while_its_cast_is_closed(cast):
    with pytest.raises(Refused, match="weights after the pour of cast 1"):
        post_reversal(entry_of(cast, "charge"))


def test_what_lost_metal_stays_while_the_metal_is_found(cast):
    leaf = cast.pieces.get(number=1)
    finished = post_finish(leaf, w.g(18), 0, w.DAY)
    found = post_found(cast, w.g(2), Lot.Origin.SWEEPS, w.DAY)
    for entry in (finished, entry_of(cast, "close")):
        with pytest.raises(Refused, match="metal found later of cast 1") as refused:
            post_reversal(entry)
        assert found.entry_id in refused.value.blockers
    post_reversal(found.entry)
    post_reversal(finished)
    assert problems() == []


def test_a_finding_does_not_stand_in_the_way_of_what_lost_nothing(cast):
    first = post_finish(cast.pieces.get(number=2), w.g(9), w.g(1), w.DAY)
    post_found(cast, w.g("0.2"), Lot.Origin.SWEEPS, w.DAY)
    post_reversal(first)
    assert problems() == []


def test_a_delivery_stays_while_a_bill_for_it_stands_wherever_its_money_went():
    lot = w.buy(w.grain(), w.g(10), 13)
    thrown = post_scrap(lot, w.g(10), w.DAY)
    bill = post_late_bill(lot.delivery, w.money(2), w.DAY)
    post_reversal(thrown)
    with pytest.raises(Refused, match="late bill for delivery"):
        post_reversal(lot.entry)
    post_reversal(bill)
    post_reversal(lot.entry)


def test_the_weights_stay_while_something_was_taken_for_one_of_their_pieces(cast):
    rings = w.buy(w.powder(), w.g(10), 1)
    taken = post_use(rings, w.g(1), w.DAY, piece=cast.pieces.get(number=1))
    with pytest.raises(Refused, match="taken from stock of Leaf"):
        post_reversal(entry_of(cast, "close"))
    post_reversal(taken)
    post_reversal(entry_of(cast, "close"))


def test_reversing_the_weights_opens_the_cast_again(cast):
    post_reversal(entry_of(cast, "close"))
    cast.refresh_from_db()
    assert not cast.is_closed
    assert not Piece.objects.filter(void=False).exists()
    assert problems() == []


def test_reversing_newest_first_puts_every_gram_and_penny_back(cast):
    lot = Lot.objects.get(origin="bought")
    for kind in ("close", "charge"):
        post_reversal(entry_of(cast, kind))
    lot.holder.refresh_from_db()
    assert (lot.holder.quantity, lot.holder.cost_micro) == (w.g(100), w.money(130))
    assert problems() == []


def test_an_entry_is_reversed_once(cast):
    entry = entry_of(cast, "close")
    post_reversal(entry)
    with pytest.raises(Refused, match="already"):
        post_reversal(entry)


def test_a_reversal_is_not_reversed(cast):
    reversal = post_reversal(entry_of(cast, "close"))
    with pytest.raises(Refused, match="takes another line back already"):
        post_reversal(reversal)


def test_a_reversal_stands_on_the_day_of_what_it_reverses(cast):
    entry = entry_of(cast, "close")
    assert post_reversal(entry).day == entry.day


def test_a_sold_piece_keeps_its_weights_from_being_reversed(cast):
    piece = cast.pieces.first()
    post_sale(piece, w.DAY)
    with pytest.raises(Refused, match=f"piece sold of {piece.name}"):
        post_reversal(entry_of(cast, "close"))


def test_a_reversed_sale_brings_the_piece_back_as_it_was(cast):
    piece = cast.pieces.first()
    post_finish(piece, piece.as_cast_mg - 400, 300, w.DAY + timedelta(days=2))
    sale = post_sale(piece, w.DAY + timedelta(days=3))
    post_reversal(sale)
    piece.refresh_from_db()
    assert piece.state == Piece.State.FINISHED
    assert problems() == []


@pytest.mark.parametrize(("leave", "word"), [(post_sale, "piece sold"), (post_melt_back, "back to the pot")])
def test_a_piece_that_left_keeps_its_finishing_from_being_reversed(cast, leave, word):
    piece = cast.pieces.get(name="Leaf")
    finishing = post_finish(piece, w.g("19"), w.g("0.8"), w.DAY)
    leave(piece, w.DAY)
    with pytest.raises(Refused, match=f"{word} of Leaf"):
        post_reversal(finishing)
    assert problems() == []


def test_a_piece_weighed_again_keeps_its_first_finishing(cast):
    piece = cast.pieces.get(name="Leaf")
    first = post_finish(piece, w.g("19"), w.g("0.8"), w.DAY)
    second = post_finish(piece, w.g("18.9"), 0, w.DAY)
    with pytest.raises(Refused, match="finishing of Leaf"):
        post_reversal(first)
    for entry in (second, first):
        post_reversal(entry)
    piece.refresh_from_db()
    assert (piece.state, piece.holder.quantity) == (Piece.State.CAST, w.g(20))
    assert problems() == []


def test_a_delivery_with_a_late_bill_names_the_bill():
    lot = w.buy(w.grain(), w.g(100), 130)
    bill = post_late_bill(lot.delivery, w.money(3), w.DAY + timedelta(days=5))
    with pytest.raises(Refused, match="late bill") as refused:
        post_reversal(lot.entry)
    assert refused.value.blockers == (bill.pk,)


def test_what_a_count_added_is_not_left_in_a_lot_that_is_struck_out():
    lot = w.buy(w.grain(), w.g(100), 130)
    count = post_count(lot, w.g("100.5"), w.DAY)
    with pytest.raises(Refused, match="count"):
        post_reversal(lot.entry)
    for entry in (count, lot.entry):
        post_reversal(entry)
    lot.holder.refresh_from_db()
    assert lot.holder.quantity == 0
    assert problems() == []


def test_finishing_splits_what_is_gone_into_filings_and_loss(cast):
    piece = cast.pieces.get(name="Leaf")
    post_finish(piece, w.g("19"), w.g("0.8"), w.DAY)
    piece.holder.refresh_from_db()
    filings = Lot.objects.get(origin="filings")
    assert (piece.holder.quantity, filings.holder.quantity) == (19_000, 800)
    assert piece.holder.cost_micro == w.money("24.7")
    assert problems() == []


def test_a_piece_heavier_after_finishing_is_refused(cast):
    piece = cast.pieces.get(name="Leaf")
    with pytest.raises(Refused, match="too much is here now"):
        post_finish(piece, w.g("20.5"), 0, w.DAY)


def test_a_piece_put_back_in_the_pot_is_clean_reclaim_at_its_cost(cast):
    post_melt_back(cast.pieces.get(name="Leaf"), w.DAY)
    lot = Lot.objects.filter(origin="clean").latest("pk")
    assert (lot.holder.quantity, lot.holder.cost_micro) == (w.g(20), w.money(26))
    assert problems() == []


def test_a_sold_piece_cannot_be_melted(cast):
    piece = cast.pieces.get(name="Leaf")
    post_sale(piece, w.DAY)
    with pytest.raises(Refused, match="is sold"):
        post_melt_back(piece, w.DAY)


def test_of_many_that_stand_in_the_way_ten_are_named_and_the_rest_counted():
    lot = w.buy(w.grain(), w.g(100), 130)
    thrown = [post_scrap(lot, w.g(1), w.DAY) for _ in range(11)]
    with pytest.raises(Refused, match=r"order: ([^;]*; ){10}and 1 more\.$") as refused:
        post_reversal(lot.entry)
    assert refused.value.blockers == tuple(entry.pk for entry in reversed(thrown))
    post_reversal(thrown[-1])
    with pytest.raises(Refused, match=r"order: [^;]*(; [^;]*){9}\.$"):
        post_reversal(lot.entry)


def test_what_is_reversed_is_struck_out_with_all_that_it_made():
    lot = w.buy(w.grain(), w.g(100), 130)
    post_reversal(lot.entry)
    lot.delivery.refresh_from_db()
    assert lot.delivery.void
    with pytest.raises(Refused, match="This delivery was taken back"):
        post_late_bill(lot.delivery, w.money(2), w.DAY)


def test_a_tree_that_was_weighed_wrong_is_struck_out_with_its_wax():
    wax = w.buy(w.wax(), w.g(100), 5)
    opened = post_start(CastFacts("fern studs", w.DAY, w.sterling()))
    post_tree(opened, [w.TreeRecord(w.wax(), w.g(3), wax)], w.DAY)
    post_reversal(entry_of(opened, "tree"))
    assert not TreePart.objects.filter(void=False).exists()
    wax.holder.refresh_from_db()
    assert wax.holder.quantity == w.g(100)
    assert problems() == []
