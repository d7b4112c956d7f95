"""Reads of refiners: their terms, batches and what is in them, settlements, what could be sent."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Case, Count, IntegerField, Q, QuerySet, Sum, When

from inventory.core.fineness import Known, know
from inventory.core.ledger import Amount, total_of
from inventory.core.refiners_paper import SettlementSum, compute_settlement
from inventory.core.refining import Expected, Melt, Price
from inventory.models import Batch, Entry, Holder, Lot, Material, Movement, Refiner, RefinerTerms, Settlement
from inventory.models.refining import is_by_weight
from studio.kit.models import only_one

from .ledger import STANDING
from .reclaim_kinds import kind_rules
from .setup import in_use
from .shelf import lots_here
from .studio import current_studio

Kind, Place, What = Entry.Kind, Holder.Place, Movement.What
#: So many lots are offered for a batch on one page, the fullest first.
MOST_OFFERED = 60


KnownPrices = Callable[[str], tuple[Price, date] | None]
_known_prices: list[KnownPrices] = []


def tell_prices(by: KnownPrices) -> KnownPrices:
    """Let what another app knows of the price of a pure metal, and since when, be offered on the page of a batch."""
    _known_prices.append(by)
    return by


def known_price(metal: str) -> tuple[Price, date] | None:
    """The newest price of a pure metal that somebody wrote down, and its day. One query."""
    return next((found for by in _known_prices if (found := by(metal))), None)


def amounts_sent(batch: Batch) -> dict[Lot, Amount]:
    """What each lot put into a batch, in the order of its lines. One query."""
    rows = Movement.objects.filter(STANDING, entry__kind=Kind.SEND, target=batch.holder_id)
    sums: dict[Lot, Amount] = {}
    ends = ("source__lot__material__alloy", "source__lot__from_cast", "source__lot__holder")
    for row in rows.select_related(*ends).order_by("entry", "line"):
        lot = row.source.lot
        sums[lot] = sums.get(lot, Amount()) + Amount(row.quantity, row.fine_ug, row.cost_micro)
    return sums


def expected_of(fine: Iterable[tuple[Lot, Amount]]) -> Expected:
    """What parts of lots weigh, and what may be expected to be metal, with the ends of what is only guessed. Of what is
    paid by its weight all that is metal counts.

    The one place where a batch asks how well a fineness is known. One query.
    """
    rules = kind_rules(current_studio())
    known, gross_mg, book_ug = Known(), 0, 0
    for lot, part in fine:
        mass_mg, fine_ug = part.quantity, part.fine_ug
        alloy = lot.material.alloy
        if alloy is not None and is_by_weight(alloy.metal):
            fine_ug = mass_mg * 1000
        book_ug += fine_ug
        if lot.origin in rules:
            mass_mg, fine_ug = rules[lot.origin].expect(mass_mg), rules[lot.origin].expect(fine_ug)
        is_guess, low_ppm, high_ppm = lot.fineness_is_guess, lot.fine_low_ppm, lot.fine_high_ppm
        known += know(mass_mg, fine_ug, is_guess, low_ppm, high_ppm)
        gross_mg += part.quantity
    return Expected(gross_mg, known.fine_ug, known.least_ug, known.most_ug, book_ug)


def materials_of(metal: str) -> list[Material]:
    """The kinds of things of a precious metal that a refiner may give back, by name."""
    rows = Material.objects.filter(
        archived=False, alloy__metal=metal, alloy__fineness__gt=0, alloy__is_mixed=False
    )
    return list(rows.exclude(form=Material.Form.RECLAIM).select_related("alloy").order_by("name"))


def refiners_in_use() -> "QuerySet[Refiner]":
    return in_use(Refiner)


def refiners_with_batches() -> "QuerySet[Refiner]":
    """Every refiner, with how many batches went there as `batch_count`."""
    return Refiner.objects.annotate(batch_count=Count("batches", filter=Q(batches__void=False))).order_by(
        "name"
    )


def terms_of(refiner: Refiner) -> list[RefinerTerms]:
    """Newest first."""
    return list(refiner.terms.all())


def terms_on(refiner: Refiner, day: date) -> RefinerTerms | None:
    """The terms that held on a day; the first ones for a day before any."""
    found = refiner.terms.filter(since__lte=day).order_by("-since").first()
    return found or refiner.terms.order_by("since").first()


def batches() -> "QuerySet[Batch]":
    """Batches that were not taken back, newest first, each with whether anything of it was settled as `is_settled`."""
    settled = Count("settlements", filter=Q(settlements__void=False))
    return (
        Batch.objects.filter(void=False)
        .select_related("refiner", "holder", "alloy", "owner", "entry", "terms")
        .annotate(settled_count=settled)
        .order_by("-sent_on", "-pk")
    )


def batches_here() -> "QuerySet[Batch]":
    """Batches that still hold something: at the refiner now."""
    return batches().filter(holder__kind=Holder.Kind.BATCH, holder__quantity__gt=0)


def late_batches(today: date) -> list[Batch]:
    """Those that have been away for longer than is usual, the longest first. One query."""
    return sorted(
        (batch for batch in batches_here() if batch.due_on < today),
        key=lambda batch: (batch.due_on, batch.pk),
    )


def find_batch(pk: int) -> Batch | None:
    """A batch with everything that its page shows, one that was taken back too."""
    also = ("refiner", "holder", "alloy", "owner", "entry", "terms")
    return only_one(Batch.objects.select_related(*also).filter(pk=pk))


def latest_batch() -> Batch | None:
    pk = Batch.objects.filter(void=False).order_by("-pk").values_list("pk", flat=True).first()
    return find_batch(pk) if pk else None


@dataclass(frozen=True)
class Outcome:
    """A settlement with what its lines moved: the part of the batch as the book had it, and where it went.

    `lost` and `assay_ug` are below zero where more was found than the book had. `lots` are what came back as metal.
    """

    settlement: Settlement
    lost: Amount
    assay_ug: int
    metal: Amount
    paid: Amount
    kept: Amount
    fee_micro: int
    lots: Sequence[Lot]

    @property
    def part(self) -> Amount:
        """What was drawn from the batch, as the book had it."""
        out = total_of((self.lost, self.metal, self.paid, self.kept))
        return out + Amount(fine_ug=self.assay_ug)

    @property
    def sum(self) -> SettlementSum:
        """What the paper comes to, with its working."""
        paper = self.settlement
        melt = Melt(paper.received_mg, paper.melted_mg, paper.assay, paper.batch.is_by_weight)
        return compute_settlement(melt, paper.payable_pct100, paper.charges, paper.price, self.metal.fine_ug)

    @property
    def gone_micro(self) -> int:
        """What the book had for all that did not come back as metal."""
        return self.lost.cost_micro + self.paid.cost_micro + self.kept.cost_micro

    @property
    def money_micro(self) -> int:
        """The money for it: what came, and the charges that stand in the cost of the metal that came back."""
        return self.settlement.money_micro + self.fee_micro

    @property
    def gain_micro(self) -> int:
        return self.money_micro - self.gone_micro

    @property
    def loss_micro(self) -> int:
        return -self.gain_micro


def outcomes_of(batch: Batch) -> list[Outcome]:
    """The standing settlements of a batch in order. Three queries."""
    settlements = list(
        batch.settlements.filter(void=False).select_related("entry").order_by("settled_on", "pk")
    )
    entries = [one.entry_id for one in settlements]
    lines: dict[int, list[Movement]] = {}
    rows = Movement.objects.filter(entry__in=entries).select_related("source", "target").order_by("line")
    for line in rows:
        lines.setdefault(line.entry_id, []).append(line)
    lots: dict[int, list[Lot]] = {}
    for lot in Lot.objects.filter(entry__in=entries).select_related("material", "holder").order_by("pk"):
        lots.setdefault(lot.entry_id, []).append(lot)
    return [
        _outcome(one, batch.holder_id, lines.get(one.entry_id, []), lots.get(one.entry_id, []))
        for one in settlements
    ]


def _outcome(settlement: Settlement, holder: int, lines: Sequence[Movement], lots: Sequence[Lot]) -> Outcome:
    sums: dict[str, Amount] = {}
    fee_micro = 0
    for line in lines:
        amount = Amount(line.quantity, line.fine_ug, line.cost_micro)
        if line.what == What.CHARGES:
            fee_micro += line.cost_micro
        elif line.source_id == holder:
            sums[line.what] = sums.get(line.what, Amount()) + amount
        elif line.target_id == holder:
            sums[line.what] = sums.get(line.what, Amount()) - amount
    nothing = Amount()
    return Outcome(
        settlement,
        sums.get(What.LOSS, nothing),
        sums.get(What.ASSAY, nothing).fine_ug,
        sums.get(What.METAL, nothing),
        sums.get(What.PAID, nothing),
        sums.get(What.KEPT, nothing),
        fee_micro,
        lots,
    )


def returns_of(batch: Batch) -> "QuerySet[Entry]":
    """The standing entries by which a batch was sent back."""
    lines = Movement.objects.filter(STANDING, entry__kind=Kind.SENT_BACK, source=batch.holder_id)
    return Entry.objects.filter(pk__in=lines.values("entry"))


def batch_of_entry(entry: Entry) -> Batch:
    """The batch that an entry takes from. Raises Batch.DoesNotExist."""
    return Batch.objects.filter(holder__movements_out__entry=entry).distinct().get()


def find_batch_of(entry: Entry) -> int | None:
    """The key of the batch that an entry fills or empties, None for an entry of something else."""
    ends = Q(holder__movements_in__entry=entry) | Q(holder__movements_out__entry=entry)
    return Batch.objects.filter(ends).order_by().values_list("pk", flat=True).first()


def sendable_lots(metal: str, owner: int | None = None, first: int | None = None) -> list[Lot]:
    """Lots of a metal that could go to a refiner: reclaim and scrap first, the fullest at the top.

    Fresh metal comes last: it is sent seldom. `first` is the key of a lot that stands before all others.
    """
    order = Case(
        When(pk=first or 0, then=-1),
        When(origin__in=(Lot.Origin.FILINGS, Lot.Origin.SWEEPS, Lot.Origin.SPILL), then=0),
        When(material__form=Material.Form.SCRAP, then=1),
        When(origin=Lot.Origin.CLEAN, then=2),
        default=3,
        output_field=IntegerField(),
    )
    rows = lots_here(material__kind=Material.Kind.METAL, material__alloy__metal=metal, owner=owner)
    return list(
        rows.annotate(place=order)
        .select_related("holder", "material__alloy", "from_cast", "owner")
        .order_by("place", "-holder__quantity", "pk")[:MOST_OFFERED]
    )


def metals_to_send() -> list[tuple[str, int | None, str, int]]:
    """(metal, owner's key, owner's name, milligrams) of all metal here, the studio's own first. One query."""
    rows: Iterable[Any] = (
        lots_here(material__kind=Material.Kind.METAL)
        .order_by()
        .values_list("material__alloy__metal", "owner", "owner__name")
        .annotate(mass=Sum("holder__quantity"))
    )
    found = [(metal, owner, name or "", mass) for metal, owner, name, mass in rows]
    return sorted(found, key=lambda row: (row[1] is not None, row[2].casefold(), row[0]))


def batches_with(lot: Lot) -> list[tuple[Batch, int]]:
    """Every batch that holds or held something of a lot, with the milligrams that were sent, newest first."""
    rows = (
        Movement.objects.filter(STANDING, entry__kind=Kind.SEND, source=lot.holder_id)
        .order_by()
        .values_list("target__batch")
        .annotate(mass=Sum("quantity"))
    )
    sent = dict(rows)
    return [(batch, sent[batch.pk]) for batch in batches().filter(pk__in=list(sent))]
