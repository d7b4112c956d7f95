"""The page on which a cast that is already done is written down whole."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.forms import HiddenInput
from django.utils import timezone

from inventory.core.pieces import name_castings
from inventory.core.powder import compute_water_mg
from inventory.models import Alloy, Cast, Firing, Lot, Material
from inventory.posting.casting import CastRecord, Portion
from inventory.posting.casting_records import FiringRecord
from inventory.posting.closing import Weights
from inventory.queries.casting_before import Beginning, LastTime, find_like, read_last_time
from inventory.queries.casting_choices import (
    StudioChoices,
    metal_lots,
    pattern_lots,
    pattern_materials,
    powder_lots,
    read_studio_choices,
    suggest_powder_lot,
    usual_firing,
)
from studio.kit.fields import LineField
from studio.kit.rows import RowsFormSet

from .casting import (
    FactsForm,
    FiringMixin,
    FoldsMixin,
    NoteMixin,
    PourMixin,
    WaterMixin,
    WeightsMixin,
    refuse_backwards,
    usual_answers,
)
from .casting_doubts import ask_charge, ask_loss, ask_powder, ask_tree
from .casting_fields import (
    NEW_FIRING,
    metal_as_before,
    offer_metal,
    offer_patterns,
    offer_powder,
    pattern_as_before,
)
from .casting_rows import (
    ChargeFormSet,
    NamedPieceFormSet,
    PieceFormSet,
    PowderFormSet,
    TimeFormSet,
    TreeFormSet,
)
from .sheet import Sheet
from .work_day import WorkDayField

TENTHS_TO_PCT100 = 10


class RecordForm(FoldsMixin, FactsForm, WaterMixin, FiringMixin, PourMixin, WeightsMixin, NoteMixin):
    """Everything but the charge may stay empty, so nothing is called optional."""

    marks_optional = False
    folds: Mapping[str, tuple[str, ...]] = {
        "mould": ("water",),
        "firing": FiringMixin.FIRING_MORE,
        "weights": ("failed_mass", "spill", "filings", "failed"),
        "pour": ("metal_c", "flask_c", "vacuum", "pour_note", "crucible", "machine", "pump"),
        "more": ("owner", "closed_on", "note"),
    }

    title = LineField(label="What is on the tree", required=False)
    closed_on = WorkDayField(
        label="Day of the weights", required=False, help_text="Left empty, the day of the cast."
    )
    #: The alloy, the flask and the cast to be like, with which the page began: what it offered follows from them.
    begun = LineField(required=False, widget=HiddenInput)

    def __init__(
        self, *args: Any, choices: StudioChoices, firings: list[Firing] | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, choices=choices, **kwargs)
        self.offer_firings_to(firings or [], choices.of_kind("kiln"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self.check_firing(cleaned)
        refuse_backwards(self, cleaned)
        return cleaned

    def doubts(self) -> dict[str, str]:
        found = self.cleaned_data
        return self.doubt_pour(found["alloy"]) | self.doubt_firing(found.get("flask"))

    def weights(self, groups: list[Any]) -> Weights:
        return weights_of(self.cleaned_data, groups)


def weights_of(found: Mapping[str, Any], groups: list[Any]) -> Weights:
    return Weights(
        groups,
        back_mg=found["back"] or 0,
        failed_mg=found["failed_mass"] or 0,
        spill_mg=found["spill"] or 0,
        filings_mg=found["filings"] or 0,
        failed=bool(found["failed"]),
        as_it_is=bool(found.get("as_it_is")),
    )


@dataclass(frozen=True)
class RecordChoices:
    """Everything that the page offers, read once, and what was done the last time."""

    begun: Beginning
    last: LastTime
    studio: StudioChoices
    metal: list[Lot]
    powder: list[Lot]
    patterns: list[Lot]
    pattern_materials: list[Material]

    def begin_with(self, begun: Beginning) -> "RecordChoices":
        """The same choices with another alloy or flask."""
        return replace(self, begun=begun, last=read_last_time(begun))


def read_record_choices(begun: Beginning | None = None) -> RecordChoices:
    """With nothing said, the page begins with the alloy and the flask of the last cast."""
    studio = read_studio_choices()
    begun = begun or begin_like(usual_answers(studio))
    return RecordChoices(
        begun=begun,
        last=read_last_time(begun),
        studio=studio,
        metal=metal_lots(),
        powder=powder_lots(),
        patterns=pattern_lots(),
        pattern_materials=pattern_materials(),
    )


def begin_like(answers: Mapping[str, Any], like: Cast | None = None) -> Beginning:
    keys = {name: getattr(answers.get(name), "pk", None) for name in ("alloy", "flask")}
    return Beginning(**keys, like=like)


class RecordSheet(Sheet):
    REFUSALS: Mapping[str, str] = {"finished": "back"}

    def __init__(self, choices: RecordChoices, data: Any = None) -> None:
        today, last = timezone.localdate(), choices.last
        options = {
            "tree": offer_patterns(choices.patterns, choices.pattern_materials),
            "powder": offer_powder(choices.powder),
            "charge": offer_metal(choices.metal, any_owner=True, alloy_id=choices.begun.alloy),
        }
        lines: dict[str, Any] = {
            "tree": [{"what": pattern_as_before(last.pattern, options["tree"])}],
            "powder": usual_powder(choices.powder, today, last.powder_mg),
            "charge": [{"what": key} for key in metal_as_before(last.charged, options["charge"])],
        }
        kinds = {"tree": TreeFormSet, "powder": PowderFormSet, "charge": ChargeFormSet}
        rows = {
            name: usual_rows(
                kind(data, prefix=name, initial=lines[name], form_kwargs={"options": options[name]})
            )
            for name, kind in kinds.items()
        }
        named = [{"name": name, "count": count} for name, count in last.pieces]
        pieces = usual_rows(
            (NamedPieceFormSet if named else PieceFormSet)(data, prefix="pieces", initial=named)
        )
        firings = list(last.firings)
        form = RecordForm(data, choices=choices.studio, firings=firings, initial=_usual_facts(choices, today))
        super().__init__(form, **rows, pieces=pieces, time=TimeFormSet(data, prefix="time"))
        self.choices = choices

    @property
    def own_alloy(self) -> Alloy | None:
        """The alloy that the page shows, and whose metal its list begins with."""
        return next((one for one in self.choices.studio.alloys if one.pk == self.choices.begun.alloy), None)

    def is_valid(self) -> bool:
        is_right = super().is_valid()
        if is_right and not self.form.cleaned_data["title"] and not self.rows["pieces"].written():
            self.form.add_error("title", "Write what is cast, such as fern studs.")
            return False
        return is_right

    def doubts(self) -> Iterator[tuple[Any, str, str]]:
        yield from super().doubts()
        rows, found = self.rows, self.form.cleaned_data
        flask = found.get("flask")
        yield from ask_tree(rows["tree"])
        yield from ask_powder(rows["powder"], flask.pk if flask else None)
        yield from ask_charge(rows["charge"], found["alloy"])
        charge_mg = sum(portion.quantity for portion in rows["charge"].portions())
        yield from ask_loss(self.form, rows["pieces"], charge_mg, found["alloy"])

    @property
    def firing_choice(self) -> Firing | FiringRecord | None:
        return self.form.firing_choice(self.form.cleaned_data["day"])

    def to_record(self) -> CastRecord:
        """The whole cast as the posting takes it."""
        form, found = self.form, self.form.cleaned_data
        tree, powder = self.rows["tree"].records(), self.rows["powder"].portions()
        materials = {part.material for part in tree}
        pattern = materials.pop() if len(materials) == 1 else None
        weights = form.weights(self.rows["pieces"].groups(pattern))
        found["title"] = found["title"] or name_castings((one.name, one.count) for one in weights.groups)
        return CastRecord(
            facts=form.facts(found["note"]),
            charge=self.rows["charge"].portions(),
            weights=weights,
            tree=tree,
            powder=powder,
            water_mg=water_for(powder) if found["water"] is None else found["water"],
            firing=self.firing_choice,
            pour=form.pour_notes(),
            bench=self.rows["time"].records(),
            closed_on=found["closed_on"],
        )


def usual_rows(rows: RowsFormSet) -> RowsFormSet:
    """Lines that come filled in stand for the empty ones."""
    if rows.initial and not rows.is_bound:
        rows.extra = 0
    return rows


def usual_powder(lots: list[Lot], day: date, mass_mg: int | None = None) -> list[dict[str, Any]] | None:
    lot = suggest_powder_lot(lots, day)
    return [{"lot": lot, "mass": mass_mg}] if lot else None


def _usual_facts(choices: RecordChoices, today: date) -> dict[str, Any]:
    """As it was last time with this alloy and flask; a firing is new where the last cast's was noted."""
    begun, last, studio = choices.begun, choices.last, choices.studio
    facts = usual_answers(studio, last.cast) | {"begun": print_beginning(begun)}
    facts |= {
        "alloy": _find(studio.alloys, begun.alloy),
        "flask": _find(studio.of_kind("flask"), begun.flask),
    }
    if begun.like is not None:
        facts |= {"title": begun.like.title, "owner": _find(studio.customers, begun.like.owner_id)}
    firing = usual_firing(last.firings, today)
    is_usually_noted = last.cast is not None and last.cast.firing_id is not None
    return facts | {"firing": firing or (NEW_FIRING if is_usually_noted and studio.of_kind("kiln") else None)}


def _find(records: Iterable[Any], key: int | None) -> Any:
    return next((one for one in records if one.pk == key), None)


def print_beginning(begun: Beginning) -> str:
    """ "3-7-41": alloy, flask and number of the cast to be like; 0 for what is not said."""
    return f"{begun.alloy or 0}-{begun.flask or 0}-{begun.like.number if begun.like else 0}"


def read_beginning(text: str) -> Beginning | None:
    """What `print_beginning` printed; None for anything else."""
    if not re.fullmatch(r"\d{1,9}-\d{1,9}-\d{1,9}", text, re.ASCII):
        return None
    alloy, flask, like = (int(part) for part in text.split("-"))
    return Beginning(alloy or None, flask or None, find_like(like) if like else None)


def water_for(powder: list[Portion]) -> int | None:
    """Milligrams of water by the figure of each powder; None where one of them has no figure, or there is none."""
    figures = [portion.lot.material.water_per_100_tenths for portion in powder]
    if not powder or None in figures:
        return None
    return sum(
        compute_water_mg(portion.quantity, (tenths or 0) * TENTHS_TO_PCT100)
        for portion, tenths in zip(powder, figures, strict=True)
    )
