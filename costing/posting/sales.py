"""Sales and what is paid back: each piece leaves or comes back by the book, and the money is written beside it."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from django.contrib.auth.models import User

from costing.core.sale import SaleTerms, check_sale, compute_sale, compute_tax_back
from costing.models import BillRow, Channel, CustomerBill, Outing, OutPiece, Refund, Sale, SaleLine
from costing.queries.policy import all_policies, policy_on
from costing.queries.sales import (
    add_paid_back,
    counted_lines,
    find_line,
    last_bill_number,
    last_departure,
    left_without_price,
    refunds_of,
    sales_practice,
    still_out,
)
from inventory.models import Entry, Piece
from inventory.posting.book import open_book
from inventory.posting.locking import studio_locked
from inventory.posting.pieces import add_return, add_sale
from inventory.posting.refusal import Refused
from inventory.queries.ledger import last_moved_on, turn_of
from inventory.queries.pieces import HERE
from inventory.queries.studio import current_studio
from studio.kit.printing import print_day, print_money


@dataclass(frozen=True, slots=True)
class Sold:
    """A piece with what was asked for it and what it went for, before any discount; millionths."""

    piece: Piece
    price_micro: int
    asked_micro: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SaleFacts:
    """Through what, when, to whom, and from which outing. `is_owed` tells that the channel took the money."""

    channel: Channel
    day: date
    buyer: str = ""
    note: str = ""
    outing: Outing | None = None
    is_owed: bool = False


def terms_of(channel: Channel, day: date) -> SaleTerms:
    """What a channel keeps of a sale, with the tax of its day and as the studio rounds it."""
    return SaleTerms(
        tax=channel.tax,
        tax_pct100=int(policy_on(day, all_policies()).tax_pct100),
        by_line=sales_practice().tax_by_line,
        commission_pct100=int(channel.commission_pct100),
        card_pct100=int(channel.card_pct100),
        card_each_micro=int(channel.card_micro),
        shipping_micro=int(channel.shipping_micro),
        unit_micro=current_studio().penny_micro,
    )


def post_sold(
    facts: SaleFacts, sold: Sequence[Sold], terms: SaleTerms | None = None, by: User | None = None
) -> Sale:
    """Sell pieces together: each leaves by an entry of its own, and the sale's money stands beside them. All, or none.

    A piece that left without a price keeps its entry, and gets the money that was forgotten. Raises Refused for a
    piece that is not here, is a customer's or is out elsewhere, and for a discount above the prices.
    """
    terms = terms or terms_of(facts.channel, facts.day)
    problem = check_sale([one.price_micro for one in sold], terms)
    if problem:
        raise Refused(problem, "discount" if "discount" in problem else "")
    with studio_locked():
        pieces = [one.piece for one in sold]
        gone = left_without_price().in_bulk([piece.pk for piece in pieces])
        _refuse_elsewhere(pieces, facts.outing)
        if facts.outing is not None:
            _refuse_not_there([piece for piece in pieces if piece.pk not in gone], facts.outing, facts.day)
        with open_book(by) as book:
            entries = [
                None if piece.pk in gone else add_sale(book, piece, facts.day, facts.note) for piece in pieces
            ]
            _refuse_theirs(pieces)
        first = [
            entry.pk if entry is not None else gone[piece.pk].left_by  # type: ignore[attr-defined]  # annotated
            for entry, piece in zip(entries, pieces, strict=True)
        ]
        return _write_money(facts, sold, terms, first, by)


def _write_money(
    facts: SaleFacts, sold: Sequence[Sold], terms: SaleTerms, entries: Sequence[int], by: User | None
) -> Sale:
    money = compute_sale([one.price_micro for one in sold], terms)
    sale = Sale.objects.create(
        channel=facts.channel,
        outing=facts.outing,
        day=facts.day,
        buyer=facts.buyer,
        note=facts.note,
        tax=terms.tax,
        tax_pct100=terms.rate_pct100,
        tax_by_line=terms.by_line,
        is_owed=facts.is_owed,
        recorded_by=by,
    )
    SaleLine.objects.bulk_create(
        SaleLine(
            sale=sale,
            piece=one.piece,
            entry_id=entry,
            asked_micro=one.asked_micro,
            price_micro=line.price_micro,
            discount_micro=line.discount_micro,
            paid_micro=line.paid_micro,
            tax_micro=line.tax_micro,
            commission_micro=line.commission_micro,
            card_micro=line.card_micro,
            day_micro=line.day_micro,
            shipping_micro=line.shipping_micro,
        )
        for one, line, entry in zip(sold, money.lines, entries, strict=True)
    )
    return sale


def _refuse_theirs(pieces: Sequence[Piece]) -> None:
    for piece in pieces:
        if piece.cast.owner_id is not None:
            raise Refused(
                f"{piece.name} is {piece.cast.owner}'s own metal: hand it over on its page instead."
            )


def _refuse_elsewhere(pieces: Sequence[Piece], outing: Outing | None) -> None:
    for row in still_out().filter(piece__in=[piece.pk for piece in pieces]):
        if outing is None or row.outing_id != outing.pk:
            since = print_day(row.outing.day, with_year=True)
            raise Refused(
                f"{row.piece.name} is out with {row.outing} since {since}. Sell it from there, or write first that it "
                "came back."
            )


def _refuse_not_there(pieces: Sequence[Piece], outing: Outing, day: date) -> None:
    """Raise Refused for pieces that an outing has not got, and for a day before it had them."""
    there = set(still_out().filter(outing=outing).values_list("piece", flat=True))
    for piece in pieces:
        if piece.pk not in there:
            raise Refused(f"{piece.name} is not out with {outing} any more. Open the page again.")
    _refuse_before_they_went(outing, day, "were sold")


def _refuse_before_they_went(outing: Outing, day: date, what: str) -> None:
    if day < outing.day:
        raise Refused(
            f"They went out on {print_day(outing.day, with_year=True)}: they {what} then or later.", "day"
        )


@dataclass(frozen=True, slots=True)
class Back:
    """What is paid back of a line, the fees that come back with it, and whether the piece did; millionths."""

    amount_micro: int
    day: date
    came_back: bool = True
    fees_back_micro: int = 0
    reason: str = ""


def post_refund(line: SaleLine, back: Back, by: User | None = None) -> Refund:
    """Pay back some or all of what a piece went for; where it came back, it is in the book again.

    Raises Refused for more than was paid, for a sale that was taken back, and for a piece that was sold again since.
    """
    with studio_locked() as studio:
        now = find_line(line.pk)
        if now is None:
            raise Refused("This sale was taken back meanwhile. Open the page again.")
        before = refunds_of([line.pk]).get(line.pk, [])
        _refuse_refund(now, before, back)
        entry = _post_return(now, back, by) if back.came_back else None
        so_far = sum(one.amount_micro for one in before)
        tax_micro = compute_tax_back(
            so_far + back.amount_micro, now.paid_micro, now.tax_micro, studio.penny_micro
        )
        return Refund.objects.create(
            line=now,
            entry=entry,
            day=back.day,
            amount_micro=back.amount_micro,
            tax_micro=min(max(tax_micro - sum(one.tax_micro for one in before), 0), back.amount_micro),
            fees_back_micro=back.fees_back_micro,
            reason=back.reason,
            recorded_by=by,
        )


def _post_return(line: SaleLine, back: Back, by: User | None) -> Entry:
    left = last_departure(line.piece)
    if left is None or turn_of(left) != line.entry_id:
        raise Refused(
            f"{line.piece.name} was sold again since. Write this down at its last sale.", "came_back"
        )
    with open_book(by) as book:
        return add_return(book, line.piece, back.day, back.reason)


def _refuse_refund(line: SaleLine, before: Sequence[Refund], back: Back) -> None:
    left_micro = line.paid_micro - sum(one.amount_micro for one in before)
    fees_micro = line.fees_micro - sum(one.fees_back_micro for one in before)
    if back.amount_micro > left_micro:
        raise Refused(
            f"At most {print_money(left_micro)} of it can still be paid back. Write less.", "amount"
        )
    if back.fees_back_micro > fees_micro:
        raise Refused(f"Its fees were {print_money(fees_micro)}. Write less.", "fees_back")
    if not back.came_back and not back.amount_micro:
        raise Refused("Write what was paid back, or tick that the piece came back.", "amount")
    sold_on: date = line.sold_on  # type: ignore[attr-defined]  # annotated by the query
    if back.day < sold_on:
        raise Refused(
            f"It was sold on {print_day(sold_on, with_year=True)}. Choose that day or a later one.", "day"
        )


def take_out_refund(refund: Refund) -> None:
    """Strike out money paid back that was not; a piece's return is taken back in the book. Call it alone."""
    if refund.entry_id is not None:
        raise Refused("The piece came back with it. Take its return back in the book, and this goes with it.")
    if not Refund.objects.filter(pk=refund.pk, void=False).update(void=True):
        raise Refused("It was taken out already.")


