"""What is done with a piece: finishing, parting with it, back to the pot."""

from typing import Any

from inventory.models import Piece
from studio.kit.fields import LineField, MassField

from .casting_steps import DayForm


class FinishForm(DayForm):
    finished = MassField(
        label="Weighs now", minimum=1, help_text="Without findings and stones: the cast metal alone."
    )
    filings = MassField(
        label="Filings caught", required=False, help_text="From this piece, if you weigh them."
    )
    note = LineField(label="Note", required=False, max_length=500)

    field_order = ("finished", "filings", "note", "day")

    def __init__(self, piece: Piece, data: Any = None) -> None:
        super().__init__(data)
        self.piece = piece

    def weighed(self) -> list[tuple[str, Piece, int]]:
        return [("finished", self.piece, self.cleaned_data["finished"])]


class PartForm(DayForm):
    note = LineField(label="Note", required=False, max_length=500)

    field_order = ("note", "day")
