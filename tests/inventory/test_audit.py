"""The audit names each wrong state, made here behind the postings' back."""

from datetime import UTC, datetime, timedelta

import pytest

from inventory.core.ledger import Amount
from inventory.models import (
    Alloy,
    Cast,
    Delivery,
    Entry,
    Equipment,
    Firing,
    Holder,
    KilnLog,
    Lot,
    Movement,
    Piece,
    Studio,
    TreePart,
)
from inventory.posting.book import Book, open_book
from inventory.posting.casting import (
    CastFacts,
    Portion,
    TreeRecord,
    post_charge,
    post_close,
    post_found,
    post_start,
    post_tree,
)
from inventory.posting.closing import Weights
from inventory.posting.pieces import post_finish
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_handed_in, post_scrap
from tests import workshop as w
from tests.inventory import kiln_logs, plans
from tests.inventory.test_audit_reading import tampered
from tests.support import problems

NOON = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


@pytest.fixture
def cast() -> Cast:
    lot = w.buy(w.grain(), w.g(100), 130)
    return w.cast_metal([(lot, 60)], [w.piece("Leaf", 20), w.piece("Stud", 10)], back=28)


@pytest.fixture
def their_cast() -> Cast:
    """A cast of a customer's own silver."""
    lot = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    return w.cast_metal([(lot, 30)], [w.piece("Ring", 20)], back=9, owner=w.customer())


def bought() -> Lot:
    return Lot.objects.get(origin="bought")


def move(kind: str, cast: Cast | None, source, target, amount, day=w.DAY, **facts) -> Entry:
    """A sound entry in itself, which no posting would have written."""
    with open_book() as book:
        draft = book.begin(kind, day, cast=cast, **facts)
        book.read(*(row for row in (source, target) if not isinstance(row, str)))
        book.move(draft, _holder(book, source), _holder(book, target), amount)
    return draft.entry


def _holder(book: Book, end) -> Holder:
    if isinstance(end, str):
        return book.outside(end)
    return end.crucible_holder if isinstance(end, Cast) else end.holder


def test_a_line_that_was_altered(cast):
    line = Movement.objects.get(entry__kind="charge")
    with tampered(f"UPDATE inventory_movement SET what = 'loss' WHERE id = {line.pk}"):
        assert any(problem.startswith(f"movement {line.pk} (line 1 of entry") for problem in problems())


def test_a_line_whose_day_is_not_its_entrys(cast):
    line = Movement.objects.get(entry__kind="charge")
    with tampered(f"UPDATE inventory_entry SET day = '2026-03-01' WHERE id = {line.entry_id}"):
        told = f"movement {line.pk} (line 1 of entry {line.entry_id}, 2026-03-02) was altered"
        assert any(problem.startswith(told) for problem in problems())


def test_an_entry_that_lacks_a_line(cast):
    close = Entry.objects.get(kind="close")
    with tampered(f"UPDATE inventory_entry SET line_count = 5 WHERE id = {close.pk}"):
        assert f"entry {close.pk} has 4 lines and should have 5" in problems()


@pytest.fixture
def scrap(cast) -> Entry:
    return post_scrap(bought(), w.g(4), w.DAY)


def reverse(entry: Entry, amount: Amount, day=w.DAY) -> Entry:
    """A reversal that no posting would have written."""
    return move(Entry.Kind.REVERSAL, None, Holder.Place.SCRAPPED, bought(), amount, day, reverses=entry)


ALL_BACK = Amount(w.g(4), w.g(4) * 925, w.money("5.2"))


@pytest.mark.parametrize(
    "amount",
    [
        Amount(w.g(3), ALL_BACK.fine_ug, ALL_BACK.cost_micro),
        Amount(w.g(4), ALL_BACK.fine_ug - 1, ALL_BACK.cost_micro),
        Amount(w.g(4), ALL_BACK.fine_ug, ALL_BACK.cost_micro - 1),
    ],
)
def test_a_reversal_that_is_no_mirror(scrap, amount):
    reversal = reverse(scrap, amount)
    assert f"entry {reversal.pk} does not mirror entry {scrap.pk}" in problems()


