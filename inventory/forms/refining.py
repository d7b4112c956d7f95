"""Forms of a batch that is sent to a refiner, of its settlement, and of what is sent back."""

from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils import timezone

from inventory.core.ledger import Amount
from inventory.core.reclaim_kinds import KindRule
from inventory.core.refining import WHOLE_ASSAY, Charges, Expected, Price, compute_charge, print_price
from inventory.models import Batch, Entry, Lot, RefinerTerms
from inventory.models.refining import is_by_weight
from inventory.posting.casting import Portion
from inventory.posting.refining import BatchFacts, MetalBack, SettledPart
from inventory.queries.ledger import name_lot
from inventory.queries.reclaim_kinds import kind_rules
from inventory.queries.refining import (
    expected_of,
    known_price,
    materials_of,
    refiners_in_use,
    terms_on,
)
from inventory.queries.studio import current_studio
from studio.kit.fields import (
    LineField,
    MassField,
    MoneyField,
    PercentField,
    PriceField,
    ReadField,
)
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.picks import Options, PickField
from studio.kit.printing import print_assay, print_day, print_fineness, print_mass
from studio.kit.rows import make_rows

from .casting_rows import OptionsRow
from .refiners import name_metal
from .sheet import Sheet
from .stock import SHORT_MAX, NoteLine, ReceivedDayField

#: How far an assay may be from the book, in hundredths of a part per thousand, before it is asked about.
_FAR_ASSAY = 5_000


class LotAmounts(OnceMixin, StudioForm):
    """A weight for each of some lots, under `mass_` and the lot's number."""

    lots: Sequence[Lot] = ()

    def offer_lots(self, lots: Sequence[Lot], **field: Any) -> None:
        self.lots = lots
        for lot in lots:
            self.fields[f"mass_{lot.pk}"] = MassField(required=False, **field)

    def lot_rows(self) -> Iterator[tuple[Lot, list[BoundField]]]:
        """Each lot with its fields."""
        for lot in self.lots:
            names = (f"all_{lot.pk}", f"mass_{lot.pk}")
            yield lot, [self[name] for name in names if name in self.fields]

    def portions(self) -> list[Portion]:
        """What was written so far; all of it once the form is valid."""
        found = self.cleaned_data
        amounts = [(lot, self.amount_of(lot, found)) for lot in self.lots]
        return [Portion(lot, amount) for lot, amount in amounts if amount]

    def amount_of(self, lot: Lot, found: Mapping[str, Any]) -> int:
        return found.get(f"mass_{lot.pk}") or 0


