"""Forms of what is ordered, and of what comes of it."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.models import Material, Supplier
from inventory.posting.ordering import Ordered
from inventory.queries.orders import LineNow, OrderNow
from inventory.queries.setup import in_use
from studio.kit.fields import (
    AheadDayField,
    LineField,
    MoneyField,
)
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.measures import stock_measure
from studio.kit.printing import print_money, print_quantity
from studio.kit.rows import RowsFormSet, make_rows

from .buying import ArrivalForm, DeliveryRow, DeliverySheet
from .sheet import Sheet
from .stock import SHORT_MAX, OneOrNewMixin, ReceivedDayField
from .stock_rows import MaterialQuantityRow

#: A price that is off by more than one part in so many is asked about.
DOUBTFUL_PART = 4


class ExpectedField(AheadDayField):
    """A day on which a parcel may come: up to three years ahead."""

    years = 3


class OrderForm(OneOrNewMixin, OnceMixin, StudioForm):
    """Of whom, when, and when it is expected."""

    one = "supplier"

    supplier = forms.ModelChoiceField(
        in_use(Supplier),
        label="Supplier",
        empty_label="Choose",
        error_messages={"required": "Choose of whom, or write a new name beside."},
    )
    new_supplier = LineField(label="Or a new supplier", required=False, max_length=80)
    placed_on = ReceivedDayField("Ordered on")
    expected_on = ExpectedField(
        label="Expected on",
        required=False,
        help_text="Left empty, after the days that a parcel of theirs takes.",
    )
    carriage = MoneyField(
        label="Carriage",
        required=False,
        help_text="What the parcel is to cost to bring. Left empty, where nobody told it yet.",
    )
    reference = LineField(label="Number of the order", required=False, max_length=SHORT_MAX)
    note = LineField(label="Note", required=False, max_length=300)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        placed, expected = cleaned.get("placed_on"), cleaned.get("expected_on")
        if placed and expected and expected < placed:
            self.add_error("expected_on", "That is before it was ordered.")
        return cleaned


class OrderRow(MaterialQuantityRow):
    """One line of an order."""

    price = MoneyField(
        label="Price of all of it", required=False, help_text="Left empty, where nobody told it yet."
    )
    packs = LineField(label="In packs of", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        show_filled(self)


def show_filled(row: Any) -> None:
    """A quantity that a line comes filled with is shown in the unit of its material."""
    material = row.initial.get("material")
    if material is not None:
        row.fields["quantity"].kind = stock_measure(material.unit).name


class _OrderedRows(RowsFormSet):
    def clean(self) -> None:
        super().clean()
        found = [row.get("material") for row in self.written()] if not any(self.errors) else []
        if len(set(found)) != len(found):
            raise ValidationError("A material stands here twice. Write it in one line.")


OrderRows = make_rows(
    OrderRow, _OrderedRows, least=1, nothing_written="Write at least one line: what is ordered, and how much."
)


class OrderSheet(Sheet):
    def __init__(
        self,
        data: Any,
        materials: Sequence[Material],
        first: Supplier | None,
        lines: Sequence[Mapping[str, Any]],
        carriage_micro: int | None = None,
    ) -> None:
        rows = OrderRows(data, prefix="lines", form_kwargs={"materials": materials}, initial=list(lines))
        if lines and not rows.is_bound:
            rows.extra = 0
        super().__init__(OrderForm(data, initial={"supplier": first, "carriage": carriage_micro}), lines=rows)

    def ordered(self) -> list[Ordered]:
        return [
            Ordered(row["material"], row["quantity"], row["price"], row["packs"] or "")
            for row in self.rows["lines"].written()
        ]


class ExpectForm(OnceMixin, StudioForm):
    """Another day, as the supplier said."""

    day = ExpectedField(label="Expected on")

    def __init__(self, data: Any = None, *, now: OrderNow, **layout: Any) -> None:
        super().__init__(data, initial={"day": now.order.expected_on}, **layout)


class ReceiveForm(ArrivalForm):
    """A delivery of an order: its supplier is known. `seen` is how the order stood when the page was opened."""

    seen = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)

    def __init__(self, data: Any, now: OrderNow) -> None:
        # Of a parcel that comes whole; a second one brings its own.
        carriage = None if now.has_come else now.order.carriage_micro
        super().__init__(data, initial={"seen": now.seen, "carriage": carriage})


class ReceivedRow(DeliveryRow):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        show_filled(self)


ReceivedRows = make_rows(
    ReceivedRow, least=1, nothing_written="Write at least one line: what came, how much, at what price."
)


def _tell_price(ordered: LineNow, quantity: int, price_micro: int) -> str | None:
    """That a price is far from the one ordered at, as where the price of all of it was left beside a part."""
    at_order = ordered.price_micro_of(quantity)
    if at_order is None or abs(price_micro - at_order) * DOUBTFUL_PART <= at_order:
        return None
    return f"As it was ordered, so much costs {print_money(at_order)}; this says {print_money(price_micro)}."


class ReceiveSheet(DeliverySheet):
    """What came of an order, filled with what is still to come; what differs from the order is asked about."""

    def __init__(self, data: Any, now: OrderNow, materials: Sequence[Material]) -> None:
        offered = {one.pk: one for one in [*(line.line.material for line in now.lines), *materials]}
        rows = ReceivedRows(
            data,
            prefix="lines",
            form_kwargs={"materials": list(offered.values())},
            initial=[
                {
                    "material": one.line.material,
                    "quantity": one.left,
                    "price": one.price_micro_of(one.left),
                }
                for one in now.lines
                if one.left
            ],
        )
        if not rows.is_bound:
            rows.extra = 0
        self.now = now
        super().__init__(ReceiveForm(data, now), lines=rows)

    def doubts(self) -> Iterator[tuple[Any, str, str]]:
        yield from super().doubts()
        left = {one.line.material_id: one.left for one in self.now.lines}
        lines = {one.line.material_id: one for one in self.now.lines}
        for line in self.rows["lines"].written_lines():
            material, quantity = line.cleaned_data["material"], line.cleaned_data["quantity"]
            if material.pk not in left:
                yield line, "material", f"{material} is not in {self.now.order}."
            elif quantity > left[material.pk]:
                still = print_quantity(left[material.pk], material.unit)
                yield line, "quantity", f"Only {still} of it is still to come of {self.now.order}."
            elif (told := _tell_price(lines[material.pk], quantity, line.cleaned_data["price"])) is not None:
                yield line, "price", told
            left[material.pk] = max(left.get(material.pk, 0) - quantity, 0)
