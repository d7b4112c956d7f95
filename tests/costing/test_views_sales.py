"""Pages of sales: a fair in one page, a sale, money back, a bill, and what all of it leaves by hand."""

from datetime import date
from typing import Any

import pytest
import time_machine
from django.test import Client

from costing.core.profit import add_up
from costing.models import Channel, CustomerBill, Outing, Policy, Refund
from costing.posting.sales import strike_out_bill, write_bill
from costing.queries.profit import read_profit
from costing.queries.sales import counted_lines, money_of, sales, still_out
from inventory.models import Piece
from inventory.posting.refusal import Refused
from studio.kit.printing import print_money
from studio.kit.working import Working
from tests import workshop as w
from tests.support import let_in, once, problems, text_of
from tests.workings import find_fault

pytestmark = pytest.mark.django_db
money = w.money


@pytest.fixture
def pieces(client: Client, django_user_model: Any) -> list[Piece]:
    let_in(client, django_user_model.objects.create_user("mona"))
    w.make_studio()
    Policy.objects.create(from_day=date(2025, 1, 1), tax_pct100=2000)
    Channel.objects.create(
        name="Market", card_pct100=200, card_micro=money("0.10"), day_micro=money(45), tax=Channel.Tax.INSIDE
    )
    lot = w.buy(w.grain(), w.g(200), 260)
    cast = w.cast_metal([(lot, 100)], [w.piece("Leaf", 60, 30)], back=40)
    return list(cast.pieces.order_by("number"))


def take_out(client: Client, **more: str) -> Outing:
    sent = {
        "kind": "fair",
        "channel": Channel.objects.get().pk,
        "name": "Spring fair",
        "day": "2026-03-07",
        **more,
    }
    answer = client.post("/sales/out/new/", sent | once())
    assert answer.status_code == 302, text_of(answer)
    return Outing.objects.get()


def test_a_fair_of_thirty_adds_up_by_hand(client: Client, pieces: list[Piece]) -> None:
    """Thirty pieces of 2 g at 1.30 a gram: 2.60 each. 22 are sold at odd prices from 21.50 up by 1.00: 704.00.

    Tax inside is 117.33, the table 45.00, the card 2 % of 704.00 and 22 times 0.10: 16.28. So 525.39 is left, and
    468.19 after the metal of 22 pieces.
    """
    cast = pieces[0].cast
    fair = take_out(client, numbers=f"{cast.number}.1-30")
    page = text_of(client.get(f"/sales/out/{fair.pk}/"))
    assert "30 of 30 pieces still out" in page
    prices = {f"price_{piece.pk}": f"{21 + place}.50" for place, piece in enumerate(pieces[:22])}
    rest = {f"price_{piece.pk}": "" for piece in pieces[22:]}
    sent = {**prices, **rest, "table_fee": "45", "card_fee": "", "day": "2026-03-07", "rest_back": "on"}
    answer = client.post(f"/sales/out/{fair.pk}/", sent | once())
    assert answer.status_code == 302, text_of(answer)
    [sale] = sales()
    assert (sale.count, sale.paid, sale.left_now) == (22, money(704), money("525.39"))
    total = add_up(one.deed for one in read_profit(date(2026, 3, 1), date(2026, 3, 31)))
    assert total.over_book_micro == money("468.19")
    assert not still_out().exists()
    assert Piece.objects.filter(state="cast").count() == 8
    page = text_of(client.get(f"/sales/{sale.pk}/"))
    assert "704.00 GBP paid,</b> 525.39 left" in page
    report = text_of(client.get("/reports/profit/?from=2026-03-01&to=2026-03-31&by=channel"))
    assert "525.39 is left" in report and "468.19" in report and "Market" in report
    # The working says the same, and every step of it can be worked again.
    whole = read_working(money_of(sale, list(counted_lines())).work("What the sale leaves"))
    assert whole == "525.39" and "How what is left came about" in page
    assert read_working(total.work("Profit together")) == print_money(total.profit_micro)
    assert "What to cast next" not in report
    # Eight are left of thirty, and no time is written down for them.
    with time_machine.travel("2026-03-20 12:00Z", tick=False):
        by_design = text_of(client.get("/reports/profit/?from=2026-03-01&to=2026-03-20"))
    assert (
        "and no time at the bench is written down for it; 22 went in the last 8 weeks and 8 are left."
        in by_design
    )
    late = text_of(client.get("/reports/profit/?from=2026-03-01&to=2026-03-31"))
    assert "nothing has to be cast for the shelf" in late
    assert "Profit together" in report and "for a flask: 468.1900 ÷ (11 ÷ 15)" in report
    assert problems() == []


