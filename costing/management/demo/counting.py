"""The demo's stock count: the safe and the wax drawer, on the last day of its year."""

from datetime import date

from inventory.models import CountLine, Lot
from inventory.posting.counting import LotFound, Round, post_stock_count
from inventory.queries.counting import lots_to_count


def count_shelves(today: date) -> None:
    """What is in the safe agrees with the book; some wax was used and not written down."""
    lots = [*lots_to_count("safe"), *lots_to_count("wax drawer")]
    short = next((lot for lot in lots if lot.kept_in == "wax drawer"), None)
    post_stock_count([_find(lot, short) for lot in lots], Round(today, note="before the winter market"))


def _find(lot: Lot, short: Lot | None) -> LotFound:
    if lot == short:
        return LotFound(lot, lot.holder.quantity - 1_200, CountLine.Reason.USED)
    return LotFound(lot, lot.holder.quantity)
