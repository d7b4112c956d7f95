"""A plan as its page sends it in, pattern by pattern, and its charge, lot by lot, as a person changes it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.forms.boundfield import BoundField

from inventory.core.charge_judging import judge_charge
from inventory.core.charge_shelf import Bind, ChargeWanted, ShelfLot
from inventory.core.pieces import name_castings
from inventory.core.tree import compute_sprues
from inventory.models import CastingDay, Customer, Design, Equipment, Material, Plan
from inventory.queries.casting_choices import PlanChoices
from inventory.queries.designs import Learnt, design_named
from inventory.queries.plans import DayDraft, PartDraft, PlanDraft
from studio.kit.fields import CountField, LineField, MassField
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.picks import Options, PickField
from studio.kit.printing import print_fineness, print_mass, print_melts
from studio.kit.rows import RowForm, make_rows
from studio.kit.working import Working

from .casting import offer_to
from .plans import PlanForm, offer_materials, pick_usual, sprues_of
from .sheet import Sheet

SPRUES = "Sprues and stem"
MOST_OF_ONE_KIND = 500
NAMES_LIST = "earlier-names"


class PartRow(RowForm):
    """Patterns of one kind: how many, and what they weigh together."""

    given = ("count", "material")

    label = LineField(label="Pattern", error_messages={"required": "Write what it is, such as fern leaf."})
    count = CountField(label="How many", initial=1, minimum=1, maximum=MOST_OF_ONE_KIND)
    mass = MassField(label="They weigh together", minimum=1)
    material = PickField(label="Made of")

    def __init__(
        self,
        *args: Any,
        options: Options | None = None,
        usual: Any = None,
        designs: Mapping[str, Design] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.designs = designs or {}
        if any(design.pattern_mg for design in self.designs.values()):
            mass = self.fields["mass"]
            mass.required, mass.help_text = False, "Left empty for a design, what its patterns weigh."
        offer_to(self, "material", options or Options())
        self.fields["material"].initial = usual
        self.fields["label"].widget.attrs["list"] = NAMES_LIST

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        design = design_named(cleaned.get("label") or "", self.designs)
        cleaned["design"] = design
        if cleaned.get("mass") is None and "mass" not in self.errors and self.has_changed():
            if design is not None and design.pattern_mg:
                cleaned["mass"] = design.pattern_mg * (cleaned.get("count") or 1)
            else:
                self.add_error("mass", self.fields["mass"].error_messages["required"])
        return cleaned

    def part(self) -> PartDraft | None:
        """The line as far as it can be read; None while mass or material are missing."""
        found = getattr(self, "cleaned_data", {})
        if not found.get("mass") or not found.get("material") or self.is_removed:
            return None
        return PartDraft(
            *(found.get("label") or "Pattern", found["material"], found["mass"], found.get("count") or 1),
            design=found.get("design"),
        )


PartFormSet = make_rows(
    PartRow,
    row_word="Patterns",
    add_label="Add other patterns",
    least=1,
    nothing_written="Write at least one pattern, how many of it there are, and what they weigh together.",
)


@dataclass(frozen=True)
class Said:
    """What a plan's page says so far. `draft` is None while something is missing that the sums need."""

    draft: PlanDraft | None
    missing: tuple[str, ...] = ()
    sprues: Working | None = None
    knows_time: bool = True
    has_sprues: bool = True


@dataclass(frozen=True)
class Begun:
    """What a new plan begins with: designs and how many of each, and what is chosen already, by its field."""

    tree: tuple[tuple[Learnt, int], ...]
    said: Mapping[str, Any]


class PlanSheet(Sheet):
    REFUSALS: Mapping[str, str] = {"charge": ""}

    def __init__(
        self,
        choices: PlanChoices,
        data: Any = None,
        day: CastingDay | None = None,
        plan: Plan | None = None,
        begun: Begun | None = None,
    ) -> None:
        """`begun` is what a new plan begins with."""
        usual = pick_usual(choices.patterns, choices.usual_pattern)
        rows = PartFormSet(
            data,
            prefix="parts",
            initial=_lines_of(plan) if begun is None else _lines_of_designs(begun.tree),
            form_kwargs={
                "options": offer_materials(choices, plan),
                "usual": usual,
                "designs": {design.name.lower(): design for design in choices.designs},
            },
        )
        if rows.initial and not rows.is_bound:
            rows.extra = 0
        form = PlanForm(
            data,
            choices=choices,
            day=day,
            plan=plan,
            list_patterns=self._materials,
            initial=begun.said if begun is not None else None,
        )
        super().__init__(form, parts=rows)
        self.choices = choices

    def is_valid(self) -> bool:
        return super().is_valid() and self._check_sprues()

    def _check_sprues(self) -> bool:
        mass_mg, _ = self._sprues(self._parts())
        if mass_mg < 0:
            self.form.add_error(
                "whole",
                f"The patterns weigh {print_mass(-mass_mg)} more than the tree without its base. Weigh again.",
            )
        return mass_mg >= 0

    def _parts(self) -> list[PartDraft]:
        rows: Any = self.rows["parts"]
        rows.is_valid()
        return [part for row in rows.forms if row.has_changed() and (part := row.part()) is not None]

    def _materials(self) -> list[Material]:
        return [part.material for part in self._parts()]

    def _sprues(self, parts: list[PartDraft]) -> tuple[int, Working | None]:
        found = self.form.cleaned_data
        if not found.get("whole"):
            return found.get("sprues") or 0, None
        return compute_sprues(found["whole"], found.get("base") or 0, sum(part.mass_mg for part in parts))

    def said(self) -> Said:
        """The draft so far, from what can be read; what cannot is passed over where a sum can do without."""
        form: Any = self.form
        form.is_valid()
        found, parts = form.cleaned_data, self._parts()
        needed = {"alloy": "the alloy", "flask": "the flask", "powder": "the powder"}
        missing = [words for name, words in needed.items() if found.get(name) is None]
        missing += [] if parts else ["the patterns"]
        day = form.day_said()
        missing += [] if day else ["kiln and schedule"]
        if day is None or missing:
            return Said(None, tuple(missing))
        sprues_mg, working = self._sprues(parts)
        if sprues_mg > 0 and found.get("sprues_of"):
            parts.append(PartDraft(SPRUES, found["sprues_of"], sprues_mg, is_piece=False))
        return Said(
            self._draft(parts, day),
            sprues=working,
            knows_time=form.day is not None or bool(found.get("wish_at")),
            has_sprues=not all(part.is_piece for part in parts),
        )

    def _draft(self, parts: list[PartDraft], day: DayDraft) -> PlanDraft:
        found = self.form.cleaned_data
        button = found.get("button")
        equipment: dict[str, Equipment | None] = {
            name: found.get(name) for name in ("crucible", "machine", "pump")
        }
        owner: Customer | None = found.get("owner")
        powder: Material = found["powder"]
        return PlanDraft(
            title=found.get("title")
            or name_castings((part.label, part.count) for part in parts if part.is_piece),
            alloy=found["alloy"],
            flask=found["flask"],
            powder=powder,
            parts=tuple(parts),
            day=day,
            button_pct100=self.choices.practice.button_pct100 if button is None else button,
            owner=owner,
            tree_height_um=found.get("tree_height"),
            tree_width_um=found.get("tree_width"),
            note=found.get("note") or "",
            **equipment,
        )


