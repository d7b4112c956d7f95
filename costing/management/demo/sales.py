"""The demo's sales: what its sold pieces went for, a fair, a piece that came back, and some with a gallery."""

from collections.abc import Sequence
from datetime import date, timedelta

from costing.management.demo.setting import money
from costing.models import Channel, Outing
from costing.posting.sales import (
    Back,
    SaleFacts,
    Sold,
    bring_back,
    post_refund,
    post_sold,
    send_out,
    terms_of,
)
from costing.queries.costed import cost_casts
from costing.queries.sales import counted_lines, left_without_price, pieces_to_offer
from inventory.models import Piece

_WAYS = ("Own table", "Saturday market", "By post")
_BUYERS = ("Ida Finch", "Tomas Reed", "")
FAIR_DAYS, GALLERY_DAYS = 5, 4


def sell_the_year(today: date) -> None:
    """Everything that left gets a price near three times its cost; what is new is dated in the last days."""
    gone = list(left_without_price().order_by("state_on", "pk"))
    prices = _prices_of(gone)
    for place, piece in enumerate(gone):
        facts = SaleFacts(
            channel=_channel(_WAYS[place % len(_WAYS)]),
            day=piece.state_on,
            buyer=_BUYERS[place % len(_BUYERS)],
        )
        post_sold(facts, [Sold(piece, prices[piece.pk])])
    line = counted_lines().order_by("-sold_on", "-pk")[0]
    back = Back(line.paid_micro, max(line.sold_on, today - timedelta(days=3)), reason="too small for her")
    post_refund(line, back)
    finished = list(
        pieces_to_offer().filter(state=Piece.State.FINISHED).order_by("cast__number", "number")[:9]
    )
    if len(finished) >= 2:
        _fair(finished[: len(finished) // 2 + 1], today - timedelta(days=FAIR_DAYS))
        _gallery(finished[len(finished) // 2 + 1 :], today - timedelta(days=GALLERY_DAYS))


def _fair(pieces: Sequence[Piece], day: date) -> None:
    """More than half of what went out was sold, at prices that were talked about."""
    pieces = [piece for piece in pieces if piece.state_on <= day]
    if not pieces:
        return
    market, prices = _channel("Saturday market"), _prices_of(pieces)
    fair = Outing(kind=Outing.Kind.FAIR, channel=market, name="Fair on the green", day=day)
    send_out(fair, [(piece, prices[piece.pk]) for piece in pieces])
    sold = [
        Sold(piece, prices[piece.pk] - money(350), prices[piece.pk])
        for piece in pieces[: len(pieces) * 2 // 3]
    ]
    if sold:
        post_sold(SaleFacts(channel=market, day=day, outing=fair), sold, terms_of(market, day))
    bring_back(fair, None, day)


def _gallery(pieces: Sequence[Piece], day: date) -> None:
    """One was sold there, and they owe for it."""
    if not pieces:
        return
    hill, prices = _channel("Gallery on the hill"), _prices_of(pieces)
    out = Outing(kind=Outing.Kind.GALLERY, channel=hill, name="Gallery on the hill", day=day)
    send_out(out, [(piece, prices[piece.pk] * 2) for piece in pieces])
    first = pieces[0]
    facts = SaleFacts(channel=hill, day=day + timedelta(days=2), outing=out, is_owed=True)
    post_sold(facts, [Sold(first, prices[first.pk] * 2, prices[first.pk] * 2)])


def _channel(name: str) -> Channel:
    return Channel.objects.get_or_create(name=name)[0]


def _prices_of(pieces: Sequence[Piece]) -> dict[int, int]:
    """Three times what it cost, to half a pound, and never under twelve."""
    costed = cost_casts({piece.cast_id for piece in pieces})
    found = {}
    for piece in pieces:
        cast = costed[piece.cast_id]
        micro = cast.cost.piece_totals_micro[cast.place_of(piece.pk)] * 3
        found[piece.pk] = max(micro // money(50) * money(50), money(1_200))
    return found
