"""What was here at the end of a day and what it had cost: what is here now, and what moved since put back."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import F, QuerySet, Sum
from django.db.models.functions import Coalesce

from inventory.core.ledger import Amount
from inventory.models import Alloy, Holder, Material, Movement
from inventory.queries.ledger import STANDING, owner_of

Thing = tuple[str, int | None, int | None]
"""The kind of its holder, a material for a lot, an alloy for a crucible or a piece."""


@dataclass(frozen=True)
class Held:
    """What the studio held of one thing: a material in lots, or an alloy in open casts or in pieces."""

    kind: str
    material: Material | None
    alloy: Alloy | None
    amount: Amount


def stock_on(day: date) -> list[Held]:
    """The studio's own stock at the end of a day; customers' metal is theirs and left out."""
    # Back from what is here, which a studio of any age has little of, and not up from its first day.
    sums: dict[Thing, Amount] = defaultdict(Amount)
    here = Holder.objects.filter(quantity__gt=0).exclude(kind=Holder.Kind.OUTSIDE)
    for thing, amount in _sum_by_thing(here, ""):
        sums[thing] += amount
    # The same day stands on the entry, where an index finds the few that are later.
    later = Movement.objects.filter(STANDING, entry__day__gt=day)
    for thing, amount in _sum_by_thing(later.exclude(target__kind=Holder.Kind.OUTSIDE), "target__"):
        sums[thing] -= amount
    for thing, amount in _sum_by_thing(later.exclude(source__kind=Holder.Kind.OUTSIDE), "source__"):
        sums[thing] += amount
    materials = Material.objects.select_related("alloy").in_bulk([key[1] for key in sums if key[1]])
    alloys = Alloy.objects.in_bulk([key[2] for key in sums if key[2]])
    return [
        Held(kind, materials.get(material or 0), alloys.get(alloy or 0), amount)
        for (kind, material, alloy), amount in sums.items()
        if not amount.is_nothing
    ]


def _sum_by_thing(rows: QuerySet[Any], path: str) -> Iterator[tuple[Thing, Amount]]:
    """The studio's own of these holders or movements, by what is held; `path` leads to the holder."""
    alloy = Coalesce(F(f"{path}cast__alloy"), F(f"{path}piece__cast__alloy"))
    sums = (
        rows.annotate(held_alloy=alloy, held_owner=owner_of(path))
        .filter(held_owner=None)
        .order_by()
        .values_list(f"{path}kind", f"{path}lot__material", "held_alloy")
        .annotate(Sum("quantity"), Sum("fine_ug"), Sum("cost_micro"))
    )
    for kind, material, held_alloy, *numbers in sums:
        yield (kind, material, held_alloy), Amount(*(int(number) for number in numbers))
