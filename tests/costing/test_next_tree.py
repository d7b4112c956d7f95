"""The next tree on its page: what waits, what goes on it, and the plan that it begins."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone

from costing.models import Policy
from inventory.models import Design
from inventory.queries.needs import FIRST_FILL, UM3_PER_CM3, room_in
from tests import workshop as w
from tests.costing.test_quotes import offer, quote  # noqa: F401 - a fixture
from tests.inventory import plans
from tests.support import count_queries, plain, text_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]
PAGE = "/plans/next-tree/"


def test_what_an_order_waits_for_goes_on_the_tree_and_begins_its_plan(bench, quote):  # noqa: F811
    stud, brooch = (Design.objects.get(name=name) for name in ("Stud", "Brooch"))
    page = plain(text_of(bench.get(PAGE)))
    # One stud of twelve failed, so more than twelve are cast for twelve.
    assert "for Spring order" in page and "Plan this tree" in page and "after metal and work" in page
    assert "6 for Spring order" in page
    found = {"of": w.sterling().pk, "alloy": w.sterling().pk, "flask": plans.flask().pk}
    page = text_of(bench.get(PAGE, found | {f"most-{stud.pk}": "2", f"most-{brooch.pk}": "0"}))
    assert "Put 2 × Stud on it." in plain(page)
    plan = text_of(bench.get("/plans/new/", {"design": f"{stud.pk}x2", "flask": plans.flask().pk}))
    assert 'name="parts-0-count" value="2"' in plan and 'value="Stud"' in plan


def test_the_earlier_order_goes_first(bench, quote):  # noqa: F811
    stud, brooch = (Design.objects.get(name=name) for name in ("Stud", "Brooch"))
    soon = timezone.localdate() + timedelta(days=3)
    offer([brooch], (500,), wanted_on=soon)
    page = plain(text_of(bench.get(PAGE)))
    # As many brooches as there is metal for, and studs only of what is left.
    assert re.search(r"Put 11 × Brooch(, \d × Stud)? on it\.", page)


def test_what_cannot_be_chosen_says_why(bench, quote):  # noqa: F811
    Design.objects.create(name="Bell", alloy=w.sterling())
    Design.objects.filter(name="Brooch").update(height_um=900_000)
    page = plain(text_of(bench.get(PAGE)))
    assert "Bell</a>: nobody knows what it weighs" in page
    assert "it is 900 mm high, and the flask leaves" in page


def test_odd_numbers_are_refused_beside_their_field(bench, quote):  # noqa: F811
    stud = Design.objects.get(name="Stud")
    found = {"of": w.sterling().pk, "alloy": w.sterling().pk, "flask": plans.flask().pk}
    page = plain(text_of(bench.get(PAGE, found | {f"most-{stud.pk}": "-1"})))
    assert "This cannot be below zero." in page


def test_an_empty_studio_is_asked_what_it_casts_in(bench):
    Policy.objects.all().delete()
    assert bench.get(PAGE).status_code == 200


def test_as_full_as_the_fullest_tree(quote):  # noqa: F811
    flask = plans.flask()
    inside = flask.diameter_um**2 * flask.height_um
    stud = Design.objects.get(name="Stud")
    # The casts of the fixture name no flask, so nothing tells but the starting figure.
    mass = (2_000, w.sterling().density_mg_cm3)
    room = room_in(flask, {stud.pk: mass})[stud.pk]
    assert room == (mass[0] / FIRST_FILL / mass[1] * UM3_PER_CM3) / inside


def test_it_asks_as_much_of_twenty_designs_as_of_two(bench, quote):  # noqa: F811
    def ask():
        return count_queries(lambda: bench.get(PAGE))

    before = ask()
    for number in range(18):
        Design.objects.create(name=f"Ring {number}", alloy=w.sterling(), cast_mg=4_000, pattern_mg=300)
    assert ask() == before
