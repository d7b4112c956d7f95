"""One form for each kind of equipment, only the fields that its kind has; and the form of a firing."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.utils import timezone

from inventory.core.melting import SHARE_PCT100
from inventory.models import Cast, Equipment, Firing
from inventory.posting.kiln_logs import follow_firing
from inventory.posting.setup import put_in_firing
from inventory.queries.firing import casts_for_firing
from inventory.queries.firing_shares import doubt_casts
from inventory.queries.setup import every, find_twin, is_taken, kilns_in_use
from studio.kit.fields import (
    EnergyField,
    LengthField,
    LineField,
    MassField,
    MinutesField,
    MoneyField,
    NumberField,
    PastDayField,
    PercentField,
    RecordsField,
)
from studio.kit.forms import StudioModelForm
from studio.kit.printing import print_moment, print_percent
from studio.kit.units import MG_PER_KG, UM_PER_MM

from .work_day import WorkDayField

Kind = Equipment.Kind
LIFE_MAX = 1_000_000
WATTS_MAX = 100_000
_OWN_FIELDS = {
    Kind.KILN: ("has_program", "rated_w", "share_on_pct100"),
    Kind.FLASK: ("diameter_um", "height_um"),
    Kind.CRUCIBLE: ("crucible_material", "capacity_mg"),
    Kind.MACHINE: ("rated_w", "share_on_pct100"),
    Kind.PUMP: (),
}
WEAR_FIELDS = ("bought_on", "price_micro", "end_value_micro", "life_uses", "uses_before")
_ALL_OWN = [name for names in _OWN_FIELDS.values() for name in names]
_EXAMPLES = {
    Kind.KILN: "Common practice: a few thousand hours before the elements go.",
    Kind.FLASK: "Common practice: a hundred casts or more.",
    Kind.CRUCIBLE: "About 50 melts have been seen (Gee, The Silversmith's Handbook, ch. VIII).",
    Kind.MACHINE: "Your own estimate.",
    Kind.PUMP: "Your own estimate.",
}


class EquipmentForm(StudioModelForm):
    name = LineField(label="Name", max_length=60, help_text="What you call it.")
    diameter_um = LengthField(label="Inside diameter", minimum=UM_PER_MM, maximum=1000 * UM_PER_MM)
    height_um = LengthField(label="Inside height", minimum=UM_PER_MM, maximum=1000 * UM_PER_MM)
    capacity_mg = MassField(
        label="Holds up to",
        required=False,
        minimum=1,
        maximum=100 * MG_PER_KG,
        shows_unit=True,
        help_text="Of your usual metal.",
    )
    has_program = forms.BooleanField(
        label="It runs a program by itself",
        required=False,
        help_text="Left empty, the timetable says when to turn it by hand, in small steps.",
    )
    rated_w = NumberField(
        "Power on its plate, in watts",
        1,
        WATTS_MAX,
        "Tells what a firing used when no meter was read.",
        required=False,
    )
    share_on_pct100 = PercentField(
        label="Share of the time that it heats",
        required=False,
        minimum=1,
        help_text="A kiln that holds its heat is off for part of the time. Your own estimate, such as 50 %.",
    )
    bought_on = PastDayField(label="Bought on", required=False)
    price_micro = MoneyField(label="Price", required=False, help_text="Its wear is shared over its life.")
    end_value_micro = MoneyField(label="Worth at the end of its life", required=False)
    life_uses = NumberField(None, 1, LIFE_MAX, required=False)
    uses_before = NumberField(
        None,
        0,
        LIFE_MAX,
        "Before it was written down here. What comes after is counted from your casts and firings.",
        required=False,
    )

    class Meta:
        model = Equipment
        fields = [
            "name",
            *_ALL_OWN,
            *WEAR_FIELDS,
        ]
        labels = {"crucible_material": "Made of"}

    def __init__(self, *args: Any, kind: Equipment.Kind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = kind
        self.instance.kind = kind
        for name in {*_ALL_OWN} - {*_OWN_FIELDS[kind]}:
            del self.fields[name]
        self.fields["name"].help_text = f"What you call it, such as {self.kind.label.capitalize()} 3."
        unit = Equipment.LIFE_UNITS[kind]
        self.fields["life_uses"].label = f"Life, in {unit}"
        self.fields["life_uses"].help_text = _EXAMPLES[kind]
        self.fields["uses_before"].label = f"{unit.capitalize()} it had before"
        if kind == Kind.MACHINE:
            power, share = self.fields["rated_w"], self.fields["share_on_pct100"]
            power.help_text = (
                "If it melts the metal: until three melts were timed, it tells how long one takes."
            )
            share.label = "Share of it that ends in the metal"
            guess = print_percent(SHARE_PCT100)
            share.help_text = f"Left empty, {guess} is guessed: the rest heats furnace and air."
        if kind == Kind.CRUCIBLE:
            material: Any = self.fields["crucible_material"]
            material.choices = [("", "not written down"), *Equipment.CrucibleMaterial.choices]

    @property
    def facts(self) -> list[BoundField]:
        """What it is, without what it cost and how long it lasts."""
        return [field for field in self.visible_fields() if field.name not in WEAR_FIELDS]

    @property
    def wear(self) -> list[BoundField]:
        return [self[name] for name in WEAR_FIELDS]

    @property
    def opens_wear(self) -> bool:
        """Whether something stands in what is folded away, or is to be mended in it."""
        return any(field.value() or field.errors for field in self.wear)

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if is_taken(self.instance, kind=self.kind, name=name):
            raise ValidationError(f"There is a {self.kind.label} of this name already. Write another.")
        return name

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in ("price_micro", "end_value_micro", "uses_before"):
            if name in cleaned and cleaned[name] is None:
                cleaned[name] = 0
        if cleaned.get("end_value_micro", 0) > cleaned.get("price_micro", 0) and "price_micro" in cleaned:
            self.add_error(
                "end_value_micro", "At the end it cannot be worth more than it cost. Mend one of the two."
            )
        return cleaned


WEEK_MINUTES = 7 * 24 * 60
METER_MAX_WH = 10_000_000_000


class CastChoiceField(RecordsField):
    def label_from_instance(self, cast: Any) -> str:
        return f"Cast {cast.number}, {cast.title}"


class FiringForm(StudioModelForm):
    """The meter before and after, or the kiln's power; what is left empty of that is taken from the kiln."""

    kiln = forms.ModelChoiceField(kilns_in_use(), empty_label="Choose")
    day = WorkDayField(label="Day it began")
    minutes = MinutesField(
        label="Time in the kiln",
        minimum=1,
        maximum=WEEK_MINUTES,
        help_text="From switching on to the pour, such as 11 h or 10:45.",
    )
    meter_before_wh = EnergyField(
        label="Meter before", required=False, maximum=METER_MAX_WH, help_text="As it reads, in kWh."
    )
    meter_after_wh = EnergyField(label="Meter after", required=False, maximum=METER_MAX_WH)
    rated_w = NumberField(
        "Power, in watts",
        1,
        WATTS_MAX,
        "Only where no meter was read. Left empty, it is the kiln's own.",
        required=False,
    )
    share_on_pct100 = PercentField(
        label="Share of the time that it heated",
        required=False,
        minimum=1,
        help_text="Left empty, it is the kiln's own.",
    )
    casts = CastChoiceField(
        queryset=every(Cast),
        label="Casts in it",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="The energy and the kiln's wear are shared over them.",
    )
    note = LineField(label="Note", required=False, max_length=500)

    class Meta:
        model = Firing
        fields = [
            "kiln",
            "day",
            "minutes",
            "meter_before_wh",
            "meter_after_wh",
            "rated_w",
            "share_on_pct100",
            "note",
        ]

    field_order = [*Meta.fields[:-1], "casts", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kilns: Any = self.fields["kiln"]
        kilns.queryset = kilns_in_use(self.instance.kiln_id)
        if self.instance.pk and self.instance.is_running:
            self.fields["minutes"].required = False
            self.fields["minutes"].help_text = "Left empty, it is still running."
        casts: Any = self.fields["casts"]
        casts.queryset = casts_for_firing(self.instance)
        if self.instance.pk:
            self.initial["casts"] = [cast.pk for cast in self.instance.casts.all()]
        if not casts.queryset.exists():
            del self.fields["casts"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        before, after = cleaned.get("meter_before_wh"), cleaned.get("meter_after_wh")
        begun_at = self.instance.begun_at
        if begun_at and "day" in cleaned and cleaned["day"] != timezone.localdate(begun_at):
            began = print_moment(timezone.localtime(begun_at))
            self.add_error(
                "day", f"It went on {began}, as was written down beside the kiln: that is its day."
            )
        is_running = "minutes" in cleaned and cleaned["minutes"] is None
        if is_running and find_twin(self.instance, kiln=cleaned.get("kiln"), minutes=None):
            self.add_error("kiln", "Another firing runs in this kiln. End that one first.")
        if is_running and after is not None:
            self.add_error("minutes", "Write how long it ran too, or leave the meter after empty.")
        elif is_running:
            pass
        elif before is None and after is not None and "meter_before_wh" in cleaned:
            self.add_error("meter_before_wh", "Write the meter before too, or leave both empty.")
        elif after is None and before is not None and "meter_after_wh" in cleaned:
            self.add_error("meter_after_wh", "Write the meter after too, or leave both empty.")
        elif before is not None and after is not None and after < before:
            self.add_error("meter_after_wh", "A meter does not run backwards. Look at both readings again.")
        return cleaned

    def doubts(self) -> dict[str, str]:
        sentence = doubt_casts(self.instance, self.cleaned_data.get("casts", ()))
        return {"casts": sentence} if sentence and "casts" in self.fields else {}

    def save(self, commit: bool = True) -> Firing:
        firing: Firing = super().save(commit)
        put_in_firing(firing, self.cleaned_data.get("casts", ()))
        follow_firing(firing)
        return firing
