"""The parts that the forms of a cast are made of: what it is, equipment, mould, firing, pour, weights."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.models import Equipment, Firing
from inventory.posting.casting import CastFacts, PourNotes
from inventory.posting.casting_records import FiringRecord
from inventory.queries.casting_choices import StudioChoices
from studio.kit.fields import (
    CelsiusField,
    EnergyField,
    LineField,
    MassField,
    MinutesField,
    NoteField,
    PastDayField,
    PercentField,
    VacuumField,
)
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.picks import Options, PickField

from .casting_fields import (
    NEW_FIRING,
    offer_equipment,
    offer_firings,
    offer_records,
)
from .equipment import METER_MAX_WH, WEEK_MINUTES

EQUIPMENT_FIELDS = ("flask", "crucible", "machine", "pump")
_KINDS = Equipment.Kind


class FactsForm(OnceMixin, StudioForm):
    """What a cast is, before anything is used for it."""

    title = LineField(
        label="What is on the tree",
        help_text="Such as fern studs and two seed pods.",
        error_messages={"required": "Write what is cast, such as fern studs."},
    )
    day = PastDayField(label="Day", initial=timezone.localdate)
    alloy = PickField(label="Alloy")
    owner = PickField(
        label="Customer",
        required=False,
        help_text="Only if the metal is a customer's own.",
    )
    flask = PickField(label="Flask", required=False)
    crucible = PickField(label="Crucible", required=False)
    machine = PickField(label="Casting machine", required=False)
    pump = PickField(label="Vacuum pump", required=False)

    def __init__(self, *args: Any, choices: StudioChoices, **kwargs: Any) -> None:
        kwargs["initial"] = usual_answers(choices) | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        offer_to(self, "alloy", offer_records(choices.alloys, "Choose the alloy"))
        offer_to(self, "owner", offer_records(choices.customers, "the studio's own metal"))
        for name in EQUIPMENT_FIELDS:
            offer_to(self, name, offer_equipment(choices.of_kind(name)))
        for name in (*EQUIPMENT_FIELDS, "owner"):
            # What the studio does not have is not asked about.
            pick = self.fields[name]
            if isinstance(pick, PickField) and not pick.options.records:
                del self.fields[name]

    def facts(self, note: str = "") -> CastFacts:
        found = self.cleaned_data
        equipment = {name: found.get(name) for name in EQUIPMENT_FIELDS}
        return CastFacts(
            found["title"], found["day"], found["alloy"], found.get("owner"), note=note, **equipment
        )


def usual_answers(choices: StudioChoices) -> dict[str, Any]:
    """The alloy and equipment of the last cast, where they are still in use."""
    last = choices.last_cast
    if last is None:
        return {"alloy": choices.alloys[0]} if len(choices.alloys) == 1 else {}
    usual: dict[str, Any] = {"alloy": next((one for one in choices.alloys if one.pk == last.alloy_id), None)}
    for name in EQUIPMENT_FIELDS:
        wanted = getattr(last, f"{name}_id")
        usual[name] = next((one for one in choices.of_kind(name) if one.pk == wanted), None)
    return usual


def offer_to(form: forms.BaseForm, name: str, options: Options) -> None:
    pick = form.fields[name]
    if isinstance(pick, PickField):
        pick.offer(options)


class WaterMixin(forms.Form):
    water = MassField(
        label="Water",
        required=False,
        help_text="Left empty, the water is taken by the powder's own figure.",
    )


class FiringMixin(forms.Form):
    """One of the last firings, or a new one. Give `firings` and `kilns` to `offer_to`."""

    firing = PickField(label="Firing", required=False)
    kiln = PickField(label="Kiln", required=False)
    firing_day = PastDayField(label="Day of the firing", required=False)
    firing_minutes = MinutesField(
        label="Time in the kiln",
        required=False,
        minimum=1,
        maximum=WEEK_MINUTES,
        help_text="Such as 12 h 30.",
    )
    meter_before = EnergyField(
        label="Meter before", required=False, maximum=METER_MAX_WH, help_text="As it reads, in kWh."
    )
    meter_after = EnergyField(label="Meter after", required=False, maximum=METER_MAX_WH)
    share_on = PercentField(
        label="Share of the time it heats",
        required=False,
        help_text="Only if there is no meter. Left empty, the kiln's own figure is taken.",
    )
    new_names = ("kiln", "firing_day", "firing_minutes", "meter_before", "meter_after", "share_on")

    def offer_firings_to(
        self, firings: list[Firing], kilns: list[Equipment], now: Firing | None = None
    ) -> None:
        offer_to(self, "firing", offer_firings(firings, now))
        offer_to(self, "kiln", offer_records(kilns, "Choose the kiln"))
        if len(kilns) == 1:
            self.fields["kiln"].initial = kilns[0]

    def check_firing(self, cleaned: dict[str, Any]) -> None:
        is_new = cleaned.get("firing") == NEW_FIRING
        typed = [name for name in self.new_names if name != "kiln" and cleaned.get(name) is not None]
        if typed and cleaned.get("firing") is None and "firing" not in self.errors:
            cleaned["firing"], is_new = NEW_FIRING, True
        if typed and not is_new and "firing" not in self.errors:
            self.add_error("firing", "Choose a new firing, or empty the fields below that describe one.")
        if is_new:
            self._check_new_firing(cleaned)

    def _check_new_firing(self, cleaned: dict[str, Any]) -> None:
        if cleaned.get("kiln") is None and "kiln" not in self.errors:
            self.add_error("kiln", "Choose the kiln of the new firing.")
        if cleaned.get("firing_minutes") is None and "firing_minutes" not in self.errors:
            self.add_error("firing_minutes", "Write how long the kiln was on, such as 12 h 30.")
        before, after = cleaned.get("meter_before"), cleaned.get("meter_after")
        if (before is None) != (after is None):
            missing = "meter_before" if before is None else "meter_after"
            if missing not in self.errors:
                self.add_error(missing, "Write both readings of the meter, or neither.")
        elif before is not None and after is not None and after < before:
            self.add_error("meter_after", "A meter does not run backwards: look at both readings again.")

    def firing_choice(self, day: date) -> Firing | FiringRecord | None:
        """A firing that is there, one to be written down, or none."""
        found = self.cleaned_data
        if found["firing"] != NEW_FIRING:
            return found["firing"]
        return FiringRecord(
            kiln=found["kiln"],
            day=found["firing_day"] or day,
            minutes=found["firing_minutes"],
            meter_before_wh=found["meter_before"],
            meter_after_wh=found["meter_after"],
            share_on_pct100=found["share_on"],
        )


class PourMixin(forms.Form):
    metal_c = CelsiusField(label="Metal at the pour", required=False)
    flask_c = CelsiusField(label="Flask at the pour", required=False)
    vacuum = VacuumField(
        label="Vacuum", required=False, help_text="As the gauge shows it: 27.5 inHg, 93 kPa, 0.93 bar."
    )
    pour_note = LineField(label="Note on the pour", required=False, max_length=500)

    def pour_notes(self) -> PourNotes:
        found = self.cleaned_data
        return PourNotes(found["metal_c"], found["flask_c"], found["vacuum"], found["pour_note"] or "")


class WeightsMixin(forms.Form):
    back = MassField(label="Button and sprues", required=False)
    failed_mass = MassField(
        label="Failed castings, back to the tin",
        required=False,
    )
    spill = MassField(label="Spill", required=False)
    filings = MassField(label="Filings from cutting up", required=False)
    failed = forms.BooleanField(label="The whole cast failed: nothing was kept", required=False)


class NoteMixin(forms.Form):
    note = NoteField(label="Note", required=False)


def refuse_backwards(form: forms.BaseForm, cleaned: dict[str, Any]) -> None:
    """The weights come after the pour."""
    day, closed_on = cleaned.get("day"), cleaned.get("closed_on")
    if day and closed_on and closed_on < day:
        raise ValidationError({"closed_on": "The weights come on the day of the cast or after it."})
