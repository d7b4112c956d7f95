"""What there is, what may go back in the pot, and when powder must be ordered again."""

from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.core.ledger import Amount
from inventory.models import Entry, Holder, Lot, Material, Supplier
from inventory.posting.book import open_book
from inventory.posting.buying import Charges, DeliveryLine, post_delivery, post_late_bill
from inventory.posting.casting import Portion
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import OpeningLot, post_handed_in, post_opening, post_use
from inventory.queries.buying import (
    last_rates,
    late_bills,
    on_top_of,
    received_lots,
)
from inventory.queries.outlook import material_outlook
from inventory.queries.reclaim import recent_charges_mg, scrap_outlook
from inventory.queries.stock import (
    lot_history,
    materials_with_stock,
    metal_on_hand,
    other_on_hand,
    quantity_come_in,
)
from inventory.queries.to_date import stock_to_date
from tests import workshop as w
from tests.workshop import powder_outlook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]
TODAY = w.DAY + timedelta(days=70)


def cast_some(lot: Lot, grams: str = "40", day=w.DAY, **changes):
    return w.cast_metal([(lot, grams)], [w.piece("Leaf", 20)], back="19.5", day=day, **changes)


def test_metal_is_told_by_what_it_is():
    cast_some(w.buy(w.grain(), w.g(100), 130), spill_mg=w.g("0.2"), filings_mg=w.g("0.1"))
    own, customers = metal_on_hand()
    [sterling] = own
    assert (sterling.alloy, sterling.fresh_mg, sterling.clean_mg) == ("Sterling", w.g(60), w.g("19.5"))
    assert (sterling.spill_mg, sterling.filings_mg) == (w.g("0.2"), w.g("0.1"))
    assert sterling.mass_mg == w.g("79.8") and customers == []


def test_what_the_overview_shows_is_what_the_lots_hold():
    cast_some(w.buy(w.grain(), w.g(100), 130))
    [sterling] = metal_on_hand()[0]
    holders = [lot.holder for lot in Lot.objects.select_related("holder")]
    assert sterling.cost_micro == sum(holder.cost_micro for holder in holders)
    assert sterling.fine_ug == sum(holder.fine_ug for holder in holders)


def test_a_customers_metal_is_told_apart():
    w.buy(w.grain(), w.g(100), 130)
    post_handed_in(w.customer(), w.grain(), w.g(30), w.DAY)
    own, customers = metal_on_hand()
    assert [metal.mass_mg for metal in own] == [w.g(100)]
    assert [(metal.owner, metal.mass_mg, metal.cost_micro) for metal in customers] == [
        ("Ilse Quill", w.g(30), 0)
    ]


def test_old_metal_that_was_melted_before_counts_as_reclaim():
    post_opening(OpeningLot(w.grain(), w.g(50), w.money(40), melts_milli=2000), w.DAY)
    [sterling] = metal_on_hand()[0]
    assert (sterling.fresh_mg, sterling.clean_mg) == (0, w.g(50))


def test_a_reversed_delivery_is_no_stock():
    post_reversal(w.buy(w.grain(), w.g(100), 130).entry)
    assert metal_on_hand() == ([], [])
    assert materials_with_stock().get(name="Sterling grain").lot_count == 0


def test_powder_out_of_date_is_told_apart_and_the_next_date_is_of_good_powder():
    w.buy(w.powder(), w.g(2000), 20, use_by=w.DAY + timedelta(days=10))
    w.buy(w.powder(), w.g(5000), 50, use_by=w.DAY + timedelta(days=200))
    [row] = other_on_hand(TODAY)
    assert (row["quantity"], row["unusable"], row["lots"]) == (w.g(7000), w.g(2000), 2)
    assert row["use_by"] == w.DAY + timedelta(days=200)


def test_landed_cost_is_read_back_from_the_movements():
    lot = w.buy(w.grain(), w.g(100), 130, carriage="10.50")
    post_late_bill(lot.delivery, w.money(3), w.DAY)
    [received] = received_lots(lot.delivery)
    line = received.line
    assert (line.price_micro, line.share_micro, line.late_micro) == (
        w.money(130),
        w.money("10.50"),
        w.money(3),
    )
    assert (line.weight, line.weights) == (w.money(130), w.money(130))
    assert quantity_come_in(lot) == w.g(100)
    lot.holder.refresh_from_db()
    assert received.line.landed_micro == lot.holder.cost_micro == w.money("143.50")
    assert received.line.rate_text == "1.4350 per g"
    assert on_top_of(lot.delivery).total_micro == w.money("10.50")
    assert [bill.amount_micro for bill in late_bills(lot.delivery)] == [w.money(3)]


