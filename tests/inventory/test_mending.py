"""What was written wrong is mended where it stands: what follows from it follows, what was weighed stays."""

import time
from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.models import BillLine, Entry, Holder, Lot, Movement, Piece, TreePart
from inventory.posting.buying import (
    Charges,
    DeliveryLine,
    post_delivery,
    post_late_bill,
    post_mended_bill,
)
from inventory.posting.casting import (
    CastFacts,
    Portion,
    TreeRecord,
    post_found,
    post_powder,
    post_start,
    post_tree,
)
from inventory.posting.closing import PieceGroup
from inventory.posting.mending import Mend, post_agreed, post_mended, read_given
from inventory.posting.pieces import post_finish, post_sale
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import OpeningLot, post_count, post_handed_in, post_opening, post_scrap, post_use
from inventory.queries.landed import landed_rows
from inventory.queries.ledger import later_users, standing_entries
from tests import workshop as w
from tests.support import problems

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _studio():
    w.make_studio()


def entry_of(kind, **which) -> Entry:
    return standing_entries().get(kind=kind, **which)


def mend(entry: Entry, **changes) -> list[Entry]:
    given = read_given(entry)
    day = changes.pop("day", entry.day)
    return post_mended({entry: Mend(day, replace(given, **changes) if changes else given)})


def mend_delivery(lot: Lot, grams: str) -> list[Entry]:
    entry = Lot.objects.get(pk=lot.pk).entry
    given = read_given(entry)
    line = replace(given.lines[0], quantity=w.g(grams))
    return mend(entry, lines=[line])


def test_a_delivery_that_weighed_less_costs_more_a_gram_in_every_piece_since():
    lot = w.buy(w.grain(), w.g(100), 100)
    cast = w.cast_metal([(lot, 40)], [w.piece("Leaf", 30)], back=10)
    [piece] = cast.pieces.all()
    sale = post_sale(piece, w.DAY)
    affected = mend_delivery(lot, "80")
    lot.holder.refresh_from_db()
    assert (lot.holder.quantity, lot.holder.cost_micro) == (w.g(40), w.money(50))
    # 40 g of 80 g for 100.00 are 50.00, and three quarters of the charge came out as the leaf.
    sold = Movement.objects.get(entry=entry_of(Entry.Kind.SALE), source=piece.holder_id)
    assert (sold.quantity, sold.cost_micro) == (w.g(30), w.money("37.50"))
    assert len(affected) == 4 and sale in affected
    # The piece is the one that everybody knows, and the old entries stay readable beside the new.
    piece.refresh_from_db()
    assert piece.state == Piece.State.SOLD and not piece.void
    assert entry_of(Entry.Kind.SALE).replaces_id == sale.pk
    assert Entry.objects.get(reverses=sale).day == sale.day
    assert problems() == []


def test_metal_that_came_out_of_another_lot_is_taken_from_there():
    cheap, dear = w.buy(w.grain(), w.g(100), 100), w.buy(w.grain(), w.g(100), 300)
    w.cast_metal([(cheap, 40)], [w.piece("Leaf", 40)])
    later = post_scrap(dear, w.g(50), w.DAY)
    post_mended({entry_of(Entry.Kind.CHARGE): Mend(w.DAY, [Portion(dear, w.g(40))])})
    holders = [Holder.objects.get(lot=lot).quantity for lot in (cheap, dear)]
    assert holders == [w.g(100), w.g(10)]
    assert Holder.objects.get(piece__name="Leaf").cost_micro == w.money(120)
    # What was drawn there later was drawn in its turn, so it was written again too.
    assert entry_of(Entry.Kind.SCRAP).replaces_id == later.pk
    assert problems() == []


