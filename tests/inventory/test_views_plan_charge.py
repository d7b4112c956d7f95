"""The page on which the charge of a plan is changed, and the steps of a cast that its plan fills in."""

from datetime import UTC, datetime

import pytest

from inventory.models import Cast, Lot, Plan
from inventory.posting.casting import CastFacts, post_start
from inventory.posting.planning import post_begin
from inventory.posting.stock import post_handed_in
from tests import workshop as w
from tests.inventory import plans
from tests.support import once, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def lots():
    return plans.stock()


def typed(masses: dict[Lot, str]) -> dict[str, object]:
    return once() | {f"lot-{lot.pk}": mass for lot, mass in masses.items()}


def charge_of(plan: Plan) -> dict[int, int]:
    return dict(plan.portions.filter(use="metal").values_list("lot", "quantity"))


def low_metal() -> Lot:
    """100 g of sterling that an assay would call 900."""
    low = w.buy(w.grain(), w.g(100), 50)
    low.holder.fine_ug = w.g(100) * 900
    low.holder.save()
    return low


def reclaim(grams: str) -> Lot:
    lot = w.buy(w.grain(), w.g(grams) + w.g(10), 100)
    w.cast_metal([(lot, str(float(grams) + 10))], [w.piece("Leaf", 10)], back=grams)
    return Lot.objects.get(origin="clean")


def test_every_lot_on_the_shelf_has_a_line_and_those_of_the_plan_their_mass(bench, lots):
    plan = plans.plan()
    other = w.buy(w.grain(), w.g(50), 40)
    page = text_of(bench.get(f"/plans/{plan.pk}/charge/"))
    assert 'value="66.48 g"' in page and f"Lot {other.pk}, Sterling grain" in page
    assert "200.00 g free, 925 per mille, fresh." in page and "66.48 g in the charge" in page


def test_a_changed_charge_is_saved_once(bench, lots):
    plan, other = plans.plan(), w.buy(w.grain(), w.g(50), 40)
    data = typed({lots["fresh"]: "40", other: "26.48"})
    for _ in range(2):
        assert bench.post(f"/plans/{plan.pk}/charge/", data)["Location"] == f"/plans/{plan.pk}/"
    assert charge_of(plan) == {lots["fresh"].pk: 40_000, other.pk: 26_480}
    assert "Propose again" in text_of(bench.get(f"/plans/{plan.pk}/"))


def test_it_is_proposed_again(bench, lots):
    plan = plans.plan()
    proposed = charge_of(plan)
    bench.post(f"/plans/{plan.pk}/charge/", typed({lots["fresh"]: "80"}))
    bench.post(f"/plans/{plan.pk}/anew/", typed({}))
    assert charge_of(plan) == proposed


def test_more_than_a_lot_holds_is_refused_beside_it(bench, lots):
    plan = plans.plan()
    response = bench.post(f"/plans/{plan.pk}/charge/", typed({lots["fresh"]: "200.01"}))
    assert response.status_code == 422
    assert "short" in response.context["sheet"].form.errors[f"lot-{lots['fresh'].pk}"][0]
    assert 'value="200.01"' in text_of(response) and "200.01 g in the charge" in text_of(response)
    assert charge_of(plan) == {lots["fresh"].pk: 66_480}


def test_metal_that_another_plan_holds_is_refused(bench, lots):
    plan = plans.plan()
    plans.plan(title="Buds")
    response = bench.post(f"/plans/{plan.pk}/charge/", typed({lots["fresh"]: "150"}))
    assert response.status_code == 422 and "that is not promised" in text_of(response)


def test_a_charge_below_the_mark_is_refused(bench, lots):
    plan, low = plans.plan(), low_metal()
    response = bench.post(f"/plans/{plan.pk}/charge/", typed({lots["fresh"]: "26.48", low: "40"}))
    assert response.status_code == 422 and "the mark is 925" in text_of(response)
    assert charge_of(plan) == {lots["fresh"].pk: 66_480}


def test_too_little_fresh_metal_is_warned_about_and_saved(bench, lots):
    plan, tin = plans.plan(), reclaim("90")
    data = typed({tin: "66.48"})
    assert "these rules are your own" in text_of(bench.post(f"/plans/{plan.pk}/charge/sums/", data))
    assert bench.post(f"/plans/{plan.pk}/charge/", data).status_code == 302
    assert charge_of(plan) == {tin.pk: 66_480}
    assert "fresh" in text_of(bench.get(f"/plans/{plan.pk}/"))


def test_a_charge_of_nothing_is_refused(bench, lots):
    plan = plans.plan()
    response = bench.post(f"/plans/{plan.pk}/charge/", typed({lots["fresh"]: ""}))
    assert response.status_code == 422 and "No metal is written down yet" in text_of(response)