class SendForm(LotAmounts):
    """A batch: to whom, when, and of each lot all or so much."""

    refiner = forms.ModelChoiceField(
        refiners_in_use(),
        label="Refiner",
        empty_label="Choose",
        error_messages={"required": "Choose to whom it goes."},
    )
    day = ReceivedDayField("Sent on")
    price = PriceField(
        default_unit="ozt",
        label="Price of the fine metal",
        required=False,
        minimum=1,
        help_text="To see what it would bring. A bare number is per ounce troy.",
    )
    reference = LineField(label="Their number for it", required=False, max_length=SHORT_MAX)
    note = NoteLine()

    def __init__(self, data: Any, metal: str, lots: Sequence[Lot], ticked: int | None = None) -> None:
        self.metal = metal
        super().__init__(data)
        if data is None:
            only = list(refiners_in_use()[:2])
            self.initial["refiner"] = only[0] if len(only) == 1 else None
        self.is_by_weight = is_by_weight(metal)
        if self.is_by_weight:
            self.fields["price"] = PriceField(
                default_unit="kg",
                label="Their price of the metal",
                required=False,
                minimum=1,
                help_text="To see what it would bring. A bare number is per kilogram.",
            )
        known = known_price(metal)
        if known is not None:
            price, day = known
            self.fields[
                "price"
            ].help_text += f" Yours of {print_day(day, with_year=True)} is {print_price(price)}."
            if data is None:
                self.initial["price"] = price
        for lot in lots:
            held = print_mass(lot.holder.quantity)
            self.fields[f"all_{lot.pk}"] = forms.BooleanField(
                label=f"All {held}", required=False, initial=lot.pk == ticked
            )
        self.offer_lots(lots, label="or only", minimum=1)
        #: What is metal of a kind of reclaim that is not all metal, by the origin of a lot.
        self.rules = {
            kind: rule for kind, rule in kind_rules(current_studio()).items() if not rule.is_all_metal
        }

    def offered(self) -> Iterator[tuple[Lot, list[BoundField], KindRule | None, int]]:
        """Each lot with its fields, and where not all of it is metal: by which rule, and the fine metal to expect,
        or all metal where it is paid by its weight."""
        for lot, fields in self.lot_rows():
            rule, held = self.rules.get(lot.origin), lot.holder
            fine_ug = held.quantity * 1000 if self.is_by_weight else held.fine_ug
            yield lot, fields, rule, rule.expect(fine_ug) if rule else fine_ug

    def amount_of(self, lot: Lot, found: Mapping[str, Any]) -> int:
        part = super().amount_of(lot, found)
        return part or (lot.holder.quantity if found.get(f"all_{lot.pk}") else 0)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for lot in self.lots:
            if (cleaned.get(f"mass_{lot.pk}") or 0) > lot.holder.quantity:
                self.add_error(f"mass_{lot.pk}", f"{name_lot(lot)} holds {print_mass(lot.holder.quantity)}.")
        if not self.errors and not self.portions():
            raise forms.ValidationError("Tick the lots that go, or write how much of them.")
        terms = self.terms
        if terms is not None and terms.payable_pct100(self.metal) is None:
            self.add_error(
                "refiner",
                f"Their terms name no payable share of {name_metal(self.metal)}. Write it there first, or choose "
                "another.",
            )
        return cleaned

    @property
    def terms(self) -> RefinerTerms | None:
        found = self.cleaned_data
        refiner = found.get("refiner")
        return terms_on(refiner, found.get("day") or timezone.localdate()) if refiner else None

    def facts(self) -> BatchFacts:
        found = self.cleaned_data
        return BatchFacts(found["refiner"], self.terms, found["reference"] or "", found["price"])

    def expected(self) -> Expected:
        """What the chosen parts weigh, and the fine metal in them at the rate of each lot."""
        return expected_of((one.lot, _share(one.lot, one.quantity)) for one in self.portions())


def _share(lot: Lot, quantity: int) -> Amount:
    held = Amount(lot.holder.quantity, lot.holder.fine_ug, lot.holder.cost_micro)
    return Amount(
        quantity, held.fine_ug * quantity // held.quantity, held.cost_micro * quantity // held.quantity
    )


class PaperMixin(forms.Form):
    """What a refiner's paper of settlement says."""

    received = MassField(label="How much of the batch it is for", required=False, minimum=1)
    melted = MassField(label="Weight after melting")
    assay = ReadField("assay", label="Assay, parts per thousand")
    payable = PercentField(label="Payable")
    price = PriceField(default_unit="ozt", label="Price they paid by", required=False)
    charge = MoneyField(label="Charge", required=False)
    assay_fee = MoneyField(label="Fee for the assay", required=False)
    other = MoneyField(label="Other charges", required=False)
    money = MoneyField(
        label="Money that came",
        required=False,
        help_text="Only where it is another sum than the one worked out.",
    )
    reference = LineField(label="Number of the paper", required=False, max_length=SHORT_MAX)


class SettleForm(OnceMixin, PaperMixin, StudioForm):
    day = ReceivedDayField("Settled on")
    note = NoteLine()

    def __init__(self, data: Any, batch: Batch) -> None:
        self.batch = batch
        left_mg = batch.holder.quantity
        initial: dict[str, Any] = {"price": batch.price}
        if batch.terms is not None:
            terms = batch.terms.of(batch.alloy.metal)
            initial |= {
                "payable": terms.payable_pct100,
                "charge": compute_charge(terms, left_mg) or None,
                "assay_fee": terms.assay_fee_micro or None,
            }
        super().__init__(data, initial=initial)
        if batch.is_by_weight:
            del self.fields["assay"]
            self.fields["price"] = PriceField(default_unit="kg", label="Price they paid by", required=False)
        self.fields["received"].help_text = f"Left empty: all that is left, {print_mass(left_mg)}."

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("money") is not None and cleaned.get("price") is None:
            self.add_error("price", "Write the price that the money was paid by.")
        return cleaned

    def doubts(self) -> dict[str, str]:
        """An assay far from what the book has."""
        if "assay" not in self.fields:
            return {}
        held = self.batch.holder
        book = held.fine_ug * 100 // held.quantity if held.quantity else 0
        assay = self.cleaned_data["assay"]
        if abs(assay - book) <= _FAR_ASSAY:
            return {}
        has = print_fineness(held.fine_ug, held.quantity)
        return {"assay": f"The book has {has} in it, and this is {print_assay(assay)}. Is it right?"}


