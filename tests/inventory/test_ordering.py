"""Orders: what is ordered, what comes of it in parts, and what is still to come, through every change of mind."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Delivery, Lot, Offer, Order, Supplier
from inventory.posting.buying import Charges, DeliveryLine, post_delivery
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.ordering import (
    Ordered,
    Receiving,
    close_order,
    expect_on,
    place_order,
    reopen_order,
    restore,
    strike_out,
    write_bands,
)
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.queries.orders import expected, late, lead_days, open_orders, read_order
from tests import workshop as w
from tests.support import once, problems, text_of, words_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]
KG = 1_000_000


def order(*lines: Ordered, **more) -> Order:
    found = lines or (
        Ordered(w.powder(), 25 * KG, w.money(70), "1 × 25 kg"),
        Ordered(w.grain(), w.g(200), w.money(260)),
    )
    return place_order(w.supplier(), found, w.DAY, **more)


def receive(of: Order, *lines: DeliveryLine, day=w.DAY, seen="", carriage="0") -> Delivery:
    charges = Charges(carriage_micro=w.money(carriage))
    return post_delivery(of.supplier, day, lines, charges, of=Receiving(of, seen))


def powder(kg: int, price="70") -> DeliveryLine:
    return DeliveryLine(w.powder(), kg * KG, w.money(price))


def still(of: Order) -> list[int]:
    return [one.left for one in read_order(of).lines]


def test_an_order_is_no_stock_and_is_expected_after_the_days_of_its_supplier():
    made = order()
    assert not Lot.objects.exists()
    assert made.expected_on == w.DAY + timedelta(days=8)
    assert expected() == [
        (w.powder(), made.expected_on, 25 * KG),
        (w.grain(), made.expected_on, w.g(200)),
    ]


def test_it_comes_in_parts_at_landed_cost_and_the_rest_is_still_to_come():
    made = order()
    first = receive(made, powder(10, "30"), carriage="5", day=w.DAY + timedelta(days=6))
    lot = first.lots.get()
    assert (lot.holder.quantity, lot.holder.cost_micro) == (10 * KG, w.money(35))
    assert still(made) == [15 * KG, w.g(200)] and first.order == made
    receive(made, powder(15, "42"), DeliveryLine(w.grain(), w.g(210), w.money(275)))
    now = read_order(made)
    assert not now.is_open and open_orders() == [] and expected() == []
    # Two pounds more than 70 for the powder; 10 g more of the grain than was ordered, at 2 more than that costs.
    assert [(one.over, one.dearer_micro) for one in now.lines] == [(0, w.money(2)), (w.g(10), w.money(2))]
    assert problems() == []


def test_what_is_taken_back_is_still_to_come_and_what_is_mended_follows():
    made = order(Ordered(w.powder(), 25 * KG))
    delivery = receive(made, powder(25))
    assert not read_order(made).is_open
    given = read_given(delivery.entry)
    less = Mend(w.DAY, type(given)(given.supplier, [powder(20)], given.charges, "", given.order))
    post_mended({delivery.entry: less})
    delivery.refresh_from_db()
    assert still(made) == [5 * KG] and delivery.order == made
    post_reversal(delivery.entry)
    assert still(made) == [25 * KG] and not read_order(made).has_come
    assert problems() == []


def test_the_rest_is_not_coming_and_what_comes_back_later_is_still_to_come():
    made = order(Ordered(w.powder(), 25 * KG))
    first, second = receive(made, powder(10)), receive(made, powder(5))
    close_order(made)
    assert still(made) == [0] and read_order(made).is_dropped
    with pytest.raises(Refused, match=r"Nothing more of Order \d+ is to come"):
        receive(made, powder(5))
    # Only the ten that were never waited for again stay dropped.
    post_reversal(second.entry)
    assert still(made) == [5 * KG]
    reopen_order(made)
    assert still(made) == [15 * KG] and first.order == made


def test_an_order_is_struck_out_only_while_nothing_came_and_taken_up_again():
    made = order()
    strike_out(made)
    assert open_orders() == [] and expected() == []
    with pytest.raises(Refused, match="struck out"):
        receive(made, powder(5))
    restore(made)
    receive(made, powder(5))
    with pytest.raises(Refused, match="came already"):
        strike_out(made)


def test_nothing_is_received_twice_from_two_open_pages():
    made = order()
    seen = read_order(made).seen
    receive(made, powder(5), seen=seen)
    with pytest.raises(Refused, match="while this page was open"):
        receive(made, powder(5), seen=seen)
    assert Lot.objects.count() == 1


def test_nothing_comes_before_it_was_ordered():
    with pytest.raises(Refused, match="cannot have come before"):
        receive(order(), powder(5), day=w.DAY - timedelta(days=1))


def test_metal_of_a_guessed_fineness_counts_as_what_was_ordered_through_a_mend():
    made = order(Ordered(w.grain(), w.g(200), w.money(260)))
    guessed = DeliveryLine(w.grain(), w.g(150), w.money(180), guess=(890_000, 920_000))
    entry = receive(made, guessed).entry
    now = read_order(made)
    assert (Lot.objects.get().material.alloy.is_mixed, still(made), now.besides) == (True, [w.g(50)], ())
    assert expected() == [(w.grain(), made.expected_on, w.g(50))]
    given = read_given(entry)
    less = replace(given, lines=[replace(given.lines[0], quantity=w.g(120))])
    post_mended({entry: Mend(w.DAY, less)})
    assert still(made) == [w.g(80)] and Lot.objects.filter(void=False).get().material.alloy.is_mixed
    post_reversal(Delivery.objects.get().entry)
    assert still(made) == [w.g(200)]


def test_what_may_not_be_done_with_an_order_is_refused_with_what_may():
    day = w.DAY + timedelta(days=20)
    made = order(expected_on=day)
    assert made.expected_on == day
    with pytest.raises(Refused, match="strike it out instead"):
        close_order(made)
    receive(made, powder(5), DeliveryLine(w.grain(), w.g(200), w.money(260)))
    close_order(made)
    with pytest.raises(Refused, match="Nothing more of"):
        close_order(made)
    # What came of it was less than was said: the rest of that is not coming either.
    delivery = Delivery.objects.get()
    given = read_given(delivery.entry)
    less = replace(given, lines=[replace(given.lines[0], quantity=3 * KG), given.lines[1]])
    post_mended({delivery.entry: Mend(w.DAY, less)})
    assert still(made) == [2 * KG, 0]
    close_order(made)
    assert still(made) == [0, 0] and [one.line.dropped for one in read_order(made).lines] == [22 * KG, 0]
    post_reversal(Delivery.objects.get().entry)
    strike_out(made)
    with pytest.raises(Refused, match="was said not to be coming"):
        reopen_order(made)


def test_a_late_one_is_told_until_another_day_is_said_and_lead_times_are_learnt():
    today = w.DAY + timedelta(days=11)
    made = order()
    assert [one.late_days(today) for one in late(today)] == [3] and late(w.DAY) == []
    expect_on(made, today)
    assert late(today) == []
    receive(made, powder(5), day=today)
    second = order(Ordered(w.powder(), KG))
    receive(second, powder(1), day=w.DAY + timedelta(days=6))
    order()
    assert lead_days() == {w.supplier().pk: [11, 6]}


class TestPages:
    def rows(self, *lines: dict[str, str]) -> dict[str, str]:
        data = {"lines-TOTAL_FORMS": str(len(lines)), "lines-INITIAL_FORMS": "0"}
        for number, line in enumerate(lines):
            data |= {f"lines-{number}-{name}": text for name, text in line.items()}
        return data

    def receive(self, bench, made: Order, *lines: dict[str, str], **more: str):
        data = {"day": w.DAY.isoformat(), "spread_by": "value", "seen": read_order(made).seen, **once()}
        return bench.post(reverse("inventory:order-receive", args=[made.pk]), data | self.rows(*lines) | more)

    def test_what_is_picked_from_offers_is_ordered_of_its_supplier(self, bench):
        large, small = (
            Offer.objects.create(
                supplier=w.supplier(), material=w.powder(), quantity=kg * KG, price_micro=w.money(price),
                told_on=w.DAY,
            )
            for kg, price in ((25, 70), (5, 18))
        )  # fmt: skip
        small.breaks.create(packs=2, price_micro=w.money(16))
        other = Offer.objects.create(
            supplier=Supplier.objects.create(name="Far Side Powders"), material=w.powder(), quantity=KG,
            price_micro=w.money(5), told_on=w.DAY,
        )  # fmt: skip
        address = (
            f"{reverse('inventory:order-new')}?pack={large.pk}x1&pack={small.pk}x2&pack={other.pk}x1&pack=9x"
        )
        page = bench.get(address)
        filled = page.context["lines"].forms[0].initial
        assert filled["quantity"] == 35 * KG and filled["price"] == w.money(102)
        line = {"material": str(w.powder().pk), "quantity": "35 kg", "price": "102", "packs": filled["packs"]}
        data = {"supplier": str(w.supplier().pk), "placed_on": w.DAY.isoformat(), **once(), **self.rows(line)}
        answer = bench.post(reverse("inventory:order-new"), data)
        assert answer.status_code == 302
        assert "1 × 25 kg, 2 × 5 kg" in text_of(bench.get(answer["Location"])).replace("\u202f", " ").replace(
            "\xa0", " "
        )
        twice = bench.post(reverse("inventory:order-new"), data | once() | self.rows(line, line))
        assert twice.status_code == 422 and "stands here twice" in text_of(twice)

    def test_the_carriage_that_was_proposed_is_kept_and_stands_beside_what_was_paid(self, bench):
        large = Offer.objects.create(
            supplier=w.supplier(),
            material=w.powder(),
            quantity=25 * KG,
            price_micro=w.money(70),
            told_on=w.DAY,
        )
        address = f"{reverse('inventory:order-new')}?pack={large.pk}x1"
        assert bench.get(address).context["form"].initial["carriage"] is None, "no terms are written down"
        write_bands(w.supplier(), [(0, w.money("8.50")), (w.money(100), 0)])
        assert bench.get(address).context["form"].initial["carriage"] == w.money("8.50")
        assert bench.get(address.replace("x1", "x2")).context["form"].initial["carriage"] == 0
        line = {"material": str(w.powder().pk), "quantity": "25 kg", "price": "70"}
        data = {
            "supplier": str(w.supplier().pk),
            "placed_on": w.DAY.isoformat(),
            "carriage": "8.50",
            **once(),
        }
        answer = bench.post(address, data | self.rows(line))
        made = Order.objects.get()
        assert made.carriage_micro == w.money("8.50")
        assert "Carriage is to be 8.50." in words_of(bench.get(answer["Location"]))
        first = receive(made, powder(10, "28"), carriage="6")
        assert "and 6.00 was paid so far: 2.50 less." in words_of(bench.get(answer["Location"]))
        receive(made, powder(15, "42"), carriage="3.20")
        said = "Carriage was to be 8.50, and 9.20 was paid: 0.70 more."
        assert said in words_of(bench.get(answer["Location"]))
        assert said in words_of(bench.get(f"/reports/order/?order={made.pk}"))
        post_reversal(first.entry)
        assert "and 3.20 was paid so far: 5.30 less." in words_of(bench.get(answer["Location"]))

    def test_receiving_begins_with_what_is_still_to_come_and_asks_about_more(self, bench):
        made = order()
        receive(made, powder(10, "28"))
        page = bench.get(reverse("inventory:order-receive", args=[made.pk]))
        filled = [one.initial for one in page.context["lines"].forms]
        assert [(one["quantity"], one["price"]) for one in filled] == [
            (15 * KG, w.money(42)),
            (w.g(200), w.money(260)),
        ]
        line = {"material": str(w.powder().pk), "quantity": "20 kg", "price": "56"}
        asked = self.receive(bench, made, line)
        assert asked.status_code == 422 and "still to come of Order" in text_of(asked)
        line |= {"quantity": "10 kg", "price": "42"}
        asked = self.receive(bench, made, line)
        assert "As it was ordered, so much costs 28.00; this says 42.00" in words_of(asked)
        line |= {"quantity": "15 kg", "price": "45"}
        assert self.receive(bench, made, line, reference="M-4").status_code == 302
        assert still(made) == [0, w.g(200)]
        assert f"Of order {made.pk}" in text_of(
            bench.get(reverse("inventory:delivery-detail", args=[Delivery.objects.latest("pk").pk]))
        )

    def test_what_can_be_done_with_an_order_stands_on_its_page(self, bench):
        made = order()

        def do(name: str, **typed: str) -> str:
            answer = bench.post(reverse("inventory:order-action", args=[made.pk, name]), {**once(), **typed})
            return text_of(bench.get(answer["Location"])) if answer.status_code == 302 else text_of(answer)

        later = timezone.localdate() + timedelta(days=3)
        assert f"{made} of {made.supplier}: was expected on" in words_of(bench.get("/"))
        assert "expected on" in do("expect", day=later.isoformat())
        assert "was expected on" not in words_of(bench.get("/"))
        assert "That is before" in do("expect", day="2026-01-01") or "It was ordered on" in do(
            "expect", day="2026-01-01"
        )
        assert "is struck out" in do("strike")
        assert "stands again" in do("restore")
        receive(made, powder(10))
        assert "no longer waited for" in do("close") and "to come again" in do("reopen")
        assert "came already" in do("strike")
        assert (
            bench.get(reverse("inventory:order-list") + "?state=open").context["table"].paginator.count == 1
        )

    def test_carriage_in_steps_and_prices_in_steps_are_written_on_the_records(self, bench):
        supplier = w.supplier()
        data = {"name": supplier.name, "lead_time_days": "8", "lead_time_spread_days": "2", "carriage_by": "value",
                "least_micro": "20", "duty_pct100": "", "bands-TOTAL_FORMS": "2", "bands-INITIAL_FORMS": "0",
                "bands-0-carriage": "9.50", "bands-1-reached": "150", "bands-1-carriage": "0"}  # fmt: skip
        address = reverse("inventory:supplier-edit", args=[supplier.pk])
        assert bench.post(address, data).status_code == 302
        assert list(supplier.bands.values_list("reached", "carriage_micro")) == [
            (0, w.money("9.5")),
            (w.money(150), 0),
        ]
        twice = bench.post(address, data | {"bands-1-reached": "0"})
        assert twice.status_code == 422 and "begin at the same place" in text_of(twice)
        offer = {"supplier": str(supplier.pk), "material": str(w.powder().pk), "quantity": "25 kg",
                 "price_micro": "70", "told_on": w.DAY.isoformat(), "breaks-TOTAL_FORMS": "1",
                 "breaks-INITIAL_FORMS": "0", "breaks-0-packs": "4", "breaks-0-price": "66"}  # fmt: skip
        assert bench.post(reverse("inventory:offer-new"), offer).status_code == 302
        made = Offer.objects.get()
        assert made.quantity == 25 * KG and [(one.packs, one.price_micro) for one in made.breaks.all()] == [
            (4, w.money(66))
        ]
        wrong = bench.post(reverse("inventory:offer-new"), offer | {"quantity": "2 pots", "material": ""})
        assert wrong.status_code == 422
