"""The tables of what a cast cost, for its page and its report alike."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from costing.core.price import Price, PriceRule, compute_price
from costing.core.printed import PrintedCost, compute_printed
from costing.core.sharing import ABNORMAL
from costing.queries.costed import CostedCast
from inventory.queries.casting_page import CastPage
from studio.kit.chart_pen import Picture
from studio.kit.charts import gram_bar
from studio.kit.documents import Column, Filled, Raw, Table, fill_table

from .cost_sheet import PIECES_SHOWN, fill_pieces, price_columns, show_first
from .layout import PRINTED_FINE_UG, penny_of, round_column, say_rounding


@dataclass(frozen=True)
class CastSheet:
    """One closed cast, costed, with everything recorded on it; `rules` are those by which it would be priced."""

    costed: CostedCast
    page: CastPage
    rules: tuple[PriceRule, ...]

    @cached_property
    def printed(self) -> PrintedCost:
        return compute_printed(self.costed.cost, penny_of(self.page.studio))

    @property
    def whole(self) -> str:
        return f"Cast {self.costed.cast.number}"

    def label_piece(self, place: int) -> str:
        piece = self.costed.pieces[place]
        gone = "" if self.costed.inputs.pieces[place].is_good else ", back in the pot"
        return f"{piece.number}. {piece.name}{gone}"

    def good_prices(self) -> list[tuple[int, tuple[Price, ...]]]:
        """For each piece that carries cost, its place and its price by every rule."""
        totals = self.costed.cost.piece_totals_micro
        return [
            (place, tuple(compute_price(totals[place], rule) for rule in self.rules))
            for place in self.costed.inputs.good_places
        ]


def picture_grams(sheet: CastSheet) -> Picture:
    grams = sheet.page.grams
    return gram_bar(grams.pieces_mg, grams.back_mg, grams.filings_mg, grams.lost_mg)


def table_charge(sheet: CastSheet) -> Table:
    """What was weighed into the crucible, and what each portion cost, as the book has it."""
    alloy, portions = sheet.costed.cast.alloy, sheet.page.portions
    rounded = []
    if alloy.fineness:
        column = Column("fine", f"Fine {alloy.metal}", "fine")
        rounded.append(round_column(column, [portion.fine_ug for portion in portions], PRINTED_FINE_UG))
    if sheet.costed.cast.owner_id is None:
        column, costs = Column("cost", "Cost", "money"), [line.cost_micro for line in sheet.page.charge]
        rounded.append(round_column(column, costs, penny_of(sheet.page.studio)))
    mass = Column("mass", "Grams", "mass")
    filled = [
        Filled(Column("lot", "Lot"), [portion.label for portion in portions], "Charge"),
        Filled(Column("melts", "Melted before", "melts"), [portion.melts_milli for portion in portions]),
        Filled(mass, [portion.mass_mg for portion in portions], sheet.page.charge_mg),
        *rounded,
    ]
    return fill_table("What went into the crucible", filled, say_rounding(*rounded))


def table_pieces(sheet: CastSheet) -> Table:
    """Each piece with what it carries, and below the pieces what none of them carries."""
    costed = sheet.costed
    note = "Grams are those of today, or of the day a piece left. " if costed.pieces else ""
    if costed.cost.set_aside:
        note += "What is set aside belongs to the cast, and no piece carries it."
    return fill_table("What each piece cost", _fill_pieces(sheet), note.strip())


def _fill_pieces(sheet: CastSheet) -> list[Filled]:
    costed, aside = sheet.costed, sheet.costed.cost.set_aside
    labels = [sheet.label_piece(place) for place in range(len(costed.pieces))]
    labels += [f"Set aside: {one.label.lower()}" for one in aside]
    masses: list[Raw] = [mass or None for mass in costed.piece_mg]
    masses += [costed.cost.abnormal_lost_mg if one.key == ABNORMAL else "" for one in aside]
    return fill_pieces(sheet.printed, labels, masses, sheet.whole)


def table_pieces_asked(sheet: CastSheet, note: str) -> Table:
    """The first pieces, each with what it cost and what to ask for it; the totals are those of all."""
    prices = dict(sheet.good_prices())
    if not prices:
        whole = table_pieces(sheet)
        return replace(whole, caption="What was set aside", rows=whole.rows[:PIECES_SHOWN])
    piece, _, *rest = _fill_pieces(sheet)
    asked = [
        Filled(column, [_say_asked(prices, place, nth) for place in range(len(piece.cells))])
        for nth, column in enumerate(price_columns(sheet.rules))
    ]
    # Without the grams: they stand on the same page.
    return show_first(
        fill_table("What each piece cost, and what to ask for it", [piece, *rest, *asked]), note
    )


def _say_asked(prices: Mapping[int, tuple[Price, ...]], place: int, nth: int) -> Raw:
    """What to ask by one rule; nothing where a price has a problem, or where no piece stands."""
    return "" if place not in prices or prices[place][nth].problem else prices[place][nth].asked_micro


def table_prices(sheet: CastSheet, prices: Sequence[tuple[int, tuple[Price, ...]]]) -> Table:
    """What to ask for each piece by every rule."""
    totals = sheet.printed.piece_totals_micro
    asked = [
        Filled(replace(column, on_phone=True), [row[nth].asked_micro for _, row in prices])
        for nth, column in enumerate(price_columns(sheet.rules))
    ]
    filled = [
        Filled(Column("piece", "Piece"), [sheet.label_piece(place) for place, _ in prices]),
        Filled(Column("cost", "Cost", "money"), [totals[place] for place, _ in prices]),
        *asked,
    ]
    return fill_table("What to ask for each piece", filled)