def _lines_of_designs(tree: Sequence[tuple[Learnt, int]]) -> list[dict[str, Any]]:
    return [
        {
            "label": one.design.name,
            "count": count,
            "mass": one.pattern_mg and one.pattern_mg * count,
            "material": one.design.pattern_material,
        }
        for one, count in tree
    ]


def _lines_of(plan: Plan | None) -> list[dict[str, Any]] | None:
    if plan is None:
        return None
    sprues = sprues_of(plan)
    return [
        {"label": part.label, "count": part.count, "mass": part.mass_mg, "material": part.material}
        for part in plan.parts.all()
        if part != sprues
    ]


BESIDE_THEIR_LOT = (Bind.ON_HAND, Bind.OWNER)


class ChargePlanForm(OnceMixin, StudioForm):
    """A mass for each lot on the shelf; those left empty stay there."""

    marks_optional = False

    def __init__(
        self, data: Any, shelf: Sequence[ShelfLot], wanted: ChargeWanted, masses: Mapping[int, int]
    ) -> None:
        super().__init__(data)
        self.shelf, self.wanted = shelf, wanted
        #: Milligrams by lot, of what can be read, whether or not it may be.
        self.typed: dict[int, int] = {}
        self.taken = [lot for lot in shelf if lot.key in masses]
        # What is all promised stands last: it can be read, and seldom taken.
        self.rest = sorted((lot for lot in shelf if lot.key not in masses), key=lambda lot: not lot.usable_mg)
        for lot in (*self.taken, *self.rest):
            self.fields[_name(lot)] = MassField(
                label=lot.label,
                required=False,
                initial=masses.get(lot.key),
                help_text=describe_lot(lot, wanted),
            )

    def taken_fields(self) -> Iterator[BoundField]:
        return (self[_name(lot)] for lot in self.taken)

    def rest_fields(self) -> Iterator[BoundField]:
        return (self[_name(lot)] for lot in self.rest)

    def so_far(self) -> dict[int, int]:
        """Milligrams by lot: what was typed, or what the plan keeps."""
        if self.is_bound:
            self.full_clean()
            return self.typed
        return {lot.key: self.fields[_name(lot)].initial for lot in self.taken}

    @property
    def opens_rest(self) -> bool:
        """Whether the folded lots hold something to see: a mass, a mistake, or nothing stands above them."""
        if not self.taken:
            return True
        return self.is_bound and any(field.data or field.errors for field in self.rest_fields())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self.typed = {lot.key: mass_mg for lot in self.shelf if (mass_mg := cleaned.get(_name(lot)))}
        for lot in self.shelf:
            if lot.key in self.typed:
                # Each lot by itself, so that its mistake stands beside it.
                judged = judge_charge([lot], {lot.key: self.typed[lot.key]}, self.wanted)
                for problem in judged.problems:
                    if problem.bind in BESIDE_THEIR_LOT:
                        self.add_error(_name(lot), problem.sentence)
        return cleaned


def _name(lot: ShelfLot) -> str:
    return f"lot-{lot.key}"


def describe_lot(lot: ShelfLot, wanted: ChargeWanted) -> str:
    """ "120.00 g free of 200.00 g, 925.0 fine, fresh." """
    held = lot.held.quantity
    said = [f"{print_mass(lot.usable_mg)} free"]
    if lot.usable_mg < held:
        said[0] += f" of {print_mass(held)}"
    if wanted.rules.per_mille and held:
        said.append(f"{print_fineness(lot.held.fine_ug, held)} per mille")
    said.append(
        "to alloy with" if lot.is_alloying else "fresh" if lot.is_fresh else print_melts(lot.melts_milli)
    )
    return ", ".join(said) + "."
