"""The pages of reclaim: how much may go back, tins, failed castings cleaned, and the rules for each kind."""

import pytest
from django.urls import reverse

from inventory.models import Entry, Holder, Lot, Studio, Tin
from inventory.posting.reclaim import post_together
from inventory.queries.tins import find_tin
from inventory.queries.trace import ingredients_of
from tests import workshop as w
from tests.support import count_queries, once, problems, text_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


@pytest.fixture
def grain():
    return w.buy(w.grain(), w.g(300), 390)


def a_cast(grain, back="10", **weights):
    return w.cast_metal([(grain, 40)], [w.piece("Leaf", 20)], back=back, **weights)


def send(bench, address, **typed):
    return bench.post(address, {**once(), "day": w.DAY.isoformat(), "note": "", **typed})


def tin_page(tin, *name):
    return reverse("inventory:tin-action" if name else "inventory:tin-detail", args=[tin.pk, *name])


# Tins


def test_a_tin_is_begun_filled_and_told_apart_by_its_casts(bench, grain):
    lots = [w.lot_of(a_cast(grain, back), "clean") for back in (10, 15)]
    typed = {"name": "Silver tin", "alloy": w.sterling().pk, "kind": "clean", "owner": ""}
    answer = bench.post(reverse("inventory:tin-new"), typed)
    tin = Tin.objects.get()
    assert answer.url == tin_page(tin) and tin.material.form == "reclaim"
    assert "It is empty" in text_of(bench.get(tin_page(tin)))
    assert send(bench, tin_page(tin, "put-in"), lots=[lot.pk for lot in lots]).status_code == 302
    page = text_of(bench.get(tin_page(tin)))
    assert "25.00 g" in page and "Lot 4, " not in page
    assert "Silver tin" in text_of(bench.get(reverse("inventory:tin-list")))
    assert send(bench, tin_page(tin, "take-out"), quantity="10").status_code == 302
    # By hand: of the 15 g left, 10 and 15 parts of 25 are 6 g and 9 g.
    assert [(one.lot, one.mass_mg) for one in ingredients_of(find_tin(tin.pk))] == [
        (lots[1], w.g(9)),
        (lots[0], w.g(6)),
    ]
    page = text_of(bench.get(tin_page(tin)))
    assert "9.00" in page and "6.00" in page and "/casts/2/" in page
    assert problems() == []


def test_only_what_fits_is_offered_and_nothing_else_is_taken(bench, grain):
    cast = a_cast(grain, spill_mg=w.g(2))
    tin = w.tin()
    page = text_of(bench.get(tin_page(tin)))
    assert "button and sprues of cast 1" in page and "spill of cast 1" not in page
    answer = send(bench, tin_page(tin, "put-in"), lots=[w.lot_of(cast, "spill").pk])
    assert answer.status_code == 422
    answer = send(bench, tin_page(tin, "put-in"))
    assert answer.status_code == 422 and "Tick at least one lot" in text_of(answer)
    assert not Entry.objects.filter(kind="together").exists()


def test_more_than_is_in_a_tin_is_refused_beside_its_field(bench, grain):
    tin = w.tin()
    post_together(tin, [w.lot_of(a_cast(grain), "clean")], w.DAY)
    answer = send(bench, tin_page(tin, "take-out"), quantity="11")
    assert (
        answer.status_code == 422
        and "is more than that" in text_of(answer)
        and 'value="11"' in text_of(answer)
    )


def test_a_tin_is_closed_and_opened_again(bench, grain):
    tin = w.tin()
    assert send(bench, tin_page(tin, "close")).status_code == 302
    page = text_of(bench.get(tin_page(tin)))
    assert "This tin is closed" in page and "Put them in" not in page
    assert bench.get(tin_page(tin, "put-in")).url == tin_page(tin)
    send(bench, tin_page(tin, "open"))
    assert "Put them in" in text_of(bench.get(tin_page(tin)))


def test_a_tin_tells_its_weight_by_the_decimals_of_the_scale(bench, grain):
    tin = w.tin()
    lot = w.lot_of(a_cast(grain), "clean")
    made = post_together(tin, [lot], w.DAY)
    Holder.objects.filter(pk=made.holder_id).update(quantity=9_995)
    page = text_of(bench.get(tin_page(tin)))
    assert "10.00 g</dd>" in page and "9.995" not in page


def test_a_lot_in_a_tin_names_it_and_a_plain_one_cannot_be_taken_apart(bench, grain):
    made = post_together(w.tin(), [w.lot_of(a_cast(grain), "clean")], w.DAY)
    page = text_of(bench.get(reverse("inventory:lot-detail", args=[made.pk])))
    assert f"Lot {made.pk}, button and sprues in Silver tin" in page and tin_page(w.tin()) in page


