"""The fields of the page on which a cast is planned, and their usual answers."""

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.core.clock import find_moment
from inventory.core.day_plan import STANDING_MOST
from inventory.models import CastingDay, Material, Plan
from inventory.queries.casting_choices import PlanChoices
from inventory.queries.plans import DayDraft, default_wish_at, draft_of_day
from inventory.queries.studio import choose_schedule
from studio.kit.fields import LengthField, LineField, MassField, MinutesField, PercentField
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.picks import Options, PickField
from studio.kit.units import UM_PER_MM

from .casting import EQUIPMENT_FIELDS, offer_to, usual_answers
from .casting_fields import offer_equipment, offer_records

_FORMATS = ("%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M", "%d/%m/%Y %H:%M", "%Y-%m-%dT%H:%M:%S")
_SHOWN = "%Y-%m-%dT%H:%M"


class WallMomentField(forms.Field):
    """An aware moment, typed as a date and a time of the studio's clock.

    A time that the clocks leap over is refused with its sentence; of one that comes twice the first is taken.
    """

    default_error_messages = {
        "required": "Write a day and a time such as 25/11/2026 18:30.",
        "invalid": "This cannot be read. Write a day and a time such as 25/11/2026 18:30.",
    }

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateTimeInput(format=_SHOWN, attrs={"type": "datetime-local"}))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> datetime | None:
        if value in self.empty_values:
            return None
        wall = value if isinstance(value, datetime) else _read_wall(str(value))
        if wall is None:
            raise ValidationError(self.error_messages["invalid"], code="invalid")
        if wall.tzinfo is not None:
            return wall
        found = find_moment(wall, timezone.get_current_timezone())
        if found.at is None:
            raise ValidationError(found.sentence, code="no_such_time")
        return found.at

    def prepare_value(self, value: Any) -> Any:
        """What was typed is shown the way the browser's own field takes it."""
        if isinstance(value, str):
            return wall.strftime(_SHOWN) if (wall := _read_wall(value)) else value
        if isinstance(value, datetime) and timezone.is_aware(value):
            return timezone.localtime(value).strftime(_SHOWN)
        return value


def _read_wall(text: str) -> datetime | None:
    line = " ".join(text.split())
    for form in _FORMATS:
        try:
            return datetime.strptime(line, form)
        except ValueError:
            continue
    return None


MOST_BUTTON_PCT100 = 30_000
DAY_FIELDS = ("kiln", "schedule", "wish", "wish_at", "standing")


class PlanForm(OnceMixin, StudioForm):
    """What a plan is besides its patterns. A day that is given fixes kiln, schedule and times."""

    title = LineField(
        label="What is on the tree", required=False, help_text="Left empty, its patterns name it."
    )
    alloy = PickField(label="Alloy")
    sprues = MassField(label="Sprues and stem", required=False, minimum=1, help_text="Without the base.")
    sprues_of = PickField(label="Made of", required=False)
    whole = MassField(label="The tree on its base", required=False, minimum=1)
    base = MassField(label="The base alone", required=False)
    flask = PickField(label="Flask")
    crucible = PickField(label="Crucible", required=False)
    powder = PickField(label="Powder")
    kiln = PickField(label="Kiln")
    schedule = PickField(label="Schedule", required=False)
    wish = forms.ChoiceField(label="Plan around", choices=CastingDay.Wish.choices)
    wish_at = WallMomentField(label="Day and time")
    owner = PickField(label="Customer", required=False, help_text="Only if the metal is a customer's own.")
    machine = PickField(label="Casting machine", required=False)
    pump = PickField(label="Vacuum pump", required=False)
    tree_height = LengthField(
        label="Height of the tree", required=False, minimum=UM_PER_MM, maximum=1000 * UM_PER_MM
    )
    tree_width = LengthField(
        label="Width of the tree", required=False, minimum=UM_PER_MM, maximum=1000 * UM_PER_MM
    )
    button = PercentField(
        label="For the button",
        maximum=MOST_BUTTON_PCT100,
        help_text="Of the metal of the tree, on top of it.",
    )
    standing = MinutesField(label="The flasks stand for", maximum=STANDING_MOST)
    note = LineField(label="Note", required=False, max_length=500)

    def __init__(
        self,
        *args: Any,
        choices: PlanChoices,
        day: CastingDay | None = None,
        plan: Plan | None = None,
        list_patterns: Callable[[], Iterable[Material]] = tuple,
        **kw: Any,
    ) -> None:
        said = _said_in(plan) if plan is not None else _usual_plan(choices)
        super().__init__(*args, initial=said | (kw.pop("initial", None) or {}), **kw)
        self.choices, self.day, self.list_patterns = choices, day, list_patterns
        self._offer(choices, plan)
        if day is not None:
            for name in DAY_FIELDS:
                del self.fields[name]

    def _offer(self, choices: PlanChoices, plan: Plan | None) -> None:
        studio = choices.studio
        offer_to(self, "alloy", offer_records(_with(studio.alloys, plan, "alloy"), "Choose the alloy"))
        offer_to(
            self, "owner", offer_records(_with(studio.customers, plan, "owner"), "the studio's own metal")
        )
        offer_to(self, "flask", offer_records(_with(choices.flasks, plan, "flask"), "Choose the flask"))
        offer_to(self, "powder", offer_records(_with(choices.powders, plan, "powder"), "Choose the powder"))
        offer_to(self, "sprues_of", offer_materials(choices, plan))
        for name in ("crucible", "machine", "pump"):
            offer_to(self, name, offer_equipment(_with(studio.of_kind(name), plan, name)))
        now = plan.day if plan is not None else None
        offer_to(self, "kiln", offer_records(_with(choices.kilns, now, "kiln"), "Choose the kiln"))
        offer_to(
            self, "schedule", offer_records(_with(choices.schedules, now, "schedule"), "the one that fits")
        )
        for name in ("owner", "machine", "pump"):
            # What the studio does not have is not asked about.
            if not self.fields[name].options.records:  # type: ignore[attr-defined]  # these are all picks
                del self.fields[name]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("sprues") and cleaned.get("whole"):
            self.add_error("whole", "Write the sprues, or the whole tree, and leave the other empty.")
        if cleaned.get("base") and not cleaned.get("whole") and "whole" not in self.errors:
            self.add_error("whole", "Write what the tree weighs on its base, or leave the base empty too.")
        if (cleaned.get("sprues") or cleaned.get("whole")) and not cleaned.get("sprues_of"):
            self.add_error("sprues_of", "Choose what the sprues are made of.")
        if "schedule" in self.fields and not cleaned.get("schedule") and "schedule" not in self.errors:
            self._find_schedule(cleaned)
        return cleaned

    def _find_schedule(self, cleaned: dict[str, Any]) -> None:
        """The schedule that suits powder and flask, where none was named."""
        powder, flask = cleaned.get("powder"), cleaned.get("flask")
        if powder is None or flask is None:
            return
        cleaned["schedule"] = choose_schedule(self.choices.schedules, powder, flask, self.list_patterns())
        if cleaned["schedule"] is None:
            self.add_error(
                "schedule",
                f"No schedule says that it is for {powder} and flasks as wide as {flask}. Choose one, or write one by "
                "the powder's sheet in the set-up.",
            )

    def day_said(self) -> DayDraft | None:
        """The casting day that is meant, as far as it can be read; a time that cannot is taken as tomorrow's."""
        if self.day is not None:
            day = self.day
            return draft_of_day(day)
        found = self.cleaned_data
        kiln, schedule = found.get("kiln"), found.get("schedule")
        if kiln is None or schedule is None or found.get("standing") is None:
            return None
        at = found.get("wish_at") or default_wish_at(timezone.now())
        return DayDraft(kiln, schedule, found.get("wish") or CastingDay.Wish.POUR, at, found["standing"])


