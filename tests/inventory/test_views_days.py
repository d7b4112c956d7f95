"""The page of a casting day and its calendar file."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.core.powder import compute_mix
from inventory.models import CastingDay, DayPractice, Design, Material, Studio
from inventory.posting.planning import drop_plan, note_moment, post_begin, save_plan
from inventory.queries.days import read_day
from inventory.queries.plan_figures import flask_to_fill, slurry_of, work_out
from inventory.queries.plans import PartDraft, draft_of
from tests import calendar_reader as calendar
from tests import workshop as w
from tests.inventory import plans
from tests.support import let_in, text_of

pytestmark = pytest.mark.django_db

POUR = datetime(2026, 11, 14, 18, 30, tzinfo=UTC)
MORNING = datetime(2026, 11, 14, 9, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def studio(client):
    w.make_studio()
    plans.stock()
    let_in(client, User.objects.create_user("Ada"))


def day_of(at=POUR, **changes):
    return plans.plan(day=plans.day_draft(at), **changes).day


def another_flask(day, title="Buds"):
    worked = work_out(
        plans.draft(title=title, flask=plans.flask(title), day=plans.day_draft(day.wish_at)),
        Studio.objects.get(),
    )
    return save_plan(worked, day=day)


def read(client, day, now=MORNING):
    with time_machine.travel(now, tick=False):
        let_in(client, User.objects.get())
        answer = client.get(f"/days/{day.pk}/")
    assert answer.status_code == 200
    return text_of(answer)


def test_what_is_next_stands_large_with_how_long_it_is_until_then(client):
    # Pour at 18:30 after 13 hours: the kiln goes on at 05:30, and is turned up from 370 C at 11:30.
    page = read(client, day_of(), MORNING + timedelta(minutes=30))
    assert "<b data-left>20 min</b>" in page
    assert "<span data-next-clock>09:50</span>" in page
    assert 'data-now="2026-11-14T09:30:00.000+00:00"' in page


def test_what_is_going_on_stands_above_what_is_next(client):
    page = read(client, day_of(), POUR - timedelta(hours=14))
    assert (
        "Since <span data-current-clock>03:30</span>: <span data-current>Let the flasks stand for 2 h."
        in page
    )


def test_after_the_last_thing_nothing_is_left_to_do(client):
    assert "Nothing is left to do on this day" in read(client, day_of(), POUR + timedelta(hours=2))


def test_who_does_each_thing_and_what_happens_at_night_is_pointed_out(client):
    page = read(client, day_of(), POUR - timedelta(hours=20))
    assert "<b>150 °C</b>, by hand, <strong>at night</strong>" in page
    assert "<b>550 °C</b>, by hand</p>" in page
    assert "a kiln is not left alone" in page
    # In the morning it is past, and nobody is asked to be there for it.
    assert "a kiln is not left alone" not in read(client, CastingDay.objects.get())


def test_a_kiln_with_a_program_does_it_by_itself(client):
    kiln = w.kiln()
    kiln.has_program = True
    kiln.save()
    assert "<b>750 °C</b>, by the kiln</p>" in read(client, day_of())


def test_all_flasks_are_there_with_what_to_weigh_out(client):
    day = day_of()
    another_flask(day)
    page = read(client, day)
    assert "2 flasks" in page
    assert page.count("66.48 g Sterling") == 2
    assert "66.48 g: Lot" in page
    assert "/plans/" in page


def test_one_bowl_serves_all_flasks_and_shows_its_working(client):
    day = day_of()
    another_flask(day)
    sheet = read_day(day.pk)
    flask = flask_to_fill(draft_of(sheet.plans[0]))[0]
    mix = compute_mix([flask, flask], slurry_of(w.powder()), 1_000, 1_000)
    assert [bowl.mix.powder_mg for bowl in sheet.bowls] == [mix.powder_mg]
    assert "Powder and water for one mix" in read(client, day)


def test_a_day_with_designs_on_it_is_read_once(django_assert_num_queries):
    leaf, bud = (Design.objects.create(name=name) for name in ("Leaf", "Bud"))
    parts = (PartDraft("L", w.wax(), 800, 1, design=leaf), PartDraft("B", w.wax(), 800, 1, design=bud))
    sheet = read_day(day_of(parts=parts).pk)
    with django_assert_num_queries(0):
        assert [bowl.plans for bowl in sheet.bowls] == [sheet.plans]


def test_each_powder_has_a_bowl_of_its_own(client):
    day = day_of()
    other = Material.objects.create(name="Fine powder", kind="powder", water_per_100_tenths=380)
    save_plan(
        work_out(
            plans.draft(powder=other, flask=plans.flask("Second"), day=plans.day_draft(day.wish_at)),
            Studio.objects.get(),
        ),
        day=day,
    )
    page = read(client, day)
    assert "A bowl for each powder" in page


def test_a_flask_that_is_invested_is_not_in_the_bowl_any_more(client):
    day = day_of()
    cast = post_begin(day.plans.get())
    assert len(read_day(day.pk).bowls_to_mix) == 1
    note_moment(cast, "powder")
    note_moment(cast, "invested")
    assert read_day(day.pk).bowls_to_mix == ()
    assert "All flasks are invested." in read(client, day)


def test_a_begun_cast_is_linked_with_its_clock(client):
    day = day_of()
    cast = post_begin(day.plans.get())
    assert f"/casts/{cast.number}/clock/" in read(client, day)


def test_a_plan_that_was_given_up_counts_for_nothing(client):
    day = day_of()
    drop_plan(day.plans.get())
    page = read(client, day)
    assert "No flask is planned for this day any more" in page
    assert "Given up." in page


def test_a_schedule_without_hours_is_said_and_is_no_fault_of_the_page(client):
    day = day_of()
    day.schedule.steps.all().delete()
    assert "has no hours yet" in read(client, day)
    # Who signed in on the day of the test has been signed out by the day it is run on.
    let_in(client, User.objects.get())
    answer = client.get(f"/days/{day.pk}/calendar.ics")
    assert answer.url == f"/days/{day.pk}/"


def test_that_the_beginning_is_past_is_said_until_the_work_has_begun(client):
    day = day_of()
    assert "which is past" in read(client, day)
    post_begin(day.plans.get())
    assert "which is past" not in read(client, day)


@pytest.mark.parametrize("address", ["/days/99/", "/days/99/calendar.ics", f"/days/{10**25}/"])
def test_an_unknown_day_is_not_found(client, address):
    assert client.get(address).status_code == 404


def test_a_day_with_many_flasks_asks_the_database_no_more(client):
    day = day_of()

    def count():
        with CaptureQueriesContext(connection) as asked:
            assert client.get(f"/days/{day.pk}/").status_code == 200
        return len(asked)

    few = count()
    for number in range(4):
        post_begin(another_flask(day, f"Buds {number}"))
    assert count() == few


def test_in_the_night_in_which_the_clocks_go_back_the_wall_is_right_and_the_firing_keeps_its_hours(client):
    # Pour on Sunday 25 October 2026 at 10:30 GMT, 13 hours after the kiln goes on: 21:30 UTC, 22:30 on the wall.
    day = day_of(datetime(2026, 10, 25, 10, 30, tzinfo=UTC))
    page = read(client, day, datetime(2026, 10, 24, 12, 0, tzinfo=UTC))
    assert 'datetime="2026-10-24T21:30:00+00:00">22:30</time>' in page
    # 00:30 UTC is half past one by summer time, 01:10 UTC ten past one by winter time: the wall shows both hours.
    assert 'datetime="2026-10-25T00:30:00+00:00">01:30 BST</time>' in page
    assert 'datetime="2026-10-25T01:10:00+00:00">01:10 GMT</time>' in page
    assert "The clocks go back by an hour meanwhile." in page
    moments = read_day(day.pk).timetable
    assert moments.find("pour").at - moments.find("kiln-on").at == timedelta(hours=13)


def test_the_calendar_is_a_file_with_the_days_own_name_and_revision(client):
    day = day_of()
    CastingDay.objects.filter(pk=day.pk).update(revision=3)
    DayPractice.objects.create(pk=1, alarm_before_minutes=25)
    answer = client.get(f"/days/{day.pk}/calendar.ics")
    assert answer["Content-Type"].startswith("text/calendar")
    assert answer["Content-Disposition"] == 'attachment; filename="casting-day-2026-11-14.ics"'
    events = calendar.blocks(answer.content, "VEVENT")
    assert {value for event in events for value in calendar.values(event, "SEQUENCE")} == {"3"}
    assert all(calendar.values(event, "UID")[0].startswith(str(day.key)) for event in events)
    alarms = calendar.blocks(answer.content, "VALARM")
    assert {value for alarm in alarms for value in calendar.values(alarm, "TRIGGER")} == {"-PT25M", "P0D"}


def test_a_day_that_was_moved_keeps_its_events_names(client):
    plan = plans.plan(day=plans.day_draft(POUR))
    before = calendar.blocks(client.get(f"/days/{plan.day_id}/calendar.ics").content, "VEVENT")
    later = plans.draft(day=plans.day_draft(POUR + timedelta(hours=2)))
    save_plan(work_out(later, Studio.objects.get(), plan), plan=plan)
    after = calendar.blocks(client.get(f"/days/{plan.day_id}/calendar.ics").content, "VEVENT")
    assert [calendar.values(event, "UID") for event in before] == [
        calendar.values(event, "UID") for event in after
    ]
    assert calendar.values(after[0], "SEQUENCE") == ["1"]
