"""The checks of how fine metal is counted, and how well that is said to be known."""

from typing import Any

from django.db.models import F, QuerySet

from inventory.core.fineness import ROUNDINGS_UG, Known, Melt, compute_middle_ug
from inventory.models import Cast, FinenessNote, Holder, Lot, Material, Movement
from inventory.posting.assaying import say_unsaid
from inventory.posting.kinds import ARRIVALS
from inventory.queries.fineness import read_melts, read_said, unproved_lots
from inventory.queries.kept import kept
from studio.kit.units import PPM_PER_MILLE

from .reading import Ledger
from .registry import Finding, register_check


@register_check
def check_fineness(ledger: Ledger) -> Finding:
    """Metal comes in counted at its alloy's fineness, or at the middle of what somebody guessed it to be."""
    finding = Finding("metal is counted at the fineness of its alloy, or of its guess")
    guessed = {(lot, entry): (low, high) for lot, entry, low, high in _guesses()}
    for lot, entry, fineness, quantity, fine_ug in _came_in():
        finding.checked += 1
        says, guess = fineness or 0, guessed.get((lot, entry))
        low, high = guess or (says * PPM_PER_MILLE, says * PPM_PER_MILLE)
        if fine_ug != compute_middle_ug(quantity, low, high):
            whose = f"its guess says {low} to {high} ppm" if guess else f"its alloy says {says} of 1000"
            finding.problems.append(f"lot {lot} came in with {fine_ug} fine_ug in {quantity}; {whose}")
    return finding


@kept
def _came_in() -> QuerySet[Movement, Any]:
    own = Movement.objects.filter(entry__kind__in=ARRIVALS, target__lot__entry=F("entry"), quantity__gt=0)
    columns = ("target__lot", "entry", "target__lot__material__alloy__fineness", "quantity", "fine_ug")
    return own.order_by("pk").values_list(*columns)


@kept
def _guesses() -> QuerySet[FinenessNote, Any]:
    notes = FinenessNote.objects.filter(entry__kind__in=ARRIVALS, low_ppm__isnull=False)
    return notes.order_by("pk").values_list("lot", "entry", "low_ppm", "high_ppm")


@register_check
def check_known_fineness(ledger: Ledger) -> Finding:
    """What casts and lots say of how well their fineness is known follows from what was said of lots."""
    finding = Finding("how well a fineness is known follows from the charges and the tins")
    melts = read_melts()
    for pk, crucible, *says in _casts_say():
        finding.checked += 1
        known = melts.get(crucible, Melt(Known())).known
        if says != [known.is_guess, known.low_ug, known.high_ug]:
            finding.problems.append(f"cast {pk} says {says} of its fineness; its charge makes {known}")
    last = {lot: said[-1] for lot, said in read_said().items()}
    unproved = unproved_lots()
    for pk, holder, crucible, *says in _lots_say():
        finding.checked += 1
        if pk in last:
            wanted = (last[pk].by, last[pk].low_ppm, last[pk].high_ppm)
        else:
            wanted = say_unsaid(holder, crucible, pk in unproved, melts)
        if wanted != tuple(says):
            finding.problems.append(f"lot {pk} says {says[0]} of its fineness, and should say {wanted}")
    return finding


@kept
def _casts_say() -> QuerySet[Cast, Any]:
    says = ("fineness_is_guess", "fine_low_ug", "fine_high_ug")
    return Cast.objects.order_by("pk").values_list("pk", "crucible_holder", *says)


@kept
def _lots_say() -> QuerySet[Lot, Any]:
    metal = Lot.objects.filter(void=False, material__kind=Material.Kind.METAL).order_by("pk")
    says = ("fineness_by", "fine_low_ppm", "fine_high_ppm")
    return metal.values_list("pk", "holder", "from_cast__crucible_holder", *says)


@register_check
def check_fine_metal(ledger: Ledger) -> Finding:
    finding = Finding("nothing has more fine metal than it weighs, and only metal has any")
    for pk, quantity, fine_ug, kind in _fine_metal():
        finding.checked += 1
        if kind not in (None, Material.Kind.METAL):
            finding.problems.append(f"holder {pk} is a lot of {kind} and holds {fine_ug} fine_ug")
        elif fine_ug > quantity * 1000 + ROUNDINGS_UG:
            finding.problems.append(f"holder {pk} holds {fine_ug} fine_ug in {quantity}: above 1000 of 1000")
    return finding


@kept
def _fine_metal() -> QuerySet[Holder, Any]:
    rows = Holder.objects.filter(fine_ug__gt=0).exclude(kind=Holder.Kind.OUTSIDE).order_by("pk")
    return rows.values_list("pk", "quantity", "fine_ug", "lot__material__kind")
