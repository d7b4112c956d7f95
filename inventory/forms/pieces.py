"""What is done with a piece: finishing, parting with it, back to the pot."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.forms.boundfield import BoundField

from inventory.models import Piece
from inventory.queries.casting_page import CastPage
from inventory.queries.designs import designs_of, usual_minutes
from inventory.queries.pieces import unfinished_pieces
from studio.kit.fields import LineField, MassField

from .bench_time import SpentMixin
from .casting_doubts import FinishSheet
from .casting_steps import DayForm


class FinishForm(SpentMixin, DayForm):
    finished = MassField(
        label="Weighs now", minimum=1, help_text="Without findings and stones: the cast metal alone."
    )
    filings = MassField(
        label="Filings caught", required=False, help_text="From this piece, if you weigh them."
    )
    note = LineField(label="Note", required=False, max_length=500)

    field_order = ("finished", "filings", "spent", "task", "note", "day")

    def __init__(self, piece: Piece, data: Any = None) -> None:
        super().__init__(data, clock=f"piece-{piece.pk}", usual=usual_minutes(designs_of([piece])))
        self.piece = piece

    def weighed(self) -> list[tuple[str, Piece, int]]:
        return [("finished", self.piece, self.cleaned_data["finished"])]


class PartForm(DayForm):
    note = LineField(label="Note", required=False, max_length=500)

    field_order = ("note", "day")


class FinishTogetherForm(SpentMixin, DayForm):
    """Pieces of one cast, each weighed by itself, and what was swept up from them once.

    `shown_mg` are the weights as cast of all pieces by their keys, as the page of the cast shows them.
    """

    # Any piece may wait, so none is called optional.
    marks_optional = False

    filings = MassField(
        label="Filings caught",
        required=False,
        help_text="From these pieces together, weighed once. They share it by what each has lost.",
    )
    note = LineField(label="Note", required=False, max_length=500)

    def __init__(self, data: Any, pieces: Sequence[Piece], shown_mg: Mapping[int, int]) -> None:
        cast = pieces[0].cast_id if pieces else 0
        usual = usual_minutes(designs_of(pieces))
        super().__init__(data, clock=f"finish-{cast}", usual=usual, shares=True)
        self.shown_mg = shown_mg
        self.pieces = {f"piece-{piece.pk}": piece for piece in pieces}
        for name, piece in self.pieces.items():
            self.fields[name] = MassField(label=piece.name, required=False, minimum=1)
        self.order_fields([*self.pieces, "filings", "spent", "task", "basis", "note", "day"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not any(name in self.errors or cleaned.get(name) for name in self.pieces):
            self.add_error(None, "Write what at least one of the pieces weighs now.")
        return cleaned

    def lines(self) -> list[tuple[Piece, int, BoundField]]:
        """Each piece with its weight as cast, in milligrams, and the field for what it weighs now."""
        return [
            (piece, self.shown_mg.get(piece.pk, piece.as_cast_mg), self[name])
            for name, piece in self.pieces.items()
        ]

    def weighed(self) -> list[tuple[str, Piece, int]]:
        """Name of the field, piece, and milligrams, of each piece that was weighed."""
        found = self.cleaned_data
        return [(name, piece, found[name]) for name, piece in self.pieces.items() if found.get(name)]


def finish_sheet(page: CastPage, data: Any = None) -> FinishSheet:
    shown_mg = {piece.pk: as_cast_mg for piece, as_cast_mg, _ in page.pieces_shown}
    return FinishSheet(FinishTogetherForm(data, unfinished_pieces(page.cast), shown_mg))
