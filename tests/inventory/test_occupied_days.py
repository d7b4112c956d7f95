"""Days that want the same kiln or flask: said where they are planned, and moved with one press to where they fit."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from django.utils import timezone

from inventory.core.occupied import QUARTER, find_clashes
from inventory.models import CastingDay, Equipment, Firing, Plan, Studio
from inventory.posting.moving import move_day
from inventory.posting.planning import drop_plan, post_begin, save_plan, take_up_plan
from inventory.posting.refusal import Refused
from inventory.queries.days import read_day
from inventory.queries.occupied import Taken, clashes_of, first_twice
from inventory.queries.plan_figures import work_out
from inventory.queries.plans import find_plan
from tests import workshop as w
from tests.inventory import plans
from tests.inventory.test_views_plans import typed
from tests.support import let_in, once, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def lots():
    w.make_studio()
    return plans.stock(fresh="2000", powder="40000", wax="1000")


@pytest.fixture
def bench(client):
    let_in(client, User.objects.create_user("Ada"))
    return client


def ahead(hours=0, days=3):
    """A pour some days from now, at a full hour."""
    now = timezone.now().replace(minute=0, second=0, microsecond=0)
    return now + timedelta(days=days, hours=hours)


def plan_at(at, title, flask=None):
    """A firing of thirteen hours, in a flask and cup of its own."""
    own = flask or plans.flask(title)
    return plans.plan(title=title, day=plans.day_draft(at), flask=own, crucible=None)


def clashes(plan):
    return clashes_of(find_plan(plan.pk))


def test_two_days_on_one_kiln_are_told_apart_and_one_press_moves_one_to_where_it_fits(bench):
    leaves, buds = plan_at(ahead(), "Leaves"), plan_at(ahead(2), "Buds")
    page = text_of(bench.get(f"/plans/{buds.pk}/"))
    assert "Small kiln is taken by Leaves from" in page and "Move this day to" in page
    assert "The nearest time that is free" in page
    home = text_of(bench.get("/"))
    assert "Small kiln is wanted for Leaves and for Buds at once" in home and f"/days/{buds.day_id}/" in home
    found = clashes(buds)
    # Eleven hours later the kiln is free; a quarter of an hour more while somebody is at the bench for the other.
    assert (
        found.quarters in (44, 45, 46, 47, 48)
        and found.free_at == buds.day.wish_at + found.quarters * QUARTER
    )
    address = f"/days/{buds.day_id}/move/"
    press = {"quarters": str(found.quarters), "revision": str(buds.day.revision), **once()}
    answer = bench.post(address, press, follow=True)
    assert "The day is moved: pour at" in text_of(answer) and "is taken by" not in text_of(answer)
    buds.day.refresh_from_db()
    assert (buds.day.wish_at, buds.day.revision) == (found.free_at, 1)
    assert (
        not clashes(buds).lines and not clashes(leaves).lines and first_twice(Taken(timezone.now())) is None
    )
    assert find_clashes(Taken(ahead()).spans) == ()
    # Pressed on a page that is old by now.
    late = bench.post(address, press | once())
    assert late.status_code == 422 and "This day was changed meanwhile." in text_of(late)


@time_machine.travel(datetime(2026, 11, 10, 9, 0, tzinfo=UTC), tick=False)
def test_where_the_nearest_time_takes_the_night_the_nearest_that_lets_one_sleep_is_offered_first(bench):
    w.kiln()
    Equipment.objects.filter(kind="kiln").update(has_program=True)
    at = datetime(2026, 11, 14, 14, 30, tzinfo=UTC)
    plan_at(at, "Leaves")
    buds = plan_at(at, "Buds")
    CastingDay.objects.update(standing_minutes=600)
    found = clashes(buds)
    assert found.by_night and found.quiet_at and abs(found.quiet_at - at) > abs(found.free_at - at)
    page = text_of(bench.get(f"/plans/{buds.pk}/"))
    assert "only if your local rules and its maker let it be left alone" in page
    assert page.index(f'value="{found.quiet_quarters}"') < page.index(f'value="{found.quarters}"')
    move_day(buds.day, found.quiet_quarters, 0)
    assert not clashes(buds).lines
    sheet = read_day(buds.day_id)
    assert sheet.day.wish_at == found.quiet_at
    assert not any(line.at_night for line in sheet.lines if line.by_whom == "by hand")


def test_what_another_day_takes_is_said_in_one_breath():
    for title in ("Leaves", "Buds"):
        plans.plan(title=title, day=plans.day_draft(ahead()))
    (said,) = clashes(Plan.objects.get(title="Buds")).lines
    assert said.sentence.startswith("Small kiln is taken by Leaves from ")
    assert said.sentence.endswith(" So are Flask 75 x 100 and Graphite cup.")


def test_what_does_not_fit_any_more_is_refused_and_changes_nothing(bench):
    plan_at(ahead(), "Leaves")
    buds = plan_at(ahead(1), "Buds")
    found = clashes(buds)
    plan_at(found.free_at, "Pods")
    with pytest.raises(Refused, match="does not fit there any more. Small kiln is taken by Pods"):
        move_day(buds.day, found.quarters, 0)
    with pytest.raises(Refused, match="begun in the past"):
        move_day(buds.day, -4 * 24 * 7, 0)
    post_begin(buds)
    with pytest.raises(Refused, match="work of this day has begun"):
        move_day(buds.day, 4 * 24 * 5, 0)
    assert "it is not moved as a whole" in text_of(bench.get(f"/days/{buds.day_id}/"))
    buds.day.refresh_from_db()
    assert (buds.day.wish_at, buds.day.revision) == (ahead(1), 0)


@pytest.mark.parametrize(
    "typed_in", [{}, {"quarters": "x", "revision": "0"}, {"quarters": "9999", "revision": "-1"}]
)
def test_a_press_that_cannot_be_read_is_refused_with_one_sentence(bench, typed_in):
    day = plan_at(ahead(), "Leaves").day
    answer = bench.post(f"/days/{day.pk}/move/", typed_in | once())
    assert answer.status_code == 422 and text_of(answer).count("This page has been open too long.") == 1


def test_a_flask_cannot_stand_in_one_firing_twice():
    first = plan_at(ahead(), "Leaves")
    studio = Studio.objects.get()
    again = plans.draft(title="Buds", flask=first.flask)
    with pytest.raises(Refused, match="cannot stand in one firing twice: Leaves is taken by Leaves"):
        save_plan(work_out(again, studio), day=first.day)
    second = save_plan(work_out(plans.draft(title="Buds"), studio), day=first.day)
    with pytest.raises(Refused, match="twice"):
        save_plan(work_out(again, studio, second), plan=second)
    assert Plan.objects.get(title="Buds").flask == plans.flask()
    drop_plan(first)
    save_plan(work_out(again, studio, second), plan=second)
    with pytest.raises(Refused, match="twice"):
        take_up_plan(first)


def test_one_crucible_in_a_day_is_used_in_turn(bench):
    day = plans.plan(title="Leaves").day
    save_plan(work_out(plans.draft(title="Buds", flask=plans.flask("Second")), Studio.objects.get()), day=day)
    said = "Graphite cup is used in turn: Leaves, then Buds."
    assert said in text_of(bench.get(f"/days/{day.pk}/"))
    assert said in text_of(bench.get(f"/plans/{day.plans.last().pk}/"))


def test_the_sums_say_what_is_taken_and_offer_pours_that_let_one_sleep(bench):
    plan_at(ahead(), "Leaves")
    wall = timezone.localtime(ahead(1)).strftime("%Y-%m-%dT%H:%M")
    page = text_of(bench.post("/plans/sums/", typed(wish_at=wall)))
    assert "Small kiln is taken by Leaves from" in page and "The nearest time that is free" in page
    assert "Pour when, so that you sleep?" in page
    # Twelve hours of night, and hands over fifteen hours: no pour misses it.
    assert "There is no pour that leaves your night alone" in page
    # Turned by a program, and the flasks standing over night, only evening and day are by hand.
    kiln = w.kiln()
    kiln.has_program = True
    kiln.save()
    page = text_of(bench.post("/plans/sums/", typed(wish_at=wall, standing="600")))
    offered = page.split('name="take" value="')[1].split('"')[0]
    shown = bench.post("/plans/new/", typed(wish_at=wall, standing="600", take=offered))
    assert shown.status_code == 200 and f'value="{offered}"' in text_of(shown)
    assert Plan.objects.count() == 1, "an offer that is taken saves nothing"


def test_a_firing_of_the_day_that_belongs_to_no_plan_is_told():
    plan = plan_at(timezone.now() + timedelta(hours=1), "Leaves")
    w.fire(day=timezone.localdate())
    (remark,) = clashes(plan).remarks
    assert "is written down for" in remark and "choose it in the step of its cast" in remark


def test_what_was_fired_leaves_the_kiln_free_and_what_is_on_does_not():
    leaves, buds = plan_at(ahead(), "Leaves"), plan_at(ahead(1), "Buds")
    firing = w.fire()
    leaves.day.firing = firing
    leaves.day.save()
    assert clashes(buds).lines == ()
    firing.minutes, firing.begun_at = None, timezone.now()
    firing.save()
    assert clashes(buds).lines and clashes(leaves).lines and not clashes(leaves).quarters
    # On, and of no plan.
    leaves.day.firing = None
    leaves.day.save()
    Firing.objects.update(day=timezone.localdate())
    soon = plan_at(timezone.now() + timedelta(hours=1), "Pods")
    assert clashes(soon).remarks == (f"Small kiln is on for firing {firing.pk}, which belongs to no plan.",)
