"""One layout of what a cast cost and of what a plan will cost: its pieces, its lines and its bar.

Every figure of money is a multiple of a penny that was found once for the whole, so that whatever is shown adds up:
along rows, along columns, from table to table.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from costing.core.price import Price, PriceRule, compute_price
from costing.core.rollup import GROUPS, PrintedCost, compute_printed
from costing.core.sharing import ABNORMAL, CostLine
from costing.models import Policy
from costing.queries.costed import CostedCast
from inventory.queries.casting_page import CastPage
from studio.kit.chart_pen import Picture
from studio.kit.charts import cost_bar, gram_bar
from studio.kit.documents import Column, Filled, Raw, Table, fill_table, summed_apart
from studio.kit.printing import SPACE, print_date, print_money

from .lacks import Lack, find_lacks

PRINTED_FINE_UG = 1_000


def say_period(first: date, last: date) -> str:
    return f"{say_day(first)} to {say_day(last)}"


def say_rules(policy: Policy, cast_day: date) -> str:
    """What to know of the rules that costed a cast; "" when they were in force on its day."""
    if not policy.pk:
        return "There are no cost rules yet, so time and energy cost nothing here."
    if cast_day < policy.from_day:
        first = say_day(policy.from_day)
        return (
            f"It was cast before your oldest cost rules, which begin on {first}: they cost it all the same."
        )
    return ""


def name_rules(policy: Policy, when: str = "") -> str:
    """What prices go by: the studio's cost rules, or what stands in their place while it has written none."""
    return f"your cost rules{when}" if policy.pk else "starting figures, as you have no cost rules yet"


def say_day(day: date) -> str:
    return print_date(day).replace(SPACE, " ")


PIECES_SHOWN = 25
"""As many as a list shows at a time; the page of the cost has them all."""

_BASIS_WORDS = {"grams": "grams", "equally": "equally", "volume": "volume of the pattern"}


def picture_cost(printed: PrintedCost) -> Picture:
    return cost_bar([(label, printed.group_total_micro(label)) for label in GROUPS])


def picture_piece(printed: PrintedCost, place: int) -> Picture:
    """The same of what one piece carries."""
    nothing = (0,) * len(printed.piece_totals_micro)
    return cost_bar([(label, printed.groups.get(label, nothing)[place]) for label in GROUPS])


def fill_pieces(
    printed: PrintedCost, labels: Sequence[str], masses_mg: Sequence[Raw], whole: str, whole_mg: Raw = None
) -> list[Filled]:
    """Each piece with what it carries by group, and below the pieces what none of them carries."""
    carried = (*printed.piece_totals_micro, *printed.aside_totals_micro)
    return [
        Filled(Column("piece", "Piece"), labels, whole),
        Filled(Column("mass", "Grams", "mass"), masses_mg, whole_mg),
        *(
            Filled(Column(label.lower().replace(" ", "_"), label, "money"), cells, sum(cells))
            for label, cells in printed.groups.items()
        ),
        Filled(Column("cost", "Cost", "money", on_phone=True), carried, printed.total_micro),
    ]


def table_lines(
    caption: str, lines: Sequence[CostLine], printed: PrintedCost, whole: str, parted: bool = False
) -> Table:
    """Every line of the cost and how the pieces share it; `parted` tells what they carry from what was set aside."""
    shown = [printed.line(line.key) for line in lines]
    bases = [_BASIS_WORDS[line.basis] if line.basis else "each its own" for line in lines]
    filled = [
        Filled(Column("line", "Line"), [line.label for line in lines], whole),
        Filled(Column("shared", "Shared by"), bases),
    ]
    if parted:
        on_pieces = [sum(line.piece_micro) for line in shown]
        filled.append(Filled(Column("pieces", "On the pieces", "money"), on_pieces, printed.carried_micro))
    if parted and printed.aside_totals_micro:
        aside = [line.set_aside_micro for line in shown]
        filled.append(Filled(Column("aside", "On no piece", "money"), aside, printed.set_aside_micro))
    together = Column("total", "Together", "money", on_phone=True)
    filled.append(Filled(together, [line.total_micro for line in shown], printed.total_micro))
    return fill_table(caption, filled)


