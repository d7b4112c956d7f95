"""A firing that has begun and not ended: kiln on with the meter, casts in it meanwhile, ended by meter and time."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from inventory.models import Cast, CastingDay, Equipment, Firing, Lot, Studio
from inventory.posting.casting_records import FiringRecord, assign_firing, mend_cast, strike_out_firing
from inventory.posting.kiln_logs import follow_firing
from inventory.posting.planning import post_begin, save_plan
from inventory.posting.refusal import Refused
from inventory.posting.setup import put_in_firing
from inventory.posting.turning import note_turn, take_back_turn
from inventory.queries.firing import KilnRecords
from inventory.queries.kiln_curves import read_rates
from inventory.queries.plan_figures import work_out
from tests import workshop as w
from tests.inventory import kiln_logs, plans
from tests.support import let_in, problems, words_of

pytestmark = pytest.mark.django_db

POUR = datetime(2026, 11, 14, 18, 30, tzinfo=UTC)
KILN_ON = POUR - timedelta(hours=13)


@pytest.fixture(autouse=True)
def day(client):
    w.make_studio()
    w.set_prices()
    plans.stock()
    let_in(client, User.objects.create_user("Ada"))
    return plans.plan(day=plans.day_draft(POUR)).day


def go(client, now, address, **said):
    with time_machine.travel(now, tick=False):
        let_in(client, User.objects.get())
        return client.post(address, said) if said else client.get(address)


def begin(client, day):
    """The cast of the day, begun before the kiln went on with the meter at 1,200 kWh."""
    cast = post_begin(day.plans.get())
    go(client, KILN_ON, f"/days/{day.pk}/turn/", place=0, meter="1200")
    return Cast.objects.get(pk=cast.pk)


def test_kiln_on_with_the_meter_begins_a_firing_that_is_ended_by_time_and_meter(client, day):
    cast = begin(client, day)
    firing = Firing.objects.get()
    assert (firing.minutes, firing.begun_at, firing.meter_before_wh) == (None, KILN_ON, 1_200_000)
    assert cast.firing == CastingDay.objects.get().firing == firing
    assert "The kiln is on: firing" in words_of(go(client, KILN_ON, f"/days/{day.pk}/"))
    # The turns go on meanwhile.
    go(client, KILN_ON + timedelta(minutes=50), f"/days/{day.pk}/turn/", place=1)
    assert CastingDay.objects.get().turns.count() == 2
    go(client, POUR + timedelta(minutes=9), f"/firings/{firing.pk}/end/", clock="18:35", meter="1212.4")
    firing.refresh_from_db()
    assert (firing.minutes, firing.meter_after_wh) == (13 * 60 + 5, 1_212_400)
    assert "It was fired" in words_of(go(client, POUR, f"/days/{day.pk}/"))
    assert problems() == []


def test_nothing_breaks_while_it_runs_and_what_it_used_is_said_to_be_unknown(client, day):
    cast = begin(client, day)
    firing = Firing.objects.get()
    page = words_of(go(client, POUR, f"/firings/{firing.pk}/"))
    assert "still running since Sat 14 Nov, 05:30" in page
    assert "the kiln is still running" in page
    assert "still running" in words_of(go(client, POUR, f"/casts/{cast.number}/"))
    for address in (
        "/firings/", f"/firings/{firing.pk}/edit/", "/", "/setup/equipment/", f"/casts/{cast.number}/firing/",
        f"/plans/{day.plans.get().pk}/", f"/plans/{day.plans.get().pk}/fact/",
    ):  # fmt: skip
        assert go(client, POUR, address).status_code in (200, 302), address
    last = w.fire(day=POUR.date() + timedelta(days=1))
    records = KilnRecords([firing.kiln_id], first=last.day)
    assert records.minutes_before(firing.kiln_id, (last.day, last.pk)) == 0
    assert records.energy_of(firing).problem


def test_a_cast_that_is_closed_in_a_running_firing_costs_no_energy_yet(client):
    from costing.queries.costed import cost_casts

    cast = w.cast_metal([(Lot.objects.get(material__kind="metal"), 20)], [w.piece("Leaf", 12)], back=8)
    running = Firing.objects.create(kiln=w.kiln(), day=cast.day, begun_at=KILN_ON, meter_before_wh=5)
    Cast.objects.filter(pk=cast.pk).update(firing=running)
    costed = cost_casts([cast.pk])[cast.pk]
    assert costed.use.energy_micro == 0
    assert "What the firing used is not known" in words_of(go(client, POUR, f"/casts/{cast.number}/cost/"))


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"clock": "05:30"}, "It went on Sat 14 Nov, 05:30: write a time after that."),
        ({"clock": "18:25", "meter": "1100"}, "A meter does not run backwards."),
        ({"clock": "18:3x"}, "This time cannot be read."),
    ],
)
def test_an_end_that_cannot_be_is_refused_beside_its_field(client, day, said, words):
    begin(client, day)
    firing = Firing.objects.get()
    answer = go(client, POUR, f"/firings/{firing.pk}/end/", **said)
    assert answer.status_code == 422
    assert words in words_of(answer)
    assert Firing.objects.get().is_running


def test_a_firing_ends_once_and_its_turns_stand_then(client, day):
    begin(client, day)
    firing = Firing.objects.get()
    for _ in range(2):
        answer = go(client, POUR, f"/firings/{firing.pk}/end/", meter="1212")
    assert "This firing has ended already." in words_of(answer)
    answer = go(client, POUR, f"/days/{day.pk}/turn/", place=0, back="on")
    assert "its times stand" in words_of(answer)


def test_kiln_on_pressed_by_mistake_takes_its_firing_back(day):
    note_turn(day, 0, 85, KILN_ON, meter_wh=7)
    assert Firing.objects.count() == 1
    take_back_turn(day, 0)
    assert not Firing.objects.exists()
    assert CastingDay.objects.get().firing is None


def test_a_cast_in_a_firing_that_was_begun_for_another_day_stays_in_it(day):
    """Kiln on, pressed and taken back without a meter, is no reason to strike out what somebody else began."""
    note_turn(day, 0, 85, KILN_ON)
    running = Firing.objects.create(kiln=w.kiln(), day=POUR.date(), begun_at=KILN_ON - timedelta(hours=1))
    assign_firing(post_begin(day.plans.get()), running)
    take_back_turn(day, 0)
    assert Cast.objects.get().firing == running


def test_a_kiln_runs_one_firing_at_a_time(client, day):
    Firing.objects.create(kiln=w.kiln(), day=POUR.date(), begun_at=KILN_ON - timedelta(hours=20))
    answer = go(client, KILN_ON, f"/days/{day.pk}/turn/", place=0, meter="1200")
    assert answer.status_code == 422
    assert "Small kiln is in a firing already, since Fri 13 Nov, 09:30." in words_of(answer)
    assert not day.turns.exists()
    assert go(client, KILN_ON, f"/days/{day.pk}/turn/", place=0).status_code == 302


def test_a_firing_begins_when_the_one_before_it_in_the_kiln_has_ended(day):
    """One at a time, also when both are written down later: the hour that both had would be counted twice."""
    ended = KILN_ON + timedelta(hours=1)
    before = w.fire(minutes=720)
    Firing.objects.update(begun_at=ended - timedelta(minutes=720))
    with pytest.raises(Refused, match=f"was in firing {before.pk} until .* 06:30"):
        note_turn(day, 0, 85, ended - timedelta(minutes=1), meter_wh=112_400)
    assert note_turn(day, 0, 85, ended, meter_wh=112_400)


def test_flasks_in_a_kiln_that_is_on_stay_as_they_were_planned(day):
    plan = day.plans.get()
    note_turn(day, 0, 85, KILN_ON, meter_wh=7)
    with pytest.raises(Refused, match="Small kiln is on: what stands in it stays as it was planned"):
        save_plan(work_out(plans.draft(title="Buds"), Studio.objects.get(), plan), plan=plan)


def test_a_running_firing_that_is_of_another_kiln_takes_its_day_with_it(day):
    note_turn(day, 0, 85, KILN_ON, meter_wh=7)
    other = Equipment.objects.create(kind="kiln", name="Another")
    firing = Firing.objects.get()
    firing.kiln = other
    firing.save()
    follow_firing(firing)
    day.refresh_from_db()
    assert (day.kiln, day.revision) == (other, 2)


def test_a_kiln_learns_from_what_it_showed_also_on_a_day_that_was_planned_for_another(day):
    for place, seen_c in enumerate((20, 150, 240, 330)):
        note_turn(day, place, seen_c + 90, KILN_ON + timedelta(hours=place), seen_c=seen_c)
    assert list(read_rates()) == [day.kiln_id]
    other = Equipment.objects.create(kind="kiln", name="Another")
    assign_firing(post_begin(day.plans.get()), FiringRecord(other, POUR.date(), 780))
    assert list(read_rates()) == [other.pk]


def test_a_casting_day_was_fired_as_its_casts_were_whoever_writes_it_down(day):
    def fired():
        return CastingDay.objects.get(pk=day.pk).firing

    cast = post_begin(day.plans.get())
    wrong, right = w.fire(), w.fire()
    assign_firing(cast, wrong)
    assert fired() == wrong
    assign_firing(cast, right)
    assert fired() == right
    mend_cast(cast, {"firing": None})
    assert fired() is None
    put_in_firing(right, [cast])
    assert fired() == right
    put_in_firing(right, [])
    assert fired() is None


def test_the_day_at_whose_kiln_a_firing_began_keeps_it_without_its_casts(day):
    cast = post_begin(day.plans.get())
    note_turn(day, 0, 85, KILN_ON, meter_wh=7)
    own = Firing.objects.get()
    assign_firing(cast, w.fire())
    assert CastingDay.objects.get(pk=day.pk).firing == own


def test_a_log_goes_with_its_firing_and_days_to_come_know_it(day):
    firing = w.fire()
    kiln_logs.keep(firing)
    strike_out_firing(firing)
    assert CastingDay.objects.get().revision == 2


def test_the_form_of_a_running_firing_keeps_it_running_and_may_end_it(client, day):
    begin(client, day)
    firing = Firing.objects.get()
    said = {"kiln": firing.kiln_id, "day": "14/11/2026", "meter_before_wh": "1200", "note": "smells of wax"}
    go(client, POUR, f"/firings/{firing.pk}/edit/", **said)
    assert (Firing.objects.get().note, Firing.objects.get().is_running) == ("smells of wax", True)
    assert go(client, POUR, f"/firings/{firing.pk}/edit/", **said, meter_after_wh="1212").status_code == 422
    answer = go(client, POUR, f"/firings/{firing.pk}/edit/", **{**said, "day": "13/11/2026"})
    assert "It went on Sat 14 Nov, 05:30, as was written down beside the kiln" in words_of(answer)
    other = Equipment.objects.create(kind="kiln", name="Another")
    Firing.objects.create(kiln=other, day=POUR.date(), begun_at=KILN_ON)
    answer = go(client, POUR, f"/firings/{firing.pk}/edit/", **{**said, "kiln": other.pk})
    assert "Another firing runs in this kiln." in words_of(answer)
    go(client, POUR, f"/firings/{firing.pk}/edit/", **said, minutes="13 h", meter_after_wh="1212")
    firing.refresh_from_db()
    assert firing.minutes == 780


def test_the_database_keeps_no_firing_without_hours_that_did_not_begin():
    with pytest.raises(IntegrityError), transaction.atomic():
        Firing.objects.create(kiln=w.kiln(), day=POUR.date())
