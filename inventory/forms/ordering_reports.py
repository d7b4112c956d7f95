"""What is asked for a report of an order, and of what to buy."""

from typing import Any

from inventory.queries.orders import find_order, latest_order
from studio.kit.fields import NUMBER_MAX, NumberField
from studio.kit.reporting import RecordReportForm


class OrderReportForm(RecordReportForm):
    order = NumberField("Order", 1, NUMBER_MAX, "Its number. Left empty: the latest.", required=False)

    record = "order"
    none_yet = "No order is written down yet."
    unknown = "There is no order {}."

    def find(self, number: int | None) -> Any:
        return latest_order() if number is None else find_order(number)