def test_metal_of_a_delivery_that_was_entered_late_can_be_what_went_in():
    wrong = w.buy(w.grain(), w.g(100), 100)
    w.cast_metal([(wrong, 40)], [w.piece("Leaf", 40)])
    forgotten = w.buy(w.grain(), w.g(50), 80)
    post_scrap(forgotten, w.g(5), w.DAY)
    post_mended({entry_of(Entry.Kind.CHARGE): Mend(w.DAY, [Portion(forgotten, w.g(40))])})
    assert Holder.objects.get(piece__name="Leaf").cost_micro == w.money(64)
    # And once more, from what it has become.
    post_mended(
        {entry_of(Entry.Kind.CHARGE): Mend(w.DAY, [Portion(forgotten, w.g(30)), Portion(wrong, w.g(10))])}
    )
    assert Holder.objects.get(piece__name="Leaf").cost_micro == w.money(58)
    assert problems() == []


def test_what_was_weighed_later_stands_in_the_way_and_is_named():
    lot = w.buy(w.grain(), w.g(100), 100)
    w.cast_metal([(lot, 90)], [w.piece("Leaf", 90)])
    before = list(Holder.objects.order_by("pk").values_list("quantity", "cost_micro"))
    with pytest.raises(Refused, match=r"cannot be any more: charge of cast 1.*holds 80"):
        mend_delivery(lot, "80")
    assert list(Holder.objects.order_by("pk").values_list("quantity", "cost_micro")) == before
    assert Entry.objects.filter(kind=Entry.Kind.REVERSAL).count() == 0


def test_a_day_is_mended_and_may_not_be_after_what_was_drawn():
    lot = w.buy(w.grain(), w.g(100), 100)
    w.cast_metal([(lot, 40)], [w.piece("Leaf", 40)], day=w.DAY + timedelta(days=3))
    mend(lot.entry, day=w.DAY + timedelta(days=2))
    lot.refresh_from_db()
    assert lot.received_on == lot.delivery.received_on == w.DAY + timedelta(days=2)
    with pytest.raises(Refused, match="below zero"):
        mend(lot.entry, day=w.DAY + timedelta(days=9))
    assert problems() == []


def test_weights_after_the_pour_are_mended_and_a_piece_that_was_not_there_goes():
    lot = w.buy(w.grain(), w.g(100), 100)
    cast = w.cast_metal([(lot, 40)], [w.piece("Leaf", 10), w.piece("Pod", 10), w.piece("Bud", 10)], back=10)
    leaf, pod, bud = cast.pieces.order_by("number")
    post_finish(bud, w.g(9), w.g("0.5"), w.DAY)
    entry = entry_of(Entry.Kind.CLOSE)
    given = read_given(entry)
    groups = [replace(given.groups[0], mass_mg=w.g(11)), given.groups[2], w.piece("Ring", 8)]
    mend(entry, groups=groups)
    for piece in (leaf, pod, bud):
        piece.refresh_from_db()
    assert (leaf.as_cast_mg, leaf.void, pod.void, bud.void) == (w.g(11), False, True, False)
    assert bud.state == Piece.State.FINISHED and bud.holder.quantity == w.g(9)
    assert Piece.objects.get(name="Ring").number == 4
    assert problems() == []


def test_a_casting_that_was_added_to_others_stays_with_them_at_the_next_mend():
    lot = w.buy(w.grain(), w.g(100), 100)
    w.cast_metal([(lot, 40)], [w.piece("Leaf", 10, 2), w.piece("Pod", 7)], back=20)
    given = read_given(entry_of(Entry.Kind.CLOSE))
    leaves = replace(given.groups[0], count=3, mass_mg=w.g(12))
    mend(entry_of(Entry.Kind.CLOSE), groups=[leaves, given.groups[1]])
    pieces = Piece.objects.order_by("pk").values_list("name", "number", "as_cast_mg", "weighed_with")
    before = list(pieces)
    assert [name for name, *_ in before] == ["Leaf 1", "Leaf 2", "Pod", "Leaf 3"]
    mend_delivery(lot, "90")
    assert list(pieces) == before


def test_a_tree_is_of_what_its_lot_is_of_and_never_of_metal():
    lot, other = w.buy(w.wax(), w.g(100), 100), w.Material.objects.create(name="Red wax", kind="pattern")
    post_tree(post_start(CastFacts("studs", w.DAY, w.sterling())), [TreeRecord(w.wax(), w.g(5), lot)], w.DAY)
    lines = read_given(lot.entry).lines
    mend(lot.entry, lines=[replace(lines[0], material=other)])
    assert TreePart.objects.get().material == other
    lot.refresh_from_db()
    with pytest.raises(
        Refused, match="tree of cast 1.*Sterling grain is metal, and pattern material is wanted"
    ):
        mend(lot.entry, lines=[replace(lines[0], material=w.grain())])


