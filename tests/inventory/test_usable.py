"""What of the stock may be used: one rule, whoever asks."""

from datetime import timedelta
from itertools import product

import pytest
from django.utils import timezone

from inventory.core.picking import is_usable, sets_in_time
from inventory.forms.casting_fields import offer_powder
from inventory.models import Lot, Material, Studio
from inventory.posting.stock import mend_lot, note_setting_test, open_tub, post_use
from inventory.queries.bench import unusable_lots
from inventory.queries.casting_choices import powder_lots, suggest_powder_lot
from inventory.queries.plan_figures import work_out
from inventory.queries.shelf import usable_on
from inventory.queries.stock import other_on_hand
from tests import workshop as w
from tests.inventory import plans
from tests.support import once, text_of
from tests.workshop import powder_outlook

pytestmark = pytest.mark.django_db


@pytest.fixture
def tubs():
    """A tub of each kind, of 1, 2, 4 ... kg, so that a sum tells which of them it counts."""
    w.make_studio()
    plans.stock()
    Lot.objects.filter(material=w.powder()).delete()
    today = timezone.localdate()
    lots = []
    days = [None, today - timedelta(days=1), today, today + timedelta(days=1)]
    for place, (damp_on, use_by) in enumerate(product([None, today], days)):
        lot = w.buy(w.powder(), w.g(1000 * 2**place), 10, day=today - timedelta(days=60))
        lot.damp_on, lot.use_by = damp_on, use_by
        lot.save()
        lots.append(lot)
    return lots


def _usable_mg(lots):
    today = timezone.localdate()
    return sum(lot.holder.quantity for lot in lots if is_usable(lot, today))


def test_dry_powder_is_usable_through_its_last_day(tubs):
    today = timezone.localdate()
    usable = [lot.pk for lot in tubs if is_usable(lot, today)]
    assert usable == [tubs[0].pk, tubs[2].pk, tubs[3].pk]
    assert list(Lot.objects.filter(usable_on(today), pk__in=[t.pk for t in tubs]).order_by("pk")) == [
        tubs[0],
        tubs[2],
        tubs[3],
    ]


def test_home_buying_stock_plan_and_record_form_count_the_same_powder(tubs):
    today, studio = timezone.localdate(), Studio.objects.get()
    usable_mg, all_mg = _usable_mg(tubs), sum(lot.holder.quantity for lot in tubs)
    (outlook,) = powder_outlook(studio, today)
    assert (outlook.good, outlook.unusable) == (usable_mg, all_mg - usable_mg)
    (row,) = [one for one in other_on_hand(today) if one["material_id"] == w.powder().pk]
    assert (row["quantity"], row["unusable"]) == (all_mg, all_mg - usable_mg)
    assert {lot.pk for lot in unusable_lots(today)} == {tubs[place].pk for place in (1, 4, 5, 6, 7)}
    worked = work_out(plans.draft(), studio)
    pours = timezone.localdate(worked.draft.day.wish_at)
    (need,) = [need for need in worked.needs if need.label == "Investment powder"]
    free = [lot for lot in tubs if is_usable(lot, pours)]
    assert need.held_mg == sum(lot.holder.quantity for lot in free)
    assert suggest_powder_lot(powder_lots(), today) == tubs[2]
    assert str(offer_powder(tubs).choices()).count("Damp! Lot") == 4


def test_damp_powder_does_not_put_off_the_day_to_order(tubs):
    """Two kilograms went in a week, a hundred are damp: none is left, so the order is due now."""
    today, studio = timezone.localdate(), Studio.objects.get()
    for lot in tubs[:4]:
        post_use(lot, lot.holder.quantity, today - timedelta(days=3))
    (outlook,) = powder_outlook(studio, today)
    assert outlook.good == 0
    assert outlook.outlook.is_due
    assert any("has been damp since" in why for _, why in outlook.left_out)


@pytest.fixture
def tub(studio):
    """A tub that came ten days ago, of a powder that sets after 9 and before 14 minutes."""
    powder = w.powder()
    powder.sets_least_minutes, powder.sets_most_minutes, powder.opened_life_days = 9, 14, 90
    powder.save()
    return w.buy(powder, w.g(5_000), 20, day=timezone.localdate() - timedelta(days=10))


def test_a_lot_that_sets_out_of_its_time_is_set_aside_until_a_newer_test_is_right(tub):
    today = timezone.localdate()
    before = today - timedelta(days=3)
    assert note_setting_test(tub, before, 8) is False
    assert tub.sets_wrong_on == before
    assert not is_usable(tub, today) and is_usable(tub, before - timedelta(days=1))
    assert not Lot.objects.filter(usable_on(today), pk=tub.pk).exists()
    assert Lot.objects.filter(usable_on(before - timedelta(days=1)), pk=tub.pk).exists()
    assert str(offer_powder([tub]).choices()).count("Sets wrong! Lot") == 1
    # An older test that is written down late changes nothing; a newer one does.
    assert note_setting_test(tub, before - timedelta(days=1), 10) is True
    assert tub.sets_wrong_on == before
    assert note_setting_test(tub, today, 14) is True
    assert is_usable(tub, today) and Lot.objects.get(pk=tub.pk).sets_wrong_on is None


@pytest.mark.parametrize(
    ("minutes", "least", "most", "said"),
    [(8, 9, 14, False), (9, 9, 14, True), (15, None, 14, False), (15, 9, None, True), (5, None, None, None)],
)
def test_powder_sets_from_the_makers_least_to_the_makers_most(minutes, least, most, said):
    assert sets_in_time(minutes, least, most) is said


def test_a_test_is_written_down_on_the_lots_page(bench, tub):
    address = f"/stock/lots/{tub.pk}/"
    assert "Its maker says: after 9 min and before 14 min." in text_of(bench.get(f"{address}setting-test/"))
    day = timezone.localdate().isoformat()
    written = {"minutes": "20", "day": day, "note": "old tub"}
    page = text_of(bench.post(f"{address}setting-test/", {**once(), **written}, follow=True))
    assert "it is set aside, and nothing offers or counts it any more" in page
    assert "20 min on" in page and "(old tub)" in page
    # Where nobody wrote the maker's time down, nothing is judged.
    Lot.objects.update(sets_wrong_on=None)
    Material.objects.update(sets_least_minutes=None, sets_most_minutes=None)
    again = bench.post(f"{address}setting-test/", {**once(), **written}, follow=True)
    assert "setting time with the material" in text_of(again)


def test_one_day_counts_also_when_the_makers_is_mended_after_opening(tub):
    today = timezone.localdate()
    open_tub(tub, today)
    assert tub.use_by == today + timedelta(days=90)
    mend_lot(tub, {"use_by": today + timedelta(days=400)})
    assert tub.use_by == today + timedelta(days=90)
    mend_lot(tub, {"use_by": today + timedelta(days=20)})
    assert Lot.objects.get(pk=tub.pk).use_by == today + timedelta(days=20)


def test_a_tub_that_got_damp_is_said_so_in_one_step(bench):
    lot = w.buy(w.powder(), w.g(5000), 20)
    address = f"/stock/lots/{lot.pk}/"
    assert "It got damp" in text_of(bench.get(address))
    assert bench.post(f"{address}damp/", {"day": w.DAY.isoformat(), **once()}).status_code == 302
    lot.refresh_from_db()
    assert lot.damp_on == w.DAY and "It got damp" not in text_of(bench.get(address))
    assert "It got damp" not in text_of(bench.get(f"/stock/lots/{w.buy(w.grain(), w.g(5), 5).pk}/"))
