"""The form of a material: only the fields that its kind has."""

from typing import Any

from django import forms

from inventory.core.schedule_check import GYPSUM_MOST_C, TARGET_MOST_C
from inventory.models import Alloy, Material, Supplier
from inventory.queries.setup import in_use, is_taken
from studio.kit.fields import (
    CelsiusField,
    DensityField,
    LineField,
    MassField,
    MinutesField,
    PercentField,
    QuantityField,
)
from studio.kit.forms import StudioModelForm
from studio.kit.measures import stock_measure
from studio.kit.printing import print_celsius
from studio.kit.units import PCT100_PER_PERCENT

Kind, Unit, Form = Material.Kind, Material.Unit, Material.Form

LONGEST_LIFE_DAYS = 10_000
# Lighter than water, or heavier than the heaviest powder without any water: mistyped.
SLURRY_LEAST_MG_CM3, SLURRY_MOST_MG_CM3 = 1_000, 5_000
WORKING_MOST_MINUTES = 60
ITEM_MOST_MG = 1_000_000
SETTING_MOST_MINUTES = 240
MOST_C_LEAST = 100
_PCT100_PER_TENTH = PCT100_PER_PERCENT // 10
_MOST_WATER_PCT100 = 200 * PCT100_PER_PERCENT

FIELDS_BY_KIND: dict[str, tuple[str, ...]] = {
    Kind.METAL: ("alloy", "form", "name", "supplier", "guess_a_week"),
    Kind.POWDER: (
        *("name", "water", "slurry_mg_cm3", "working_minutes", "sets_least_minutes", "sets_most_minutes"),
        *("most_c", "is_gypsum_bonded"),
        *("shelf_life_days", "opened_life_days", "supplier", "guess_a_week"),
    ),
    Kind.PATTERN: (
        "name",
        "unit",
        "density_mg_cm3",
        "shelf_life_days",
        "opened_life_days",
        "supplier",
        "guess_a_week",
    ),
    Kind.CONSUMABLE: ("name", "unit", "shelf_life_days", "opened_life_days", "supplier", "guess_a_week"),
    Kind.FINDING: ("name", "unit", "finding_alloy", "item_mg", "supplier", "guess_a_week"),
    Kind.PACKAGING: ("name", "unit", "supplier", "guess_a_week"),
}


