"""Sales with their money beside the book: what counts, what comes back, what is owed, and bills without gaps."""

import random
from datetime import date, timedelta

import pytest
from django.db import transaction
from django.db.models import Model, Sum

from costing.core.sale import SaleTerms
from costing.models import Channel, CustomerBill, Outing, OutPiece, Policy, Refund, Sale, SaleLine
from costing.posting.sales import (
    Back,
    SaleFacts,
    Sold,
    bring_back,
    mark_paid,
    post_refund,
    post_sold,
    send_out,
    strike_out_bill,
    write_bill,
)
from costing.queries.sales import (
    bills,
    count_long_owed,
    counted_lines,
    counted_refunds,
    left_without_price,
    sales,
    sales_owed,
    still_out,
)
from inventory.models import Entry, Holder, Movement, Piece
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.pieces import post_finish, post_finish_together, post_melt_back, post_sale
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_handed_in
from inventory.queries.ledger import STANDING
from tests import workshop as w
from tests.support import problems

pytestmark = pytest.mark.django_db
LATER = w.DAY + timedelta(days=3)
money = w.money


@pytest.fixture
def pieces() -> list[Piece]:
    w.make_studio()
    Policy.objects.create(from_day=date(2025, 1, 1), tax_pct100=2000)
    lot = w.buy(w.grain(), w.g(100), 130)
    cast = w.cast_metal([(lot, 40)], [w.piece(name, 4) for name in ("Leaf", "Pod", "Stud", "Bud")], back=22)
    return list(cast.pieces.order_by("number"))


def channel(**changes: object) -> Channel:
    return Channel.objects.create(**{"name": "Saturday market", "card_pct100": 175, **changes})


def sell(pieces: list[Piece], price: int = 120, where: Channel | None = None, **facts: object) -> Sale:
    where = where or Channel.objects.first() or channel()
    return post_sold(
        SaleFacts(channel=where, day=w.DAY, **facts),  # type: ignore[arg-type]
        [Sold(piece, money(price), money(price)) for piece in pieces],
    )


def test_pieces_leave_together_and_the_money_stands_beside_them(pieces: list[Piece]) -> None:
    sell(pieces[:2], buyer="Ida Finch")
    assert [line.paid_micro for line in counted_lines()] == [money(120)] * 2
    assert [line.book_micro for line in counted_lines()] == [money("5.20")] * 2
    [sale] = sales()
    # 240.00 less 40.00 of tax and 4.20 of card.
    assert (sale.count, sale.paid, sale.left_now) == (2, money(240), money("195.80"))
    assert Piece.objects.filter(state="sold").count() == 2
    assert problems() == []


def test_all_or_none(pieces: list[Piece]) -> None:
    sell(pieces[:1])
    with pytest.raises(Refused, match="Leaf is sold"):
        sell([pieces[1], pieces[0]])
    with pytest.raises(Refused, match="more than the prices"):
        post_sold(
            SaleFacts(channel=channel(name="Table"), day=w.DAY),
            [Sold(pieces[1], money(5))],
            SaleTerms(discount_micro=money(6)),
        )
    assert (Sale.objects.count(), Piece.objects.get(pk=pieces[1].pk).state) == (1, "cast")


def test_a_line_counts_as_its_entry_stands(pieces: list[Piece]) -> None:
    sell(pieces[:2])
    entry = Entry.objects.filter(kind="sale").order_by("pk")[0]
    post_mended({entry: Mend(LATER, read_given(entry))})
    assert [line.sold_on for line in counted_lines().order_by("pk")] == [LATER, w.DAY]
    now = Entry.objects.get(replaces=entry)
    post_reversal(now)
    assert [line.piece_id for line in counted_lines()] == [pieces[1].pk]
    assert sales().get().paid == money(120)
    # Sold anew without a price, it is told as such and does not take up the old money.
    post_sale(Piece.objects.get(pk=pieces[0].pk), LATER)
    assert counted_lines().count() == 1
    assert list(left_without_price()) == [pieces[0]]
    sell([Piece.objects.get(pk=pieces[0].pk)], 90)
    assert counted_lines().filter(piece=pieces[0]).get().sold_on == LATER
    assert not left_without_price().exists()
    assert problems() == []


