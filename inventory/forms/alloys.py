"""The form for an alloy: its metal, what it is made of, its fineness and its density."""

from dataclasses import fields
from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField

from inventory.core.day_plan import QUENCH_MOST
from inventory.core.heat import HEAT_MOST_C, Heats, check_heats
from inventory.core.metal import FROM_COMPOSITION, check_composition, compute_mixture_density
from inventory.models import Alloy
from inventory.queries.setup import is_alloy_in_use
from studio.kit.fields import DensityField, FinenessField, LineField, MinutesField, ReadField
from studio.kit.forms import StudioModelForm
from studio.kit.numerals import TEXT_MAX, Unreadable, read_number, refuse_below_zero, tidy
from studio.kit.printing import print_decimal
from studio.kit.rows import RowForm, RowsFormSet, make_rows
from studio.kit.units import round_half_up
from studio.kit.working import Working

from .sheet import Sheet

ELEMENTS = {
    "Ag": "silver",
    "Al": "aluminium",
    "Au": "gold",
    "B": "boron",
    "Co": "cobalt",
    "Cr": "chromium",
    "Cu": "copper",
    "Fe": "iron",
    "Ga": "gallium",
    "Ge": "germanium",
    "In": "indium",
    "Ir": "iridium",
    "Mn": "manganese",
    "Ni": "nickel",
    "P": "phosphorus",
    "Pb": "lead",
    "Pd": "palladium",
    "Pt": "platinum",
    "Rh": "rhodium",
    "Ru": "ruthenium",
    "Si": "silicon",
    "Sn": "tin",
    "Ti": "titanium",
    "Zn": "zinc",
}
PRECIOUS = {"silver": "Ag", "gold": "Au", "platinum": "Pt", "palladium": "Pd"}
WHOLE_PER_10000 = 10_000
HEAT_FIELDS = [one.name for one in fields(Heats)]
MORE_HEAT = ("quench_minutes", "heat_note")
HEAT_NOTE_MAX = 200
LOCKED = (
    "Metal of this alloy has been weighed in already and its fine metal counted, so this cannot change. "
    "For another fineness write down another alloy."
)
_SHARE_MAX = 1000


class ShareField(forms.CharField):
    """A share as a plain number, exact; what it is a share of shows in what all of them add up to."""

    widget = forms.TextInput

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "decimal", "autocomplete": "off", "class": "number", "maxlength": str(TEXT_MAX)}

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        try:
            plain = tidy(text).rstrip("%‰ ")
            refuse_below_zero(plain)
            number = read_number(plain)
        except Unreadable as refusal:
            raise ValidationError(str(refusal)) from refusal
        if number is None or not 0 < number <= _SHARE_MAX:
            raise ValidationError("Write a number such as 92.5 or 925.")
        return number


class PartForm(RowForm):
    element = forms.ChoiceField(
        label="Element",
        choices=[("", "Choose"), *((symbol, f"{symbol}, {word}") for symbol, word in ELEMENTS.items())],
    )
    share = ShareField(label="Share", error_messages={"required": "Write its share, or leave this line out."})


class Composition(RowsFormSet):
    """Shares by mass that add up to 100 (per cent) or to 1000 (per thousand)."""

    def clean(self) -> None:
        super().clean()
        if any(form.errors for form in self.forms):
            return
        self.parts: dict[str, int] = {}
        rows = self.written()
        total = sum((row["share"] for row in rows), Fraction(0))
        if not rows:
            return
        if total not in (100, 1000):
            shown = print_decimal(round_half_up(total * 1000), 3, most=3)
            raise ValidationError(
                f"These shares add up to {shown}. They must make 100 (per cent) or 1000 (per thousand)."
            )
        for row in rows:
            self._add(row["element"], row["share"] * WHOLE_PER_10000 / total)

    def _add(self, symbol: str, per_10000: Fraction) -> None:
        if symbol in self.parts:
            raise ValidationError(f"{ELEMENTS[symbol].capitalize()} stands here twice. Write it in one line.")
        if per_10000.denominator != 1 or per_10000 < 1:
            raise ValidationError("Write shares to a hundredth of a per cent at most.")
        self.parts[symbol] = int(per_10000)


CompositionFormSet = make_rows(
    PartForm, Composition, empty=2, row_word="Element", add_label="Add another element"
)


class HeatField(ReadField):
    """A temperature of molten metal or of its mould, or nothing."""

    kind = "celsius"

    def __init__(self, label: str, help_text: str = "") -> None:
        super().__init__(label=label, help_text=help_text, required=False, minimum=1, maximum=HEAT_MOST_C)


