"""Metal whose fineness nobody has proved: where it comes from, where it goes, and that no mark is promised of it."""

from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps

from inventory.models import Cast, Entry, Lot, Material
from inventory.posting.assaying import Assay, post_assay
from inventory.posting.casting import CastFacts, post_charge, post_found, post_start
from inventory.posting.pieces import post_sale
from inventory.posting.reclaim import post_apart, post_together
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import OpeningLot, post_handed_in, post_opening
from inventory.posting.topping import post_top_up
from inventory.queries.casting_choices import read_studio_choices
from inventory.queries.ledger import name_holder
from inventory.queries.pieces import find_piece, read_piece_page
from tests import workshop as w
from tests.support import problems

By = Lot.FinenessBy
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("bench")]


def scrap():
    return Material.objects.create(name="Old spoons", kind="metal", alloy=w.sterling(), form="scrap")


def opening(**changes):
    return post_opening(OpeningLot(w.grain(), w.g(100), w.money(90), **changes), w.DAY)


def test_only_metal_that_a_maker_sold_is_proved():
    assert not w.buy(w.grain(), w.g(50), 40).fineness_is_guess
    assert w.buy(scrap(), w.g(50), 40).fineness_is_guess
    assert post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY).fineness_is_guess
    assert opening(origin=Lot.Origin.CLEAN).fineness_is_guess
    assert not opening().fineness_is_guess
    assert not post_opening(OpeningLot(w.powder(), w.g(500), 0), w.DAY).fineness_is_guess


def cast_of(lot):
    return w.cast_metal([(lot, 20)], [w.piece("Leaf", 12)], back="7.9")


def mark_of(cast):
    return read_piece_page(find_piece(cast.pieces.get().pk)).mark


def test_no_mark_is_promised_of_metal_that_nobody_proved():
    known = mark_of(cast_of(w.buy(w.grain(), w.g(50), 40)))
    assert known.startswith("Its metal may be marked 925.")
    guessed = mark_of(cast_of(w.buy(scrap(), w.g(50), 40)))
    assert "may be marked" not in guessed
    assert guessed.startswith(
        "Its fineness is not known well enough to mark: some of its metal was never proved."
    )
    assert "Have it assayed" in guessed and guessed.endswith("the assay office decide.")


def test_what_is_made_of_such_metal_is_no_better_proved():
    first = cast_of(w.buy(scrap(), w.g(50), 40))
    tin = Lot.objects.get(from_cast=first)
    assert tin.fineness_is_guess
    second = w.cast_metal([(tin, 7), (w.buy(w.grain(), w.g(50), 40), 13)], [w.piece("Leaf", 12)], back="7.9")
    assert "never proved" in mark_of(second)
    assert problems() == []


def test_a_charge_that_was_taken_back_leaves_no_doubt():
    cast = post_start(CastFacts("studs", w.DAY, w.sterling()))
    post_charge(cast, [w.Portion(w.buy(scrap(), w.g(50), 40), w.g(20))], w.DAY)
    assert Cast.objects.get().fineness_is_guess
    post_reversal(Entry.objects.get(kind="charge"))
    cast = Cast.objects.get()
    post_charge(cast, [w.Portion(w.buy(w.grain(), w.g(50), 40), w.g(20))], w.DAY)
    assert not Cast.objects.get().fineness_is_guess


def test_metal_that_was_assayed_is_said_to_be_known():
    lot = w.buy(scrap(), w.g(50), 40)
    post_assay(Assay(lot, 927_000, 927_000, by_whom="the assay office", paper="A 17"), w.DAY)
    lot.refresh_from_db()
    assert lot.fineness_by == By.ASSAYED and lot.holder.fine_ug == 50_000 * 927
    assert mark_of(cast_of(lot)).startswith("Its metal may be marked 925.")
    assert problems() == []


def jar(low=800_000, high=925_000, mass=100, **changes):
    """A jar of old silver that somebody guesses at."""
    opening = OpeningLot(w.grain(), w.g(mass), w.money(90), guess=(low, high), **changes)
    return post_opening(opening, w.DAY)


def silver_of(cast):
    return [(piece.holder.fine_ug, piece.holder.quantity) for piece in cast.pieces.select_related("holder")]


def test_a_guess_is_counted_at_its_middle_as_mixed_metal():
    lot = jar()
    assert lot.material.alloy.is_mixed and str(lot.material) == "Mixed silver, grain"
    assert lot.holder.fine_ug == w.g(100) * 862.5 and lot.fineness_by == By.GUESS
    assert jar().material == lot.material, "mixed metal of one kind is one material"
    with pytest.raises(Refused, match="no precious metal"):
        post_opening(OpeningLot(w.grain(w.bronze()), w.g(9), 0, guess=(1, 2)), w.DAY)
    with pytest.raises(Refused, match="from what to what"):
        post_opening(OpeningLot(lot.material, w.g(9), 0), w.DAY)