class MetalBackRow(OptionsRow):
    """Metal that came back."""

    picks = "what"

    what = PickField(label="Metal")
    mass = MassField(label="Weight", minimum=1)


MetalBackRows = make_rows(MetalBackRow, row_word="Metal", add_label="Add another metal", empty=1)


class SettleSheet(Sheet):
    REFUSALS: Mapping[str, str] = {"metal": "metals"}
    LINE_FIELDS: Mapping[str, str] = {"metals": "mass"}


def settle_sheet(data: Any, batch: Batch) -> SettleSheet:
    return SettleSheet(SettleForm(data, batch), metals=_metal_rows(data, batch.alloy.metal, []))


def _metal_rows(data: Any, metal: str, backs: Sequence[MetalBack]) -> Any:
    options = Options()
    for material in [*{back.material for back in backs}, *materials_of(metal)]:
        options.add(str(material.pk), f"{material}, {material.fineness} of 1000", material)
    initial = [{"what": str(back.material.pk), "mass": back.mass_mg} for back in backs]
    return MetalBackRows(data, prefix="metals", form_kwargs={"options": options}, initial=initial)


def read_paper(form: Any, rows: Any, before: Sequence[MetalBack] = ()) -> SettledPart:
    """What a valid paper says. Metal that came back keeps the lot that it made before, in the order of the lines."""
    found = form.cleaned_data
    made = [back.made for back in before]
    lines = [(row["what"], row["mass"]) for row in rows.written()]
    metals = [
        MetalBack(material, mass_mg, made[place] if place < len(made) else None)
        for place, (material, mass_mg) in enumerate(lines)
    ]
    return SettledPart(
        found["melted"],
        found.get("assay", WHOLE_ASSAY),
        found["payable"],
        Charges(found["charge"] or 0, found["assay_fee"] or 0, found["other"] or 0),
        _price_of(found["price"]),
        metals,
        found["received"],
        found["money"],
        found["reference"] or "",
        "assay" not in form.fields,
    )


def _price_of(price: Price | None) -> Price | None:
    return price if price and price[0] else None


def paper_fields(given: SettledPart) -> Mapping[str, tuple[forms.Field, Any]]:
    """The fields of a settlement that is mended, with what they begin with."""
    charges, money_micro = given.charges, given.money_micro
    initial = {
        "received": given.received_mg,
        "melted": given.melted_mg,
        "assay": given.assay,
        "payable": given.payable_pct100,
        "price": given.price,
        "charge": charges.charge_micro or None,
        "assay_fee": charges.assay_fee_micro or None,
        "other": charges.other_micro or None,
        "money": money_micro if money_micro is not None and money_micro >= 0 else None,
        "reference": given.reference,
    }
    fields = {name: (deepcopy(field), initial[name]) for name, field in PaperMixin.base_fields.items()}
    if given.by_weight:
        del fields["assay"]
    return fields


def paper_lines(entry: Entry, given: SettledPart, data: Any) -> Mapping[str, Any]:
    line = entry.movements.select_related("source__batch__alloy").filter(source__batch__isnull=False)[0]
    return {"metals": _metal_rows(data, line.source.batch.alloy.metal, given.metals)}


def give_paper(sheet: Sheet, given: SettledPart) -> SettledPart:
    return read_paper(sheet.form, sheet.rows["metals"], given.metals)


class SentBackForm(LotAmounts):
    """What came back of each lot that is in the batch."""

    day = ReceivedDayField("Came back on")
    note = NoteLine()

    def __init__(self, data: Any, shares: Mapping[Lot, Amount]) -> None:
        super().__init__(data)
        self.offer_lots(list(shares), label="Came back")
        for lot, amount in shares.items():
            self.initial[f"mass_{lot.pk}"] = amount.quantity

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not self.portions():
            raise forms.ValidationError("Write what came back, of one lot at least.")
        return cleaned