def _with(offered: Any, record: Any, name: str) -> list[Any]:
    """What is offered, and what stands in a record already even when it was put away since."""
    listed = list(offered)
    now = getattr(record, name, None) if record is not None else None
    return [*listed, now] if now is not None and now not in listed else listed


def offer_materials(choices: PlanChoices, plan: Plan | None = None) -> Options:
    materials = list(choices.patterns)
    for part in plan.parts.all() if plan is not None else ():
        if part.material not in materials:
            materials.append(part.material)
    return offer_records(materials, "Choose the wax, plastic or resin")


def _usual_plan(choices: PlanChoices) -> dict[str, Any]:
    """The usual answers: those of the last cast, of the studio's practice, and tomorrow evening."""
    usual = usual_answers(choices.studio)
    if usual.get("flask") not in choices.flasks:
        usual["flask"] = None
    for name, offered in (("flask", choices.flasks), ("crucible", choices.studio.of_kind("crucible"))):
        if usual.get(name) is None and len(offered) == 1:
            usual[name] = offered[0]
    return usual | {
        "powder": pick_usual(choices.powders, choices.usual_powder),
        "sprues_of": pick_usual(choices.patterns, choices.usual_pattern),
        "kiln": pick_usual(choices.kilns, choices.usual_kiln),
        "wish": CastingDay.Wish.POUR,
        "wish_at": default_wish_at(timezone.now()),
        "standing": choices.practice.standing_minutes,
        "button": choices.practice.button_pct100,
    }


def pick_usual(offered: Any, key: int | None) -> Any:
    """The record of that key; else the only one there is."""
    found = next((one for one in offered if one.pk == key), None)
    return found or (offered[0] if len(offered) == 1 else None)


def _said_in(plan: Plan) -> dict[str, Any]:
    """A saved plan as its form shows it."""
    day, sprues = plan.day, sprues_of(plan)
    said: dict[str, Any] = {name: getattr(plan, name) for name in EQUIPMENT_FIELDS}
    return said | {
        "title": plan.title,
        "alloy": plan.alloy,
        "owner": plan.owner,
        "powder": plan.powder,
        "sprues": sprues.mass_mg if sprues else None,
        "sprues_of": sprues.material if sprues else None,
        "kiln": day.kiln,
        "schedule": day.schedule,
        "wish": day.wish,
        "wish_at": day.wish_at,
        "standing": day.standing_minutes,
        "button": plan.button_pct100,
        "tree_height": plan.tree_height_um,
        "tree_width": plan.tree_width_um,
        "note": plan.note,
    }


def sprues_of(plan: Plan) -> Any:
    """The part that is no piece; the last, where there are several."""
    return next((part for part in reversed(plan.parts.all()) if not part.is_piece), None)