def test_a_mould_is_never_of_wax():
    lot = w.buy(w.powder(), w.g(900), 9)
    post_powder(post_start(CastFacts("studs", w.DAY, w.sterling())), [Portion(lot, w.g(400))], None, w.DAY)
    with pytest.raises(Refused, match="cast 1.*Green wax is pattern material"):
        mend(lot.entry, lines=[replace(read_given(lot.entry).lines[0], material=w.wax())])


def test_a_piece_that_was_sold_cannot_be_left_out_of_the_weights():
    lot = w.buy(w.grain(), w.g(100), 100)
    cast = w.cast_metal([(lot, 40)], [w.piece("Leaf", 10), w.piece("Pod", 10)], back=20)
    post_sale(cast.pieces.get(name="Pod"), w.DAY)
    given = read_given(entry_of(Entry.Kind.CLOSE))
    with pytest.raises(Refused, match="piece sold of Pod"):
        mend(entry_of(Entry.Kind.CLOSE), groups=given.groups[:1], back_mg=w.g(30))


def test_metal_found_later_stands_on_the_finishing_that_lost_it():
    lot = w.buy(w.grain(), w.g(100), 100)
    cast = w.cast_metal([(lot, 40)], [w.piece("Leaf", 40)])
    finish = post_finish(cast.pieces.get(), w.g(35), 0, w.DAY)
    post_found(cast, w.g(4), Lot.Origin.SWEEPS, w.DAY)
    finished, filings_mg = read_given(finish)
    with pytest.raises(Refused, match="cannot be any more: metal found"):
        post_mended({finish: Mend(w.DAY, ([(finished[0][0], w.g(39))], filings_mg))})
    foreseen = post_agreed({finish: Mend(w.DAY, ([(finished[0][0], w.g(34))], filings_mg))}, mark="")
    [lost] = [one for one in foreseen.changes if one.name.startswith("Lost")]
    # 5 g were lost and 4 g of it found; then it is 6 g.
    assert (lost.before.quantity, lost.after.quantity) == (w.g(1), w.g(2))


def test_a_piece_that_something_was_taken_for_cannot_be_left_out():
    lot, box = w.buy(w.grain(), w.g(100), 100), w.buy(w.powder(), w.g(900), 9)
    cast = w.cast_metal([(lot, 40)], [w.piece("Leaf", 10), w.piece("Pod", 10)], back=20)
    post_use(box, w.g(1), w.DAY, piece=cast.pieces.get(name="Pod"))
    given = read_given(entry_of(Entry.Kind.CLOSE))
    with pytest.raises(Refused, match="of Pod"):
        mend(entry_of(Entry.Kind.CLOSE), groups=given.groups[:1], back_mg=w.g(30))


def test_a_bill_for_what_was_used_up_comes_back_to_a_lot_that_was_more():
    lot = w.buy(w.wax(), w.g(100), 100)
    post_use(lot, w.g(100), w.DAY)
    post_late_bill(lot.delivery, w.money(8), w.DAY)
    mend_delivery(lot, "200")
    lot.holder.refresh_from_db()
    assert lot.holder.cost_micro == w.money(50) + w.money(4)
    assert problems() == []


def test_all_else_that_was_given_stays_when_one_figure_is_mended():
    opening = post_opening(OpeningLot(w.grain(), w.g(100), w.money(90), melts_milli=1500), w.DAY, "old tin")
    handed = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY, melts_milli=2000, note="her ring")
    pods = PieceGroup("Pod", w.g(9), 2, [w.g(1), w.g(2)], w.wax())
    cast = w.cast_metal([(opening, 40)], [pods], back=30)
    sale = post_sale(cast.pieces.get(name="Pod 1"), w.DAY, "to a friend")
    mend(opening.entry, quantity=w.g(90))
    mend(handed.entry, mass_mg=w.g(40))
    for lot, melts, note in ((opening, 1500, "old tin"), (handed, 2000, "her ring")):
        lot.refresh_from_db()
        assert (lot.melts_milli, lot.entry.note) == (melts, note)
    kept = cast.pieces.order_by("number").values_list(
        "name", "as_cast_mg", "pattern_mass_mg", "pattern_material"
    )
    assert list(kept) == [("Pod 1", 3000, 1000, w.wax().pk), ("Pod 2", 6000, 2000, w.wax().pk)]
    assert Entry.objects.get(replaces=sale).note == "to a friend"


