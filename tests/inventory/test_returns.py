"""A piece that left comes back as it was, and everything that stands on it follows."""

from datetime import timedelta

import pytest
from django.db.models import Q

from inventory.models import Entry, Holder, Piece
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.pieces import post_finish, post_melt_back, post_return, post_sale
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_handed_in
from inventory.queries.cast_metal import metal_of_casts
from inventory.queries.pieces import find_piece, read_piece_page
from tests import workshop as w
from tests.support import problems

pytestmark = pytest.mark.django_db
LATER = w.DAY + timedelta(days=3)


@pytest.fixture
def pieces() -> list[Piece]:
    w.make_studio()
    lot = w.buy(w.grain(), w.g(100), 130)
    cast = w.cast_metal([(lot, 30)], [w.piece("Leaf", 4), w.piece("Pod", 4)], back=20)
    return list(cast.pieces.order_by("number"))


def again(piece: Piece) -> Piece:
    found = find_piece(piece.pk)
    assert found is not None
    return found


def test_it_is_here_again_with_what_it_left_with(pieces: list[Piece]) -> None:
    leaf = pieces[0]
    post_finish(leaf, w.g("3.8"), w.g("0.1"), w.DAY)
    before = Holder.objects.get(pk=leaf.holder_id)
    post_sale(leaf, w.DAY)
    post_return(again(leaf), LATER)
    after, now = Holder.objects.get(pk=leaf.holder_id), again(leaf)
    assert (after.quantity, after.fine_ug, after.cost_micro) == (
        before.quantity,
        before.fine_ug,
        before.cost_micro,
    )
    assert (now.state, now.state_on) == ("finished", LATER)
    page = read_piece_page(now)
    assert page.last_deed is not None and page.last_deed.kind == Entry.Kind.RETURN
    # The cast has as much metal in pieces as before.
    [metal] = metal_of_casts(Q(entry__cast=now.cast)).values()
    assert metal.grams.pieces_mg == w.g("7.8")
    assert problems() == []


def test_it_is_as_cast_again_and_may_be_sold_again_or_melted(pieces: list[Piece]) -> None:
    leaf, pod = pieces
    for piece in pieces:
        post_sale(piece, w.DAY)
        post_return(again(piece), w.DAY)
        assert again(piece).state == "cast"
    post_sale(again(leaf), LATER)
    post_melt_back(again(pod), LATER)
    assert (again(leaf).state, again(pod).state) == ("sold", "melted")
    assert problems() == []


def test_only_what_left_comes_back_and_not_before(pieces: list[Piece]) -> None:
    leaf = pieces[0]
    with pytest.raises(Refused, match="is as cast: it cannot come back"):
        post_return(leaf, LATER)
    post_sale(leaf, LATER)
    with pytest.raises(Refused, match="it came back on that day or later") as refused:
        post_return(again(leaf), w.DAY)
    assert refused.value.field == "day"
    assert again(leaf).state == "sold"


def test_the_sale_waits_until_the_return_was_taken_back(pieces: list[Piece]) -> None:
    leaf = pieces[0]
    sale = post_sale(leaf, w.DAY)
    back = post_return(again(leaf), LATER)
    with pytest.raises(Refused) as refused:
        post_reversal(sale)
    assert refused.value.blockers == (back.pk,)
    post_reversal(back)
    assert (again(leaf).state, again(leaf).state_on) == ("sold", w.DAY)
    post_reversal(sale)
    assert again(leaf).state == "cast"
    assert problems() == []


def test_a_mend_before_it_gives_it_the_new_cost(pieces: list[Piece]) -> None:
    leaf = pieces[0]
    post_sale(leaf, w.DAY)
    post_return(again(leaf), LATER)
    bought = Entry.objects.get(kind=Entry.Kind.DELIVERY)
    given = read_given(bought)
    line = given.lines[0]
    dearer = type(line)(**{**line.__dict__, "price_micro": w.money(260)})
    post_mended({bought: Mend(bought.day, type(given)(**{**given.__dict__, "lines": [dearer]}))})
    assert Holder.objects.get(pk=leaf.holder_id).cost_micro == w.money("10.4")
    assert again(leaf).state == "cast"
    assert problems() == []


def test_a_customers_piece_is_with_its_owner_again_when_the_return_is_taken_back() -> None:
    w.make_studio()
    lot = post_handed_in(w.customer(), w.grain(), w.g(30), w.DAY)
    cast = w.cast_metal([(lot, 30)], [w.piece("Ring", 8)], back=20, owner=w.customer())
    ring = cast.pieces.get()
    post_sale(ring, w.DAY)
    back = post_return(again(ring), LATER)
    assert again(ring).state == "cast"
    post_reversal(back)
    assert again(ring).state == "handed"
    assert problems() == []
