"""Firings: what the kiln used, and which casts were in it."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.models import Cast, Firing
from tests import workshop
from tests.support import text_of
from tests.workshop import DAY, g

pytestmark = pytest.mark.django_db


def typed(**changes: object) -> dict[str, object]:
    return {"kiln": workshop.kiln().pk, "day": "2026-03-02", "minutes": "12:30", **changes}


def pour(grams: int = 30) -> Cast:
    lot = workshop.buy(workshop.grain(), g(grams * 2), grams)
    return workshop.cast_metal([(lot, grams)], [workshop.piece("stud", grams - 10)], back=9)


def test_a_firing_is_written_down_with_its_casts(bench):
    cast = pour()
    bench.post("/firings/new/", typed(casts=[cast.pk], meter_before_wh="100", meter_after_wh="112.4"))
    firing = Firing.objects.get()
    assert (firing.minutes, firing.meter_before_wh, firing.meter_after_wh) == (750, 100_000, 112_400)
    cast.refresh_from_db()
    assert cast.firing == firing


def test_its_energy_opens_to_the_sum(bench):
    bench.post("/firings/new/", typed(meter_before_wh="100", meter_after_wh="112.4"))
    page = text_of(bench.get(f"/firings/{Firing.objects.get().pk}/"))
    assert "12.4 kWh" in page and "the meter after, less the meter before" in page
    assert "do not leave the kiln alone" in page


def test_without_a_meter_the_power_of_the_kiln_tells(bench):
    kiln = workshop.kiln()
    kiln.share_on_pct100 = 5000
    kiln.save()
    bench.post("/firings/new/", typed(minutes="10 h"))
    page = text_of(bench.get(f"/firings/{Firing.objects.get().pk}/"))
    # 2400 W x 10 h x 50 % = 12 kWh, computed.
    assert "12 kWh" in page and "estimated" in page


def test_what_is_not_known_is_said(bench):
    bench.post("/firings/new/", typed())
    assert "Not known: no meter was read" in text_of(bench.get(f"/firings/{Firing.objects.get().pk}/"))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"meter_before_wh": "112.4", "meter_after_wh": "100"}, "A meter does not run backwards"),
        ({"meter_before_wh": "100"}, "Write the meter after too"),
        ({"meter_after_wh": "100"}, "Write the meter before too"),
        ({"minutes": "8 days"}, "This cannot be read"),
        ({"minutes": "169 h"}, "The most this field takes"),
        ({"minutes": "0"}, "Write more than 0."),
        ({"kiln": "999"}, "Choose one that is in the list."),
        ({"kiln": ""}, "Choose one."),
        ({"day": (timezone.localdate() + timedelta(days=1)).isoformat()}, "has not come yet"),
        ({"day": "1999-12-31"}, "from 1 Jan 2000 on"),
        ({"rated_w": "-5"}, "1 or more"),
        ({"share_on_pct100": "140"}, "100"),
        ({"casts": ["999"]}, "Choose from the list"),
        ({"casts": ["x"]}, "Choose from the list"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_saved(bench, changes, sentence):
    pour()
    page = text_of(bench.post("/firings/new/", typed(note="the long one", **changes)))
    assert sentence in page and 'value="the long one"' in page
    assert not Firing.objects.exists()


def test_a_change_moves_the_casts(bench):
    first, second = pour(), pour()
    bench.post("/firings/new/", typed(casts=[first.pk]))
    firing = Firing.objects.get()
    address, changed = f"/firings/{firing.pk}/edit/", typed(casts=[second.pk], minutes="13 h")
    sure = re.findall(r'name="sure" value="(\w+)"', text_of(bench.post(address, changed)))
    bench.post(address, changed | {"sure": sure})
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.firing, second.firing) == (None, firing)


def test_a_kiln_that_was_put_away_stays_with_its_firing(bench):
    firing = workshop.fire()
    firing.kiln.archived = True
    firing.kiln.save()
    assert "Small kiln" not in text_of(bench.get("/firings/new/"))
    assert "Small kiln" in text_of(bench.get(f"/firings/{firing.pk}/edit/"))


def test_a_studio_without_a_kiln_is_told_to_begin_there(bench):
    assert "Write down the kiln first" in text_of(bench.get("/firings/new/"))


def test_an_empty_firing_can_be_taken_out(bench):
    firing = workshop.fire()
    bench.post(f"/firings/{firing.pk}/remove/")
    assert not Firing.objects.exists()


def test_one_with_casts_in_it_cannot(bench):
    cast = pour()
    bench.post("/firings/new/", typed(casts=[cast.pk]))
    page = bench.post(f"/firings/{Firing.objects.get().pk}/remove/", follow=True)
    assert "Untick them first" in text_of(page) and Firing.objects.exists()


def test_looking_changes_nothing(bench):
    firing = workshop.fire()
    assert bench.get(f"/firings/{firing.pk}/remove/").status_code == 405
    assert Firing.objects.exists()


@pytest.mark.parametrize("address", ["/firings/{}/", "/firings/{}/edit/"])
def test_what_is_not_there_is_not_an_error(bench, address):
    for pk in ("0", "999", "9" * 30):
        assert bench.get(address.format(pk)).status_code == 404


def test_the_list_shows_filters_and_takes_away(bench):
    workshop.fire(DAY, minutes=720)
    workshop.fire(DAY + timedelta(days=9), minutes=600, wh=9_000)
    page = text_of(bench.get("/firings/"))
    assert "12.40 kWh" in page and "22 h" in page
    later = text_of(bench.get(f"/firings/?from_day={DAY + timedelta(days=1)}"))
    assert "9.00 kWh" in later and "12.40 kWh" not in later
    assert "12.4" in text_of(bench.get("/firings/?export=csv"))
    for query in ("?kiln=odd", "?from_day=x", "?sort=energy", "?page=0", "?export=xlsx"):
        assert bench.get(f"/firings/{query}").status_code == 200


def test_the_pages_ask_no_more_when_there_is_more(bench):
    def count(address: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert bench.get(address).status_code == 200
        return len(seen)

    cast = pour()
    first = workshop.fire()
    Cast.objects.filter(pk=cast.pk).update(firing=first)
    addresses = ["/firings/", f"/firings/{first.pk}/", f"/firings/{first.pk}/edit/"]
    few = [count(address) for address in addresses]
    for number in range(12):
        workshop.fire(DAY + timedelta(days=number))
        Cast.objects.filter(pk=pour().pk).update(firing=first)
    assert [count(address) for address in addresses] == few
