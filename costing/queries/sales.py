"""Reads of sales: which lines count, what is out to be sold, what is owed, and bills.

A line counts while the entry by which its piece left stands, or one that was written again for it: that keeps the
place of the first in the book, which is its key. No state of it is copied.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import BigIntegerField, Count, Exists, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from costing.core.sale import ADDED, LineMoney, PaidBack, SaleMoney, SaleTerms
from costing.models import CustomerBill, Outing, OutPiece, Refund, Sale, SaleLine, SalesPractice
from inventory.models import Entry, Movement, Piece
from inventory.queries.bench import Waiting, register_waiting
from inventory.queries.kept import kept_for
from inventory.queries.ledger import STANDING, TURN, TURN_OF_ITS_ENTRY, standing_entries
from inventory.queries.pieces import HERE, register_lent, standing_pieces
from studio.kit.models import only_one

Kind = Entry.Kind


def sales_practice() -> SalesPractice:
    """How the studio sells; plain defaults, not saved, while it never said."""
    return only_one(SalesPractice.objects.all()) or SalesPractice(pk=1)


def _now_of(entry: str, piece: str, kind: Kind) -> "QuerySet[Entry]":
    """The entry that stands for one that was posted first; few entries have a piece, so it is found by that."""
    found = standing_entries().filter(piece=OuterRef(piece), kind=kind).annotate(place=TURN)
    return found.filter(place=OuterRef(entry)).order_by()


def _cost_of(entry: str, holder: str, kind: Kind, end: str) -> Subquery:
    lines = Movement.objects.filter(STANDING, entry__kind=kind, **{end: OuterRef(holder)})
    lines = lines.annotate(place=TURN_OF_ITS_ENTRY).filter(place=OuterRef(entry)).order_by()
    return Subquery(lines.values("cost_micro")[:1], output_field=BigIntegerField())


def _lines() -> "QuerySet[Any]":
    """The lines that count, with the day they were sold on (`sold_on`): what a sum over them needs."""
    sold_on = Subquery(_now_of("entry_id", "piece_id", Kind.SALE).values("day")[:1])
    return SaleLine.objects.annotate(sold_on=sold_on).filter(sold_on__isnull=False)


def counted_lines() -> "QuerySet[Any]":
    """The same with what they are of, and the cost that left (`book_micro`)."""
    return (
        _lines()
        .annotate(book_micro=_cost_of("entry_id", "piece__holder_id", Kind.SALE, "source"))
        .select_related("sale__channel", "sale__outing", "piece__cast__alloy", "piece__design")
    )


def _refunds() -> "QuerySet[Any]":
    """What was paid back and counts, with the day of its return if there is one (`returned_on`)."""
    back = Subquery(_now_of("entry_id", "line__piece_id", Kind.RETURN).values("day")[:1])
    sold = Exists(_now_of("line__entry_id", "line__piece_id", Kind.SALE))
    refunds = Refund.objects.filter(sold, void=False).annotate(returned_on=back)
    return refunds.filter(Q(entry__isnull=True) | Q(returned_on__isnull=False))


def counted_refunds() -> "QuerySet[Any]":
    """The same with its day (`back_on`), the entry of its return, the cost that came back, and what it is of."""
    return (
        _refunds()
        .annotate(
            returned_by=Subquery(_now_of("entry_id", "line__piece_id", Kind.RETURN).values("pk")[:1]),
            back_on=Coalesce(F("returned_on"), F("day")),
            book_micro=_cost_of("entry_id", "line__piece__holder_id", Kind.RETURN, "target"),
        )
        .select_related("line__sale__channel", "line__piece__cast__alloy", "line__piece__design")
    )


def _sum_by(rows: "QuerySet[Any]", of: str, **sums: Any) -> dict[str, Coalesce]:
    """Sums of rows of a sale, as parts of a query of sales."""
    of_one = rows.filter(**{of: OuterRef("pk")}).order_by().values(of)
    return {
        name: Coalesce(
            Subquery(of_one.annotate(added=Sum(what)).values("added"), output_field=BigIntegerField()), 0
        )
        for name, what in sums.items()
    }


_FEES = F("commission_micro") + F("card_micro") + F("day_micro") + F("shipping_micro")
_THEIRS = F("paid_micro") - F("commission_micro") - F("card_micro")


def sales() -> "QuerySet[Any]":
    """Sales with what was paid, what is left of it before tax, what was paid back, and what whoever sold them owes.

    Without those of which no line counts any more.
    """
    lines, refunds = _lines(), _refunds()
    counted = (
        lines.filter(sale=OuterRef("pk"))
        .order_by()
        .values("sale")
        .annotate(count=Count("pk"))
        .values("count")
    )
    return (
        Sale.objects.annotate(
            count=Subquery(counted, output_field=BigIntegerField()),
            **_sum_by(
                lines,
                "sale",
                paid=F("paid_micro"),
                left=F("paid_micro") - F("tax_micro") - _FEES,
                theirs=_THEIRS,
            ),
            **_sum_by(
                refunds,
                "line__sale",
                refunded=F("amount_micro"),
                unleft=F("amount_micro") - F("tax_micro") - F("fees_back_micro"),
                untheirs=F("amount_micro") - F("fees_back_micro"),
            ),
        )
        .annotate(left_now=F("left") - F("unleft"), owed=F("theirs") - F("untheirs"))
        .filter(count__gt=0)
        .select_related("channel", "outing")
    )


def sales_owed() -> "QuerySet[Any]":
    """What galleries and others have sold and not paid for, the longest owed first."""
    return sales().filter(is_owed=True, paid_on__isnull=True).order_by("day")


def count_long_owed(today: date) -> int:
    """How many sales are owed for longer than the studio lets them be."""
    before = today - timedelta(days=sales_practice().owed_days)
    waiting = Sale.objects.filter(is_owed=True, paid_on__isnull=True, day__lt=before)
    return waiting.filter(Exists(_lines().filter(sale=OuterRef("pk")))).count()


@register_waiting
def tell_long_owed(today: date) -> Waiting:
    return count_long_owed(today), "sale long owed", "sales long owed", "costing:sales-owed"


def find_line(pk: int) -> SaleLine | None:
    return only_one(counted_lines().filter(pk=pk))


def refunds_of(lines: Collection[int]) -> dict[int, list[Refund]]:
    """What counts of what was paid back, by line."""
    found: dict[int, list[Refund]] = {}
    for refund in counted_refunds().filter(line__in=lines):
        found.setdefault(refund.line_id, []).append(refund)
    return found


def money_of(sale: Sale, lines: Sequence[SaleLine]) -> SaleMoney:
    """The money of a sale as it was written down, of those of its lines that count."""
    terms = SaleTerms(tax=sale.tax, tax_pct100=int(sale.tax_pct100), by_line=sale.tax_by_line)
    return SaleMoney(
        terms,
        tuple(
            LineMoney(
                line.price_micro,
                line.discount_micro,
                line.tax_micro,
                sale.tax == ADDED,
                line.commission_micro,
                line.card_micro,
                line.day_micro,
                line.shipping_micro,
            )
            for line in lines
        ),
    )


def add_paid_back(refunds: Iterable[Refund]) -> PaidBack:
    rows = list(refunds)
    return PaidBack(
        sum(row.amount_micro for row in rows),
        sum(row.tax_micro for row in rows),
        sum(row.fees_back_micro for row in rows),
    )


def is_all_back(line: SaleLine, refunds: Iterable[Refund]) -> bool:
    """Whether the piece came back and all that was paid for it went back."""
    rows = list(refunds)
    return any(row.entry_id for row in rows) and add_paid_back(rows).amount_micro >= line.paid_micro


@dataclass(frozen=True)
class SoldLine:
    """A line that counts, with what counts of what was paid back of it."""

    line: SaleLine
    refunds: Sequence[Refund]

    @property
    def left_micro(self) -> int:
        """Before tax and after every fee, less what was paid back."""
        return self.line.left_micro - add_paid_back(self.refunds).unleft_micro

    @property
    def is_all_back(self) -> bool:
        return is_all_back(self.line, self.refunds)


def paid_back_since(bill: Any, lines: Sequence[SaleLine], refunds: Iterable[Refund]) -> int:
    """What of a bill of `bills()` was paid back after it was written: what it asks above what the sale comes to now."""
    back = sum(refund.amount_micro for refund in refunds)
    now = sum(line.paid_micro for line in lines) - back
    return max(min(bill.total - now, back), 0)


def find_refund(pk: int) -> Any:
    """What was paid back and counts, with the entry of its return (`returned_by`)."""
    return only_one(counted_refunds().filter(pk=pk))


def last_departure(piece: Piece) -> Entry | None:
    """The standing entry by which a piece left the last time."""
    found = standing_entries().filter(piece=piece, kind=Kind.SALE).annotate(place=TURN)
    return found.order_by("-place", "-pk").first()


def left_without_price() -> "QuerySet[Piece]":
    """Pieces of the studio's metal that left and whose price nobody wrote down, the latest first."""
    left = (
        standing_entries()
        .filter(piece=OuterRef("pk"), kind=Kind.SALE)
        .annotate(place=TURN)
        .order_by("-place")
    )
    priced = SaleLine.objects.filter(piece=OuterRef("pk"), entry=OuterRef("left_by"))
    return (
        standing_pieces()
        .filter(state=Piece.State.SOLD, cast__owner=None)
        .annotate(left_by=Subquery(left.values("place")[:1]))
        .filter(~Exists(priced))
        .order_by("-state_on", "-pk")
    )


