"""The checks that no metal comes from nothing: what was found or regained was lost, and what is here came in."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import astuple
from datetime import date

from django.db.models import Count, F, Min, Q

from inventory.core.fineness import ROUNDINGS_UG, Known, Melt, compute_middle_ug
from inventory.core.ledger import Amount, total_of
from inventory.core.weighing import compute_weighing_uncertainty
from inventory.models import Batch, Cast, Entry, FinenessNote, Holder, Lot, Material, Movement, Piece, Studio
from inventory.posting.assaying import say_of_lot
from inventory.posting.kinds import ARRIVALS, KINDS
from inventory.queries.fineness import read_melts, standing_notes
from inventory.queries.ledger import STANDING
from studio.kit.units import PPM_PER_MILLE

from .reading import MEASURES, EntryRow, Ledger, Row, print_amount, stream
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
    lost_place = _place(Place.LOST)
    lost: dict[int, Amount] = defaultdict(Amount)
    closed = dict(stream(Cast.objects.filter(closed_on__isnull=False), ("pk", "closed_on")))
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
    lost_place = _place(Place.LOST)
    lost_mg: dict[int | None, int] = defaultdict(int)
    rows = Movement.objects.filter(STANDING, Q(source=lost_place) | Q(target=lost_place)).order_by()
    for cast, target, quantity in stream(rows, ("entry__cast", "target", "quantity")):
        lost_mg[cast] += quantity if target == lost_place else -quantity
    studio = Studio.objects.first()
    division_mg = max(COARSEST_DIVISION_MG, studio.scale_division_mg if studio else 0)
    for cast, mg in lost_mg.items():
        finding.checked += 1
        explained_mg = _explained_mg(cast, division_mg) if mg < 0 else 0
        if mg < -explained_mg:
            whose = f"cast {Cast.objects.get(pk=cast).number}" if cast else "metal of no cast"
            finding.problems.append(
                f"{whose} has {mg} mg lost: its weighings explain {explained_mg} mg too much"
            )
    return finding


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
    outside = Q(kind=Holder.Kind.OUTSIDE)
    here, gone = Amount(), Amount()
    for numbers in stream(Holder.objects.exclude(outside), MEASURES):
        finding.checked += 1
        here += Amount(*numbers)
    for (pk,) in stream(Holder.objects.filter(outside), ("pk",)):
        gone += ledger.balance(pk)
    if not (here + gone).is_nothing:
        finding.problems.append(
            f"the studio holds {print_amount(here)}; by its movements {print_amount(Amount() - gone)}"
        )
    return finding


@register_check
def check_taken_back(ledger: Ledger) -> Finding:
    finding = Finding("a lot, piece or batch that was taken back holds nothing")
    for model in (Lot, Piece, Batch):
        rows = model._default_manager.filter(void=True).order_by("pk")
        for pk, *numbers in stream(rows, ("pk", *(f"holder__{name}" for name in MEASURES))):
            finding.checked += 1
            if any(numbers):
                name = model._meta.verbose_name
                finding.problems.append(
                    f"{name} {pk} was taken back and holds {print_amount(Amount(*numbers))}"
                )
    return finding


@register_check
def check_fineness(ledger: Ledger) -> Finding:
    """Metal comes in counted at its alloy's fineness, or at the middle of what somebody guessed it to be."""
    finding = Finding("metal is counted at the fineness of its alloy, or of its guess")
    came_in = Movement.objects.filter(
        entry__kind__in=ARRIVALS, target__lot__entry=F("entry"), quantity__gt=0
    ).order_by("pk")
    notes = FinenessNote.objects.filter(entry__kind__in=ARRIVALS, low_ppm__isnull=False).order_by("pk")
    guessed = {
        (lot, entry): (low, high)
        for lot, entry, low, high in stream(notes, ("lot", "entry", "low_ppm", "high_ppm"))
    }
    columns = ("target__lot", "entry", "target__lot__material__alloy__fineness", "quantity", "fine_ug")
    for lot, entry, fineness, quantity, fine_ug in stream(came_in, columns):
        finding.checked += 1
        says, guess = fineness or 0, guessed.get((lot, entry))
        low, high = guess or (says * PPM_PER_MILLE, says * PPM_PER_MILLE)
        if fine_ug != compute_middle_ug(quantity, low, high):
            whose = f"its guess says {low} to {high} ppm" if guess else f"its alloy says {says} of 1000"
            finding.problems.append(f"lot {lot} came in with {fine_ug} fine_ug in {quantity}; {whose}")
    return finding


