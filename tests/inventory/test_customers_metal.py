"""A customer's metal from receipt to hand-back: topped up from the studio's, cast, lost, handed over; it adds up."""

from datetime import date
from decimal import Decimal

import pytest

from inventory.models import Entry, Holder, Lot, Material, Piece
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.pieces import post_finish, post_sale
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import Told, post_hand_back, post_handed_in
from inventory.posting.topping import post_top_up
from inventory.queries.customers import crossings_of, held_of
from inventory.reports.customer import _round_fine, build_statement
from tests import workshop as w
from tests.support import count_queries, once, problems, text_of

pytestmark = pytest.mark.django_db
SPOONS = Told("six spoons", "two garnets, back with her")


@pytest.fixture
def spoons(bench):
    return post_handed_in(w.customer(), w.grain(), w.g(60), w.DAY, told=SPOONS)


@pytest.fixture
def topped(spoons):
    """60 g of hers and 20 g from the studio in one charge of hers; a ring finished and handed over, the rest back."""
    own = w.buy(w.grain(), w.g(100), 130)
    bought = post_top_up(own, w.customer(), w.g(20), w.money(30), w.DAY)
    cast = w.cast_metal([(spoons, 60), (bought, 20)], [w.piece("Ring", 30)], back="48.5", owner=w.customer())
    ring = cast.pieces.get()
    post_finish(ring, w.g("28.7"), w.g(1), w.DAY)
    ring.refresh_from_db()
    post_sale(ring, w.DAY)
    back = Lot.objects.get(from_cast=cast, origin="clean")
    post_hand_back(back, w.g(40), w.DAY)
    return own, bought


def _rows(last: date = w.DAY) -> dict[str, Decimal]:
    """The grams of the statement by what they are told as."""
    table = build_statement({"customer": w.customer(), "to": last}).tables[0]
    return {row[0]: Decimal(row[1]) / 1000 for row in (*table.rows, table.totals)}


def test_what_is_passed_on_takes_its_grams_to_them_and_its_cost_out(bench):
    own = w.buy(w.grain(), w.g(100), 130)
    theirs = post_top_up(own, w.customer(), w.g(20), w.money(30), w.DAY)
    own.holder.refresh_from_db()
    assert (theirs.holder.quantity, theirs.holder.fine_ug, theirs.holder.cost_micro) == (
        20_000,
        18_500_000,
        0,
    )
    assert (own.holder.quantity, own.holder.cost_micro) == (80_000, w.money(104))
    assert theirs.owner == w.customer() and theirs.entry.top_up.price_micro == w.money(30)
    assert problems() == []


def test_all_of_a_lot_may_be_passed_on(bench):
    own = w.buy(w.grain(), w.g(20), 30)
    post_top_up(own, w.customer(), w.g(20), 0, w.DAY)
    own.holder.refresh_from_db()
    assert (own.holder.quantity, own.holder.fine_ug, own.holder.cost_micro) == (0, 0, 0)
    assert problems() == []


@pytest.mark.parametrize(("grams", "said"), [(101, "holds 100.00"), (0, "more than nothing")])
def test_no_more_than_is_there_is_passed_on(bench, grams, said):
    own = w.buy(w.grain(), w.g(100), 130)
    with pytest.raises(Refused, match=said):
        post_top_up(own, w.customer(), w.g(grams), w.money(1), w.DAY)


def test_only_metal_of_the_studio_is_passed_on(spoons):
    with pytest.raises(Refused, match="own metal; only the studio's"):
        post_top_up(spoons, w.customer(), w.g(1), w.money(1), w.DAY)
    with pytest.raises(Refused, match="Only metal"):
        post_top_up(w.buy(w.powder(), w.g(900), 9), w.customer(), w.g(1), w.money(1), w.DAY)