def test_a_piece_comes_back_for_all_or_some_of_its_money(pieces: list[Piece]) -> None:
    sell(pieces[:2])
    first, second = counted_lines().order_by("pk")
    post_refund(first, Back(money(120), LATER, reason="too small"))
    back = counted_refunds().get()
    assert (back.tax_micro, back.book_micro, back.back_on) == (money(20), money("5.20"), LATER)
    assert Piece.objects.get(pk=pieces[0].pk).state == "cast"
    assert sales().get().left_now == money("97.90") - money("2.10")
    with pytest.raises(Refused, match=r"At most 0\.00") as refused:
        post_refund(first, Back(money(1), LATER, came_back=False))
    assert refused.value.field == "amount"
    # Some of the money only, in two parts: the tax of both is that of the whole.
    post_refund(second, Back(money(10), LATER, came_back=False))
    post_refund(second, Back(money(110), LATER, came_back=False, fees_back_micro=money("2.10")))
    assert counted_refunds().filter(line=second).aggregate(Sum("tax_micro"))["tax_micro__sum"] == money(20)
    # The return taken back, its refund counts no more; and the old sale does not bring back a piece of a new one.
    post_reversal(Entry.objects.get(kind="return"))
    assert counted_refunds().filter(line=first).count() == 0
    assert problems() == []


def test_what_is_paid_back_or_sold_has_its_limits(pieces: list[Piece]) -> None:
    sale = sell(pieces[:1], where=channel(tax="none", name="No tax"))
    assert sale.tax_pct100 == 0
    line = counted_lines().get()
    with pytest.raises(Refused, match="Write what was paid back"):
        post_refund(line, Back(0, LATER, came_back=False))
    post_refund(line, Back(money(1), LATER, came_back=False, fees_back_micro=money("2.00")))
    with pytest.raises(Refused, match=r"Its fees were 0\.10") as refused:
        post_refund(line, Back(money(1), LATER, came_back=False, fees_back_micro=money("0.11")))
    assert refused.value.field == "fees_back"
    with pytest.raises(Refused, match="Leaf is sold: it cannot go out"):
        out_at(pieces[:1], "Gallery")
    lot = post_handed_in(w.customer(), w.grain(), w.g(20), w.DAY)
    theirs = list(w.cast_metal([(lot, 10)], [w.piece("Ring", 9)], back=1, owner=w.customer()).pieces.all())
    for act in (lambda: sell(theirs), lambda: out_at(theirs, "Gallery")):
        with pytest.raises(Refused, match="own metal"):
            act()


def test_an_old_sale_brings_back_nothing_of_a_new_one(pieces: list[Piece]) -> None:
    sell(pieces[:1])
    [line] = counted_lines()
    post_refund(line, Back(money(50), LATER))
    again = Piece.objects.get(pk=pieces[0].pk)
    post_sold(SaleFacts(channel=Channel.objects.get(), day=LATER), [Sold(again, money(70))])
    with pytest.raises(Refused, match="was sold again since"):
        post_refund(line, Back(money(10), LATER))
    with pytest.raises(Refused, match="It was sold on"):
        post_refund(line, Back(money(10), w.DAY - timedelta(days=1), came_back=False))


def test_pieces_with_a_gallery_stay_the_studios_until_sold_there(pieces: list[Piece]) -> None:
    gallery = channel(name="Gallery on the hill", commission_pct100=4000, card_pct100=0)
    out = send_out(
        Outing(kind="gallery", channel=gallery, name="Gallery", day=w.DAY),
        [(one, money(120)) for one in pieces[:3]],
    )
    assert [row.piece for row in still_out()] == pieces[:3]
    assert Holder.objects.get(pk=pieces[0].holder_id).quantity == w.g(4)
    with pytest.raises(Refused, match="Leaf is out with Gallery since"):
        sell(pieces[:1], where=channel())
    with pytest.raises(Refused, match="is out with"):
        send_out(Outing(kind="gallery", channel=gallery, name="Other", day=w.DAY), [(pieces[0], None)])
    sell(pieces[:1], where=gallery, outing=out, is_owed=True)
    # 120.00 less 40 % of 100.00: they owe 80.00, of which 20.00 is tax.
    assert sales_owed().get().owed == money(80)
    assert count_long_owed(w.DAY + timedelta(days=30)) == 0
    assert count_long_owed(w.DAY + timedelta(days=31)) == 1
    mark_paid(sales_owed().get(), LATER)
    assert not sales_owed().exists()
    assert bring_back(out, [pieces[1].pk], LATER) == 1
    assert [row.piece for row in still_out()] == [pieces[2]]
    # The sale taken back, the piece is with them again; sold and come back, it is here.
    post_reversal(Entry.objects.get(kind="sale"))
    assert [row.piece for row in still_out()] == [pieces[0], pieces[2]]
    assert count_long_owed(LATER + timedelta(days=90)) == 0
    assert problems() == []


def out_at(pieces: list[Piece], name: str, day: date = LATER) -> Outing:
    where = Channel.objects.first() or channel()
    return send_out(
        Outing(kind="gallery", channel=where, name=name, day=day), [(one, None) for one in pieces]
    )


