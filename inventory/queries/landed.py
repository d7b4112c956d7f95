"""Reads of what the lots of a delivery cost to have here, bills that came later with them."""

from dataclasses import dataclass

from django.db.models import Q, Sum

from inventory.models import BillLine, Delivery, Entry, Lot, Movement
from studio.kit.models import in_order

from .ledger import STANDING


@dataclass(frozen=True)
class LandedRow:
    """One lot of a delivery: how much of it came, and what it cost by all bills that stand, in millionths.

    `first_price_micro` and `first_charges_micro` came with the goods, `more_price_micro` and `more_charges_micro` by
    later bills; of these `used_micro` is for what was used by then.
    """

    lot: Lot
    quantity: int
    first_price_micro: int
    first_charges_micro: int
    more_price_micro: int
    more_charges_micro: int
    used_micro: int

    @property
    def price_micro(self) -> int:
        return self.first_price_micro + self.more_price_micro

    @property
    def charges_micro(self) -> int:
        return self.first_charges_micro + self.more_charges_micro


def landed_rows(delivery: Delivery) -> list[LandedRow]:
    """The lots of a delivery in the order they were written. Three queries.

    Of a delivery that was reversed they show what they came with, for it stays readable.
    """
    came_with_it = Lot.objects.filter(delivery=delivery, void=delivery.void)
    lots = in_order(came_with_it.select_related("material", "holder"), "pk")
    sums = {lot.holder_id: [0, 0, 0, 0] for lot in lots}
    goods, bill = Movement.What.GOODS, Entry.Kind.LATE_BILL
    came = Q(entry=delivery.entry_id) | (STANDING & Q(entry__kind=bill))
    for sign, side in ((1, "target"), (-1, "source")):
        rows = Movement.objects.filter(came, **{f"{side}__in": list(sums)})
        columns = (side, "entry", "what", "quantity", "cost_micro")
        for holder, entry, what, quantity, cost_micro in rows.values_list(*columns):
            one, came_with_goods = sums[holder], entry == delivery.entry_id
            one[0] += quantity
            place = 3 if not came_with_goods else 1 if what == goods else 2
            one[place] += sign * cost_micro
    lines = BillLine.objects.filter(STANDING, lot__delivery=delivery)
    billed = {
        lot: (price, charges)
        for lot, price, charges in lines.values_list("lot").annotate(Sum("price_micro"), Sum("charges_micro"))
    }
    return [_row(lot, sums[lot.holder_id], *billed.get(lot.pk, (0, 0))) for lot in lots]


def _row(lot: Lot, sums: list[int], price_micro: int, charges_micro: int) -> LandedRow:
    quantity, first_price_micro, first_charges_micro, here_micro = sums
    return LandedRow(
        lot,
        quantity,
        first_price_micro,
        first_charges_micro,
        price_micro,
        charges_micro,
        price_micro + charges_micro - here_micro,
    )
