"""The clock at the bench, the list before the pour, and what was done when."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import CastMoment, ChecklistItem, DayPractice, Equipment, Movement, Studio
from inventory.posting.casting import CastFacts, post_start
from inventory.posting.planning import note_moment, post_begin, save_plan
from inventory.queries.plan_figures import work_out
from tests import workshop as w
from tests.inventory import plans
from tests.support import let_in, text_of

pytestmark = pytest.mark.django_db

START = datetime(2026, 11, 14, 14, 0, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def studio(client):
    w.make_studio()
    with time_machine.travel(START):
        let_in(client, User.objects.create_user("Ada"))


@pytest.fixture
def cast():
    """A cast that nobody planned."""
    return post_start(CastFacts("fern leaves", w.DAY, w.sterling()))


def at(seconds):
    return time_machine.travel(START + timedelta(seconds=seconds), tick=False)


def read(client, cast, page="clock"):
    answer = client.get(f"/casts/{cast.number}/{page}/")
    assert answer.status_code == 200
    return text_of(answer)


def press(client, cast, **typed):
    return client.post(f"/casts/{cast.number}/clock/", typed, follow=True)


def seen(client, cast, seconds):
    """(phase, what is left) of the clock that was started at START, without a script."""
    if not cast.moments.exists():
        note_moment(cast, "powder", at=START)
    with at(seconds):
        page = read(client, cast)
    phase = page.split("data-phase>")[1].split("<")[0]
    return phase, page.split("data-left>")[1].split("<")[0]


def test_before_the_start_there_is_one_thing_to_press_and_the_silica_caution(client, cast):
    with at(0):
        page = read(client, cast)
    assert "Powder is in the water" in page
    assert "Silica dust" in page
    assert page.count('class="press"') == 1


def test_a_press_is_written_down_at_the_servers_time_and_the_first_one_counts(client, cast):
    with at(0):
        press(client, cast, kind="powder")
    with at(30):
        press(client, cast, kind="powder")
    moment = CastMoment.objects.get()
    assert (moment.kind, moment.at, moment.by.username) == ("powder", START, "Ada")


def test_the_page_carries_the_start_and_the_servers_own_now(client, cast):
    note_moment(cast, "powder", at=START)
    with at(70):
        page = read(client, cast)
    assert 'data-start="2026-11-14T14:00:00.000+00:00"' in page
    assert 'data-now="2026-11-14T14:01:10.000+00:00"' in page


@pytest.mark.parametrize(
    ("seconds", "phase", "left"),
    [
        (0, "Mix the powder into the water", "4:00"),
        (239, "Mix the powder into the water", "0:01"),
        (240, "Vacuum on the bowl", "1:00"),
        (310, "Pour into the flask", "0:50"),
        (360, "Vacuum on the flask", "2:00"),
        (480, "Over the working time by", "0:00"),
        (545, "Over the working time by", "1:05"),
        (3 * 3600, "Over the working time by", "172:00"),
    ],
)
def test_the_phase_now_and_what_is_left_of_it(client, cast, seconds, phase, left):
    assert seen(client, cast, seconds) == (phase, left)


def test_a_longer_working_time_on_the_powders_sheet_leaves_time_in_hand(client):
    plans.stock()
    powder = w.powder()
    powder.working_minutes = 9
    powder.save()
    cast = post_begin(plans.plan())
    assert seen(client, cast, 490) == ("Time in hand", "0:50")
    assert seen(client, cast, 541) == ("Over the working time by", "0:01")


def test_a_quicker_powder_gets_the_same_work_in_less_time(client):
    plans.stock()
    powder = w.powder()
    powder.working_minutes = 4
    powder.save()
    cast = post_begin(plans.plan())
    assert seen(client, cast, 0) == ("Mix the powder into the water", "2:00")
    assert seen(client, cast, 241)[0] == "Over the working time by"


def test_a_part_that_the_studio_leaves_out_is_not_shown(client, cast):
    DayPractice.objects.create(pk=1, vacuum_bowl_s=0)
    assert seen(client, cast, 240)[0] == "Pour into the flask"


def test_the_end_says_how_long_it_took_and_when_the_flask_may_go_into_the_kiln(client, cast):
    note_moment(cast, "powder", at=START)
    with at(460):
        press(client, cast, kind="invested")
        page = read(client, cast)
    assert "7 min 40 s, within the working time of 8 min" in page
    assert "Let it stand until <b>Sat 14 Nov, 16:07</b>" in page


def test_over_the_working_time_it_says_by_how_much(client, cast):
    note_moment(cast, "powder", at=START)
    with at(545):
        press(client, cast, kind="invested")
        assert "over the working time by 1 min 5 s" in read(client, cast)


def test_a_press_made_by_mistake_is_taken_back(client, cast):
    with at(0):
        press(client, cast, kind="powder")
        press(client, cast, kind="powder", back="on")
        assert not cast.moments.exists()
        assert "Powder is in the water" in read(client, cast)


def test_the_start_is_not_taken_back_while_the_end_stands(client, cast):
    note_moment(cast, "powder", at=START)
    note_moment(cast, "invested", at=START + timedelta(minutes=7))
    with at(600):
        said = press(client, cast, kind="powder", back="on").content.decode()
    assert "Take that back first." in said
    assert cast.moments.count() == 2


def test_the_end_is_not_pressed_before_the_start(client, cast):
    with at(0):
        assert "Press first when the powder goes" in press(client, cast, kind="invested").content.decode()
    assert not cast.moments.exists()


@pytest.mark.parametrize("kind", ["tick", "", "x" * 500, "pow\x00der"])
def test_nothing_else_can_be_pressed(client, cast, kind):
    with at(0):
        assert press(client, cast, kind=kind).status_code == 422
    assert not cast.moments.exists()


def test_looking_at_the_clock_writes_nothing_down(client, cast):
    with at(0):
        read(client, cast)
        client.head(f"/casts/{cast.number}/clock/")
    assert not cast.moments.exists()


def test_a_browser_never_shows_an_old_clock_from_its_memory(client, cast):
    with at(0):
        assert "no-store" in client.get(f"/casts/{cast.number}/clock/")["Cache-Control"]


@pytest.mark.parametrize("page", ["clock", "checks"])
def test_a_closed_cast_has_neither_clock_nor_list(client, page):
    silver = w.buy(w.grain(), w.g(100), 90)
    closed = w.cast_metal([(silver, 60)], [w.piece("Leaf", 40)], back=20)
    with at(0):
        for ask in (client.get, client.post):
            assert ask(f"/casts/{closed.number}/{page}/").url == f"/casts/{closed.number}/"
    assert not closed.moments.exists()


@pytest.mark.parametrize("address", ["/casts/99/clock/", "/casts/99/checks/"])
def test_an_unknown_cast_is_not_found(client, address):
    with at(0):
        assert client.get(address).status_code == 404
        assert client.post(address, {"kind": "powder"}).status_code == 404


def test_a_press_moves_no_stock(client, cast):
    before = Movement.objects.count()
    with at(0):
        press(client, cast, kind="powder")
    assert Movement.objects.count() == before


# The list before the pour


@pytest.fixture
def checklist():
    for place, (text, when) in enumerate(
        [("Face shield on", "always"), ("No flux", "graphite"), ("Gauge over 27 inHg", "pump")]
    ):
        ChecklistItem.objects.create(text=text, when=when, place=place)


def tick(client, cast, line, **typed):
    return client.post(f"/casts/{cast.number}/checks/", {"line": line, **typed}, follow=True)


def test_only_the_lines_that_apply_are_on_the_list(client, cast, checklist):
    with at(0):
        page = read(client, cast, "checks")
        assert "Face shield on" in page
        assert "No flux" not in page
        cast.crucible = plans.crucible()
        cast.pump = Equipment.objects.create(kind="pump", name="Pump")
        cast.save()
        page = read(client, cast, "checks")
    assert "No flux" in page
    assert "Gauge over 27 inHg" in page
    assert "0 of 3 ticked" in page


def test_a_line_is_ticked_with_its_time_and_taken_back(client, cast, checklist):
    with at(0):
        page = tick(client, cast, "Face shield on").content.decode()
        assert "1 of 1 ticked" in page
        assert 'aria-pressed="true"' in page
        moment = cast.moments.get()
        assert (moment.kind, moment.text, moment.at) == ("tick", "Face shield on", START)
        tick(client, cast, "Face shield on", back="on")
    assert not cast.moments.exists()


def test_a_line_that_is_not_on_the_list_cannot_be_ticked(client, cast, checklist):
    with at(0):
        assert "no longer on the list" in tick(client, cast, "Something else").content.decode()
    assert not cast.moments.exists()


def test_what_was_ticked_stays_when_the_line_goes_from_the_list(client, cast, checklist):
    note_moment(cast, "tick", "Face shield on", at=START)
    ChecklistItem.objects.all().delete()
    with at(0):
        assert "Face shield on" in read(client, cast, "checks")


def test_an_empty_list_leads_to_the_set_up_and_the_pour_is_never_in_its_way(client, cast):
    with at(0):
        page = read(client, cast, "checks")
    assert "/setup/checklist/" in page
    assert f"/casts/{cast.number}/pour/" in page


def test_a_line_from_a_person_is_shown_as_text(client, cast):
    ChecklistItem.objects.create(text="<b>Look</b> & 'see'")
    with at(0):
        assert "&lt;b&gt;Look" in read(client, cast, "checks")
        tick(client, cast, "<b>Look</b> & 'see'")
    assert cast.moments.get().text == "<b>Look</b> & 'see'"


# The cast's own page


def test_the_cast_says_what_was_done_when_also_without_a_plan(client, cast):
    note_moment(cast, "powder", at=START)
    note_moment(cast, "tick", "Face shield on", at=START + timedelta(hours=4))
    with at(0):
        page = text_of(client.get(f"/casts/{cast.number}/"))
    assert "Powder in the water: Sat 14 Nov, 14:00" in page
    assert "Before the pour, Face shield on: Sat 14 Nov, 18:00" in page
    assert f"/casts/{cast.number}/clock/" in page


def test_the_step_of_the_pour_links_the_list(client, cast):
    with at(0):
        assert "The list before the pour" in client.get(f"/casts/{cast.number}/pour/").content.decode()


@pytest.mark.parametrize("page", ["clock", "checks"])
def test_many_ticks_ask_the_database_no_more(client, cast, page):
    def count():
        with at(0), CaptureQueriesContext(connection) as asked:
            read(client, cast, page)
        return len(asked)

    note_moment(cast, "powder", at=START)
    note_moment(cast, "tick", "One", by=User.objects.get(), at=START)
    few = count()
    for number in range(10):
        ChecklistItem.objects.create(text=f"Line {number}")
        note_moment(cast, "tick", f"Line {number}", by=User.objects.get(), at=START)
    assert count() == few


def test_two_presses_time_the_melt_and_each_can_be_taken_back(client, cast):
    with at(0):
        assert "Metal is in the crucible" in read(client, cast, "checks")
        assert "Press first when the metal goes in." in text_of(press(client, cast, kind="poured"))
        press(client, cast, kind="metal")
    with at(540):
        page = text_of(press(client, cast, kind="poured"))
        assert "Metal in at 14:00, poured at 14:09: 9 min." in page
        assert "The pour is written down." in text_of(press(client, cast, kind="metal", back="on"))
        press(client, cast, kind="poured", back="on")
        assert "It is poured" in text_of(press(client, cast, kind="metal"))
        press(client, cast, kind="metal", back="on")
    assert not CastMoment.objects.exists()


def test_the_clock_says_what_goes_into_the_bowl_and_that_several_are_mixed_in_turn(client):
    plans.stock()
    plan = plans.plan(day=plans.day_draft(START))
    buds = save_plan(
        work_out(plans.draft(title="Buds", flask=plans.flask("Buds")), Studio.objects.get()), day=plan.day
    )
    cast = post_begin(plan)
    with at(0):
        shared = read(client, cast)
    both = (plan.powder_mg + buds.powder_mg) // 1_000
    assert f"{both:,} g Investment powder into" in shared and "for Fern leaves and Buds" in shared
    DayPractice.objects.create(pk=1, bowl_powder_mg=300_000)
    with at(0):
        page = read(client, cast)
    assert "3 mixes of Investment powder in turn." in page
    assert page.count("<b>202.00 g</b> into <b>80.80 g</b> of water") == 3
