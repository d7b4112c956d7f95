"""The field of the casting forms for pattern weights, and the records that their choices offer."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError

from inventory.models import Equipment, Firing, Lot, Material
from inventory.queries.ledger import name_lot
from studio.kit.fields import LineField
from studio.kit.measures import MASS
from studio.kit.numerals import Unreadable
from studio.kit.picks import Options
from studio.kit.printing import print_date, print_mass, print_melts, print_quantity

NOT_NOTED = "not noted"
_PATTERN_TEXT_MAX = 400


class PatternWeightsField(LineField):
    """The weight of each pattern of castings that were weighed together, such as "1.20 + 1.35", in milligrams."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=_PATTERN_TEXT_MAX, **kwargs)

    def clean(self, value: Any) -> Any:
        line = super().clean(value)
        if not line:
            return []
        try:
            return [MASS.read(part, minimum=1) for part in line.split("+")]
        except Unreadable as refusal:
            raise ValidationError(f"{refusal} Put a plus between two weights: 1.20 + 1.35.") from refusal


@dataclass(frozen=True)
class MetalChoice:
    """One lot, or a tin: lots that lie together, taken oldest first."""

    lots: tuple[Lot, ...]
    is_tin: bool = False


@dataclass(frozen=True)
class TreeChoice:
    """Pattern material from a lot, or of a lot that nobody noted."""

    material: Material
    lot: Lot | None = None


_HEAPS = {
    Lot.Origin.CLEAN: "clean reclaim",
    Lot.Origin.FAILED: "failed castings",
    Lot.Origin.SPILL: "spill",
    Lot.Origin.FILINGS: "filings",
    Lot.Origin.SWEEPS: "sweeps",
}
# A button can be told from another; filings lie in one jar, and a list of each lot of them would be endless.
_NAMED_ALONE = (*Lot.FRESH, Lot.Origin.CLEAN)


def offer_metal(
    lots: Sequence[Lot], owner_id: int | None = None, any_owner: bool = False, alloy_id: int | None = None
) -> Options:
    """Metal by alloy and owner, the studio's own first: fresh lots, the tin of clean reclaim and its lots, the rest.

    What is of the cast's own alloy comes before all other.
    """
    options = Options()
    shown = [lot for lot in lots if any_owner or lot.owner_id == owner_id]
    groups = dict.fromkeys((lot.owner, lot.material.alloy) for lot in shown)

    def place(group: tuple[Any, Any]) -> tuple[bool, str, str]:
        owner, alloy = group
        return alloy is None or alloy.pk != alloy_id, str(owner or ""), str(alloy)

    for owner, alloy in sorted(groups, key=place):
        title = f"{alloy}, metal of {owner}" if owner else str(alloy)
        of_group = [lot for lot in shown if lot.material.alloy == alloy and lot.owner == owner]
        for origin in Lot.Origin:
            same = [lot for lot in of_group if lot.origin == origin]
            if origin in _HEAPS and same and (len(same) > 1 or origin not in _NAMED_ALONE):
                _offer_heap(options, title, origin, same)
            if origin in _NAMED_ALONE:
                for lot in same:
                    options.add(f"lot-{lot.pk}", describe_metal_lot(lot), MetalChoice((lot,)), title)
    return options


def _offer_heap(options: Options, group: str, origin: Lot.Origin, lots: Sequence[Lot]) -> None:
    held = print_mass(sum(lot.holder.quantity for lot in lots))
    many = f" in {len(lots)} lots, oldest first" if len(lots) > 1 else f", lot {lots[0].pk}"
    key = f"{origin}-{lots[0].material.alloy_id}-{lots[0].owner_id or 0}"
    options.add(key, f"{_HEAPS[origin]}: {held}{many}", MetalChoice(tuple(lots), is_tin=True), group)


def describe_lot(lot: Lot, *more: str) -> str:
    """ "Lot 12: 214.60 g, Sterling grain": what tells lots apart comes first, for a phone cuts a long choice off."""
    number, what = name_lot(lot).split(", ", maxsplit=1)
    held = print_quantity(lot.holder.quantity, lot.material.unit)
    return ", ".join([f"{number}: {held}", what, *filter(None, more)])


def describe_metal_lot(lot: Lot) -> str:
    """The same with what a person must know of metal that was melted before."""
    return describe_lot(lot, print_melts(lot.melts_milli) if lot.melts_milli else "")


def metal_as_before(charged: Sequence[Lot], options: Options) -> list[str]:
    """Keys of the metal to take now for what a cast took before: its material if that was fresh, else its tin.

    What is not there any more is left out.
    """
    found = [_key_as_before(lot, options) for lot in charged]
    return list(dict.fromkeys(key for key in found if key))


def _key_as_before(before: Lot, options: Options) -> str:
    def is_alike(choice: MetalChoice) -> bool:
        lot = choice.lots[0]
        is_same = lot.material_id == before.material_id and lot.owner_id == before.owner_id
        return is_same and (lot.is_fresh if before.is_fresh else lot.origin == before.origin)

    return next((key for key, choice in options.records.items() if is_alike(choice)), "")


def pattern_as_before(material_id: int | None, options: Options) -> str:
    """The key of the wax to take: the oldest lot of what was taken before, else the first there is."""
    keys = [key for key, one in options.records.items() if one.material.pk == material_id]
    return next(iter([*keys, *options.records]), "")


def offer_powder(lots: Iterable[Lot]) -> Options:
    options = Options()
    for lot in lots:
        good = f"good until {print_date(lot.use_by)}" if lot.use_by else ""
        # First of all, because a phone cuts a long choice off at its end.
        damp = "Damp! " if lot.damp_on else "Sets wrong! " if lot.sets_wrong_on else ""
        options.add(f"lot-{lot.pk}", f"{damp}{describe_lot(lot, good)}", lot)
    return options


def offer_patterns(lots: Iterable[Lot], materials: Iterable[Material]) -> Options:
    options = Options()
    for lot in lots:
        options.add(f"lot-{lot.pk}", describe_lot(lot), TreeChoice(lot.material, lot), "From a lot")
    for material in materials:
        options.add(f"material-{material.pk}", str(material), TreeChoice(material), "Lot not noted")
    return options


def offer_stock(lots: Iterable[Lot]) -> Options:
    options = Options()
    for lot in lots:
        options.add(f"lot-{lot.pk}", describe_lot(lot), lot, lot.material.get_kind_display().capitalize())
    return options


def offer_records(records: Iterable[Any], empty: str, label: Callable[[Any], str] = str) -> Options:
    """Records by their own numbers."""
    options = Options(empty)
    for record in records:
        options.add(str(record.pk), label(record), record)
    return options


def offer_equipment(equipment: Iterable[Equipment], now: Equipment | None = None) -> Options:
    """Equipment in use, and what stands there now even when it has been put away."""
    offered = list(equipment)
    if now is not None and now not in offered:
        offered.append(now)
    return offer_records(offered, NOT_NOTED)


NEW_FIRING = "new"


def offer_firings(firings: Iterable[Firing], now: Firing | None = None) -> Options:
    options = Options(NOT_NOTED)
    listed = list(firings)
    if now is not None and now not in listed:
        listed.append(now)
    for firing in listed:
        label = f"Firing {firing.pk}, {print_date(firing.day)}, {firing.kiln}, {firing.how_long}"
        options.add(str(firing.pk), label, firing)
    options.add(NEW_FIRING, "a new firing, written below", NEW_FIRING)
    return options