def test_a_charge_of_a_lot_that_is_proved_proves_what_came_of_it():
    guessed = post_opening(OpeningLot(w.grain(), w.g(100), 0, Lot.Origin.CLEAN), w.DAY)
    proved = w.buy(w.grain(), w.g(100), 100)
    cast = w.cast_metal([(guessed, 40)], [w.piece("Leaf", 10)], back=30)
    post_mended({entry_of(Entry.Kind.CHARGE): Mend(w.DAY, [Portion(proved, w.g(40))])}, "wrong lot")
    cast.refresh_from_db()
    assert not cast.fineness_is_guess and not Lot.objects.get(from_cast=cast).fineness_is_guess
    assert set(Entry.objects.filter(kind="reversal").values_list("note", flat=True)) == {"wrong lot"}


def test_a_count_stays_what_was_counted():
    lot = w.buy(w.powder(), w.g(1000), 10)
    post_count(lot, w.g(990), w.DAY)
    mend_delivery(lot, "1200")
    lot.holder.refresh_from_db()
    assert lot.holder.quantity == w.g(990)
    missing = Movement.objects.get(entry=entry_of(Entry.Kind.COUNT))
    assert missing.quantity == w.g(210)


def test_what_should_not_have_been_written_is_left_out_under_what_came_later():
    lot = w.buy(w.powder(), w.g(1000), 10)
    wrong, right = post_use(lot, w.g(300), w.DAY), post_use(lot, w.g(100), w.DAY)
    post_mended({wrong: Mend(w.DAY, None)})
    lot.holder.refresh_from_db()
    assert lot.holder.quantity == w.g(900)
    assert entry_of(Entry.Kind.USE).replaces_id == right.pk


def test_what_was_taken_back_meanwhile_is_not_mended():
    lot = w.buy(w.powder(), w.g(1000), 10)
    use = post_use(lot, w.g(300), w.DAY)
    post_reversal(use)
    with pytest.raises(Refused, match="taken back or mended meanwhile"):
        post_mended({use: Mend(w.DAY, None)})


def test_an_entry_that_was_mended_keeps_its_turn_for_reversal_and_the_next_mend():
    lot = w.buy(w.grain(), w.g(100), 100)
    w.cast_metal([(lot, 40)], [w.piece("Leaf", 40)])
    mend_delivery(lot, "90")
    mend_delivery(lot, "95")
    lot.refresh_from_db()
    assert [user.kind for user in later_users(lot.entry)] == [Entry.Kind.CHARGE]
    assert lot.entry.turn == min(Entry.objects.values_list("pk", flat=True))
    assert problems() == []


def test_a_bill_that_came_to_less_takes_it_off_what_is_here_and_off_late_bills():
    lot = w.buy(w.wax(), w.g(100), 100, carriage=10)
    post_use(lot, w.g(75), w.DAY)
    post_mended_bill(lot.delivery, {lot.pk: w.money(80)}, w.money(6), w.DAY)
    lot.holder.refresh_from_db()
    # 24.00 less in all; a quarter is still here.
    assert lot.holder.cost_micro == w.money("27.50") - w.money(6)
    late = Movement.objects.filter(source__place=Holder.Place.LATE)
    assert sum(line.cost_micro for line in late) == w.money(18)
    [row] = landed_rows(lot.delivery)
    assert (row.price_micro, row.charges_micro, row.used_micro) == (w.money(80), w.money(6), -w.money(18))
    assert problems() == []