def test_what_a_gallery_has_is_neither_finished_nor_melted(pieces: list[Piece]) -> None:
    out = out_at(pieces[:2], "Gallery")
    for act in (
        lambda: post_melt_back(pieces[0], w.DAY),
        lambda: post_finish(pieces[0], w.g("3.9"), 0, LATER),
        lambda: post_finish_together([(pieces[2], w.g(4)), (pieces[1], w.g("3.9"))], 0, LATER),
    ):
        with pytest.raises(
            Refused, match="is out with Gallery since Thu.5.Mar.2026. Write first that it came back"
        ):
            act()
    # What was done before it went may be written down late, and mended while it is away.
    done = post_finish(pieces[0], w.g("3.9"), 0, w.DAY)
    assert done is not None
    post_mended({done: Mend(LATER, read_given(done))})
    bring_back(out, None, LATER)
    post_melt_back(pieces[0], LATER)
    assert problems() == []


def test_what_a_gallery_has_is_sold_from_there_or_comes_back(pieces: list[Piece]) -> None:
    out = out_at(pieces[:1], "Gallery")
    with pytest.raises(
        Refused, match="out with Gallery since Thu.5.Mar.2026. Sell it from there, or write first"
    ):
        post_sale(pieces[0], LATER)
    bring_back(out, None, LATER)
    assert post_sale(pieces[0], LATER).kind == "sale"
    assert problems() == []


def test_a_sale_from_a_gallery_is_of_what_it_has(pieces: list[Piece]) -> None:
    out = out_at(pieces[:1], "Gallery")
    with pytest.raises(Refused, match="went out on Thu.5.Mar.2026: they were sold then or later") as refused:
        sell(pieces[:1], outing=out)
    assert refused.value.field == "day"
    bring_back(out, None, LATER)
    with pytest.raises(Refused, match="Leaf is not out with Gallery any more"):
        sell(pieces[:1], outing=out)
    post_finish(pieces[1], w.g("3.9"), 0, LATER)
    with pytest.raises(Refused, match="Pod was weighed here on Thu.5.Mar.2026: it went out then or later"):
        out_at(pieces[1:2], "Early", w.DAY)
    sale = sell(pieces[:1], is_owed=True)
    with pytest.raises(Refused, match="it was paid over then or later"):
        mark_paid(sale, w.DAY - timedelta(days=1))
    read_before = Sale.objects.get(pk=sale.pk)
    mark_paid(sale, LATER)
    assert write_bill(read_before, "Ida Finch", "", LATER).is_paid
    assert problems() == []


def test_a_piece_is_out_where_it_went_last(pieces: list[Piece]) -> None:
    first = out_at(pieces[:1], "First", w.DAY)
    sell(pieces[:1], outing=first)
    post_refund(counted_lines().get(), Back(0, LATER))
    second = out_at(pieces[:1], "Second")
    for kind in ("return", "sale"):
        post_reversal(Entry.objects.get(kind=kind))
    assert [row.outing for row in still_out()] == [second]
    bring_back(second, None, LATER)
    assert not still_out().exists()


def test_the_audit_names_money_that_does_not_add_up(pieces: list[Piece]) -> None:
    out = out_at(pieces[2:], "Gallery", w.DAY)
    sale = sell(pieces[:2])
    write_bill(sale, "Ida Finch", "", w.DAY)
    first, second = sale.lines.order_by("pk")
    post_refund(first, Back(money(100), LATER, came_back=False))
    assert problems() == []

    def wrong(model: type[Model], key: int | None, **changes: object) -> str:
        with transaction.atomic():
            model._base_manager.filter(pk=key).update(**changes)
            found = problems()
            transaction.set_rollback(True)
        assert len(found) == 1, found
        return found[0]

    assert "says 1 paid" in wrong(SaleLine, second.pk, paid_micro=1, tax_micro=0)
    assert "discount and tax say otherwise" in wrong(SaleLine, second.pk, discount_micro=1)
    assert "is the most" in wrong(Refund, Refund.objects.get().pk, amount_micro=money(121))
    assert "is the most" in wrong(Refund, Refund.objects.get().pk, tax_micro=money("20.01"))
    assert "is the most" in wrong(Refund, Refund.objects.get().pk, fees_back_micro=money("2.11"))
    assert "by entry" in wrong(SaleLine, second.pk, entry_id=pieces[0].entry_id)
    assert "before it went" in wrong(OutPiece, out.lines.get(piece=pieces[2]).pk, back_on=date(2026, 3, 1))
    assert "follows number 0" in wrong(CustomerBill, CustomerBill.objects.get().pk, number=2)
    with transaction.atomic():
        Sale.objects.filter(pk=sale.pk).update(tax="none")
        assert len(problems()) == 2
        transaction.set_rollback(True)
    with transaction.atomic():
        bring_back(out, [pieces[3].pk], w.DAY)
        post_melt_back(pieces[3], w.DAY)
        OutPiece.objects.filter(piece=pieces[3]).update(back_on=None)
        assert problems() == [f"piece {pieces[3].pk} is out with outing {out.pk} and was melted"]
        transaction.set_rollback(True)
    with transaction.atomic():
        Piece.objects.filter(pk=pieces[0].pk).update(state="melted")
        assert problems() == [f"piece {pieces[0].pk} of a sale is melted, and 1 times sold and not back"]
        transaction.set_rollback(True)


