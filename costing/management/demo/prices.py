"""How the demo studio prices: what silver costs, its rules and channels, and what it asks for what is in the drawer."""

from datetime import date, timedelta
from typing import Any

from django.db.models import Q

from costing.core.metal_price import DatedPrice
from costing.management.demo.setting import money, silver_pence
from costing.models import AlloyPremium, CastingTerms, Channel, NamedRule, PricePractice
from costing.posting.prices import ask_prices, write_fine_prices
from costing.queries.asked import pieces_to_sell
from costing.reports.asked_list import read_rows
from inventory.models import Alloy

_RISE_DAYS = 40


def set_prices(today: date, sterling: Alloy) -> None:
    """What is asked was set some weeks ago; silver has risen since, and some of it is under its floor by now."""
    _write_silver(today)
    AlloyPremium.objects.create(alloy=sterling, share_pct100=350, micro_per_kg=money(4_000))
    shop = _rule("Shop", method="margin", value_hundredths=5_500, counts_failures=True)
    gallery = _rule(
        "Gallery", method="parts", value_hundredths=200, time_hundredths=130, added_micro=money(150)
    )
    least = _rule(
        "Least", method="margin", value_hundredths=4_400, least_per_hour_micro=money(2_600), metal="today"
    )
    table = Channel.objects.create(name="Own table", rule=shop, card_pct100=175, card_micro=money(5))
    Channel.objects.create(
        name="Saturday market",
        rule=shop,
        commission_pct100=500,
        card_pct100=175,
        card_micro=money(5),
        day_micro=money(4_500),
        sold_a_day=9,
    )
    Channel.objects.create(name="Gallery on the hill", rule=gallery, commission_pct100=4_000)
    Channel.objects.create(
        name="By post", rule=shop, card_pct100=290, card_micro=money(25), shipping_micro=money(480)
    )
    PricePractice.objects.create(pk=1, usual_channel=table, floor_rule=least)
    CastingTerms.objects.create(
        name="For others",
        gram_micro_per_kg=money(120_000),
        flask_micro=money(1_800),
        mould_micro=money(2_500),
        metal_pct100=1_000,
    )
    _ask(today)


def _rule(name: str, **says: object) -> NamedRule:
    return NamedRule.objects.create(name=name, **says)


def _write_silver(today: date) -> None:
    """A price a week, per ounce, near what sterling grain cost by its fine silver, and up in the last weeks."""
    prices = []
    for week in range(52, -1, -1):
        day = today - timedelta(days=7 * week)
        up = max(0, _RISE_DAYS - 7 * week) * 6
        ounce = silver_pence(today, day) * 32 + up
        prices.append(DatedPrice(money(ounce), "ozt", day))
    write_fine_prices("silver", prices)


def _ask(today: date) -> None:
    """Older prices stand a little under what the rules say now; the newest pieces have none yet."""
    day = today - timedelta(days=_RISE_DAYS)
    rows = read_rows(list(pieces_to_sell().filter(Q(cast__day__lt=day)))[:60])
    first: dict[Any, int] = {
        row.thing: _round(row.suggested_micro * (78 + place % 5 * 3) // 100)
        for place, row in enumerate(rows)
        if row.suggested_micro
    }
    ask_prices(first, day, "first priced")
    again: dict[Any, int] = {row.thing: row.suggested_micro for row in rows[::4] if row.suggested_micro}
    ask_prices(again, today - timedelta(days=3), "silver went up")


def _round(micro: int) -> int:
    return max(micro // money(100), 1) * money(100)
