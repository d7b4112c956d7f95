"""What wears: how long it lasts, and by when another must be ordered."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from inventory.core.wearing import Worn, compute_wear_out
from inventory.forms.wearing import WearingPartForm
from inventory.models import Equipment, Firing, WearingPart
from inventory.posting.refusal import Refused
from inventory.posting.wearing import take_back_replacement, write_replacement
from inventory.queries.wearing import look_at_part, wearing_outlook
from tests import workshop as w
from tests.support import once, text_of

TODAY = date(2026, 6, 1)


def _worn(**changed):
    facts = {
        "used": 60,
        "life": 100,
        "unit": "melts",
        "recent": 20,
        "days": 100,
        "lead_days": 10,
        "today": TODAY,
    }
    return Worn(**(facts | changed))


def test_it_lasts_at_the_pace_of_late():
    """40 of 100 melts are left; 20 went in 100 days, so 200 days, and it is ordered ten days before."""
    outlook = compute_wear_out(_worn())
    assert outlook.left == 40 and outlook.worn_out_on == TODAY + timedelta(days=200)
    assert outlook.order_by == TODAY + timedelta(days=190) and not outlook.is_near
    assert [step.result for step in outlook.working.steps][0] == "40 melts"


def test_own_replacements_teach_its_life():
    """Two before lasted 70 and 90: with the stated 100 counted twice, (200 + 160) / 4 = 90 are expected."""
    outlook = compute_wear_out(_worn(lives=[70, 90]))
    assert (outlook.life, outlook.left) == (90, 30)
    assert outlook.working.steps[0].text == "life to expect: (2 × 100 + 160) ÷ (2 + 2)"


def test_what_has_outlived_its_life_is_ordered_today():
    outlook = compute_wear_out(_worn(used=130))
    assert (outlook.left, outlook.worn_out_on, outlook.order_by) == (0, TODAY, TODAY) and outlook.is_near


def test_two_weeks_before_it_must_be_ordered_it_is_near():
    """20 melts last 100 days: of 24 days 10 are for the order, and 14 are left."""
    assert compute_wear_out(_worn(life=100, used=80, days=100, recent=20, lead_days=86)).is_near
    assert not compute_wear_out(_worn(life=100, used=80, days=100, recent=20, lead_days=85)).is_near


def test_what_is_not_used_has_no_end_in_sight():
    assert compute_wear_out(_worn(recent=0)).worn_out_on is None
    assert compute_wear_out(_worn(life=100_000, recent=1)).order_by is None


pytest_db = pytest.mark.django_db


def _part(**facts):
    day = timezone.localdate() - timedelta(days=100)
    return WearingPart.objects.create(
        **({"name": "Seal", "counted_by": "days", "life": 120, "new_on": day} | facts)
    )


def _fire(kiln, days_ago, hours):
    day = timezone.localdate() - timedelta(days=days_ago)
    return Firing.objects.create(kiln=kiln, day=day, minutes=60 * hours)


@pytest_db
def test_hours_of_its_kiln_casts_and_days_are_counted_from_the_day_it_was_new(studio):
    today = timezone.localdate()
    kiln, other = (Equipment.objects.create(kind="kiln", name=name) for name in ("Old kiln", "New kiln"))
    elements = _part(name="Elements", equipment=kiln, counted_by="hours", life=400)
    hose = _part(name="Hose", counted_by="casts", life=50)
    _fire(kiln, 101, 9), _fire(kiln, 50, 10), _fire(kiln, 1, 2), _fire(other, 2, 5)
    w.cast_metal([(w.buy(w.grain(), w.g(100), 100), 40)], [w.piece("Leaf", 20)], back=20, day=today)
    used = {
        str(one.thing): one.outlook.used for one in wearing_outlook(today) if one.thing in (elements, hose)
    }
    assert used == {"Elements": 12, "Hose": 1}
    assert look_at_part(_part(), today).used == 100


@pytest_db
def test_a_replacement_is_logged_learnt_from_and_taken_back(studio):
    today = timezone.localdate()
    part = _part()
    first_new = part.new_on
    made = write_replacement(part, today - timedelta(days=10))
    assert (made.used, part.new_on) == (90, today - timedelta(days=10))
    assert (look_at_part(part, today).used, look_at_part(part, today).life) == (10, 110)
    with pytest.raises(Refused, match="new after that"):
        write_replacement(part, today - timedelta(days=11))
    with pytest.raises(Refused, match="written down already"):
        write_replacement(part, today - timedelta(days=10))
    stale = {"name": "Seal", "counted_by": "days", "life": "120", "new_on": first_new, "lead_days": "7"}
    assert WearingPartForm(stale, instance=part).errors.keys() == {"new_on"}
    part.refresh_from_db()
    write_replacement(part, today, was_worn_out=False)
    assert look_at_part(part, today).life == 110
    take_back_replacement(part)
    take_back_replacement(part)
    assert WearingPart.objects.get().new_on == first_new and take_back_replacement(part) is None


@pytest_db
def test_a_crucible_learns_from_those_that_were_put_away(studio):
    day = timezone.localdate() - timedelta(days=100)
    Equipment.objects.create(kind="crucible", name="Old", life_uses=60, uses_before=30, archived=True)
    new = Equipment.objects.create(kind="crucible", name="New", life_uses=60, uses_before=59, bought_on=day)
    (one,) = [one for one in wearing_outlook(timezone.localdate()) if one.thing == new]
    assert one.outlook.life == 50 and one.outlook.is_near and one.unit == "melts"


@pytest_db
def test_home_tells_of_it_and_its_page_takes_the_replacing(bench):
    today = timezone.localdate()
    part = _part(life=101, lead_days=3)
    home = bench.get("/").content.decode()
    assert f'<a href="/setup/wearing/{part.pk}/">Seal</a>: 100 of about 101 days used' in home
    page = f"/setup/wearing/{part.pk}/replaced/"
    early = {**once(), "day": str(part.new_on - timedelta(days=1)), "was_worn_out": "on"}
    assert bench.post(page, early).status_code == 422
    bench.post(page, {**once(), "day": str(today), "was_worn_out": "on", "note": "cracked"})
    shown = text_of(bench.get(f"/setup/wearing/{part.pk}/"))
    assert "after 100 days. cracked" in shown and "0 of about 101 days used" in shown
    assert "Seal</a>: " not in bench.get("/").content.decode()
    back = bench.post(f"/setup/wearing/{part.pk}/not-replaced/", follow=True)
    assert "Taken back" in text_of(back) and "When it was replaced" not in text_of(back)
    assert "was never replaced" in text_of(bench.post(f"/setup/wearing/{part.pk}/not-replaced/", follow=True))


@pytest_db
def test_a_kiln_is_counted_by_hours_and_other_machines_are_not(bench):
    kiln = Equipment.objects.create(kind="kiln", name="Kiln")
    pump = Equipment.objects.create(kind="pump", name="Pump")
    typed = {"name": "Oil", "life": "200", "new_on": str(TODAY), "lead_days": "7", "note": ""}
    for machine, counted_by, words in ((pump, "hours", "known of kilns alone"), (kiln, "casts", "is a kiln")):
        page = bench.post("/setup/wearing/new/", {**typed, "equipment": machine.pk, "counted_by": counted_by})
        assert page.status_code == 422 and words in text_of(page)
    bench.post("/setup/wearing/new/", {**typed, "equipment": pump.pk, "counted_by": "casts"})
    assert WearingPart.objects.get().equipment == pump
