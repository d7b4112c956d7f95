"""What a crucible remembers that it melted, and the words of care for what is about to go into it."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Max

from inventory.core.meeting import Melted, warn_of_meeting
from inventory.models import Alloy, Cast, Entry, Equipment, Lot, Movement

from .ledger import STANDING
from .plans import melt_cautions


@dataclass(frozen=True)
class Care:
    """Kinds of caution for a charge, and why its crucible should not melt it; "" for no reason."""

    cautions: tuple[str, ...] = ()
    meeting: str = ""


def melted_in(crucible: Equipment, but: Cast | None = None) -> list[Melted]:
    """The families of metal that were weighed into a crucible for its casts. One query."""
    charged = Movement.objects.filter(
        STANDING, entry__kind=Entry.Kind.CHARGE, entry__cast__crucible=crucible, source__lot__isnull=False
    )
    if but is not None:
        charged = charged.exclude(entry__cast=but)
    rows = charged.order_by().values_list("source__lot__material__alloy__metal")
    return [Melted(metal, number) for metal, number in rows.annotate(Max("entry__cast__number"))]


def care_for(
    alloy: Alloy | None, crucible: Equipment | None, lots: Iterable[Lot], but: Cast | None = None
) -> Care:
    """The care that a charge of these lots asks for; `but` is the cast itself, where it is written down already. Two
    queries. The lots come with their materials."""
    listed = list(lots)
    alloys = [alloy.pk if alloy else None, *(lot.material.alloy_id for lot in listed)]
    is_theirs = but is not None and but.owner_id is not None
    cautions = melt_cautions(alloys, is_theirs or any(lot.is_of_unknown_make for lot in listed))
    if crucible is None or alloy is None:
        return Care(cautions)
    return Care(cautions, warn_of_meeting(str(crucible), alloy.metal, melted_in(crucible, but)))