def mark_paid(sale: Sale, day: date) -> None:
    """Whoever took the money of a sale has paid it over. Call it alone."""
    if day < sale.day:
        raise Refused(
            f"It was sold on {print_day(sale.day, with_year=True)}: it was paid over then or later.", "day"
        )
    if not Sale.objects.filter(pk=sale.pk, is_owed=True, paid_on__isnull=True).update(paid_on=day):
        raise Refused("This is not owed any more.")


def send_out(outing: Outing, prices: Sequence[tuple[Piece, int | None]]) -> Outing:
    """Pieces go out to be sold: a new outing, with the price of each if one was agreed. They stay the studio's."""
    if not prices:
        raise Refused("Tick at least one piece, or write its number.")
    with open_book() as book:
        pieces = [piece for piece, _ in prices]
        book.read(*pieces)
        _refuse_theirs(pieces)
        _refuse_elsewhere(pieces, None)
        for piece in pieces:
            if piece.state not in HERE:
                raise Refused(f"{piece.name} is {piece.get_state_display()}: it cannot go out.")
            _refuse_out_before_it_was_here(piece, outing.day)
        outing.save()
        OutPiece.objects.bulk_create(
            OutPiece(outing=outing, piece=piece, price_micro=price) for piece, price in prices
        )
    return outing


