"""Plans: what they work out, what they hold, and how one becomes a cast."""

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

import pytest
from django.utils import timezone

from inventory.core.schedule import ScheduleStep
from inventory.models import CastingDay, CastMoment, DayPractice, Lot, Movement, Plan, PlanPortion, Studio
from inventory.posting.casting import Portion, post_charge
from inventory.posting.casting_records import assign_firing
from inventory.posting.planning import (
    change_charge,
    drop_plan,
    note_moment,
    post_begin,
    save_plan,
    set_hold,
    take_up_plan,
)
from inventory.posting.refusal import Refused
from inventory.posting.setup import write_composition, write_steps
from inventory.posting.unpoured import remove_begun
from inventory.queries.plan_figures import work_out
from inventory.queries.plan_outlook import KeptCharge, KeptLine, check_enough, read_kept_charge
from inventory.queries.plans import PartDraft, draft_of, find_plan
from inventory.queries.shelf import promised
from tests import workshop as w
from tests.inventory import plans

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def lots():
    w.make_studio()
    return plans.stock()


def work(**changes):
    return work_out(plans.draft(**changes), Studio.objects.get())


def test_the_metal_is_the_volume_of_the_tree_at_the_density_of_the_metal_and_the_button():
    # 5.60 g of wax at 0.96 g/cm3 in sterling of 10.36 g/cm3, and 10 % for the button: by hand.
    exact = Fraction(5_600) * Fraction(10_360, 960) * Fraction(11, 10)
    assert work().metal.needed_mg == round(exact) == 66_477


def test_the_charge_goes_up_to_the_next_step_of_the_scale():
    assert work().metal.charge_mg == 66_480


def test_a_stem_of_wax_and_a_piece_of_pla_are_each_reckoned_at_their_own_density():
    pla = w.wax().__class__.objects.create(name="PLA", kind="pattern", density_mg_cm3=1240)
    parts = (PartDraft("Pod", pla, 2_480), PartDraft("Stem", w.wax(), 960, is_piece=False))
    assert work(parts=parts, button_pct100=0).metal.needed_mg == 3 * 10_360


def test_the_same_tree_in_bronze_is_one_change():
    w.buy(w.grain(w.bronze()), w.g(200), 20)
    assert work(alloy=w.bronze(), button_pct100=0).metal.needed_mg == round(Fraction(5_600) * 8_770 / 960)


def test_the_charge_leaves_the_metal_needed_when_what_past_casts_lost_is_gone(lots):
    w.cast_metal([(lots["fresh"], 100)], [w.piece("Leaf", 40)], back="59")
    worked = work()
    # 1 g of 100 g was lost: 66.477 g are 99 parts of 100 of the charge.
    assert worked.metal.loss_mg == 671
    assert worked.metal.charge_mg == 67_150


def test_powder_and_water_fill_the_flask_less_the_tree_and_the_over_mix():
    worked = work()
    # 441.786 ml less 5.833 ml, at 1.262 g of powder in each, and 10 %: by hand to the gram.
    assert abs(worked.powder.mix.powder_mg - 605_190) < 1_000
    assert worked.powder.mix.water_mg * 100 == pytest.approx(worked.powder.mix.powder_mg * 40, abs=100)


def test_a_damp_lot_of_powder_is_not_offered_and_says_why(lots):
    lots["powder"].damp_on = w.DAY
    lots["powder"].save()
    worked = work()
    assert "has been damp since" in worked.powder.suggestion.problem
    assert [need.label for need in worked.needs if need.short] == ["Investment powder"]


def test_everything_is_here_or_the_plan_says_what_is_short(lots):
    assert check_enough(work()).said == "All that it needs is here"
    big = (PartDraft("Leaf", w.wax(), 30_000, 4),)
    short = next(need for need in work(parts=big).needs if need.label == "Sterling")
    assert short.short_mg == short.wanted_mg - 200_000
    assert "short." in short.sentence
    assert check_enough(work(parts=big)).said == "Not everything is here"


def test_what_is_said_of_the_whole_agrees_with_its_lines(lots):
    # All of the fresh metal has been cast: 159 g of clean reclaim is enough in grams, and half must be fresh.
    w.cast_metal([(lots["fresh"], 200)], [w.piece("Leaf", 40)], back=159)
    enough = check_enough(work())
    assert enough.said == "The metal that is here makes no charge"
    (metal,) = enough.lacks
    assert metal.sentence.endswith("159.00\xa0g here, but no charge of it keeps your rules.")


def test_a_charge_that_was_chosen_by_hand_is_enough_where_none_can_be_proposed(lots):
    plan = plans.plan()
    w.cast_metal([(lots["fresh"], 200 - 30)], [w.piece("Leaf", 30)], back=139)
    reclaim = Lot.objects.get(origin="clean")
    worked = work_out(draft_of(plan), Studio.objects.get(), plan)
    assert check_enough(worked).said == "The metal that is here makes no charge"
    change_charge(plan, {lots["fresh"].pk: 20_000, reclaim.pk: worked.metal.charge_mg - 20_000})
    kept = read_kept_charge(find_plan(plan.pk), worked)
    assert check_enough(worked, kept).is_all_here


