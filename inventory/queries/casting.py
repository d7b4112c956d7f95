"""Reads of casts: what was charged, what came out, what is still lost, what to do next."""

from django.db.models import Sum

from inventory.core.ledger import Amount
from inventory.models import Cast, Entry, Holder, Movement

STANDING = {"entry__reverses__isnull": True, "entry__reversed_by__isnull": True}


def charged_portions(cast: Cast) -> list[tuple[int, int]]:
    """(milligrams, melts in thousandths) of each portion weighed into the crucible and not reversed."""
    return list(
        Movement.objects.filter(
            **STANDING,
            entry__cast=cast,
            entry__kind=Entry.Kind.CHARGE,
            target=cast.crucible_holder_id,
        ).values_list("quantity", "source__lot__melts_milli")
    )


def _sum_amount(**filters: object) -> Amount:
    sums = Movement.objects.filter(**STANDING, **filters).aggregate(
        quantity=Sum("quantity", default=0), fine=Sum("fine_ug", default=0), cost=Sum("cost_micro", default=0)
    )
    return Amount(sums["quantity"], sums["fine"], sums["cost"])


def loss_of_cast(cast: Cast) -> Amount:
    """What a cast counts as lost today: lost at the pour and in finishing, less what was found since."""
    lost = Holder.Place.LOST
    return _sum_amount(entry__cast=cast, target__place=lost) - _sum_amount(
        entry__cast=cast, source__place=lost
    )
