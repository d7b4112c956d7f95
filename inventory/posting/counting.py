"""A round of counting: every lot that was looked at, in one transaction."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.contrib.auth.models import User

from inventory.core.counting import TOO_MUCH_FOR_A_SCALE, ask_difference, is_within_weighing
from inventory.models import CountLine, Lot, StockCount

from .book import open_book
from .refusal import Refused
from .stock import count_lot

Reason = CountLine.Reason


@dataclass(frozen=True)
class LotFound:
    """What was there of a lot, in its small unit, and why that is not what the book has."""

    lot: Lot
    counted: int
    reason: str = ""


@dataclass(frozen=True)
class Round:
    """What a count was of: the place that was gone through, "" for all, and whether the book's figures were hidden."""

    day: date
    kept_in: str = ""
    is_blind: bool = False
    note: str = ""


def post_stock_count(found: Sequence[LotFound], round_: Round, by: User | None = None) -> StockCount:
    """Set each lot to what was found of it and keep the count, lots that agreed with it too.

    Raises Refused for a difference that the scale cannot have made and nobody gave another reason for.
    """
    if not found:
        raise Refused("Write what is there of at least one lot.")
    with open_book(by) as book:
        book.read(*(one.lot for one in found))
        count = StockCount(
            day=round_.day,
            kept_in=round_.kept_in,
            is_blind=round_.is_blind,
            note=round_.note,
            recorded_at=book.now,
            recorded_by=by,
        )
        book.make_first(count)
        for one in found:
            lot, held = one.lot, one.lot.holder.quantity
            reason = _reason_of(one, round_.is_blind, book.studio.scale_division_mg)
            note = "; ".join(
                words for words in (Reason(reason).label if reason else "", round_.note) if words
            )
            entry = count_lot(book, lot, one.counted, round_.day, note[:500])
            book.make(
                CountLine(
                    count=count, lot=lot, entry=entry, book_quantity=held, counted=one.counted, reason=reason
                )
            )
    return count


def _reason_of(one: LotFound, is_blind: bool, division_mg: int) -> str:
    """Why a lot differs, "" where it does not."""
    held, unit, field = one.lot.holder.quantity, one.lot.material.unit, f"lot-{one.lot.pk}"
    if one.counted == held:
        return ""
    if is_within_weighing(one.counted - held, unit, division_mg):
        return one.reason or Reason.SCALE
    if not one.reason:
        raise Refused(ask_difference(held, one.counted, unit, is_blind), field)
    if one.reason == Reason.SCALE:
        raise Refused(TOO_MUCH_FOR_A_SCALE, f"why-{one.lot.pk}")
    return one.reason
