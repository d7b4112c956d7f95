"""Reads of a customer's own metal: what came and went from receipt to hand-back, and what is here of it."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Case, F, Q, QuerySet, Sum, When

from inventory.core.ledger import Amount
from inventory.models import Alloy, Cast, Customer, Entry, Lot, Movement, Piece

from .ledger import STANDING, TURN_OF_ITS_ENTRY, alloy_of

_MEASURES = ("quantity", "fine_ug", "cost_micro")


@dataclass(frozen=True)
class Crossing:
    """A line of the book by which metal became a customer's, or ceased to be; of one alloy, below zero where it went.

    `is_inner` tells that it only went from one alloy of theirs to another.
    """

    movement: Movement
    alloy: int
    change: Amount
    is_inner: bool


@dataclass(frozen=True)
class Held:
    """What of one alloy is in lots, crucibles or pieces of a customer's."""

    alloy: int
    kind: str
    amount: Amount


def crossings_of(customer: Customer, last: date) -> list[Crossing]:
    """Every crossing up to a day, in the order of the book. One query."""
    source, target = _theirs(customer, "source"), _theirs(customer, "target")
    lines = (
        Movement.objects.filter(STANDING, source | target, day__lte=last)
        .annotate(
            comes_from=Case(When(source, then=alloy_of("source__"))),
            goes_to=Case(When(target, then=alloy_of("target__"))),
            turn=TURN_OF_ITS_ENTRY,
        )
        .exclude(comes_from__isnull=False, goes_to__isnull=False, comes_from=F("goes_to"))
        .select_related("entry__cast", "entry__piece__cast", "entry__top_up", "source__lot", "target__lot")
        .select_related("target__lot__receipt")
        .order_by("day", "turn", "entry_id", "line")
    )
    found = []
    for line in lines:
        amount = Amount(line.quantity, line.fine_ug, line.cost_micro)
        is_inner = line.comes_from is not None and line.goes_to is not None
        if line.comes_from is not None:
            found.append(Crossing(line, line.comes_from, Amount() - amount, is_inner))
        if line.goes_to is not None:
            found.append(Crossing(line, line.goes_to, amount, is_inner))
    return found


def held_of(customer: Customer, last: date) -> list[Held]:
    """What is a customer's at the end of a day, by alloy and sort of holder. Two queries."""
    sums: dict[tuple[int, str], Amount] = defaultdict(Amount)
    for end, sign in (("target", 1), ("source", -1)):
        rows = (
            Movement.objects.filter(STANDING, _theirs(customer, end), day__lte=last)
            .annotate(of=alloy_of(f"{end}__"))
            .order_by()
            .values("of", f"{end}__kind")
            .annotate(**{f"sum_{name}": Sum(name) for name in _MEASURES})
        )
        for row in rows:
            amount = Amount(*(sign * row[f"sum_{name}"] for name in _MEASURES))
            sums[row["of"], row[f"{end}__kind"]] += amount
    return [Held(alloy, kind, amount) for (alloy, kind), amount in sums.items() if not amount.is_nothing]


def _theirs(customer: Customer, end: str) -> Q:
    """Movements at one end of which a holder of the customer's stands."""
    lots = Lot.objects.filter(owner=customer).values("holder")
    crucibles = Cast.objects.filter(owner=customer).values("crucible_holder")
    pieces = Piece.objects.filter(cast__owner=customer).values("holder")
    return Q(**{f"{end}__in": lots}) | Q(**{f"{end}__in": crucibles}) | Q(**{f"{end}__in": pieces})


def alloys_by_key(keys: Sequence[int]) -> dict[int, Alloy]:
    return Alloy.objects.in_bulk(keys)


def lots_of(customer: Customer) -> "QuerySet[Lot]":
    """A customer's lots that hold something, newest first."""
    return (
        Lot.objects.filter(owner=customer, void=False, holder__quantity__gt=0)
        .select_related("material", "holder", "from_cast")
        .order_by("-received_on", "-pk")
    )


def latest_receipt() -> Lot | None:
    return find_receipts().order_by("-received_on", "-pk").first()


def find_receipts() -> "QuerySet[Lot]":
    """Every lot that was handed in and stands."""
    handed = Lot.objects.filter(void=False, entry__kind=Entry.Kind.HANDED_IN)
    return handed.select_related("owner", "material__alloy", "receipt", "entry", "holder")


def weighed_in(lot: Lot) -> int:
    """What a lot weighed when it was taken in, in milligrams."""
    [mass_mg] = lot.entry.movements.values_list("quantity", flat=True)
    return int(mass_mg)


def latest_owner() -> Customer | None:
    """Whose metal came in last."""
    lot = latest_receipt()
    return lot.owner if lot is not None else None
