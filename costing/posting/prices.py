"""Prices as they are kept: what metal cost on some days, and what is asked for things from a day on."""

from collections.abc import Iterable, Mapping
from datetime import date

from django.contrib.auth.models import User

from costing.core.metal_price import DatedPrice
from costing.models import AskedPrice, FinePrice
from costing.queries.asked import newest_asked, newest_asked_of_designs
from inventory.models import Design, Piece


def write_fine_prices(metal: str, prices: Iterable[DatedPrice]) -> int:
    """Keep a price of a pure metal for each day, in place of one that is there. Returns how many."""
    rows = [
        FinePrice(metal=metal, day=price.day, price_micro=price.price_micro, per_unit=price.per_unit)
        for price in prices
    ]
    FinePrice.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["metal", "day"],
        update_fields=["price_micro", "per_unit"],
    )
    return len(rows)


def ask_prices(
    prices: Mapping[Piece, int] | Mapping[Design, int], day: date, reason: str = "", by: User | None = None
) -> list[AskedPrice]:
    """Ask these prices from a day on, in millionths of the currency; what is asked already is left as it is.

    Of pieces or of designs.

    Earlier prices stay in the history. Call it where nobody else writes: it judges by what is asked now.
    """
    pieces = {thing.pk for thing in prices if isinstance(thing, Piece)}
    designs = {thing.pk for thing in prices if isinstance(thing, Design)}
    now = {("piece", key): one.price_micro for key, one in newest_asked(pieces).items()}
    if designs:
        now |= {("design", key): one.price_micro for key, one in newest_asked_of_designs(designs).items()}
    changed = []
    for thing, price in prices.items():
        kind = "piece" if isinstance(thing, Piece) else "design"
        if now.get((kind, thing.pk)) != price:
            one = AskedPrice(day=day, price_micro=price, reason=reason, recorded_by=by, **{kind: thing})
            changed.append(one)
    return AskedPrice.objects.bulk_create(changed)
