"""What of the stock may be used: one rule, whoever asks."""

from datetime import timedelta
from itertools import product

import pytest
from django.utils import timezone

from inventory.core.picking import is_usable
from inventory.forms.casting_fields import offer_powder
from inventory.models import Lot, Studio
from inventory.posting.stock import post_use
from inventory.queries.bench import unusable_lots
from inventory.queries.buying import powder_outlook
from inventory.queries.casting_choices import powder_lots, suggest_powder_lot
from inventory.queries.plan_figures import work_out
from inventory.queries.shelf import usable_on
from inventory.queries.stock import other_on_hand
from tests import workshop as w
from tests.inventory import plans

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
    for place, (is_damp, use_by) in enumerate(product([False, True], days)):
        lot = w.buy(w.powder(), w.g(1000 * 2**place), 10, day=today - timedelta(days=60))
        lot.is_damp, lot.use_by = is_damp, use_by
        lot.save()
        lots.append(lot)
    return lots


def _usable_mg(lots):
    today = timezone.localdate()
    return sum(lot.holder.quantity for lot in lots if is_usable(lot.use_by, lot.is_damp, today))


def test_dry_powder_is_usable_through_its_last_day(tubs):
    today = timezone.localdate()
    usable = [lot.pk for lot in tubs if is_usable(lot.use_by, lot.is_damp, today)]
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
    free = [lot for lot in tubs if is_usable(lot.use_by, lot.is_damp, pours)]
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
    assert outlook.reorder is not None
    assert outlook.reorder.is_due
    assert outlook.reorder.casts_left in (None, 0)
