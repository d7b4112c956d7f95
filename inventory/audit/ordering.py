"""The check of orders: what came of one is of its supplier, after it was placed, and not of one that is struck out."""

from typing import Any

from django.db.models import QuerySet

from inventory.models import Delivery
from inventory.queries.kept import kept

from .reading import Ledger
from .registry import Finding, register_check


@register_check
def check_orders(ledger: Ledger) -> Finding:
    finding = Finding("what came of an order came of its supplier, after it was placed")
    for pk, came_on, supplier, order, placed_on, orders_supplier, is_struck_out in _came_of_orders():
        finding.checked += 1
        if supplier != orders_supplier:
            finding.problems.append(f"delivery {pk} is of another supplier than order {order}")
        if came_on < placed_on:
            finding.problems.append(f"delivery {pk} came before order {order} was placed")
        if is_struck_out:
            finding.problems.append(f"delivery {pk} is of order {order}, which is struck out")
    return finding


@kept
def _came_of_orders() -> QuerySet[Delivery, Any]:
    columns = ("pk", "received_on", "supplier", "order", "order__placed_on", "order__supplier", "order__void")
    return Delivery.objects.filter(order__isnull=False, void=False).order_by("pk").values_list(*columns)
