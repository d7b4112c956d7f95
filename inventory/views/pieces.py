"""The list of pieces, and the page of one: finished, parted with, put back in the pot."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.filters import PieceFilter
from inventory.forms.casting_doubts import FinishSheet
from inventory.forms.casting_steps import TimeForm, use_sheet
from inventory.forms.designs import PieceDesignForm
from inventory.forms.pieces import FinishForm, PartForm
from inventory.forms.sheet import Sheet
from inventory.models import Piece
from inventory.posting.casting_records import record_time
from inventory.posting.designs import set_design
from inventory.posting.pieces import post_finish, post_melt_back, post_return, post_sale
from inventory.posting.stock import post_use
from inventory.queries.designs import designs_of, usual_minutes
from inventory.queries.pictures import SHOWN, pictures_of
from inventory.queries.pieces import (
    HERE,
    casts_with_unfinished_pieces,
    find_piece,
    read_piece_page,
    standing_pieces,
)
from inventory.tables.casting import PieceTable
from studio.kit.views import or_404

from .labelled import LabelledList
from .saving import Actions, sent, show, with_way_back


class PieceList(LabelledList):
    template_name = "casting/piece_list.html"
    title = "Pieces"
    lead = "One casting each, from cut-off to sale."
    ways = (("Designs", "inventory:design-list"),)
    table_class = PieceTable
    filterset_class = PieceFilter
    labels = "piece"

    def get_queryset(self) -> Any:
        return standing_pieces().order_by("-cast__number", "number")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(unfinished=casts_with_unfinished_pieces(), **kwargs)


def find_or_404(pk: int) -> Piece:
    return or_404(find_piece(pk), "There is no such piece.")


def _gone(piece: Piece) -> str:
    if piece.state in HERE:
        return ""
    return f"{piece.name} is {piece.get_state_display()}: that cannot be done any more."


def _form(form_class: type[Any]) -> Callable[..., Sheet]:
    return lambda piece, data=None: Sheet(form_class(data))


PIECE_ACTIONS: Actions[Piece] = Actions(
    find_or_404, lambda piece: reverse("inventory:piece-detail", args=[piece.pk])
)


@PIECE_ACTIONS.add(
    "finish",
    "Weigh it finished",
    "Save the weight",
    "The finished weight is written down.",
    make=lambda piece, data=None: FinishSheet(FinishForm(piece, data)),
    why_not=_gone,
)
def _finish(piece: Piece, sheet: Sheet, by: User) -> None:
    found = sheet.form.cleaned_data
    post_finish(piece, found["finished"], found["filings"] or 0, found["day"], found["note"], by)
    if found["spent"]:
        record_time(piece.cast, found["day"], found["spent"], piece=piece, task=found["task"])


@PIECE_ACTIONS.add(
    "gone",
    "Sold, or given away",
    "It is sold",
    make=_form(PartForm),
    why_not=_gone,
)
def _part(piece: Piece, sheet: Sheet, by: User) -> str:
    found = sheet.form.cleaned_data
    entry = post_sale(piece, found["day"], found["note"], by)
    said = "The piece is with its owner." if piece.cast.owner_id else "The piece has left the studio."
    return with_way_back(said, entry)


def _here(piece: Piece) -> str:
    if piece.state in (Piece.State.SOLD, Piece.State.HANDED):
        return ""
    return f"{piece.name} is {piece.get_state_display()}: it has not left."


@PIECE_ACTIONS.add(
    "back",
    "It came back",
    "It is here again",
    make=_form(PartForm),
    why_not=_here,
)
def _back(piece: Piece, sheet: Sheet, by: User) -> str:
    found = sheet.form.cleaned_data
    entry = post_return(piece, found["day"], found["note"], by)
    return with_way_back("The piece is here again, with the grams and the cost that it left with.", entry)


@PIECE_ACTIONS.add(
    "melt",
    "Back in the pot",
    "Put it back in the tin",
    make=_form(PartForm),
    why_not=_gone,
)
def _melt(piece: Piece, sheet: Sheet, by: User) -> str:
    found = sheet.form.cleaned_data
    entry = post_melt_back(piece, found["day"], found["note"], by)
    return with_way_back("The piece is in the reclaim tin.", entry)


def _time_sheet(piece: Piece, data: Any = None) -> Sheet:
    usual = usual_minutes(designs_of([piece]))
    return Sheet(TimeForm(data, clock=f"piece-{piece.pk}", usual=usual))


@PIECE_ACTIONS.add(
    "time", "Time at the bench", "Save the time", "The time is written down.", make=_time_sheet
)
def _time(piece: Piece, sheet: Sheet, by: User) -> None:
    found = sheet.form.cleaned_data
    record_time(piece.cast, found["day"], found["minutes"], found["what"], piece, found["task"])


@PIECE_ACTIONS.add(
    "design",
    "Its design",
    "Save the design",
    "The design is written down.",
    make=lambda piece, data=None: Sheet(PieceDesignForm(data, design=piece.design)),
)
def _say_design(piece: Piece, sheet: Sheet, by: User) -> None:
    set_design([piece], sheet.form.cleaned_data["design"])


@PIECE_ACTIONS.add(
    "use",
    "Findings, stones, a box",
    "Take it",
    make=lambda piece, data=None: use_sheet(data, of_piece=True),
)
def _use(piece: Piece, sheet: Sheet, by: User) -> str:
    found = sheet.form.cleaned_data
    entry = post_use(found["lot"], found["quantity"], found["day"], piece=piece, note=found["note"], by=by)
    return with_way_back("It is taken from stock.", entry)


_HANDED = ("Handed to its owner", "It is handed over")


@require_http_methods(["GET", "HEAD", "POST"])
def show_piece(request: HttpRequest, pk: int, name: str = "") -> HttpResponse:
    """A piece; with `name`, that action open. A POST saves what is open."""
    piece = find_or_404(pk)
    turned_away = PIECE_ACTIONS.turn_away(request, piece, name) if name else None
    if turned_away is not None:
        return turned_away
    opened = name or ("finish" if piece.state == Piece.State.CAST else "")
    sheet = None
    if opened:
        sheet = PIECE_ACTIONS[opened].make(piece, sent(request) if name else None)
        done = PIECE_ACTIONS.answer(request, pk, opened, sheet)
        if done is not None:
            return done
    context = {
        "piece": piece,
        "page": read_piece_page(piece),
        "pictures": pictures_of(piece=piece)[:SHOWN],
        "labels_address": f"{reverse('inventory:labels', args=['piece'])}?only={pk}",
        "pictures_address": reverse("inventory:picture-list", args=["piece", pk]),
        "opened": opened,
        "words": _words(opened, piece) if opened else None,
        "gone_words": _words("gone", piece),
        "open_address": reverse(f"inventory:piece-{opened}", args=[pk]) if opened else "",
    }
    return show(request, "casting/piece.html", sheet, context)


def _words(name: str, piece: Piece) -> tuple[str, str]:
    """What an action is called on this piece's page, and its button."""
    if name == "gone" and piece.cast.owner_id is not None:
        return _HANDED
    return PIECE_ACTIONS[name].task, PIECE_ACTIONS[name].button