def test_a_reversed_late_bill_no_longer_counts():
    lot = w.buy(w.grain(), w.g(100), 130)
    post_reversal(post_late_bill(lot.delivery, w.money(3), w.DAY))
    assert not late_bills(lot.delivery)
    [received] = received_lots(lot.delivery)
    assert received.line.landed_micro == w.money(130)


def test_a_late_bill_on_a_lot_that_is_part_used_is_part_of_its_landed_cost():
    """A hundred grams for 100.00, ninety used, a bill of 20.00: landed at 120.00, 1.20 a gram; by hand."""
    lot = w.buy(w.wax(), w.g(100), 100)
    post_use(lot, w.g(90), w.DAY)
    post_late_bill(lot.delivery, w.money(20), w.DAY)
    [received] = received_lots(lot.delivery)
    assert received.line.landed_micro == w.money(120)
    assert received.line.rate_text == "1.2000 per g"
    assert received.line.late_used_micro == w.money(18)


def test_each_lot_of_a_delivery_bears_its_share_of_a_late_bill_used_or_not():
    """30.00 and 10.00 of goods and a bill of 8.00, shared by price: 6.00 and 2.00; by hand."""
    lines = [DeliveryLine(w.wax(), w.g(50), w.money(30)), DeliveryLine(w.powder(), w.g(5000), w.money(10))]
    delivery = post_delivery(w.supplier(), w.DAY, lines, Charges())
    first, second = delivery.lots.order_by("pk")
    post_use(first, w.g(50), w.DAY)
    post_late_bill(delivery, w.money(8), w.DAY)
    received = received_lots(delivery)
    assert [(one.line.late_micro, one.line.late_used_micro) for one in received] == [
        (w.money(6), w.money(6)),
        (w.money(2), 0),
    ]
    second.holder.refresh_from_db()
    assert second.holder.cost_micro == w.money(12)


def test_a_bill_for_what_is_used_up_is_known_with_its_delivery():
    lot, other = w.buy(w.wax(), w.g(100), 10), w.buy(w.wax(), w.g(100), 10)
    post_late_bill(other.delivery, w.money(9), w.DAY)
    post_use(lot, w.g(75), w.DAY)
    first = post_late_bill(lot.delivery, w.money(4), w.DAY)
    post_use(lot, w.g(25), w.DAY)
    second = post_late_bill(lot.delivery, w.money(5), w.DAY + timedelta(days=1))
    bills = late_bills(lot.delivery)
    assert [(bill.pk, bill.amount_micro, bill.used_micro) for bill in bills] == [
        (second.pk, w.money(5), w.money(5)),
        (first.pk, w.money(4), w.money(3)),
    ]


def test_a_bill_from_before_bills_named_their_delivery_is_found_by_its_lots():
    lot = w.buy(w.wax(), w.g(100), 10)
    post_use(lot, w.g(50), w.DAY)
    with open_book() as book:
        book.read(lot)
        draft = book.begin(Entry.Kind.LATE_BILL, w.DAY)
        supplier, late = book.outside(Holder.Place.SUPPLIER), book.outside(Holder.Place.LATE)
        book.move(draft, supplier, lot.holder, Amount(cost_micro=300), "charges")
        book.move(draft, supplier, late, Amount(cost_micro=200), "charges")
    import_module("inventory.migrations.0009_mending").share_bills(apps, None)
    [bill] = late_bills(lot.delivery)
    assert bill.bill_for is None and (bill.amount_micro, bill.used_micro) == (500, 200)


def test_the_history_of_a_lot_tells_what_was_left_after_each_movement():
    lot = w.buy(w.powder(), w.g(1000), 10)
    first = post_use(lot, w.g(200), w.DAY + timedelta(days=1))
    post_reversal(first)
    post_use(lot, w.g(300), w.DAY + timedelta(days=2))
    rows = [(row.change, row.left, row.is_turned_back) for row in lot_history(lot.holder, "mass")]
    assert rows == [
        (-w.g(300), w.g(700), False),
        (w.g(200), w.g(1000), True),
        (-w.g(200), w.g(800), True),
        (w.g(1000), w.g(1000), False),
    ]


