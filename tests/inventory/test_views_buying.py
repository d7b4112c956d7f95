"""The buying pages: when to order, deliveries with their landed cost, and bills that come later."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.audit import run_audit
from inventory.models import Delivery, Entry, Lot, Material, Supplier
from inventory.posting.reversal import post_reversal
from inventory.posting.setup import reclaim_material
from inventory.posting.stock import OpeningLot, post_opening, post_use
from studio.kit.printing import print_exact_money
from tests import workshop as w
from tests.support import once, text_of, words_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]
NEW = "inventory:delivery-new"


def grain_line(**changes: str) -> dict[str, str]:
    return {"material": str(w.grain().pk), "quantity": "100 g", "price": "130", **changes}


def powder_line(**changes: str) -> dict[str, str]:
    return {"material": str(w.powder().pk), "quantity": "10 kg", "price": "70", **changes}


def typed(*lines: dict[str, str], **others: str) -> dict[str, str]:
    data = {
        **once(),
        "supplier": str(w.supplier().pk),
        "day": w.DAY.isoformat(),
        "spread_by": "value",
        "lines-TOTAL_FORMS": str(len(lines)),
        "lines-INITIAL_FORMS": "0",
    }
    for number, line in enumerate(lines):
        data |= {f"lines-{number}-{name}": text for name, text in line.items()}
    return {**data, **others}


def deliver(bench, *lines: dict[str, str], **others: str):
    return bench.post(reverse(NEW), typed(*lines, **others))


def delivered(bench, *lines: dict[str, str], **others: str) -> Delivery:
    answer = deliver(bench, *lines, **others)
    assert answer.status_code == 302, answer.content.decode()
    return Delivery.objects.get()


def test_a_delivery_comes_in_a_lot_a_line_at_landed_cost(bench):
    delivery = delivered(bench, grain_line(), powder_line(), carriage="8", duty="2", reference="M-12")
    assert (delivery.reference, delivery.charges_micro) == ("M-12", w.money(10))
    grain, powder = Lot.objects.select_related("holder").order_by("pk")
    assert grain.holder.cost_micro == w.money("136.5") and powder.holder.cost_micro == w.money("73.5")
    assert (grain.holder.quantity, powder.holder.quantity) == (w.g(100), w.g(10_000))
    assert [finding.problems for finding in run_audit() if finding.problems] == []


def test_carriage_may_go_by_mass(bench):
    delivered(
        bench, grain_line(quantity="1 kg"), powder_line(quantity="9 kg"), carriage="10", spread_by="mass"
    )
    assert [lot.holder.cost_micro for lot in Lot.objects.order_by("pk")] == [w.money(131), w.money(79)]


def test_carriage_by_mass_is_refused_beside_its_field_when_a_line_is_counted(bench):
    wires = Material.objects.create(name="Ear wires", kind="finding", unit="items")
    line = {"material": str(wires.pk), "quantity": "20", "price": "4"}
    page = deliver(bench, grain_line(), line, carriage="10", spread_by="mass")
    html = page.content.decode()
    assert page.status_code == 422 and 'id="id_spread_by_error"' in html
    assert 'value="100 g"' in html and not Delivery.objects.exists()


def test_powder_gets_its_use_by_from_how_long_it_keeps(bench):
    delivered(bench, powder_line())
    assert Lot.objects.get().use_by == w.DAY + timedelta(days=365)


def test_a_use_by_that_was_read_off_the_tub_stays(bench):
    delivered(bench, powder_line(use_by="2026-09-30"))
    assert Lot.objects.get().use_by.isoformat() == "2026-09-30"


def test_a_new_supplier_is_written_down_with_the_delivery(bench):
    delivery = delivered(bench, grain_line(), supplier="", new_supplier="Far Side Metals")
    assert delivery.supplier.name == "Far Side Metals"


def test_a_supplier_known_by_that_name_is_not_made_twice(bench):
    w.supplier()
    delivered(bench, grain_line(), supplier="", new_supplier="marsh gate METALS")
    assert Supplier.objects.count() == 1


def test_a_refused_delivery_leaves_no_supplier_behind(bench):
    wires = Material.objects.create(name="Ear wires", kind="finding", unit="items")
    line = {"material": str(wires.pk), "quantity": "20", "price": "4"}
    w.supplier()
    deliver(bench, line, spread_by="mass", supplier="", new_supplier="Far Side Metals")
    assert Supplier.objects.count() == 1


@pytest.mark.parametrize(
    "whose", [{"supplier": ""}, {"new_supplier": "Far Side Metals"}, {"supplier": "999"}, {"supplier": "x"}]
)
def test_it_must_be_from_one_supplier(bench, whose):
    page = deliver(bench, grain_line(), **whose)
    assert page.status_code == 422 and 'value="100 g"' in page.content.decode()
    assert not Delivery.objects.exists()


@pytest.mark.parametrize(
    "wrong",
    [
        {"quantity": ""},
        {"quantity": "3 oz"},
        {"quantity": "0"},
        {"quantity": "999 kg"},
        {"price": ""},
        {"price": "a lot"},
        {"price": "-3"},
        {"price": "99999999999"},
        {"material": ""},
        {"material": "9" * 30},
        {"use_by": "2099-01-01"},
        {"supplier_batch": "B" * 61},
    ],
)
def test_a_line_that_cannot_be_keeps_the_whole_delivery_out(bench, wrong):
    page = deliver(bench, powder_line(), grain_line(**wrong))
    html = page.content.decode()
    assert page.status_code == 422 and 'id="id_lines-1-' in html and 'value="10 kg"' in html
    assert "_error" in html and not Delivery.objects.exists()


@pytest.mark.parametrize(
    "wrong",
    [
        {"day": "2099-01-01"},
        {"day": ""},
        {"carriage": "1,234"},
        {"spread_by": "luck"},
        {"once": ""},
        {"lines-TOTAL_FORMS": "x"},
    ],
)
def test_what_is_wrong_above_the_lines_keeps_it_out_too(bench, wrong):
    assert deliver(bench, grain_line(), **wrong).status_code == 422
    assert not Delivery.objects.exists()


def test_a_delivery_without_lines_is_refused(bench):
    empty = {"material": "", "quantity": "", "price": ""}
    assert "Write at least one line" in deliver(bench, empty).content.decode()


def test_another_line_saves_nothing_and_keeps_everything(bench):
    page = deliver(bench, grain_line(quantity="3 oz"), add_line="lines", reference="M-12")
    html = page.content.decode()
    assert not Delivery.objects.exists()
    assert 'value="3 oz"' in html and 'value="M-12"' in html and "Line 2" in html
    assert "thing to mend" not in html and "Ounces troy" not in html


def test_another_line_in_place_offers_what_was_entered_meanwhile_and_saves_nothing(bench):
    Material.objects.create(name="Fresh wax", kind="pattern")
    html = deliver(bench, grain_line(quantity="3 oz"), add_line="lines", in_place="1").content.decode()
    assert html.startswith('<fieldset class="row" data-new>') and "Fresh wax" in html
    assert "<html" not in html and "3 oz" not in html
    assert not Delivery.objects.exists()


def test_a_material_entered_meanwhile_is_in_the_list_after_another_line(bench):
    Material.objects.create(name="Fresh wax", kind="pattern")
    assert "Fresh wax" in deliver(bench, grain_line(), add_line="lines").content.decode()


def test_the_same_page_sent_twice_is_one_delivery(bench):
    data = typed(grain_line())
    addresses = {bench.post(reverse(NEW), data)["Location"] for _ in range(2)}
    assert len(addresses) == 1 and Delivery.objects.count() == 1


def test_the_landed_cost_is_shown_before_anything_is_saved(bench):
    data = typed(grain_line(), powder_line(), {"material": "", "quantity": "5", "price": ""}, carriage="10")
    html = bench.post(reverse("inventory:delivery-ahead"), data).content.decode()
    assert "136.50" in html and "73.50" in html and "1.3650 per g" in html
    assert "One line cannot be read yet" in html
    assert not Delivery.objects.exists() and not Lot.objects.exists()


def test_the_look_ahead_shares_as_the_posting_does(bench):
    lines = [grain_line(price="62"), grain_line(price="12.41"), grain_line(price="0.01")]
    html = bench.post(reverse("inventory:delivery-ahead"), typed(*lines, carriage="3.33")).content.decode()
    delivered(bench, *lines, carriage="3.33")
    page = bench.get(reverse("inventory:delivery-detail", args=[Delivery.objects.get().pk])).content.decode()
    for lot in Lot.objects.select_related("holder"):
        landed = print_exact_money(lot.holder.cost_micro)
        assert landed in html and landed in page


def test_the_look_ahead_says_why_there_is_nothing_to_see(bench):
    ahead = reverse("inventory:delivery-ahead")
    assert "its cost with carriage stands here" in bench.post(ahead, {}).content.decode()
    wires = Material.objects.create(name="Ear wires", kind="finding", unit="items")
    line = {"material": str(wires.pk), "quantity": "20", "price": "4"}
    assert "spread it by price" in bench.post(ahead, typed(line, spread_by="mass")).content.decode()


def test_a_look_ahead_is_no_address_to_open(bench):
    assert bench.get(reverse("inventory:delivery-ahead")).status_code == 405


def test_a_delivery_shows_the_sum_behind_each_lot(bench):
    delivery = delivered(bench, grain_line(), powder_line(), carriage="10")
    page = bench.get(reverse("inventory:delivery-detail", args=[delivery.pk])).content.decode()
    assert "share by price: 10.00 × 130.00 ÷ 200.00" in page
    assert "136.50" in page and "73.50" in page and "210.00" in page
    assert reverse("inventory:entry-reverse", args=[delivery.entry_id]) in page


def late(bench, delivery: Delivery, **changes: str):
    data = {**once(), "amount": "6", "day": w.DAY.isoformat(), **changes}
    return bench.post(reverse("inventory:delivery-detail", args=[delivery.pk]), data)


def test_a_late_bill_goes_on_what_is_left(bench):
    delivery = delivered(bench, grain_line())
    assert late(bench, delivery).status_code == 302
    assert Lot.objects.get().holder.cost_micro == w.money(136)
    page = bench.get(reverse("inventory:delivery-detail", args=[delivery.pk])).content.decode()
    assert "share of bills that came later" in page


def test_a_late_bill_for_what_is_used_up_stands_on_the_deliverys_page(bench):
    delivery = delivered(bench, powder_line())
    lot = Lot.objects.get()
    post_use(lot, lot.holder.quantity, w.DAY)
    late(bench, delivery, note="duty, came late")
    bill = Entry.objects.get(kind="late_bill")
    page = bench.get(reverse("inventory:delivery-detail", args=[delivery.pk])).content.decode()
    assert "Bills since: 6.00" in page and "all for what was used already, duty, came late" in page
    assert reverse("inventory:entry-detail", args=[bill.pk]) in page
    post_reversal(bill)
    assert (
        "Bills since"
        not in bench.get(reverse("inventory:delivery-detail", args=[delivery.pk])).content.decode()
    )


def test_many_late_bills_are_turned_like_pages(bench):
    delivery = delivered(bench, grain_line())
    for number in range(14):
        late(bench, delivery, amount=str(number + 1), day=(w.DAY + timedelta(days=number)).isoformat())
    address = reverse("inventory:delivery-detail", args=[delivery.pk])
    first, last = (bench.get(address, {"bills": page}).content.decode() for page in ("", "2"))
    assert "Bills since: 105.00" in first and "Bills since: 105.00" in last
    assert "14.00, <a" in first and ": 2.00, <a" not in first and ": 2.00, <a" in last


@pytest.mark.parametrize(
    "wrong", [{"amount": "0"}, {"amount": ""}, {"amount": "much"}, {"day": "2099-01-01"}]
)
def test_a_late_bill_that_cannot_be_changes_nothing(bench, wrong):
    delivery = delivered(bench, grain_line())
    page = late(bench, delivery, **wrong)
    assert page.status_code == 422 and '<details class="opens" open>' in page.content.decode()
    assert not Entry.objects.filter(kind="late_bill").exists()


def test_a_reversed_delivery_is_read_but_takes_no_bill(bench):
    delivery = delivered(bench, grain_line(), carriage="10")
    post_reversal(delivery.entry)
    page = bench.get(reverse("inventory:delivery-detail", args=[delivery.pk])).content.decode()
    assert "was taken back" in page and "A bill came later" not in page and "140.00" in page
    late(bench, delivery)
    assert not Entry.objects.filter(kind="late_bill").exists()


def test_deliveries_are_listed_newest_first_filtered_and_taken_away(bench):
    w.buy(w.grain(), w.g(100), 130, day=w.DAY)
    w.buy(w.powder(), w.g(100), 1, day=w.DAY + timedelta(days=9))
    address = reverse("inventory:delivery-list")
    rows = bench.get(address).context["table"].rows
    assert [row.record.received_on for row in rows] == [w.DAY + timedelta(days=9), w.DAY]
    assert len(bench.get(address, {"last": w.DAY.isoformat()}).context["table"].rows) == 1
    assert bench.get(address, {"first": "soon", "supplier": "9" * 30}).status_code == 200
    assert bench.get(address, {"export": "csv"}).content.decode("utf-8-sig").count("Marsh Gate") == 2


def test_a_delivery_that_is_not_there_is_not_found(bench):
    for pk in (999, 10**30):
        assert bench.get(f"/buying/deliveries/{pk}/").status_code == 404


# What to order


def test_the_first_day_says_what_to_do(bench):
    page = bench.get(reverse("inventory:buying")).content.decode()
    assert "Enter a material" in page and page.count('class="press"') == 1


def test_powder_that_runs_low_says_order_now_and_why(bench):
    today = timezone.localdate()
    powder = w.buy(w.powder(), w.g(1200), 12, day=today - timedelta(days=60))
    post_use(powder, w.g(1000), today - timedelta(days=3))
    page = words_of(bench.get(reverse("inventory:buying")))
    assert "Order 2.40 kg now from Marsh Gate Metals" in page and "6 to 10 days on the road" in page
    assert "When to order again" in page and "days a parcel may take" in page
    assert "It is not known yet what a week takes: 9 weeks lie behind, 1 of them with use" in page


def test_estimates_are_told_without_digits_that_say_nothing(bench):
    today = timezone.localdate()
    powder = w.buy(w.powder(), w.g("1453.592"), 12, day=today - timedelta(days=60))
    post_use(powder, w.g(1000), today - timedelta(days=3))
    wires = Material.objects.create(name="Ear wires", kind="finding", unit="items")
    post_use(w.buy(wires, 24, 6, day=today - timedelta(days=60)), 2, today - timedelta(days=3))
    page = text_of(bench.get(reverse("inventory:buying")))
    assert "What counts here: 454 g" in page and "take what those so far did, 111 g on average" in page
    assert "What counts here: 22 items" in page
    assert re.search(r"order at [\d,]+ g<", page)


def test_powder_that_lasts_says_by_which_day(bench):
    today = timezone.localdate()
    keeps = today + timedelta(days=305)
    powder = w.buy(w.powder(), w.g(20_000), 180, day=today - timedelta(days=60), use_by=keeps)
    post_use(powder, w.g(1000), today - timedelta(days=3))
    page = words_of(bench.get(reverse("inventory:buying")))
    assert re.search(r"Order 4.10 kg by \w+ \d+ \w+", page), page
    assert "At most 4.10 kg: more would go out of date" in page
    assert "of it will be out of date" in page


def test_powder_from_nobody_asks_who_sells_it(bench):
    today = timezone.localdate()
    powder = post_opening(OpeningLot(w.powder(), w.g(5000), w.money(50)), today - timedelta(days=60))
    post_use(powder, w.g(1000), today - timedelta(days=3))
    assert "Nobody is named to buy it from" in bench.get(reverse("inventory:buying")).content.decode()


def test_powder_out_of_date_is_not_counted(bench):
    today = timezone.localdate()
    w.buy(w.powder(), w.g(1200), 12, day=today - timedelta(days=60), use_by=today - timedelta(days=1))
    page = words_of(bench.get(reverse("inventory:buying")))
    assert re.search(r"Lot \d+, 1.20 kg, was good until [\w ]+: not counted", page)


def test_buying_pages_ask_as_much_of_a_full_studio_as_of_a_small_one(bench):
    today = timezone.localdate()

    def add(name: str) -> None:
        material = Material.objects.create(name=name, kind="powder", supplier=w.supplier())
        for _ in range(3):
            lot = w.buy(material, w.g(5000), 50, day=today - timedelta(days=60), carriage=2)
            post_use(lot, w.g(500), today - timedelta(days=3))

    def count(address: str) -> int:
        with CaptureQueriesContext(connection) as asked:
            assert bench.get(address).status_code == 200
        return len(asked)

    add("Powder 0")
    pages = [
        reverse("inventory:buying"),
        reverse("inventory:delivery-list"),
        reverse(NEW),
        reverse("inventory:delivery-detail", args=[Delivery.objects.latest("pk").pk]),
    ]
    before = [count(page) for page in pages]
    for number in range(1, 6):
        add(f"Powder {number}")
    assert [count(page) for page in pages] == before


def test_a_delivery_of_many_lines_is_read_in_as_many_questions_as_a_short_one(bench):
    def ask(lines: int) -> int:
        data = typed(*[grain_line()] * lines)
        with CaptureQueriesContext(connection) as asked:
            bench.post(reverse("inventory:delivery-ahead"), data)
        return len(asked)

    assert ask(1) == ask(20)


def test_a_materials_own_page_has_its_picture_and_its_past(bench):
    today = timezone.localdate()
    powder = w.buy(w.powder(), w.g(20_000), 180, day=today - timedelta(days=200))
    for week in range(26):
        post_use(powder, w.g(500), today - timedelta(days=7 * week))
    page = bench.get(reverse("inventory:buying-material", args=[w.powder().pk]))
    assert "<svg" in page.content.decode() and "uses in your own past" in words_of(page)
    assert "How long it lasts" in words_of(page) and "It rests on 26 weeks, in 26 of which" in words_of(page)


def test_what_is_not_bought_has_no_page_of_when_to_order(bench):
    assert (
        bench.get(reverse("inventory:buying-material", args=[reclaim_material(w.sterling()).pk])).status_code
        == 404
    )


def test_a_supplier_need_not_say_how_far_a_parcel_differs(bench):
    bench.post(reverse("inventory:supplier-new"), {"name": "Far Side", "lead_time_days": "9"})
    assert Supplier.objects.get().lead_time_spread_days is None
    assert bench.get(reverse("inventory:supplier-list")).status_code == 200
