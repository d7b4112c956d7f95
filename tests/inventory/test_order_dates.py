"""A damp tub, a short plan and a tub that was opened too long change the day to order by everywhere at once."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.models import Lot, Material, Plan, Studio
from inventory.posting.casting import post_charge
from inventory.posting.planning import drop_plan, post_begin, take_up_plan
from inventory.posting.stock import post_use
from inventory.queries.outlook import material_outlook
from studio.kit.printing import print_day
from tests import workshop as w
from tests.inventory import plans
from tests.support import words_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


@pytest.fixture
def tubs():
    """A kilogram a fortnight over half a year, two tubs of 5 kg here; eight days on the road."""
    today = timezone.localdate()
    used = w.buy(w.powder(), w.g(13_000), 50, day=today - timedelta(days=180))
    for week in range(13):
        post_use(used, w.g(1000), today - timedelta(days=14 * week + 3))
    return [
        w.buy(w.powder(), w.g(5000), 20, day=today - timedelta(days=20), use_by=today + timedelta(days=300))
        for _ in range(2)
    ]


def outlook_of(material):
    today = timezone.localdate()
    return next(
        one for one in material_outlook(Studio.objects.get(), today) if one.material == material
    ).outlook


def said(bench, material):
    """What home, the page of buying and the material's own page say of the order."""
    pages = [
        words_of(bench.get(address)) for address in ("/", "/buying/", f"/buying/materials/{material.pk}/")
    ]
    return [page[page.index("Order ") :].partition(" from ")[0] for page in pages]


def test_a_damp_tub_and_one_that_is_past_its_day_move_the_day_everywhere(bench, tubs):
    today = timezone.localdate()
    first = outlook_of(w.powder())
    assert first.counts == w.g(10_000) and first.order_by > today + timedelta(days=60)
    Lot.objects.filter(pk=tubs[0].pk).update(damp_on=w.DAY)
    damp = outlook_of(w.powder())
    assert damp.counts == w.g(5000) and today < damp.order_by < first.order_by - timedelta(days=60)
    assert len(set(said(bench, w.powder()))) == 1
    since = print_day(w.DAY, with_year=True).replace("\xa0", " ")
    assert f"{tubs[0]}, 5.00 kg, has been damp since {since}: not counted" in words_of(bench.get("/buying/"))
    Lot.objects.filter(pk=tubs[1].pk).update(
        use_by=today - timedelta(days=1), opened_on=today - timedelta(days=90)
    )
    assert outlook_of(w.powder()).is_due
    assert said(bench, w.powder()) == ["Order 5.00 kg now"] * 3


def test_a_tub_that_will_not_be_used_in_time_counts_in_part(bench, tubs):
    today = timezone.localdate()
    Lot.objects.filter(pk=tubs[0].pk).update(use_by=today + timedelta(days=27), opened_on=today)
    one = outlook_of(w.powder())
    # Some 500 g a week for four weeks.
    assert w.g(6500) < one.counts < w.g(7500)
    assert f"{tubs[0]}: 3.1" in words_of(bench.get("/buying/"))


def test_a_plan_that_lacks_metal_moves_the_day_to_today_until_it_is_given_up(bench):
    """The tree takes some 60 g; 20 g are here, and nothing was ever used: only the plan asks for it."""
    stock = plans.stock(fresh="20")
    assert outlook_of(w.grain()).order_by is None
    plan = plans.plan()
    one = outlook_of(w.grain())
    assert one.planned == plan.metal_mg and one.is_due
    assert one.amount == 20_000 * -(-one.least // 20_000)
    lacks = f"the plan Fern leaves lacks {(plan.metal_mg - 20_000) / 1000:.2f} g"
    assert lacks in words_of(bench.get("/")) and lacks in words_of(bench.get("/buying/"))
    assert outlook_of(w.powder()).planned == plan.powder_mg and outlook_of(w.wax()).planned == w.g("5.6")
    drop_plan(plan)
    assert outlook_of(w.grain()).order_by is None
    take_up_plan(plan)
    w.buy(w.grain(), w.g(200), 240)
    assert not outlook_of(w.grain()).is_due
    cast = post_begin(Plan.objects.get())
    post_charge(cast, [w.Portion(stock["fresh"], w.g(20))], timezone.localdate())
    assert outlook_of(w.grain()).planned == 0 and outlook_of(w.powder()).planned == plan.powder_mg


def test_a_plan_of_a_customers_metal_asks_for_none(bench):
    plans.stock()
    plan = plans.plan()
    type(plan).objects.update(owner=w.customer())
    assert outlook_of(w.grain()).planned == 0 and outlook_of(w.powder()).planned == plan.powder_mg


def test_metal_back_in_the_tin_that_a_plan_means_to_use_need_not_be_bought(studio):
    lot = w.buy(w.grain(), w.g(300), 300)
    w.cast_metal([(lot, 100)], [w.piece("Leaf", 40)], back=59)
    plans.stock(fresh="1")
    plan = plans.plan()
    back = plan.portions.exclude(lot__material=w.grain()).filter(use="metal")
    assert back.exists()
    fresh = plan.metal_mg - sum(portion.quantity for portion in back)
    assert outlook_of(w.grain()).planned == fresh
    gone = back.get()
    w.cast_metal([(gone.lot, 59)], [w.piece("Leaf", 20)], back=38)
    assert outlook_of(w.grain()).planned == plan.metal_mg
    assert Material.objects.filter(form="reclaim").exists()
    assert all(one.material.form != "reclaim" for one in material_outlook(studio, timezone.localdate()))


def test_mixed_metal_is_never_to_be_ordered(studio):
    """Nobody sells metal of no known alloy: it is what came of charges and of old metal."""
    w.grain()
    known, today = Studio.objects.get(), timezone.localdate()
    assert [one.material for one in material_outlook(known, today)] == [w.grain()]
    w.sterling().__class__.objects.update(is_mixed=True)
    assert material_outlook(known, today) == []
