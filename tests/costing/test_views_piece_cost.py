"""The page of what a piece cost and what to ask for it, and the look at another price."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from costing.models import MetalPrice, Policy
from inventory.posting.casting import CastFacts, post_start
from inventory.posting.casting_records import record_time
from inventory.posting.pieces import post_melt_back
from inventory.posting.stock import post_handed_in
from tests import workshop as w
from tests.support import text_of

pytestmark = pytest.mark.django_db

# 100 g for 100.00: the leaf holds 40.00 of it and carries the 0.50 that was lost, which is normal.
COST = "40.50"


@pytest.fixture
def rules():
    return Policy.objects.create(
        from_day=w.DAY,
        normal_loss_pct100=100,
        wholesale_hundredths=200,
        retail_method="margin",
        retail_hundredths=6_000,
    )


@pytest.fixture
def leaf(bench, rules):
    silver = w.buy(w.grain(), w.g(200), 200)
    return w.cast_metal([(silver, 100)], [w.piece("Leaf", 40)], back="59.5").pieces.get()


def read(bench, piece, **asked):
    answer = bench.get(f"/pieces/{piece.pk}/cost/", asked)
    assert answer.status_code == 200
    return answer


def told(answer):
    return text_of(answer)


def rows(answer):
    """Each price as its row tells it."""
    return {row.cells[0].text: [cell.text for cell in row.cells[1:]] for row in answer.context["asked"].rows}


def test_prices_stand_with_what_they_leave_over_the_cost(bench, leaf):
    answer = read(bench, leaf)
    assert f"It cost {COST} GBP" in told(answer)
    assert "By your cost rules of today" in told(answer)
    assert rows(answer) == {
        # 2 times the cost.
        "Wholesale, on what it cost": ["81.00", "40.50", "50.00\u00a0%", "100.00\u00a0%"],
        # 40.50 ÷ 0.4 is 101.25, up to 102: 61.50 is left.
        "Retail, on what it cost": ["102.00", "61.50", "60.29\u00a0%", "151.85\u00a0%"],
    }


def test_metal_of_today_is_priced_beside_what_it_cost(bench, leaf):
    MetalPrice.objects.create(
        alloy=leaf.cast.alloy, day=timezone.localdate(), price_micro=w.money(2), per_unit="g"
    )
    answer = read(bench, leaf)
    # 40 g and the 0.5 g lost, at 2.00 a gram: 81.00 in place of 40.50.
    assert rows(answer)["Wholesale, with metal at today's price"][0] == "162.00"
    assert rows(answer)["Wholesale, on what it cost"][0] == "81.00"


def test_another_price_can_be_looked_at_and_is_kept_nowhere(bench, leaf, rules):
    asked = {
        "wholesale_method": "margin",
        "wholesale": "25 %",
        "retail_method": "multiple",
        "retail": "3",
        "fees": "40",
    }
    answer = read(bench, leaf, **asked)
    assert rows(answer) == {
        "Wholesale, on what it cost": ["54.00", "13.50", "25.00\u00a0%", "33.33\u00a0%"],
        # 121.50 ÷ 0.6 is 202.50, up to 203; 81.20 of it are fees, so 121.80 comes in.
        "Retail, on what it cost": ["203.00", "81.30", "66.75\u00a0%", "200.74\u00a0%"],
    }
    assert "By the prices you are trying below" in told(answer)
    assert "comes in: 203.00 − 81.20" in told(answer)
    assert rows(read(bench, leaf))["Wholesale, on what it cost"][0] == "81.00"
    rules.refresh_from_db()
    assert (rules.wholesale_method, rules.wholesale_hundredths) == ("multiple", 200)


def test_only_what_is_asked_differs_from_the_rules(bench, leaf):
    shown = rows(read(bench, leaf, wholesale="3 times"))
    assert shown["Wholesale, on what it cost"][0] == "122.00"
    assert shown["Retail, on what it cost"][0] == "102.00"


def test_tax_has_a_column_where_there_is_any(bench, leaf, rules):
    rules.tax_pct100 = 2_000
    rules.save()
    # 81.00 and 20 % is 97.20, up to 98; 16.33 of it is tax, and 81.67 comes in.
    assert rows(read(bench, leaf))["Wholesale, on what it cost"][:3] == ["98.00", "16.33", "41.17"]


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"fees": "100"}, "The most this field takes is 99 %."),
        ({"fees": "-1"}, "This cannot be below zero."),
        ({"fees": "some"}, "Write a percentage"),
        ({"wholesale_method": "guess"}, "Choose one that is in the list."),
        ({"wholesale": ""}, "Write how much"),
        ({"wholesale": "60 %"}, "This is a margin."),
        ({"wholesale": "0"}, "Write more than 0"),
        ({"wholesale": "1" * 400}, "too long"),
        ({"retail": "100 %"}, "Write less than 100 %"),
        ({"retail": "2 times"}, "This is a multiple."),
        ({"retail": "\x00"}, "characters that cannot be printed"),
        ({"retail_method": "multiple", "retail": "two"}, "This cannot be read."),
    ],
)
def test_what_gives_no_price_is_said_beside_its_field(bench, leaf, asked, sentence):
    answer = read(bench, leaf, **asked)
    assert sentence in told(answer)
    assert answer.context["asked"] is None
    # The cost stands all the same.
    assert f"It cost {COST} GBP" in told(answer)


def test_the_part_for_the_page_of_the_piece_leads_to_the_form(bench, leaf):
    shown = told(read(bench, leaf, part="1"))
    assert f'href="/pieces/{leaf.pk}/cost/#another-way"' in shown
    assert "<form" not in shown
    assert "81.00" in shown


def test_a_piece_back_in_the_pot_has_no_price(bench, leaf):
    post_melt_back(leaf, w.DAY + timedelta(days=1))
    answer = read(bench, leaf, wholesale="3 times")
    assert "It went back in the pot, so it carries no cost" in told(answer)
    assert answer.context["asked"] is None


def test_a_customers_metal_is_left_out_of_the_price(bench, rules):
    theirs = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    cast = w.cast_metal([(theirs, 50)], [w.piece("Ring", 20)], back="29.9", owner=w.customer())
    shown = told(read(bench, cast.pieces.get()))
    assert "Ilse Quill's and carries no cost: this is the work" in shown.replace("&#x27;", "'")
    assert "with metal at today" not in shown


def test_no_piece_is_found_before_there_is_one(bench):
    post_start(CastFacts("leaves", w.DAY, w.sterling()))
    assert bench.get("/pieces/1/cost/").status_code == 404


def test_the_page_asks_no_more_of_a_large_studio(bench, leaf):
    asked = {"wholesale": "3 times", "fees": "40"}
    with CaptureQueriesContext(connection) as small:
        read(bench, leaf, **asked)
    silver = w.buy(w.grain(), w.g(9000), 9000)
    for days in range(1, 9):
        cast = w.cast_metal(
            [(silver, 300)], [w.piece("Leaf", 100, 20)], back="199.5", day=w.DAY + timedelta(days)
        )
        Policy.objects.create(from_day=cast.day)
    last = cast.pieces.last()
    with CaptureQueriesContext(connection) as large:
        read(bench, last, **asked)
    assert len(large) == len(small)


def test_the_page_of_a_piece_begins_with_what_to_ask(bench, leaf):
    page = text_of(bench.get(f"/pieces/{leaf.pk}/"))
    assert page.index('id="answer"') < page.index("What else can be done")
    part = text_of(bench.get(f"/pieces/{leaf.pk}/cost/?part=1"))
    answer = part[part.index('id="answer" hx-swap-oob="true"') :]
    said = "<b>Ask 81.00 wholesale, 102.00 retail, by your cost rules.</b> "
    said += "It cost 40.50 GBP, without any time at the bench or a firing."
    assert said in answer
    MetalPrice.objects.create(
        alloy=leaf.cast.alloy, day=timezone.localdate(), price_micro=w.money(2_000), per_unit="kg"
    )
    part = text_of(bench.get(f"/pieces/{leaf.pk}/cost/?part=1"))
    assert (
        "Ask 162.00 wholesale, 203.00 retail, by your cost rules and with its metal at the price of " in part
    )


def test_a_price_that_pays_for_no_time_says_so_beside_it(bench, leaf):
    without = "No time at the bench is written down for it: this price pays for none."
    assert without in told(read(bench, leaf))
    record_time(leaf.cast, w.DAY, 20, piece=leaf)
    assert without not in told(read(bench, leaf))
