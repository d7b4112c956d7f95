"""The audit names each wrong state, made here behind the postings' back."""

from datetime import timedelta

import pytest

from inventory.core.ledger import Amount
from inventory.models import Alloy, Cast, Entry, Holder, Lot, Movement, Piece
from inventory.posting.book import Book, open_book
from inventory.posting.casting import CastFacts, Portion, post_charge, post_close, post_found, post_start
from inventory.posting.closing import Weights
from inventory.posting.reversal import post_reversal
from tests import workshop as w
from tests.support import problems

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


@pytest.fixture
def cast() -> Cast:
    lot = w.buy(w.grain(), w.g(100), 130)
    return w.cast_metal([(lot, 60)], [w.piece("Leaf", 20), w.piece("Stud", 10)], back=28)


def move(kind: str, cast: Cast, source, target, amount, day=w.DAY) -> None:
    """A sound entry in itself, which no posting would have written."""
    with open_book() as book:
        draft = book.begin(kind, day, cast=cast)
        book.read(*(row for row in (source, target) if not isinstance(row, str)))
        book.move(draft, _holder(book, source), _holder(book, target), amount)


def _holder(book: Book, end) -> Holder:
    return book.outside(end) if isinstance(end, str) else end.holder


def test_metal_found_that_nobody_lost(cast):
    button = Lot.objects.get(origin="clean")
    move(Entry.Kind.FOUND, cast, Holder.Place.LOST, button, Amount(w.g(3), w.g(3) * 925, 0))
    assert any("found quantity 3000" in problem for problem in problems())


def test_metal_found_before_its_cast(cast):
    button = Lot.objects.get(origin="clean")
    early = w.DAY - timedelta(days=1)
    move(Entry.Kind.FOUND, cast, Holder.Place.LOST, button, Amount(w.g(1), w.g(1) * 925, 0), early)
    assert any("found metal before its cast was weighed out" in problem for problem in problems())


def test_what_lost_it_taken_back_while_it_was_found(cast, monkeypatch):
    post_found(cast, w.g(2), Lot.Origin.SWEEPS, w.DAY)
    monkeypatch.setattr("inventory.posting.reversal.later_users", lambda entry: [])
    post_reversal(cast.entries.get(kind="close"))
    post_close(cast, Weights([w.piece("Leaf", 32)], back_mg=w.g(28)), w.DAY)
    assert any("found quantity 2000" in problem for problem in problems())


def test_a_lot_that_was_taken_back_holds_something():
    lot = w.buy(w.grain(), w.g(100), 130)
    post_reversal(lot.entry)
    lot.refresh_from_db()
    Lot.objects.update(void=False)
    move(Entry.Kind.COUNT, None, Holder.Place.COUNTED, lot, Amount(w.g(12)))
    Lot.objects.update(void=True)
    assert f"lot {lot.pk} was taken back and holds quantity 12000, fine_ug 0, cost_micro 0" in problems()


def test_an_alloy_whose_fineness_was_changed_under_its_lots(cast):
    Alloy.objects.update(fineness=500)
    lot = Lot.objects.get(origin="bought")
    assert f"lot {lot.pk} came in with 92500000 fine_ug in 100000; its alloy says 500 of 1000" in problems()


def test_a_closed_cast_that_was_charged_again(cast):
    lot = Lot.objects.get(origin="bought")
    opened = post_start(CastFacts("studs", w.DAY, w.sterling()))
    post_charge(opened, [Portion(lot, w.g(10))], w.DAY)
    Cast.objects.filter(pk=opened.pk).update(closed_on=w.DAY, outcome="good")
    assert any("is closed and its crucible holds" in problem for problem in problems())


def test_a_holder_that_shows_more_than_came_in(cast):
    Holder.objects.filter(lot__origin="bought").update(quantity=w.g(41))
    assert any(problem.startswith("the studio holds quantity 99000") for problem in problems())


def test_an_entry_that_leads_where_its_kind_does_not(cast):
    move(Entry.Kind.SCRAP, cast, Lot.objects.get(origin="bought"), Holder.Place.CUSTOMER, Amount(w.g(1)))
    scrap = Entry.objects.get(kind="scrap").pk
    assert f"entry {scrap} is a scrap and moves something from lot to customer" in problems()


def test_a_piece_sold_that_was_taken_back(cast):
    Piece.objects.filter(name="Leaf").update(state="sold")
    assert any("is sold and weighs 20000 mg" in problem for problem in problems())


def test_nothing_is_wrong_where_nothing_was_done_behind_its_back(cast):
    post_found(cast, w.g(1), Lot.Origin.SWEEPS, w.DAY)
    assert problems() == []
    assert Movement.objects.exists()