def test_bills_are_numbered_without_gaps_in_each_year(pieces: list[Piece]) -> None:
    one, other = sell(pieces[:1]), sell(pieces[1:3])
    with pytest.raises(Refused, match="Date the bill that day or later") as early:
        write_bill(one, "Ida Finch", "", w.DAY - timedelta(days=1))
    assert early.value.field == "day"
    first = write_bill(one, "Ida Finch", "1 Mill Lane", date(2026, 12, 30))
    with pytest.raises(Refused, match="There is a bill for this sale already"):
        write_bill(one, "Ida Finch", "", date(2026, 12, 31))
    strike_out_bill(first, date(2026, 12, 31), "wrong name")
    assert str(write_bill(one, "Ina Finch", "", date(2026, 12, 31))) == "Bill 2026-002"
    assert str(write_bill(other, "Ida Finch", "", date(2027, 1, 2))) == "Bill 2027-001"
    assert [bill.total for bill in bills()] == [money(240), money(120), money(120)]
    assert CustomerBill.objects.get(year=2027).rows.count() == 2


def test_a_bill_leaves_out_what_came_back(pieces: list[Piece]) -> None:
    sale = sell(pieces[:2])
    first, second = counted_lines().order_by("pk")
    post_refund(first, Back(first.paid_micro, LATER))
    assert [row.what for row in write_bill(sale, "Ida", "", LATER).rows.all()] == [
        f"{second.piece.name}, {second.piece.cast.alloy} ({second.piece.cast.number}.{second.piece.number})"
    ]
    other = sell(pieces[2:3])
    [line] = counted_lines().filter(sale=other)
    post_refund(line, Back(line.paid_micro, LATER))
    with pytest.raises(Refused, match="All of this sale was paid back"):
        write_bill(other, "Ida", "", LATER)


@pytest.mark.parametrize("seed", range(2))
def test_money_in_is_money_out_over_random_sales_and_returns(pieces: list[Piece], seed: int) -> None:
    """What buyers paid, less tax, fees and what was paid back, less the cost the ledger has, adds up both ways."""
    draw = random.Random(seed)
    where = [
        channel(tax=tax, name=tax, commission_pct100=draw.randrange(5000)) for tax in ("in", "out", "none")
    ]
    handed = returned = fees_back = 0
    for step in range(12):
        here = list(Piece.objects.filter(state__in=("cast", "finished")))
        chosen = draw.sample(here, draw.randrange(len(here) + 1)) if here else []
        day = w.DAY + timedelta(days=step)
        if chosen:
            prices = [draw.randrange(1, 30_000) * 10_000 for _ in chosen]
            facts = SaleFacts(channel=draw.choice(where), day=day)
            post_sold(facts, [Sold(piece, price) for piece, price in zip(chosen, prices, strict=True)])
        for line in counted_lines():
            if draw.randrange(3) == 0 and Piece.objects.get(pk=line.piece_id).state == "sold":
                try:
                    post_refund(line, Back(draw.randrange(line.paid_micro // 10_000 + 1) * 10_000, day))
                except Refused:
                    continue
        if draw.randrange(4) == 0 and (
            last := Entry.objects.filter(kind__in=("sale", "return")).order_by("-pk").first()
        ):
            try:
                post_reversal(last)
            except Refused:
                continue
    for line in counted_lines():
        handed += line.paid_micro
    for refund in counted_refunds():
        returned += refund.amount_micro
        fees_back += refund.fees_back_micro
    found = list(sales())
    assert sum(sale.paid - sale.refunded for sale in found) == handed - returned
    taxes = sum(line.tax_micro for line in counted_lines()) - sum(one.tax_micro for one in counted_refunds())
    fees = sum(line.fees_micro for line in counted_lines()) - fees_back
    assert sum(sale.left_now for sale in found) == handed - returned - taxes - fees
    # The cost of what counts as sold is what the book has with customers.
    cost = sum(line.book_micro for line in counted_lines()) - sum(
        one.book_micro for one in counted_refunds() if one.entry_id
    )
    book = {
        end: Movement.objects.filter(STANDING, **{f"{end}__place": "customer"}).aggregate(
            cost=Sum("cost_micro")
        )["cost"]
        or 0
        for end in ("source", "target")
    }
    assert cost == book["target"] - book["source"]
    assert SaleLine.objects.filter(paid_micro__lt=0).count() == 0
    assert problems() == []
