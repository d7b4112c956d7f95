"""Things with a page of their own that pictures and labels are of: what each is called, and where it is found.

A new kind is one line of THINGS; its letter stands in the short address of its labels, so it never changes.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.models import Cast, Design, Lot, Picture, Piece, Tin
from inventory.models.pictures import LINKS
from studio.kit.listing import ListingView
from studio.kit.measures import MASS, stock_measure
from studio.kit.printing import print_date

from . import casting_page, designs, lots, pieces, reclaim, stock
from .casting_actions import find_or_404 as find_cast


@dataclass(frozen=True)
class Thing:
    """`find` reads a record by the number in its page's address and raises Http404; `key_of` gives that number.

    `lines` are what stands on its label, the first being its name; `listing` is the list that it stands in, and
    `shows` what its pictures are offered to show first, if it has any.
    """

    kind: str
    plural: str
    letter: str
    find: Callable[[int], Any]
    lines: Callable[[Any], tuple[str, ...]]
    listing: type[ListingView]
    shows: str = ""
    key_of: Callable[[Any], int] = lambda record: record.pk

    @property
    def has_pictures(self) -> bool:
        return self.kind in LINKS

    def address(self, record: Any) -> str:
        return reverse(f"inventory:{self.kind}-detail", args=[self.key_of(record)])

    def title(self, record: Any) -> str:
        return self.lines(record)[0]

    def title_in_list(self, record: Any) -> str:
        return ", ".join(self.lines(record)[:2])


def _piece_lines(piece: Piece) -> tuple[str, ...]:
    number = f"Cast {piece.cast.number}, piece {piece.number}"
    weighs = MASS.print_in_column(piece.holder.quantity or piece.as_cast_mg)
    return piece.name, number, f"{weighs}, {piece.cast.alloy}", _whose(piece.cast.owner)


def _cast_lines(cast: Cast) -> tuple[str, ...]:
    return str(cast), cast.title, f"{print_date(cast.day)}", str(cast.alloy), _whose(cast.owner)


def _lot_lines(lot: Lot) -> tuple[str, ...]:
    """The weight is that of the day on which the label is printed, and says so."""
    left = stock_measure(lot.material.unit).print_in_column(lot.holder.quantity)
    when = f"{left} on {print_date(timezone.localdate())}"
    use_by = f"Use by {print_date(lot.use_by)}" if lot.use_by else ""
    is_reclaim = lot.origin not in Lot.FRESH
    what = (
        f"{lot.get_origin_display().capitalize()}, {lot.material.alloy}" if is_reclaim else str(lot.material)
    )
    return str(lot), what, when, use_by, _whose(lot.owner)


def _design_lines(design: Design) -> tuple[str, ...]:
    return design.name, design.collection, str(design.alloy or "")


def _tin_lines(tin: Tin) -> tuple[str, ...]:
    """Without a weight: what is in it changes each time that it is filled."""
    return tin.name, str(tin.material.alloy), tin.get_kind_display().capitalize(), _whose(tin.owner)


def _whose(owner: Any) -> str:
    return f"Metal of {owner}" if owner else ""


_Shows = Picture.Shows
THINGS = {
    thing.kind: thing
    for thing in (
        Thing("piece", "pieces", "p", pieces.find_or_404, _piece_lines, pieces.PieceList, _Shows.PIECE),
        Thing(
            *("cast", "casts", "c", find_cast, _cast_lines, casting_page.CastList, _Shows.TREE),
            key_of=lambda cast: cast.number,
        ),
        Thing(
            *("design", "designs", "d", designs.find_or_404, _design_lines, designs.Designs, _Shows.DESIGN)
        ),
        Thing("lot", "lots", "l", lots.find_or_404, _lot_lines, stock.LotList, _Shows.LOT),
        Thing(
            *("tin", "tins", "t", lambda pk: reclaim.find_or_404(pk).tin, _tin_lines, reclaim.Tins),
        ),
    )
}


def thing_or_404(kind: str) -> Thing:
    if kind not in THINGS:
        raise Http404
    return THINGS[kind]


@require_safe
def go_to_thing(request: HttpRequest, letter: str, pk: int) -> HttpResponse:
    """The page of what a label is on."""
    for thing in THINGS.values():
        if thing.letter == letter.lower():
            return redirect(thing.address(thing.find(pk)))
    raise Http404
