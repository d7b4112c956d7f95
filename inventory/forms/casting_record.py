"""The page on which a cast that is already done is written down whole."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils import timezone

from inventory.core.powder import compute_water_mg
from inventory.models import Firing, Lot, Material
from inventory.posting.casting import CastRecord, Portion
from inventory.posting.casting_records import FiringRecord
from inventory.posting.closing import Weights
from inventory.queries.casting_choices import (
    StudioChoices,
    last_firings,
    metal_lots,
    pattern_lots,
    pattern_materials,
    powder_lots,
    read_studio_choices,
    suggest_powder_lot,
    usual_firing,
)
from studio.kit.fields import PastDayField
from studio.kit.rows import RowsFormSet

from .casting import FactsForm, FiringMixin, NoteMixin, PourMixin, WaterMixin, WeightsMixin, refuse_backwards
from .casting_fields import offer_metal, offer_patterns, offer_powder
from .casting_rows import ChargeFormSet, PieceFormSet, PowderFormSet, TimeFormSet, TreeFormSet
from .sheet import Sheet

TENTHS_TO_PCT100 = 10


class RecordForm(FactsForm, WaterMixin, FiringMixin, PourMixin, WeightsMixin, NoteMixin):
    closed_on = PastDayField(
        label="Day of the weights", required=False, help_text="Left empty, the day of the cast."
    )

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
    )


@dataclass(frozen=True)
class RecordChoices:
    """Everything that the page offers, read once."""

    studio: StudioChoices
    firings: list[Firing]
    metal: list[Lot]
    powder: list[Lot]
    patterns: list[Lot]
    pattern_materials: list[Material]


def read_record_choices() -> RecordChoices:
    return RecordChoices(
        studio=read_studio_choices(),
        firings=last_firings(),
        metal=metal_lots(),
        powder=powder_lots(),
        patterns=pattern_lots(),
        pattern_materials=pattern_materials(),
    )


class RecordSheet(Sheet):
    REFUSALS: Mapping[str, str] = {"finished": "back"}

    def __init__(self, choices: RecordChoices, data: Any = None) -> None:
        today = timezone.localdate()
        options = {
            "tree": offer_patterns(choices.patterns, choices.pattern_materials),
            "powder": offer_powder(choices.powder),
            "charge": offer_metal(choices.metal, any_owner=True),
        }
        given = {name: {"prefix": name, "form_kwargs": {"options": options[name]}} for name in options}
        super().__init__(
            RecordForm(
                data,
                choices=choices.studio,
                firings=choices.firings,
                initial={"firing": usual_firing(choices.firings, today)},
            ),
            tree=TreeFormSet(data, **given["tree"]),
            powder=usual_rows(
                PowderFormSet(data, **given["powder"], initial=usual_powder(choices.powder, today))
            ),
            charge=ChargeFormSet(data, **given["charge"]),
            pieces=PieceFormSet(data, prefix="pieces"),
            time=TimeFormSet(data, prefix="time"),
        )

    @property
    def firing_choice(self) -> Firing | FiringRecord | None:
        return self.form.firing_choice(self.form.cleaned_data["day"])

    def to_record(self) -> CastRecord:
        """The whole cast as the posting takes it."""
        form, found = self.form, self.form.cleaned_data
        tree, powder = self.rows["tree"].records(), self.rows["powder"].portions()
        materials = {part.material for part in tree}
        pattern = materials.pop() if len(materials) == 1 else None
        return CastRecord(
            facts=form.facts(found["note"]),
            charge=self.rows["charge"].portions(),
            weights=form.weights(self.rows["pieces"].groups(pattern)),
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


def usual_powder(lots: list[Lot], day: date) -> list[dict[str, Any]] | None:
    lot = suggest_powder_lot(lots, day)
    return [{"lot": lot}] if lot else None


def water_for(powder: list[Portion]) -> int | None:
    """Milligrams of water by the figure of each powder; None where one of them has no figure, or there is none."""
    figures = [portion.lot.material.water_per_100_tenths for portion in powder]
    if not powder or None in figures:
        return None
    return sum(
        compute_water_mg(portion.quantity, (tenths or 0) * TENTHS_TO_PCT100)
        for portion, tenths in zip(powder, figures, strict=True)
    )
