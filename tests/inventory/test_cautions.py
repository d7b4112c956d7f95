"""Words of care that hang on what is melted. They inform and stop nothing."""

import re
from pathlib import Path

import pytest

from inventory.core.metal import FROM_COMPOSITION
from inventory.models import Alloy, Material, Studio
from inventory.posting.casting import CastFacts, post_charge, post_start
from inventory.posting.planning import save_plan
from inventory.posting.stock import post_handed_in
from inventory.queries.days import read_day
from inventory.queries.plan_figures import work_out
from inventory.queries.plans import melt_cautions, plan_cautions
from inventory.reports.run_sheet import build_run_sheet
from studio.kit.cautions import CAUTIONS
from studio.kit.documents import Care
from tests import workshop as w
from tests.inventory import plans
from tests.support import text_of

TEMPLATES = Path(__file__).resolve().parent.parent.parent / "templates"

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("bench")]

ZINC, LEAD = "Zinc fume.", "Lead and cadmium."


def alloy(name, metal="base", fineness=0, **parts):
    made = Alloy.objects.create(
        name=name, metal=metal, fineness=fineness, density_mg_cm3=8_500, density_note=FROM_COMPOSITION
    )
    for element, share in parts.items():
        made.parts.create(element=element, per_10000=share)
    return made


def brass():
    return alloy("Brass", Cu=7_000, Zn=3_000)


@pytest.mark.parametrize(
    ("metal", "fineness", "parts", "fumes"),
    [
        ("base", 0, {"Cu": 7_000, "Zn": 3_000}, True),
        ("gold", 585, {"Au": 5_850, "Cu": 3_520, "Zn": 630}, True),
        ("base", 0, {"Cu": 8_900, "Sn": 1_100}, False),
        ("silver", 925, {"Ag": 9_250, "Cu": 750}, False),
        ("base", 0, {}, True),
        ("gold", 375, {}, True),
        ("silver", 925, {}, False),
    ],
)
def test_zinc_is_minded_where_it_is_or_may_be(metal, fineness, parts, fumes):
    made = alloy("Any", metal, fineness, **parts)
    assert melt_cautions([made.pk]) == (("zinc",) if fumes else ())


def test_a_portion_with_zinc_is_minded_in_an_alloy_without(django_assert_num_queries):
    bronze, other = alloy("Bronze", Cu=8_900, Sn=1_100), brass()
    with django_assert_num_queries(1):
        assert melt_cautions([bronze.pk, other.pk]) == ("zinc",)
    assert melt_cautions([bronze.pk, None]) == ()


def plan_of(made):
    w.buy(w.grain(made), w.g(400), 20)
    w.buy(w.powder(), w.g(6000), 40)
    w.buy(w.wax(), w.g(100), 8)
    return save_plan(work_out(plans.draft(alloy=made), Studio.objects.get()))


def test_zinc_is_minded_on_the_plan_the_day_the_run_sheet_and_the_alloy(bench):
    plan = plan_of(brass())
    for address in (f"/plans/{plan.pk}/", f"/days/{plan.day_id}/", f"/setup/alloys/{plan.alloy_id}/"):
        assert ZINC in text_of(bench.get(address)), address
    kinds = [
        block.kind
        for block in build_run_sheet({"casting_day": plan.day_id}).blocks
        if isinstance(block, Care)
    ]
    assert "zinc" in kinds and "scrap" not in kinds
    assert LEAD not in text_of(bench.get(f"/plans/{plan.pk}/"))


def test_sterling_is_not_minded_for_zinc(bench):
    plans.stock()
    plan = plans.plan()
    assert ZINC not in text_of(bench.get(f"/plans/{plan.pk}/"))
    assert ZINC not in text_of(bench.get(f"/days/{plan.day_id}/"))


def charged(lot, made, owner=None):
    cast = post_start(CastFacts("hooks", w.DAY, made, owner=owner))
    post_charge(cast, [w.Portion(lot, w.g(20))], w.DAY)
    return cast


def test_zinc_and_steam_are_minded_at_the_pour_before_the_quench(bench):
    cast = charged(w.buy(w.grain(brass()), w.g(50), 5), Alloy.objects.get(name="Brass"))
    for step in ("charge", "pour"):
        assert ZINC in text_of(bench.get(f"/casts/{cast.number}/{step}/"))
    page = text_of(bench.get(f"/casts/{cast.number}/pour/"))
    assert "steam rises" in page
    assert "steam rises" in text_of(bench.get(f"/casts/{cast.number}/checks/"))


def test_lead_and_cadmium_are_minded_where_metal_is_of_unknown_make(bench):
    assert LEAD in text_of(bench.get("/stock/handed-in/"))
    theirs = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    cast = charged(theirs, w.sterling(), w.customer())
    assert LEAD in text_of(bench.get(f"/casts/{cast.number}/pour/"))
    scrap = Material.objects.create(name="Old spoons", kind="metal", alloy=w.sterling(), form="scrap")
    own = charged(w.buy(scrap, w.g(50), 20), w.sterling())
    assert LEAD in text_of(bench.get(f"/casts/{own.number}/pour/"))
    known = charged(w.buy(w.grain(), w.g(50), 40), w.sterling())
    assert LEAD not in text_of(bench.get(f"/casts/{known.number}/pour/"))


def test_a_plan_with_scrap_in_it_minds_lead(bench):
    plans.stock()
    plan = plans.plan()
    Material.objects.filter(pk=w.grain().pk).update(form="scrap")
    assert plan_cautions(read_day(plan.day_id).plans) == ("zinc", "scrap")


def test_silica_asks_for_a_respirator_that_is_rated_for_it():
    text = CAUTIONS["powder"].text
    assert "respirator" in text and "rated for fine silica" in text
    assert not any("dust mask" in caution.text for caution in CAUTIONS.values())


def test_words_of_care_stand_above_the_button_they_are_for():
    """A page may have smaller buttons below them; the one to press comes after."""
    checked = []
    for path in TEMPLATES.rglob("*.html"):
        text = path.read_text()
        cares, presses = (
            text.find("{% caution"),
            [found.start() for found in re.finditer('class="press"', text)],
        )
        if cares >= 0 and presses:
            assert cares < max(presses), path.name
            checked.append(path.name)
    assert {"cast.html", "checks.html", "clock.html", "handed_in.html", "schedule.html"} <= set(checked)


def test_what_all_words_of_care_end_in_is_said_once(bench):
    cast = charged(w.buy(w.grain(brass()), w.g(50), 5), Alloy.objects.get(name="Brass"))
    page = text_of(bench.get(f"/casts/{cast.number}/pour/"))
    assert page.count("Molten metal.") == page.count(ZINC) == page.count("Steam and hot plaster.") == 1
    assert page.count("own sheet decide.") == 1
    assert page.index("own sheet decide.") < page.index('<button class="press">')
