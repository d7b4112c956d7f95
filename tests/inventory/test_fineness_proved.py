"""Metal whose fineness nobody has proved: where it comes from, where it goes, and that no mark is promised of it."""

from importlib import import_module
from pkgutil import iter_modules

import pytest
from django.apps import apps

from inventory import migrations
from inventory.audit import run_audit
from inventory.models import Cast, Entry, Lot, Material
from inventory.posting.casting import CastFacts, post_charge, post_start
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import OpeningLot, post_handed_in, post_opening
from inventory.queries.pieces import find_piece, read_piece_page
from tests import workshop as w
from tests.support import once

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
    assert "its metal reaches 925; but some of it was never proved" in guessed
    assert "have it assayed" in guessed and guessed.endswith("the assay office decide.")


def test_what_is_made_of_such_metal_is_no_better_proved():
    first = cast_of(w.buy(scrap(), w.g(50), 40))
    tin = Lot.objects.get(from_cast=first)
    assert tin.fineness_is_guess
    second = w.cast_metal([(tin, 7), (w.buy(w.grain(), w.g(50), 40), 13)], [w.piece("Leaf", 12)], back="7.9")
    assert "never proved" in mark_of(second)
    assert not any(finding.problems for finding in run_audit())


def test_a_charge_that_was_taken_back_leaves_no_doubt():
    cast = post_start(CastFacts("studs", w.DAY, w.sterling()))
    post_charge(cast, [w.Portion(w.buy(scrap(), w.g(50), 40), w.g(20))], w.DAY)
    assert Cast.objects.get().fineness_is_guess
    post_reversal(Entry.objects.get(kind="charge"))
    cast = Cast.objects.get()
    post_charge(cast, [w.Portion(w.buy(w.grain(), w.g(50), 40), w.g(20))], w.DAY)
    assert not Cast.objects.get().fineness_is_guess


def test_metal_that_was_assayed_is_said_to_be_known(bench):
    lot = w.buy(scrap(), w.g(50), 40)
    assert "nobody has proved it" in bench.get(f"/stock/lots/{lot.pk}/").content.decode()
    bench.post(f"/stock/lots/{lot.pk}/facts/", {**once(), "note": "assayed: 927"})
    lot.refresh_from_db()
    assert not lot.fineness_is_guess
    assert mark_of(cast_of(lot)).startswith("Its metal may be marked 925.")


def test_a_studio_that_was_there_before_has_its_unproved_metal_marked():
    """The migration marks handed-in metal, scrap and old reclaim, and what was made of them."""
    proved = cast_of(w.buy(w.grain(), w.g(50), 40))
    first = cast_of(opening(origin=Lot.Origin.CLEAN))
    second = w.cast_metal([(Lot.objects.get(from_cast=first), 7)], [w.piece("Leaf", 4)], back="2.9")
    expected = set(Lot.objects.filter(fineness_is_guess=True).values_list("pk", flat=True))
    Lot.objects.update(fineness_is_guess=False)
    Cast.objects.update(fineness_is_guess=False)
    name = next(one.name for one in iter_modules(migrations.__path__) if one.name.endswith("heat_and_care"))
    import_module(f"inventory.migrations.{name}").mark_what_nobody_proved(apps, None)
    assert set(Lot.objects.filter(fineness_is_guess=True).values_list("pk", flat=True)) == expected
    marked = set(Cast.objects.filter(fineness_is_guess=True).values_list("pk", flat=True))
    assert marked == {first.pk, second.pk} and proved.pk not in marked
