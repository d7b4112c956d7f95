"""The list of pieces, and the page of one: finished, parted with, put back in the pot."""

from collections.abc import Callable, Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.filters.casting import PieceFilter
from inventory.forms.pieces import make_piece_sheet
from inventory.forms.sheet import Sheet
from inventory.models import Piece
from inventory.posting.casting_records import record_time
from inventory.posting.pieces import post_finish, post_melt_back, post_sale
from inventory.posting.stock import post_use
from inventory.queries.pieces import HERE, find_piece, read_piece_page, standing_pieces
from inventory.tables.casting import PieceTable
from studio.kit.listing import ListingView

from .casting_steps import StepWords
from .saving import signed_in_user
from .sheets import answer, status_of

DEED_WORDS: dict[str, StepWords] = {
    "finish": StepWords(
        "Finish", "Weigh it finished", "Save the weight", "The finished weight is written down."
    ),
    "gone": StepWords("Sold", "Sold, or given away", "It is sold", "The piece has left the studio."),
    "melt": StepWords(
        "Melt", "Back in the pot", "Put it back in the tin", "The piece is in the reclaim tin."
    ),
    "time": StepWords("Time", "Time at the bench", "Save the time", "The time is written down."),
    "use": StepWords("Use", "Findings, stones, a box", "Take it", "It is taken from stock."),
}
_HANDED = StepWords("Handed over", "Handed to its owner", "It is handed over", "The piece is with its owner.")
_ONLY_HERE = ("finish", "gone", "melt")


class PieceList(ListingView):
    title = "Pieces"
    lead = "One casting each, from cut-off to sale."
    table_class = PieceTable
    filterset_class = PieceFilter

    def get_queryset(self) -> Any:
        return standing_pieces().order_by("-cast__number", "number")


@require_http_methods(["GET", "HEAD", "POST"])
def show_piece(request: HttpRequest, pk: int, deed: str = "") -> HttpResponse:
    """A piece; with `deed`, that form open. A POST saves what is open."""
    piece = find_piece(pk)
    if piece is None:
        raise Http404("There is no such piece.")
    if deed in _ONLY_HERE and piece.state not in HERE:
        messages.warning(
            request, f"{piece.name} is {piece.get_state_display()}: that cannot be done any more."
        )
        return redirect("inventory:piece-detail", pk)
    opened = deed or ("finish" if piece.state == Piece.State.CAST else "")
    sheet = None
    if opened:
        sheet = make_piece_sheet(opened, piece, request.POST if request.method == "POST" and deed else None)
        if sheet.form.is_bound:
            done = answer(sheet, lambda: _save(request, pk, opened, sheet))
            if done is not None:
                return done
    context = {
        "piece": piece,
        "page": read_piece_page(piece),
        "opened": opened,
        "words": _words(opened, piece) if opened else None,
        "gone_words": _words("gone", piece),
        "sheet": sheet,
        "open_address": reverse(f"inventory:piece-{opened}", args=[pk]) if opened else "",
    }
    return render(request, "casting/piece.html", context, status=status_of(sheet) if sheet else 200)


def _words(deed: str, piece: Piece) -> StepWords:
    return _HANDED if deed == "gone" and piece.cast.owner_id is not None else DEED_WORDS[deed]


def _save(request: HttpRequest, pk: int, deed: str, sheet: Sheet) -> str:
    # Read again inside the posting's transaction: another window may have parted with it meanwhile.
    piece = find_piece(pk)
    if piece is None:
        raise Http404
    _SAVERS[deed](piece, sheet.form.cleaned_data, signed_in_user(request))
    messages.success(request, _words(deed, piece).saved)
    return reverse("inventory:piece-detail", args=[pk])


def _finish(piece: Piece, found: Mapping[str, Any], by: User | None) -> None:
    note = found["note"] or ""
    post_finish(piece, found["finished"], found["filings"] or 0, found["day"], note, by)


def _part(piece: Piece, found: Mapping[str, Any], by: User | None) -> None:
    post_sale(piece, found["day"], found["note"] or "", by)


def _melt(piece: Piece, found: Mapping[str, Any], by: User | None) -> None:
    post_melt_back(piece, found["day"], found["note"] or "", by)


def _time(piece: Piece, found: Mapping[str, Any], by: User | None) -> None:
    record_time(piece.cast, found["day"], found["minutes"], found["what"] or "", piece)


def _use(piece: Piece, found: Mapping[str, Any], by: User | None) -> None:
    post_use(found["lot"], found["quantity"], found["day"], piece=piece, note=found["note"] or "", by=by)


_SAVERS: Mapping[str, Callable[[Piece, Mapping[str, Any], User | None], None]] = {
    "finish": _finish,
    "gone": _part,
    "melt": _melt,
    "time": _time,
    "use": _use,
}
