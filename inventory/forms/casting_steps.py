"""One form for each step of a cast, and for what is written on it besides."""

from typing import Any

from django import forms
from django.utils import timezone

from inventory.models import Alloy, BenchTime, Cast, Entry, Equipment, Lot, Piece, Task
from inventory.queries.casting_before import Beginning, LastTime, read_last_time
from inventory.queries.casting_choices import (
    last_firings,
    lots_for_use,
    metal_lots,
    pattern_lots,
    pattern_materials,
    powder_lots,
    usual_firing,
)
from inventory.queries.casting_page import CastPage
from inventory.queries.days import planned_minutes
from inventory.queries.designs import planned_designs, usual_minutes
from inventory.queries.plans import plan_ahead_of, plan_of
from inventory.queries.setup import every, in_use, kilns_in_use
from studio.kit.fields import LineField, MassField, MinutesField, RecordsField
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.picks import Options, PickField
from studio.kit.printing import NOTHING
from studio.kit.rows import RowsFormSet

from .bench_time import MOST_MINUTES, SpentMixin, TaskField, offer_clock
from .casting import EQUIPMENT_FIELDS, FiringMixin, FoldsMixin, NoteMixin, PourMixin, WaterMixin, WeightsMixin
from .casting_doubts import StepSheet
from .casting_fields import (
    NEW_FIRING,
    metal_as_before,
    offer_equipment,
    offer_metal,
    offer_patterns,
    offer_powder,
    offer_stock,
    pattern_as_before,
)
from .casting_record import usual_powder, usual_rows
from .casting_rows import (
    AmountRow,
    ChargeFormSet,
    NamedPieceFormSet,
    NeededPowderFormSet,
    NeededTreeFormSet,
    PieceFormSet,
)
from .plans_steps import planned_charge, planned_pieces, planned_powder, planned_tree
from .sheet import Sheet
from .work_day import WorkDayField


class DayForm(OnceMixin, StudioForm):
    day = WorkDayField(label="Day", initial=timezone.localdate)


class TreeForm(DayForm):
    base = MassField(
        label="The base, if it was weighed with it",
        required=False,
        minimum=1,
        help_text="The rubber base alone. It comes off what the tree weighs.",
    )

    field_order = ("base", "day")


class PowderForm(DayForm, WaterMixin):
    pass


AS_PLANNED = "So long it was planned. Write how long the kiln was really on, if that was otherwise."
BY_TURNS = "By the turns of the kiln that were written down. Change it if it was on for longer or less."


class FiringForm(FoldsMixin, OnceMixin, StudioForm, FiringMixin):
    folds = {"firing": FiringMixin.FIRING_MORE}
    # Which fields are wanted depends on the choice, so none is called optional.
    marks_optional = False

    def __init__(self, *args: Any, cast: Cast, **kwargs: Any) -> None:
        self.cast = cast
        firings = last_firings()
        plan = plan_of(cast)
        now = cast.firing or (plan.day.firing if plan else None)
        usual = now or usual_firing(firings, timezone.localdate()) or NEW_FIRING
        initial: dict[str, Any] = {"firing": usual}
        minutes = 0
        if plan and now is None:
            # Nobody wrote it down for another flask of the day: it is the firing that was planned.
            minutes = planned_minutes(plan.day)
            initial = {"firing": NEW_FIRING, "kiln": plan.day.kiln, "firing_minutes": minutes or None}
        super().__init__(*args, initial=initial, **kwargs)
        if plan and minutes:
            # What stands there already is not what somebody read off a clock.
            self.fields["firing_minutes"].help_text = BY_TURNS if plan.day.turned else AS_PLANNED
        kilns = list(kilns_in_use())
        self.offer_firings_to(firings, kilns, now)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self.check_firing(cleaned)
        return cleaned

    def doubts(self) -> dict[str, str]:
        return self.doubt_firing(self.cast.flask, self.cast)


