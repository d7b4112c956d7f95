"""The form on which an entry that was written wrong is mended: what was given for it, as it stands, to be changed.

Each kind of entry says here which fields and lines ask for it, what they begin with and what they give.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django import forms

from inventory.models import Entry, Lot, Material
from inventory.posting.buying import DeliveryLine, Guess
from inventory.posting.casting import Portion, TreeRecord
from inventory.posting.closing import PieceGroup
from inventory.posting.stock import Told
from inventory.queries.buying import materials_to_choose
from inventory.queries.casting_choices import lots_in_stock
from studio.kit.fields import LineField, MassField, MeltsField, MoneyField, PastDayField, QuantityField
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.picks import Options, PickField
from studio.kit.printing import print_quantity
from studio.kit.rows import hold_judgement, make_rows

from .assaying import ASSAY_LABELS, ENDS_LABELS, MEASURED_LABEL, GuessField, PerMilleField
from .casting import WeightsMixin
from .casting_fields import describe_lot
from .casting_record import weights_of
from .casting_rows import AmountRow, PieceRow
from .refining import give_paper, paper_fields, paper_lines
from .sheet import Sheet
from .stock import NoteLine, stones_field, what_field
from .stock_rows import MaterialQuantityRow

Kind = Entry.Kind
Data = Any
_SEEN_MAX = 40


class MendForm(OnceMixin, StudioForm):
    """What every entry has, and `more` fields of its kind. `seen` is the mark of the changes that were agreed to."""

    day = PastDayField(label="Day")
    note = NoteLine(help_text="Why it is mended, if somebody may ask.")
    leave_out = forms.BooleanField(label="It never happened: leave it out", required=False)
    seen = forms.CharField(required=False, max_length=_SEEN_MAX, widget=forms.HiddenInput)

    def __init__(self, data: Data, entry: Entry, more: Mapping[str, tuple[forms.Field, Any]]) -> None:
        initial = {"day": entry.day, **{name: value for name, (_, value) in more.items()}}
        super().__init__(data, initial=initial)
        self.fields = {**{name: field for name, (field, _) in more.items()}, **self.fields}
        if self.leaves_out:
            for name in more:
                self.fields[name].required = False

    @property
    def leaves_out(self) -> bool:
        return bool(self["leave_out"].value()) if self.is_bound else False


class MendSheet(Sheet):
    """What never happened is not judged by its lines, but they are kept as they were typed."""

    def is_valid(self) -> bool:
        if not self.form.leaves_out:
            return super().is_valid()
        hold_judgement(*self.rows.values())
        return bool(self.form.is_valid())


class LotRow(AmountRow):
    """So much of a lot."""

    picks = "what"

    what = PickField(label="Which lot")
    quantity: Any = LineField(label="How much", max_length=60)


class DeliveredRow(MaterialQuantityRow):
    """A lot of a delivery."""

    supplier_batch = LineField(label="Batch", required=False, max_length=60)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        material = self.initial.get("material")
        if material is not None:
            asked: Any = self.fields["quantity"]
            asked.kind = material.unit


_WORDS: dict[str, Any] = {
    "least": 1,
    "nothing_written": "Write at least one line, or tick that it never happened.",
}
# One line of a cast's form may have been a whole tin: the page of mending has a line for each of its lots.
_MOST_LOTS = 400
LotRows = make_rows(LotRow, most=_MOST_LOTS, add_label="Add another lot", row_word="Lot", **_WORDS)
DeliveredRows = make_rows(DeliveredRow, empty=0, row_word="Lot", **_WORDS)
GroupRows = make_rows(PieceRow, row_word="Castings", add_label="Add other castings")


@dataclass(frozen=True)
class Mended:
    """`fields(given)` are those of the form by name, each with what it begins with; `lines(given, data)` its lines.

    `give(sheet, given)` is what the sheet gives, of the same sort as `given`.
    """

    give: Callable[[Sheet, Any], Any]
    fields: Callable[[Any], Mapping[str, tuple[forms.Field, Any]]] = lambda given: {}
    lines: Callable[[Entry, Any, Data], Mapping[str, Any]] = lambda entry, given, data: {}


def mend_sheet(entry: Entry, given: Any, data: Data = None) -> Sheet:
    """The sheet of an entry, filled with what was given for it."""
    kind = MENDED[Kind(entry.kind)]
    form = MendForm(data, entry, kind.fields(given))
    return MendSheet(form, **kind.lines(entry, given, data))


def mended_by(entry: Entry, given: Any, sheet: Sheet) -> Any:
    """What a valid sheet gives for its entry; None where it never happened."""
    if sheet.form.cleaned_data["leave_out"]:
        return None
    return MENDED[Kind(entry.kind)].give(sheet, given)


def _offer(lots: Iterable[Lot]) -> Options:
    options = Options()
    for lot in lots:
        options.add(f"lot-{lot.pk}", describe_lot(lot), lot)
    return options


def _lot_lines(kind: str) -> Callable[[Entry, Sequence[Portion | TreeRecord], Data], Mapping[str, Any]]:
    def lines(entry: Entry, given: Sequence[Portion | TreeRecord], data: Data) -> Mapping[str, Any]:
        named = [part.lot for part in given if part.lot is not None]
        owner = named[0].owner_id if named else None
        here = lots_in_stock([kind]).filter(owner=owner)
        offered = {lot.pk: lot for lot in [*named, *here[:_MOST_LOTS]]}
        options = _offer(offered.values())
        initial = [{"what": f"lot-{part.lot.pk}", "quantity": part.quantity} for part in given if part.lot]
        rows = LotRows(data, prefix="lots", form_kwargs={"options": options}, initial=initial)
        return {"lots": rows}

    return lines


def _give_portions(sheet: Sheet, given: Any) -> list[Portion]:
    return [Portion(row["what"], row["quantity"]) for row in sheet.rows["lots"].written()]


def _give_tree(sheet: Sheet, given: Sequence[TreeRecord]) -> list[TreeRecord]:
    """The parts from lots as they are now, and those whose lot nobody noted as they were."""
    parts = [
        TreeRecord(row["what"].material, row["quantity"], row["what"]) for row in sheet.rows["lots"].written()
    ]
    return parts + [part for part in given if part.lot is None]


def _delivered_lines(entry: Entry, given: Any, data: Data) -> Mapping[str, Any]:
    initial = [
        {"material": line.material, "quantity": line.quantity, "supplier_batch": line.supplier_batch}
        for line in given.lines
    ]
    kwargs = {"materials": materials_to_choose()}
    return {"lots": DeliveredRows(data, prefix="lots", form_kwargs=kwargs, initial=initial)}


def _give_delivery(sheet: Sheet, given: Any) -> Any:
    lines: list[DeliveryLine] = []
    for line, row in zip(given.lines, sheet.rows["lots"].forms, strict=False):
        if row.has_changed() and not row.is_removed:
            found = row.cleaned_data
            batch = found["supplier_batch"] or ""
            lines.append(
                replace(line, material=found["material"], quantity=found["quantity"], supplier_batch=batch)
            )
    return replace(given, lines=lines)


def _group_lines(entry: Entry, given: Any, data: Data) -> Mapping[str, Any]:
    initial = [
        {
            "name": group.name,
            "count": group.count,
            "mass": group.mass_mg,
            "patterns": " + ".join(print_quantity(one, "mass") for one in group.pattern_masses_mg),
        }
        for group in given.groups
    ]
    return {"pieces": GroupRows(data, prefix="pieces", initial=initial)}


def _weights_fields(given: Any) -> Mapping[str, tuple[forms.Field, Any]]:
    asked = {
        "back": given.back_mg,
        "failed_mass": given.failed_mg,
        "spill": given.spill_mg,
        "filings": given.filings_mg,
    }
    fields: dict[str, tuple[forms.Field, Any]] = {
        name: (WeightsMixin.base_fields[name], mass_mg or None) for name, mass_mg in asked.items()
    }
    return fields | {"failed": (WeightsMixin.base_fields["failed"], given.failed)}


def _give_weights(sheet: Sheet, given: Any) -> Any:
    groups: list[PieceGroup] = []
    for place, row in enumerate(sheet.rows["pieces"].forms):
        if not row.has_changed() or row.is_removed:
            continue
        found = row.cleaned_data
        before = given.groups[place] if place < len(given.groups) else PieceGroup("", 0)
        groups.append(
            replace(
                before,
                name=found["name"],
                count=found["count"],
                mass_mg=found["mass"],
                pattern_masses_mg=found["patterns"] or (),
            )
        )
    return replace(weights_of(sheet.form.cleaned_data, groups), as_it_is=given.as_it_is)


def _finished_fields(given: Any) -> Mapping[str, tuple[forms.Field, Any]]:
    finished, filings_mg = given
    pieces: dict[str, tuple[forms.Field, Any]] = {
        f"piece_{piece.pk}": (MassField(label=f"{piece.name}, finished", minimum=1), mass_mg)
        for piece, mass_mg in finished
    }
    return pieces | {"filings": (MassField(label="Filings", required=False), filings_mg or None)}


def _give_finished(sheet: Sheet, given: Any) -> Any:
    found = sheet.form.cleaned_data
    return [(piece, found[f"piece_{piece.pk}"]) for piece, _ in given[0]], found["filings"] or 0


def _amount(
    name: str, unit: str, label: str, value: int, minimum: int = 1
) -> dict[str, tuple[forms.Field, Any]]:
    return {name: (QuantityField(unit, label=label, minimum=minimum), value)}


def _changes(**names: str) -> Callable[[Sheet, Any], Any]:
    """Gives what was given with some of it from fields of the form: `quantity="quantity"` by their names."""
    return lambda sheet, given: replace(
        given, **{name: sheet.form.cleaned_data[field] for name, field in names.items()}
    )


def _opening_fields(given: Any) -> Mapping[str, tuple[forms.Field, Any]]:
    fields: dict[str, tuple[forms.Field, Any]] = {
        **_amount("quantity", given.material.unit, f"How much {given.material}", given.quantity),
        "cost": (MoneyField(label="What it cost"), given.cost_micro),
    }
    if given.material.kind == Material.Kind.METAL:
        melts = MeltsField(label="Melts", required=False, help_text="Left empty where nobody knows.")
        fields["melts"] = (melts, given.melts_milli)
    return fields | _guess_field(given.guess)


def _guess_field(guess: Guess | None) -> dict[str, tuple[forms.Field, Any]]:
    """The ends of a fineness that something came in with; what came in as known is assayed instead."""
    return {"guess": (GuessField(), guess)} if guess else {}


def _give_opening(sheet: Sheet, given: Any) -> Any:
    found = sheet.form.cleaned_data
    return replace(
        given,
        quantity=found["quantity"],
        cost_micro=found["cost"],
        melts_milli=found.get("melts", 0),
        guess=found.get("guess"),
    )


def _bill_fields(given: Any) -> Mapping[str, tuple[forms.Field, Any]]:
    """Of a bill that put prices right, or that came to less, the day alone: the next one puts its amounts right."""
    if given.prices_micro or given.charges_micro < 0:
        return {}
    return {"charges": (MoneyField(label="What the bill came to"), given.charges_micro)}


def _give_bill(sheet: Sheet, given: Any) -> Any:
    charges_micro = sheet.form.cleaned_data.get("charges", given.charges_micro)
    return replace(given, charges_micro=charges_micro)


def _handed_fields(given: Any) -> Mapping[str, tuple[forms.Field, Any]]:
    melts = MeltsField(label="Melts", required=False)
    return {
        **_amount("mass", "mass", f"Weight of {given.customer}'s metal", given.mass_mg),
        "melts": (melts, given.melts_milli),
        "what": (what_field(), given.told.what),
        "stones": (stones_field(), given.told.stones),
        **_guess_field(given.told.guess),
    }


def _give_handed(sheet: Sheet, given: Any) -> Any:
    found = sheet.form.cleaned_data
    told = Told(found["what"], found["stones"], found.get("guess"))
    unsaid = None if given.melts_milli is None else 0
    melts_milli = unsaid if found["melts"] is None else found["melts"]
    return replace(given, mass_mg=found["mass"], melts_milli=melts_milli, told=told)


def _topped_fields(given: Any) -> Mapping[str, tuple[forms.Field, Any]]:
    return {
        **_amount("quantity", "mass", f"How much was passed to {given.customer}", given.mass_mg),
        "price": (MoneyField(label="Price agreed"), given.price_micro),
    }


def _assay_fields(given: Any) -> Mapping[str, tuple[forms.Field, Any]]:
    whom, paper = (LineField(label=label, required=False, max_length=60) for label in ASSAY_LABELS)
    asked = {"by_whom": (whom, given.by_whom), "paper": (paper, given.paper)}
    if given.is_guess:
        low, high = (PerMilleField(label=label) for label in ENDS_LABELS)
        return {"low": (low, given.low_ppm), "high": (high, given.high_ppm), **asked}
    return {"low": (PerMilleField(label=MEASURED_LABEL), given.low_ppm), **asked}


def _give_assay(sheet: Sheet, given: Any) -> Any:
    found = sheet.form.cleaned_data
    return replace(
        given,
        low_ppm=found["low"],
        high_ppm=found.get("high", found["low"]),
        by_whom=found["by_whom"] or "",
        paper=found["paper"] or "",
    )


def _taken_from_lot(label: str) -> Mended:
    return Mended(
        _changes(quantity="quantity"),
        lambda given: _amount("quantity", given.lot.material.unit, label, given.quantity),
    )


MENDED: dict[Kind, Mended] = {
    Kind.DELIVERY: Mended(_give_delivery, lines=_delivered_lines),
    Kind.OPENING: Mended(_give_opening, _opening_fields),
    Kind.HANDED_IN: Mended(_give_handed, _handed_fields),
    Kind.LATE_BILL: Mended(_give_bill, _bill_fields),
    Kind.TREE: Mended(_give_tree, lines=_lot_lines(Material.Kind.PATTERN)),
    Kind.POWDER: Mended(_give_portions, lines=_lot_lines(Material.Kind.POWDER)),
    Kind.CHARGE: Mended(_give_portions, lines=_lot_lines(Material.Kind.METAL)),
    Kind.CLOSE: Mended(_give_weights, _weights_fields, _group_lines),
    Kind.FINISH: Mended(_give_finished, _finished_fields),
    Kind.SALE: Mended(lambda sheet, given: given),
    Kind.RETURN: Mended(lambda sheet, given: given),
    Kind.MELT_BACK: Mended(lambda sheet, given: given),
    Kind.USE: _taken_from_lot("How much was taken"),
    Kind.SCRAP: _taken_from_lot("How much was thrown away"),
    Kind.HAND_BACK: _taken_from_lot("How much was handed back"),
    Kind.TOP_UP: Mended(_changes(mass_mg="quantity", price_micro="price"), _topped_fields),
    Kind.SEND: Mended(_give_portions, lines=_lot_lines(Material.Kind.METAL)),
    Kind.SETTLE: Mended(give_paper, paper_fields, paper_lines),
    Kind.SENT_BACK: Mended(_give_portions, lines=_lot_lines(Material.Kind.METAL)),
    Kind.COUNT: Mended(
        _changes(counted="counted"),
        lambda given: _amount("counted", given.lot.material.unit, "What was counted", given.counted, 0),
    ),
    Kind.ASSAY: Mended(_give_assay, _assay_fields),
    Kind.FOUND: Mended(
        _changes(mass_mg="mass"),
        lambda given: _amount("mass", "mass", "How much was found", given.mass_mg),
    ),
    Kind.CLEANED: Mended(
        _changes(mass_mg="mass"),
        lambda given: _amount("mass", "mass", "What they weighed without investment", given.mass_mg),
    ),
    Kind.TOGETHER: Mended(lambda sheet, given: given),
    Kind.APART: _taken_from_lot("How much was taken out"),
}
