"""The form of work and parts from outside."""

from typing import Any

from django import forms
from django.utils import timezone

from costing.models import OutsideWork
from costing.queries.outside import pieces_to_charge, suppliers_in_use
from inventory.forms.work_day import WorkDayField
from inventory.models import Piece
from inventory.queries.setup import every
from studio.kit.fields import LineField, MoneyField, RecordsField
from studio.kit.forms import StudioModelForm


class PiecesField(RecordsField):
    def label_from_instance(self, obj: Piece) -> str:
        return f"{obj.name}, cast {obj.cast.number}"


class OutsideForm(StudioModelForm):
    words = LineField(label="In your own words", required=False)
    day = WorkDayField(label="Day")
    amount_micro = MoneyField(label="What it cost", minimum=1, help_text="For each piece, or the whole bill.")
    pieces = PiecesField(every(Piece).none(), label="On these pieces", widget=forms.CheckboxSelectMultiple)

    class Meta:
        model = OutsideWork
        fields = ["kind", "words", "amount_micro", "basis", "supplier", "day"]
        labels = {"kind": "What was done", "basis": "That is", "supplier": "Who did it"}

    field_order = ("kind", "words", "amount_micro", "basis", "pieces", "supplier", "day")

    def __init__(self, *args: Any, chosen: int | None = None, **kwargs: Any) -> None:
        """`chosen` is a piece that a new record begins with."""
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        work = self.instance
        fields["supplier"].queryset = suppliers_in_use(work.supplier_id)
        fields["supplier"].empty_label = "not said"
        fields["pieces"].queryset = pieces_to_charge(work)
        if work.pk:
            self.initial["pieces"] = list(work.shares.values_list("piece", flat=True))
        else:
            self.initial["day"] = timezone.localdate()
            self.initial["pieces"] = [chosen] if chosen else []
