"""The sheet of a stock count on paper, with room to write what is there."""

from collections.abc import Mapping
from typing import Any

from django.utils import timezone

from inventory.forms.counting import SheetChoiceForm
from inventory.models import Lot, Material
from inventory.queries.counting import lots_to_count
from inventory.queries.ledger import name_lot
from inventory.queries.studio import current_studio
from studio.kit.documents import Block, Column, Document, Filled, NoteLines, Prose, fill_table
from studio.kit.reporting import report

from .making import make_document


@report(
    "count-sheet",
    "Count sheet",
    "Every lot that is here, by where it is kept, with room to write what was found.",
    SheetChoiceForm,
    place=6,
)
def build_count_sheet(params: Mapping[str, Any]) -> Document:
    """The document of some lots. `params` is the cleaned data of SheetChoiceForm."""
    studio = current_studio()
    kept_in, kind, is_blind = params["kept_in"], params["kind"], params["blind"]
    lots = list(lots_to_count(kept_in, kind))
    chosen = [words for words in (kept_in, Material.Kind(kind).label if kind else "") if words]
    return make_document(
        studio,
        "Count sheet",
        _blocks_of(lots, is_blind),
        f"count sheet {timezone.localdate()}",
        ", ".join(chosen),
        "what is here today",
    )


def _blocks_of(lots: list[Lot], is_blind: bool) -> list[Block]:
    if not lots:
        return [Prose("There is nothing here to count.")]
    book = Filled(
        Column("book", "Book has", "quantity"),
        [(lot.holder.quantity, str(lot.material.unit)) for lot in lots],
    )
    filled = [
        Filled(Column("lot", "Lot", on_phone=True), [_name(lot) for lot in lots]),
        Filled(Column("kept", "Kept in"), [lot.kept_in for lot in lots]),
        *([] if is_blind else [book]),
        Filled(Column("found", "Is there", "blank", on_phone=True), [None] * len(lots)),
    ]
    note = (
        "Weigh the lot without its tin, and write what the scale shows. What you did not look at stays empty."
    )
    return [fill_table("Lots to count", filled, note), NoteLines("Counted on, by whom", 2)]


def _name(lot: Lot) -> str:
    name = name_lot(lot)
    return f"{name}, of {lot.owner}" if lot.owner else name
