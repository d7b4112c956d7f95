"""The offers and orders of the demo studio: powder in three packs of two suppliers, and an order in part here."""

from datetime import date, timedelta

from costing.management.demo.setting import Setting, money
from inventory.models import Offer, Supplier
from inventory.posting.buying import Charges, DeliveryLine, post_delivery
from inventory.posting.ordering import Ordered, Receiving, place_order, write_bands, write_breaks

ORDERED, CAME = timedelta(days=6), timedelta(days=2)
KG = 1_000_000


def offer_and_order(things: Setting, today: date) -> None:
    """Two large packs far away cost less than one at hand while they are used before they go stale."""
    quarry = Supplier.objects.create(
        name="Saltmarsh Minerals",
        contact="orders by telephone, mornings",
        lead_time_days=9,
        lead_time_spread_days=3,
        least_micro=money(2_000),
    )
    write_bands(things.moulds, [(0, money(1_150)), (money(12_000), 0)])
    write_bands(quarry, [(0, money(1_480)), (money(9_000), money(1_980))])
    write_bands(things.metals, [(0, money(895)), (money(50_000), 0)])
    told = today - timedelta(days=20)
    for supplier, material, quantity, price, keeps, breaks in (
        (things.moulds, things.powder, 10 * KG, 3_640, None, [(2, money(3_520))]),
        (quarry, things.powder, 25 * KG, 6_900, 300, []),
        (quarry, things.powder, 5 * KG, 1_890, 300, [(3, money(1_790))]),
        (things.moulds, things.wax, 250_000, 1_210, None, []),
    ):
        offer = Offer.objects.create(
            supplier=supplier,
            material=material,
            quantity=quantity,
            price_micro=money(price),
            told_on=told,
            keeps_days=keeps,
        )
        write_breaks(offer, breaks)
    _order_wires(things, today)


def _order_wires(things: Setting, today: date) -> None:
    """Sixty of a hundred came; the rest is late."""
    lines = [Ordered(things.wires, 100, money(4_550))]
    order = place_order(things.metals, lines, today - ORDERED, reference="EW-88")
    came = [DeliveryLine(things.wires, 60, money(2_760))]
    charges = Charges(carriage_micro=money(395))
    post_delivery(things.metals, today - CAME, came, charges, "M-EW88", of=Receiving(order))