@register_check
def check_known_fineness(ledger: Ledger) -> Finding:
    """What casts and lots say of how well their fineness is known follows from what was said of lots."""
    finding = Finding("how well a fineness is known follows from the charges and the tins")
    melts = read_melts()
    columns = ("pk", "crucible_holder", "fineness_is_guess", "fine_low_ug", "fine_high_ug")
    for pk, crucible, *says in stream(Cast.objects.order_by("pk"), columns):
        finding.checked += 1
        known = melts.get(crucible, Melt(Known())).known
        if says != [known.is_guess, known.low_ug, known.high_ug]:
            finding.problems.append(f"cast {pk} says {says} of its fineness; its charge makes {known}")
    notes = {note.lot_id: note for note in standing_notes()}
    metal = Lot.objects.filter(void=False, material__kind=Material.Kind.METAL)
    for lot in metal.select_related("material", "from_cast").order_by("pk").iterator():
        finding.checked += 1
        wanted = say_of_lot(lot, notes.get(lot.pk), melts)
        if wanted != (lot.fineness_by, lot.fine_low_ppm, lot.fine_high_ppm):
            finding.problems.append(
                f"lot {lot.pk} says {lot.fineness_by} of its fineness, and should say {wanted}"
            )
    return finding


@register_check
def check_fine_metal(ledger: Ledger) -> Finding:
    finding = Finding("nothing has more fine metal than it weighs, and only metal has any")
    rows = Holder.objects.filter(fine_ug__gt=0).exclude(kind=Holder.Kind.OUTSIDE).order_by("pk")
    for pk, quantity, fine_ug, kind in stream(rows, ("pk", "quantity", "fine_ug", "lot__material__kind")):
        finding.checked += 1
        if kind not in (None, Material.Kind.METAL):
            finding.problems.append(f"holder {pk} is a lot of {kind} and holds {fine_ug} fine_ug")
        elif fine_ug > quantity * 1000 + ROUNDINGS_UG:
            finding.problems.append(f"holder {pk} holds {fine_ug} fine_ug in {quantity}: above 1000 of 1000")
    return finding


@register_check
def check_own_lots(ledger: Ledger) -> Finding:
    """Metal that is weighed out, filed off, found or melted back never slips into a lot that was there before."""
    finding = Finding("what an entry brings into stock is a lot of its own")
    lines = Movement.objects.filter(entry__kind__in=_INTO_OWN_LOTS, target__lot__isnull=False)
    finding.checked = lines.count()
    mended = dict(stream(Entry.objects.filter(replaces__isnull=False).order_by("pk"), ("pk", "replaces")))
    others = lines.exclude(target__lot__entry=F("entry")).order_by("pk")
    for entry, kind, lot, made_by in stream(
        others, ("entry", "entry__kind", "target__lot", "target__lot__entry")
    ):
        # One that was mended made the lots that the entry in its place has now.
        before = mended.get(made_by)
        while before is not None and before != entry:
            before = mended.get(before)
        if before is None:
            finding.problems.append(
                f"entry {entry} is a {kind} and puts something into lot {lot}, not its own"
            )
    return finding


@register_check
def check_ends(ledger: Ledger) -> Finding:
    """The lines of an entry lead only where its kind may lead."""
    finding = Finding("every line leads where its kind of entry may lead")
    columns = [f"{end}__{name}" for end in ("source", "target") for name in ("place", "kind")]
    kinds = (
        Movement.objects.exclude(entry__kind=Entry.Kind.REVERSAL)
        .order_by()
        .values_list("entry__kind", *columns)
    )
    for kind, *ends, first, count in kinds.annotate(Min("entry"), Count("pk")):
        finding.checked += count
        source, target = ends[0] or ends[1], ends[2] or ends[3]
        if (source, target) not in KINDS[Entry.Kind(kind)].ends:
            finding.problems.append(
                f"entry {first} is a {kind} and moves something from {source} to {target}"
            )
    return finding


def _place(place: Place) -> int:
    return Holder.objects.get(place=place).pk
