"""The checks of what belongs to whom: each holder to one row, and customers' metal to its owner."""

from functools import reduce
from operator import or_
from typing import Any

from django.db.models import Q, QuerySet

from inventory.core.ledger import Amount
from inventory.models import Entry, Holder, Movement
from inventory.queries.kept import count_of, kept
from inventory.queries.ledger import STANDING

from .reading import MEASURES, Ledger, name_row_of, print_amount
from .registry import Finding, register_check

#: Which row stands for a holder, by the holder's kind.
_ROWS = {
    Holder.Kind.LOT: "lot",
    Holder.Kind.CRUCIBLE: "cast",
    Holder.Kind.PIECE: "piece",
    Holder.Kind.BATCH: "batch",
}


@register_check
def check_nobodys(ledger: Ledger) -> Finding:
    finding = Finding("what the studio holds is one lot, the crucible of one cast, one piece or one batch")
    for pk, kind, *found in _what_holds_something():
        finding.checked += 1
        rows, amount = found[: len(_ROWS)], print_amount(Amount(*found[len(_ROWS) :]))
        names = [name for name, row in zip(_ROWS.values(), rows, strict=True) if row is not None]
        if names != [_ROWS[Holder.Kind(kind)]]:
            whose = " and ".join(names) or "nothing we know of"
            finding.problems.append(f"holder {pk} ({kind}) is that of {whose} and holds {amount}")
    return finding


@kept
def _what_holds_something() -> QuerySet[Holder, Any]:
    something = Q(quantity__gt=0) | Q(fine_ug__gt=0) | Q(cost_micro__gt=0)
    holders = Holder.objects.filter(something).exclude(kind=Holder.Kind.OUTSIDE).order_by("pk")
    return holders.values_list("pk", "kind", *_ROWS.values(), *MEASURES)


@register_check
def check_charged_to_their_owner(ledger: Ledger) -> Finding:
    finding = Finding("a cast was charged with its owner's metal alone")
    for entry, lot, owner, cast, cast_owner in _charged():
        finding.checked += 1
        if owner != cast_owner:
            finding.problems.append(
                f"entry {entry} charges lot {lot} to cast {cast}, which have different owners"
            )
    return finding


@kept
def _charged() -> QuerySet[Movement, Any]:
    charged = Movement.objects.filter(STANDING, entry__kind=Entry.Kind.CHARGE, source__lot__isnull=False)
    columns = ("entry", "source__lot", "source__lot__owner", "entry__cast__number", "entry__cast__owner")
    return charged.order_by("pk").values_list(*columns)


@register_check
def check_customers_cost(ledger: Ledger) -> Finding:
    """Asked of every line and not of what is held today: cost that came with a piece leaves with it when it is sold."""
    finding = Finding("no cost was ever put on customers' metal")
    [(finding.checked,)] = _number_of_theirs()
    costly: dict[int, int] = dict(_put_a_cost_on_theirs())
    named = Holder.objects.select_related("lot__material", "cast", "piece", "batch").in_bulk(sorted(costly))
    for pk, holder in named.items():
        finding.problems.append(
            f"{name_row_of(holder)} (holder {pk}) is a customer's, and entry {costly[pk]} puts a cost on it"
        )
    return finding


def _theirs() -> QuerySet[Holder]:
    owners = ("lot__owner", "lot__from_cast__owner", "cast__owner", "piece__cast__owner", "batch__owner")
    theirs = reduce(or_, (Q(**{f"{owner}__isnull": False}) for owner in owners))
    return Holder.objects.filter(theirs).order_by()


@kept
def _number_of_theirs() -> QuerySet[Any, Any]:
    return count_of(_theirs())


@kept
def _put_a_cost_on_theirs() -> QuerySet[Movement, Any]:
    lines = Movement.objects.filter(target__in=_theirs().values("pk"), cost_micro__gt=0)
    return lines.order_by("-pk").values_list("target", "entry")
