"""A piece as it would be, from what it is: every figure that moves, and none that does not."""

from dataclasses import replace
from datetime import date

import pytest

from costing.core.metal_price import DatedPrice, Premium, compute_alloy_price, requote, take_own_price
from costing.core.wanted import CostParts
from costing.core.what_if import Basis, WhatIf, suppose
from costing.models import Policy
from costing.queries.costed import cost_casts
from costing.queries.pricing import basis_of, parts_of
from inventory.models import BenchTime
from inventory.posting.casting import TreeRecord
from tests import workshop as w

UNIT = 1_000_000
OWN = take_own_price(DatedPrice(UNIT, "g", date(2026, 11, 1)))
# 10 g at 1.00; of 9 that are no metal or time 6 are shared by 4 pieces; half an hour of the cast's and one of its own.
RING = Basis(
    parts=CostParts(
        metal_micro=8 * UNIT,
        today_micro=10 * UNIT,
        other_micro=9 * UNIT,
        time_micro=30 * UNIT,
        overhead_micro=9 * UNIT,
        bench_seconds=5_400,
    ),
    metal_mg=10_000,
    price=OWN,
    shared_micro=6 * UNIT,
    pieces=4,
    cast_seconds=1_800,
    own_seconds=3_600,
    hourly_micro=20 * UNIT,
    overhead_micro=6 * UNIT,
    failed_pct100=500,
)


def test_nothing_otherwise_is_exactly_what_it_is():
    assert suppose(RING, WhatIf()) == RING


@pytest.mark.parametrize(
    ("other", "changed"),
    [
        (WhatIf(price=take_own_price(DatedPrice(3 * UNIT, "g", OWN.day))), {"today_micro": 30 * UNIT}),
        (WhatIf(hourly_micro=30 * UNIT), {"time_micro": 45 * UNIT}),
        # With 12 in the flask a third of what was shared, and ten minutes of the cast's half hour.
        (
            WhatIf(pieces=12),
            {
                "other_micro": 5 * UNIT,
                "bench_seconds": 4_200,
                "time_micro": 23_333_333,
                "overhead_micro": 7 * UNIT,
            },
        ),
        (WhatIf(pieces=4), {}),
        (WhatIf(failed_pct100=0), {}),
    ],
)
def test_only_what_is_otherwise_moves(other, changed):
    found = suppose(RING, other)
    assert found.parts == replace(RING.parts, **changed)
    assert found.failed_pct100 == (500 if other.failed_pct100 is None else 0)


def test_a_price_that_is_tried_is_of_what_the_piece_is_priced_by():
    silver = compute_alloy_price(DatedPrice(UNIT, "g", OWN.day), "silver", 925, Premium(1_000, 0))
    tried = requote(silver, DatedPrice(2 * UNIT, "g", OWN.day))
    assert tried.micro_per_kg == 2_035 * UNIT
    assert silver.at(2 * UNIT) == tried.micro_per_kg
    assert requote(OWN, DatedPrice(2 * UNIT, "g", OWN.day)).micro_per_kg == 2_000 * UNIT == OWN.at(2 * UNIT)


@pytest.mark.django_db
def test_the_parts_of_a_piece_are_the_whole_of_what_it_cost(studio):
    """Of a cast with everything in it; and two flasks like it with half the pieces each share twice as much."""
    rates = {"hourly_rate_micro": w.money(20), "overhead_per_hour_micro": w.money(6)}
    Policy.objects.create(from_day=w.DAY, consumables_per_cast_micro=w.money(3), time_basis="grams", **rates)
    silver, wax = w.buy(w.grain(), w.g(200), 200), w.buy(w.wax(), w.g(100), 5)
    cast = w.cast_metal(
        [(silver, 100)],
        [w.piece("Leaf", 10), w.piece("Bud", 30)],
        back="59.5",
        tree=[TreeRecord(w.wax(), w.g(1), wax)],
        firing=w.fire(),
    )
    first = cast.pieces.get(number=1)
    BenchTime.objects.create(cast=cast, day=w.DAY, minutes=100)
    BenchTime.objects.create(cast=cast, piece=first, day=w.DAY, minutes=7)
    costed = cost_casts([cast.pk])[cast.pk]
    for place, whole in enumerate(costed.cost.piece_totals_micro):
        assert parts_of(costed, place, None).cost_micro == whole
    basis = basis_of(costed, costed.place_of(first.pk), OWN)
    # Ten of forty grams carry a quarter of 100 min.
    assert (basis.cast_seconds, basis.own_seconds) == (1_500, 420)
    assert basis.metal_mg == 10_000 + costed.cost.piece_lost_mg[0]
    alone = suppose(basis, WhatIf(pieces=1))
    assert alone.parts.other_micro - basis.parts.other_micro == basis.shared_micro > 0
    assert alone.parts.bench_seconds == 3_420
