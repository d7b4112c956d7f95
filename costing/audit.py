"""Costing's part of the audit: what the pieces of a cast carry, and the money of sales beside the book."""

from collections import Counter
from collections.abc import Iterator
from typing import Any

from django.db.models import F, QuerySet, Sum

from costing.core.inputs import check_cast_adds_up
from costing.core.sale import ADDED, NONE
from costing.models import CustomerBill, OutPiece, SaleLine
from costing.queries.costed import CostedCast, cost_casts
from costing.queries.sales import counted_refunds, not_back
from inventory.audit import Finding, Ledger, register_check
from inventory.models import Cast, Entry, Piece
from inventory.queries.kept import count_of, kept
from inventory.queries.ledger import standing_entries

# So many at once: their pieces and movements fit in memory, however many years there are.
AT_ONCE = 1000
FEES = tuple(f"{name}_micro" for name in ("commission", "card", "day", "shipping"))


@register_check
def check_costs_add_up(ledger: Ledger) -> Finding:
    """Promise 6, over every closed cast by the rules of its own day."""
    finding = Finding("the cost of a cast is what its pieces carry and what was set aside")
    numbers = [pk for (pk,) in _closed_casts()]
    for start in range(0, len(numbers), AT_ONCE):
        costed = cost_casts(numbers[start : start + AT_ONCE])
        for number in list(costed):
            finding.checked += 1
            # Each is let go once it was judged, and its cost with it.
            finding.problems += _problems_of(costed.pop(number))
    return finding


@kept
def _closed_casts() -> QuerySet[Cast, Any]:
    return Cast.objects.filter(closed_on__isnull=False).order_by("pk").values_list("pk")


def _problems_of(costed: CostedCast) -> Iterator[str]:
    number = costed.cast.number
    problems = check_cast_adds_up(costed.inputs)
    if problems:
        yield f"cast {number}: {problems[0]}"
        return
    cost = costed.cost
    carried_micro = sum(cost.piece_totals_micro)
    if carried_micro + cost.set_aside_micro != cost.total_micro:
        yield (
            f"cast {number} cost {cost.total_micro} millionths; its pieces carry {carried_micro} and "
            f"{cost.set_aside_micro} is set aside"
        )
    for line in cost.lines:
        if sum(line.piece_micro) + line.set_aside_micro != line.total_micro:
            yield f"cast {number}: the line {line.label!r} does not add up"


@register_check
def check_sales_money(ledger: Ledger) -> Finding:
    finding = Finding(
        "what was paid is price, discount and tax; at most that was paid back, and its fees at most"
    )
    back = {line: amounts for line, *amounts in _paid_back()}
    for pk, price, discount, tax, paid, how, rate, *fees in _sold():
        finding.checked += 1
        if paid != price - discount + (tax if how == ADDED else 0):
            finding.problems.append(
                f"line {pk} of a sale says {paid} paid; price, discount and tax say otherwise"
            )
        if tax and (how == NONE or not rate):
            finding.problems.append(f"line {pk} of a sale has {tax} of tax, and the sale has none")
        most = (paid, tax, sum(fees))
        if any(one > limit for one, limit in zip(back.get(pk, ()), most, strict=False)):
            finding.problems.append(
                f"of line {pk} of a sale {back[pk]} was paid back, and {most} is the most"
            )
    return finding


@kept
def _paid_back() -> QuerySet[Any, Any]:
    sums = {name: Sum(f"{name}_micro") for name in ("amount", "tax", "fees_back")}
    refunds = counted_refunds().select_related(None).order_by().values("line").annotate(**sums)
    return refunds.values_list("line", *sums)


@kept
def _sold() -> QuerySet[SaleLine, Any]:
    money = ("price_micro", "discount_micro", "tax_micro", "paid_micro")
    return SaleLine.objects.order_by("pk").values_list("pk", *money, "sale__tax", "sale__tax_pct100", *FEES)


@register_check
def check_sold_pieces(ledger: Ledger) -> Finding:
    """A line counts by its entry, so that entry must be how its piece left."""
    finding = Finding("a piece that was sold left by its sale, and is gone until it comes back")
    gone: Counter[int] = Counter()
    for piece, kind in _out_and_back():
        gone[piece] += 1 if kind == Entry.Kind.SALE else -1
    for pk, piece, state, entry, kind, left in _sold_pieces():
        finding.checked += 1
        if (kind, left) != (Entry.Kind.SALE, piece):
            finding.problems.append(f"line {pk} sells piece {piece} by entry {entry}, which did not")
        if (state == Piece.State.SOLD) != (gone[piece] == 1):
            finding.problems.append(
                f"piece {piece} of a sale is {state}, and {gone[piece]} times sold and not back"
            )
    return finding


@kept
def _out_and_back() -> QuerySet[Entry, Any]:
    moved = standing_entries().filter(kind__in=(Entry.Kind.SALE, Entry.Kind.RETURN), piece__isnull=False)
    return moved.order_by("pk").values_list("piece", "kind")


@kept
def _sold_pieces() -> QuerySet[SaleLine, Any]:
    columns = ("piece", "piece__state", "entry", "entry__kind", "entry__piece")
    return SaleLine.objects.order_by("pk").values_list("pk", *columns)


@register_check
def check_out_pieces(ledger: Ledger) -> Finding:
    finding = Finding("what is out to be sold was not melted, and came back no sooner than it went")
    [(finding.checked,)] = _number_of_out_pieces()
    finding.problems += [
        f"piece {piece} is out with outing {outing} and was melted" for piece, outing in _out_and_melted()
    ]
    finding.problems += [
        f"piece {piece} came back from outing {outing} before it went" for piece, outing in _back_early()
    ]
    return finding


@kept
def _number_of_out_pieces() -> QuerySet[Any, Any]:
    return count_of(OutPiece.objects.all())


@kept
def _out_and_melted() -> QuerySet[OutPiece, Any]:
    melted = not_back().filter(piece__state=Piece.State.MELTED).order_by("pk")
    return melted.values_list("piece", "outing")


@kept
def _back_early() -> QuerySet[OutPiece, Any]:
    early = OutPiece.objects.filter(back_on__lt=F("outing__day")).order_by("pk")
    return early.values_list("piece", "outing")


@register_check
def check_bill_numbers(ledger: Ledger) -> Finding:
    finding = Finding("the bills of a year are numbered from one, and none is left out")
    last: Counter[int] = Counter()
    for year, number in _bill_numbers():
        finding.checked += 1
        if number != last[year] + 1:
            finding.problems.append(f"bill {year}-{number:03} follows number {last[year]}")
        last[year] = number
    return finding


@kept
def _bill_numbers() -> QuerySet[CustomerBill, Any]:
    return CustomerBill.objects.order_by("year", "number").values_list("year", "number")
