"""Reads of casts: what the list, the page and the bench are told."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.core.casting import Grams
from inventory.models import Alloy, Equipment, Lot
from inventory.posting.casting import (
    CastFacts,
    PourNotes,
    post_charge,
    post_found,
    post_start,
    post_tree,
    record_pour,
)
from inventory.posting.pieces import post_finish, post_melt_back
from inventory.posting.reversal import post_reversal
from inventory.queries.bench import loss_outlook, opened_tubs, unusable_lots
from inventory.queries.casting import (
    casts_with_grams,
    last_closed_casts,
    next_step_of,
    open_casts,
    with_steps,
)
from inventory.queries.casting_choices import split_tin, suggest_powder_lot, usual_firing
from inventory.queries.casting_page import find_cast, powder_before, read_cast_page
from inventory.queries.pieces import casts_with_unfinished_pieces, find_piece, read_piece_page
from tests import workshop as w

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


def silver(grams: int = 500) -> Lot:
    return w.buy(w.grain(), w.g(grams), grams)


def grams_of(cast) -> tuple[int, ...]:
    row = casts_with_grams().get(pk=cast.pk)
    return row.charge_mg, row.pieces_mg, row.back_mg, row.filings_mg, row.lost_mg


def page_of(cast, studio):
    return read_cast_page(find_cast(cast.number), studio)


def test_the_parts_of_a_closed_cast_make_its_charge(studio):
    cast = w.cast_metal([(silver(), 180)], [w.piece("Leaf", "86.10")], back="92.70", filings_mg=450)
    assert grams_of(cast) == (180_000, 86_100, 92_700, 450, 750)
    assert page_of(cast, studio).grams == Grams(180_000, 86_100, 92_700, 450, 750)


def test_finishing_takes_from_the_pieces_and_adds_to_filings_and_loss(studio):
    cast = w.cast_metal([(silver(), 180)], [w.piece("Leaf", "86.10")], back="92.70", filings_mg=450)
    post_finish(cast.pieces.get(), w.g("82.60"), w.g("2.90"), w.DAY)
    assert grams_of(cast) == (180_000, 82_600, 92_700, 3_350, 1_350)
    page = page_of(cast, studio)
    assert page.has_changed_since
    assert page.grams.lost_pct100 == 75
    assert page.grams_at_close.lost_mg == 750


def test_metal_found_later_comes_off_the_loss(studio):
    cast = w.cast_metal([(silver(), 100)], [w.piece("Leaf", 40)], back=59)
    post_found(cast, 300, Lot.Origin.SWEEPS, w.DAY)
    post_found(cast, 200, Lot.Origin.CLEAN, w.DAY)
    assert grams_of(cast) == (100_000, 40_000, 59_200, 300, 500)
    page = page_of(cast, studio)
    assert page.grams == Grams(100_000, 40_000, 59_200, 300, 500)
    assert page.found_mg == 500


def test_a_piece_put_back_in_the_pot_counts_as_back_in_the_tin(studio):
    cast = w.cast_metal([(silver(), 100)], [w.piece("Leaf", 20, 2)], back=59)
    post_melt_back(cast.pieces.first(), w.DAY)
    assert grams_of(cast)[:3] == (100_000, 10_000, 69_000)
    assert page_of(cast, studio).grams.back_mg == 69_000


def test_weights_that_were_reversed_do_not_count(studio):
    cast = w.cast_metal([(silver(), 100)], [w.piece("Leaf", 40)], back=59)
    post_reversal(cast.entries.get(kind="close"))
    row = with_steps(casts_with_grams()).get()
    assert (row.charge_mg, row.pieces_mg, row.lost_mg) == (100_000, None, None)
    assert next_step_of(row) == "weights"
    assert page_of(cast, studio).pieces == []


def test_an_open_cast_asks_for_the_step_after_its_last(studio):
    cast = post_start(CastFacts("leaves", w.DAY, w.sterling()))
    assert next_step_of(open_casts()[0]) == "tree"
    post_charge(cast, [w.Portion(silver(), w.g(50))], w.DAY)
    assert next_step_of(open_casts()[0]) == "pour"
    record_pour(cast, PourNotes())
    assert next_step_of(open_casts()[0]) == "weights"
    assert page_of(cast, studio).next_step == "weights"


def test_the_cast_that_is_furthest_on_stands_first():
    post_start(CastFacts("leaves", w.DAY, w.sterling()))
    on = post_start(CastFacts("pods", w.DAY, w.sterling()))
    post_tree(on, [w.TreeRecord(w.wax(), w.g(4))], w.DAY)
    assert [cast.number for cast in open_casts()] == [2, 1]


def test_a_tree_asks_for_metal_by_its_volume(studio):
    cast = post_start(CastFacts("leaves", w.DAY, w.sterling()))
    post_tree(cast, [w.TreeRecord(w.wax(), w.g("4.8"))], w.DAY)
    needed = page_of(cast, studio).metal_needed
    assert needed is not None and needed[0] == 51_800  # 4.8 g x 10.36 / 0.96


def test_a_pattern_of_unknown_density_asks_for_no_guess(studio):
    material = w.wax()
    material.density_mg_cm3 = None
    material.save()
    cast = post_start(CastFacts("leaves", w.DAY, w.sterling()))
    post_tree(cast, [w.TreeRecord(material, w.g("4.8"))], w.DAY)
    assert page_of(cast, studio).metal_needed is None


def test_castings_weighed_together_are_one_reading_of_the_scale(studio):
    cast = w.cast_metal([(silver(), 100)], [w.piece("Stud", 20, 4), w.piece("Leaf", 20)], back=59)
    balance = page_of(cast, studio).balance
    # One portion, two readings for the pieces, one for the button.
    assert balance is not None
    assert any(given.label == "what the scale cannot show" for given in balance.working.givens)
    assert balance.tolerance_mg == 24


def test_fine_silver_in_a_gold_cast_is_no_fine_metal_of_it(studio):
    gold = Alloy.objects.create(name="Gold 585", metal="gold", fineness=585, density_mg_cm3=13_200)
    rich = Alloy.objects.create(name="Gold 999", metal="gold", fineness=999, density_mg_cm3=19_300)
    fine_gold = w.buy(w.grain(rich), w.g(60), 3000)
    fine_silver = w.buy(w.grain(w.fine_silver()), w.g(40), 40)
    cast = w.cast_metal([(fine_gold, 60), (fine_silver, 40)], [w.piece("Ring", 50)], back="49.9", alloy=gold)
    sums = page_of(cast, studio).sums
    assert sums is not None and sums.fine_ug == 60_000 * 999


def test_what_another_cast_took_in_the_same_flask(studio):
    flask = Equipment.objects.create(kind="flask", name="Steel 75 x 100")
    mould = w.buy(w.powder(), w.g(5000), 30)
    w.cast_metal(
        [(silver(), 50)],
        [w.piece("Leaf", 20)],
        back="29.9",
        flask=flask,
        powder=[w.Portion(mould, w.g(560)), w.Portion(mould, w.g(40))],
    )
    now = post_start(CastFacts("leaves", w.DAY, w.sterling(), flask=flask))
    before = powder_before(now)
    assert before is not None and (before.cast.number, before.powder_mg) == (1, 600_000)
    assert powder_before(post_start(CastFacts("pods", w.DAY, w.sterling()))) is None


def test_a_tin_is_taken_oldest_lot_first():
    first = w.buy(w.grain(), w.g(10), 10)
    second = w.buy(w.grain(), w.g(10), 10, day=w.DAY + timedelta(days=1))
    takes, problem = split_tin([second, first], w.g(12))
    assert problem == ""
    assert takes == [(first, 10_000), (second, 2_000)]
    assert "Only 20.00" in split_tin([first, second], w.g(21))[1]


def test_the_powder_that_goes_out_of_date_first_is_suggested_and_stale_or_damp_powder_is_not():
    stale = w.buy(w.powder(), w.g(1000), 6, use_by=w.DAY - timedelta(days=1))
    late = w.buy(w.powder(), w.g(1000), 6, use_by=w.DAY + timedelta(days=90))
    damp = w.buy(w.powder(), w.g(1000), 6, use_by=w.DAY + timedelta(days=10))
    damp.damp_on = w.DAY
    damp.save()
    soon = w.buy(w.powder(), w.g(1000), 6, use_by=w.DAY + timedelta(days=30))
    assert suggest_powder_lot([stale, damp, late, soon], w.DAY) == soon
    assert suggest_powder_lot([stale, damp], w.DAY) is None
    assert [lot.pk for lot in unusable_lots(w.DAY)] == [stale.pk, damp.pk]


def test_a_firing_of_yesterday_is_the_usual_answer_and_one_of_last_month_is_not():
    firing = w.fire(day=w.DAY)
    assert usual_firing([firing], w.DAY + timedelta(days=1)) == firing
    assert usual_firing([firing], w.DAY + timedelta(days=30)) is None


def test_an_opened_tub_is_told_while_it_is_dry():
    lot = w.buy(w.powder(), w.g(1000), 6)
    lot.opened_on = w.DAY
    lot.save()
    assert list(opened_tubs()) == [lot]
    lot.damp_on = w.DAY
    lot.save()
    assert not opened_tubs()


def test_a_loss_out_of_the_ordinary_is_named_once_there_are_casts_to_compare_with():
    lot = silver(5000)
    for _ in range(9):
        w.cast_metal([(lot, 100)], [w.piece("Leaf", 40)], back="59.3")
    assert loss_outlook().odd == ()
    w.cast_metal([(lot, 100)], [w.piece("Leaf", 40)], back=53)
    outlook = loss_outlook()
    assert [odd.cast.number for odd in outlook.odd] == [10]
    assert outlook.family.limits is not None


def test_few_casts_have_no_limit():
    lot = silver()
    w.cast_metal([(lot, 100)], [w.piece("Leaf", 40)], back=50)
    outlook = loss_outlook()
    assert outlook.family.limits is None and outlook.picture is not None


def test_the_last_casts_stand_oldest_first():
    lot = silver()
    for _ in range(3):
        w.cast_metal([(lot, 50)], [w.piece("Leaf", 20)], back="29.9")
    assert [cast.number for cast in last_closed_casts(2)] == [2, 3]


def test_the_metal_of_a_piece_agrees_with_the_ledger():
    cast = w.cast_metal([(w.buy(w.grain(), w.g(100), 130), 100)], [w.piece("Leaf", 20)], back="79.5")
    piece = cast.pieces.get()
    post_finish(piece, w.g("18.5"), w.g(1), w.DAY)
    page = read_piece_page(find_piece(piece.pk))
    piece.holder.refresh_from_db()
    assert page.metal is not None and page.metal.cost_micro == piece.holder.cost_micro
    assert (page.filings_mg, page.lost_mg, page.last_mg) == (1_000, 500, 18_500)


def test_casts_with_pieces_to_finish_are_counted():
    cast = w.cast_metal([(silver(), 50)], [w.piece("Stud", 20, 4)], back="29.9")
    post_finish(cast.pieces.first(), w.g("4.9"), 0, w.DAY)
    assert [(one.number, one.unfinished) for one in casts_with_unfinished_pieces()] == [(1, 3)]


@pytest.mark.counts
def test_reading_a_cast_takes_as_many_queries_with_forty_pieces_as_with_one(studio):
    lot = silver(5000)
    few = w.cast_metal([(lot, 50)], [w.piece("Stud", 20)], back="29.9")
    many = w.cast_metal([(lot, 200), (lot, 200)], [w.piece("Stud", 320, 40)], back="79.9")
    for piece in many.pieces.all()[:10]:
        post_finish(piece, piece.as_cast_mg - 100, 50, w.DAY)
    counts = []
    for cast in (few, many):
        with CaptureQueriesContext(connection) as queries:
            page = page_of(cast, studio)
            assert page.grams.charge_mg and page.sums and page.balance
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 8