def test_topped_up_metal_takes_its_melts_and_its_doubts_with_it(bench):
    own = w.buy(w.grain(), w.g(40), 50)
    button = Lot.objects.get(from_cast=w.cast_metal([(own, 40)], [w.piece("Leaf", 20)], back=20))
    Lot.objects.filter(pk=button.pk).update(fineness_by="guess")
    theirs = post_top_up(Lot.objects.get(pk=button.pk), w.customer(), w.g(5), w.money(6), w.DAY)
    assert theirs.melts_milli == button.melts_milli == 1_000
    assert theirs.fineness_is_guess and theirs.origin == "clean" and theirs.from_cast is None


def test_a_top_up_is_mended_with_what_stands_on_it_and_taken_back(topped):
    own, bought = topped
    entry = bought.entry
    given = read_given(entry)
    assert (given.mass_mg, given.price_micro, given.customer) == (20_000, w.money(30), w.customer())
    post_mended({entry: Mend(entry.day, given.__class__(own, w.customer(), w.g(21), w.money(31)))})
    bought.refresh_from_db()
    assert bought.holder.quantity == 1_000 and bought.entry.top_up.price_micro == w.money(31)
    with pytest.raises(Refused):
        post_reversal(bought.entry)
    assert problems() == []


def test_the_statement_adds_up_from_receipt_to_hand_back(topped):
    rows = _rows()
    assert rows["Taken in"] + rows["From the studio's metal"] == rows["Came in all"] == 80
    parts = {
        "Handed over in pieces": "28.7",
        "Handed back": "40",
        "Lost at the pour": "1.5",
        "Lost in finishing": "0.3",
        "Here, not in a cast": "9.5",
    }
    assert {name: rows[name] for name in parts} == {name: Decimal(grams) for name, grams in parts.items()}
    assert sum(Decimal(grams) for grams in parts.values()) == rows["Accounted for"] == 80


def test_a_customers_piece_is_handed_over_and_not_sold(bench, topped):
    piece = Piece.objects.get()
    shown = text_of(bench.get(f"/pieces/{piece.pk}/"))
    assert "Take it back: piece handed over" in shown and "piece sold" not in shown
    entry = Entry.objects.get(kind="sale", piece=piece)
    assert ": piece handed over" in text_of(bench.get(f"/ledger/{entry.pk}/"))


def test_fine_metal_adds_up_as_it_is_printed(topped):
    """Taken to micrograms that round up one by one: 0.0456, 0.0386, 3.6756 and 2.1076 make 5.8674."""
    shown = _round_fine([45_600, 38_600, 3_675_600, 2_107_600])
    assert sum(shown) == 5_867_000 and all(fine_ug % 1_000 == 0 for fine_ug in shown)
    for table in build_statement({"customer": w.customer(), "to": w.DAY}).tables[:2]:
        place = [column.key for column in table.columns].index("fine")
        assert all(row[place] % 1_000 == 0 for row in table.rows) and table.totals[place] % 1_000 == 0


def test_the_statement_is_what_the_book_has_of_theirs(topped):
    held = sum(one.amount.quantity for one in held_of(w.customer(), w.DAY))
    assert held == sum(one.change.quantity for one in crossings_of(w.customer(), w.DAY)) == 9_500
    theirs = Holder.objects.filter(lot__owner=w.customer())
    assert held == sum(theirs.values_list("quantity", flat=True))


def test_the_statement_of_an_earlier_day_knows_nothing_of_later(spoons):
    day = w.DAY + w.DAY.resolution
    post_hand_back(spoons, w.g(10), day)
    assert _rows()["Here, not in a cast"] == 60
    assert _rows(day)["Here, not in a cast"] == 50


def test_metal_used_in_another_alloy_is_told_of_in_both(bench, spoons):
    fine = Material.objects.create(name="Fine grain", kind="metal", alloy=w.fine_silver(), form="grain")
    pure = post_handed_in(w.customer(), fine, w.g(10), w.DAY)
    w.cast_metal([(spoons, 50), (pure, 10)], [w.piece("Ring", 60)], owner=w.customer())
    text = text_of(bench.get("/reports/customer-statement/"))
    assert "Used in casts of another of their metals" in text and "Out of another of their metals" in text
    assert "the books were altered" not in text