@pytest.mark.counts
def test_a_fuller_tin_asks_no_more(bench, grain):
    tin = w.tin()
    post_together(tin, [w.lot_of(a_cast(grain), "clean")], w.DAY)
    address = tin_page(tin)
    before = count_queries(lambda: bench.get(address))
    for _ in range(3):
        post_together(tin, [w.lot_of(a_cast(grain, 3), "clean")], w.DAY)
    assert count_queries(lambda: bench.get(address)) == before


# Failed castings


def test_failed_castings_are_weighed_cleaned_on_their_lots_page(bench, grain):
    failed = w.lot_of(a_cast(grain, failed_mg=w.g("9.5")), "failed")
    address = reverse("inventory:lot-detail", args=[failed.pk])
    page = text_of(bench.get(address))
    assert "Weigh them cleaned" in page and "Metal to be expected of it" in page
    clean = reverse("inventory:lot-action", args=[failed.pk, "clean"])
    assert send(bench, clean, mass="12").status_code == 422
    answer = bench.post(clean, {**once(), "day": w.DAY.isoformat(), "mass": "9"}, follow=True)
    assert "9.00 g of clean reclaim" in text_of(answer) and "0.50 g was investment" in text_of(answer)
    assert "Weigh them cleaned" not in text_of(bench.get(address))


def test_the_studio_says_what_it_melts(bench, grain):
    typed = {f"metal_{kind}_pct100": "90" for kind in Lot.RECLAIM}
    answer = bench.post(reverse("inventory:reclaim-rules"), {**typed, "melt_clean": "on", "melt_spill": "on"})
    assert answer.status_code == 302
    studio = Studio.objects.get()
    assert (studio.melt_spill, studio.melt_filings, studio.metal_sweeps_pct100) == (True, False, 9000)
    refused = bench.post(reverse("inventory:reclaim-rules"), {**typed, "metal_spill_pct100": "101"})
    assert refused.status_code == 422
    assert Studio.objects.get().metal_spill_pct100 == 9000


# How much may go back


def test_the_page_tells_what_binds_what_it_saves_and_what_to_refine(bench, studio, grain):
    a_cast(grain, 15, failed_mg=w.g(2), filings_mg=w.g(1))
    studio.most_melts_milli = 1000
    studio.save()
    page = text_of(bench.get(reverse("inventory:reclaim")))
    assert "For the refiner: 15.00 g, melted as often as it may be" in page
    assert "to be cleaned" in page and "to be refined" in page
    studio.most_melts_milli = 4000
    studio.save()
    page = text_of(bench.get(reverse("inventory:reclaim")))
    # By hand: 15 g at 390 for 300 g.
    assert "15.00 g</strong> of 15.00 g may go in the next charge of 40.00 g" in page
    assert "It saves 19.50 GBP" in page


def test_who_is_short_of_fresh_metal_is_offered_to_go_past_the_rule(bench, studio):
    grain = w.buy(w.grain(), w.g(50), 65)
    a_cast(grain, 19)
    page = text_of(bench.get(reverse("inventory:reclaim")))
    # By hand: 10 g fresh and 19 g once melted: 34.48 % fresh, (19 x 1) / 29 + 1 = 1.66 melts.
    assert "asks for 20.00 g of fresh metal by your rule, and 10.00 g is there" in page
    assert "34.48 % fresh" in page and "1.7 melts" in page
    assert w.cast_metal([(Lot.objects.get(origin="clean"), 19), (grain, 10)], [w.piece("Pod", 28)], back=1), (
        "a rule is no lock"
    )


def test_without_reclaim_the_page_says_where_it_comes_from(bench, grain):
    page = text_of(bench.get(reverse("inventory:reclaim")))
    assert "it comes with the weights after a pour" in page and "Sterling" not in page.split("<main")[1]


@pytest.mark.counts
def test_more_alloys_and_lots_ask_no_more(bench, grain):
    a_cast(grain, filings_mg=w.g(1))
    address = reverse("inventory:reclaim")
    before = count_queries(lambda: bench.get(address))
    bronze = w.buy(w.grain(w.bronze()), w.g(300), 30)
    w.cast_metal([(bronze, 40)], [w.piece("Bell", 20)], back=10, alloy=w.bronze())
    a_cast(grain, spill_mg=w.g(1))
    assert count_queries(lambda: bench.get(address)) == before
