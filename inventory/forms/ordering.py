"""Forms of suppliers' terms and offers, of what is ordered, and of what comes of it."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.core.doubts import doubt_rate
from inventory.models import Material, Offer, Supplier
from inventory.models.ordering import PACKS_MAX
from inventory.posting.ordering import Ordered
from inventory.queries.buying import last_rates
from inventory.queries.orders import OrderNow
from inventory.queries.setup import in_use
from studio.kit.fields import (
    DayField,
    LineField,
    MassField,
    MoneyField,
    NumberField,
    PastDayField,
    PercentField,
    ReadField,
)
from studio.kit.forms import OnceMixin, StudioForm, StudioModelForm
from studio.kit.measures import stock_measure
from studio.kit.numerals import Unreadable
from studio.kit.printing import print_quantity
from studio.kit.rows import RowForm, RowsFormSet, make_rows
from studio.kit.units import PCT100_PER_PERCENT

from .buying import ArrivalForm, DeliveryRow, DeliverySheet
from .sheet import Sheet
from .stock import SHORT_MAX, OneOrNewMixin, ReceivedDayField
from .stock_rows import MaterialQuantityField, MaterialQuantityRow
from .studio import SupplierForm

AHEAD_YEARS = 3


class SupplierTermsForm(SupplierForm):
    """A supplier with what it asks beside its prices."""

    least_micro = MoneyField(
        label="Least order", required=False, help_text="Below it nothing is sent. Left empty, there is none."
    )
    duty_pct100 = PercentField(
        label="Duty on what they send",
        required=False,
        maximum=1000 * PCT100_PER_PERCENT,
        help_text="On the price of the goods. Left empty, none.",
    )

    class Meta(SupplierForm.Meta):
        fields = [*SupplierForm.Meta.fields, "least_micro", "duty_pct100", "carriage_by"]
        labels = {"carriage_by": "Carriage goes"}

    def clean_least_micro(self) -> int:
        return self.cleaned_data["least_micro"] or 0

    def clean_duty_pct100(self) -> int:
        return self.cleaned_data["duty_pct100"] or 0


class BandRow(RowForm):
    """What a parcel costs to bring from a price, or a weight, on."""

    reached = ReadField("money", label="From", required=False, help_text="Left empty: from nothing on.")
    carriage = MoneyField(label="Carriage")

    def __init__(self, *args: Any, by: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["reached"]
        by_mass = by == Supplier.CarriageBy.MASS
        field.kind = "mass" if by_mass else "money"
        field.label = "From this weight on" if by_mass else "From this price of the goods on"


class _RisingRows(RowsFormSet):
    """Lines of which each begins somewhere else, in the field `begins`."""

    begins = ""
    twice = "Two lines begin at the same place. Write one of them."

    def clean(self) -> None:
        super().clean()
        found = [row.get(self.begins) or 0 for row in self.written()] if not any(self.errors) else []
        if len(set(found)) != len(found):
            raise ValidationError(self.twice)


BandRows = make_rows(
    BandRow, _RisingRows, row_word="Step", add_label="Add another step", begins="reached", most=20
)


class SupplierSheet(Sheet):
    """A supplier that is written down, with its terms and what carriage costs."""

    def __init__(self, data: Any, supplier: Supplier) -> None:
        bands = list(supplier.bands.all())
        rows = BandRows(
            data,
            prefix="bands",
            initial=[{"reached": one.reached, "carriage": one.carriage_micro} for one in bands],
            form_kwargs={"by": data.get("carriage_by", "") if data else supplier.carriage_by},
        )
        if bands and not rows.is_bound:
            rows.extra = 0
        super().__init__(SupplierTermsForm(data, instance=supplier), bands=rows)

    def bands(self) -> list[tuple[int, int]]:
        return [(row["reached"] or 0, row["carriage"]) for row in self.rows["bands"].written()]


class OfferForm(StudioModelForm):
    """A pack of a material at a supplier."""

    quantity = MaterialQuantityField(
        label="How much is in a pack",
        help_text="100 g, 25 kg, 500 ml or 12.",
        error_messages={"required": "Write how much is in a pack."},
    )
    price_micro = MoneyField(label="Price of a pack", help_text="Without carriage.")
    told_on = PastDayField(label="Price of", initial=timezone.localdate)
    keeps_days = NumberField(
        "Days it is still good when it comes",
        1,
        4000,
        "Where it is not fresh. Left empty, as long as the material keeps.",
        required=False,
    )
    weighs_mg = MassField(
        label="A pack weighs",
        required=False,
        minimum=1,
        help_text="For carriage by weight, of what is not weighed itself.",
    )
    note = LineField(label="Note", required=False)

    class Meta:
        model = Offer
        fields = [
            "supplier",
            "material",
            "quantity",
            "price_micro",
            "told_on",
            "keeps_days",
            "weighs_mg",
            "note",
        ]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        offer = self.instance
        fields["supplier"].queryset = in_use(Supplier, offer.supplier_id)
        fields["material"].queryset = in_use(Material, offer.material_id).select_related("alloy")
        for name in ("supplier", "material"):
            fields[name].empty_label = "Choose"
        if offer.pk:
            fields["quantity"].kind = stock_measure(offer.material.unit).name

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        material, typed = cleaned.get("material"), cleaned.get("quantity")
        if material is not None and isinstance(typed, str):
            asked: Any = self.fields["quantity"]
            asked.kind = stock_measure(material.unit).name
            try:
                cleaned["quantity"] = stock_measure(material.unit).read(typed, minimum=1)
            except Unreadable as refusal:
                self.add_error("quantity", str(refusal))
        elif isinstance(typed, str):
            del cleaned["quantity"]
        return cleaned

    def doubts(self) -> dict[str, str]:
        """A price far from what was paid the last time is asked about."""
        found = self.cleaned_data
        rate = last_rates([found["material"].pk]).get(found["material"].pk)
        sentence = doubt_rate(found["price_micro"], found["quantity"], rate)
        return {"price_micro": sentence} if sentence else {}


class BreakRow(RowForm):
    packs = NumberField("From so many packs on", 2, PACKS_MAX)
    price = MoneyField(label="Price of one")


BreakRows = make_rows(
    BreakRow, _RisingRows, row_word="Step", add_label="Add another step", begins="packs", most=10
)


class OfferSheet(Sheet):
    """An offer with the prices that it has from so many packs on."""

    def __init__(self, data: Any, offer: Offer | None, initial: Mapping[str, Any]) -> None:
        breaks = list(offer.breaks.all()) if offer else []
        rows = BreakRows(
            data,
            prefix="breaks",
            initial=[{"packs": one.packs, "price": one.price_micro} for one in breaks],
        )
        if breaks and not rows.is_bound:
            rows.extra = 0
        super().__init__(OfferForm(data, instance=offer, initial=initial), breaks=rows)

    def breaks(self) -> list[tuple[int, int]]:
        return [(row["packs"], row["price"]) for row in self.rows["breaks"].written()]


class ExpectedField(DayField):
    """A day on which a parcel may come: up to three years ahead."""

    def latest(self) -> date:
        today = timezone.localdate()
        return today.replace(year=today.year + AHEAD_YEARS, day=min(today.day, 28))


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
    ) -> None:
        rows = OrderRows(data, prefix="lines", form_kwargs={"materials": materials}, initial=list(lines))
        if lines and not rows.is_bound:
            rows.extra = 0
        super().__init__(OrderForm(data, initial={"supplier": first}), lines=rows)

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
        super().__init__(data, initial={"seen": now.seen})


class ReceivedRow(DeliveryRow):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        show_filled(self)


ReceivedRows = make_rows(
    ReceivedRow, least=1, nothing_written="Write at least one line: what came, how much, at what price."
)


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
        for line in self.rows["lines"].written_lines():
            material, quantity = line.cleaned_data["material"], line.cleaned_data["quantity"]
            if material.pk not in left:
                yield line, "material", f"{material} is not in {self.now.order}."
            elif quantity > left[material.pk]:
                still = print_quantity(left[material.pk], material.unit)
                yield line, "quantity", f"Only {still} of it is still to come of {self.now.order}."
            left[material.pk] = max(left.get(material.pk, 0) - quantity, 0)
