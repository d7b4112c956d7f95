"""What was here at the end of a day and what it had cost, added up from the movements up to then."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import F, Sum
from django.db.models.functions import Coalesce

from inventory.core.ledger import Amount
from inventory.models import Alloy, Holder, Material, Movement
from inventory.queries.ledger import STANDING


@dataclass(frozen=True)
class Held:
    """What the studio held of one thing: a material in lots, or an alloy in open casts or in pieces."""

    kind: str
    material: Material | None
    alloy: Alloy | None
    amount: Amount


def stock_on(day: date) -> list[Held]:
    """The studio's own stock at the end of a day; customers' metal is theirs and left out."""
    sums: dict[tuple[str, int | None, int | None], Amount] = defaultdict(Amount)
    for key, amount in _moved("target", day):
        sums[key] += amount
    for key, amount in _moved("source", day):
        sums[key] -= amount
    materials = Material.objects.select_related("alloy").in_bulk([key[1] for key in sums if key[1]])
    alloys = Alloy.objects.in_bulk([key[2] for key in sums if key[2]])
    return [
        Held(kind, materials.get(material or 0), alloys.get(alloy or 0), amount)
        for (kind, material, alloy), amount in sums.items()
        if not amount.is_nothing
    ]


def _moved(side: str, day: date) -> Iterator[tuple[tuple[str, int | None, int | None], Amount]]:
    """Everything that entered ("target") or left ("source") what the studio holds, by what it is."""
    owner = Coalesce(F(f"{side}__lot__owner"), F(f"{side}__cast__owner"), F(f"{side}__piece__cast__owner"))
    alloy = Coalesce(F(f"{side}__cast__alloy"), F(f"{side}__piece__cast__alloy"))
    names: dict[str, Any] = {"held_kind": F(f"{side}__kind"), "held_material": F(f"{side}__lot__material")}
    rows = (
        Movement.objects.filter(STANDING, day__lte=day)
        .exclude(**{f"{side}__kind": Holder.Kind.OUTSIDE})
        .annotate(held_alloy=alloy, owner=owner, **names)
        .filter(owner=None)
        .order_by()
        .values_list("held_kind", "held_material", "held_alloy")
        .annotate(Sum("quantity"), Sum("fine_ug"), Sum("cost_micro"))
    )
    for kind, material, held_alloy, *numbers in rows:
        yield (kind, material, held_alloy), Amount(*(int(number) for number in numbers))