def _refuse_out_before_it_was_here(piece: Piece, day: date) -> None:
    # Nothing of it moved later than its holder says, so most need not be asked about.
    latest = piece.holder.latest_day
    weighed = last_moved_on(piece.holder) if latest is not None and day < latest else None
    if weighed is not None and day < weighed:
        raise Refused(
            f"{piece.name} was weighed here on {print_day(weighed, with_year=True)}: it went out then or later.",
            "day",
        )


def bring_back(outing: Outing, pieces: Collection[int] | None, day: date) -> int:
    """Some pieces of an outing are here again, or all that are still out. Returns how many. Call it alone."""
    rows = still_out().filter(outing=outing)
    if pieces is not None:
        rows = rows.filter(piece__in=pieces)
    _refuse_before_they_went(outing, day, "came back")
    return OutPiece.objects.filter(pk__in=[row.pk for row in rows]).update(back_on=day)


def write_bill(sale: Sale, buyer: str, address: str, day: date) -> CustomerBill:
    """A bill for what counts of a sale and was not paid back, under the next number of its year: none is left out.

    Raises Refused where there is a bill already that was not struck out, where nothing of the sale is left to bill,
    and for a day before it was sold.
    """
    with studio_locked():
        lines = list(counted_lines().filter(sale=sale).order_by("pk"))
        # What was paid over while the page was open stands on the bill.
        sale = Sale.objects.get(pk=sale.pk)
        if not lines:
            raise Refused("This sale was taken back: there is nothing to bill.")
        if CustomerBill.objects.filter(sale=sale, struck_out_on__isnull=True).exists():
            raise Refused("There is a bill for this sale already. Strike that out first.")
        sold_on = max(line.sold_on for line in lines)
        if day < sold_on:
            raise Refused(
                f"It was sold on {print_day(sold_on, with_year=True)}. Date the bill that day or later.",
                "day",
            )
        refunds = refunds_of([line.pk for line in lines])
        rows = [row for line in lines if (row := _bill_row(line, refunds.get(line.pk, []))) is not None]
        if not rows:
            raise Refused("All of this sale was paid back: there is nothing to bill.")
        practice = sales_practice()
        bill = CustomerBill.objects.create(
            year=day.year,
            number=last_bill_number(day.year) + 1,
            sale=sale,
            day=day,
            sold_on=min(line.sold_on for line in lines),
            buyer=buyer,
            address=address,
            sender=practice.sender,
            tax_number=practice.tax_number,
            tax_pct100=sale.tax_pct100,
            tax_by_line=sale.tax_by_line,
            is_paid=not sale.is_owed or sale.paid_on is not None,
        )
        for row in rows:
            row.bill = bill
        BillRow.objects.bulk_create(rows)
    return bill


def _bill_row(line: SaleLine, refunds: Sequence[Refund]) -> BillRow | None:
    """A line less what was paid back of it; None where that is all of it."""
    back, piece = add_paid_back(refunds), line.piece
    if back.amount_micro and back.amount_micro >= line.paid_micro:
        return None
    less = f", less {print_money(back.amount_micro)} paid back" if back.amount_micro else ""
    what = f"{piece.name}, {piece.cast.alloy} ({piece.cast.number}.{piece.number})"
    return BillRow(
        what=what[: 200 - len(less)] + less,
        before_tax_micro=line.paid_micro - line.tax_micro - back.amount_micro + back.tax_micro,
        tax_micro=line.tax_micro - back.tax_micro,
    )


def strike_out_bill(bill: CustomerBill, day: date, why: str) -> None:
    """A bill that was wrong keeps its number, and says so. Call it alone."""
    if day < bill.day:
        written = print_day(bill.day, with_year=True)
        raise Refused(f"It was written on {written}. Choose that day or a later one.", "day")
    found = CustomerBill.objects.filter(pk=bill.pk, struck_out_on__isnull=True)
    if not found.update(struck_out_on=day, struck_out_why=why):
        raise Refused("This bill was struck out already.")
