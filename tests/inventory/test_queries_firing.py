"""What a firing used and what one to come will use, put right by the kiln's own meter."""

from datetime import date, timedelta

import pytest
from django.contrib.auth.models import User

from costing.models import Policy
from costing.queries.costed import cost_casts
from inventory.models import Firing
from inventory.queries.firing import KilnRecords, expect_firing
from inventory.queries.studio import current_practice
from tests import workshop as w
from tests.inventory import plans
from tests.support import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def kiln():
    """2400 W, heating half of its time: 12 h make 14.4 kWh."""
    w.make_studio()
    kiln = w.kiln()
    kiln.share_on_pct100 = 5_000
    kiln.save()
    return kiln


def fire_measured(times, wh=12_960, first=w.DAY):
    """So many firings of 12 h on days in a row, each measured at nine tenths of the estimate."""
    for days in range(times):
        w.fire(first + timedelta(days=days), wh=wh)


def fire_unmeasured(kiln, day):
    return Firing.objects.create(kiln=kiln, day=day, minutes=720)


def test_a_firing_without_a_meter_is_put_right_by_three_measured_before_it(kiln):
    fire_measured(3)
    firing = fire_unmeasured(kiln, w.DAY + timedelta(days=3))
    energy = KilnRecords([kiln.pk]).energy_of(firing)
    assert energy.energy_wh == 12_960  # 14.4 kWh, times 0.9
    assert any("90" in given.value and "3 measured" in given.origin for given in energy.working.givens)


def test_two_measured_firings_put_nothing_right(kiln):
    fire_measured(2)
    firing = fire_unmeasured(kiln, w.DAY + timedelta(days=3))
    assert KilnRecords([kiln.pk]).energy_of(firing).energy_wh == 14_400


def test_a_firing_measured_later_leaves_what_was_before_alone(kiln):
    firing = fire_unmeasured(kiln, w.DAY)
    fire_measured(3, first=w.DAY + timedelta(days=1))
    assert KilnRecords([kiln.pk]).energy_of(firing).energy_wh == 14_400


def test_a_firing_without_a_reading_is_passed_over(kiln):
    fire_measured(3)
    fire_unmeasured(kiln, w.DAY + timedelta(days=3))
    w.fire(w.DAY + timedelta(days=4), wh=0)
    correction = KilnRecords([kiln.pk]).correction(kiln.pk)
    assert (correction.factor_pct100, correction.firings) == (9_000, 3)


def test_another_kiln_says_nothing_about_this_one(kiln):
    fire_measured(3)
    other = type(kiln).objects.create(kind="kiln", name="Large kiln", rated_w=2_400, share_on_pct100=5_000)
    firing = fire_unmeasured(other, w.DAY + timedelta(days=3))
    assert KilnRecords([other.pk]).energy_of(firing).energy_wh == 14_400


def test_a_measured_firing_keeps_its_reading(kiln):
    fire_measured(4)
    assert KilnRecords([kiln.pk]).energy_of(Firing.objects.latest("pk")).energy_wh == 12_960


def test_what_was_before_a_day_adds_up_to_the_same_wherever_it_is_added_up(kiln):
    other = type(kiln).objects.create(kind="kiln", name="Large kiln", rated_w=None, share_on_pct100=6_667)
    readings = [(0, 9_001), (0, 0), (None, None), (100, 7_777), (0, 12_345), (5, 9_876)]
    plates = [(None, None), (2_300, None), (None, 3_333), (1_999, 4_321), (0, 0)]
    for number in range(60):
        before_wh, after_wh = readings[number % 6]
        watts, share = plates[number % 5]
        Firing.objects.create(
            kiln=(kiln, kiln, other)[number % 3],
            day=w.DAY + timedelta(days=number // 2),
            minutes=601 + 7 * number,
            meter_before_wh=before_wh,
            meter_after_wh=after_wh,
            rated_w=watts,
            share_on_pct100=share,
        )
    first = w.DAY + timedelta(days=20)
    whole, summed = KilnRecords(), KilnRecords(first=first)
    for number in range(12):
        moment = (first + timedelta(days=number // 2), 20 + number)
        for one in (kiln.pk, other.pk):
            assert summed.minutes_before(one, moment) == whole.minutes_before(one, moment) > 0
            for share in (None, 4_567):
                found, expected = (r.correction(one, moment, share) for r in (summed, whole))
                assert found.factor_pct100 == expected.factor_pct100
                assert found.working == expected.working


def expected_of(kiln):
    """A schedule fired today, put right by all firings so far."""
    return expect_firing(kiln, plans.schedule(), KilnRecords([kiln.pk], first=date.max), current_practice())


def test_a_schedule_takes_the_kilns_share_where_its_steps_have_none(kiln):
    expected = expected_of(kiln)
    # 13 h at 2400 W, half of it heating: 180 min, 180 min, 300 min and 120 min.
    assert (expected.minutes, expected.energy.energy_wh) == (780, 15_600)


def test_a_schedule_is_put_right_by_the_meter(kiln):
    fire_measured(3)
    assert expected_of(kiln).energy.energy_wh == 14_040


def test_a_schedule_with_shares_of_its_own_is_compared_by_their_mean(kiln):
    plans.schedule().steps.update(on_pct100=4_500)
    fire_measured(3)
    expected = expected_of(kiln)
    assert expected.estimate.energy_wh == 14_040
    # Nine tenths of half is what 45 % says by itself, so there is nothing to put right.
    assert expected.correction.factor_pct100 == 10_000
    assert expected.energy.energy_wh == 14_040


def test_a_kiln_without_a_plate_says_why_nothing_is_known(kiln):
    kiln.rated_w = None
    kiln.save()
    assert "beforehand" in expected_of(kiln).energy.problem


def test_the_cost_of_a_cast_takes_the_energy_put_right(kiln):
    Policy.objects.create(from_day=w.DAY, energy_micro_per_kwh=w.money("0.25"))
    silver = w.buy(w.grain(), w.g(100), 100)
    fire_measured(3)
    day = w.DAY + timedelta(days=3)
    cast = w.cast_metal(
        [(silver, 50)], [w.piece("Leaf", 20)], back=30, day=day, firing=fire_unmeasured(kiln, day)
    )
    energy = cost_casts([cast.pk])[cast.pk].cost.line("energy")
    assert energy.total_micro == w.money("3.24")  # 12.96 kWh at 0.25


def test_the_page_of_a_firing_shows_estimate_meter_and_what_they_say_of_the_kiln(client, kiln):
    client.force_login(User.objects.create_user("mara"))
    fire_measured(3)
    unmeasured = fire_unmeasured(kiln, w.DAY + timedelta(days=3))
    page = client.get(f"/firings/{Firing.objects.order_by('day')[2].pk}/").content.decode()
    page = page.replace("\N{NO-BREAK SPACE}", " ")
    assert "Measured 12.96 kWh; by the kiln's plate and its hours it would be 14.4 kWh" in page
    assert "shows 90 % of what was estimated, over 3 firings" in page
    page = text_of(client.get(f"/firings/{unmeasured.pk}/"))
    assert "it would be 14.4 kWh; put right by the firings that were measured before, 12.96 kWh" in page


def test_the_list_of_firings_shows_the_same(client, kiln):
    client.force_login(User.objects.create_user("mara"))
    fire_measured(3)
    fire_unmeasured(kiln, w.DAY + timedelta(days=3))
    page = text_of(client.get("/firings/"))
    assert page.count("12.96 kWh") >= 4
    rows = client.get("/firings/?export=csv").content.decode()
    assert rows.count("12.96") == 4