def test_a_reversal_on_another_day(scrap):
    reversal = reverse(scrap, ALL_BACK, w.DAY + timedelta(days=1))
    assert problems() == [f"entry {reversal.pk} of 2026-03-03 reverses entry {scrap.pk} of 2026-03-02"]


def test_a_reversal_of_a_reversal(scrap):
    reversal = reverse(scrap, ALL_BACK)
    assert problems() == []
    again = move(Entry.Kind.REVERSAL, None, bought(), Holder.Place.SCRAPPED, ALL_BACK, reverses=reversal)
    assert problems() == [f"entry {again.pk} reverses entry {reversal.pk}, which is a reversal itself"]


def test_a_holder_whose_latest_day_is_wrong(cast):
    Holder.objects.filter(lot__origin="bought").update(latest_day=w.DAY + timedelta(days=1))
    [problem] = problems()
    assert "cost_micro 52000000 on 2026-03-03; its movements make quantity 40000" in problem
    assert problem.endswith("on 2026-03-02")


def test_a_lot_below_zero_on_an_earlier_day(cast, monkeypatch):
    monkeypatch.setattr(Book, "_check_earlier_days", lambda book: None)
    lot, early = bought(), w.DAY - timedelta(days=1)
    move(Entry.Kind.SCRAP, None, lot, Holder.Place.SCRAPPED, Amount(w.g(1)), early)
    assert problems() == [
        f"holder {lot.holder_id} at the end of 2026-03-01: quantity -1000, fine_ug 0, cost_micro 0"
    ]


def test_a_closed_cast_without_a_closing(cast):
    post_reversal(cast.entries.get(kind="close"))
    Cast.objects.update(closed_on=w.DAY, outcome="good")
    assert "cast 1 has 0 standing closings and should have 1" in problems()


def test_a_cast_that_was_closed_twice(cast):
    button = Lot.objects.get(origin="clean")
    move(Entry.Kind.CLOSE, cast, button, Holder.Place.LOST, Amount(w.g(1), w.g(1) * 925))
    assert "cast 1 has 2 standing closings and should have 1" in problems()


def test_an_open_cast_that_has_a_closing(cast):
    Cast.objects.update(closed_on=None, outcome="")
    assert "cast 1 has 1 standing closings and should have 0" in problems()


def test_a_piece_that_weighed_something_else_than_was_booked(cast):
    leaf = Piece.objects.get(name="Leaf")
    Piece.objects.filter(pk=leaf.pk).update(as_cast_mg=19_990)
    assert problems() == [f"piece {leaf.pk} says 19990 mg as cast; 20000 mg were booked"]


@pytest.mark.parametrize("model", [Delivery, Lot, Piece, TreePart])
def test_what_is_void_against_its_entry(cast, model):
    wax = w.buy(w.wax(), w.g(50), 5)
    post_tree(post_start(CastFacts("ear studs", w.DAY, w.sterling())), [TreeRecord(w.wax(), 5, wax)], w.DAY)
    row, name = model.objects.order_by("pk").first(), model._meta.verbose_name
    model.objects.filter(pk=row.pk).update(void=True)
    assert f"{name} {row.pk} is void: True, against its entry {row.entry_id}" in problems()


@pytest.mark.parametrize("model", [Delivery, Lot])
def test_what_is_not_void_though_its_entry_was_reversed(model):
    lot = w.buy(w.grain(), w.g(100), 130)
    post_reversal(lot.entry)
    row, name = model.objects.get(), model._meta.verbose_name
    model.objects.update(void=False)
    assert problems() == [f"{name} {row.pk} is void: False, against its entry {lot.entry_id}"]