def price_columns(rules: Sequence[PriceRule]) -> list[Column]:
    """A column for the price by each rule; a phone keeps the last."""
    return [
        Column(rule.label.lower(), rule.label, "money", on_phone=True if place == len(rules) else None)
        for place, rule in enumerate(rules, start=1)
    ]


def say_asked(price: Price, rule: PriceRule) -> str:
    """ "112.00 retail" """
    return f"{print_money(price.asked_micro)} {rule.label.lower()}"


def show_first(table: Table, note: str = "") -> Table:
    """The same for a part of another page, which cannot turn leaves: the first rows, and the totals of all."""
    count = len(table.rows)
    if count <= PIECES_SHOWN:
        return replace(table, note=note)
    first = f"The first {PIECES_SHOWN} of {count} lines; the page of the cost has all of them."
    return replace(table, rows=table.rows[:PIECES_SHOWN], note=f"{first} {note}".strip())


@dataclass(frozen=True)
class CastSheet:
    """One closed cast, costed, with everything recorded on it; `rules` are those by which it would be priced."""

    costed: CostedCast
    page: CastPage
    rules: tuple[PriceRule, ...]

    @cached_property
    def printed(self) -> PrintedCost:
        return compute_printed(self.costed.cost, self.page.studio.penny_micro)

    @property
    def whole(self) -> str:
        return f"Cast {self.costed.cast.number}"

    @cached_property
    def lacks(self) -> list[Lack]:
        """What its cost knows nothing of."""
        made = self.costed.inputs
        return find_lacks(self.costed, made.bench_seconds + sum(piece.bench_seconds for piece in made.pieces))

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
        rounded.append(summed_apart(column, [portion.fine_ug for portion in portions], PRINTED_FINE_UG))
    if sheet.costed.cast.owner_id is None:
        column, costs = Column("cost", "Cost", "money"), [line.cost_micro for line in sheet.page.charge]
        rounded.append(summed_apart(column, costs, sheet.page.studio.penny_micro))
    mass = Column("mass", "Grams", "mass")
    filled = [
        Filled(Column("lot", "Lot"), [portion.label for portion in portions], "Charge"),
        Filled(Column("melts", "Melted before", "melts"), [portion.melts_milli for portion in portions]),
        Filled(mass, [portion.mass_mg for portion in portions], sheet.page.charge_mg),
        *rounded,
    ]
    return fill_table("What went into the crucible", filled)


def table_pieces(sheet: CastSheet) -> Table:
    """Each piece with what it carries, and below the pieces what none of them carries."""
    costed = sheet.costed
    note = "Grams are those of today, or of the day a piece left. " if costed.pieces else ""
    if costed.cost.set_aside:
        note += "What is on no piece is the cast's own."
    return fill_table("What each piece cost", _fill_pieces(sheet), note.strip())


def _fill_pieces(sheet: CastSheet) -> list[Filled]:
    costed, aside = sheet.costed, sheet.costed.cost.set_aside
    labels = [sheet.label_piece(place) for place in range(len(costed.pieces))]
    labels += [f"On no piece: {one.label.lower()}" for one in aside]
    masses: list[Raw] = [mass or None for mass in costed.piece_mg]
    masses += [costed.cost.abnormal_lost_mg if one.key == ABNORMAL else "" for one in aside]
    return fill_pieces(sheet.printed, labels, masses, sheet.whole)


def table_pieces_asked(sheet: CastSheet, note: str) -> Table:
    """The first pieces, each with what it cost and what to ask for it; the totals are those of all."""
    prices = dict(sheet.good_prices())
    if not prices:
        whole = table_pieces(sheet)
        return replace(whole, caption="What no piece carries", rows=whole.rows[:PIECES_SHOWN])
    piece, _, *rest = _fill_pieces(sheet)
    asked = [
        Filled(column, [_say_asked(prices, place, nth) for place in range(len(piece.cells))])
        for nth, column in enumerate(price_columns(sheet.rules))
    ]
    # Without the grams: they stand on the same page.
    caption = "What each piece cost, and what to ask for it" if asked else "What each piece cost"
    return show_first(fill_table(caption, [piece, *rest, *asked]), note)


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
