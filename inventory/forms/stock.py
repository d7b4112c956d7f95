"""Forms of what is done to a lot, and of stock that comes in without a delivery."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils import timezone

from inventory.models import Alloy, Cast, Customer, Lot, Material
from inventory.posting.setup import find_or_write, reclaim_material
from inventory.posting.stock import OpeningLot
from inventory.queries.casting_page import find_cast
from inventory.queries.setup import in_use
from studio.kit.fields import (
    LineField,
    MassField,
    MeltsField,
    MinutesField,
    MoneyField,
    QuantityField,
    UseByField,
)
from studio.kit.forms import OnceMixin, StudioForm, StudioModelForm
from studio.kit.printing import print_minutes
from studio.kit.rows import make_rows

from .assaying import GuessField
from .materials import SETTING_MOST_MINUTES
from .stock_rows import MaterialQuantityRow, OldMetal, offer_opening
from .work_day import WorkDayField

NOTE_MAX = 500
SHORT_MAX = 60
_LONGEST_NUMBER = 1_000_000_000


class NoteLine(LineField):
    """The note that goes with an entry."""

    def __init__(self, label: str = "Note", required: bool = False, **kwargs: Any) -> None:
        super().__init__(label=label, required=required, max_length=NOTE_MAX, **kwargs)


class ReceivedDayField(WorkDayField):
    """A day that today is offered for."""

    def __init__(self, label: str = "Day", **kwargs: Any) -> None:
        super().__init__(label=label, initial=timezone.localdate, **kwargs)


class LotActionForm(OnceMixin, StudioForm):
    """What is done to a lot: how much of it (under the name in `amount`), when, and a note."""

    amount = ""
    amount_label = ""
    amount_help = ""
    amount_minimum = 1

    day = ReceivedDayField()
    note = NoteLine()

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        self.lot = lot
        super().__init__(*args, **kwargs)
        if self.amount:
            field = QuantityField(
                lot.material.unit,
                label=self.amount_label,
                help_text=self.amount_help,
                minimum=self.amount_minimum,
            )
            self.fields = {self.amount: field, **self.fields}


class CountForm(LotActionForm):
    """A stock count of one lot."""

    amount, amount_label, amount_minimum = "counted", "What is there", 0
    amount_help = "Weigh or count the lot and write what you find; 0 when it is empty."


class TakeForm(LotActionForm):
    """Stock taken for the work."""

    amount, amount_label = "quantity", "How much"

    cast_number = forms.IntegerField(
        label="For cast",
        required=False,
        min_value=1,
        max_value=_LONGEST_NUMBER,
        help_text="The cast's number, if it was for one cast.",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "class": "number"}),
    )
    field_order = ["quantity", "cast_number", "day", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(self.field_order)

    def clean_cast_number(self) -> Cast | None:
        number = self.cleaned_data["cast_number"]
        if number is None:
            return None
        cast = find_cast(number)
        if cast is None:
            raise forms.ValidationError(
                f"There is no cast {number}. Leave this empty, or look up its number."
            )
        return cast


class ThrowAwayForm(LotActionForm):
    """Stock written off. The reason stands as the note of its line."""

    amount, amount_label = "quantity", "How much"

    note = NoteLine("Why", True, help_text="Damp, past its day, spilt: reports tell what it cost you.")


class DampForm(OnceMixin, StudioForm):
    """Since when powder has been damp."""

    day = WorkDayField(
        label="Damp since",
        help_text="Damp powder sets too soon or bubbles: from that day on nothing offers or counts it.",
    )

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)


class SettingTestForm(OnceMixin, StudioForm):
    """How long a cupful took to set."""

    minutes = MinutesField(
        label="It set after",
        minimum=1,
        maximum=SETTING_MOST_MINUTES,
        help_text="Mix a cupful with its water as you do for a flask, and note the minutes from the powder going "
        "in until a fingernail leaves no mark. Do not breathe the dust.",
    )
    day = ReceivedDayField()
    note = NoteLine()

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        powder = lot.material
        ends = [powder.sets_least_minutes, powder.sets_most_minutes]
        if any(ends):
            said = " and ".join(
                f"{word} {print_minutes(end)}"
                for word, end in zip(("after", "before"), ends, strict=True)
                if end
            )
            self.fields["minutes"].help_text += f" Its maker says: {said}."


class HandBackForm(LotActionForm):
    """A customer's metal given back."""

    amount, amount_label = "quantity", "How much"


class OpenTubForm(OnceMixin, StudioForm):
    """The day a tub or bottle was opened, from which it keeps less long."""

    day = ReceivedDayField("Opened on")

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        self.lot = lot
        super().__init__(*args, **kwargs)
        days = lot.material.opened_life_days
        if days is not None:
            self.fields["day"].help_text = f"Once opened, {lot.material} is good for {days} days."

    def clean_day(self) -> Any:
        day = self.cleaned_data["day"]
        if day < self.lot.received_on:
            raise forms.ValidationError("It cannot have been opened before it came. Choose a later day.")
        return day


class LotFactsForm(OnceMixin, StudioModelForm):
    """What is known of a lot besides how much there is: no stock moves when it is mended."""

    supplier_batch = LineField(label="Supplier's batch", required=False, max_length=SHORT_MAX)
    use_by = UseByField(label="Use by", required=False)
    kept_in = LineField(label="Kept in", required=False, max_length=SHORT_MAX)
    damp_on = WorkDayField(
        label="Damp since",
        required=False,
        help_text="Damp powder sets too soon or bubbles: from that day on nothing offers or counts it.",
    )
    note = LineField(label="Note", required=False, max_length=NOTE_MAX)

    class Meta:
        model = Lot
        fields = ["supplier_batch", "use_by", "kept_in", "damp_on", "note"]

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, instance=lot, **kwargs)
        if lot.material.kind != Material.Kind.POWDER:
            del self.fields["damp_on"]

    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.Meta.fields if name in self.fields}


