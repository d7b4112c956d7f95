"""Forms of what suppliers offer, and of the terms on which they send it."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.core.doubts import doubt_rate
from inventory.models import Material, Offer, Supplier
from inventory.models.ordering import PACKS_MAX
from inventory.queries.buying import last_rates
from inventory.queries.setup import in_use
from studio.kit.fields import (
    LineField,
    MassField,
    MoneyField,
    NumberField,
    PastDayField,
    PercentField,
    ReadField,
)
from studio.kit.forms import StudioModelForm
from studio.kit.measures import stock_measure
from studio.kit.numerals import Unreadable
from studio.kit.rows import RowForm, RowsFormSet, make_rows
from studio.kit.units import PCT100_PER_PERCENT

from .sheet import Sheet
from .stock_rows import MaterialQuantityField
from .studio import SupplierForm


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
