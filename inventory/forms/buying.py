"""Forms of a delivery, of its lines and of the bills that come after it."""

import json
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django import forms
from django.urls import reverse

from inventory.core.keeping import compute_use_by
from inventory.models import Delivery, Material, Supplier
from inventory.posting.buying import Charges, DeliveryLine
from inventory.queries.records import in_use
from studio.kit.fields import LineField, MoneyField, ReadField, UseByField
from studio.kit.forms import OnceMixin, StudioBoundField, StudioForm
from studio.kit.measures import stock_measure
from studio.kit.numerals import Unreadable
from studio.kit.picks import Options, PickField
from studio.kit.rows import RowForm, RowsFormSet, make_rows

from .stock import SHORT_MAX, NoteLine, OneOrNewMixin, ReceivedDayField


class MaterialQuantityBoundField(StudioBoundField):
    """Asks for what it understood with the material of its line, and again when another is chosen."""

    def build_widget_attrs(
        self, attrs: dict[str, str | bool], widget: forms.Widget | None = None
    ) -> dict[str, str | bool]:
        attrs = super().build_widget_attrs(attrs, widget)
        material = self.form["material"]
        attrs["hx-get"] = reverse("inventory:quantity-understood")
        attrs["hx-include"] = f"#{material.id_for_label}"
        attrs["hx-trigger"] = f"input changed delay:300ms, change from:#{material.id_for_label}"
        attrs["hx-vals"] = json.dumps(
            {"quantity_field": self.html_name, "material_field": material.html_name}
        )
        return attrs


class MaterialQuantityField(ReadField):
    """How much of a material. The line reads it, since only the line knows the material's unit."""

    kind = "mass"
    inputmode = "text"
    bound_field_class = MaterialQuantityBoundField

    def to_python(self, value: Any) -> Any:
        return (value.strip() or None) if isinstance(value, str) else value


class MaterialQuantityRow(RowForm):
    """A line of a material and how much of it. `materials` are what can be chosen, read once for all lines."""

    material = PickField(label="Material")
    quantity = MaterialQuantityField(
        label="How much",
        error_messages={"required": "Write how much of it there is."},
    )

    def __init__(self, *args: Any, materials: Sequence[Material], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["material"]
        field.offer(offer_materials(materials))

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        material, typed = cleaned.get("material"), cleaned.get("quantity")
        if material is not None and typed:
            asked: Any = self.fields["quantity"]
            asked.kind = material.unit
            try:
                cleaned["quantity"] = stock_measure(material.unit).read(typed, minimum=1)
            except Unreadable as refusal:
                self.add_error("quantity", str(refusal))
        return cleaned


def offer_materials(materials: Iterable[Material]) -> Options:
    """Materials by their own numbers, under headings of their kinds."""
    options = Options()
    for material in materials:
        kind = material.get_kind_display()
        options.add(str(material.pk), str(material), material, kind[:1].upper() + kind[1:])
    return options


class DeliveryForm(OneOrNewMixin, OnceMixin, StudioForm):
    """Who sent it, when it came, and what was paid on top of the prices."""

    one = "supplier"

    supplier = forms.ModelChoiceField(
        in_use(Supplier),
        label="Supplier",
        empty_label="Choose",
        error_messages={"required": "Choose who sent it, or write a new name beside."},
    )
    new_supplier = LineField(label="Or a new supplier", required=False, max_length=80)
    day = ReceivedDayField("Came on")
    reference = LineField(label="Number of the bill", required=False, max_length=SHORT_MAX)
    carriage = MoneyField(label="Carriage", required=False)
    duty = MoneyField(label="Duty", required=False)
    tax = MoneyField(label="Tax not claimed back", required=False)
    spread_by = forms.ChoiceField(
        label="Spread them", choices=Delivery.SpreadBy.choices, initial=Delivery.SpreadBy.VALUE
    )

    @property
    def charges(self) -> Charges:
        """What could be read of the charges so far; all of them once the form is valid."""
        cleaned = self.cleaned_data
        return Charges(
            carriage_micro=cleaned.get("carriage") or 0,
            duty_micro=cleaned.get("duty") or 0,
            tax_micro=cleaned.get("tax") or 0,
            spread_by=cleaned.get("spread_by") or Delivery.SpreadBy.VALUE,
        )


class DeliveryRow(MaterialQuantityRow):
    """One line of a delivery."""

    price = MoneyField(label="Price")
    supplier_batch = LineField(label="Batch", required=False, max_length=SHORT_MAX)
    use_by = UseByField(label="Use by", required=False)
    kept_in = LineField(label="Kept in", required=False, max_length=SHORT_MAX)


DeliveryRows = make_rows(
    DeliveryRow,
    least=1,
    nothing_written="Write at least one line: what came, how much, at what price.",
)


def read_lines(rows: RowsFormSet, day: date) -> list[DeliveryLine]:
    """The lines of valid rows, each with its use-by filled in from how long the material keeps."""
    return [make_line(cleaned, day) for cleaned in rows.written()]


def make_line(cleaned: dict[str, Any], day: date | None) -> DeliveryLine:
    material: Material = cleaned["material"]
    use_by = cleaned.get("use_by")
    if use_by is None and day is not None:
        use_by = compute_use_by(day, material.shelf_life_days)
    return DeliveryLine(
        material=material,
        quantity=cleaned["quantity"],
        price_micro=cleaned["price"],
        supplier_batch=cleaned.get("supplier_batch") or "",
        use_by=use_by,
        kept_in=cleaned.get("kept_in") or "",
    )


def readable_lines(rows: RowsFormSet, day: date | None) -> list[tuple[int, DeliveryLine]]:
    """(number of the line on the page, line) of every line that can be read so far: for a look ahead only."""
    wanted = ("material", "quantity", "price")
    forms_in_order: Sequence[Any] = rows.forms
    return [
        (number, make_line(form.cleaned_data, day))
        for number, form in enumerate(forms_in_order, start=1)
        if form.has_changed()
        and not form.is_removed
        and not form.errors
        and all(form.cleaned_data.get(name) is not None for name in wanted)
    ]


class LateBillForm(OnceMixin, StudioForm):
    """A bill for a delivery that came after it."""

    amount = MoneyField(label="What the bill came to", minimum=1)
    day = ReceivedDayField("Day of the bill")
    note = NoteLine()