class AlloyForm(StudioModelForm):
    """What is empty here and follows from the composition is worked out from it by `settle`."""

    name = LineField(label="Name", max_length=60)
    fineness = FinenessField(
        label="Fineness, of 1000",
        required=False,
        help_text="What its maker promises. Left empty, it is worked out from the composition.",
    )
    density_mg_cm3 = DensityField(
        label="Density",
        required=False,
        minimum=1000,
        help_text="From its maker's sheet or your own measuring. Left empty, it is worked out from the composition.",
    )
    density_note = LineField(label="Where the density is from", required=False)
    solidus_c = HeatField("Solid below", "The solidus: where it begins to melt.")
    liquidus_c = HeatField("Liquid above", "The liquidus: where all of it is molten.")
    pour_least_c = HeatField(
        "Metal at the pour, from", "Common practice: 50 to 100\u00a0°C above the liquidus."
    )
    pour_most_c = HeatField("to at most", "Hotter burns out zinc and takes up gas.")
    flask_least_c = HeatField(
        "Flask at the pour, from", "Heavy work wants a cooler flask, thin work a hotter one."
    )
    flask_most_c = HeatField("up to")
    quench_minutes = MinutesField(
        label="Quench after the pour, at the earliest",
        required=False,
        maximum=QUENCH_MOST,
        help_text="Left empty, as you wait for every alloy.",
    )
    heat_note = LineField(label="Where the temperatures are from", required=False, max_length=HEAT_NOTE_MAX)

    class Meta:
        model = Alloy
        fields = ["name", "metal", "fineness", "density_mg_cm3", "density_note", *HEAT_FIELDS, *MORE_HEAT]
        labels = {"metal": "Precious metal"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk and self.instance.density_note == FROM_COMPOSITION:
            # Left empty, so that a change of the composition is worked out anew.
            self.initial["density_mg_cm3"] = None
            self.initial["density_note"] = ""
        metal: Any = self.fields["metal"]
        metal.choices = [("", "Choose"), *Alloy.Metal.choices]
        if self.instance.metal == Alloy.Metal.BASE:
            self.initial["fineness"] = None
        self.is_locked = bool(self.instance.pk) and is_alloy_in_use(self.instance)
        if self.is_locked:
            for name, why in (("metal", LOCKED), ("fineness", "Cannot change either.")):
                self.fields[name].disabled = True
                self.fields[name].help_text = why

    @property
    def facts(self) -> list[BoundField]:
        """What stands first on the page: everything but how hot it is."""
        return [self[name] for name in self.fields if name not in (*HEAT_FIELDS, *MORE_HEAT)]

    @property
    def ranges(self) -> list[tuple[BoundField, BoundField]]:
        """Its temperatures, from and to."""
        return [
            (self[low], self[high]) for low, high in zip(HEAT_FIELDS[::2], HEAT_FIELDS[1::2], strict=True)
        ]

    def _get_validation_exclusions(self) -> set[str]:
        # Fineness and density may come from the composition, so the model looks at them only when settled.
        excluded: set[str] = super()._get_validation_exclusions()  # type: ignore[misc]  # not in the stubs
        return {*excluded, "fineness", "density_mg_cm3"}

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for name, sentence in check_heats(Heats(*(cleaned.get(one) for one in HEAT_FIELDS))):
            self.add_error(name, sentence)
        return cleaned

    def validate_constraints(self) -> None:
        """The database's own checks wait until `settle` has filled in what was left empty."""

    def settle(self, parts: dict[str, int]) -> bool:
        """Hold a valid form against its composition and fill in what follows from it; False when something is wrong."""
        self._settle_fineness(parts)
        self._settle_density(parts)
        return not self.errors

    def _settle_fineness(self, parts: dict[str, int]) -> None:
        metal, typed = self.cleaned_data["metal"], self.cleaned_data["fineness"]
        if metal == Alloy.Metal.BASE:
            if typed:
                self.add_error("fineness", "Without a precious metal there is no fineness. Leave this empty.")
            self.instance.fineness = 0
            return
        held = parts.get(PRECIOUS[metal], 0) if parts else WHOLE_PER_10000
        promised = held // 10
        if parts and not promised:
            self.add_error(
                "metal", f"There is no {metal} in this composition. Choose what is, or mend the shares."
            )
        elif typed is None and not parts:
            self.add_error("fineness", "Write the fineness, or the composition that it follows from.")
        elif typed == 0:
            self.add_error("fineness", "Write more than 0, or choose that there is no precious metal.")
        elif typed is not None and typed > promised:
            self.add_error(
                "fineness" if not self.is_locked else None,
                f"The composition holds {promised} of 1000 {metal} and the fineness is {typed}. Mend one of the two.",
            )
        else:
            self.instance.fineness = promised if typed is None else typed

    def _settle_density(self, parts: dict[str, int]) -> None:
        if self.cleaned_data["density_mg_cm3"] is not None:
            return
        if not parts:
            self.add_error("density_mg_cm3", "Write the density, or the composition that it follows from.")
            return
        problems = check_composition(parts)
        if problems:
            self.add_error("density_mg_cm3", problems[0])
            return
        self.instance.density_mg_cm3 = compute_mixture_density(parts)[0]
        self.instance.density_note = FROM_COMPOSITION


class AlloySheet(Sheet):
    """The form of an alloy with the lines of its composition, which are held against each other."""

    def __init__(self, data: Any, alloy: Alloy | None) -> None:
        parts = CompositionFormSet(data, prefix="parts", initial=composition_rows(alloy))
        super().__init__(AlloyForm(data, instance=alloy), parts=parts)

    def is_valid(self) -> bool:
        form, parts = self.parts
        return super().is_valid() and form.settle(parts.parts)


def composition_rows(alloy: Alloy | None) -> list[dict[str, str]]:
    """An alloy's composition as the rows of the form show it, in per cent."""
    if alloy is None:
        return []
    return [
        {"element": part.element, "share": print_decimal(part.per_10000, 2, most=2)}
        for part in alloy.parts.all()
    ]


def density_working(parts: dict[str, int]) -> Working | None:
    """How the density of a composition is worked out; None where it cannot be."""
    if not parts or check_composition(parts):
        return None
    return compute_mixture_density(parts)[1]
