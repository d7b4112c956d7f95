"""What is done with a piece: finishing, parting with it, back to the pot, time and stock used on it."""

from typing import Any

from inventory.models import Piece
from inventory.queries.casting_choices import lots_for_use
from studio.kit.fields import LineField, MassField

from .casting_fields import offer_stock
from .casting_steps import DayForm, TimeForm, UseForm
from .sheet import Sheet


class FinishForm(DayForm):
    finished = MassField(
        label="Weighs now", minimum=1, help_text="Without findings and stones: the cast metal alone."
    )
    filings = MassField(
        label="Filings caught", required=False, help_text="From this piece, if you weigh them."
    )
    note = LineField(label="Note", required=False, max_length=500)

    field_order = ("finished", "filings", "note", "day")


class PartForm(DayForm):
    note = LineField(label="Note", required=False, max_length=500)

    field_order = ("note", "day")


def make_piece_sheet(deed: str, piece: Piece, data: Any = None) -> Sheet:
    """The sheet of one deed on a piece. Raises KeyError for a deed that nobody wrote."""
    if deed == "use":
        return Sheet(UseForm(data, options=offer_stock(lots_for_use(of_piece=True))))
    form: type[DayForm] = {"finish": FinishForm, "gone": PartForm, "melt": PartForm, "time": TimeForm}[deed]
    return Sheet(form(data))
