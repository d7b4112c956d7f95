"""Mending on a page: filled with what was written, shown what would change, done at the second press."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import resolve

from inventory.forms.mending import MENDED, mend_sheet
from inventory.models import Entry, Holder, Piece
from inventory.posting.buying import post_mended_bill
from inventory.posting.casting import Portion, TreeRecord
from inventory.posting.kinds import KINDS
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.pieces import post_finish, post_sale
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_count
from inventory.posting.unpoured import post_unpoured
from inventory.queries.landed import landed_rows
from inventory.queries.ledger import standing_entries
from studio.kit.rows import RowsFormSet
from tests import workshop as w
from tests.inventory.hands import Scene
from tests.support import count_queries, once, problems, text_of

pytestmark = pytest.mark.django_db


def entry_of(kind: str) -> Entry:
    return standing_entries().select_related("cast", "piece__cast", "bill_for").get(kind=kind)


def filled(entry: Entry) -> dict[str, Any]:
    """What the page of mending would send as it stands."""
    data: dict[str, Any] = once()
    for part in mend_sheet(entry, read_given(entry)).parts:
        forms = [part]
        if isinstance(part, RowsFormSet):
            forms = [part.management_form, *part.forms]
        for form in forms:
            for field in form:
                value = field.value()
                if field.name != "once" and value is not None and value is not False:
                    data[field.html_name] = "on" if value is True else str(value)
    return data


def mark_in(page: str) -> str:
    return re.search(r'name="seen" value="(\w+)"', page)[1]  # type: ignore[index]


def press_twice(client: Client, entry: Entry, **typed: str) -> str:
    """The page after the second press."""
    return text_of(client.get(press_again(client, entry, **typed)))


def press_again(client: Client, entry: Entry, **typed: str) -> str:
    """The address that the second press leads to."""
    data = filled(entry) | typed
    address = f"/ledger/{entry.pk}/mend/"
    asked = client.post(address, data)
    assert asked.status_code == 422
    done = client.post(address, data | {"seen": mark_in(asked.content.decode())})
    return done.headers["Location"]


def test_every_kind_of_entry_can_be_mended_on_a_page():
    assert set(MENDED) == set(KINDS)


def test_every_kind_is_shown_filled_foreseen_and_mended(bench):
    """It leads to the page of the thing, the first of which is opened; what was mended is told on the next page."""
    scene, said, landed = Scene(), "", set()
    for kind, pk in scene.entries.items():
        entry = Entry.objects.get(pk=pk)
        if not standing_entries().filter(pk=pk).exists():
            entry = standing_entries().filter(kind=kind).last()
        page = bench.get(f"/ledger/{entry.pk}/mend/")
        assert page.status_code == 200, kind
        said += text_of(page)
        address = press_again(bench, entry, note="written wrong")
        if resolve(address).url_name not in landed:
            landed.add(resolve(address).url_name)
            said += text_of(bench.get(address))
    said += text_of(bench.get(address))
    assert said.count("Mended: ") == len(scene.entries)
    assert landed == {"lot-detail", "delivery-detail", "cast-detail", "piece-detail", "batch-detail"}
    assert problems() == []


def test_the_first_press_shows_what_would_change_and_changes_nothing(bench):
    lot = w.buy(w.grain(), w.g(100), 100)
    w.cast_metal([(lot, 40)], [w.piece("Leaf", 30)], back=10)
    entry, before = entry_of("delivery"), list(Holder.objects.values_list())
    asked = bench.post(f"/ledger/{entry.pk}/mend/", filled(entry) | {"lots-0-quantity": "80"})
    said = text_of(asked)
    assert "2 later lines stand on it" in said
    assert re.search(r"Lot 1, Sterling grain.*60\.00 g.*40\.00 g.*60\.00.*50\.00", said, re.DOTALL)
    assert "Leaf of cast 1" in said and "37.50" in said
    assert list(Holder.objects.values_list()) == before


def test_the_second_press_asks_again_when_something_else_was_typed_or_posted(bench):
    lot = w.buy(w.grain(), w.g(100), 100)
    entry = entry_of("delivery")
    address, data = f"/ledger/{entry.pk}/mend/", filled(entry) | {"lots-0-quantity": "80"}
    seen = {"seen": mark_in(bench.post(address, data).content.decode())}
    w.cast_metal([(lot, 40)], [w.piece("Leaf", 30)], back=10)
    assert bench.post(address, data | seen).status_code == 422
    assert bench.post(address, data | seen | {"lots-0-quantity": "70"}).status_code == 422
    assert not Entry.objects.filter(kind="reversal").exists()


def test_mending_lands_on_the_page_of_the_thing(bench):
    lot = w.buy(w.grain(), w.g(100), 100)
    w.cast_metal([(lot, 40)], [w.piece("Leaf", 30)], back=10)
    said = press_twice(bench, entry_of("close"), **{"pieces-0-mass": "29", "pieces-0-name": "Fern"})
    assert "Mended: weights after the pour of cast 1" in said and "Fern studs" in said
    piece = Piece.objects.get()
    assert (piece.name, piece.as_cast_mg, piece.void) == ("Fern", w.g(29), False)


def test_what_cannot_be_any_more_is_said_beside_what_was_typed(bench):
    lot = w.buy(w.grain(), w.g(100), 100)
    w.cast_metal([(lot, 40)], [w.piece("Leaf", 30)], back=10)
    entry = entry_of("delivery")
    refused = bench.post(f"/ledger/{entry.pk}/mend/", filled(entry) | {"lots-0-quantity": "30"})
    said = text_of(refused)
    assert refused.status_code == 422 and "Then this cannot be any more: charge of cast 1" in said
    assert 'value="30"' in said
    assert f"/ledger/{entry_of('charge').pk}/mend/" in said


def test_what_a_count_would_then_have_found_is_shown_too(bench):
    lot = w.buy(w.grain(), w.g(100), 100)
    post_count(lot, w.g(90), w.DAY)
    entry = entry_of("delivery")
    said = text_of(bench.post(f"/ledger/{entry.pk}/mend/", filled(entry) | {"lots-0-quantity": "95"}))
    assert re.search(r"Missing at stock counts.*10\.00 g.*5\.00 g", said, re.DOTALL)


def test_a_count_that_would_agree_says_that_it_keeps_no_line(bench):
    lot = w.buy(w.grain(), w.g(100), 100)
    post_count(lot, w.g(90), w.DAY)
    forgotten = "would agree with what is there. It then keeps no line"
    for kind, typed in (("count", {"counted": "100"}), ("delivery", {"lots-0-quantity": "90"})):
        entry = entry_of(kind)
        said = text_of(bench.post(f"/ledger/{entry.pk}/mend/", filled(entry) | typed))
        assert f"(line {entry_of('count').pk} in the book) {forgotten}" in said, kind
    entry = entry_of("count")
    assert forgotten not in text_of(
        bench.post(f"/ledger/{entry.pk}/mend/", filled(entry) | {"counted": "95"})
    )


@pytest.mark.parametrize("kind", ["tree", "powder"])
@pytest.mark.parametrize("is_poured", [True, False])
def test_what_a_cast_used_stays_before_its_end(bench, kind, is_poured):
    used = {
        "tree": [TreeRecord(w.wax(), w.g(5), w.buy(w.wax(), w.g(50), 5))],
        "powder": [Portion(w.buy(w.powder(), w.g(900), 9), w.g(200))],
    }
    cast = w.cast_metal([(w.buy(w.grain(), w.g(100), 100), 40)], [w.piece("Leaf", 30)], back=10, **used)
    if not is_poured:
        post_reversal(entry_of("close"))
        cast.refresh_from_db()
        post_unpoured(cast, w.DAY)
    entry, late = entry_of(kind), w.DAY + timedelta(days=1)
    refused = bench.post(f"/ledger/{entry.pk}/mend/", filled(entry) | {"day": late.isoformat()})
    assert refused.status_code == 422
    assert "Cast 1 ended on Mon 2 Mar 2026. Choose that day or an earlier one." in text_of(refused)
    assert not Entry.objects.filter(replaces=entry).exists()


def test_a_charge_of_more_lots_than_a_form_has_lines_is_mended_too(bench):
    lots = [w.buy(w.grain(), w.g(2), 2) for _ in range(45)]
    w.cast_metal([(lot, 1) for lot in lots], [w.piece("Leaf", 30)], back=15)
    said = press_twice(bench, entry_of("charge"), **{"lots-44-quantity": "1.5"})
    assert "Mended: charge of cast 1" in said and problems() == []
    lots[44].holder.refresh_from_db()
    assert lots[44].holder.quantity == w.g("0.5")


def test_a_delivery_in_the_list_says_what_came_and_what_it_costs_with_later_bills(bench):
    lot = w.buy(w.grain(), w.g(100), 100)
    post_mended_bill(lot.delivery, {lot.pk: w.money(80)}, w.money(5), w.DAY)
    said = text_of(bench.get("/buying/deliveries/"))
    assert "Sterling grain" in said and "85.00" in said


def test_something_that_never_happened_is_left_out(bench):
    lot = w.buy(w.powder(), w.g(1000), 10)
    bench.post(f"/stock/lots/{lot.pk}/take/", once() | {"quantity": "300", "day": str(w.DAY)})
    said = press_twice(bench, entry_of("use"), leave_out="on")
    assert "Mended: taken from stock" in said
    assert Holder.objects.get(lot=lot).quantity == w.g(1000)


def test_another_day_a_day_too_late_and_no_day(bench):
    lot = w.buy(w.grain(), w.g(100), 100)
    w.cast_metal([(lot, 40)], [w.piece("Leaf", 30)], back=10)
    press_twice(bench, entry_of("delivery"), day=str(w.DAY - timedelta(days=2)))
    lot.refresh_from_db()
    assert lot.received_on == w.DAY - timedelta(days=2)
    entry = entry_of("delivery")
    address = f"/ledger/{entry.pk}/mend/"
    late = bench.post(address, filled(entry) | {"day": str(w.DAY + timedelta(days=1))})
    assert "below zero" in text_of(late)
    assert bench.post(address, filled(entry) | {"day": "soon"}).status_code == 422


def test_a_tick_that_says_no_leaves_nothing_out_and_the_rest_is_judged(bench):
    scene = Scene()
    for kind in ("count", "charge", "delivery", "close"):
        typed = once() | {"day": str(w.DAY), "leave_out": "false"}
        said = bench.post(f"/ledger/{scene.entries[kind]}/mend/", typed)
        assert said.status_code == 422 and "This would change" not in text_of(said), kind


def test_a_bill_that_put_prices_right_keeps_them_when_its_day_is_mended(bench):
    lot = w.buy(w.grain(), w.g(100), 100, carriage=10)
    post_mended_bill(lot.delivery, {lot.pk: w.money(80)}, w.money(6), w.DAY)
    entry = entry_of("late_bill")
    assert "What the bill came to" not in text_of(bench.get(f"/ledger/{entry.pk}/mend/"))
    assert "Mended: " in press_twice(bench, entry, day=str(w.DAY + timedelta(days=1)))
    [row] = landed_rows(lot.delivery)
    assert (row.price_micro, row.charges_micro) == (w.money(80), w.money(6))
    assert problems() == []


def test_what_does_not_stand_any_more_is_not_mended(bench):
    lot = w.buy(w.grain(), w.g(100), 100)
    reversal = post_reversal(lot.entry)
    assert "mended already" in text_of(bench.get(f"/ledger/{lot.entry_id}/mend/", follow=True))
    assert bench.get(f"/ledger/{reversal.pk}/mend/").status_code == 404
    assert bench.get("/ledger/99999/mend/").status_code == 404


def test_what_is_mended_by_another_hand_while_its_page_is_read_leads_on(bench, monkeypatch):
    def mended_meanwhile(stood: Entry) -> bool:
        post_mended({entry: Mend(entry.day, read_given(entry))})
        return False

    monkeypatch.setattr("inventory.views.mending.is_reversed", mended_meanwhile)
    scene = Scene()
    for kind in ("delivery", "opening", "handed_in"):
        entry = Entry.objects.get(pk=scene.entries[kind])
        with transaction.atomic():
            assert bench.get(f"/ledger/{entry.pk}/mend/").url == f"/ledger/{entry.pk}/", kind
            transaction.set_rollback(True)


def test_the_prices_of_a_delivery_are_mended_down_where_they_stand(bench):
    lot = w.buy(w.grain(), w.g(100), 100, carriage=10)
    w.cast_metal([(lot, 40)], [w.piece("Leaf", 40)])
    address = f"/buying/deliveries/{lot.delivery_id}/bill/"
    shown = text_of(bench.get(address))
    assert 'value="100.00"' in shown and 'value="10.00"' in shown
    typed = {f"price_{lot.pk}": "80", "charges": "10", "day": str(w.DAY)}
    said = text_of(bench.post(address, once() | typed, follow=True))
    assert "The prices are mended" in said and "90.00" in said
    assert Holder.objects.get(lot=lot).cost_micro == w.money(54)
    assert Holder.objects.get(piece__name="Leaf").cost_micro == w.money(44)
    assert problems() == []


def test_prices_that_say_nothing_new_or_are_no_prices_are_refused(bench):
    lot = w.buy(w.grain(), w.g(100), 100)
    address = f"/buying/deliveries/{lot.delivery_id}/bill/"
    typed = {f"price_{lot.pk}": "100", "charges": "0", "day": str(w.DAY)}
    assert "nothing differs" in text_of(bench.post(address, once() | typed))
    for wrong in ("-1", "many", ""):
        assert bench.post(address, once() | typed | {f"price_{lot.pk}": wrong}).status_code == 422


@pytest.mark.parametrize("kind", ["finish", "sale"])
def test_what_was_done_to_a_piece_is_taken_back_on_its_page(bench, kind):
    lot = w.buy(w.grain(), w.g(100), 100)
    cast = w.cast_metal([(lot, 40)], [w.piece("Leaf", 40)])
    piece = cast.pieces.get()
    post_finish(piece, w.g(39), w.g("0.5"), w.DAY)
    if kind == "sale":
        post_sale(piece, w.DAY)
    entry = entry_of(kind)
    assert f"/ledger/{entry.pk}/reverse/" in text_of(bench.get(f"/pieces/{piece.pk}/"))
    back = bench.post(f"/ledger/{entry.pk}/reverse/", once(), follow=True)
    assert back.request["PATH_INFO"] == f"/pieces/{piece.pk}/" and "Taken back" in text_of(back)


@pytest.mark.counts
def test_a_longer_book_asks_the_page_no_more(bench):
    lot = w.buy(w.grain(), w.g(100), 100)
    w.cast_metal([(lot, 10)], [w.piece("Leaf", 10)])
    address = f"/ledger/{entry_of('delivery').pk}/mend/"
    before = count_queries(lambda: bench.get(address))
    for _ in range(3):
        w.cast_metal([(lot, 10)], [w.piece("Leaf", 10)])
    assert count_queries(lambda: bench.get(address)) == before
