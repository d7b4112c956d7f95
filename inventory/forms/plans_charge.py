"""The charge of a plan, lot by lot, as a person changes it."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django.forms.boundfield import BoundField

from inventory.core.charge_judging import judge_charge
from inventory.core.charge_shelf import Bind, ChargeWanted, ShelfLot
from studio.kit.fields import MassField
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.printing import print_fineness, print_mass, print_melts

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
