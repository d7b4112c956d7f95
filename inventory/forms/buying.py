"""Forms of a delivery and of the bills that come after it."""

from collections.abc import Iterator, Sequence
from datetime import date
from fractions import Fraction
from typing import Any

from django import forms

from inventory.core.doubts import doubt_rate
from inventory.core.picking import compute_use_by
from inventory.models import Delivery, Material, Supplier
from inventory.posting.buying import Charges, DeliveryLine
from inventory.queries.buying import last_rates
from inventory.queries.landed import LandedRow
from inventory.queries.setup import in_use
from studio.kit.fields import LineField, MoneyField, UseByField
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.printing import print_quantity
from studio.kit.rows import RowsFormSet, make_rows

from .assaying import GuessField
from .sheet import Sheet
from .stock import SHORT_MAX, NoteLine, OneOrNewMixin, ReceivedDayField, check_guess
from .stock_rows import MaterialQuantityRow


class ArrivalForm(OnceMixin, StudioForm):
    """When a parcel came, and what was paid on top of the prices."""

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


class DeliveryForm(OneOrNewMixin, ArrivalForm):
    """The same with who sent it."""

    one = "supplier"
    field_order = ("supplier", "new_supplier")

    supplier = forms.ModelChoiceField(
        in_use(Supplier),
        label="Supplier",
        empty_label="Choose",
        error_messages={"required": "Choose who sent it, or write a new name beside."},
    )
    new_supplier = LineField(label="Or a new supplier", required=False, max_length=80)


class DeliveryRow(MaterialQuantityRow):
    """One line of a delivery."""

    seldom = ("guess",)

    price = MoneyField(label="Price")
    supplier_batch = LineField(label="Batch", required=False, max_length=SHORT_MAX)
    use_by = UseByField(label="Use by", required=False)
    kept_in = LineField(label="Kept in", required=False, max_length=SHORT_MAX)
    guess = GuessField()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        check_guess(self, cleaned.get("material"))
        return cleaned


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
        guess=cleaned.get("guess"),
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


class DeliverySheet(Sheet):
    """A delivery, whose prices are held against what the same material cost the last time."""

    def doubts(self) -> Iterator[tuple[Any, str, str]]:
        yield from super().doubts()
        lines = self.rows["lines"].written_lines()
        rates = last_rates(line.cleaned_data["material"].pk for line in lines)
        for line in lines:
            found = line.cleaned_data
            sentence = doubt_rate(found["price"], found["quantity"], rates.get(found["material"].pk))
            if sentence:
                yield line, "price", sentence


class LateBillForm(OnceMixin, StudioForm):
    """A bill for a delivery that came after it."""

    amount = MoneyField(label="What the bill came to", minimum=1)
    day = ReceivedDayField("Day of the bill")
    note = NoteLine()


class MendedBillForm(OnceMixin, StudioForm):
    """What each lot of a delivery cost, and carriage, duty and tax together, as the bill really says."""

    charges = MoneyField(label="Carriage, duty and tax together")
    day = ReceivedDayField("Noticed on")
    note = NoteLine()

    def __init__(self, data: Any, rows: Sequence[LandedRow]) -> None:
        initial = {f"price_{row.lot.pk}": row.price_micro for row in rows}
        super().__init__(data, initial={**initial, "charges": sum(row.charges_micro for row in rows)})
        prices = {
            f"price_{row.lot.pk}": MoneyField(
                label=f"Lot {row.lot.pk}, {row.lot.material}: price of all "
                f"{print_quantity(row.quantity, row.lot.material.unit)}"
            )
            for row in rows
        }
        self.fields = {**prices, **self.fields}
        self.lots = [row.lot.pk for row in rows]
        self.rows = rows

    def doubts(self) -> dict[str, str]:
        """A price five times what it was, or a fifth, is asked about."""
        asked = {
            f"price_{row.lot.pk}": doubt_rate(
                self.cleaned_data[f"price_{row.lot.pk}"], 1, Fraction(row.price_micro)
            )
            for row in self.rows
        }
        return {name: sentence for name, sentence in asked.items() if sentence}

    def prices_micro(self) -> dict[int, int]:
        return {pk: self.cleaned_data[f"price_{pk}"] for pk in self.lots}
