"""What a plan will cost, before the metal is melted. The figures are worked out by hand."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from costing.core.estimate import (
    PlannedPart,
    PlannedUse,
    compute_bench_means,
    compute_planned_pieces,
    fill_up,
)
from costing.models import Policy
from costing.queries.estimate import estimate_plans
from inventory.models import BenchTime, Equipment, Studio
from inventory.posting.planning import change_charge, drop_plan, post_begin, save_plan
from inventory.posting.stock import post_handed_in
from inventory.queries.days import planned_minutes
from inventory.queries.plan_figures import work_out
from inventory.queries.plans import PartDraft
from studio.kit.printing import print_money
from tests import workshop as w
from tests.inventory import plans
from tests.support import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def lots():
    w.make_studio()
    kiln = w.kiln()
    kiln.share_on_pct100 = 5_000
    kiln.save()
    crucible = plans.crucible()
    crucible.price_micro, crucible.life_uses, crucible.uses_before = w.money(20), 50, 3
    crucible.save()
    Policy.objects.create(
        from_day=w.DAY - timedelta(days=30),
        normal_loss_pct100=100,
        energy_micro_per_kwh=w.money("0.25"),
        hourly_rate_micro=w.money(24),
        overhead_per_hour_micro=w.money(6),
        consumables_per_cast_micro=w.money("1.5"),
        consumables_per_piece_micro=w.money("0.4"),
    )
    return plans.stock()


def estimate(plan):
    return estimate_plans([plan.pk])[plan.pk]


def totals(one):
    return {line.key: line.total_micro for line in one.cost.lines}


def assert_whole(one):
    cost = one.cost
    assert sum(cost.piece_totals_micro) + cost.set_aside_micro == cost.total_micro


def cast_leaves(lots, minutes=90, each=30, day=w.DAY, **changes):
    """A closed cast of two leaves, with time on it and on the first of them."""
    cast = w.cast_metal([(lots["fresh"], 50)], [w.piece("Leaf", 10, 2)], back=30, day=day, **changes)
    BenchTime.objects.create(cast=cast, day=day, minutes=minutes)
    BenchTime.objects.create(cast=cast, piece=cast.pieces.get(number=1), day=day, minutes=each)
    return cast


def test_each_line_is_worked_out_from_the_plan():
    one = estimate(plans.plan())
    found = totals(one)
    # 3.20 g of wax at 0.96 in metal of 10.36: 34.533 g, and so 51.7995 of the charge's 99.72.
    assert one.pieces_mg == 34_533
    assert found["own_metal"] == w.money("51.7995")
    assert found["lost_metal"] == 0
    assert found["energy"] == w.money("3.90")  # 15.6 kWh at 0.25
    assert found["wear"] == w.money("3.00")  # 13 h of the kiln at 0.20, and 0.40 of the crucible
    assert found["pattern"] == w.money("0.448")  # 5.60 g of wax at 8.00 for 100 g
    assert found["consumables"] == w.money("3.10")
    assert found["bench_cast"] == found["bench_piece"] == found["overhead"] == 0
    plan = one.plan
    assert found["powder"] == round(plan.powder_mg * 40_000_000 / 6_000_000)
    assert_whole(one)


def test_the_charge_is_in_pieces_loss_and_what_comes_back_to_the_last_unit(lots):
    w.cast_metal([(lots["fresh"], 100)], [w.piece("Leaf", 40)], back=59)
    one = estimate(plans.plan())
    inputs = one.inputs
    assert inputs.lost_mg == 671  # 1 % of the charge that leaves 66.477 g
    assert one.pieces_mg + inputs.back_mg + inputs.lost_mg == inputs.charge_mg == one.plan.metal_mg
    held = sum(piece.own_metal_micro for piece in inputs.pieces)
    assert held + inputs.back_micro + inputs.lost_micro == inputs.charge_micro
    assert inputs.charge_micro == 67_150 * 1_500


def test_pieces_of_one_part_share_its_grams_to_the_milligram():
    pieces = compute_planned_pieces([PlannedPart("Leaf", 1_000, 3, 960)], 10_360)
    # 10.792 g of metal on 334, 333 and 333 mg of wax.
    assert [piece.mass_mg for piece in pieces] == [3_604, 3_594, 3_594]
    assert [piece.label for piece in pieces] == ["Leaf 1", "Leaf 2", "Leaf 3"]


def test_a_single_piece_carries_the_name_of_its_part():
    assert compute_planned_pieces([PlannedPart("Bangle", 960, 1, 960)], 10_360)[0].label == "Bangle"


def test_time_at_the_bench_is_the_mean_of_the_last_casts(lots):
    cast_leaves(lots, minutes=90, each=30)
    cast_leaves(lots, minutes=101, each=11)
    one = estimate(plans.plan())
    assert one.bench.cast_minutes == 96  # 95.5
    assert one.bench.piece_minutes == 10  # 41 minutes on four pieces
    assert totals(one)["bench_cast"] == w.money("38.40")
    assert totals(one)["bench_piece"] == w.money("16.00")
    assert totals(one)["overhead"] == w.money("13.60")  # 96 and 40 minutes at 6.00 an hour
    assert any("last 2 closed casts" in given.origin for given in one.bench.working.givens)


def test_only_the_last_twelve_casts_count():
    means = compute_bench_means(12, 1_200, 24, 240)
    assert (means.cast_minutes, means.piece_minutes) == (100, 10)


def test_without_a_closed_cast_time_is_nothing_and_says_so():
    assert any("No cast is closed yet" in note for note in estimate(plans.plan()).notes)


def test_energy_and_kiln_are_shared_over_the_flasks_of_the_day_by_volume():
    first = plans.plan()
    tall = Equipment.objects.create(
        kind="flask", name="Flask 75 x 200", diameter_um=75_000, height_um=200_000
    )
    save_plan(work_out(plans.draft(title="Buds", flask=tall), Studio.objects.get()), day=first.day)
    # The second flask leaves the kiln 20 minutes after the first is poured: 13 h 20 min at 1.2 kW are 16 kWh.
    assert estimate(first).firing.minutes == planned_minutes(first.day) == 800
    assert abs(totals(estimate(first))["energy"] - w.money("4.00") // 3) <= 1
    assert abs(totals(estimate(first))["wear"] - (w.money("2.60") * 800 // 780 // 3 + w.money("0.40"))) <= 1


def test_a_plan_that_was_given_up_takes_no_share_of_the_kiln():
    first = plans.plan()
    drop_plan(
        save_plan(
            work_out(plans.draft(title="Buds", flask=plans.flask("Second")), Studio.objects.get()),
            day=first.day,
        )
    )
    assert totals(estimate(first))["energy"] == w.money("3.90")


def test_a_tool_that_has_outlived_its_uses_costs_no_more():
    crucible = plans.crucible()
    crucible.uses_before = 50
    crucible.save()
    assert totals(estimate(plans.plan()))["wear"] == w.money("2.60")


def test_uses_so_far_are_counted(lots):
    crucible = plans.crucible()
    crucible.uses_before = 49
    crucible.save()
    cast_leaves(lots, crucible=crucible)
    assert totals(estimate(plans.plan()))["wear"] == w.money("2.60")


def test_the_rules_of_the_plans_day_count():
    Policy.objects.create(
        from_day=timezone.localdate() + timedelta(days=1), energy_micro_per_kwh=w.money("1")
    )
    assert totals(estimate(plans.plan()))["energy"] == w.money("15.60")


def test_a_customers_metal_carries_no_cost():
    post_handed_in(w.customer(), w.grain(), w.g(100), w.DAY)
    one = estimate(plans.plan(owner=w.customer()))
    assert totals(one)["own_metal"] == totals(one)["lost_metal"] == 0
    assert one.cost.total_micro > 0
    assert_whole(one)


def test_metal_that_is_missing_is_reckoned_at_what_the_rest_costs(lots):
    plan = plans.plan()
    change_charge(plan, {lots["fresh"].pk: 20_000})
    one = estimate(plan)
    assert one.inputs.charge_mg == one.pieces_mg == 34_533
    assert totals(one)["own_metal"] == w.money("51.7995")
    assert any("14.533" in note and "not here yet" in note for note in one.notes)


def test_what_no_lot_is_planned_for_costs_nothing_and_says_so():
    assert fill_up(PlannedUse("Casting wax", 5_600, 0, 0)) == (
        0,
        "No lot of Casting wax is planned, so it costs nothing here.",
    )


def test_a_tree_without_a_piece_leaves_its_cost_on_none():
    one = estimate(plans.plan(parts=(PartDraft("Sprues", w.wax(), 2_400, is_piece=False),)))
    assert one.cost.piece_totals_micro == ()
    assert any("No part of the tree becomes a piece" in note for note in one.notes)
    assert_whole(one)


def test_a_kiln_without_a_plate_says_that_its_energy_is_not_known():
    kiln = w.kiln()
    kiln.rated_w = None
    kiln.save()
    one = estimate(plans.plan())
    assert totals(one)["energy"] == 0
    assert any("energy cannot be told beforehand" in note for note in one.notes)


def read(bench, plan, **asked):
    answer = bench.get(f"/plans/{plan.pk}/cost/", asked)
    assert answer.status_code == 200
    return text_of(answer)


@pytest.mark.parametrize("asked", [{}, {"part": "1"}])
def test_page_and_part_say_that_it_is_estimated_and_show_total_and_workings(bench, asked):
    plan = plans.plan()
    shown = read(bench, plan, **asked)
    total = print_money(estimate(plan).cost.total_micro)
    assert f"Estimated: the cast will cost {total}." in shown
    assert "Leaf 4" in shown
    assert "Where the planned charge goes" in shown
    assert "Energy of the schedule, estimated" in shown
    assert "0 of 3 firings have a meter reading so far" in shown
    assert ("<html" in shown) is not bool(asked)


def test_the_printed_estimate_adds_up(bench):
    answer = bench.get(f"/plans/{plans.plan().pk}/cost/")
    table = next(
        one for one in answer.context["document"].tables if one.caption.startswith("What each piece")
    )
    for row in (*table.rows, table.totals):
        assert sum(row[2:-1]) == row[-1]
    for place in range(1, len(table.columns)):
        assert sum(row[place] or 0 for row in table.rows) == table.totals[place]


def test_a_plan_that_is_not_there_is_not_found(bench):
    assert bench.get("/plans/99/cost/").status_code == 404


def test_a_plan_that_was_begun_or_given_up_still_tells_its_estimate(bench):
    begun, dropped = plans.plan(), plans.plan()
    post_begin(begun)
    drop_plan(dropped)
    assert all("Estimated" in read(bench, plan, part="1") for plan in (begun, dropped))


@pytest.mark.counts
def test_the_page_asks_no_more_of_a_large_studio(bench, lots):
    plan = plans.plan()
    # Two flasks are poured in turn, and their order is asked for once.
    save_plan(work_out(plans.draft(flask=plans.flask("Second")), Studio.objects.get()), day=plan.day)
    cast_leaves(lots)
    with CaptureQueriesContext(connection) as small:
        read(bench, plan)
    for days in range(5):
        w.buy(w.grain(), w.g(100), 130)
        cast_leaves({"fresh": w.buy(w.grain(), w.g(100), 130)}, day=w.DAY + timedelta(days), firing=w.fire())
        save_plan(
            work_out(
                plans.draft(title=f"Buds {days}", flask=plans.flask(f"Flask {days}")), Studio.objects.get()
            ),
            day=plan.day,
        )
    parts = tuple(PartDraft(f"Leaf {number}", w.wax(), 3_200, 4) for number in range(8))
    save_plan(work_out(plans.draft(parts=parts), Studio.objects.get(), plan), plan=plan)
    with CaptureQueriesContext(connection) as large:
        read(bench, plan)
    assert len(large) == len(small)


def test_the_page_of_a_plan_begins_with_what_each_piece_will_cost(bench):
    plan = plans.plan()
    page = text_of(bench.get(f"/plans/{plan.pk}/"))
    assert page.index('id="answer"') < page.index("All that it needs is here")
    part = bench.get(f"/plans/{plan.pk}/cost/?part=1")
    rows = {row.cells[0].text: [cell.text for cell in row.cells[1:]] for row in part.context["pieces"].rows}
    *_, cost, wholesale, retail = rows["Leaf 1"]
    said = f"<li>Each Leaf will cost {cost}; ask {wholesale} wholesale, {retail} retail.</li>"
    assert said in text_of(part)
    assert text_of(part).index("<table") < text_of(part).index("the cast will cost")