class OpeningRow(MaterialQuantityRow):
    """A lot that was there before the books began. A material that the page itself had put there makes no line."""

    seldom = ("guess", "melts", "use_by", "supplier_batch", "kept_in")

    cost = MoneyField(label="What it cost")
    guess = GuessField()
    melts = MeltsField(
        label="Melts",
        required=False,
        help_text="Of metal: how often it went through a crucible. Leave it empty if you do not know.",
    )
    use_by = UseByField(label="Use by", required=False)
    supplier_batch = LineField(label="Supplier's batch", required=False, max_length=SHORT_MAX)
    kept_in = LineField(label="Kept in", required=False, max_length=SHORT_MAX)

    def __init__(
        self, *args: Any, materials: Sequence[Material], alloys: Sequence[Alloy], **kwargs: Any
    ) -> None:
        super().__init__(*args, materials=materials, **kwargs)
        field: Any = self.fields["material"]
        field.offer(offer_opening(materials, alloys))
        offered = self.initial.get("material")
        if offered is not None and self.is_bound and self["material"].data == str(offered.pk):
            self.given = ("material",)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        material = cleaned.get("material")
        if material is not None and material.kind != Material.Kind.METAL and cleaned.get("melts"):
            self.add_error("melts", f"{material} is not metal: leave this empty.")
        check_guess(self, material)
        return cleaned

    def opening_lot(self, is_exact: bool) -> OpeningLot:
        """What a valid line says. The reclaim that old metal belongs to is written down now if it is new."""
        found = self.cleaned_data
        what = found["material"]
        is_old = isinstance(what, OldMetal)
        return OpeningLot(
            material=reclaim_material(what.alloy) if is_old else what,
            quantity=found["quantity"],
            cost_micro=found["cost"],
            origin=what.origin if is_old else Lot.Origin.OPENING,
            melts_milli=found["melts"],
            supplier_batch=found["supplier_batch"],
            use_by=found["use_by"],
            kept_in=found["kept_in"],
            cost_is_estimate=not is_exact,
            guess=found["guess"],
        )


def check_guess(form: forms.BaseForm, material: Any) -> None:
    """A fineness is guessed of metal with a precious one in it, and has to be of mixed metal."""
    alloy, guess = getattr(material, "alloy", None), form.cleaned_data.get("guess")
    if guess is not None and material is not None and (alloy is None or not alloy.fineness):
        form.add_error("guess", f"{material} has no precious metal: leave this empty.")
    elif alloy is not None and alloy.is_mixed and guess is None and "guess" not in form.errors:
        form.add_error("guess", f"{material} is of no alloy's fineness: write from what to what it may be.")


OpeningRows = make_rows(
    OpeningRow,
    row_word="Lot",
    add_label="Add another lot",
    least=1,
    nothing_written="Write at least one lot: what it is, how much, and what it cost.",
)


class OpeningForm(OnceMixin, StudioForm):
    """The day the books begin."""

    day = ReceivedDayField("Day", help_text="The day the books of this studio begin, or the day you counted.")
    is_exact = forms.BooleanField(
        label="The costs are from bills, not guesses",
        required=False,
    )
    note = NoteLine()


def has_text(form: forms.BaseForm, name: str) -> bool:
    """Whether anything was typed into a field, before the form is judged."""
    typed = form[name].data if form.is_bound else ""
    return isinstance(typed, str) and bool(typed.strip())


class OneOrNewMixin(forms.BaseForm):
    """A record chosen in the field `one`, or the name of a new one written in `new_` and that: never both."""

    one = ""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if has_text(self, f"new_{self.one}"):
            self.fields[self.one].required = False

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get(self.one) and cleaned.get(f"new_{self.one}"):
            self.add_error(f"new_{self.one}", "Choose from the list or write a new name, not both.")
        return cleaned

    def find_one(self) -> Any:
        """The chosen record, written down now when the name is new."""
        field: Any = self.fields[self.one]
        found = self.cleaned_data
        return found[self.one] or find_or_write(field.queryset.model, found[f"new_{self.one}"])


def what_field() -> LineField:
    return LineField(
        label="What it is",
        required=False,
        max_length=120,
        help_text="Six spoons, a bracelet: for their receipt.",
    )


def stones_field() -> LineField:
    return LineField(
        label="Taken out before weighing",
        required=False,
        max_length=300,
        help_text="Stones, pins, springs, and who has them now. Steel and stones do not go in a crucible.",
    )


class HandedInForm(OneOrNewMixin, OnceMixin, StudioForm):
    """A customer's own metal, weighed as it comes in."""

    one = "customer"

    customer = forms.ModelChoiceField(
        in_use(Customer),
        label="Whose it is",
        empty_label="Choose",
        error_messages={"required": "Choose whose metal it is, or write a new name below."},
    )
    new_customer = LineField(label="Or a new customer", required=False, max_length=80)
    material = forms.ModelChoiceField(
        in_use(Material, kind=Material.Kind.METAL), label="Metal", empty_label="Choose"
    )
    is_old = forms.BooleanField(
        label="Old metal: jewellery, cutlery, scrap",
        required=False,
        help_text="It was melted before: without a figure below it is reckoned as melted once.",
    )
    mass = MassField(label="Weight", minimum=1)
    what = what_field()
    stones = stones_field()
    guess = GuessField()
    melts = MeltsField(label="Melts", required=False, help_text="How often it was melted, if they know.")
    day = ReceivedDayField()
    note = NoteLine()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        check_guess(self, cleaned.get("material"))
        return cleaned