class DaysField(forms.IntegerField):
    """A number of days."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "class": "number"})
        super().__init__(min_value=1, max_value=LONGEST_LIFE_DAYS, required=False, widget=widget, **kwargs)


class MaterialForm(StudioModelForm):
    """A material of one kind. What its lots were counted by stays as it is once there are lots."""

    name = LineField(label="Name", max_length=80)
    alloy = forms.ModelChoiceField(in_use(Alloy), label="Alloy", empty_label="Choose")
    form = forms.ChoiceField(label="Form", choices=Form.choices)
    unit = forms.ChoiceField(label="Counted", choices=Unit.choices)
    water = PercentField(
        label="Water for 100 of powder",
        required=False,
        maximum=_MOST_WATER_PCT100,
        help_text="From the powder's sheet: 40 when 100 g of powder take 40 g of water.",
    )
    density_mg_cm3 = DensityField(
        label="Density", required=False, help_text="In g/cm³: it turns the weight of a pattern into metal."
    )
    slurry_mg_cm3 = DensityField(
        label="Density when mixed",
        required=False,
        minimum=SLURRY_LEAST_MG_CM3,
        maximum=SLURRY_MOST_MG_CM3,
        help_text="Of powder and water stirred together, in g/cm³: it tells how much fills a flask. On the "
        "powder's sheet, or weigh a cupful.",
    )
    working_minutes = MinutesField(
        label="Working time",
        required=False,
        minimum=1,
        maximum=WORKING_MOST_MINUTES,
        help_text="From the powder going into the water until it begins to set, on the powder's sheet.",
    )
    sets_least_minutes = MinutesField(
        label="Sets after",
        required=False,
        minimum=1,
        maximum=SETTING_MOST_MINUTES,
        help_text="The least that the powder's sheet says it takes to set: a lot that sets sooner is set aside.",
    )
    sets_most_minutes = MinutesField(
        label="and before", required=False, minimum=1, maximum=SETTING_MOST_MINUTES
    )
    most_c = CelsiusField(
        label="Highest temperature",
        required=False,
        minimum=MOST_C_LEAST,
        maximum=TARGET_MOST_C,
        help_text="What the mould stands in the kiln. A schedule that goes higher is refused.",
    )
    is_gypsum_bonded = forms.BooleanField(
        label="Bonded with gypsum, as powder for silver, gold and bronze is",
        required=False,
        initial=True,
        help_text=f"Above {print_celsius(GYPSUM_MOST_C)} gypsum breaks down: schedules are then marked with a caution.",
    )
    shelf_life_days = DaysField(
        label="Keeps, in days", help_text="From the day it comes; it fills in the use-by of a delivery."
    )
    opened_life_days = DaysField(label="Keeps once opened, in days")
    finding_alloy = forms.ModelChoiceField(
        in_use(Alloy).exclude(metal="base"),
        label="Of precious metal",
        empty_label="no, or not to be counted",
        required=False,
        help_text="Then its grams count into the weight and the fine metal of a piece, and into what that costs to "
        "make again.",
    )
    item_mg = MassField(label="One weighs", required=False, minimum=1, maximum=ITEM_MOST_MG)
    supplier = forms.ModelChoiceField(
        in_use(Supplier),
        label="Usual supplier",
        empty_label="nobody yet",
        required=False,
        help_text="Says how long an order is on the road.",
    )
    guess_a_week = QuantityField(
        Unit.MASS,
        label="Your guess of what a week takes",
        required=False,
        minimum=1,
        help_text="It counts until enough weeks lie behind you to tell.",
    )
    archived = forms.BooleanField(
        label="No longer bought: leave it out of lists to choose from", required=False
    )

    class Meta:
        model = Material
        # The water is typed in per cent and kept in tenths.
        fields = sorted({name for names in FIELDS_BY_KIND.values() for name in names} - {"water"})

    def __init__(self, *args: Any, kind: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.kind = kind
        is_new = self.instance.pk is None
        self.fields = {name: self.fields[name] for name in FIELDS_BY_KIND[kind]}
        if kind == Kind.METAL and is_new:
            self.fields["name"].required = False
            self.fields["name"].help_text = "Left empty, it is named after its alloy and form."
        if "water" in self.fields and self.instance.water_per_100_tenths is not None:
            self.initial["water"] = self.instance.water_per_100_tenths * _PCT100_PER_TENTH
        guess: Any = self.fields["guess_a_week"]
        guess.kind = stock_measure(self._counted_by()).name
        if not is_new:
            self._offer_what_it_has()
        if not is_new and self.instance.lots.exists():
            self._fix("unit", "alloy")

    def _counted_by(self) -> str:
        """The unit that is being chosen, or the one that it has."""
        chosen = self.data.get(self.add_prefix("unit"), "") if "unit" in self.fields else ""
        return chosen if chosen in Unit.values else self.instance.unit

    def _offer_what_it_has(self) -> None:
        """An archived alloy or supplier stays the choice of a material that has it."""
        for name in ("alloy", "finding_alloy", "supplier"):
            field: Any = self.fields.get(name)
            if field is not None:
                field.queryset = in_use(field.queryset.model, getattr(self.instance, f"{name}_id"))

    def _fix(self, *names: str) -> None:
        for name in names:
            if name in self.fields:
                self.fields[name].disabled = True
                self.fields[name].help_text = "It has lots already, so this stays as it is."

    def clean_name(self) -> str:
        name = self.cleaned_data["name"]
        if name and is_taken(self.instance, name__iexact=name):
            raise forms.ValidationError("There is a material of this name already. Write another name.")
        return str(name)

    def clean_water(self) -> int | None:
        water_pct100 = self.cleaned_data["water"]
        if water_pct100 is not None and water_pct100 % _PCT100_PER_TENTH:
            raise forms.ValidationError("Write it to one decimal at most, such as 39.5.")
        return None if water_pct100 is None else water_pct100 // _PCT100_PER_TENTH

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if self.instance.kind == Kind.METAL:
            self._clean_metal(cleaned)
        if self.instance.kind == Kind.FINDING and not self.errors:
            self._clean_finding(cleaned)
        return cleaned

    def _clean_finding(self, cleaned: dict[str, Any]) -> None:
        """One of metal is weighed, or counted with what one weighs."""
        if cleaned.get("finding_alloy") is None or cleaned["unit"] == Unit.MASS:
            cleaned["item_mg"] = None
        elif cleaned["unit"] == Unit.VOLUME:
            self.add_error("unit", "Metal is counted by mass or by items. Choose one of these.")
        elif cleaned.get("item_mg") is None:
            self.add_error("item_mg", "Write what one weighs: weigh ten of them and divide.")

    def _clean_metal(self, cleaned: dict[str, Any]) -> None:
        alloy, form = cleaned.get("alloy"), cleaned.get("form")
        if alloy is None or form is None:
            return
        if form == Form.RECLAIM and is_taken(self.instance, alloy=alloy, form=form):
            self.add_error("form", f"{alloy} has its reclaim already; a second would split the tin.")
        if "name" in cleaned and not cleaned["name"]:
            name = f"{alloy} {Form(form).label}"
            if is_taken(self.instance, name__iexact=name):
                self.add_error("name", f"There is a “{name}” already. Write another name.")
            cleaned["name"] = name

    def _post_clean(self) -> None:
        if "water" in self.fields:
            self.instance.water_per_100_tenths = self.cleaned_data.get("water")
        super()._post_clean()  # type: ignore[misc]  # the stubs do not know it
