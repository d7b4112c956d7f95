"""The year's account balances by hand from the page, and its ends are what the stock cost on those days."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from django.utils import timezone

from costing.core.metal_account import compute_accounts
from costing.queries.held import stock_on, things_on, value_pieces
from costing.queries.metal import metal_flows, metal_held
from inventory.core.ledger import total_of
from tests.costing.printed_tables import page_tables
from tests.support import text_of

pytestmark = [pytest.mark.django_db, pytest.mark.slow]


@pytest.fixture
def reader(demo_year, client):
    client.force_login(User.objects.get())
    return client


def number(text):
    return Decimal(re.sub(r"[^\d.-]", "", text.replace("\N{MINUS SIGN}", "-")))


def test_the_demos_year_balances_by_hand_and_its_ends_are_the_stock(reader):
    today = timezone.localdate()
    spans = [(today - timedelta(days=first), today - timedelta(days=last)) for first, last in SPANS]
    for first, last in spans:
        tables = page_tables(reader, f"/reports/metal-loss/?from={first}&to={last}")
        check_rows(tables["The account in grams"])
        money = tables["The account in money"]
        check_rows(money)
        check_sides(tables)
        for day, column in ((first - timedelta(days=1), 1), (last, -1)):
            stock = page_tables(reader, f"/reports/stock-value/?day={day}")
            worth = {row[0]: row[-1] for row in stock.get("By what it is", [])}
            for row in money[1:-1]:
                assert number(worth.get(row[0], "0")) == number(row[column]), (row[0], day)
    check_stock_page(reader)
    check_exact(spans)


#: Days before today: the year, a quarter within it, one day.
SPANS = ((364, 0), (200, 110), (40, 40))


def check_rows(table):
    for name, *cells in table[1:]:
        # What came back, or from another alloy, stands between what came and what went.
        *came, went, lost, end = map(number, cells)
        assert sum(came) == went + lost + end, name


def check_sides(tables):
    """Both sides of the account of each metal add up, and to the same."""
    metals = [
        caption.removesuffix(": what there was") for caption in tables if caption.endswith("what there was")
    ]
    assert metals
    for metal in metals:
        sums = []
        for caption in (f"{metal}: what there was", f"{metal}: where it is"):
            _, *rows, totals = tables[caption]
            assert sum(number(row[-1]) for row in rows) == number(totals[-1])
            sums.append(totals[1:])
        assert sums[0] == sums[1]


def check_stock_page(reader):
    """The page of the stock and the report of today name the same sum, pieces and open casts in it."""
    page, today = text_of(reader.get("/stock/")), timezone.localdate()
    whole = re.search(r"What there is, at what it cost: ([\d,.]+)", page)[1]
    said = text_of(reader.get(f"/reports/stock-value/?day={today}"))
    assert f"The stock cost {whole.rstrip('.')}," in said
    assert "In pieces, at the cost of their metal" in page
    answer = reader.get("/stock/")
    sums = re.findall(r"<td class=\"num\">([\d,.]+)</td>", answer.content.decode().split('class="totals"')[1])
    assert len(sums) > 2 and sum(map(number, sums[:-1])) == number(sums[-1])


def check_exact(spans):
    """To the milligram and the millionth, beside the ledger itself."""
    for first, last in spans:
        own = [
            account
            for key, account in compute_accounts(metal_held(first), metal_flows(first, last)).items()
            if key[1] is None
        ]
        for day, read in ((first - timedelta(days=1), "start"), (last, "end")):
            metal = [
                one.amount for one in stock_on(day) if one.alloy or (one.material and one.material.alloy)
            ]
            assert total_of(getattr(account, read) for account in own) == total_of(metal)
    values = value_pieces(things_on(timezone.localdate()))
    assert values and all(one.full_micro == one.today_micro >= one.metal_micro for one in values)
