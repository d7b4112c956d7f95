"""What a customer's receipt and statement begin from, and the form by which the studio's metal becomes theirs."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.core.ledger import Amount, rate_of
from inventory.models import Customer, Lot
from inventory.queries.customers import find_receipts, latest_owner, latest_receipt
from inventory.queries.setup import every, in_use
from studio.kit.fields import NUMBER_MAX, MoneyField, NumberField, PastDayField
from studio.kit.models import only_one
from studio.kit.printing import print_money
from studio.kit.reporting import RecordReportForm, ReportForm
from studio.kit.units import MG_PER_G

from .stock import LotActionForm


class ReceiptForm(RecordReportForm):
    """The lot that was handed in, by its number; the latest where none is named."""

    lot = NumberField("Lot", 1, NUMBER_MAX, "Its number. Left empty: the latest taken in.", required=False)

    record = "lot"
    none_yet = "No customer's metal was taken in yet."
    unknown = "Lot {} is no metal that a customer handed in."

    def find(self, number: int | None) -> Any:
        return latest_receipt() if number is None else only_one(find_receipts().filter(pk=number))


class StatementForm(ReportForm):
    """Whose metal, and up to which day; the one who handed in metal last, and today."""

    customer = forms.ModelChoiceField(every(Customer), required=False, empty_label="who came last")
    to = PastDayField(label="Up to", required=False)

    def clean_customer(self) -> Customer:
        customer: Customer | None = self.cleaned_data["customer"] or latest_owner()
        if customer is None:
            raise ValidationError("No customer's metal was taken in yet.")
        return customer

    def clean_to(self) -> date:
        return self.cleaned_data["to"] or timezone.localdate()


class PassOnForm(LotActionForm):
    """Metal of the studio that becomes a customer's."""

    amount, amount_label = "quantity", "How much"

    customer = forms.ModelChoiceField(in_use(Customer), label="Whose it becomes", empty_label="Choose")
    price = MoneyField(
        label="Price agreed", help_text="For all of it; what they pay you is not kept as stock."
    )
    field_order = ["quantity", "customer", "price", "day", "note"]

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, lot=lot, **kwargs)
        self.order_fields(self.field_order)
        if lot.holder.quantity:
            held = Amount(lot.holder.quantity, lot.holder.fine_ug, lot.holder.cost_micro)
            each = rate_of(held, MG_PER_G).cost_micro
            self.fields[
                "price"
            ].help_text = f"For all of it. A gram of this lot cost you {print_money(each)}."
