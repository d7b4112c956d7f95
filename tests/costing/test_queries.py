"""What a cast cost, read from the ledger and rolled up by the rules of its own day."""

from datetime import timedelta

import pytest

from costing.models import Policy
from costing.queries.costed import cost_casts
from inventory.models import BenchTime, Equipment, Lot, Material
from inventory.posting.casting import (
    CastFacts,
    PourNotes,
    TreeRecord,
    post_charge,
    post_found,
    post_start,
    record_pour,
)
from inventory.posting.pieces import post_finish, post_melt_back, post_sale
from inventory.posting.stock import post_use
from inventory.queries.equipment import equipment_with_use, use_of
from tests import workshop as w

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def studio():
    w.make_studio()
    Policy.objects.create(
        from_day=w.DAY - timedelta(days=30),
        normal_loss_pct100=100,
        energy_micro_per_kwh=w.money("0.25"),
        hourly_rate_micro=w.money(24),
        overhead_per_hour_micro=w.money(6),
        consumables_per_cast_micro=w.money("1.5"),
        consumables_per_piece_micro=w.money("0.4"),
    )


def cost_of(cast):
    return cost_casts([cast.pk])[cast.pk]


def full_cast(**changes):
    silver = w.buy(w.grain(), w.g(100), 130)
    mould, green = w.buy(w.powder(), w.g(5000), 40), w.buy(w.wax(), w.g(100), 10)
    crucible = Equipment.objects.create(
        kind="crucible", name="Two", price_micro=w.money(20), life_uses=50, uses_before=3
    )
    return w.cast_metal(
        [(silver, 100)],
        [w.piece("Leaf", 30), w.piece("Stud", "9.5", 2)],
        back=60,
        tree=[TreeRecord(w.wax(), w.g(5), green)],
        powder=[w.Portion(mould, w.g(600))],
        water_mg=w.g(240),
        firing=w.fire(wh=12_000),
        crucible=crucible,
        **changes,
    )


def line(costed, key):
    return costed.cost.line(key)


def assert_whole(costed):
    cost = costed.cost
    assert sum(cost.piece_totals_micro) + cost.set_aside_micro == cost.total_micro


def test_each_line_is_what_the_stock_gave():
    cast = full_cast()
    BenchTime.objects.create(cast=cast, day=w.DAY, minutes=90)
    BenchTime.objects.create(cast=cast, piece=cast.pieces.get(number=1), day=w.DAY, minutes=30)
    costed = cost_of(cast)
    totals = {one.key: one.total_micro for one in costed.cost.lines}
    assert totals["own_metal"] == w.money("51.35")
    assert totals["lost_metal"] == w.money("0.65")
    assert totals["powder"] == w.money("4.8")
    assert totals["pattern"] == w.money("0.5")
    assert totals["energy"] == w.money(3)
    assert totals["wear"] == w.money("2.80")  # 0.40 of the crucible, 12 h of the kiln at 0.20
    assert totals["consumables"] == w.money("2.70")
    assert totals["bench_cast"] == w.money(36)
    assert totals["bench_piece"] == w.money(12)
    assert totals["overhead"] == w.money(12)
    assert costed.cost.total_micro == w.money("125.80")
    assert_whole(costed)


def test_a_cast_is_charged_by_the_rules_of_its_own_day():
    cast = full_cast()
    BenchTime.objects.create(cast=cast, day=w.DAY, minutes=60)
    Policy.objects.create(from_day=w.DAY + timedelta(days=1), hourly_rate_micro=w.money(90))
    assert line(cost_of(cast), "bench_cast").total_micro == w.money(24)


def test_a_cast_before_the_oldest_rules_is_charged_by_those():
    cast = full_cast()
    BenchTime.objects.create(cast=cast, day=w.DAY, minutes=60)
    Policy.objects.update(from_day=w.DAY + timedelta(days=10))
    assert line(cost_of(cast), "bench_cast").total_micro == w.money(24)


def test_loss_beyond_what_is_normal_is_set_aside():
    silver = w.buy(w.grain(), w.g(100), 100)
    cast = w.cast_metal([(silver, 100)], [w.piece("Leaf", 40)], back=55)
    costed = cost_of(cast)
    assert costed.cost.normal_lost_mg == w.g(1)
    assert costed.cost.abnormal_lost_mg == w.g(4)
    assert [aside.key for aside in costed.cost.set_aside] == ["abnormal_loss"]
    assert_whole(costed)


def test_filings_caught_in_finishing_leave_the_cost_of_the_piece():
    cast = full_cast()
    leaf = cast.pieces.get(number=1)
    post_finish(leaf, w.g(29), w.g("0.9"), w.DAY)
    costed = cost_of(cast)
    assert line(costed, "own_metal").piece_micro[0] == w.money("37.7")
    assert costed.inputs.back_mg == w.g("60.9")
    assert costed.inputs.lost_mg == w.g("0.6")
    assert_whole(costed)


def test_a_piece_put_back_in_the_pot_carries_nothing():
    cast = full_cast()
    post_melt_back(cast.pieces.get(number=2), w.DAY)
    costed = cost_of(cast)
    assert costed.cost.piece_totals_micro[1] == 0
    assert costed.inputs.back_mg == w.g("64.75")
    assert_whole(costed)