def not_back() -> "QuerySet[OutPiece]":
    """Rows of pieces that did not come back from where they went last, nor were sold from there."""
    sold = _lines().filter(piece=OuterRef("piece"), sale__outing=OuterRef("outing"))
    # Gone out again, it cannot be where it was before, even when the sale by which it left there is taken back.
    later = OutPiece.objects.filter(piece=OuterRef("piece"), pk__gt=OuterRef("pk"))
    return OutPiece.objects.filter(~Exists(sold), ~Exists(later), back_on__isnull=True, piece__void=False)


def still_out() -> "QuerySet[OutPiece]":
    """Pieces that are out: neither back, nor sold from there, nor gone otherwise."""
    return (
        not_back()
        .filter(piece__state__in=HERE)
        .select_related("outing__channel", "piece__cast__alloy", "piece__holder")
        .order_by("piece__cast__number", "piece__number")
    )


@register_lent
def tell_lent(pieces: Collection[int]) -> dict[int, tuple[str, date]]:
    """Who has which of some pieces, and since when."""
    # Whoever posts about pieces asks, and mostly none is out.
    lent = [row for (row,) in _lent(pieces)]
    if not lent:
        return {}
    rows = OutPiece.objects.filter(pk__in=lent).select_related("outing__channel")
    return {row.piece_id: (str(row.outing), row.outing.day) for row in rows}