def test_a_customers_lot_with_cost():
    lot = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    move(Entry.Kind.COUNT, None, Holder.Place.COUNTED, lot, Amount(w.g(1), w.g(1) * 925, 500))
    assert f"lot {lot.pk} belongs to a customer and carries cost_micro 500" in problems()


def test_a_lot_that_is_not_its_casts_owners(cast):
    button = Lot.objects.get(origin="clean")
    Lot.objects.filter(pk=button.pk).update(owner=w.customer())
    assert f"lot {button.pk} and the cast it came from have different owners" in problems()


def test_melts_that_do_not_follow_from_the_charge(cast):
    button = Lot.objects.get(origin="clean")
    Lot.objects.filter(pk=button.pk).update(melts_milli=0)
    assert problems() == [f"lot {button.pk} says 0 melts_milli; its charge makes 1000"]


def test_a_customers_cast_charged_with_the_studios_metal(cast):
    theirs = post_start(CastFacts("ring", w.DAY, w.sterling(), owner=w.customer()))
    lot, amount = bought(), Amount(w.g(10), w.g(10) * 925)
    charge = move(Entry.Kind.CHARGE, theirs, lot, theirs, amount)
    assert problems() == [f"entry {charge.pk} charges lot {lot.pk} to cast 2, which have different owners"]


def test_a_studios_cast_charged_with_a_customers_metal(cast):
    ours = post_start(CastFacts("studs", w.DAY, w.sterling()))
    lot = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    charge = move(Entry.Kind.CHARGE, ours, lot, ours, Amount(w.g(10), w.g(10) * 925))
    found = problems()
    assert f"entry {charge.pk} charges lot {lot.pk} to cast 2, which have different owners" in found
    assert all("of its fineness" in one for one in found[1:]), (
        "the customer's metal is a guess, and the cast is not"
    )


@pytest.mark.parametrize("what", ["the crucible of cast 1", "Ring", "Lot"])
def test_cost_on_what_was_cast_of_a_customers_metal(their_cast, what):
    places = {"Ring": Piece.objects.get(), "Lot": Lot.objects.get(origin="clean")}
    amount = Amount(w.g(1), w.g(1) * 925, 7)
    entry = move(Entry.Kind.COUNT, None, Holder.Place.COUNTED, places.get(what, their_cast), amount)
    told = [problem for problem in problems() if problem.endswith(f"entry {entry.pk} puts a cost on it")]
    assert len(told) == 1
    assert told[0].startswith(what)


def test_cost_on_a_customers_piece_that_left_with_it(their_cast):
    ring = Piece.objects.get()
    put = move(Entry.Kind.COUNT, None, Holder.Place.COUNTED, ring, Amount(0, 0, 7))
    move(Entry.Kind.COUNT, None, ring, Holder.Place.COUNTED, Amount(0, 0, 7))
    told = f"Ring (holder {ring.holder_id}) is a customer's, and entry {put.pk} puts a cost on it"
    assert told in problems()


def test_metal_that_nothing_stands_for():
    nobodys = Holder.objects.create(kind="lot", quantity=w.g(5), latest_day=w.DAY)
    told = f"holder {nobodys.pk} (lot) is that of nothing we know of and holds quantity 5000"
    assert any(problem.startswith(told) for problem in problems())


def test_a_lot_that_is_a_crucible_as_well(cast):
    holder = bought().holder_id
    Cast.objects.update(crucible_holder=holder)
    told = f"holder {holder} (lot) is that of lot and cast and holds quantity 40000"
    assert any(problem.startswith(told) for problem in problems())


def test_a_lot_that_is_finer_than_fine(cast):
    lot = bought()
    move(Entry.Kind.COUNT, None, Holder.Place.COUNTED, lot, Amount(0, w.g(3) * 1000 + 101))
    assert problems() == [f"holder {lot.holder_id} holds 40000101 fine_ug in 40000: above 1000 of 1000"]


