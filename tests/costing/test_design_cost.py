"""What a design costs before it is cast: by hand, and beside the cost of the casts that it follows."""

from dataclasses import replace
from fractions import Fraction

import pytest

from costing.core.design_cost import Lately, Making, compute_design_cost
from costing.models import FinePrice, Policy
from costing.queries.costed import cost_casts
from costing.queries.designs import cost_designs, find_designs
from inventory.models import Design, DesignPart, DesignTime, Material
from inventory.posting.casting_records import record_time
from inventory.posting.designs import claim_pieces
from inventory.posting.pieces import post_finish
from tests import workshop as w
from tests.support import count_queries, text_of

UNIT = 1_000_000
LATELY = Lately(
    casts=2,
    pieces=10,
    good_mg=50_000,
    lost_mg=500,
    by_gram_micro=25 * UNIT,
    each_micro=40 * UNIT,
    cast_seconds=6_000,
)
MAKING = Making(
    cast_mg=5_000,
    finished_mg=4_500,
    own_seconds=1_200,
    pattern_micro=30_000,
    taken=(("Ear wire", 600_000),),
    book_micro_per_kg=Fraction(1_000 * UNIT),
    today_micro_per_kg=1_200 * UNIT,
    hourly_micro=20 * UNIT,
    overhead_micro=6 * UNIT,
    lately=LATELY,
)


def test_each_line_by_hand():
    cost = compute_design_cost(MAKING)
    # 4.5 g and 1 % of it lost: 4.545 g at 1.00. Powder 0.50 a gram of 5 g, and 4.00 a piece. 30 min at 20.00 an hour.
    assert dict(cost.lines) == {
        "Metal, with what is usually lost": 4_545_000,
        "Pattern material": 30_000,
        "Powder, kiln, wear and consumables": 2_500_000 + 4_000_000,
        "Ear wire": 600_000,
        "Time at the bench": 10 * UNIT,
        "Overhead on time": 3 * UNIT,
    }
    assert cost.total_micro == sum(micro for _, micro in cost.lines)
    assert cost.parts.today_micro == 5_454_000
    assert cost.parts.bench_seconds == 1_800


def test_metal_that_is_not_here_costs_what_it_costs_to_buy():
    cost = compute_design_cost(replace(MAKING, book_micro_per_kg=None))
    assert cost.parts.metal_micro == 5_454_000
    assert (
        dict(compute_design_cost(replace(MAKING, book_micro_per_kg=None, today_micro_per_kg=None)).lines).get(
            "Metal, with what is usually lost"
        )
        is None
    )


def test_before_any_cast_only_its_own_is_known():
    cost = compute_design_cost(replace(MAKING, lately=Lately()))
    assert dict(cost.lines)["Metal, with what is usually lost"] == 4_500_000
    assert "Powder, kiln, wear and consumables" not in dict(cost.lines)


@pytest.fixture
def cast(studio):
    """Sterling at 1.00 a gram, an hour at 20.00: four leaves that weigh 20 g together, 40 min on the cast."""
    Policy.objects.create(from_day=w.DAY, hourly_rate_micro=20 * UNIT, normal_loss_pct100=1_000)
    lot = w.buy(w.grain(), w.g(200), 200)
    made = w.cast_metal([(lot, 80)], [w.piece("Leaf", 20, 4)], back=60)
    record_time(made, w.DAY, 40)
    for piece in made.pieces.all():
        record_time(made, w.DAY, 15, piece=piece, task="file")
    return made


def leaf(**facts):
    made = Design.objects.create(name="Leaf", alloy=w.sterling(), **facts)
    claim_pieces(made)
    return find_designs([made.pk])[made.pk]


@pytest.mark.django_db
def test_one_more_of_what_was_cast_costs_what_those_did(cast):
    for piece in cast.pieces.select_related("cast", "holder"):
        post_finish(piece, w.g(5), 0, w.DAY)
    (found,) = cost_designs([(leaf(), None)])
    costed = cost_casts([cast.pk])[cast.pk].cost
    assert abs(found.cost.total_micro - costed.total_micro // 4) <= 4
    assert found.cost.parts.bench_seconds == 25 * 60


@pytest.mark.django_db
def test_a_design_is_costed_and_priced_before_it_was_ever_cast(cast):
    FinePrice.objects.create(metal="silver", day=w.DAY, price_micro=UNIT, per_unit="g")
    made = Design.objects.create(name="Fern", alloy=w.sterling(), cast_mg=8_000, finished_mg=7_600)
    wire = Material.objects.create(name="Ear wire", kind="finding", unit="items")
    w.buy(wire, 10, 5)
    DesignPart.objects.create(design=made, material=wire, quantity=2)
    DesignTime.objects.create(design=made, task="file", minutes=30)
    (found,) = cost_designs([(find_designs([made.pk])[made.pk], None)])
    lines = dict(found.cost.lines)
    assert lines["Metal, with what is usually lost"] == 7_600_000
    assert lines["Ear wire"] == UNIT
    # 30 min of its own, and 10 min of the 40 on a cast of four.
    assert lines["Time at the bench"] == 40 * 20 * UNIT // 60
    assert found.cost.parts.today_micro == 7_600_000 * 925 // 1000
    assert found.usual.kept.told_micro > found.cost.total_micro
    assert found.notes == ()


@pytest.mark.django_db
def test_what_is_not_known_is_said(studio):
    made = Design.objects.create(name="Fern", alloy=w.sterling(), cast_mg=8_000)
    (found,) = cost_designs([(find_designs([made.pk])[made.pk], None)])
    assert len(found.notes) == 3 and "pays for none of its own" in " ".join(found.notes)
    bare = Design.objects.create(name="Bud", alloy=w.sterling())
    assert cost_designs([(find_designs([bare.pk])[bare.pk], None)]) == [None]


@pytest.mark.django_db
def test_many_designs_ask_no_more_than_one(cast):
    made = leaf()
    for name in ("Fern", "Bud", "Cone"):
        Design.objects.create(name=name, alloy=w.sterling(), cast_mg=3_000)
    all_of_them = list(find_designs(Design.objects.values_list("pk", flat=True)).values())
    few = count_queries(lambda: cost_designs([(made, None)]))
    assert count_queries(lambda: cost_designs([(one, None) for one in all_of_them])) <= few


def test_the_page_says_what_to_ask(bench, cast):
    made = leaf()
    part = text_of(bench.get(f"/pieces/designs/{made.pk}/cost/?part=1"))
    assert "Ask " in part and "One costs " in part and "Time at the bench" in part
    assert "How each price came about" in text_of(bench.get(f"/pieces/designs/{made.pk}/cost/"))
    bare = Design.objects.create(name="Bud", alloy=w.sterling())
    assert "Nobody knows what it weighs" in text_of(bench.get(f"/pieces/designs/{bare.pk}/cost/"))
