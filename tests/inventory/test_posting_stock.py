"""Deliveries, late bills, counts and back-dating."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.utils import DatabaseError

from inventory.models import Entry, Holder, Lot, Movement, OnceKey, Supplier
from inventory.posting.buying import Charges, DeliveryLine, post_delivery, post_late_bill
from inventory.posting.once import post_once
from inventory.posting.pieces import post_melt_back
from inventory.posting.refusal import Refused
from inventory.posting.setup import find_or_write
from inventory.posting.stock import (
    MENDABLE,
    OpeningLot,
    mend_lot,
    post_count,
    post_hand_back,
    post_handed_in,
    post_opening,
    post_scrap,
    post_use,
)
from tests import workshop as w
from tests.support import problems

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


def deliver(charges: Charges):
    lines = [
        DeliveryLine(w.grain(), w.g(100), w.money(100)),
        DeliveryLine(w.powder(), w.g(5000), w.money(50)),
    ]
    delivery = post_delivery(w.supplier(), w.DAY, lines, charges)
    return [lot.holder.cost_micro for lot in Lot.objects.filter(delivery=delivery).order_by("pk")]


def test_carriage_and_duty_go_by_price_to_the_last_unit():
    assert deliver(Charges(carriage_micro=w.money(10), duty_micro=w.money("0.000001"))) == [
        106_666_667,
        53_333_334,
    ]


def test_tax_that_is_not_given_back_is_spread_with_carriage_and_duty():
    charges = Charges(carriage_micro=w.money(3), duty_micro=w.money(6), tax_micro=w.money(21))
    assert charges.total_micro == w.money(30)
    assert deliver(charges) == [w.money(120), w.money(60)]


def test_a_milligram_that_was_not_there_on_the_day_is_told_and_nothing_in_hand_is_changed():
    """A page that shows the refusal shows the lot beside it: with what it holds, not with what was asked of it."""
    lot = w.buy(w.wax(), w.g(10), 30)
    post_use(lot, w.g(4), w.DAY + timedelta(days=2))
    post_count(lot, w.g(20), w.DAY + timedelta(days=4))
    held = lot.holder.quantity
    with pytest.raises(Refused, match=r"On .* would be 0\.001.g below zero"):
        post_use(lot, w.g("6.001"), w.DAY + timedelta(days=1))
    assert lot.holder.quantity == held == w.g(20)


def test_a_supplier_whose_name_is_typed_in_other_letters_is_the_one_that_is_there():
    known = w.supplier()
    assert find_or_write(Supplier, known.name.upper()) == known
    new = find_or_write(Supplier, "Rush End")
    assert Supplier.objects.count() == 2 and find_or_write(Supplier, "rush end") == new


def test_carriage_can_go_by_mass():
    assert deliver(Charges(carriage_micro=w.money("10.2"), spread_by="mass")) == [
        w.money("100.2"),
        w.money(60),
    ]


def test_carriage_by_mass_is_refused_when_a_line_is_not_weighed():
    from inventory.models import Material

    hooks = Material.objects.create(name="Ear wires", kind="finding", unit="items")
    with pytest.raises(Refused, match="spread it by price"):
        post_delivery(
            w.supplier(), w.DAY, [DeliveryLine(hooks, 20, w.money(4))], Charges(w.money(2), spread_by="mass")
        )


def test_a_late_bill_goes_on_what_is_left_and_the_rest_to_its_named_place():
    lot = w.buy(w.grain(), w.g(100), 130)
    w.cast_metal([(lot, 40)], [w.piece("Leaf", 20)], back="19.9")
    post_late_bill(lot.delivery, w.money(10), w.DAY + timedelta(days=5))
    lot.holder.refresh_from_db()
    assert lot.holder.cost_micro == w.money(84)
    assert Movement.objects.get(target__place="late").cost_micro == w.money(4)
    assert problems() == []


def test_every_seal_fits_its_column():
    """SQLite takes a longer text than the column says; PostgreSQL would refuse the posting."""
    lot = w.buy(w.grain(), w.g(100), 130)
    w.cast_metal([(lot, 40)], [w.piece("Leaf", 20)], back="19.9")
    room = Movement._meta.get_field("seal").max_length
    assert {len(seal) for seal in Movement.objects.values_list("seal", flat=True)} == {room}


def test_a_back_dated_draw_is_judged_on_every_later_day():
    lot = w.buy(w.grain(), w.g(100), 130, day=w.DAY)
    w.cast_metal([(lot, 90)], [w.piece("Leaf", 40)], back="49.9", day=w.DAY + timedelta(days=10))
    with pytest.raises(Refused, match="Choose|holds"):
        w.cast_metal([(lot, 20)], [w.piece("Leaf", 10)], back="9.9", day=w.DAY + timedelta(days=1))


def test_nothing_is_drawn_before_it_came():
    lot = w.buy(w.grain(), w.g(100), 130, day=w.DAY)
    with pytest.raises(Refused, match="below zero"):
        w.cast_metal([(lot, 20)], [w.piece("Leaf", 10)], back="9.9", day=w.DAY - timedelta(days=1))


def test_a_back_dated_draw_that_holds_on_every_day_is_posted():
    lot = w.buy(w.grain(), w.g(100), 130, day=w.DAY)
    w.cast_metal([(lot, 50)], [w.piece("Leaf", 40)], back="9.9", day=w.DAY + timedelta(days=10))
    w.cast_metal([(lot, 50)], [w.piece("Leaf", 40)], back="9.9", day=w.DAY + timedelta(days=2))
    assert problems() == []


def test_a_draw_dated_before_a_late_bill_that_would_take_its_cost_is_refused():
    lot = w.buy(w.grain(), w.g(100), 130, day=w.DAY)
    post_late_bill(lot.delivery, w.money(10), w.DAY + timedelta(days=5))
    with pytest.raises(Refused, match="would not follow its grams"):
        w.cast_metal([(lot, 100)], [w.piece("Leaf", 90)], back="9.9", day=w.DAY + timedelta(days=1))


def test_a_count_that_finds_less_takes_cost_away_and_one_that_finds_more_adds_it():
    lot = post_opening(OpeningLot(w.grain(), w.g(100), w.money(120)), w.DAY)
    post_count(lot, w.g(99), w.DAY)
    lot.holder.refresh_from_db()
    assert lot.holder.cost_micro == w.money("118.8")
    post_count(lot, w.g(100), w.DAY)
    lot.holder.refresh_from_db()
    assert (lot.holder.quantity, lot.holder.cost_micro) == (w.g(100), w.money(120))
    assert problems() == []


@pytest.mark.parametrize(
    ("origin", "given", "melts", "is_guess"),
    [("clean", None, 1000, True), ("clean", 2500, 2500, False), ("opening", None, 0, False)],
)
def test_old_metal_was_melted_once_at_least(origin, given, melts, is_guess):
    lot = post_opening(OpeningLot(w.grain(), w.g(100), 0, origin, given), w.DAY)
    lot.refresh_from_db()
    assert (lot.melts_milli, lot.melts_are_guess) == (melts, is_guess)


def test_a_count_that_agrees_posts_nothing():
    lot = post_opening(OpeningLot(w.grain(), w.g(100), w.money(120)), w.DAY)
    assert post_count(lot, w.g(100), w.DAY) is None


def test_spoilt_powder_is_thrown_away_with_its_cost():
    lot = w.buy(w.powder(), w.g(5000), 40)
    post_scrap(lot, w.g(5000), w.DAY, "got damp")
    lot.holder.refresh_from_db()
    assert (lot.holder.quantity, lot.holder.cost_micro) == (0, 0)


def test_metal_is_not_taken_from_stock_but_through_a_charge():
    with pytest.raises(Refused, match="by the charge of a cast"):
        post_use(w.buy(w.grain(), w.g(10), 13), w.g(1), w.DAY)


def test_a_customers_metal_is_handed_back():
    lot = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    post_hand_back(lot, w.g(20), w.DAY)
    lot.holder.refresh_from_db()
    assert (lot.holder.quantity, lot.holder.cost_micro) == (w.g(30), 0)


def test_the_studios_own_metal_is_not_handed_to_anybody():
    with pytest.raises(Refused, match="studio's own"):
        post_hand_back(w.buy(w.grain(), w.g(10), 13), w.g(1), w.DAY)


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE inventory_movement SET quantity = 1",
        "UPDATE inventory_entry SET bill_for_id = NULL",
        "DELETE FROM inventory_entry",
    ],
)
def test_the_database_refuses_to_change_what_was_posted(sql):
    w.buy(w.grain(), w.g(100), 130)
    with (
        pytest.raises(DatabaseError, match="never changes"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(sql)


def test_the_database_refuses_a_balance_below_zero():
    lot = w.buy(w.grain(), w.g(100), 130)
    with pytest.raises(IntegrityError), transaction.atomic():
        Holder.objects.filter(pk=lot.holder_id).update(quantity=-1)


def test_the_database_refuses_part_of_a_milligram():
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL's integer columns cannot hold a fraction at all")
    lot = w.buy(w.grain(), w.g(100), 130)
    with (
        pytest.raises(DatabaseError, match="whole numbers"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("UPDATE inventory_holder SET quantity = 1.5 WHERE id = %s", [lot.holder_id])


def test_the_same_form_posts_once():
    from uuid import uuid4

    key = uuid4()

    def act() -> str:
        return f"/stock/lots/{w.buy(w.grain(), w.g(100), 130).pk}/"

    assert post_once(key, act) == post_once(key, act)
    assert Entry.objects.count() == OnceKey.objects.count() == 1


def test_a_refused_form_can_be_sent_again():
    from uuid import uuid4

    key = uuid4()

    def refuse() -> str:
        raise Refused("no")

    with pytest.raises(Refused):
        post_once(key, refuse)
    assert post_once(key, lambda: "/done/") == "/done/"


def test_the_audit_names_a_movement_that_was_altered():
    lot = w.buy(w.grain(), w.g(100), 130)
    movement = Movement.objects.filter(target=lot.holder).first()
    with connection.cursor() as cursor:
        trigger = "inventory_movement_no_update"
        cursor.execute(
            f"DROP TRIGGER {trigger}" + ("" if connection.vendor == "sqlite" else " ON inventory_movement")
        )
        cursor.execute(
            "UPDATE inventory_movement SET cost_micro = cost_micro - 1 WHERE id = %s", [movement.pk]
        )
    found = " ".join(problems())
    assert f"movement {movement.pk} (line 1 of entry {movement.entry_id}" in found
    assert f"Lot {lot.pk}" in found
    assert trigger in found


def test_a_late_bill_is_not_from_before_its_delivery():
    lot = w.buy(w.grain(), w.g(10), 13)
    post_scrap(lot, w.g(10), w.DAY)
    with pytest.raises(Refused, match="not from before its delivery"):
        post_late_bill(lot.delivery, w.money(2), w.DAY - timedelta(days=1))


def test_nothing_is_taken_for_a_piece_that_was_melted():
    lot, mould = w.buy(w.grain(), w.g(100), 130), w.buy(w.powder(), w.g(10), 1)
    piece = w.cast_metal([(lot, 10)], [w.piece("Leaf", 4)], back=6).pieces.get()
    post_melt_back(piece, w.DAY)
    with pytest.raises(Refused, match="nothing is taken for it any more"):
        post_use(mould, 1, w.DAY, piece=piece)


def test_nothing_is_not_posted():
    """Of each posting that is told an amount: 0 is refused, beside its field; the least that there is goes."""
    lot = w.buy(w.powder(), w.g(10), 1)
    acts = {
        "quantity": [
            lambda amount: post_opening(OpeningLot(w.grain(), amount, 0), w.DAY),
            lambda amount: post_handed_in(w.customer(), w.grain(), amount, w.DAY),
            lambda amount: post_scrap(lot, amount, w.DAY),
            lambda amount: post_use(lot, amount, w.DAY),
        ],
        "amount": [lambda amount: post_late_bill(lot.delivery, amount, w.DAY)],
    }
    for field, act in ((field, act) for field, named in acts.items() for act in named):
        entries = Entry.objects.count()
        with pytest.raises(Refused, match="more than nothing") as refused:
            act(0)
        assert (refused.value.field, Entry.objects.count()) == (field, entries)
        act(1)
        assert Entry.objects.count() == entries + 1
    assert problems() == []


def test_a_customer_hands_in_nothing_but_metal():
    with pytest.raises(Refused, match="choose a metal") as refused:
        post_handed_in(w.customer(), w.powder(), 1, w.DAY)
    assert refused.value.field == "material"


def test_a_delivery_without_a_line_is_refused():
    with pytest.raises(Refused, match="at least one line"):
        post_delivery(w.supplier(), w.DAY, [], Charges())


def test_a_count_is_not_from_before_the_lot_moved_last():
    lot = w.buy(w.grain(), w.g(100), 130)
    with pytest.raises(
        Refused, match=r"moved on .*2026; a count before that says nothing about today"
    ) as refused:
        post_count(lot, w.g(99), w.DAY - timedelta(days=1))
    assert refused.value.field == "day"


def test_a_count_is_right_to_the_milligram_and_finds_metal_at_no_cost_where_none_was_thought():
    lot = w.buy(w.grain(), w.g(100), 100)
    for counted in (w.g(100) - 1, w.g(100)):
        post_count(lot, counted, w.DAY)
        lot.holder.refresh_from_db()
        assert (lot.holder.quantity, lot.holder.cost_micro) == (counted, w.money(counted) // 1000)
    post_scrap(lot, w.g(100), w.DAY)
    post_count(lot, w.g(5), w.DAY)
    lot.holder.refresh_from_db()
    assert (lot.holder.quantity, lot.holder.fine_ug, lot.holder.cost_micro) == (5_000, 5_000 * 925, 0)
    assert problems() == []


def test_a_bill_goes_only_on_what_came_with_its_delivery():
    """A count that found more than was delivered takes none of it: half of 100 g is 50 g, and 10 is on 100 g."""
    lot = w.buy(w.grain(), w.g(100), 130)
    post_count(lot, w.g(120), w.DAY)
    post_late_bill(lot.delivery, w.money(10), w.DAY)
    lot.holder.refresh_from_db()
    assert lot.holder.cost_micro == w.money(130) * 120 // 100 + w.money(10)
    assert not Movement.objects.filter(target__place=Holder.Place.LATE).exists()


def test_only_facts_that_no_stock_hangs_on_are_mended_in_a_lot():
    lot = w.buy(w.grain(), w.g(100), 130)
    with pytest.raises(KeyError, match="owner"):
        mend_lot(lot, {"kept_in": "drawer 3", "owner": w.customer()})
    mend_lot(lot, {name: getattr(lot, name) for name in MENDABLE} | {"kept_in": "drawer 3"})
    lot.refresh_from_db()
    assert (lot.kept_in, lot.owner) == ("drawer 3", None)
