"""The checks that no metal comes from nothing: what was found or regained was lost, and what is here came in."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import astuple
from datetime import date
from typing import Any

from django.db.models import Count, F, Min, Model, Q, QuerySet

from inventory.core.ledger import Amount, total_of
from inventory.core.weighing import compute_weighing_uncertainty
from inventory.models import Batch, Cast, Entry, Holder, Lot, Movement, Piece, Studio
from inventory.posting.kinds import ARRIVALS, KINDS
from inventory.queries.kept import count_of, kept
from inventory.queries.ledger import STANDING

from .reading import MEASURES, EntryRow, Ledger, Row, print_amount
from .registry import Finding, register_check

Place = Holder.Place
#: Those that put what they bring into lots of their own, and into no other.
_INTO_OWN_LOTS = (
    *ARRIVALS,
    *(Entry.Kind.CLOSE, Entry.Kind.FINISH, Entry.Kind.MELT_BACK, Entry.Kind.FOUND, Entry.Kind.SETTLE),
    *(Entry.Kind.CLEANED, Entry.Kind.TOGETHER, Entry.Kind.APART),
)
#: Those at which a scale may show a hair more than there was.
_WEIGHING = (Entry.Kind.CLOSE, Entry.Kind.FINISH, Entry.Kind.CLEANED)
#: The studio may have bought a finer scale since it weighed: no finer division than this is counted on.
COARSEST_DIVISION_MG = 100


@register_check
def check_findings(ledger: Ledger) -> Finding:
    """Metal found comes out of what its cast had lost by then: neither more, nor before it was lost."""
    finding = Finding("no cast found more than it had lost")
    lost_place = ledger.places[Place.LOST]
    lost: dict[int, Amount] = defaultdict(Amount)
    closed: dict[int, date] = dict(_closed())
    for entry, rows in ledger.postings(*_WEIGHING, Entry.Kind.FOUND):
        if entry.cast_id is None or not ledger.standing(entry):
            continue
        before = lost[entry.cast_id]
        for row in rows:
            if row.target == lost_place:
                lost[entry.cast_id] += row.amount
            elif row.source == lost_place:
                lost[entry.cast_id] -= row.amount
        if entry.kind == Entry.Kind.FOUND:
            finding.checked += 1
            back = [row for row in rows if row.source == lost_place]
            finding.problems += _finding_problems(entry, back, before, closed.get(entry.cast_id))
    return finding


@kept
def _closed() -> QuerySet[Cast, Any]:
    return Cast.objects.filter(closed_on__isnull=False).order_by().values_list("pk", "closed_on")


def _finding_problems(
    entry: EntryRow, rows: list[Row], before: Amount, closed_on: date | None
) -> Iterator[str]:
    found = total_of(row.amount for row in rows)
    there = (before.quantity, before.fine_ug, before.cost_micro)
    # A scale that showed a hair too much may have left a unit of fine metal or cost less than nothing there.
    if any(more > max(most, 0) for more, most in zip(astuple(found), there, strict=True)):
        yield f"entry {entry.pk} found {print_amount(found)}; its cast had lost {print_amount(before)}"
    if closed_on is None or entry.day < closed_on:
        yield f"entry {entry.pk} of {entry.day} found metal before its cast was weighed out"


@register_check
def check_losses(ledger: Ledger) -> Finding:
    """What comes back out of "lost" was lost before, but for what the scale showed too much of."""
    finding = Finding("no cast has less than nothing lost, beyond what its weighings explain")
    lost_place = ledger.places[Place.LOST]
    lost_mg: dict[int | None, int] = defaultdict(int)
    for cast, target, quantity in _lost_and_back(lost_place):
        lost_mg[cast] += quantity if target == lost_place else -quantity
    division_mg = max([COARSEST_DIVISION_MG, *(division for (division,) in _scales())])
    for cast, mg in lost_mg.items():
        finding.checked += 1
        explained_mg = _explained_mg(cast, division_mg) if mg < 0 else 0
        if mg < -explained_mg:
            whose = f"cast {Cast.objects.get(pk=cast).number}" if cast else "metal of no cast"
            finding.problems.append(
                f"{whose} has {mg} mg lost: its weighings explain {explained_mg} mg too much"
            )
    return finding


@kept
def _lost_and_back(place: int) -> QuerySet[Movement, Any]:
    rows = Movement.objects.filter(STANDING, Q(source=place) | Q(target=place)).order_by()
    return rows.values_list("entry__cast", "target", "quantity")


@kept
def _scales() -> QuerySet[Studio, Any]:
    return Studio.objects.order_by().values_list("scale_division_mg")


def _explained_mg(cast: int | None, division_mg: int) -> int:
    """What the weighings of a cast may have shown too much of, all together.

    Each pour or finishing was let off as much as its own weighings explain. A line is a portion or a part that was
    weighed; in finishing a piece is weighed twice and what was filed off once, and a piece that kept its weight
    has no line: so no entry had more than twice as many weighings as its cast has lines, and one.
    """
    if cast is None:
        return 0
    lines = Movement.objects.filter(STANDING, entry__cast=cast)
    gains = lines.filter(source__place=Place.LOST, entry__kind__in=_WEIGHING).values("entry").distinct()
    each = compute_weighing_uncertainty(division_mg, 2 * lines.count() + 1)
    return gains.count() * each.tolerance_mg


@register_check
def check_in_and_out(ledger: Ledger) -> Finding:
    """What the lots, crucibles and pieces show is what crossed the threshold of the studio: in, less out."""
    finding = Finding("what came in is here, or went out")
    here = Amount()
    for numbers in _held():
        finding.checked += 1
        here += Amount(*numbers)
    gone = total_of(ledger.balance(pk) for pk in ledger.places.values())
    if not (here + gone).is_nothing:
        finding.problems.append(
            f"the studio holds {print_amount(here)}; by its movements {print_amount(Amount() - gone)}"
        )
    return finding


@kept
def _held() -> QuerySet[Holder, Any]:
    return Holder.objects.exclude(kind=Holder.Kind.OUTSIDE).order_by().values_list(*MEASURES)


@register_check
def check_taken_back(ledger: Ledger) -> Finding:
    finding = Finding("a lot, piece or batch that was taken back holds nothing")
    for model in (Lot, Piece, Batch):
        for pk, *numbers in _void(model):
            finding.checked += 1
            if any(numbers):
                name = model._meta.verbose_name
                finding.problems.append(
                    f"{name} {pk} was taken back and holds {print_amount(Amount(*numbers))}"
                )
    return finding


@kept
def _void(model: type[Model]) -> QuerySet[Model, Any]:
    rows = model._default_manager.filter(void=True).order_by("pk")
    return rows.values_list("pk", *(f"holder__{name}" for name in MEASURES))


@register_check
def check_own_lots(ledger: Ledger) -> Finding:
    """Metal that is weighed out, filed off, found or melted back never slips into a lot that was there before."""
    finding = Finding("what an entry brings into stock is a lot of its own")
    [(finding.checked,)] = _number_into_own_lots()
    mended: dict[int, int] = dict(_mended())
    for entry, kind, lot, made_by in _into_other_lots():
        # One that was mended made the lots that the entry in its place has now.
        before = mended.get(made_by)
        while before is not None and before != entry:
            before = mended.get(before)
        if before is None:
            finding.problems.append(
                f"entry {entry} is a {kind} and puts something into lot {lot}, not its own"
            )
    return finding


def _into_own_lots() -> QuerySet[Movement]:
    return Movement.objects.filter(entry__kind__in=_INTO_OWN_LOTS, target__lot__isnull=False)


@kept
def _number_into_own_lots() -> QuerySet[Any, Any]:
    return count_of(_into_own_lots())


@kept
def _into_other_lots() -> QuerySet[Movement, Any]:
    others = _into_own_lots().exclude(target__lot__entry=F("entry")).order_by("pk")
    return others.values_list("entry", "entry__kind", "target__lot", "target__lot__entry")


@kept
def _mended() -> QuerySet[Entry, Any]:
    return Entry.objects.filter(replaces__isnull=False).order_by("pk").values_list("pk", "replaces")


@register_check
def check_ends(ledger: Ledger) -> Finding:
    """The lines of an entry lead only where its kind may lead."""
    finding = Finding("every line leads where its kind of entry may lead")
    for kind, *ends, first, count in _ends():
        finding.checked += count
        source, target = ends[0] or ends[1], ends[2] or ends[3]
        if (source, target) not in KINDS[Entry.Kind(kind)].ends:
            finding.problems.append(
                f"entry {first} is a {kind} and moves something from {source} to {target}"
            )
    return finding


@kept
def _ends() -> QuerySet[Any, Any]:
    columns = [f"{end}__{name}" for end in ("source", "target") for name in ("place", "kind")]
    lines = Movement.objects.exclude(entry__kind=Entry.Kind.REVERSAL).order_by()
    return lines.values_list("entry__kind", *columns).annotate(Min("entry"), Count("pk"))