def test_a_mended_price_moves_the_carriage_that_goes_by_price():
    lines = [DeliveryLine(w.wax(), w.g(100), w.money(10)), DeliveryLine(w.wax(), w.g(100), w.money(10))]
    delivery = post_delivery(w.supplier(), w.DAY, lines, Charges(carriage_micro=w.money(8)))
    first, second = Lot.objects.filter(delivery=delivery).order_by("pk")
    post_mended_bill(delivery, {first.pk: w.money(30)}, w.money(8), w.DAY)
    costs = [Holder.objects.get(lot=lot).cost_micro for lot in (first, second)]
    assert costs == [w.money(36), w.money(12)]
    # A plain bill after that is shared by the prices as they now are.
    post_late_bill(delivery, w.money(4), w.DAY)
    assert [row.charges_micro for row in landed_rows(delivery)] == [w.money(9), w.money(3)]


def test_a_bill_is_refused_that_changes_nothing_or_takes_more_than_is_left():
    lot = w.buy(w.wax(), w.g(100), 100)
    with pytest.raises(Refused, match="nothing differs"):
        post_mended_bill(lot.delivery, {lot.pk: w.money(100)}, 0, w.DAY)
    post_use(lot, w.g(50), w.DAY)
    with pytest.raises(Refused, match="never below nothing"):
        post_mended_bill(lot.delivery, {lot.pk: -1}, 0, w.DAY)
    assert BillLine.objects.count() == 0


def test_what_was_found_beyond_a_delivery_takes_no_part_of_its_bills():
    lot = w.buy(w.wax(), w.g(100), 100)
    post_count(lot, w.g(150), w.DAY)
    post_mended_bill(lot.delivery, {lot.pk: w.money(80)}, 0, w.DAY)
    lot.holder.refresh_from_db()
    assert lot.holder.cost_micro == w.money(130)
    assert problems() == []


def test_no_more_comes_off_a_lot_than_what_it_holds_of_its_cost():
    lot = w.buy(w.wax(), w.g(100), 100)
    post_use(lot, w.g(100), w.DAY)
    post_count(lot, w.g(50), w.DAY)
    with pytest.raises(Refused, match=r"holds 0\.00 of its cost, and 10\.00 is to come off it"):
        post_mended_bill(lot.delivery, {lot.pk: w.money(80)}, 0, w.DAY)
    with pytest.raises(Refused, match="Carriage, duty and tax are never below nothing"):
        post_mended_bill(lot.delivery, {}, -1, w.DAY)
    assert BillLine.objects.count() == 0


def test_carriage_that_came_to_less_comes_off_as_it_was_spread_by_weight():
    lines = [DeliveryLine(w.wax(), w.g(300), w.money(10)), DeliveryLine(w.wax(), w.g(100), w.money(30))]
    charges = Charges(carriage_micro=w.money(8), spread_by="mass")
    delivery = post_delivery(w.supplier(), w.DAY, lines, charges)
    bill = post_mended_bill(delivery, {}, w.money(4), w.DAY)
    assert [row.charges_micro for row in landed_rows(delivery)] == [w.money(3), w.money(1)]
    post_reversal(bill)
    post_late_bill(delivery, w.money(4), w.DAY)
    assert [row.charges_micro for row in landed_rows(delivery)] == [w.money(9), w.money(3)]
    assert problems() == []


def test_a_late_bill_is_shared_anew_when_its_delivery_is_mended():
    lot = w.buy(w.wax(), w.g(100), 100)
    post_use(lot, w.g(75), w.DAY)
    post_late_bill(lot.delivery, w.money(8), w.DAY)
    mend_delivery(lot, "300")
    lot.holder.refresh_from_db()
    assert lot.holder.cost_micro == w.money(75) + w.money(6)
    assert problems() == []


@pytest.mark.slow
def test_two_hundred_entries_deep_is_mended_in_two_seconds():
    lot = w.buy(w.grain(), w.g(900), 900)
    for _ in range(100):
        w.cast_metal([(lot, 8)], [w.piece("Leaf", 6)], back=2)
    started = time.process_time()
    affected = mend_delivery(lot, "905")
    took = time.process_time() - started
    assert len(affected) == 201
    # A machine that works on something else beside takes up to twice as long.
    assert took < 4
