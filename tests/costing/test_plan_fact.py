"""Plan beside fact: what was meant, what happened, and the difference in words."""

import csv
import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from costing.models import Policy
from costing.queries.estimate import facts_of
from costing.reports.plan_fact import say_difference
from inventory.models import BenchTime, CastingDay, Plan, Studio
from inventory.posting.casting import Portion, TreeRecord, post_charge, post_close, post_powder, post_tree
from inventory.posting.closing import Weights
from inventory.posting.planning import drop_plan, post_begin, save_plan
from inventory.queries.plan_figures import work_out
from tests import workshop as w
from tests.inventory import plans
from tests.support import plain, problems

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def lots():
    w.make_studio()
    kiln = w.kiln()
    kiln.share_on_pct100 = 5_000
    kiln.save()
    Policy.objects.create(
        from_day=w.DAY,
        normal_loss_pct100=100,
        energy_micro_per_kwh=w.money("0.25"),
        hourly_rate_micro=w.money(24),
    )
    return plans.stock(fresh="400", powder="20000")


def plan_for_today(title="Fern leaves", day=None, flask="Flask 75 x 100"):
    """A plan whose pour was this morning."""
    wish = timezone.now() - timedelta(hours=1)
    draft = plans.draft(
        title=title, flask=plans.flask(flask), day=plans.day_draft(wish, CastingDay.Wish.POUR)
    )
    return save_plan(work_out(draft, Studio.objects.get()), day=day)


def make(plan, lots, pieces="34", lost_mg=480, wh=14_000):
    """Begin, record and close the cast of a plan: 2 g more metal than planned, and half an hour at the bench."""
    cast = post_begin(plan)
    day = cast.day
    post_tree(cast, [TreeRecord(w.wax(), w.g("5.6"), lots["wax"])], day)
    post_powder(cast, [Portion(lots["powder"], w.g(600))], w.g(240), day)
    post_charge(cast, [Portion(lots["fresh"], plan.metal_mg + 2_000)], day)
    cast.firing = w.fire(day, minutes=800, wh=wh)
    cast.save()
    back_mg = plan.metal_mg + 2_000 - w.g(pieces) - lost_mg
    post_close(cast, Weights([w.piece("Leaf", pieces, 4)], back_mg=back_mg), day)
    BenchTime.objects.create(cast=cast, day=day, minutes=30)
    return cast


def figures(answer, which="figures"):
    """Each row of a table of the page as (planned, happened, difference)."""
    return {row.label: texts(row) for row in answer.context[which]}


def texts(row):
    return tuple(
        text.replace("\N{NO-BREAK SPACE}", " ") for text in (row.planned, row.happened, row.difference)
    )


def read_part(bench, plan):
    answer = bench.get(f"/plans/{plan.pk}/fact/", {"part": "1"})
    assert answer.status_code == 200
    return answer


def test_a_cast_that_was_planned_begun_recorded_and_closed_stands_beside_its_plan(bench, lots):
    plan = plan_for_today()
    cast = make(plan, lots)
    answer = read_part(bench, plan)
    told = figures(answer)
    assert told["Charge"] == ("66.48 g", "68.48 g", "2.00 g more")
    assert told["Of it fresh"] == ("100.00 %", "100.00 %", "as planned")
    assert told["Powder"][1] == "600.00 g"
    assert told["Powder"][2].endswith(" g less")
    assert told["Water"][1] == "240.00 g"
    assert told["Pieces, as cast"] == ("34.53 g", "34.00 g", "0.53 g less")
    assert told["Button and sprues"] == ("31.95 g", "34.00 g", "2.05 g more")
    assert told["Lost"] == ("0.00 g", "0.48 g", "0.48 g more")
    assert told["Yield"] == ("51.94 %", "49.65 %", "2.29 points less")
    assert told["In the kiln"] == ("13 h", "13 h 20 min", "20 min more")
    assert told["Energy of the firing"] == ("15.60 kWh", "14.00 kWh", "1.60 kWh less")
    assert f"Cast {cast.number} cost " in answer.content.decode()
    assert problems() == []


def test_every_kind_of_cost_stands_beside_its_estimate_and_adds_up(bench, lots):
    plan = plan_for_today()
    make(plan, lots)
    answer = read_part(bench, plan)
    told = figures(answer, "costs")
    assert told["Kiln energy"] == ("3.90", "3.50", "0.40 less")
    assert told["Bench time on the cast"] == ("0.00", "12.00", "12.00 more")
    assert told["Metal lost, normal"] == ("0.00", "0.36", "0.36 more")  # 0.48 g at 0.75
    whole = texts(answer.context["whole"])
    for place in (0, 1):
        assert sum(hundredths(row[place]) for row in told.values()) == hundredths(whole[place])
    assert "Most of that is bench time on the cast, 12.00 more." in answer.content.decode()
    assert (
        "4 pieces are not finished yet, and the time for that is not in the cost." in answer.content.decode()
    )


def hundredths(text):
    return int(text.replace(",", "").replace(".", ""))


def test_what_is_not_known_yet_is_left_open(bench):
    plan = plan_for_today()
    post_begin(plan)
    answer = read_part(bench, plan)
    assert figures(answer)["Charge"] == ("66.48 g", "–", "–")
    assert figures(answer)["Lost"][1:] == ("–", "–")
    assert figures(answer)["In the kiln"] == ("13 h", "–", "–")
    assert all(row[1:] == ("–", "–") for row in figures(answer, "costs").values())
    assert "is not closed yet" in answer.content.decode()