def test_a_customers_metal_has_no_line_in_the_studios_plan(bench, lots):
    plan, theirs = plans.plan(), post_handed_in(w.customer(), w.grain(), w.g(100), w.DAY)
    assert "Ilse Quill" not in text_of(bench.get(f"/plans/{plan.pk}/charge/"))
    bench.post(f"/plans/{plan.pk}/charge/", typed({lots["fresh"]: "66.48"}) | {f"lot-{theirs.pk}": "10"})
    assert list(charge_of(plan)) == [lots["fresh"].pk]


@pytest.mark.parametrize("mass", ["2 oz", "-5", "a lot", "9" * 30])
def test_a_mass_that_cannot_be_read_stays_beside_its_sentence(bench, lots, mass):
    plan = plans.plan()
    response = bench.post(f"/plans/{plan.pk}/charge/", typed({lots["fresh"]: mass}))
    assert response.status_code == 422 and f'value="{mass}"' in text_of(response)


def test_the_sums_add_up_while_it_is_typed(bench, lots):
    plan = plans.plan()
    page = text_of(bench.post(f"/plans/{plan.pk}/charge/sums/", typed({lots["fresh"]: "70"})))
    for words in ("70.00 g in the charge, for 105.00 GBP", "3.52 g more than is needed", "925"):
        assert words in page
    assert "adds up here" in text_of(bench.post(f"/plans/{plan.pk}/charge/sums/", {}))


def test_an_empty_shelf_says_where_metal_is_entered(bench):
    w.buy(w.powder(), w.g(6000), 40)
    plan = plans.plan()
    assert "No metal for this alloy is here" in text_of(bench.get(f"/plans/{plan.pk}/charge/"))


# The steps of the cast that was planned


@pytest.fixture
def begun(lots) -> Cast:
    return post_begin(plans.plan())


def test_the_tree_stands_there_as_it_was_planned(bench, lots, begun):
    rows = bench.get(f"/casts/{begun.number}/").context["sheet"].rows["tree"]
    assert [(row["what"].value(), row["quantity"].value()) for row in rows] == [
        (f"lot-{lots['wax'].pk}", "5.6 g")
    ]


def test_powder_and_water_stand_there_as_they_were_planned(bench, lots, begun):
    sheet = bench.get(f"/casts/{begun.number}/powder/").context["sheet"]
    row = sheet.rows["powder"].forms[0]
    plan = begun.plan
    assert row["lot"].value() == f"lot-{lots['powder'].pk}"
    assert row["mass"].initial == plan.powder_mg and sheet.form["water"].initial == plan.water_mg


def test_the_charge_stands_there_as_it_was_planned_and_is_saved_as_it_stands(bench, lots, begun):
    rows = bench.get(f"/casts/{begun.number}/charge/").context["sheet"].rows["charge"]
    sent = {row.add_prefix(name): row[name].value() for row in rows for name in ("what", "mass")}
    sent |= {
        "charge-TOTAL_FORMS": 1,
        "charge-INITIAL_FORMS": 1,
        **once(),
        "day": str(begun.day),
    }
    assert bench.post(f"/casts/{begun.number}/charge/", sent).status_code == 302
    lots["fresh"].holder.refresh_from_db()
    assert lots["fresh"].holder.quantity == w.g(200) - 66_480


def test_a_second_portion_is_not_filled_in_again(bench, lots, begun):
    bench.post(
        f"/casts/{begun.number}/charge/",
        {
            **once(),
            "day": str(begun.day),
            "charge-TOTAL_FORMS": 1,
            "charge-INITIAL_FORMS": 0,
            "charge-0-what": f"lot-{lots['fresh'].pk}",
            "charge-0-mass": "60",
        },
    )
    rows = bench.get(f"/casts/{begun.number}/charge/").context["sheet"].rows["charge"]
    assert [row["mass"].value() for row in rows] == [None]


def test_the_castings_are_named_and_one_that_did_not_come_out_is_left_empty(bench, lots, begun):
    page = bench.get(f"/casts/{begun.number}/weights/")
    rows = page.context["sheet"].rows["pieces"]
    assert [(row["name"].value(), row["count"].value()) for row in rows] == [("Leaf", "4")]


def test_a_cast_without_a_plan_is_asked_as_before(bench, lots):
    cast = post_start(CastFacts("leaves", w.DAY, w.sterling()))
    assert bench.get(f"/casts/{cast.number}/charge/").context["sheet"].rows["charge"].forms[0].initial == {}


# Home


def test_open_plans_stand_on_the_first_page_with_what_comes_next(bench, lots):
    plan = plans.plan()
    page = text_of(bench.get("/"))
    assert "Planned: Fern leaves, Sterling" in page and f'class="press" href="/plans/{plan.pk}/"' in page
    post_begin(plan)
    assert "Planned: Fern leaves" not in text_of(bench.get("/"))


def test_a_plan_whose_day_is_past_says_so(bench, lots):
    plans.plan(day=plans.day_draft(datetime(2026, 3, 1, 18, 30, tzinfo=UTC)))
    page = text_of(bench.get("/"))
    assert "Its day is past" in page
