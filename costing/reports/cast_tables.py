"""The tables and pictures of what a cast cost, for its page and its report alike.

Every figure of money is a multiple of a penny that was found once for the whole cast, so that whatever is
shown adds up: along rows, along columns, from table to table.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from costing.core.price import Price, PriceRule, compute_price
from costing.core.printed import GROUPS, PrintedCost, compute_printed
from costing.core.sharing import ABNORMAL
from costing.queries import CostedCast
from inventory.core.casting import Grams
from inventory.queries.casting_page import CastPage
from studio.kit.chart_pen import Picture
from studio.kit.charts import cost_bar, gram_bar
from studio.kit.documents import Column, Raw, Table

from .layout import PRINTED_FINE_UG, penny_of, round_columns

BASIS_WORDS = {"grams": "grams", "equally": "equally", "volume": "volume of the pattern"}


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
    def grams(self) -> Grams:
        return self.page.grams

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
    grams = sheet.grams
    return gram_bar(grams.pieces_mg, grams.back_mg, grams.filings_mg, grams.lost_mg)


def picture_cost(sheet: CastSheet) -> Picture:
    return cost_bar([(label, sheet.printed.group_total_micro(label)) for label in GROUPS])


def table_charge(sheet: CastSheet) -> Table:
    """What was weighed into the crucible, and what each portion cost, as the book has it."""
    alloy, portions = sheet.costed.cast.alloy, sheet.page.portions
    columns = [
        Column("lot", "Lot"),
        Column("melts", "Melted before", "melts"),
        Column("mass", "Grams", "mass"),
    ]
    exact: list[tuple[Sequence[int], int]] = []
    if alloy.fineness:
        columns.append(Column("fine", f"Fine {alloy.metal}", "fine"))
        exact.append(([portion.fine_ug for portion in portions], PRINTED_FINE_UG))
    if sheet.costed.cast.owner_id is None:
        columns.append(Column("cost", "Cost", "money"))
        exact.append(([line.cost_micro for line in sheet.page.charge], penny_of(sheet.page.studio)))
    rounded = round_columns(*exact)
    rows: list[tuple[Raw, ...]] = [
        (portion.label, portion.melts_milli, portion.mass_mg, *amounts)
        for portion, amounts in zip(portions, rounded.rows or [()] * len(portions), strict=True)
    ]
    totals = ("Charge", None, sheet.page.charge_mg, *rounded.totals)
    return Table("What went into the crucible", tuple(columns), rows, totals, rounded.note)


def table_pieces(sheet: CastSheet) -> Table:
    """Each piece with what it carries, and below the pieces what none of them carries."""
    costed, printed = sheet.costed, sheet.printed
    columns = (
        Column("piece", "Piece"),
        Column("mass", "Grams", "mass"),
        *(Column(label.lower().replace(" ", "_"), label, "money") for label in sheet.printed.groups),
        Column("cost", "Cost", "money", on_phone=True),
    )
    grouped = list(sheet.printed.groups.values())
    rows: list[tuple[Raw, ...]] = [
        (
            sheet.label_piece(place),
            costed.piece_mg[place] or None,
            *(cells[place] for cells in grouped),
            printed.piece_totals_micro[place],
        )
        for place in range(len(costed.pieces))
    ]
    for nth, aside in enumerate(costed.cost.set_aside):
        place = len(costed.pieces) + nth
        rows.append(
            (
                f"Set aside: {aside.label.lower()}",
                costed.cost.abnormal_lost_mg if aside.key == ABNORMAL else "",
                *(cells[place] for cells in grouped),
                printed.aside_totals_micro[nth],
            )
        )
    totals = (
        f"Cast {costed.cast.number}",
        None,
        *(sum(cells) for cells in grouped),
        printed.total_micro,
    )
    note = "Grams are those of today, or of the day a piece left. " if costed.pieces else ""
    return Table(
        "What each piece cost",
        columns,
        rows,
        totals,
        note=f"{note}What is set aside belongs to the cast, and no piece carries it."
        if costed.cost.set_aside
        else note.strip(),
    )


def table_pieces_asked(sheet: CastSheet, note: str, most: int) -> Table:
    """The first pieces, each with what it cost and what to ask for it; the totals are those of all."""
    whole = table_pieces(sheet)
    if not sheet.good_prices():
        return replace(whole, caption="What was set aside", rows=whole.rows[:most])
    asked: dict[int, list[Raw]] = {
        place: ["" if price.problem else price.asked_micro for price in row]
        for place, row in sheet.good_prices()
    }
    nothing: list[Raw] = [""] * len(sheet.rules)
    # Without the grams: they stand on the same page.
    rows = [(row[0], *row[2:], *asked.get(place, nothing)) for place, row in enumerate(whole.rows)]
    totals = (f"Cast {sheet.costed.cast.number}", *(whole.totals or ())[2:], *[None] * len(sheet.rules))
    last = len(sheet.rules) - 1
    columns = (
        whole.columns[0],
        *whole.columns[2:],
        *(
            Column(rule.label.lower(), rule.label, "money", on_phone=True if place == last else None)
            for place, rule in enumerate(sheet.rules)
        ),
    )
    if len(rows) > most:
        note = f"The first {most} of {len(rows)} lines; the page of the cost has all of them. {note}"
    return Table("What each piece cost, and what to ask for it", columns, rows[:most], totals, note)


def table_lines(sheet: CastSheet) -> Table:
    """Every line of the cost: how the pieces shared it, what they carry, and what was set aside."""
    printed = {line.key: line for line in sheet.printed.lines}
    has_aside = bool(sheet.costed.cost.set_aside)
    rows: list[tuple[Raw, ...]] = []
    for line in sheet.costed.lines:
        shown = printed[line.key]
        shared = BASIS_WORDS[line.basis] if line.basis else "each its own"
        aside = (shown.set_aside_micro,) if has_aside else ()
        rows.append((line.label, shared, sum(shown.piece_micro), *aside, shown.total_micro))
    columns = [
        Column("line", "Line"),
        Column("shared", "Shared by"),
        Column("pieces", "On the pieces", "money"),
    ]
    if has_aside:
        columns.append(Column("aside", "Set aside", "money"))
    columns.append(Column("total", "Together", "money", on_phone=True))
    aside_total = (sheet.printed.set_aside_micro,) if has_aside else ()
    carried_micro = sheet.printed.carried_micro
    totals = (
        f"Cast {sheet.costed.cast.number}",
        None,
        carried_micro,
        *aside_total,
        sheet.printed.total_micro,
    )
    return Table("What the cost is made of", tuple(columns), rows, totals)


def table_prices(sheet: CastSheet, prices: Sequence[tuple[int, tuple[Price, ...]]]) -> Table:
    """What to ask for each piece by every rule."""
    columns = (
        Column("piece", "Piece"),
        Column("cost", "Cost", "money"),
        *(Column(rule.label.lower(), rule.label, "money", on_phone=True) for rule in sheet.rules),
    )
    rows: list[tuple[Raw, ...]] = [
        (
            sheet.label_piece(place),
            sheet.printed.piece_totals_micro[place],
            *(price.asked_micro for price in row),
        )
        for place, row in prices
    ]
    return Table("What to ask for each piece", columns, rows)
