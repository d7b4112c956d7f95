"""What a trace begins from: a piece of a cast by their numbers, or a lot by its own."""

from typing import Any

from django.core.exceptions import ValidationError

from inventory.queries.pieces import find_of_cast
from inventory.queries.stock import find_lot
from studio.kit.fields import NumberField
from studio.kit.reporting import ReportForm

NUMBER_MAX = 2_147_483_647


class PieceTraceForm(ReportForm):
    """The number of a cast and of a piece in it; `piece` cleans to the piece."""

    cast = NumberField("Cast", 1, NUMBER_MAX, "Its number.")
    piece = NumberField("Piece", 1, NUMBER_MAX, "Its number in the cast, 1 for the first.")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("cast") and cleaned.get("piece"):
            piece = find_of_cast(cleaned["cast"], cleaned["piece"])
            if piece is None:
                raise ValidationError(f"Cast {cleaned['cast']} has no piece {cleaned['piece']}.")
            cleaned["piece"] = piece
        return cleaned

    def settled(self) -> dict[str, str]:
        return {"cast": str(self.cleaned_data["cast"]), "piece": str(self.cleaned_data["piece"].number)}


class LotTraceForm(ReportForm):
    lot = NumberField("Lot", 1, NUMBER_MAX, "Its number.")

    def clean_lot(self) -> Any:
        lot = find_lot(self.cleaned_data["lot"])
        if lot is None:
            raise ValidationError(f"There is no lot {self.cleaned_data['lot']}.")
        return lot

    def settled(self) -> dict[str, str]:
        return {"lot": str(self.cleaned_data["lot"].pk)}