def read_working(working: Working) -> str:
    assert [find_fault(step) for step in working.steps if find_fault(step)] == []
    return working.result


def test_what_is_asked_is_offered_and_a_tick_takes_it(client: Client, pieces: list[Piece]) -> None:
    pieces[0].asked_prices.create(day=w.DAY, price_micro=money(24))
    page = text_of(client.get("/sales/new/?q=Leaf 1"))
    assert 'value="24.00"' in page and page.count('data-offered="24.00"') == 1
    key, other = pieces[0].pk, pieces[1].pk
    sent = {
        "channel": Channel.objects.get().pk,
        "day": "2026-03-07",
        f"price_{key}": "24.00",
        f"price_{other}": "",
    }
    refused = client.post("/sales/new/", sent | once())
    assert refused.status_code == 422 and "Tick at least one piece" in text_of(refused)
    refused = client.post("/sales/new/", sent | {f"take_{other}": "on"} | once())
    assert refused.status_code == 422 and "Write what it went for" in text_of(refused)
    assert (
        client.post("/sales/new/", sent | {f"take_{key}": "on", "buyer": "Ida Finch"} | once()).status_code
        == 302
    )
    [line] = counted_lines()
    assert (line.piece_id, line.paid_micro, line.asked_micro) == (key, money(24), money(24))
    # Its money goes back with it; a bill keeps what it said.
    bill = {"buyer": "Ida Finch", "address": "1 Mill Lane", "day": "2026-03-08"}
    assert client.post(f"/sales/{line.sale_id}/bill/", bill | once()).status_code == 302
    back = {"came_back": "on", "amount": "24", "fees_back": "", "reason": "too small", "day": "2026-03-09"}
    assert client.post(f"/sales/pieces/{line.pk}/back/", back | once()).status_code == 302
    assert Piece.objects.get(pk=key).state == "cast"
    page = text_of(client.get(f"/sales/{line.sale_id}/"))
    assert "24.00 paid back" in page and "too small" in page
    paper = text_of(client.get("/reports/customer-bill/?bill=2026-1"))
    assert "Ida Finch" in paper and "20.00" in paper and "4.00" in paper
    assert "Since it was written, 24.00 of it was paid back. Here again: Leaf 1." in paper
    assert "of which 24.00 was paid back since" in page
    # The row is less what was paid back, as the head is; nothing is left to come back, nor to bill.
    assert "GBP paid,</b> −0.58 left" in page and '<td class="num">−0.58</td></tr>' in page
    leads_on = f"/sales/pieces/{line.pk}/back/"
    assert leads_on not in page and client.get(leads_on).status_code == 302
    with pytest.raises(Refused, match="There is a bill"):
        write_bill(line.sale, "Ida", "", date(2026, 3, 9))
    total = add_up(one.deed for one in read_profit(date(2026, 3, 1), date(2026, 3, 31)))
    # Only the fees are gone: 2 % of 24.00, and 0.10.
    assert (total.pieces, total.profit_micro) == (0, -money("0.58"))
    assert problems() == []
    take_back_what_was_wrong(client, line)