def test_a_mark_is_held_against_the_least_that_a_guess_may_be():
    rich = jar(low=910_000, high=960_000)
    with pytest.raises(Refused, match="not known for sure, and the least .* 910: 0.300"):
        w.cast_metal([(rich, 20)], [w.piece("Leaf", 12)], back="7.9")
    sure = w.cast_metal(
        [(rich, 20), (w.buy(w.grain(w.fine_silver()), w.g(50), 40), 20)], [w.piece("Leaf", 12)], 27
    )
    assert sure.alloy == w.sterling(), "at its least it is 955"
    assert "somewhere from 955 to 980 of 1000" in mark_of(sure)


def test_a_charge_that_misses_its_alloy_is_recorded_for_what_it_is():
    charge = [(w.buy(w.grain(), w.g(50), 40), 19), (w.buy(w.grain(w.bronze()), w.g(9), 2), 1)]
    with pytest.raises(Refused, match="may not be called Sterling"):
        w.cast_metal(charge, [w.piece("Leaf", 12)], back="7.9")
    cast = w.cast_metal(charge, [w.piece("Leaf", 12)], back="7.9", as_it_is=True)
    assert cast.alloy.is_mixed and cast.meant_alloy == w.sterling()
    tin = cast.lots_recovered.get()
    assert tin.material.alloy == cast.alloy and tin.holder.fine_ug * 20 == tin.holder.quantity * 19 * 925
    assert mark_of(cast).startswith("Its metal may be marked 800.")
    post_reversal(cast.entries.get(kind="close"))
    cast.refresh_from_db()
    assert (cast.alloy, cast.meant_alloy) == (w.sterling(), None)
    assert problems() == []


def test_a_jar_is_melted_and_cast_and_assayed_later():
    """Guessed at 800 to 925, known to be 880 after it was cast twice: sentences, lots and metal follow."""
    lot = jar()
    first = w.cast_metal([(lot, 60)], [w.piece("Leaf", 30), w.piece("Pod", 10)], 19, as_it_is=True)
    tin = Lot.objects.get(from_cast=first)
    fresh = w.buy(w.grain(), w.g(50), 40)
    second = w.cast_metal([(tin, 10), (fresh, 10)], [w.piece("Stud", 12)], "7.9", as_it_is=True)
    post_sale(first.pieces.get(name="Pod"), w.DAY)
    assert read_studio_choices().last_cast is None, "the next cast does not begin as mixed silver"
    assert "somewhere from 800 to 925" in mark_page(first, "Leaf")
    assert "somewhere from 862.5 to 925" in mark_of(second)
    entry = post_assay(Assay(lot, 880_000, 880_000, by_whom="the assay office", goes_on=True), w.DAY)

    names = sorted({name_holder(line.source) for line in entry.movements.exclude(source__kind="outside")})
    assert names == sorted(
        [
            f"Lot {lot.pk}, Mixed silver, grain",
            f"Lot {tin.pk}, button and sprues of cast 1",
            f"Lot {Lot.objects.get(from_cast=second).pk}, button and sprues of cast 2",
            "Leaf",
            "Stud",
        ]
    )
    lot.refresh_from_db()
    tin.refresh_from_db()
    assert (lot.fineness_by, tin.fineness_by) == (By.ASSAYED, By.CHARGE)
    assert lot.holder.fine_ug == 40_000 * 880 and tin.holder.fine_ug == 9_000 * 880
    assert silver_of(first) == [(30_000 * 880, 30_000), (0, 0)]
    assert silver_of(second) == [(12_000 * 902.5, 12_000)]
    assert mark_page(first, "Leaf").startswith("Its metal may be marked 800.")
    assert mark_of(second).startswith("Its metal may be marked 800.")
    found = post_found(first, w.g("0.5"), Lot.Origin.SPILL, w.DAY)
    assert found.holder.fine_ug == 500 * 880, "what was lost comes back at what is known now"
    assert problems() == []
    with pytest.raises(Refused, match="metal found later of cast 1"):
        post_reversal(entry)
    post_reversal(found.entry)
    with pytest.raises(Refused, match="fineness put right"):
        post_reversal(Entry.objects.get(kind="sale"))
    post_reversal(entry)
    assert silver_of(second) == [(12_000 * 893.75, 12_000)]
    assert "somewhere from 862.5 to 925" in mark_of(second)
    assert problems() == []


def mark_page(cast, name):
    return read_piece_page(find_piece(cast.pieces.get(name=name).pk)).mark