def test_a_piece_that_is_finer_than_fine(cast):
    leaf = Piece.objects.get(name="Leaf")
    move(Entry.Kind.COUNT, None, Holder.Place.COUNTED, leaf, Amount(0, w.g(2) * 1000))
    assert f"holder {leaf.holder_id} holds 20500000 fine_ug in 20000: above 1000 of 1000" in problems()


def test_fine_metal_in_powder():
    lot = w.buy(w.powder(), w.g(900), 9)
    move(Entry.Kind.COUNT, None, Holder.Place.COUNTED, lot, Amount(0, 1))
    assert problems() == [f"holder {lot.holder_id} is a lot of powder and holds 1 fine_ug"]


@pytest.mark.parametrize(
    "kind", ["close", "finish", "found", "melt_back", "delivery", "opening", "handed_in"]
)
def test_metal_that_slips_into_a_lot_that_was_there(cast, kind):
    lot, leaf = bought(), Piece.objects.get(name="Leaf")
    entry = move(kind, cast, leaf, lot, Amount(w.g(1), w.g(1) * 925))
    told = f"entry {entry.pk} is a {kind} and puts something into lot {lot.pk}, not its own"
    assert told in problems()


@pytest.mark.parametrize(
    "regained_mg, told",
    [(2_417, []), (2_418, ["cast 1 has -418 mg lost: its weighings explain 417 mg too much"])],
)
def test_a_cast_that_regained_more_than_it_had_lost(cast, regained_mg, told):
    # Lost 2 g, over a charge, four parts and this line: 2 × 0.1 g × the root of 13 thirds is 416.3 mg.
    leaf = Piece.objects.get(name="Leaf")
    move(Entry.Kind.FINISH, cast, Holder.Place.LOST, leaf, Amount(regained_mg, regained_mg * 925))
    assert [problem for problem in problems() if "mg lost" in problem] == told


def test_metal_found_of_no_cast(cast):
    move(Entry.Kind.FOUND, None, Holder.Place.LOST, Lot.objects.get(origin="clean"), Amount(1, 925))
    assert "metal of no cast has -1 mg lost: its weighings explain 0 mg too much" in problems()


@pytest.mark.parametrize("afterwards_mg", [100, 10])
def test_what_a_coarse_scale_explained_is_no_finding(afterwards_mg):
    """The pour and the finishing showed as much too much as they were let, and then a finer scale was bought."""
    Studio.objects.update(scale_division_mg=100)
    cast = w.cast_metal([(w.buy(w.grain(), w.g(100), 130), 30)], [w.piece("Leaf", "20.1")], back="10.1")
    assert post_finish(cast.pieces.get(), w.g("20.18"), 0, w.DAY) is not None
    Studio.objects.update(scale_division_mg=afterwards_mg)
    assert problems() == []


def test_a_scale_coarser_than_most_is_counted_on(cast):
    Studio.objects.update(scale_division_mg=1_000)
    leaf = Piece.objects.get(name="Leaf")
    move(Entry.Kind.FINISH, cast, Holder.Place.LOST, leaf, Amount(2_418, 2_418 * 925))
    assert not any("mg lost" in problem for problem in problems())


def test_metal_found_that_nobody_lost(cast):
    button = Lot.objects.get(origin="clean")
    move(Entry.Kind.FOUND, cast, Holder.Place.LOST, button, Amount(w.g(3), w.g(3) * 925, 0))
    assert any("found quantity 3000" in problem for problem in problems())


def test_metal_found_before_its_cast(cast):
    button = Lot.objects.get(origin="clean")
    early = w.DAY - timedelta(days=1)
    move(Entry.Kind.FOUND, cast, Holder.Place.LOST, button, Amount(w.g(1), w.g(1) * 925, 0), early)
    assert any("found metal before its cast was weighed out" in problem for problem in problems())