def test_a_sale_changes_no_cost():
    cast = full_cast()
    before = cost_of(cast).cost.piece_totals_micro
    post_sale(cast.pieces.get(number=1), w.DAY)
    assert cost_of(cast).cost.piece_totals_micro == before


def test_metal_found_later_lowers_the_loss():
    cast = full_cast()
    post_found(cast, 300, Lot.Origin.SWEEPS, w.DAY)
    costed = cost_of(cast)
    assert costed.inputs.lost_mg == 200
    assert_whole(costed)


def test_a_finding_is_charged_to_the_piece_that_has_it():
    cast = full_cast()
    wires = Material.objects.create(name="Ear wires", kind="finding", unit="items")
    post_use(w.buy(wires, 20, 8), 2, w.DAY, piece=cast.pieces.get(number=2))
    assert line(cost_of(cast), "other_stock").piece_micro == (0, w.money("0.8"), 0)


def test_two_flasks_share_a_firing_to_the_last_unit():
    silver = w.buy(w.grain(), w.g(200), 130)
    firing = w.fire(wh=12_001)
    casts = [
        w.cast_metal([(silver, 50)], [w.piece("Leaf", 30)], back="19.9", firing=firing) for _ in range(3)
    ]
    costed = cost_casts([cast.pk for cast in casts])
    assert sum(line(one, "energy").total_micro for one in costed.values()) == 3_000_250


def test_a_crucible_worn_to_its_end_costs_nothing_more():
    crucible = Equipment.objects.create(
        kind="crucible", name="Old", price_micro=w.money(10), end_value_micro=0, life_uses=3, uses_before=1
    )
    silver = w.buy(w.grain(), w.g(200), 130)
    casts = [
        w.cast_metal([(silver, 50)], [w.piece("Leaf", 30)], back="19.9", crucible=crucible) for _ in range(3)
    ]
    costed = cost_casts([cast.pk for cast in casts])
    wear = [line(costed[cast.pk], "wear").total_micro for cast in casts]
    assert wear == [3_333_334, 3_333_333, 0]


def test_a_tool_wears_by_the_casts_that_its_own_page_counts():
    """A cast that is poured has worn its crucible, whether or not its weights are in yet."""
    crucible = Equipment.objects.create(kind="crucible", name="Old", price_micro=w.money(10), life_uses=9)
    silver = w.buy(w.grain(), w.g(200), 130)
    poured = post_start(CastFacts("leaves", w.DAY, w.sterling(), crucible=crucible))
    post_charge(poured, [w.Portion(silver, w.g(50))], w.DAY)
    record_pour(poured, PourNotes())
    post_start(CastFacts("not poured yet", w.DAY, w.sterling(), crucible=crucible))
    page = use_of(equipment_with_use().get(pk=crucible.pk))
    closed = w.cast_metal([(silver, 50)], [w.piece("Leaf", 30)], back="19.9", crucible=crucible)
    assert [tool.used_before for tool in cost_of(closed).use.tools] == [page.used] == [1]


def test_a_cast_read_alone_costs_what_it_costs_among_all():
    crucible = Equipment.objects.create(kind="crucible", name="Old", price_micro=w.money(10), life_uses=9)
    silver = w.buy(w.grain(), w.g(300), 130)
    casts = [
        w.cast_metal(
            [(silver, 50)],
            [w.piece("Leaf", 30)],
            back="19.9",
            crucible=crucible if number % 2 else None,
            day=w.DAY + timedelta(days=days),
            firing=w.fire(w.DAY + timedelta(days=days), minutes=700 + number),
        )
        for number, days in enumerate((3, 1, 1, 0, 1))
    ]
    among = cost_casts([cast.pk for cast in casts])
    for cast in casts:
        alone = cost_of(cast)
        assert [(one.label, one.total_micro) for one in alone.cost.lines] == [
            (one.label, one.total_micro) for one in among[cast.pk].cost.lines
        ]
        assert [tool.used_before for tool in alone.use.tools] == [
            tool.used_before for tool in among[cast.pk].use.tools
        ]
    assert [[tool.used_before for tool in among[cast.pk].use.tools] for cast in casts] == [
        [], [1], [], [0], []
    ]  # fmt: skip


def test_a_failed_cast_sets_everything_aside():
    silver = w.buy(w.grain(), w.g(100), 130)
    cast = w.cast_metal([(silver, 100)], [], back="99.5", failed=True, firing=w.fire())
    costed = cost_of(cast)
    assert costed.cost.set_aside_micro == costed.cost.total_micro > 0
    assert [aside.key for aside in costed.cost.set_aside] == ["failed"]


@pytest.mark.counts
def test_the_number_of_queries_does_not_grow_with_the_casts(django_assert_max_num_queries):
    silver = w.buy(w.grain(), w.g(900), 1300)
    casts = [
        w.cast_metal([(silver, 50)], [w.piece("Leaf", 30)], back="19.9", firing=w.fire()) for _ in range(8)
    ]
    with django_assert_max_num_queries(14):
        assert len(cost_casts([cast.pk for cast in casts])) == 8
