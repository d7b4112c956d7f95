"""A slip of the pen: what was given for an entry, with one thing in it written otherwise."""

from collections.abc import Callable
from dataclasses import replace
from functools import singledispatch
from typing import Any

from inventory.models import Lot, Piece
from inventory.posting.again import Counted
from inventory.posting.assaying import Assay
from inventory.posting.buying import Bill, DeliveryRecord
from inventory.posting.casting import Found, Portion, TreeRecord
from inventory.posting.closing import Weights
from inventory.posting.reclaim import Apart, Cleaned, Together
from inventory.posting.refining import SettledPart
from inventory.posting.stock import HandedIn, OpeningLot, Out
from inventory.posting.topping import Topping

Draw = Callable[[int], int]


def _other(number: int, draw: Draw) -> int:
    """A number near by, now and then ten times as much."""
    return number * 10 if draw(8) == 0 else max(number + draw(1 + number // 4) - number // 8, 1)


@singledispatch
def wobble(given: Any, draw: Draw) -> Any:
    raise NotImplementedError(type(given))


@wobble.register
def _(given: DeliveryRecord, draw: Draw) -> DeliveryRecord:
    at = draw(len(given.lines))
    line = replace(given.lines[at], quantity=_other(given.lines[at].quantity, draw))
    return replace(given, lines=[*given.lines[:at], line, *given.lines[at + 1 :]])


@wobble.register
def _(given: OpeningLot, draw: Draw) -> OpeningLot:
    if draw(2):
        return replace(given, cost_micro=given.cost_micro + draw(9_000_000))
    return replace(given, quantity=_other(given.quantity, draw))


@wobble.register
def _(given: HandedIn, draw: Draw) -> HandedIn:
    return replace(given, mass_mg=_other(given.mass_mg, draw))


@wobble.register
def _(given: Topping, draw: Draw) -> Topping:
    return replace(given, mass_mg=_other(given.mass_mg, draw), price_micro=given.price_micro + draw(900_000))


@wobble.register
def _(given: Bill, draw: Draw) -> Bill:
    return replace(given, charges_micro=given.charges_micro + draw(900_000))


@wobble.register
def _(given: list, draw: Draw) -> list[Portion | TreeRecord]:
    at = draw(len(given))
    one = given[at]
    if one.lot is not None and draw(3) == 0:
        others = Lot.objects.filter(
            material=one.lot.material, owner=one.lot.owner, void=False, origin=one.lot.origin
        )
        lots = list(others.order_by("pk"))
        lot = lots[draw(len(lots))] if lots else one.lot
        changed = replace(one, lot=lot)
    else:
        changed = replace(one, quantity=_other(one.quantity, draw))
    return [*given[:at], changed, *given[at + 1 :]]


@wobble.register
def _(given: Weights, draw: Draw) -> Weights:
    if given.groups and draw(2):
        mass_mg = max(given.groups[0].mass_mg - draw(500), given.groups[0].count)
        return replace(given, groups=[replace(given.groups[0], mass_mg=mass_mg), *given.groups[1:]])
    if given.groups and draw(4) == 0:
        # One piece less was there than somebody wrote.
        return replace(given, groups=given.groups[1:], failed=len(given.groups) == 1)
    return replace(given, back_mg=max(given.back_mg - draw(900) + draw(30), 0), spill_mg=draw(2) * 50)


@wobble.register
def _(given: tuple, draw: Draw) -> tuple[list[tuple[Piece, int]], int]:
    finished, filings_mg = given
    piece, mass_mg = finished[0]
    return [(piece, max(mass_mg - draw(50) + draw(20), 1)), *finished[1:]], max(filings_mg - draw(20), 0)


@wobble.register
def _(given: Piece, draw: Draw) -> Piece:
    return given


@wobble.register(Out)
@wobble.register(Apart)
def _(given: Out | Apart, draw: Draw) -> Out | Apart:
    return replace(given, quantity=_other(given.quantity, draw))


@wobble.register
def _(given: Counted, draw: Draw) -> Counted:
    return replace(given, counted=_other(given.counted, draw))


@wobble.register(Found)
@wobble.register(Cleaned)
def _(given: Found | Cleaned, draw: Draw) -> Found | Cleaned:
    return replace(given, mass_mg=_other(given.mass_mg, draw))


@wobble.register
def _(given: Together, draw: Draw) -> Together:
    """One lot less was put in."""
    return replace(given, put=given.put[:-1] if len(given.put) > 1 and draw(2) else given.put)


@wobble.register
def _(given: SettledPart, draw: Draw) -> SettledPart:
    if given.metals and draw(3) == 0:
        back = replace(given.metals[0], mass_mg=_other(given.metals[0].mass_mg, draw))
        return replace(given, metals=[back, *given.metals[1:]] if draw(3) else [])
    if draw(2):
        return replace(given, assay=min(max(given.assay + draw(9_000) - 4_500, 0), 100_000))
    return replace(given, melted_mg=max(given.melted_mg - draw(300) + draw(30), 0))


@wobble.register
def _(given: Assay, draw: Draw) -> Assay:
    if draw(3) == 0:
        return replace(given, goes_on=not given.goes_on)
    low_ppm = max(given.low_ppm - draw(20_000), 0)
    return replace(given, low_ppm=low_ppm, high_ppm=given.high_ppm if given.is_guess else low_ppm)