def test_the_tin_may_give_half_of_a_usual_charge(studio):
    lot = w.buy(w.grain(), w.g(300), 390)
    for _ in range(3):
        cast_some(lot)
    [sterling] = scrap_outlook(studio)
    assert sterling.alloy == w.sterling() and sterling.fresh_mg == w.g(180)
    assert sterling.allowance.on_hand_mg == w.g("58.5")
    assert sterling.allowance.charge_mg == w.g(40)
    assert sterling.allowance.may_take_mg == w.g(20)
    assert sterling.allowance.working.title == "Sterling: reclaim for the next charge"


def test_a_customers_metal_and_casts_say_nothing_of_the_studios_tin(studio):
    theirs = post_handed_in(w.customer(), w.grain(), w.g(90), w.DAY)
    cast_some(theirs, owner=w.customer())
    assert scrap_outlook(studio) == []
    assert recent_charges_mg() == {}


def test_only_the_last_twelve_charges_are_usual():
    lot = w.buy(w.grain(), w.g(2000), 2600)
    cast_some(lot, "60")
    for _ in range(12):
        cast_some(lot)
    assert recent_charges_mg() == {w.sterling().pk: [w.g(40)] * 12}


def test_many_lots_alike_stand_together_in_the_working(studio):
    lot = w.buy(w.grain(), w.g(400), 520)
    for _ in range(6):
        cast_some(lot)
    [sterling] = scrap_outlook(studio)
    labels = [given.label for given in sterling.allowance.working.givens]
    assert "clean reclaim, 6 lots" in labels


def test_what_a_week_of_powder_takes_counts_every_week_since_it_came(studio):
    powder = w.buy(w.powder(), w.g(10_000), 90)
    metal = w.buy(w.grain(), w.g(400), 520)
    for week in range(5):
        day = w.DAY + timedelta(days=14 * week)
        cast_some(metal, day=day, powder=[Portion(powder, w.g(500))])
    [one] = powder_outlook(studio, TODAY)
    assert one.material == w.powder() and one.supplier == w.supplier()
    outlook = one.outlook
    assert (one.good, one.unusable, outlook.use.weeks, outlook.use.uses) == (w.g(7500), 0, 11, 5)
    assert sum(outlook.asked.weekly) == w.g(2500)
    assert outlook.casts_left == 15
    assert not outlook.is_due and outlook.order_by > TODAY


def test_powder_that_runs_low_is_due(studio):
    powder = w.buy(w.powder(), w.g(1200), 12)
    post_use(powder, w.g(1000), TODAY - timedelta(days=3))
    [one] = powder_outlook(studio, TODAY)
    assert one.outlook.is_due and one.outlook.order_by == TODAY
    assert (
        not one.outlook.use.is_known and "It is assumed that weeks to come take" in one.outlook.use.sentence
    )


def test_use_that_was_reversed_is_no_use(studio):
    powder = w.buy(w.powder(), w.g(5000), 50)
    post_reversal(post_use(powder, w.g(1000), w.DAY))
    [one] = powder_outlook(studio, TODAY)
    assert not one.outlook.use.is_any and one.outlook.order_by is None


def test_use_longer_ago_than_the_weeks_looked_back_does_not_count(studio):
    powder = w.buy(w.powder(), w.g(5000), 50)
    post_use(powder, w.g(1000), w.DAY)
    long_after = w.DAY + timedelta(days=7 * 26)
    assert powder_outlook(studio, long_after - timedelta(days=1))[0].outlook.use.uses == 1
    assert powder_outlook(studio, long_after)[0].outlook.use.uses == 0


def test_without_anybody_to_buy_from_a_week_on_the_road_is_assumed(studio):
    post_opening(OpeningLot(w.powder(), w.g(5000), w.money(50)), w.DAY)
    [one] = powder_outlook(studio, TODAY)
    assert one.supplier is None and one.outlook.asked.leads.days == (5, 7, 9)
    assert "nobody is named" in one.outlook.asked.leads.origin


def test_how_far_a_delivery_differs_is_assumed_where_nobody_said(studio):
    w.buy(w.powder(), w.g(5000), 50)
    Supplier.objects.update(lead_time_days=10, lead_time_spread_days=None)
    leads = powder_outlook(studio, TODAY)[0].outlook.asked.leads
    assert leads.days == (7, 10, 13) and leads.origin.endswith("is assumed")
    Supplier.objects.update(lead_time_spread_days=1)
    assert powder_outlook(studio, TODAY)[0].outlook.asked.leads.days == (9, 10, 11)


def test_a_guess_of_ones_own_stands_in_until_the_weeks_tell(studio):
    w.buy(w.powder(), w.g(5000), 50, day=TODAY - timedelta(days=10))
    Material.objects.filter(pk=w.powder().pk).update(guess_a_week=w.g(400))
    [one] = powder_outlook(studio, TODAY)
    assert one.outlook.use.a_week == w.g(400) and "your own guess" in one.outlook.use.sentence


