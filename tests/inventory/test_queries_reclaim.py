"""Reads of reclaim: the figure of the proposal, the price of fresh metal, the months, and what plans hold of a tin."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from inventory.core.charge_shelf import ChargeWanted
from inventory.core.proposing import propose_charge
from inventory.forms.casting_fields import offer_metal
from inventory.forms.plans_steps import planned_charge
from inventory.models import Lot, PlanPortion
from inventory.posting.casting import Portion
from inventory.posting.planning import post_begin
from inventory.posting.reclaim import post_apart, post_cleaned, post_together
from inventory.posting.refining import BatchFacts, post_send
from inventory.posting.refusal import Refused
from inventory.posting.stock import post_handed_in, post_scrap
from inventory.queries.casting_choices import metal_lots
from inventory.queries.plans import plan_of
from inventory.queries.reclaim import kinds_on_hand, price_paid, reclaim_by_month, scrap_outlook
from inventory.queries.shelf import promised, shelf_for
from inventory.queries.studio import charge_rules
from studio.kit.printing import print_mass
from tests import workshop as w
from tests.inventory import plans
from tests.inventory.shelves import masses_of, reclaim_mg
from tests.support import plain, text_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


@pytest.fixture
def grain():
    return w.buy(w.grain(), w.g(300), 390)


def a_cast(grain, back="10", **weights):
    return w.cast_metal([(grain, 40)], [w.piece("Leaf", 20)], back=back, **weights)


def proposed_mg(studio, charge_mg):
    shelf = shelf_for(w.sterling(), None, {}, studio)
    wanted = ChargeWanted(charge_mg, charge_rules(925, studio), step_mg=studio.scale_division_mg)
    proposal = propose_charge(shelf, wanted)
    made = proposal if proposal.lines else proposal.instead
    return reclaim_mg(shelf, masses_of(made)) if made else 0


def test_it_is_the_proposals_after_a_cast_a_failed_one_a_cleaning_a_merge_and_a_batch(studio, grain):
    def agree():
        [one] = scrap_outlook(studio)
        assert one.allowance.may_take_mg == proposed_mg(studio, one.allowance.charge_mg)
        return one.allowance

    first = a_cast(grain)
    assert agree().on_hand_mg == w.g(10)
    failed = w.cast_metal([(grain, 40)], [], back=30, failed=True, failed_mg=w.g("9.5"))
    assert agree().on_hand_mg == w.g(40) and agree().may_take_mg == w.g(20)
    post_cleaned(w.lot_of(failed, "failed"), w.g(9), w.DAY)
    assert agree().on_hand_mg == w.g(49)
    melted = w.cast_metal([(w.lot_of(failed, "clean"), 25)], [w.piece("Pod", 14)], back=10)
    made = post_together(w.tin(), [w.lot_of(first, "clean"), w.lot_of(melted, "clean")], w.DAY)
    assert agree().on_hand_mg == w.g(34)
    studio.most_melts_milli = 1500
    studio.save()
    # The tin is at a melt and a half, and the last button of the failed cast at one.
    assert agree().tired_mg == w.g(20) and agree().left_out
    # What may not go back is retired to the refiner, 15 g of it.
    post_send(BatchFacts(w.refiner()), [Portion(made, w.g(15))], w.DAY)
    assert agree().tired_mg == w.g(5) and agree().on_hand_mg == w.g(19)


def test_metal_to_alloy_with_counts_for_the_figure_as_it_does_for_the_plan(studio, grain):
    a_cast(grain)
    grain.refresh_from_db()
    post_scrap(grain, w.g(260), w.DAY)
    [short] = [one for one in scrap_outlook(studio) if one.alloy == w.sterling()]
    assert short.allowance.may_take_mg == 0 == proposed_mg(studio, short.allowance.charge_mg)
    w.buy(w.grain(w.fine_silver()), w.g(30), 40)
    for alloy, element, share in (
        (w.sterling(), "Ag", 9_250),
        (w.sterling(), "Cu", 750),
        (w.fine_silver(), "Ag", 10_000),
    ):
        alloy.parts.create(element=element, per_10000=share)
    [one] = [one for one in scrap_outlook(studio) if one.alloy == w.sterling()]
    # The button of 10 g goes in whole beside as much fine silver, by a rule of half.
    assert one.allowance.may_take_mg == w.g(10) == proposed_mg(studio, one.allowance.charge_mg)
    assert "of metal kept to alloy with" in one.allowance.working.steps[-1].text


def test_the_price_is_that_of_the_last_delivery_with_its_carriage(grain):
    w.buy(w.grain(), w.g(100), 140, w.DAY + timedelta(days=1), carriage=10)
    paid = price_paid([w.sterling(), w.bronze()])
    assert list(paid) == [w.sterling().pk]
    assert (paid[w.sterling().pk].cost_micro, paid[w.sterling().pk].mass_mg) == (w.money(150), w.g(100))


def test_months_are_what_was_there_at_their_ends(grain):
    w.cast_metal([(grain, 40)], [w.piece("Leaf", 20)], back=10, day=date(2026, 3, 31))
    button = Lot.objects.get(origin="clean")
    w.cast_metal([(button, 8), (grain, 8)], [w.piece("Pod", 15)], day=date(2026, 4, 1))
    w.cast_metal([(grain, 10)], [w.piece("Pod", 8)], back=1, day=date(2026, 6, 9))
    points = dict(reclaim_by_month(date(2026, 6, 20), months=5)[w.sterling().pk])
    assert [mass // 1000 for mass in points.values()] == [0, 10, 2, 2, 3]
    assert list(points) == [date(2026, month, 1) for month in range(2, 7)]


def test_customers_reclaim_counts_nowhere_here(studio):
    theirs = post_handed_in(w.customer(), w.grain(), w.g(90), w.DAY)
    w.cast_metal([(theirs, 40)], [w.piece("Leaf", 20)], back=10, owner=w.customer())
    assert kinds_on_hand(studio) == {} and reclaim_by_month(timezone.localdate()) == {}


def test_what_a_plan_holds_of_a_tin_it_holds_of_what_the_tin_becomes(bench, grain):
    tin = w.tin()
    one = post_together(tin, [w.lot_of(a_cast(grain, 20), "clean")], w.DAY)
    plan = plans.plan()
    held = plan.portions.get(lot=one).quantity
    two = post_together(tin, [w.lot_of(a_cast(grain, 5), "clean")], w.DAY)
    assert promised()[two.pk] == held and one.pk not in promised()
    page = text_of(bench.get(f"/stock/lots/{two.pk}/"))
    assert f'{plain(print_mass(held))} for <a href="/plans/{plan.pk}/">{plan.title}</a>' in page
    out = post_apart(two, w.g(3), w.DAY)
    PlanPortion.objects.filter(plan=plan, lot=one).update(lot=out)
    with pytest.raises(Refused, match=f"The plan “{plan.title}” holds"):
        post_together(tin, [out], w.DAY)


def test_a_planned_charge_is_weighed_from_what_the_tin_became(grain):
    tin = w.tin()
    one = post_together(tin, [w.lot_of(a_cast(grain, 20), "clean")], w.DAY)
    plan = plans.plan()
    mass_mg = plan.portions.get(lot=one).quantity
    cast = post_begin(plan)
    two = post_together(tin, [w.lot_of(a_cast(grain, 5), "clean")], w.DAY)
    lines = planned_charge(plan_of(cast), offer_metal(metal_lots()))
    assert {"what": f"lot-{two.pk}", "mass": mass_mg} in lines