def test_what_lost_it_taken_back_while_it_was_found(cast, monkeypatch):
    post_found(cast, w.g(2), Lot.Origin.SWEEPS, w.DAY)
    monkeypatch.setattr("inventory.posting.reversal.later_users", lambda entry: [])
    post_reversal(cast.entries.get(kind="close"))
    post_close(cast, Weights([w.piece("Leaf", 32)], back_mg=w.g(28)), w.DAY)
    assert any("found quantity 2000" in problem for problem in problems())


def test_a_lot_that_was_taken_back_holds_something():
    lot = w.buy(w.grain(), w.g(100), 130)
    post_reversal(lot.entry)
    lot.refresh_from_db()
    Lot.objects.update(void=False)
    move(Entry.Kind.COUNT, None, Holder.Place.COUNTED, lot, Amount(w.g(12)))
    Lot.objects.update(void=True)
    assert f"lot {lot.pk} was taken back and holds quantity 12000, fine_ug 0, cost_micro 0" in problems()


def test_an_alloy_whose_fineness_was_changed_under_its_lots(cast):
    Alloy.objects.update(fineness=500)
    lot = Lot.objects.get(origin="bought")
    assert f"lot {lot.pk} came in with 92500000 fine_ug in 100000; its alloy says 500 of 1000" in problems()


def test_a_closed_cast_that_was_charged_again(cast):
    lot = Lot.objects.get(origin="bought")
    opened = post_start(CastFacts("studs", w.DAY, w.sterling()))
    post_charge(opened, [Portion(lot, w.g(10))], w.DAY)
    Cast.objects.filter(pk=opened.pk).update(closed_on=w.DAY, outcome="good")
    assert any("is closed and its crucible holds" in problem for problem in problems())


def test_a_holder_that_shows_more_than_came_in(cast):
    Holder.objects.filter(lot__origin="bought").update(quantity=w.g(41))
    assert any(problem.startswith("the studio holds quantity 99000") for problem in problems())


def test_an_entry_that_leads_where_its_kind_does_not(cast):
    move(Entry.Kind.SCRAP, cast, Lot.objects.get(origin="bought"), Holder.Place.CUSTOMER, Amount(w.g(1)))
    scrap = Entry.objects.get(kind="scrap").pk
    assert f"entry {scrap} is a scrap and moves something from lot to customer" in problems()


def test_a_piece_sold_that_was_taken_back(cast):
    Piece.objects.filter(name="Leaf").update(state="sold")
    assert any("is sold and weighs 20000 mg" in problem for problem in problems())


def test_two_firings_that_run_in_one_kiln_and_one_that_was_read_at_its_end():
    first, second = (Firing.objects.create(kiln=w.kiln(), day=w.DAY, begun_at=NOON) for _ in range(2))
    assert problems() == [f"firings {first.pk} and {second.pk} both run in kiln {w.kiln().pk}"]
    first.delete()
    Firing.objects.update(meter_before_wh=1, meter_after_wh=2)
    assert problems() == [f"firing {second.pk} is still running and its meter was read at its end"]


def test_a_log_of_another_kiln_than_its_firings():
    log = kiln_logs.keep(w.fire())
    other = Equipment.objects.create(kind="kiln", name="Another")
    KilnLog.objects.update(kiln=other)
    assert problems() == [f"the log of firing {log.firing_id} is said to be of kiln {other.pk}"]


def test_turns_of_a_kiln_that_are_out_of_order():
    day = plans.plan().day
    for place, minutes in enumerate((0, 30, 20)):
        day.turns.create(place=place, set_c=100, at=NOON + timedelta(minutes=minutes))
    plans.plan(day=plans.day_draft(NOON), flask=plans.flask("Other")).day.turns.create(
        place=0, set_c=9, at=NOON
    )
    assert problems() == [f"turn 2 of casting day {day.pk} was before the one ahead of it"]


def test_nothing_is_wrong_where_nothing_was_done_behind_its_back(cast):
    post_found(cast, w.g(1), Lot.Origin.SWEEPS, w.DAY)
    assert problems() == []
    assert Movement.objects.exists()
