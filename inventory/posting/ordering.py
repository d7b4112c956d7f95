"""Writing of offers, of suppliers' terms and of orders. An order is no stock: it moves nothing until it comes."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db import transaction

from inventory.models import CarriageBand, Material, Offer, Order, OrderLine, PriceBreak, Supplier
from inventory.queries.orders import OrderNow, read_order
from studio.kit.printing import print_day

from .locking import bring_up_to_date, studio_locked
from .refusal import Refused


@dataclass(frozen=True)
class Ordered:
    """So much of a material, in its small unit; the price of all of it in millionths, None where nobody knows it."""

    material: Material
    quantity: int
    price_micro: int | None = None
    packs: str = ""


@transaction.atomic
def write_breaks(offer: Offer, breaks: Iterable[tuple[int, int]]) -> None:
    """Give a saved offer its prices from so many packs on: (packs, millionths for one)."""
    offer.breaks.all().delete()
    PriceBreak.objects.bulk_create(
        PriceBreak(offer=offer, packs=packs, price_micro=price) for packs, price in breaks
    )


@transaction.atomic
def write_bands(supplier: Supplier, bands: Iterable[tuple[int, int]]) -> None:
    """Give a saved supplier what a parcel costs to bring: (price or weight from which on, millionths)."""
    supplier.bands.all().delete()
    CarriageBand.objects.bulk_create(
        CarriageBand(supplier=supplier, reached=reached, carriage_micro=carriage)
        for reached, carriage in bands
    )


def place_order(
    supplier: Supplier,
    lines: Sequence[Ordered],
    placed_on: date,
    expected_on: date | None = None,
    reference: str = "",
    note: str = "",
    carriage_micro: int | None = None,
) -> Order:
    """Write down what was ordered. Left open, it is expected after the days that a parcel of the supplier takes.

    `carriage_micro` is what it is to cost to bring, in millionths; None where nobody told it.
    """
    with studio_locked():
        order = Order.objects.create(
            supplier=supplier,
            placed_on=placed_on,
            expected_on=expected_on or supplier.expect(placed_on),
            reference=reference,
            note=note,
            carriage_micro=carriage_micro,
        )
        OrderLine.objects.bulk_create(
            OrderLine(
                order=order,
                material=line.material,
                quantity=line.quantity,
                price_micro=line.price_micro,
                packs=line.packs,
                place=place,
            )
            for place, line in enumerate(lines)
        )
    return order


def _judged(order: Order, why_not: Callable[[OrderNow], str]) -> OrderNow:
    """The order as it stands once nobody else writes; raises Refused with what stands in the way."""
    bring_up_to_date([order])
    now = read_order(order)
    sentence = why_not(now)
    if sentence:
        raise Refused(sentence)
    return now


def why_not_receive(now: OrderNow) -> str:
    if now.order.void:
        return f"{now.order} is struck out. Take it up again first, if it is coming after all."
    if not now.is_open:
        return f"Nothing more of {now.order} is to come: open its page to see what came."
    return ""


def why_not_strike(now: OrderNow) -> str:
    if now.order.void:
        return f"{now.order} is struck out already."
    if now.has_come:
        return (
            f"Some of {now.order} came already, so it cannot be struck out: say that the rest is not coming."
        )
    return ""


def why_not_restore(now: OrderNow) -> str:
    return "" if now.order.void else f"{now.order} is not struck out."


def why_not_close(now: OrderNow) -> str:
    if not now.has_come:
        return f"Nothing of {now.order} came yet: strike it out instead."
    return why_not_receive(now)


def why_not_reopen(now: OrderNow) -> str:
    if now.order.void or not now.is_dropped:
        return f"Nothing of {now.order} was said not to be coming."
    return ""


def strike_out(order: Order) -> None:
    """It was not ordered, or will not come at all."""
    with studio_locked():
        _judged(order, why_not_strike)
        Order.objects.filter(pk=order.pk).update(void=True)


def restore(order: Order) -> None:
    """It is coming after all."""
    with studio_locked():
        _judged(order, why_not_restore)
        Order.objects.filter(pk=order.pk).update(void=False)


def close_order(order: Order) -> None:
    """What has not come by now is not coming."""
    with studio_locked():
        for one in _judged(order, why_not_close).lines:
            OrderLine.objects.filter(pk=one.line.pk).update(dropped=one.line.dropped + one.left)


def reopen_order(order: Order) -> None:
    """What was said not to be coming is."""
    with studio_locked():
        _judged(order, why_not_reopen)
        order.lines.update(dropped=0)


def expect_on(order: Order, day: date) -> None:
    """The supplier says another day."""
    with studio_locked():
        _judged(order, why_not_receive)
        if day < order.placed_on:
            raise Refused(f"It was ordered on {print_day(order.placed_on, with_year=True)}.", "day")
        Order.objects.filter(pk=order.pk).update(expected_on=day)


@dataclass(frozen=True)
class Receiving:
    """An order that a delivery is of. `seen` is how it stood on the page: what came meanwhile is not received twice."""

    order: Order
    seen: str = ""

    def judge(self) -> None:
        """Raises Refused where it cannot be received as it stands; the studio's lock is held."""
        now = _judged(self.order, why_not_receive)
        if self.seen and self.seen != now.seen:
            raise Refused(
                f"Something of {self.order} came in or was taken back while this page was open. Open it again: it "
                "shows what is still to come."
            )


def check_day(order: Order, day: date) -> None:
    """Raises Refused for a delivery from before its order."""
    if day < order.placed_on:
        placed = print_day(order.placed_on, with_year=True)
        raise Refused(f"{order} was placed on {placed}: this cannot have come before.", "day")