def test_an_assay_that_is_not_carried_on_leaves_what_was_made_in_doubt():
    lot = jar()
    cast = w.cast_metal([(lot, 60)], [w.piece("Leaf", 40)], "19.9", as_it_is=True)
    post_assay(Assay(lot, 880_000, 880_000), w.DAY)
    assert "not known well enough" in mark_of(cast)
    assert silver_of(cast) == [(40_000 * 862.5, 40_000)]
    later = w.cast_metal([(Lot.objects.get(pk=lot.pk), 40)], [w.piece("Leaf", 40)], as_it_is=True)
    assert mark_of(later).startswith("Its metal may be marked 800.")
    assert problems() == []


def test_an_assay_is_refused_where_it_cannot_be():
    lot = jar()
    cast = w.cast_metal([(lot, 100)], [w.piece("Leaf", 60)], "39.9", as_it_is=True)
    lot = Lot.objects.get(pk=lot.pk)
    with pytest.raises(Refused, match="Carry it on"):
        post_assay(Assay(lot, 880_000, 880_000), w.DAY)
    early = w.DAY - timedelta(days=1)
    with pytest.raises(Refused, match="came on"):
        post_assay(Assay(lot, 880_000, 880_000, goes_on=True), early)
    with pytest.raises(Refused, match="from 0 to 1000"):
        post_assay(Assay(lot, 1_880_000, 1_880_000, goes_on=True), w.DAY)
    with pytest.raises(Refused, match="no precious metal"):
        post_assay(Assay(w.buy(w.grain(w.bronze()), w.g(9), 2), 880_000, 880_000), w.DAY)
    assert silver_of(cast) == [(60_000 * 862.5, 60_000)]


def test_metal_that_somebody_assayed_by_itself_carries_nothing_on():
    lot = jar()
    first = w.cast_metal([(lot, 60)], [w.piece("Leaf", 40)], "19.9", as_it_is=True)
    tin = Lot.objects.get(from_cast=first)
    post_assay(Assay(tin, 870_000, 870_000), w.DAY)
    second = w.cast_metal([(Lot.objects.get(pk=tin.pk), 19)], [w.piece("Stud", 18)], as_it_is=True)
    post_assay(Assay(Lot.objects.get(pk=lot.pk), 880_000, 880_000, goes_on=True), w.DAY)
    assert silver_of(first) == [(40_000 * 880, 40_000)]
    assert silver_of(second) == [(18_000 * 870, 18_000)]
    assert problems() == []


def test_a_later_guess_puts_metal_between_its_ends_and_the_audit_sees_what_does_not_follow():
    lot = w.buy(w.grain(), w.g(50), 40)
    cast = cast_of(lot)
    post_assay(Assay(Lot.objects.get(pk=lot.pk), 900_000, 930_000, is_guess=True, goes_on=True), w.DAY)
    assert "somewhere from 900 to 930" in mark_of(cast)
    assert silver_of(cast) == [(12_000 * 915, 12_000)]
    assert problems() == []
    Cast.objects.update(fineness_is_guess=False)
    assert any("of its fineness" in problem for problem in problems())


def test_a_studio_that_was_there_before_keeps_what_it_said_of_its_metal():
    """The migration: guesses stay guesses, with all that was made of them, but for what somebody had unticked."""
    proved = cast_of(w.buy(w.grain(), w.g(50), 40))
    first = cast_of(opening(origin=Lot.Origin.CLEAN))
    doubtful = Lot.objects.get(from_cast=first)
    second = w.cast_metal([(doubtful, 7)], [w.piece("Leaf", 4)], back="2.9")
    tinned = post_together(w.tin(), [Lot.objects.get(from_cast=one) for one in (proved, second)], w.DAY)
    post_apart(tinned, w.g(2), w.DAY)
    post_together(w.tin(name="sound"), [w.lot_of(cast_of(w.buy(w.grain(), w.g(50), 40)), "clean")], w.DAY)
    for one in (doubtful, w.buy(w.grain(), w.g(50), 40)):
        post_top_up(Lot.objects.get(pk=one.pk), w.customer(), 500, 0, w.DAY)
    expected = dict(Lot.objects.values_list("pk", "fineness_by"))
    Lot.objects.update(fineness_by=By.MARKED)
    Cast.objects.update(fineness_is_guess=True)
    migration = import_module("inventory.migrations.0021_known_fineness")
    migration.follow_guesses(apps, migration.UNPROVED)
    assert dict(Lot.objects.values_list("pk", "fineness_by")) == expected
    marked = set(Cast.objects.filter(fineness_is_guess=True).values_list("pk", flat=True))
    assert marked == {first.pk, second.pk} and proved.pk not in marked
    assert problems() == []
