"""What is asked for a report of an order, and of what to buy."""

from typing import Any

from django.core.exceptions import ValidationError

from inventory.queries.orders import find_order, latest_order
from studio.kit.fields import NUMBER_MAX, NumberField
from studio.kit.reporting import ReportForm


class OrderReportForm(ReportForm):
    order = NumberField("Order", 1, NUMBER_MAX, "Its number. Left empty: the latest.", required=False)

    def clean_order(self) -> Any:
        number = self.cleaned_data["order"]
        order = latest_order() if number is None else find_order(number)
        if order is None:
            raise ValidationError(
                "No order is written down yet." if number is None else f"There is no order {number}."
            )
        return order

    def settled(self) -> dict[str, str]:
        return {"order": str(self.cleaned_data["order"].pk)}