def test_a_plans_charge_adds_up_as_it_is_shown():
    lines = [
        KeptLine(place, "", mass, cost, "")
        for place, mass, cost in ((1, 1_005, 3_333_333), (2, 1_005, 3_333_333))
    ]
    kept = KeptCharge(tuple(lines), None, True)
    assert [shown for _, *shown in kept.lines_shown] == [[1_010, 3_340_000], [1_000, 3_330_000]]


def test_a_plan_holds_what_it_means_to_use_and_no_other_plan_may_count_on_it(lots):
    first = plans.plan()
    held = promised()
    assert held[lots["fresh"].pk] == first.metal_mg
    worked = work()
    metal = next(need for need in worked.needs if need.label == "Sterling")
    assert metal.free_mg == 200_000 - first.metal_mg
    assert promised(first) == {}


def test_a_hold_is_not_a_movement():
    before = Movement.objects.count()
    plans.plan()
    assert Movement.objects.count() == before


def test_a_hold_is_let_go_by_hand_and_taken_again(lots):
    plan = plans.plan()
    set_hold(plan, False)
    assert promised() == {}
    set_hold(plan, True)
    assert lots["fresh"].pk in promised()


def test_a_plan_that_is_given_up_holds_nothing_and_cannot_begin():
    plan = plans.plan()
    drop_plan(plan)
    assert promised() == {}
    with pytest.raises(Refused, match="given up"):
        post_begin(plan)


def test_a_plan_that_was_given_up_is_taken_up_again_without_its_hold(lots):
    plan = plans.plan()
    drop_plan(plan)
    before = CastingDay.objects.get(pk=plan.day_id).revision
    take_up_plan(plan)
    plan.refresh_from_db()
    assert plan.is_open and promised() == {}
    assert CastingDay.objects.get(pk=plan.day_id).revision == before + 1
    set_hold(plan, True)
    assert lots["fresh"].pk in promised()
    post_begin(plan)


def test_only_a_plan_that_was_given_up_is_taken_up():
    plan = plans.plan()
    with pytest.raises(Refused, match="not given up"):
        take_up_plan(plan)
    post_begin(plan)
    with pytest.raises(Refused, match="not given up"):
        take_up_plan(plan)


def test_a_plan_becomes_a_cast_and_its_hold_ends_with_the_charge(lots):
    plan = plans.plan()
    cast = post_begin(plan)
    plan.refresh_from_db()
    assert (plan.cast, cast.title, cast.flask) == (cast, "Fern leaves", plans.flask())
    assert promised()[lots["fresh"].pk] == plan.metal_mg
    post_charge(cast, [Portion(lots["fresh"], plan.metal_mg)], cast.day)
    assert lots["fresh"].pk not in promised()
    assert lots["powder"].pk in promised()


def test_a_plan_whose_cast_is_removed_waits_and_holds_and_begins_again(lots):
    plan = plans.plan()
    remove_begun(post_begin(plan))
    plan.refresh_from_db()
    assert plan.cast is None and promised()[lots["fresh"].pk] == plan.metal_mg
    assert post_begin(plan).title == "Fern leaves"


def test_a_plan_begins_once():
    plan = plans.plan()
    post_begin(plan)
    with pytest.raises(Refused, match="begun"):
        post_begin(plan)


def test_a_plan_is_read_back_as_it_was_said():
    plan = Plan.objects.get(pk=plans.plan().pk)
    said, again = plans.draft(), draft_of(plan)
    assert (again.title, again.parts, again.button_pct100) == (said.title, said.parts, said.button_pct100)


def test_a_plan_that_is_changed_keeps_its_day_and_tells_calendars(lots):
    plan = plans.plan()
    later = plans.draft(
        title="Fern leaves and buds", day=plans.day_draft(plan.day.wish_at + timedelta(hours=1))
    )
    changed = save_plan(work_out(later, Studio.objects.get(), plan), plan=plan)
    assert (changed.pk, changed.day_id) == (plan.pk, plan.day_id)
    changed.day.refresh_from_db()
    assert changed.day.revision == 1
    assert changed.parts.count() == 2
    assert promised()[lots["fresh"].pk] == changed.metal_mg
    # Saved once more as it is, nothing of the day is another.
    save_plan(work_out(later, Studio.objects.get(), changed), plan=changed)
    assert CastingDay.objects.get().revision == 1


def test_an_alloy_of_other_parts_tells_the_calendars_of_its_days():
    """Its metal melts otherwise, and with it the times of the day."""
    day = plans.plan().day
    for parts in ({"Ag": 9250, "Cu": 600, "Zn": 150}, {"Ag": 9250, "Cu": 750}):
        write_composition(w.sterling(), parts)
    assert {part.element: part.per_10000 for part in w.sterling().parts.all()} == parts
    day.refresh_from_db()
    assert day.revision == 2