def take_back_what_was_wrong(client: Client, line: Any) -> None:
    """A bill is struck out with a reason and another is written; a return is taken back in the book."""
    sale, bill = f"/sales/{line.sale_id}/", CustomerBill.objects.get()
    address = f"/sales/bills/{bill.pk}/strike-out/"
    assert address in client.get(sale).content.decode()
    early = client.post(address, {"why": "wrong name", "day": "2026-03-07"} | once())
    assert early.status_code == 422 and "Choose that day or a later one" in text_of(early)
    assert client.post(address, {"why": "wrong name", "day": "2026-03-09"} | once()).status_code == 302
    assert "wrong name" in text_of(client.get(sale)) and client.get(address).status_code == 404
    assert "Struck out on Mon 9 Mar 2026: wrong name" in text_of(
        client.get("/reports/customer-bill/?bill=2026-1")
    )
    with_piece = Refund.objects.get()
    led_on = client.get(f"/sales/refunds/{with_piece.pk}/take-out/")
    assert led_on.url == f"/ledger/{with_piece.entry_id}/reverse/"
    assert client.post(led_on.url, {"note": ""} | once()).status_code == 302
    assert client.get(f"/sales/refunds/{with_piece.pk}/take-out/").status_code == 404
    bill = {"buyer": "Ida Finch", "address": "", "day": "2026-03-10"}
    assert client.post(f"{sale}bill/", bill | once()).status_code == 302
    # Money alone: its tax and fees come back in the working, and taken out it is as if it had not been.
    back = {"amount": "6", "fees_back": "0.12", "reason": "a scratch", "day": "2026-03-11"}
    assert client.post(f"/sales/pieces/{line.pk}/back/", back | once()).status_code == 302
    assert "after what was paid back, its tax and its fees: 19.42 − 6.00 + 1.00 + 0.12" in text_of(
        client.get(sale)
    )
    # Another bill is less what was paid back, and says so; the rest of it is offered to be paid back.
    strike_out_bill(CustomerBill.objects.get(struck_out_on=None), date(2026, 3, 12), "a scratch")
    [row] = write_bill(line.sale, "Ida Finch", "", date(2026, 3, 12)).rows.all()
    assert (row.before_tax_micro, row.tax_micro) == (money(15), money(3))
    assert row.what.endswith(", less 6.00 paid back") and "paid back since" not in text_of(client.get(sale))
    assert 'value="18.00"' in text_of(client.get(f"/sales/pieces/{line.pk}/back/"))
    refund = Refund.objects.get(entry=None)
    address = f"/sales/refunds/{refund.pk}/take-out/"
    assert "6.00 for Leaf 1 was not paid back" in text_of(client.get(address))
    assert client.post(address, once()).status_code == 302
    assert "6.00 paid back" not in text_of(client.get(sale)) and client.get(address).status_code == 404
    assert problems() == []


def test_numbers_that_name_nothing_here_are_told(client: Client, pieces: list[Piece]) -> None:
    number = pieces[0].cast.number
    where = {"kind": "fair", "channel": Channel.objects.get().pk, "name": "Fair", "day": "2026-03-07"}
    where[f"price_{pieces[0].pk}"] = ""
    for numbers, said in (
        (f"{number}.1, {number}.77", f"has the number {number}.77."),
        (f"999.1-3,{number}.5-2", f"has the number 999.1-3 or {number}.5-2."),
    ):
        refused = client.post("/sales/out/new/", where | {"numbers": numbers} | once())
        assert refused.status_code == 422 and said in text_of(refused)
    assert not Outing.objects.exists()
    answer = client.post("/sales/out/new/", where | {"numbers": f"{number}.29-32"} | once(), follow=True)
    assert f"2 went out. Not here, and so not out: {number}.31, {number}.32." in text_of(answer)


def test_a_gallery_brings_some_back_and_owes_for_others(client: Client, pieces: list[Piece]) -> None:
    fair = take_out(client, kind="gallery", numbers=f"{pieces[0].cast.number}.1-3")
    note = text_of(client.get(f"/reports/consignment-note/?outing={fair.pk}"))
    assert "Leaf 3" in note and "until they are sold or handed back" in note
    sent = {f"price_{pieces[0].pk}": "60", "is_owed": "on", "day": "2026-03-09"}
    assert client.post(f"/sales/out/{fair.pk}/", sent | once()).status_code == 302
    none = client.post(f"/sales/out/{fair.pk}/back/", {"day": "2026-03-10"} | once())
    assert none.status_code == 422 and "Tick at least one piece that came back" in text_of(none)
    sent = {f"take_{pieces[1].pk}": "on", "day": "2026-03-10"}
    assert client.post(f"/sales/out/{fair.pk}/back/", sent | once()).status_code == 302
    assert [row.piece_id for row in still_out()] == [pieces[2].pk]
    [sale] = sales()
    assert "Owed to you" in text_of(client.get("/sales/owed/"))
    page = text_of(client.get(f"/sales/{sale.pk}/"))
    assert "They owe you 58.70" in page and "owed: 60.00 − 1.30" in page
    assert client.post(f"/sales/{sale.pk}/", {"day": "2026-03-20"} | once()).status_code == 302
    assert "Paid over" in text_of(client.get(f"/sales/{sale.pk}/"))
