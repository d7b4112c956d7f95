"""The form that takes in a starting point: common alloys and materials, each to be changed afterwards."""

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from django import forms
from django.utils.html import format_html

from inventory.core.schedule import count_minutes
from inventory.core.starters import (
    POURED,
    STARTER_ALLOYS,
    STARTER_MATERIALS,
    STARTER_SCHEDULES,
    STARTER_SETS,
    StarterAlloy,
    StarterMaterial,
    StarterSchedule,
    StarterSet,
)
from inventory.models import Alloy, Material, Schedule
from inventory.posting.setup import add_alloy, add_material, add_schedule
from inventory.queries.setup import names_of
from studio.kit.forms import StudioForm
from studio.kit.printing import print_celsius, print_density, print_minutes, print_percent

from .alloys import ELEMENTS


class StarterForm(StudioForm):
    """What the studio has already is left out of the choice. `metal` takes all that belongs to it in one press."""

    marks_optional = False
    metal = forms.ChoiceField(
        choices=[(one.metal, one.metal) for one in STARTER_SETS], required=False, widget=forms.HiddenInput
    )
    alloys = forms.MultipleChoiceField(
        label="Alloys",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=f"Density and temperatures, and where they are from. All are {POURED}.",
    )
    grain = forms.BooleanField(label="For each of them a grain to buy", required=False, initial=True)
    materials = forms.MultipleChoiceField(
        label="Pattern materials and powder", required=False, widget=forms.CheckboxSelectMultiple
    )

    schedules = forms.MultipleChoiceField(
        label="Schedules of burnout", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.new_alloys = _leave_out(STARTER_ALLOYS, names_of(Alloy))
        self.new_materials = _leave_out(STARTER_MATERIALS, names_of(Material))
        self._offer("alloys", self.new_alloys, describe_alloy)
        self._offer("materials", self.new_materials, describe_material)
        self.new_schedules = _leave_out(STARTER_SCHEDULES, names_of(Schedule))
        self._offer("schedules", self.new_schedules, describe_schedule)
        if not self.new_alloys:
            del self.fields["grain"]

    def _offer(self, name: str, starters: Sequence[Any], describe: Callable[[Any], str]) -> None:
        if not starters:
            del self.fields[name]
            return
        field: Any = self.fields[name]
        field.choices = [
            (one.name, format_html('<span>{} <span class="help">{}</span></span>', one.name, describe(one)))
            for one in starters
        ]

    @property
    def sets(self) -> list[StarterSet]:
        """The metals of which there is an alloy to add."""
        new = {alloy.name for alloy in self.new_alloys}
        return [one for one in STARTER_SETS if new.intersection(one.alloys)]

    @property
    def has_offer(self) -> bool:
        return bool(self.new_alloys or self.new_materials or self.new_schedules)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        belongs = next((one for one in STARTER_SETS if one.metal == cleaned.get("metal")), None)
        for name in ("alloys", "materials", "schedules"):
            cleaned[name] = {*(cleaned.get(name) or ()), *(getattr(belongs, name) if belongs else ())}
        if belongs is not None:
            cleaned["grain"] = True
        elif not (cleaned["alloys"] or cleaned["materials"] or cleaned["schedules"] or self.errors):
            raise forms.ValidationError("Tick at least one to add, or press what you cast.")
        return cleaned

    def save(self) -> str:
        """Add what was ticked; the sentence that says what was added."""
        alloys = self._ticked("alloys", self.new_alloys)
        materials = self._ticked("materials", self.new_materials)
        schedules = self._ticked("schedules", self.new_schedules)
        for alloy in alloys:
            add_alloy(alloy, with_grain=self.cleaned_data.get("grain", False))
        for material in materials:
            add_material(material)
        for schedule in schedules:
            add_schedule(schedule)
        names = [one.name for one in (*alloys, *materials, *schedules)]
        if not names:
            return "All of that is here already."
        return f"Added: {'; '.join(names)}. Their figures are a start: each can be changed in Set-up."

    def _ticked(self, name: str, starters: list[Any]) -> list[Any]:
        return [one for one in starters if one.name in self.cleaned_data[name]]


def describe_alloy(alloy: StarterAlloy) -> str:
    """ "silver 92.5 %, copper 7.5 %; 10.36 g/cm³ (published alloy table); melts: 802 to 893 °C, ..." """
    parts = ", ".join(f"{ELEMENTS[symbol]} {print_percent(part)}" for symbol, part in alloy.parts.items())
    said = f"{parts}; {print_density(alloy.density_mg_cm3)} ({alloy.density_note})"
    if not alloy.heats.facts:
        return f"{said}; ask its maker how hot it melts and is poured"
    heats = ", ".join(f"{name.lower()}: {shown}" for name, shown in alloy.heats.facts)
    return f"{said}; {heats} ({alloy.melting_from})"


def describe_material(material: StarterMaterial) -> str:
    if material.density_mg_cm3 is not None:
        return f"{print_density(material.density_mg_cm3)} ({material.note})"
    water = (material.water_per_100_tenths or 0) // 10
    return (
        f"{water} of water for 100 of powder, {print_density(material.slurry_mg_cm3)} when mixed, "
        f"worked within {print_minutes(material.working_minutes)}, fired to {print_celsius(material.most_c)} at most, "
        f"good for {material.shelf_life_days} days, opened for {material.opened_life_days} ({material.note})"
    )


def describe_schedule(schedule: StarterSchedule) -> str:
    """ "149 °C, 371 °C, 732 °C, 621 °C, together about 12 h 58 min. A printed table..." """
    held = ", ".join(print_celsius(step.target_c) for step in schedule.steps)
    about = "about " if any(step.is_as_fast_as_it_can for step in schedule.steps) else ""
    return f"{held}, together {about}{print_minutes(count_minutes(schedule.steps))}. {schedule.note}"


def _leave_out(starters: Sequence[Any], names: Iterable[str]) -> list[Any]:
    taken = {name.casefold() for name in names}
    return [one for one in starters if one.name.casefold() not in taken]
