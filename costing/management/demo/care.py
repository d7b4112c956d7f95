"""The demo's care: what wears with its log, and how its powder was found to set."""

from datetime import date, timedelta

from costing.management.demo.setting import Setting
from inventory.models import Lot, WearingPart
from inventory.posting.stock import note_setting_test
from inventory.posting.wearing import write_replacement


def look_after_things(things: Setting, today: date) -> None:
    """The kiln's elements last the year; the pump's oil was changed once; the newest tub sets as its maker says."""
    new_on = today - timedelta(days=330)
    WearingPart.objects.create(
        name="Elements of the kiln",
        equipment=things.kiln,
        counted_by=WearingPart.CountedBy.HOURS,
        life=400,
        new_on=new_on,
        lead_days=30,
    )
    oil = WearingPart.objects.create(
        name="Oil of the pump",
        equipment=things.pump,
        counted_by=WearingPart.CountedBy.CASTS,
        life=30,
        new_on=new_on,
        lead_days=5,
    )
    write_replacement(oil, today - timedelta(days=150), note="it had gone milky")
    tub = Lot.objects.filter(material=things.powder, holder__quantity__gt=0).latest("received_on", "pk")
    note_setting_test(tub, today - timedelta(days=2), 11)