class PourForm(OnceMixin, StudioForm, PourMixin):
    """What was read at the pour, beside what the alloy asks for."""

    def __init__(self, *args: Any, alloy: Alloy, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.alloy = alloy
        for name, asked in (("metal_c", alloy.heats.pour), ("flask_c", alloy.heats.flask)):
            if asked != NOTHING:
                self.fields[name].help_text = f"{alloy}: {asked}."

    def doubts(self) -> dict[str, str]:
        return self.doubt_pour(self.alloy)


class WeightsForm(SpentMixin, DayForm, WeightsMixin):
    """The weights, and the time that cutting off took."""

    field_order = ("back", "failed_mass", "spill", "filings", "failed", "spent", "task", "day")


class FoundForm(DayForm):
    FOUND_AS = (
        (Lot.Origin.SWEEPS, "sweeps"),
        (Lot.Origin.FILINGS, "filings"),
        (Lot.Origin.SPILL, "spill"),
        (Lot.Origin.CLEAN, "clean: a button, a sprue, a casting"),
    )
    mass = MassField(label="How much was found", minimum=1)
    origin = forms.ChoiceField(label="What it is", choices=FOUND_AS)
    note = LineField(label="Where", required=False, max_length=200)

    field_order = ("mass", "origin", "note", "day")


class UnpouredForm(DayForm):
    note = LineField(label="What happened", required=False, max_length=500)

    field_order = ("note", "day")


class TimeForm(DayForm):
    minutes = MinutesField(
        label="How long", minimum=1, maximum=MOST_MINUTES, help_text="Such as 1 h 20 or 45."
    )
    task = TaskField()
    what = LineField(label="In your own words", required=False)

    field_order: tuple[str, ...] = ("minutes", "task", "what", "day")

    def __init__(self, *args: Any, clock: str = "", usual: int = 0, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_clock(self.fields["minutes"], clock, usual)


class TrayForm(TimeForm):
    """Time on a cast as a whole, or on a tray of its pieces together."""

    pieces = RecordsField(
        every(Piece).none(),
        label="On these pieces",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Tick those on the tray: they share the time. With none, it is for the cast as a whole.",
    )
    basis = forms.ChoiceField(
        label="They share it",
        required=False,
        choices=BenchTime.Basis.choices,
        initial=BenchTime.Basis.EQUALLY,
    )

    field_order = ("minutes", "task", "what", "pieces", "basis", "day")

    def __init__(self, *args: Any, cast: Cast, **kwargs: Any) -> None:
        super().__init__(*args, clock=f"time-{cast.pk}", **kwargs)
        here = cast.pieces.filter(void=False).order_by("number")
        if cast.is_closed and here.exists():
            self.fields["pieces"].queryset = here  # type: ignore[attr-defined]  # a choice of records
        else:
            del self.fields["pieces"], self.fields["basis"]


def time_sheet(page: CastPage, data: Any = None) -> Sheet:
    return Sheet(TrayForm(data, cast=page.cast))


class UseForm(OnceMixin, AmountRow):
    """Something from stock: its quantity is in the unit of what is picked."""

    picks = "lot"

    lot = PickField(label="What was taken")
    quantity: Any = LineField(label="How much", max_length=60)
    note = LineField(label="What for", required=False, max_length=200)
    day = WorkDayField(label="Day", initial=timezone.localdate)

    def has_changed(self) -> bool:
        # Alone on a page it is always meant, unlike a line among others.
        return True


class MendForm(OnceMixin, StudioForm, FiringMixin, WaterMixin, PourMixin, NoteMixin):
    """Facts of a cast that no stock hangs on."""

    title = LineField(label="What is on the tree", error_messages={"required": "Write what is cast."})
    day = WorkDayField(label="Day of the cast")
    flask = PickField(label="Flask", required=False)
    crucible = PickField(label="Crucible", required=False)
    machine = PickField(label="Casting machine", required=False)
    pump = PickField(label="Vacuum pump", required=False)

    field_order = ("title", "day", *EQUIPMENT_FIELDS, "firing", "water", "metal_c", "flask_c", "vacuum")

    def __init__(self, *args: Any, cast: Cast, **kwargs: Any) -> None:
        initial = {name: getattr(cast, name) for name in ("title", "day", "firing", "metal_c", "flask_c")}
        initial |= {"vacuum": cast.vacuum_inhg_tenths, "pour_note": cast.pour_note, "note": cast.note}
        initial |= {"water": cast.water_mg} | {name: getattr(cast, name) for name in EQUIPMENT_FIELDS}
        super().__init__(*args, initial=initial, **kwargs)
        self.cast = cast
        equipment = list(in_use(Equipment))
        for name in EQUIPMENT_FIELDS:
            pick = self.fields[name]
            if isinstance(pick, PickField):
                now = getattr(cast, name)
                pick.offer(offer_equipment([one for one in equipment if one.kind == name], now))
        kilns = [one for one in equipment if one.kind == Equipment.Kind.KILN]
        self.offer_firings_to(last_firings(), kilns, cast.firing)
        self.fields["water"].help_text = ""
        # A new firing is written on the page for the firing: here one is chosen.
        for name in self.new_names:
            del self.fields[name]
        firing = self.fields["firing"]
        if isinstance(firing, PickField):
            firing.offer(firing.options.without(NEW_FIRING))

    def doubts(self) -> dict[str, str]:
        # What stands there was asked about when it was written.
        doubts = self.doubt_pour(self.cast.alloy)
        return {name: sentence for name, sentence in doubts.items() if name in self.changed_data}

    def facts(self) -> dict[str, Any]:
        found = self.cleaned_data
        facts = {name: found[name] for name in ("title", "day", "firing", "metal_c", "flask_c")}
        facts |= {name: found[name] for name in EQUIPMENT_FIELDS}
        return facts | {
            "water_mg": found["water"],
            "vacuum_inhg_tenths": found["vacuum"],
            "pour_note": found["pour_note"] or "",
            "note": found["note"] or "",
        }


def _lines(kind: Any, name: str, data: Any, options: Options, initial: Any) -> RowsFormSet:
    return usual_rows(kind(data, prefix=name, form_kwargs={"options": options}, initial=initial))


def _last_time(page: CastPage) -> LastTime:
    """What was done the last time with the alloy and in the flask of a cast."""
    return read_last_time(Beginning(page.cast.alloy_id, page.cast.flask_id))


def tree_sheet(page: CastPage, data: Any = None) -> Sheet:
    options = offer_patterns(pattern_lots(), pattern_materials())
    plan = plan_ahead_of(page.cast, Entry.Kind.TREE)
    planned = planned_tree(plan, options) if plan else None
    usual = [{"what": pattern_as_before(_last_time(page).pattern, options)}]
    return StepSheet(
        page, TreeForm(data), tree=_lines(NeededTreeFormSet, "tree", data, options, planned or usual)
    )


def powder_sheet(page: CastPage, data: Any = None) -> Sheet:
    lots = powder_lots()
    options = offer_powder(lots)
    plan = plan_ahead_of(page.cast, Entry.Kind.POWDER)
    planned = planned_powder(plan, options) if plan else None
    usual = usual_powder(lots, timezone.localdate())
    rows = _lines(NeededPowderFormSet, "powder", data, options, planned or usual)
    water_mg = plan.water_mg if plan and planned else None
    return StepSheet(page, PowderForm(data, initial={"water": water_mg}), powder=rows)


def charge_sheet(page: CastPage, data: Any = None) -> Sheet:
    options = offer_metal(metal_lots(), page.cast.owner_id, alloy_id=page.cast.alloy_id)
    plan = plan_ahead_of(page.cast, Entry.Kind.CHARGE)
    planned = planned_charge(plan, options) if plan else None
    # More of it is a portion of its own, of whatever it is.
    as_before = [] if page.charge else metal_as_before(_last_time(page).charged, options)
    usual = [{"what": key} for key in as_before]
    return StepSheet(
        page, DayForm(data), charge=_lines(ChargeFormSet, "charge", data, options, planned or usual)
    )


def pour_sheet(page: CastPage, data: Any = None) -> Sheet:
    initial = {
        "metal_c": page.cast.metal_c,
        "flask_c": page.cast.flask_c,
        "vacuum": page.cast.vacuum_inhg_tenths,
        "pour_note": page.cast.pour_note,
    }
    return Sheet(PourForm(data, initial=initial, alloy=page.cast.alloy))


def weights_sheet(page: CastPage, data: Any = None) -> Sheet:
    plan = plan_ahead_of(page.cast, Entry.Kind.CLOSE)
    parts = plan.parts.all() if plan is not None else ()
    usual = usual_minutes(planned_designs(parts), [Task.CUT])
    form = WeightsForm(data, clock=f"weights-{page.cast.number}", usual=usual, task=Task.CUT)
    if plan is None:
        return StepSheet(page, form, pieces=PieceFormSet(data, prefix="pieces"))
    rows = NamedPieceFormSet(data, prefix="pieces", initial=planned_pieces(plan))
    return StepSheet(page, form, pieces=usual_rows(rows))


def use_sheet(data: Any = None, of_piece: bool = False) -> Sheet:
    return Sheet(UseForm(data, options=offer_stock(lots_for_use(of_piece=of_piece))))
