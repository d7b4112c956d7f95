"""The parts that the forms of a cast are made of: what it is, equipment, mould, firing, pour, weights."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.models import Alloy, Cast, Equipment, Firing
from inventory.posting.casting import CastFacts, PourNotes
from inventory.posting.casting_records import FiringRecord
from inventory.queries.casting_choices import StudioChoices
from inventory.queries.firing_shares import doubt_joining
from studio.kit.fields import (
    CelsiusField,
    EnergyField,
    LineField,
    MassField,
    MinutesField,
    NoteField,
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
from .work_day import WorkDayField

EQUIPMENT_FIELDS = ("flask", "crucible", "machine", "pump")
_KINDS = Equipment.Kind


class FactsForm(OnceMixin, StudioForm):
    """What a cast is, before anything is used for it."""

    title = LineField(
        label="What is on the tree",
        help_text="Such as fern studs and two seed pods.",
        error_messages={"required": "Write what is cast, such as fern studs."},
    )
    day = WorkDayField(label="Day", initial=timezone.localdate)
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


def usual_answers(choices: StudioChoices, last: Cast | None = None) -> dict[str, Any]:
    """The alloy and equipment of a cast, or of the last one, where they are still in use; before any, the only ones."""
    last = last or choices.last_cast
    if last is None:
        offered = {"alloy": choices.alloys, **{name: choices.of_kind(name) for name in ("flask", "crucible")}}
        return {name: some[0] for name, some in offered.items() if len(some) == 1}
    usual: dict[str, Any] = {"alloy": next((one for one in choices.alloys if one.pk == last.alloy_id), None)}
    for name in EQUIPMENT_FIELDS:
        wanted = getattr(last, f"{name}_id")
        usual[name] = next((one for one in choices.of_kind(name) if one.pk == wanted), None)
    return usual


def offer_to(form: forms.BaseForm, name: str, options: Options) -> None:
    pick = form.fields[name]
    if isinstance(pick, PickField):
        pick.offer(options)


class FoldsMixin(forms.BaseForm):
    """Fields that are folded away because they seldom change: `folds` names them."""

    folds: Mapping[str, tuple[str, ...]] = {}

    @property
    def opened(self) -> dict[str, bool]:
        """Which folds stand open: what has something in it that is not as usual, or is wrong, is not hidden."""
        return {
            fold: any(self._speaks(name) for name in names if name in self.fields)
            for fold, names in self.folds.items()
        }

    def _speaks(self, name: str) -> bool:
        asked = self[name]
        said, usual = asked.value() or "", asked.field.prepare_value(asked.initial) or ""
        if not self.is_bound:
            return name not in (*EQUIPMENT_FIELDS, "kiln") and bool(said)
        return name in self.errors or str(said) != str(usual)


class WaterMixin(forms.Form):
    water = MassField(
        label="Water",
        required=False,
        help_text="Left empty, by the powder's own figure.",
    )


class FiringMixin(forms.Form):
    """One of the last firings, or a new one: its kiln, and what its meter counted or how long it took."""

    firing = PickField(label="Firing", required=False)
    kiln = PickField(label="Kiln", required=False)
    firing_energy = EnergyField(label="kWh it took", required=False, maximum=METER_MAX_WH)
    firing_day = WorkDayField(label="Day of the firing", required=False)
    firing_minutes = MinutesField(
        label="Time in the kiln",
        required=False,
        minimum=1,
        maximum=WEEK_MINUTES,
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
    new_names = (
        "kiln",
        "firing_energy",
        "firing_day",
        "firing_minutes",
        "meter_before",
        "meter_after",
        "share_on",
    )
    #: What seldom belongs to a new firing, and is folded away.
    FIRING_MORE = ("kiln", "meter_before", "meter_after", "firing_day", "share_on")
    earlier: Sequence[Firing] = ()

    def offer_firings_to(
        self, firings: list[Firing], kilns: list[Equipment], now: Firing | None = None
    ) -> None:
        self.earlier = firings
        offer_to(self, "firing", offer_firings(firings, now))
        offer_to(self, "kiln", offer_records(kilns, "Choose the kiln"))
        last = firings[0].kiln if firings else None
        if len(kilns) == 1 or last in kilns:
            self.fields["kiln"].initial = kilns[0] if len(kilns) == 1 else last

    @property
    def asks_for_kiln(self) -> bool:
        """Whether there is more than one kiln to choose from; the only one need not be asked for."""
        kiln: Any = self.fields["kiln"]
        return len(kiln.options.records) != 1

    @property
    def shows_new_firing(self) -> bool:
        """Whether a new firing stands open whatever is chosen: something of it is wrong."""
        return self.is_bound and any(name in self.errors for name in ("firing", *self.new_names))

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
        self._take_energy(cleaned)
        before, after = cleaned.get("meter_before"), cleaned.get("meter_after")
        if cleaned.get("firing_minutes") is None and "firing_minutes" not in self.errors:
            self._take_usual_hours(cleaned, is_metered=after is not None)
        if (before is None) != (after is None):
            missing = "meter_before" if before is None else "meter_after"
            if missing not in self.errors:
                self.add_error(missing, "Write both readings of the meter, or neither.")
        elif before is not None and after is not None and after < before:
            self.add_error("meter_after", "A meter does not run backwards: look at both readings again.")

    def _take_energy(self, cleaned: dict[str, Any]) -> None:
        """What a meter counted that was set to nought before: it began at 0."""
        energy_wh = cleaned.get("firing_energy")
        if energy_wh is None:
            return
        if cleaned.get("meter_before") is not None or cleaned.get("meter_after") is not None:
            self.add_error("firing_energy", "Write what it took, or both readings of the meter.")
        else:
            cleaned["meter_before"], cleaned["meter_after"] = 0, energy_wh

    def _take_usual_hours(self, cleaned: dict[str, Any], is_metered: bool) -> None:
        """Where a meter says what a firing took, the hours are those of the kiln's last one."""
        hours = [one.minutes for one in self.earlier if one.kiln == cleaned.get("kiln")]
        if is_metered and hours:
            cleaned["firing_minutes"] = hours[0]
        elif is_metered:
            self.add_error("firing_minutes", "The first firing of this kiln: write how long it was on too.")
        else:
            self.add_error(
                "firing_minutes", "Write how long the kiln was on, such as 12 h 30, or the kWh it took."
            )

    def doubt_firing(self, flask: Equipment | None, cast: Cast | None = None) -> dict[str, str]:
        """Whether the firing that was chosen is shared by others, whose cost was told already."""
        chosen = self.cleaned_data.get("firing")
        sentence = doubt_joining(chosen, flask, cast) if isinstance(chosen, Firing) else ""
        return {"firing": sentence} if sentence else {}

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

    def doubt_pour(self, alloy: Alloy) -> dict[str, str]:
        """Readings that cannot be of this alloy, as far as its heats are known."""
        metal_c, flask_c = self.cleaned_data["metal_c"], self.cleaned_data["flask_c"]
        heats, name = alloy.heats, str(alloy)
        found = {
            "metal_c": "" if metal_c is None else heats.doubt_metal(metal_c, name),
            "flask_c": "" if flask_c is None else heats.doubt_flask(flask_c, metal_c, name),
        }
        return {field: sentence for field, sentence in found.items() if sentence}

    def pour_notes(self) -> PourNotes:
        found = self.cleaned_data
        return PourNotes(found["metal_c"], found["flask_c"], found["vacuum"], found["pour_note"] or "")


class WeightsMixin(forms.Form):
    back = MassField(label="Button and sprues", required=False)
    failed_mass = MassField(
        label="Failed castings",
        required=False,
        help_text="With investment on them. They are kept apart until you weigh them cleaned.",
    )
    spill = MassField(label="Spill", required=False)
    filings = MassField(label="Filings from cutting up", required=False)
    failed = forms.BooleanField(label="The whole cast failed: nothing was kept", required=False)
    as_it_is = forms.BooleanField(
        label="Record it for what it is: mixed metal, no mark",
        required=False,
        help_text="Its pieces and reclaim keep the fineness that the charge has.",
    )

    @property
    def offers_as_it_is(self) -> bool:
        """Whether a charge that misses its alloy was refused, or is taken as it is: nobody else is asked."""
        return bool(self.errors.get("as_it_is") or self["as_it_is"].value())


class NoteMixin(forms.Form):
    note = NoteField(label="Note", required=False)


def refuse_backwards(form: forms.BaseForm, cleaned: dict[str, Any]) -> None:
    """The weights come after the pour."""
    day, closed_on = cleaned.get("day"), cleaned.get("closed_on")
    if day and closed_on and closed_on < day:
        raise ValidationError({"closed_on": "The weights come on the day of the cast or after it."})