@pytest.mark.parametrize("asked", [{}, {"part": "1"}])
def test_a_plan_that_was_not_begun_says_so(bench, asked):
    shown = bench.get(f"/plans/{plan_for_today().pk}/fact/", asked).content.decode()
    assert "has not begun, so nothing stands beside the plan yet" in shown


def test_a_plan_that_is_not_there_is_not_found(bench):
    assert bench.get("/plans/99/fact/").status_code == 404


def test_the_day_is_told_beside_its_plan(bench, lots):
    make(plan_for_today(), lots)
    page = plain(bench.get(f"/casts/{Plan.objects.get().cast.number}/worth/").content.decode())
    assert "It was planned to cost " in page and "Planned</th>" in page
    assert "Too few good casts of its kind came before it" in page


def test_a_failed_cast_stands_beside_its_plan(bench, lots):
    plan = plan_for_today()
    cast = post_begin(plan)
    post_charge(cast, [Portion(lots["fresh"], plan.metal_mg)], cast.day)
    post_close(cast, Weights(back_mg=plan.metal_mg - 100, failed=True), cast.day)
    answer = read_part(bench, plan)
    assert "The whole cast failed." in answer.content.decode()
    assert figures(answer)["Pieces, as cast"][1] == "0.00 g"


def test_the_whole_page_leads_to_the_sums_of_both_sides(bench, lots):
    plan = plan_for_today()
    cast = make(plan, lots)
    shown = bench.get(f"/plans/{plan.pk}/fact/").content.decode()
    assert f'href="/plans/{plan.pk}/cost/"' in shown
    assert f'href="/casts/{cast.number}/cost/"' in shown


def test_the_cast_shows_what_was_planned(bench, lots):
    plan = plan_for_today()
    cast = make(plan, lots)
    assert f"/plans/{plan.pk}/fact/?part=1" in bench.get(f"/casts/{cast.number}/").content.decode()
    other = w.cast_metal([(lots["fresh"], 50)], [w.piece("Leaf", 20)], back=30)
    assert "/fact/" not in bench.get(f"/casts/{other.number}/").content.decode()


@pytest.mark.parametrize(
    ("kind", "planned", "happened", "words"),
    [
        ("mass", 1_000, 1_000, "as planned"),
        ("mass", 1_000, 3_500, "2.50 g more"),
        ("money", 5_000_000, 4_000_000, "1.00 less"),
        ("minutes", 60, 0, "1 h less"),
        ("percent", 5_000, 5_250, "2.5 points more"),
        ("mass", None, 5, "–"),
        ("mass", 5, None, "–"),
    ],
)
def test_a_difference_is_said_in_words(kind, planned, happened, words):
    assert say_difference(kind, planned, happened).replace("\N{NO-BREAK SPACE}", " ") == words


def fill_the_report(lots):
    closed, begun, open_plan, dropped = (
        plan_for_today(title) for title in ("Leaves", "Buds", "Pods", "Cones")
    )
    make(closed, lots)
    post_begin(begun)
    drop_plan(dropped)
    return closed


def test_the_report_lists_the_plans_of_a_time(bench, lots):
    closed = fill_the_report(lots)
    answer = bench.get("/reports/plan-and-fact/")
    table = answer.context["document"].tables[0]
    assert [row[0] for row in table.rows] == ["Pods", "Buds", "Leaves"]
    leaves, buds, pods = table.rows[2], table.rows[1], table.rows[0]
    assert leaves[3:7] == (66_480, 68_480, 5_194, 4_965)
    assert leaves[9] == leaves[8] - leaves[7] > 0
    assert leaves[10] == "dearer"
    assert buds[4] is buds[8] is buds[9] is None
    assert pods[1] == "not begun"
    assert table.totals[7:10] == leaves[7:10]
    assert facts_of([closed.pk])[closed.pk].costed is not None


def test_a_time_without_plans_says_so(bench):
    plan_for_today()
    shown = bench.get("/reports/plan-and-fact/", {"from": "2026-01-01", "to": "2026-01-31"})
    assert "No cast was planned for this time." in shown.content.decode()


@pytest.mark.parametrize("ending", ["pdf", "csv", "xlsx"])
def test_the_report_is_taken_away(bench, lots, ending):
    fill_the_report(lots)
    answer = bench.get(f"/reports/plan-and-fact.{ending}")
    assert answer.status_code == 200
    if ending == "csv":
        rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
        assert rows[0][7] == "Cost planned (GBP)"
        assert rows[3][0] == "Leaves"


@pytest.mark.counts
def test_pages_and_report_ask_no_more_of_a_large_studio(bench, lots):
    make(plan_for_today("An earlier one"), lots)
    plan = plan_for_today()
    make(plan, lots)
    # Two flasks are poured in turn, and their order is asked for once.
    make(plan_for_today("Buds", plan.day, "Flask"), lots)
    addresses = [f"/plans/{plan.pk}/fact/", f"/plans/{plan.pk}/fact/?part=1", "/reports/plan-and-fact/"]
    few = [count(bench, address) for address in addresses]
    for number in range(2):
        day = Plan.objects.get(pk=plan.pk).day
        make(plan_for_today(f"Buds {number}", day, f"Flask {number}"), lots)
    assert [count(bench, address) for address in addresses] == few


def count(bench, address):
    with CaptureQueriesContext(connection) as asked:
        assert bench.get(address).status_code == 200
    return len(asked)
