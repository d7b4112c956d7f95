"""What a rule wants to be left of a price."""

from dataclasses import replace

import pytest

from costing.core.price import MetalAt, PriceRule, Rule
from costing.core.wanted import CostParts, Failures, compute_wanted, work_failures
from tests.support import plain, told

UNIT = 1_000_000
# Metal 20 (30 to buy again), powder and wear 6, an hour and a half at 24 and overhead 9.
STUD = CostParts(
    metal_micro=20 * UNIT,
    today_micro=30 * UNIT,
    other_micro=6 * UNIT,
    time_micro=36 * UNIT,
    overhead_micro=9 * UNIT,
    bench_seconds=5_400,
)
TWICE = PriceRule(label="twice", rule=Rule.MULTIPLE, value_pct100=20_000)


def left(**changes):
    return compute_wanted(STUD, replace(TWICE, **changes)).micro / UNIT


@pytest.mark.parametrize(
    ("at", "comes_to"), [(MetalAt.BOOK, 142), (MetalAt.TODAY, 162), (MetalAt.HIGHER, 162)]
)
def test_metal_counts_at_what_it_cost_or_costs_today_or_the_higher(at, comes_to):
    assert left(metal=at) == comes_to


def test_the_higher_is_what_it_cost_once_metal_has_fallen():
    fallen = replace(STUD, today_micro=10 * UNIT)
    assert compute_wanted(fallen, replace(TWICE, metal=MetalAt.HIGHER)).micro == 142 * UNIT
    assert compute_wanted(fallen, replace(TWICE, metal=MetalAt.TODAY)).micro == 122 * UNIT
    unknown = replace(STUD, today_micro=None)
    assert compute_wanted(unknown, replace(TWICE, metal=MetalAt.TODAY)).micro == 142 * UNIT


def test_materials_time_and_overhead_each_count_by_their_number():
    # (20 + 6) × 2 + 36 × 1.5 + 9 + 3.
    assert left(rule=Rule.PARTS, time_pct100=15_000, added_micro=3 * UNIT) == 118


def test_each_hour_at_the_bench_is_paid_its_floor():
    # 20 + 6 + 9 and 1.5 h at 40 is 95: less than twice the cost, more than its cost of 71.
    assert left(least_per_hour_micro=40 * UNIT) == 142
    assert left(value_pct100=10_000, least_per_hour_micro=40 * UNIT) == 95


def test_failures_raise_all_but_the_metal_that_comes_back():
    rule = replace(TWICE, counts_failures=True)
    # 20 and 51 ÷ 0.75 is 88.
    wanted = compute_wanted(STUD, rule, failed_pct100=2_500)
    assert wanted.micro == 176 * UNIT
    assert "51.0000 ÷ (100 % − 25 %)" in told(wanted.working)
    assert compute_wanted(STUD, TWICE, failed_pct100=2_500).micro == 142 * UNIT


def test_failures_are_casts_that_failed_and_castings_put_back():
    found = Failures(poured=20, failed=1, castings=200, put_back=10)
    # 0.95 × 0.95 gets through.
    assert found.failed_pct100 == 975
    assert "9.75 %" in told(work_failures(found, 365))
    assert Failures().failed_pct100 == 0


@pytest.mark.parametrize(
    ("rule", "failed", "says"),
    [
        (replace(TWICE, rule=Rule.MARGIN, value_pct100=10_000), 0, "less than 100 %"),
        (replace(TWICE, rule=Rule.MARGIN, value_pct100=25_000), 0, "cannot be had"),
        (replace(TWICE, counts_failures=True), 10_000, "Every casting failed"),
    ],
)
def test_what_gives_no_price_is_said_in_a_sentence(rule, failed, says):
    wanted = compute_wanted(STUD, rule, failed)
    assert says in plain(wanted.problem)
    assert wanted.micro == 0
