"""An order on paper and as a file: what was ordered, what came, and what is still to come."""

from collections.abc import Mapping
from typing import Any

from inventory.forms.ordering_reports import OrderReportForm
from inventory.queries.orders import OrderNow, read_order
from inventory.queries.studio import current_studio
from studio.kit.documents import Block, Column, Document, Facts, Filled, Prose, Table, fill_table
from studio.kit.printing import print_date, print_money
from studio.kit.reporting import report

from .making import make_document


@report(
    "order",
    "An order",
    "What was ordered of one supplier, by material, with what came of it: to send, or to tick off.",
    OrderReportForm,
    place=8,
)
def build_order(params: Mapping[str, Any]) -> Document:
    now = read_order(params["order"])
    order = now.order
    facts = [("Of", order.supplier.name), ("Expected on", print_date(order.expected_on))]
    facts += [("How to reach them", order.supplier.contact)] if order.supplier.contact else []
    facts += [("Their number", order.reference)] if order.reference else []
    blocks: list[Block] = [Facts(tuple(facts)), table_order(now)]
    blocks += [Prose(said)] if (said := say_carriage(now)) else []
    blocks += [Prose(order.note)] if order.note else []
    if order.void:
        blocks.insert(0, Prose("This order is struck out."))
    return make_document(
        current_studio(),
        "Order",
        blocks,
        f"order-{order.pk}",
        f"Number {order.pk}, {order.supplier}",
        f"placed {print_date(order.placed_on)}",
    )


def say_carriage(now: OrderNow) -> str:
    """What it was to cost to bring, beside what it did; "" where nobody told the one and nothing is known of the other.

    "Carriage was to be 8.50, and 9.20 was paid so far: 0.70 more." """
    told, paid = now.order.carriage_micro, now.carriage_came_micro
    if not now.has_come:
        return "" if told is None else f"Carriage is to be {print_money(told)}."
    so_far = " so far" if now.is_open else ""
    if told is None:
        return f"Carriage of {print_money(paid)} was paid{so_far}." if paid else ""
    apart = paid - told
    how = f"{print_money(abs(apart))} {'more' if apart > 0 else 'less'}" if apart else "as it was to be"
    return f"Carriage was to be {print_money(told)}, and {print_money(paid)} was paid{so_far}: {how}."


def table_order(now: OrderNow) -> Table:
    """Each material with what was ordered, and, once something came, what came and what differs."""
    lines, units = now.lines, [str(one.line.material.unit) for one in now.lines]
    filled = [
        Filled(
            Column("material", "Material", on_phone=True),
            [one.line.material.name for one in lines],
            "Together",
        ),
        *(
            [Filled(Column("packs", "In packs"), [one.line.packs or None for one in lines])]
            if any(one.line.packs for one in lines)
            else []
        ),
        Filled(
            Column("quantity", "Ordered", "quantity", on_phone=not now.has_come),
            [(one.line.quantity, unit) for one, unit in zip(lines, units, strict=True)],
        ),
        Filled(
            Column("price", "Price", "money", on_phone=not now.has_come),
            [one.line.price_micro for one in lines],
            now.price_micro,
        ),
    ]
    if now.has_come:
        filled += _what_came(now, units)
    if now.is_dropped:
        dropped = [
            (one.line.dropped, unit) if one.line.dropped else None
            for one, unit in zip(lines, units, strict=True)
        ]
        filled.append(Filled(Column("dropped", "Not coming", "quantity"), dropped))
    return fill_table("What was ordered", filled)


def _what_came(now: OrderNow, units: list[str]) -> list[Filled]:
    pairs = list(zip(now.lines, units, strict=True))
    dearer = [one.dearer_micro for one in now.lines]
    known = [one for one in dearer if one is not None]
    return [
        Filled(Column("came", "Came", "quantity", on_phone=True), [(one.came, unit) for one, unit in pairs]),
        Filled(
            Column("left", "Still to come", "quantity", on_phone=True),
            [(one.left, unit) if one.left else None for one, unit in pairs],
        ),
        *(
            [
                Filled(
                    Column("over", "More than ordered", "quantity"),
                    [(one.over, unit) if one.over else None for one, unit in pairs],
                )
            ]
            if any(one.over for one in now.lines)
            else []
        ),
        Filled(Column("dearer", "Dearer by", "money"), dearer, sum(known) if known else None),
    ]
