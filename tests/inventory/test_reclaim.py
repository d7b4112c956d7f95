"""Reclaim by kind and in tins: failed castings cleaned, lots put together and taken apart, to the last unit."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db.models import Q

from costing.queries.costed import cost_casts
from inventory.core.ledger import Amount, total_of
from inventory.models import Entry, Lot, Studio
from inventory.posting.book import balance_of
from inventory.posting.casting import CastFacts, Portion, post_charge, post_close, post_start
from inventory.posting.closing import Weights
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.reclaim import post_apart, post_cleaned, post_together
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_handed_in
from inventory.posting.topping import post_top_up
from inventory.queries.cast_metal import BACK, LOST, metal_of_casts
from inventory.queries.casting_choices import metal_lots
from inventory.queries.reclaim_kinds import meltable_origins
from inventory.queries.shelf import shelf_for
from inventory.queries.tins import find_tin, lots_in_tin
from inventory.queries.trace import ingredients_of
from tests import workshop as w
from tests.costing.printed_tables import page_tables
from tests.support import count_queries, once, problems, text_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


def held(*lots: Lot) -> Amount:
    for lot in lots:
        lot.holder.refresh_from_db()
    return total_of(balance_of(lot.holder) for lot in lots)


@pytest.fixture
def grain():
    return w.buy(w.grain(), w.g(500), 650)


def a_cast(grain, back="10", **weights):
    return w.cast_metal([(grain, 40)], [w.piece("Leaf", 20)], back=back, **weights)


def buttons(grain, *grams):
    return [w.lot_of(a_cast(grain, gram), "clean") for gram in grams]


# Failed castings


def test_failed_castings_are_kept_apart_until_they_are_cleaned(grain):
    cast = a_cast(grain, failed_mg=w.g("9.5"))
    failed, clean = w.lot_of(cast, "failed"), w.lot_of(cast, "clean")
    assert held(failed).quantity == w.g("9.5") and held(clean).quantity == w.g(10)
    assert failed not in metal_lots() and clean in metal_lots()


def test_what_cleaning_takes_off_was_metal_that_the_pour_had_lost(grain):
    cast = a_cast(grain, failed_mg=w.g("9.5"))
    failed = w.lot_of(cast, "failed")
    before, whole = metal_of_casts_now(cast), held(failed)
    clean = post_cleaned(failed, w.g("9"), w.DAY)
    after = metal_of_casts_now(cast)
    # By hand: 0.5 g of 9.5 g, at 925, and its share of 1.30 a gram.
    assert after[LOST] - before[LOST] == Amount(500, 462_500, 650_000)
    assert before[BACK] - after[BACK] == Amount(500, 462_500, 650_000)
    assert held(failed) == Amount() and held(clean) + Amount(500, 462_500, 650_000) == whole
    assert (clean.origin, clean.from_cast, clean.melts_milli) == ("clean", cast, failed.melts_milli)
    cost = cost_casts([cast.pk])[cast.pk].cost
    assert sum(cost.piece_totals_micro) + cost.set_aside_micro == cost.total_micro
    assert problems() == []


def metal_of_casts_now(cast):
    return metal_of_casts(Q(entry__cast=cast))[cast.pk].now


def test_castings_do_not_grow_by_cleaning_beyond_the_scale(grain):
    failed = w.lot_of(a_cast(grain, failed_mg=w.g(9)), "failed")
    with pytest.raises(Refused, match="cannot weigh more without it"):
        post_cleaned(failed, w.g("9.5"), w.DAY)
    assert held(post_cleaned(failed, w.g("9.01"), w.DAY)).quantity == w.g("9.01")
    with pytest.raises(Refused, match="holds nothing"):
        post_cleaned(failed, w.g(1), w.DAY)
    assert problems() == []


def test_castings_of_no_cast_gain_nothing_for_nobody_knows_what_was_lost(grain):
    theirs = post_top_up(
        w.lot_of(a_cast(grain, failed_mg=w.g("9.5")), "failed"), w.customer(), w.g(9), 0, w.DAY
    )
    clean = post_cleaned(theirs, w.g("9.004"), w.DAY)
    assert held(clean).quantity == w.g(9)
    assert problems() == []


def test_only_failed_castings_are_cleaned(grain):
    with pytest.raises(Refused, match="nothing to clean off"):
        post_cleaned(buttons(grain, 10)[0], w.g(9), w.DAY)


def test_failed_castings_of_an_older_book_stay_where_they_lie_when_it_is_mended(grain):
    cast = a_cast(grain, failed_mg=w.g(5))
    entry = cast.entries.get(kind="close")
    post_mended({entry: Mend(entry.day, replace(read_given(entry), failed_origin=Lot.Origin.CLEAN))})
    again = cast.entries.get(kind="close", reversed_by=None)
    assert read_given(again).failed_origin == Lot.Origin.CLEAN
    post_mended({again: Mend(again.day, read_given(again))})
    assert held(w.lot_of(cast, "clean")).quantity == w.g(15)
    assert problems() == []


@pytest.mark.parametrize("kind", ["failed", "spill", "filings", "sweeps"])
def test_a_kind_is_offered_for_a_charge_once_the_studio_says_so(grain, kind):
    cast = a_cast(grain, failed_mg=w.g(2), spill_mg=w.g(2), filings_mg=w.g(2))
    lot = w.lot_of(cast, "spill" if kind == "sweeps" else kind)
    Lot.objects.filter(pk=lot.pk).update(origin=kind)
    studio = Studio.objects.get()

    def offered():
        return lot in metal_lots(), lot.pk in [one.key for one in shelf_for(w.sterling(), None, {}, studio)]

    assert offered() == (False, False)
    setattr(studio, f"melt_{kind}", True)
    studio.save()
    assert offered() == (True, True) and kind in meltable_origins(studio)


# Tins


def test_lots_put_together_are_one_lot_that_adds_up(grain):
    remelted = w.cast_metal([(*buttons(grain, 19), 18)], [w.piece("Pod", 9)], back=8)
    lots = [*buttons(grain, 10, "12.345"), w.lot_of(remelted, "clean")]
    whole = held(*lots)
    made = post_together(w.tin(), lots, w.DAY)
    assert held(made) == whole and held(*lots) == Amount()
    # By hand: (10 + 12.345) g melted once and 8 g twice: (22.345 + 16) / 30.345 = 1.2636.
    assert made.melts_milli == 1264
    assert (made.origin, made.owner, made.kept_in) == ("clean", None, "Silver tin")
    assert lots_in_tin(w.tin()) == [made]
    assert problems() == []


def test_what_is_put_in_later_joins_what_is_there(grain):
    first, second = buttons(grain, 10, 12)
    one = post_together(w.tin(), [first], w.DAY)
    two = post_together(w.tin(), [second], w.DAY)
    assert held(two).quantity == w.g(22) and held(one) == Amount()
    assert lots_in_tin(w.tin()) == [two]


def test_what_is_taken_out_lies_by_itself(grain):
    made = post_together(w.tin(), buttons(grain, 10, 12), w.DAY)
    whole = held(made)
    out = post_apart(made, w.g("7.777"), w.DAY)
    assert held(out).quantity == w.g("7.777") and held(out, made) == whole
    assert out.tin is None and out.melts_milli == made.melts_milli
    with pytest.raises(Refused, match="is more than that"):
        post_apart(made, w.g(20), w.DAY)
    with pytest.raises(Refused, match="is in no tin"):
        post_apart(out, w.g(1), w.DAY)
    assert problems() == []


def test_only_what_is_alike_goes_together(grain):
    cast = a_cast(grain, spill_mg=w.g(2))
    theirs = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    other = w.cast_metal([(theirs, 40)], [w.piece("Leaf", 20)], back=10, owner=w.customer())
    for lot, sentence in (
        (w.lot_of(cast, "spill"), "takes button and sprues of Sterling"),
        (grain, "does not belong in Silver tin"),
        (w.lot_of(other, "clean"), "metal of two owners is never put together"),
    ):
        with pytest.raises(Refused, match=sentence):
            post_together(w.tin(), [lot], w.DAY)
    assert not Entry.objects.filter(kind="together").exists()


def test_a_closed_tin_takes_nothing_and_nothing_is_put_in_twice(grain):
    [button] = buttons(grain, 10)
    tin = w.tin()
    tin.is_open = False
    tin.save()
    with pytest.raises(Refused, match="is closed"):
        post_together(tin, [button], w.DAY)
    tin.is_open = True
    tin.save()
    with pytest.raises(Refused, match="at least one lot"):
        post_together(tin, [], w.DAY)
    post_together(tin, [button, button], w.DAY)
    with pytest.raises(Refused, match="holds nothing any more"):
        post_together(tin, [button], w.DAY)


def test_a_tin_taken_back_lets_its_lots_lie_as_before(grain):
    lots = buttons(grain, 10, 12)
    whole = [held(lot) for lot in lots]
    made = post_together(w.tin(), lots, w.DAY)
    post_reversal(made.entry)
    assert [held(lot) for lot in lots] == whole
    made.refresh_from_db()
    assert made.void and lots_in_tin(w.tin()) == []
    assert problems() == []


# By itself, as a cast is weighed out


@pytest.fixture
def filling(studio):
    studio.fills_tins = True
    studio.save()
    return w.tin()


def test_a_casts_reclaim_goes_into_its_tin_by_itself(grain, filling):
    a_cast(grain, 10)
    opened = post_start(CastFacts("studs", w.DAY, w.sterling()))
    post_charge(opened, [Portion(grain, w.g(20))], w.DAY)
    post_close(opened, Weights([w.piece("Stud", 12)], back_mg=w.g("7.5"), spill_mg=w.g("0.2")), w.DAY)
    [made] = lots_in_tin(filling)
    assert held(made).quantity == w.g("17.5")
    assert held(w.lot_of(opened, "spill")).quantity == w.g("0.2")
    assert problems() == []


def test_without_an_open_tin_of_its_sort_it_stays_a_lot_of_its_own(grain, filling):
    filling.is_open = False
    filling.save()
    assert held(w.lot_of(a_cast(grain, 10), "clean")).quantity == w.g(10)


def test_a_cast_written_down_late_joins_what_came_later(grain, filling):
    w.cast_metal([(grain, 40)], [w.piece("Leaf", 20)], back=10, day=w.DAY + timedelta(days=9))
    a_cast(grain, 11)
    [made] = lots_in_tin(filling)
    assert held(made).quantity == w.g(21) and made.received_on == w.DAY + timedelta(days=9)
    assert problems() == []


@pytest.mark.counts
def test_posting_a_cast_asks_no_more_while_the_studio_fills_no_tin(grain):
    a_cast(grain)
    without = count_queries(lambda: a_cast(grain))
    w.tin()
    assert count_queries(lambda: a_cast(grain)) == without


def test_a_mended_cast_is_mended_through_its_tin_into_what_was_cast_of_it(grain, filling):
    first, second = a_cast(grain, 10), a_cast(grain, 12)
    [made] = lots_in_tin(filling)
    later = w.cast_metal([(made, 20), (grain, 20)], [w.piece("Pod", 30)], back=9)
    entry = first.entries.get(kind="close")
    given = read_given(entry)
    post_mended({entry: Mend(entry.day, Weights(given.groups, back_mg=w.g(15)))})
    [now] = lots_in_tin(filling)
    assert held(now).quantity == w.g(15 + 12 - 20 + 9)
    # Nothing came back of it at all: then 12 g cannot have given 20 g.
    [entry] = Entry.objects.filter(cast=first, kind="close", reversed_by=None)
    with pytest.raises(Refused, match="cannot be any more: charge of cast 3"):
        post_mended({entry: Mend(entry.day, Weights(given.groups))})
    charge = later.entries.get(kind="charge", reversed_by=None)
    post_mended(
        {
            entry: Mend(entry.day, Weights(given.groups)),
            charge: Mend(charge.day, None),
            later.entries.get(kind="close", reversed_by=None): Mend(w.DAY, None),
        }
    )
    [now] = lots_in_tin(filling)
    assert held(now).quantity == w.g(12)
    assert second.outcome == "good" and problems() == []


def test_the_audit_names_a_tin_of_two_sorts_and_wrong_melts(grain):
    first, second = buttons(grain, 10, 12)
    made = post_together(w.tin(), [first, second], w.DAY)
    Lot.objects.filter(pk=made.pk).update(melts_milli=7)
    assert f"lot {made.pk} says 7 melts_milli; what it was made of has 1000" in problems()
    Lot.objects.filter(pk=made.pk).update(melts_milli=1000, origin="spill")
    assert f"lot {made.pk} is in tin {made.tin_id}, which takes metal of another sort" in problems()


def test_a_tin_of_buttons_is_cleaned_and_what_was_plaster_counts_as_lost(bench, grain):
    """Two casts' buttons, 10 g and 19 g, lie in a tin with half a gram of plaster on them."""
    tin = w.tin()
    before = post_together(tin, [*buttons(grain, 10), *buttons(grain, 19)], w.DAY)
    whole = held(before)
    page = f"/stock/lots/{before.pk}/clean/"
    assert "Weigh them cleaned" in text_of(bench.get(f"/stock/lots/{before.pk}/"))
    bench.post(page, {**once(), "mass": "28.5", "day": w.DAY.isoformat()})
    clean = lots_in_tin(tin)[0]
    assert (clean.origin, clean.tin, clean.melts_milli) == ("clean", tin, before.melts_milli)
    # By hand: 0.5 of 29 g at 925 and 1.30 a gram.
    assert whole - held(clean) == Amount(500, 462_500, 650_000) and held(before) == Amount()
    assert sum(one.mass_mg for one in ingredients_of(find_tin(tin.pk))) == 28_500
    report = page_tables(bench, "/reports/metal-loss/?from=2026-03-01&to=2026-03-31")
    # 10 g and 1 g were lost in the pours.
    assert report["What was lost"][1][:2] == ["Casting", "11.50 g"]
    assert report["Cast by cast"][-1][4] == "11.00 g"
    with pytest.raises(Refused, match="nothing to clean off"):
        post_cleaned(post_apart(clean, w.g(5), w.DAY), w.g(4), w.DAY)
    post_reversal(Entry.objects.get(kind="apart"))
    entry = Entry.objects.get(kind="cleaned")
    post_mended({entry: Mend(entry.day, replace(read_given(entry), mass_mg=w.g(28)))})
    assert held(*lots_in_tin(tin)).quantity == w.g(28)
    assert problems() == []
