"""Where metal came from and went over a time: added up by the database."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date
from typing import Any

from django.db.models import BigIntegerField, BooleanField, Case, Count, F, Q, Sum, Value, When

from costing.core.melt_shares import MEASURES, share_melt, shift_loss
from costing.core.metal_account import End, Flow, Key
from inventory.core.ledger import Amount
from inventory.models import Alloy, Customer, Entry, Holder, Movement
from inventory.queries.ledger import STANDING, alloy_of, owner_of
from inventory.queries.stock import metal_sort


def metal_held(first: date) -> list[tuple[End, Amount]]:
    """What every account holds today; the first day of a time tells which pieces are new in it."""
    # "Any", because mypy does not follow what is added from a mapping.
    holders: Any = Holder.objects.filter(quantity__gt=0).exclude(kind=Holder.Kind.OUTSIDE)
    rows = (
        holders.annotate(**_end_of(first))
        .filter(alloy__isnull=False)
        .order_by()
        .values("kind", "place", "alloy", "owner", "is_new", "sort")
        .annotate(**{f"held_{measure}": Sum(measure) for measure in MEASURES})
    )
    return [(_read_end(row), _read_amount(row, "held")) for row in rows]


def metal_flows(first: date, last: date) -> list[Flow]:
    """Every flow of metal from the first day until today, split at the last. Reversed entries and reversals are
    left out: both stand on the same day, so no balance misses them. Three queries."""
    rows = (
        Movement.objects.filter(STANDING, entry__day__gte=first)
        .annotate(**_end_of(first, "source"), **_end_of(first, "target"))
        .filter(Q(source_alloy__isnull=False) | Q(target_alloy__isnull=False))
        .order_by()
        .values(*_KEYS)
        .annotate(
            **_sums("during", Q(day__lte=last)),
            **_sums("after", Q(day__gt=last)),
            lines=Count("pk", filter=Q(day__lte=last)),
        )
    )
    return [
        Flow(
            source=_read_end(row, "source"),
            target=_read_end(row, "target"),
            entry_kind=row["entry__kind"],
            during=_read_amount(row, "during"),
            after=_read_amount(row, "after"),
            lines=row["lines"],
        )
        for row in rows
    ] + _share_melts(first, last)


def _share_melts(first: date, last: date) -> list[Flow]:
    """What puts the loss of refiners' melts onto every alloy that was sent: a batch counts as one of them."""
    place = Holder.Place.REF_LOST
    there = Holder.objects.filter(kind=Holder.Kind.OUTSIDE, place=place)
    rows: Any = (
        Movement.objects.filter(STANDING, entry__day__gte=first)
        # By the one holder of that place, of which few movements are, and not by all that moved since.
        .filter(
            Q(target__in=there, source__kind=Holder.Kind.BATCH)
            | Q(source__in=there, target__kind=Holder.Kind.BATCH)
        )
        .order_by()
        .values("source__place", "source", "target", "entry__kind")
        .annotate(**_sums("during", Q(day__lte=last)), **_sums("after", Q(day__gt=last)))
    )
    lost: dict[tuple[int, str], list[Amount]] = defaultdict(lambda: [Amount(), Amount()])
    for row in rows:
        gave_back = row["source__place"] == place
        holder = row["target" if gave_back else "source"]
        for side, name in enumerate(("during", "after")):
            found = _read_amount(row, name)
            lost[holder, row["entry__kind"]][side] += Amount() - found if gave_back else found
    sent = _read_sent({holder for holder, _ in lost})
    flows = []
    for (holder, kind), (during, after) in lost.items():
        main, parts = sent[holder]
        now, later = share_melt(during, parts, main), share_melt(after, parts, main)
        for other in now:
            flows += shift_loss(main, other, place, kind, now[other], later[other])
    return flows


def _read_sent(batches: Collection[int]) -> dict[int, tuple[Key, dict[Key, Amount]]]:
    """The metal that each batch counts as, and what was sent of each, by the batches' holders."""
    names = ("alloy", "owner", "main")
    rows: Any = (
        Movement.objects.filter(STANDING, entry__kind=Entry.Kind.SEND, target__in=batches)
        .annotate(alloy=alloy_of("source__"), owner=owner_of("source__"), main=F("target__batch__alloy"))
        .order_by()
        .values_list("target", *names)
        .annotate(*(Sum(measure) for measure in MEASURES))
    )
    sent: dict[int, tuple[Key, dict[Key, Amount]]] = {}
    for holder, alloy, owner, main, *amount in rows:
        sent.setdefault(holder, ((main, owner), {}))[1][alloy, owner] = Amount(*map(int, amount))
    return sent


def late_bills_on_used(first: date, last: date) -> int:
    """What late bills of a time put on stock that was already used, of every material, in millionths."""
    sums = Movement.objects.filter(
        STANDING, target__place=Holder.Place.LATE, day__gte=first, day__lte=last
    ).aggregate(total=Sum("cost_micro", default=0))
    return int(sums["total"])


def read_keys(keys: Iterable[Key]) -> tuple[dict[int, Alloy], dict[int, Customer]]:
    """The alloys and the owners that accounts are kept of, by their ids."""
    pairs = list(keys)
    alloys = Alloy.objects.in_bulk([alloy for alloy, _ in pairs])
    return alloys, Customer.objects.in_bulk([owner for _, owner in pairs if owner is not None])


_NAMED, _WORKED_OUT = ("kind", "place"), ("alloy", "owner", "is_new", "sort")
_KEYS = (
    "entry__kind",
    *(f"{side}__{name}" for side in ("source", "target") for name in _NAMED),
    *(f"{side}_{name}" for side in ("source", "target") for name in _WORKED_OUT),
)


def _end_of(first: date, side: str = "") -> dict[str, Any]:
    """Alloy, owner and sort of a holder, whatever it is, and whether it is a piece cast since the first day.

    `side` is "source" or "target" for those of a movement.
    """
    path, name = (f"{side}__", f"{side}_") if side else ("", "")
    return {
        f"{name}alloy": alloy_of(path),
        f"{name}owner": owner_of(path),
        f"{name}sort": metal_sort(f"{path}lot__"),
        f"{name}is_new": Case(
            When(**{f"{path}piece__cast__closed_on__gte": first}, then=Value(True)),
            default=Value(False),
            output_field=BooleanField(),
        ),
    }


def _sums(name: str, when: Q) -> dict[str, Sum]:
    return {
        f"{name}_{measure}": Sum(Case(When(when, then=F(measure)), default=0, output_field=BigIntegerField()))
        for measure in MEASURES
    }


def _read_amount(row: dict[str, Any], name: str) -> Amount:
    return Amount(*(int(row[f"{name}_{measure}"]) for measure in MEASURES))


def _read_end(row: dict[str, Any], side: str = "") -> End:
    path, name = (f"{side}__", f"{side}_") if side else ("", "")
    alloy = row[f"{name}alloy"]
    return End(
        kind=row[f"{path}kind"],
        place=row[f"{path}place"],
        key=(alloy, row[f"{name}owner"]) if alloy is not None else None,
        is_new=row[f"{name}is_new"],
        sort=row[f"{name}sort"] if row[f"{path}kind"] == Holder.Kind.LOT else "",
    )
