"""Things with a page of their own that pictures and labels are of: what each is called, and where it is found.

A new kind is one line of THINGS; its letter stands in the short address of its labels, so it never changes.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_safe

from inventory.models import Picture

from . import casting_actions, lots, pieces


@dataclass(frozen=True)
class Thing:
    """`find` reads a record by the number in its page's address and raises Http404; `key_of` gives that number.

    `shows` is what its pictures are offered to show first.
    """

    kind: str
    letter: str
    find: Callable[[int], Any]
    title: Callable[[Any], str]
    shows: str
    key_of: Callable[[Any], int] = lambda record: record.pk

    def address(self, record: Any) -> str:
        return reverse(f"inventory:{self.kind}-detail", args=[self.key_of(record)])


THINGS = {
    thing.kind: thing
    for thing in (
        Thing("piece", "p", pieces.find_or_404, lambda piece: piece.name, Picture.Shows.PIECE),
        Thing("cast", "c", casting_actions.find_or_404, str, Picture.Shows.TREE, lambda cast: cast.number),
        Thing("lot", "l", lots.find_or_404, str, Picture.Shows.LOT),
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
