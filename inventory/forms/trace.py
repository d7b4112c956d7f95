"""What a trace begins from: a piece of a cast by their numbers, or a lot by its own."""

from typing import Any

from django.core.exceptions import ValidationError

from inventory.queries.pieces import find_of_cast
from inventory.queries.stock import find_lot, latest_metal_lot
from studio.kit.fields import NUMBER_MAX, NumberField
from studio.kit.reporting import RecordReportForm, ReportForm


class PieceTraceForm(ReportForm):
    """The number of a cast and of a piece in it, the latest where none is named; `piece` cleans to the piece."""

    cast = NumberField(
        "Cast", 1, NUMBER_MAX, "Its number. Left empty: the latest with a piece.", required=False
    )
    piece = NumberField("Piece", 1, NUMBER_MAX, "Its number in the cast, 1 for the first.", required=False)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if self.errors:
            return cleaned
        number, place = cleaned.get("cast"), cleaned.get("piece")
        piece = find_of_cast(number, place)
        if piece is None and number is None:
            raise ValidationError("No piece was cast yet: pieces come from the weights after a pour.")
        if piece is None:
            raise ValidationError(f"Cast {number} has no piece{'' if place is None else f' {place}'}.")
        return {"cast": piece.cast.number, "piece": piece}

    def settled(self) -> dict[str, str]:
        return {"cast": str(self.cleaned_data["cast"]), "piece": str(self.cleaned_data["piece"].number)}


class LotTraceForm(RecordReportForm):
    lot = NumberField("Lot", 1, NUMBER_MAX, "Its number. Left empty: the latest of metal.", required=False)

    record = "lot"
    none_yet = "There is no lot yet."
    unknown = "There is no lot {}."

    def find(self, number: int | None) -> Any:
        return latest_metal_lot() if number is None else find_lot(number)