@kept_for
def _lent(pieces: Collection[int]) -> "QuerySet[OutPiece, Any]":
    return still_out().filter(piece__in=pieces).order_by().values_list("pk")


def out_rows(outing: Outing) -> "QuerySet[OutPiece]":
    """All that went out with an outing, whatever became of it since."""
    return outing.lines.select_related("piece__cast__alloy").order_by("piece__cast__number", "piece__number")


def outings() -> "QuerySet[Any]":
    """Outings with how many pieces went out and how many are out still."""
    out = still_out().select_related(None).filter(outing=OuterRef("pk")).order_by().values("outing")
    return (
        Outing.objects.annotate(
            went=Count("lines", distinct=True),
            out=Coalesce(
                Subquery(out.annotate(n=Count("pk")).values("n"), output_field=BigIntegerField()), 0
            ),
        )
        .select_related("channel")
        .order_by("-day", "-pk")
    )


def pieces_to_offer(but_out: bool = True) -> "QuerySet[Piece]":
    """Pieces of the studio's metal that are here and not out to be sold, newest cast first."""
    here = standing_pieces().filter(
        state__in=HERE,
        cast__owner=None,
        cast__closed_on__isnull=False,
        holder__kind="piece",
        holder__quantity__gt=0,
    )
    if but_out:
        here = here.exclude(pk__in=still_out().values("piece"))
    return here.order_by("-cast__number", "number")


def bills() -> "QuerySet[Any]":
    added = Sum(F("rows__before_tax_micro") + F("rows__tax_micro"))
    return CustomerBill.objects.annotate(total=Coalesce(added, 0)).order_by("-year", "-number")


def last_bill_number(year: int) -> int:
    return (
        CustomerBill.objects.filter(year=year).order_by("-number").values_list("number", flat=True).first()
        or 0
    )