def test_a_schedule_written_again_as_it_was_moves_no_calendar():
    day = plans.plan().day
    for hold_minutes, revision in ((60, 0), (61, 1)):
        steps = [
            ScheduleStep(one.target_c, one.climb_minutes, hold_minutes=one.hold_minutes)
            for one in day.schedule.steps.all()
        ]
        write_steps(day.schedule, [*steps[:-1], replace(steps[-1], hold_minutes=hold_minutes)])
        day.refresh_from_db()
        assert day.revision == revision


def test_the_charge_can_be_changed_and_keeps_powder_and_wax(lots):
    plan = plans.plan()
    change_charge(plan, {lots["fresh"].pk: 70_000})
    assert promised()[lots["fresh"].pk] == 70_000
    assert set(plan.portions.values_list("use", flat=True)) == {"metal", "powder", "pattern"}


def test_a_charge_that_a_lot_does_not_hold_is_refused_and_changes_nothing(lots):
    plan = plans.plan()
    with pytest.raises(Refused, match="does not hold"):
        change_charge(plan, {lots["fresh"].pk: 200_001})
    assert PlanPortion.objects.get(plan=plan, use="metal").quantity == plan.metal_mg


def test_several_flasks_stand_in_one_firing_each_with_its_own_charge():
    first = plans.plan()
    second = save_plan(
        work_out(plans.draft(title="Buds", flask=plans.flask("Second")), Studio.objects.get()), day=first.day
    )
    assert second.day == first.day
    assert [plan.title for plan in first.day.plans.order_by("id")] == ["Fern leaves", "Buds"]


def test_copper_is_kept_to_alloy_with_where_the_alloy_is_known_to_hold_it():
    sterling, fine = w.sterling(), w.fine_silver()
    copper = w.bronze().__class__.objects.create(name="Copper", metal="base", density_mg_cm3=8960)
    for alloy, elements in (
        (sterling, {"Ag": 9250, "Cu": 750}),
        (fine, {"Ag": 10_000}),
        (copper, {"Cu": 10_000}),
    ):
        for element, share in elements.items():
            alloy.parts.create(element=element, per_10000=share)
    w.buy(w.grain(fine), w.g(100), 90)
    w.buy(w.grain(copper), w.g(100), 2)
    w.buy(w.grain(w.bronze()), w.g(100), 2)
    labels = {lot.label.split(", ")[1] for lot in work().shelf}
    assert labels == {"Sterling grain", "Fine silver grain", "Copper grain"}
    # None of it is sterling before it is in the crucible: the 200 g of sterling are all that is here.
    metal = check_enough(work()).needs[0]
    assert (metal.held_mg, metal.alloyed_mg) == (200_000, 0)
    # Four leaves of 4.50 g and the stem: 242.2 g, of which copper and fine silver make what is missing.
    metal = check_enough(work(parts=(*plans.draft().parts, PartDraft("Pod", w.wax(), 14_800)))).needs[0]
    assert metal.alloyed_mg == metal.wanted_mg - 200_000 > 0
    assert metal.sentence.endswith("of other metal to alloy it from: enough.")


def test_a_moment_is_written_once_with_the_first_press():
    cast = post_begin(plans.plan())
    first = note_moment(cast, CastMoment.Kind.POWDER, at=timezone.now() - timedelta(minutes=2))
    again = note_moment(cast, CastMoment.Kind.POWDER)
    assert again == first == cast.moments.get()


def test_the_practice_of_the_studio_is_what_a_plan_starts_from():
    DayPractice.objects.create(pk=1, over_mix_pct100=0)
    assert work().powder.mix.powder_mg < 560_000


def test_powder_is_planned_in_whole_grams_as_it_is_weighed():
    mix = work().powder.mix
    assert mix.powder_mg % 1_000 == 0
    last = mix.working.steps[-1]
    assert (last.text, last.result) == (
        "as it is weighed, flask by flask",
        "606.00\xa0g powder, 242.40\xa0g water",
    )


def test_a_recorded_firing_settles_the_casting_day_of_its_plan():
    plan = plans.plan()
    cast = post_begin(plan)
    assign_firing(cast, w.fire())
    plan.day.refresh_from_db()
    assert plan.day.firing == cast.firing
    with pytest.raises(Refused, match="has been recorded"):
        save_plan(work(title="Buds"), day=plan.day)


def test_a_quicker_powder_is_invested_in_the_time_that_its_sheet_gives():
    def investing(powder):
        moments = work(powder=powder).timetable.moments
        return moments[4].at - moments[0].at

    assert investing(w.powder()) == timedelta(minutes=8)
    quick = w.powder()
    quick.working_minutes = 6
    quick.save()
    assert investing(quick) == timedelta(minutes=6)