def test_a_receipt_says_what_was_handed_in_and_what_was_taken_out(bench, spoons):
    text = text_of(bench.get("/reports/customer-receipt/"))
    for said in (
        "six spoons",
        "two garnets, back with her",
        "60.00 g",
        "Signed by whoever brought it",
        "55.5",
    ):
        assert said in text
    assert bench.get("/reports/customer-receipt.pdf").content.startswith(b"%PDF")
    own = w.buy(w.grain(), w.g(100), 130)
    assert "no metal that a customer handed in" in text_of(
        bench.get(f"/reports/customer-receipt/?lot={own.pk}")
    )


def test_a_ring_is_old_metal_reckoned_as_melted_once(bench):
    page = text_of(bench.get("/stock/handed-in/"))
    assert "Write down its alloy" in page and "Old metal: jewellery" in page
    typed = {"new_customer": "Ilse Quill", "material": w.grain().pk, "mass": "5", "day": w.DAY.isoformat()}
    bench.post("/stock/handed-in/", {**once(), **typed, "is_old": "on", "guess": ""})
    lot = Lot.objects.get()
    assert (str(lot.material), lot.melts_milli, lot.melts_are_guess) == (
        f"{w.sterling()}, old metal",
        1_000,
        True,
    )
    assert not lot.is_fresh and read_given(lot.entry).melts_milli is None
    assert f"{w.sterling()}, old metal" in text_of(bench.get(f"/reports/customer-receipt/?lot={lot.pk}"))
    assert problems() == []


def test_a_receipt_is_mended_with_the_weight(bench, spoons):
    page = {"day": w.DAY.isoformat(), "mass": "59", "melts": "", "what": "five spoons", "stones": ""}
    seen = bench.post(f"/ledger/{spoons.entry_id}/mend/", {**page, **once()})
    mark = text_of(seen).split('name="seen" value="')[1].split('"')[0]
    bench.post(f"/ledger/{spoons.entry_id}/mend/", {**page, "seen": mark, **once()})
    spoons.refresh_from_db()
    assert (spoons.receipt.what, spoons.receipt.stones, spoons.holder.quantity) == ("five spoons", "", 59_000)


def test_a_lot_is_passed_on_from_its_page(bench):
    own = w.buy(w.grain(), w.g(100), 130)
    page = text_of(bench.get(f"/stock/lots/{own.pk}/pass-on/"))
    assert "A gram of this lot cost you 1.30" in page
    sent = {"quantity": "20", "customer": w.customer().pk, "price": "30", "day": w.DAY.isoformat(), **once()}
    assert bench.post(f"/stock/lots/{own.pk}/pass-on/", sent).status_code == 302
    assert Lot.objects.get(owner=w.customer()).holder.quantity == 20_000
    customer = text_of(bench.get(f"/setup/customers/{w.customer().pk}/"))
    assert "Metal of theirs that is here" in customer and "Statement of their metal" in customer


def test_a_piece_of_topped_up_metal_is_traced_to_the_studios_lot(bench, topped):
    page = text_of(bench.get("/reports/trace-piece/"))
    assert f"Lot {topped[0].pk}, Sterling grain" in page and f"Lot {topped[1].pk}," not in page


@pytest.mark.counts
def test_a_statement_asks_as_often_for_a_long_book(bench, topped):
    before = count_queries(lambda: bench.get("/reports/customer-statement/"))
    for _ in range(3):
        lot = post_handed_in(w.customer(), w.grain(), w.g(20), w.DAY)
        w.cast_metal([(lot, 20)], [w.piece("Ring", 10)], back=10, owner=w.customer())
    assert count_queries(lambda: bench.get("/reports/customer-statement/")) == before