def test_metal_is_used_by_what_charges_take_fresh_and_reclaim_is_not_bought(studio):
    lot = w.buy(w.grain(), w.g(300), 390)
    first = cast_some(lot, "100")
    back = w.lot_of(first, "clean")
    w.cast_metal([(lot, 30), (back, 15)], [w.piece("Leaf", 20)], back=24, day=w.DAY)
    theirs = post_handed_in(w.customer(), w.grain(), w.g(90), w.DAY)
    cast_some(theirs, owner=w.customer())
    [one] = material_outlook(studio, TODAY, ["metal"])
    assert one.material == w.grain()
    assert sum(one.outlook.asked.weekly) == w.g(130) and one.good == w.g(170)
    assert one.outlook.asked.per_cast == w.g(65)
    assert one.outlook.asked.usual_parcel == w.g(300)


def test_what_was_here_at_the_end_of_each_week_is_what_is_here_less_what_moved_since(studio):
    lot = w.buy(w.powder(), w.g(5000), 50, day=TODAY - timedelta(days=20))
    post_use(lot, w.g(1000), TODAY - timedelta(days=8))
    post_reversal(post_use(lot, w.g(700), TODAY - timedelta(days=3)))
    [one] = powder_outlook(studio, TODAY)
    stock_to_date([one], TODAY)
    assert one.to_date[-1] == (TODAY, w.g(4000)) and one.to_date[-2][1] == w.g(4000)
    assert one.to_date[-3] == (TODAY - timedelta(days=14), w.g(5000))
    assert one.to_date[-4][1] == 0


def test_the_usual_supplier_of_a_material_is_asked_before_the_last(studio):
    w.buy(w.powder(), w.g(5000), 50)
    slow = Supplier.objects.create(name="Far Side Powders", lead_time_days=40)
    Material.objects.filter(pk=w.powder().pk).update(supplier=slow)
    assert powder_outlook(studio, TODAY)[0].supplier == slow


def test_the_last_price_is_that_of_the_newest_delivery_that_was_paid_for_and_stands(
    django_assert_num_queries,
):
    w.buy(w.grain(), w.g(100), 90, day=w.DAY)
    w.buy(w.grain(), w.g(100), 80, day=w.DAY - timedelta(days=30))  # written down late
    w.buy(w.grain(), w.g(10), 0, day=w.DAY + timedelta(days=1))
    never_came = w.buy(w.grain(), w.g(100), 900, day=w.DAY + timedelta(days=2))
    post_reversal(never_came.entry)
    w.buy(w.powder(), w.g(1000), 5)
    asked = [w.grain().pk, w.powder().pk, w.wax().pk]
    with django_assert_num_queries(1):
        rates = last_rates(asked)
    assert rates == {w.grain().pk: 900, w.powder().pk: 5}


@pytest.mark.counts
@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="it is SQLite that tells")
def test_the_last_price_is_found_without_sorting_every_delivery():
    w.buy(w.grain(), w.g(100), 90)
    with CaptureQueriesContext(connection) as asked:
        last_rates([w.grain().pk])
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {asked[0]['sql']}")
        steps = [row[3] for row in cursor.fetchall()]
    assert not any("ORDER BY" in step for step in steps), steps


def test_things_that_go_singly_are_counted_in_items(studio):
    wires = Material.objects.create(name="Ear wires", kind="finding", unit="items", supplier=w.supplier())
    post_use(w.buy(wires, 20, 4), 6, w.DAY + timedelta(days=1))
    [one] = material_outlook(studio, TODAY, ["finding"])
    assert one.good == 14 and one.outlook.casts_left is None and one.outlook.point >= 1


@pytest.mark.counts
@pytest.mark.parametrize("question", ["scrap", "powder", "metal"])
def test_much_stock_takes_no_more_questions_than_little(studio, django_assert_max_num_queries, question):
    metal = w.buy(w.grain(), w.g(2000), 2600)
    powder = w.buy(w.powder(), w.g(20_000), 180)
    for number in range(8):
        cast_some(metal, day=w.DAY + timedelta(days=number), powder=[Portion(powder, w.g(400))])
    ask = {
        "scrap": lambda: scrap_outlook(studio),
        "powder": lambda: powder_outlook(studio, TODAY),
        "metal": metal_on_hand,
    }[question]
    with django_assert_max_num_queries({"scrap": 9, "powder": 10, "metal": 1}[question]):
        ask()
