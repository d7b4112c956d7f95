"""The pages of planning a cast: the list, the one page it takes, the plan, and what is done with it."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.models import (
    Cast,
    CastingDay,
    DayPractice,
    Equipment,
    Firing,
    Material,
    Movement,
    Plan,
    Schedule,
    ScheduleStep,
)
from inventory.posting.casting import TreeRecord
from inventory.posting.planning import drop_plan, post_begin
from inventory.posting.stock import post_handed_in
from inventory.queries.shelf import promised
from tests import workshop as w
from tests.inventory import plans
from tests.inventory.test_views_casting import rows
from tests.support import once, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def lots():
    return plans.stock()


def typed(**changes: object) -> dict[str, object]:
    """The fern leaves as a person types them: four leaves of 0.80 g and 2.40 g of sprues, all of green wax."""
    tomorrow = timezone.localdate() + timedelta(days=1)
    data: dict[str, object] = {
        **once(),
        "title": "Fern leaves",
        "alloy": w.sterling().pk,
        "flask": plans.flask().pk,
        "crucible": plans.crucible().pk,
        "powder": w.powder().pk,
        "kiln": w.kiln().pk,
        "schedule": plans.schedule().pk,
        "wish": "pour",
        "wish_at": f"{tomorrow}T18:30",
        "standing": "120",
        "button": "10",
        "sprues": "2.4",
        "sprues_of": w.wax().pk,
        **rows("parts", leaf()),
    }
    return {name: text for name, text in (data | changes).items() if text is not None}


def leaf(**changes: object) -> dict[str, object]:
    return {"label": "Leaf", "count": "4", "mass": "3.2", "material": w.wax().pk} | changes


def initial_of(response) -> dict[str, object]:
    form = response.context["sheet"].form
    return {name: form[name].value() for name in form.fields}


# The one page


def test_a_cast_is_planned_on_one_page(bench, lots):
    response = bench.post("/plans/new/", typed())
    plan = Plan.objects.get()
    assert response.status_code == 302 and response["Location"] == f"/plans/{plan.pk}/"
    assert (plan.title, plan.metal_mg, plan.holds) == ("Fern leaves", 66_480, True)
    assert list(plan.parts.values_list("label", "count", "mass_mg", "is_piece")) == [
        ("Leaf", 4, 3_200, True),
        ("Sprues and stem", 1, 2_400, False),
    ]
    assert promised()[lots["fresh"].pk] == 66_480
    assert timezone.localtime(plan.day.wish_at).strftime("%H:%M") == "18:30"


def test_what_was_usual_last_time_stands_there_already(bench, lots):
    w.cast_metal(
        [(lots["fresh"], 20)],
        [w.piece("Leaf", 15)],
        back="4.9",
        flask=plans.flask(),
        crucible=plans.crucible(),
        tree=[TreeRecord(w.wax(), w.g(1))],
        powder=[w.Portion(lots["powder"], w.g(500))],
        firing=w.fire(),
    )
    plans.schedule()
    asked = initial_of(bench.get("/plans/new/"))
    tomorrow = timezone.localdate() + timedelta(days=1)
    keys = {name: str(asked[name]) for name in ("alloy", "flask", "crucible", "powder", "kiln", "sprues_of")}
    assert keys == {
        "alloy": str(w.sterling().pk),
        "flask": str(plans.flask().pk),
        "crucible": str(plans.crucible().pk),
        "powder": str(w.powder().pk),
        "kiln": str(w.kiln().pk),
        "sprues_of": str(w.wax().pk),
    }
    assert asked["wish_at"] == f"{tomorrow}T18:30"
    assert (asked["button"], asked["standing"], asked["wish"]) == ("10 %", "2 h", "pour")


def test_planning_tomorrows_cast_takes_under_a_dozen_entries(bench, lots):
    """With the usual answers sent back as they stand: the pattern, how many, their weight, and the sprues."""
    plans.schedule(), plans.flask(), w.kiln()
    asked = {name: value for name, value in initial_of(bench.get("/plans/new/")).items() if value is not None}
    entries = {"sprues": "2.4", "parts-0-label": "Leaf", "parts-0-count": "4", "parts-0-mass": "3.2"}
    data = asked | rows("parts", leaf()) | entries
    assert bench.post("/plans/new/", data).status_code == 302
    assert Plan.objects.get().title == "4 × Leaf"
    assert len(entries) + len("title day time".split()) < 12


def test_names_of_earlier_pieces_are_offered_once_and_without_their_numbers(bench, lots):
    w.cast_metal([(lots["fresh"], 20)], [w.piece("Seed pod", 15, 3)], back=5)
    page = text_of(bench.get("/plans/new/"))
    assert page.count('<option value="Seed pod">') == 1 and "Seed pod 2" not in page


def test_the_schedule_that_fits_powder_and_flask_is_taken_where_none_is_named(bench, lots):
    plans.schedule()
    bench.post("/plans/new/", typed(schedule=""))
    assert Plan.objects.get().day.schedule == plans.schedule()


def test_no_schedule_that_fits_is_said_beside_it(bench, lots):
    slow = plans.schedule()
    slow.largest_diameter_um = 60_000
    slow.save()
    response = bench.post("/plans/new/", typed(schedule=""))
    sentence = response.context["sheet"].form.errors["schedule"][0]
    assert sentence.startswith(
        "No schedule says that it is for Investment powder and flasks as wide as Flask"
    )


def test_a_schedule_that_does_not_say_how_wide_a_flask_it_is_for_is_never_taken_by_itself(bench, lots):
    unsaid = plans.schedule()
    unsaid.largest_diameter_um = None
    unsaid.save()
    wide = Equipment.objects.create(kind="flask", name="Wide", diameter_um=150_000, height_um=200_000)
    response = bench.post("/plans/new/", typed(schedule="", flask=wide.pk))
    assert "No schedule says" in response.context["sheet"].form.errors["schedule"][0]
    bench.post("/plans/new/", typed(schedule=unsaid.pk))
    assert "does not say how wide a flask it is for" in text_of(bench.get(f"/plans/{Plan.objects.get().pk}/"))


def test_a_schedule_for_resin_is_taken_for_a_tree_with_resin_and_for_no_other(bench, lots):
    resin = Material.objects.create(name="Castable resin", kind="pattern", density_mg_cm3=1_120)
    slow = Schedule.objects.create(name="Resin", pattern=resin, largest_diameter_um=76_000)
    slow.steps.create(place=0, target_c=700, climb_c_per_hour=60, hold_minutes=300)
    plans.schedule()
    bench.post("/plans/new/", typed(schedule=""))
    assert Plan.objects.get().day.schedule == plans.schedule()
    printed = rows("parts", leaf() | {"material": resin.pk})
    bench.post("/plans/new/", typed(schedule="", **printed))
    assert Plan.objects.latest("pk").day.schedule == slow
    bench.post("/plans/new/", typed(schedule=slow.pk))
    page = text_of(bench.get(f"/plans/{Plan.objects.latest('pk').pk}/"))
    assert "is for patterns of Castable resin, and the tree has none" in page


def test_more_powder_than_the_bowl_takes_is_said_and_stops_nothing(bench, lots):
    wide = Equipment.objects.create(kind="flask", name="Wide", diameter_um=150_000, height_um=200_000)
    bench.post("/plans/new/", typed(flask=wide.pk))
    plan = Plan.objects.get()
    page = text_of(bench.get(f"/plans/{plan.pk}/"))
    assert (
        "4.90 kg of powder is more than one bowl takes, 2.00 kg: mix 3 bowls in turn. Each has 8 min" in page
    )
    assert "more than one bowl takes" in text_of(bench.get(f"/days/{plan.day_id}/"))
    DayPractice.objects.create(pk=1, bowl_powder_mg=6_000_000)
    assert "more than one bowl takes" not in text_of(bench.get(f"/plans/{plan.pk}/"))


def test_the_sprues_are_what_is_left_of_a_tree_weighed_whole(bench, lots):
    bench.post("/plans/new/", typed(sprues="", whole="14.2", base="8.6"))
    assert Plan.objects.get().parts.get(is_piece=False).mass_mg == 2_400


def test_patterns_that_weigh_more_than_the_tree_are_refused(bench, lots):
    response = bench.post("/plans/new/", typed(sprues="", whole="11", base="8.6"))
    assert response.status_code == 422
    assert "0.80 g more than the tree" in text_of(response)
    assert not Plan.objects.exists()


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"whole": "12"}, "whole", "Write the sprues, or the whole tree"),
        ({"sprues": "", "base": "8"}, "whole", "Write what the tree weighs on its base"),
        ({"sprues_of": ""}, "sprues_of", "Choose what the sprues are made of"),
        ({"flask": ""}, "flask", "Choose one"),
        ({"wish_at": ""}, "wish_at", "Write a day and a time"),
        ({"wish_at": "tomorrow"}, "wish_at", "This cannot be read"),
        ({"wish_at": "1999-01-01T10:00"}, "wish_at", "Write a year between"),
        ({"wish_at": "2026-03-29T01:30"}, "wish_at", "does not exist"),
        ({"button": "400"}, "button", "300"),
        ({"standing": "72 h"}, "standing", "24 h"),
        ({"sprues": "2 oz"}, "sprues", "ozt"),
        ({"tree_height": "900 cm"}, "tree_height", "1,000 mm"),
        ({"wish": "never"}, "wish", "Choose one"),
    ],
)
def test_a_mistake_stands_beside_its_field_and_changes_nothing(bench, lots, changes, field, words):
    response = bench.post("/plans/new/", typed(**changes))
    assert response.status_code == 422
    assert words in " ".join(response.context["sheet"].form.errors[field]).replace("\u00a0", " ")
    assert 'value="Leaf"' in text_of(response)
    assert not Plan.objects.exists()


def test_a_time_that_comes_twice_is_the_first_of_the_two(bench, lots):
    bench.post("/plans/new/", typed(wish_at="2026-10-25T01:30"))
    assert f"{Plan.objects.get().day.wish_at:%H:%M}" == "00:30"


def test_a_pattern_without_a_weight_is_asked_for_it(bench, lots):
    response = bench.post("/plans/new/", typed(**rows("parts", leaf(mass=""))))
    assert response.status_code == 422 and not Plan.objects.exists()


def test_no_pattern_at_all_is_asked_for(bench, lots):
    response = bench.post("/plans/new/", typed(**rows("parts", leaf(label="", mass=""))))
    assert "Write at least one pattern" in text_of(response)


def test_a_tree_larger_than_its_flask_is_refused_beside_the_flask(bench, lots):
    response = bench.post("/plans/new/", typed(**rows("parts", leaf(mass="500"))))
    assert "Choose a larger flask" in response.context["sheet"].form.errors["flask"][0]


def test_a_tree_of_nothing_to_speak_of_is_refused(bench, lots):
    lead = w.wax().__class__.objects.create(name="Lead", kind="pattern", density_mg_cm3=25_000)
    light = w.sterling().__class__.objects.create(name="Light", metal="base", density_mg_cm3=1000)
    changes = rows("parts", leaf(mass="0.001", material=lead.pk)) | {"sprues": "", "button": "0"}
    response = bench.post("/plans/new/", typed(alloy=light.pk, **changes))
    assert response.status_code == 422 and "asks for no metal" in text_of(response)


def test_the_same_page_sent_twice_plans_once(bench, lots):
    data = typed()
    first, second = bench.post("/plans/new/", data), bench.post("/plans/new/", data)
    assert first["Location"] == second["Location"] and Plan.objects.count() == 1


def test_another_line_for_patterns_keeps_what_was_typed(bench, lots):
    response = bench.post("/plans/new/", typed(add_line="parts"))
    assert response.status_code == 200 and 'value="Leaf"' in text_of(response)
    assert 'name="parts-1-label"' in text_of(response) and not Plan.objects.exists()


def test_a_new_studio_is_told_what_a_plan_needs_first(bench):
    page = text_of(bench.get("/plans/new/"))
    for words in (
        "the alloys you cast",
        "your investment powder",
        "a flask, with",
        "your kiln",
        "a kiln schedule",
    ):
        assert words in page


def test_another_flask_goes_into_the_same_firing(bench, lots):
    first = plans.plan()
    address = f"/plans/new/?day={first.day_id}"
    assert "Another flask in this firing" in text_of(bench.get(address))
    unsaid = dict.fromkeys(("kiln", "schedule", "wish", "wish_at", "standing"))
    refused = bench.post(address, typed(title="Buds", **unsaid))
    assert refused.status_code == 422
    assert "A flask cannot stand in one firing twice: Flask 75 x 100 is taken by Fern leaves." in text_of(
        refused
    )
    bench.post(address, typed(title="Buds", flask=plans.flask("Second").pk, **unsaid))
    second = Plan.objects.get(title="Buds")
    # Calendars that have the day take in the new flask.
    assert second.day == first.day and CastingDay.objects.get().revision == 1


def test_a_firing_that_was_recorded_takes_no_more_flasks(bench, lots):
    day = plans.plan().day
    day.firing = w.fire()
    day.save()
    assert bench.get(f"/plans/new/?day={day.pk}")["Location"] == "/plans/new/"


@pytest.mark.parametrize("asked", ["999", "x", "-1", "9" * 30, "²"])
def test_a_day_that_is_not_there_is_not_found(bench, asked):
    assert bench.get(f"/plans/new/?day={asked}").status_code == 404


# While it is typed


def test_the_sums_appear_while_it_is_typed(bench, lots):
    page = text_of(bench.post("/plans/sums/", typed(once=None)))
    for words in ("66.48 g", "All that it needs is here", "Powder into the water", "Kiln on", "of water"):
        assert words in page
    assert not Plan.objects.exists()


def test_the_sums_say_what_is_still_missing(bench, lots):
    page = text_of(bench.post("/plans/sums/", typed(alloy="", **rows("parts", leaf(mass="")))))
    assert "Still missing: the alloy, the patterns." in page


def test_the_sums_do_without_a_time_that_cannot_be_read(bench, lots):
    page = text_of(bench.post("/plans/sums/", typed(wish_at="")))
    assert "66.48 g" in page and "The times appear when" in page and "Kiln on" not in page


def test_the_sums_say_what_does_not_fit(bench, lots):
    page = text_of(bench.post("/plans/sums/", typed(tree_width="70", crucible=plans.crucible().pk)))
    assert "Take a wider flask" in page


def test_sprues_worked_out_of_the_whole_tree_open_to_their_sum(bench, lots):
    page = text_of(bench.post("/plans/sums/", typed(sprues="", whole="14.2", base="8.6")))
    assert "14.20 g less 8.60 g" in page


def test_the_sums_want_a_post_and_a_plan_that_is_there(bench):
    assert bench.get("/plans/sums/").status_code == 405
    assert bench.post("/plans/sums/?plan=999", {}).status_code == 404
    assert bench.post("/plans/sums/", {}).status_code == 200


# Odd shelves


def scrap(mass, *, from_lot=None):
    """Clean reclaim of sterling, from a cast of 1 g of pieces."""
    lot = from_lot or w.buy(w.grain(), w.g(mass) + 1_000, 100)
    w.cast_metal([(lot, str(int(mass) + 1))], [w.piece("Leaf", 1)], back=mass)


def test_a_shelf_without_fresh_metal_says_how_much_to_add(bench):
    plans.stock(fresh="100")
    scrap("99", from_lot=w.grain().lots.get())
    bench.post("/plans/new/", typed())
    plan = Plan.objects.get()
    assert not plan.portions.filter(use="metal").exists()
    page = text_of(bench.get(f"/plans/{plan.pk}/"))
    assert "fresh" in page and "Begin the cast" in page


def test_only_scrap_below_the_mark_says_how_much_fine_metal_would_mend_it(bench):
    plans.stock(fresh="1")
    low = w.buy(w.grain(), w.g(200), 100)
    low.holder.fine_ug = w.g(200) * 900
    low.holder.save()
    bench.post("/plans/new/", typed())
    page = text_of(bench.get(f"/plans/{Plan.objects.get().pk}/"))
    assert "the mark is 925" in page and "fine silver (999) would reach it" in page


def test_exactly_enough_is_enough(bench):
    plans.stock(fresh="66.48")
    bench.post("/plans/new/", typed())
    plan = Plan.objects.get()
    assert plan.portions.get(use="metal").quantity == 66_480
    page = text_of(bench.get(f"/plans/{plan.pk}/"))
    assert "All that it needs is here" in page and "This uses the lot up." in page


def test_a_gram_short_says_so_and_offers_the_smaller_charge(bench):
    plans.stock(fresh="65.48")
    bench.post("/plans/new/", typed())
    plan = Plan.objects.get()
    page = text_of(bench.get(f"/plans/{plan.pk}/"))
    assert "1.00 g short" in page and "The largest charge that keeps your rules is 65.48 g" in page
    bench.post(f"/plans/{plan.pk}/instead/", once())
    assert plan.portions.get(use="metal").quantity == 65_480
    assert "1.00 g short" in text_of(bench.get(f"/plans/{plan.pk}/"))


def test_a_customers_cast_takes_their_metal(bench, lots):
    post_handed_in(w.customer(), w.grain(), w.g(100), w.DAY)
    bench.post("/plans/new/", typed(owner=w.customer().pk))
    plan = Plan.objects.get()
    assert plan.portions.get(use="metal").lot.owner == w.customer()


# The plan


def test_the_plan_shows_what_to_weigh_and_why(bench, lots):
    page = text_of(bench.get(f"/plans/{plans.plan().pk}/"))
    for words in (
        "All that it needs is here",
        f"Lot {lots['fresh'].pk}, Sterling grain",
        "Fresh metal for the rest of the charge.",
        "Metal to charge",
        "Inside of the flask",
        "How the hours add up",
        "What it means to use is held",
    ):
        assert words in page


def test_a_change_of_practice_is_said_and_can_be_worked_in(bench, lots):
    plan = plans.plan()
    assert "worked out otherwise now" not in text_of(bench.get(f"/plans/{plan.pk}/"))
    DayPractice.objects.create(pk=1, over_mix_pct100=0)
    assert "worked out otherwise now" in text_of(bench.get(f"/plans/{plan.pk}/"))
    bench.post(f"/plans/{plan.pk}/anew/", once())
    assert "worked out otherwise now" not in text_of(bench.get(f"/plans/{plan.pk}/"))


def test_a_plan_whose_metal_is_gone_says_so(bench, lots):
    plan = plans.plan()
    w.cast_metal([(lots["fresh"], 200)], [w.piece("Leaf", 150)], back=50)
    page = text_of(bench.get(f"/plans/{plan.pk}/"))
    assert "not on the shelf for this cast any more" in page and "Not everything is here" in page


def test_damp_powder_is_not_offered_and_says_why(bench, lots):
    plan = plans.plan()
    w.buy(w.powder(), w.g(500), 4)
    wet = w.powder().lots.latest("pk")
    wet.damp_on = w.DAY
    wet.save()
    assert f"Lot {wet.pk}, Investment powder has been damp since" in text_of(bench.get(f"/plans/{plan.pk}/"))


def test_its_stock_is_let_go_and_held_again(bench, lots):
    plan = plans.plan()
    bench.post(f"/plans/{plan.pk}/let-go/", once())
    assert promised() == {} and "It holds nothing" in text_of(bench.get(f"/plans/{plan.pk}/"))
    bench.post(f"/plans/{plan.pk}/hold/", once())
    assert lots["fresh"].pk in promised()


def test_a_plan_that_is_given_up_says_so_and_can_only_be_read(bench, lots):
    plan = plans.plan()
    bench.post(f"/plans/{plan.pk}/give-up/", once())
    assert "This plan was given up" in text_of(bench.get(f"/plans/{plan.pk}/"))
    for page in ("edit", "charge"):
        assert bench.get(f"/plans/{plan.pk}/{page}/")["Location"] == f"/plans/{plan.pk}/"
    response = bench.post(f"/plans/{plan.pk}/begin/", once(), follow=True)
    assert "given up. Take it up again first" in text_of(response) and not Cast.objects.exists()


def test_a_plan_that_is_given_up_is_taken_up_again_on_its_page(bench, lots):
    plan = plans.plan()
    bench.post(f"/plans/{plan.pk}/give-up/", once())
    assert f'action="/plans/{plan.pk}/take-up/"' in text_of(bench.get(f"/plans/{plan.pk}/"))
    page = text_of(bench.post(f"/plans/{plan.pk}/take-up/", once(), follow=True))
    assert "taken up again" in page and "Begin the cast" in page and "take-up" not in page
    # A second tab that still shows it as given up: nothing breaks.
    assert "was not given up" in text_of(bench.post(f"/plans/{plan.pk}/take-up/", once()))


def test_beginning_leads_to_the_cast_and_happens_once(bench, lots):
    plan, press = plans.plan(), once()
    before = Movement.objects.count()
    first, second = (bench.post(f"/plans/{plan.pk}/begin/", press) for _ in range(2))
    cast = Cast.objects.get()
    assert first["Location"] == second["Location"] == f"/casts/{cast.number}/"
    assert Movement.objects.count() == before
    page = text_of(bench.get(f"/plans/{plan.pk}/"))
    assert f"Begun as cast {cast.number}" in page and "66.48 g" in page


def test_a_button_without_its_key_does_nothing(bench, lots):
    plan = plans.plan()
    response = bench.post(f"/plans/{plan.pk}/give-up/", {}, follow=True)
    assert "Press the button once more" in text_of(response)
    plan.refresh_from_db()
    assert plan.is_open and bench.get(f"/plans/{plan.pk}/give-up/").status_code == 405


@pytest.mark.parametrize("page", ["", "edit/", "charge/"])
def test_a_plan_that_is_not_there_is_not_found(bench, page):
    assert bench.get(f"/plans/404/{page}").status_code == 404


def test_a_plan_is_changed_and_keeps_its_day(bench, lots):
    plan = plans.plan()
    page = text_of(bench.get(f"/plans/{plan.pk}/edit/"))
    assert 'value="Leaf"' in page and 'value="2.4 g"' in page
    bench.post(f"/plans/{plan.pk}/edit/", typed(title="Buds", **rows("parts", leaf(mass="4"))))
    plan.refresh_from_db()
    assert (plan.title, Plan.objects.count(), CastingDay.objects.count()) == ("Buds", 1, 1)
    assert plan.parts.first().mass_mg == 4_000


def test_a_charge_of_ones_own_stays_when_something_else_is_changed(bench, lots):
    other = w.buy(w.grain(), w.g(100), 90)
    plan = plans.plan()
    own = next(lot for lot in (lots["fresh"], other) if lot != plan.portions.get(use="metal").lot)
    bench.post(f"/plans/{plan.pk}/charge/", once() | {f"lot-{own.pk}": "66.48"})
    bench.post(f"/plans/{plan.pk}/edit/", typed(note="in the small kiln"))
    assert plan.portions.get(use="metal").lot == own
    bench.post(f"/plans/{plan.pk}/edit/", typed(**rows("parts", leaf(mass="4"))))
    assert plan.portions.get(use="metal").lot != own


# The list


def test_the_list_is_filtered_by_state_and_alloy(bench, lots):
    for title in ("Leaves", "Buds", "Pods"):
        plans.plan(title=title)
    post_begin(Plan.objects.get(title="Buds"))
    drop_plan(Plan.objects.get(title="Pods"))
    wanted = {"open": "Leaves", "begun": "Buds", "dropped": "Pods"}
    for state, title in wanted.items():
        page = text_of(bench.get(f"/plans/?state={state}"))
        assert [name for name in wanted.values() if f">{name}<" in page] == [title]
    assert ">Leaves<" not in text_of(bench.get(f"/plans/?alloy={w.bronze().pk}"))


def test_the_list_can_be_taken_away(bench, lots):
    plans.plan()
    assert "Fern leaves" in bench.get("/plans/?export=csv").content.decode()
    assert bench.get("/plans/?export=xlsx").status_code == 200


def test_an_empty_list_says_what_to_do(bench):
    assert "Plan a cast" in text_of(bench.get("/plans/"))


# Asking the database


def fill(much: int) -> Plan:
    first = plans.plan(title=f"First of {much}")
    for number in range(much):
        w.buy(w.grain(), w.g(300), 100)
        w.buy(w.powder(), w.g(6000), 40)
        w.buy(w.wax(), w.g(100), 8)
        plans.plan(title=f"Plan {much}.{number}")
        post_begin(plans.plan(title=f"Begun {much}.{number}"))
        plans.schedule(f"Schedule {much}.{number}")
        Firing.objects.create(kiln=w.kiln(), day=w.DAY, minutes=60)
    return first


def count(bench: Client, address: str, data=None) -> int:
    with CaptureQueriesContext(connection) as asked:
        response = bench.get(address) if data is None else bench.post(address, data)
    assert response.status_code == 200
    return len(asked)


@pytest.mark.counts
def test_pages_ask_no_more_of_a_full_studio(bench, lots):
    """Beside the pages with an address of their own, which are all counted where every page is tried."""
    first = fill(1)
    begun = Plan.objects.filter(cast__isnull=False).first()
    addresses = [
        "/",
        f"/plans/new/?day={first.day_id}",
        *(f"/casts/{begun.cast.number}/{step}/" for step in ("tree", "powder", "charge", "weights")),
    ]
    few = [count(bench, address) for address in addresses] + [count(bench, "/plans/sums/", typed())]
    fill(3)
    many = [count(bench, address) for address in addresses] + [count(bench, "/plans/sums/", typed())]
    assert dict(zip([*addresses, "sums"], few, strict=True)) == dict(
        zip([*addresses, "sums"], many, strict=True)
    )


def test_times_are_those_of_the_studios_clock(bench, lots):
    """Half past six on a summer evening in London is half past five in UTC."""
    bench.post("/plans/new/", typed(wish_at="2026-07-01T18:30"))
    assert Plan.objects.get().day.wish_at == datetime(2026, 7, 1, 17, 30, tzinfo=UTC)


def test_a_schedule_that_lost_its_steps_is_said_on_each_page_of_a_plan(bench, lots):
    plan = plans.plan()
    ScheduleStep.objects.all().delete()
    for page in ("", "edit/", "charge/", "cost/"):
        answer = bench.get(f"/plans/{plan.pk}/{page}")
        assert answer.status_code == 200, page
        assert page or "A schedule needs a step: write the first temperature" in text_of(answer)
    assert bench.post("/plans/sums/", typed(once=None)).status_code == 200
    assert "has no hours yet" in text_of(bench.get(f"/days/{plan.day_id}/"))


def test_no_climb_without_end_and_no_day_beyond_the_calendar_is_kept(bench, lots):
    plan = plans.plan()
    for rows_of, wrong in (
        (ScheduleStep.objects.all(), {"climb_minutes": 0, "climb_c_per_hour": 0}),
        (CastingDay.objects.filter(pk=plan.day_id), {"wish_at": datetime(9999, 12, 31, tzinfo=UTC)}),
        (CastingDay.objects.filter(pk=plan.day_id), {"wish_at": datetime(1, 1, 3, tzinfo=UTC)}),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            assert rows_of.update(**wrong)


@pytest.mark.parametrize("at", ["0001-01-01T00:00", "9999-12-31T23:59"])
def test_a_time_at_the_end_of_the_calendar_is_refused_beside_the_field(bench, lots, at):
    answer = bench.post("/plans/new/", typed(wish_at=at))
    assert answer.status_code == 422 and "Write a year between 2000 and 2100." in text_of(answer)
    assert bench.post("/plans/sums/", typed(once=None, wish_at=at)).status_code == 200
