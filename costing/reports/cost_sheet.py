"""One layout of what a cast cost and of what a plan will cost: its pieces, its lines and its bar.

Every figure of money is a multiple of a penny that was found once for the whole, so that whatever is shown adds up:
along rows, along columns, from table to table.
"""

from collections.abc import Sequence
from dataclasses import replace

from costing.core.price import PriceRule
from costing.core.printed import GROUPS, PrintedCost
from costing.core.sharing import CostLine
from studio.kit.chart_pen import Picture
from studio.kit.charts import cost_bar
from studio.kit.documents import Column, Filled, Raw, Table, fill_table

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
    filled = [
        Filled(Column("line", "Line"), [line.label for line in lines], whole),
        Filled(Column("shared", "Shared by"), [_say_basis(line) for line in lines]),
    ]
    if parted:
        on_pieces = [sum(line.piece_micro) for line in shown]
        filled.append(Filled(Column("pieces", "On the pieces", "money"), on_pieces, printed.carried_micro))
    if parted and printed.aside_totals_micro:
        aside = [line.set_aside_micro for line in shown]
        filled.append(Filled(Column("aside", "Set aside", "money"), aside, printed.set_aside_micro))
    together = Column("total", "Together", "money", on_phone=True)
    filled.append(Filled(together, [line.total_micro for line in shown], printed.total_micro))
    return fill_table(caption, filled)


def _say_basis(line: CostLine) -> str:
    return _BASIS_WORDS[line.basis] if line.basis else "each its own"


def price_columns(rules: Sequence[PriceRule]) -> list[Column]:
    """A column for the price by each rule; a phone keeps the last."""
    return [
        Column(rule.label.lower(), rule.label, "money", on_phone=True if place == len(rules) else None)
        for place, rule in enumerate(rules, start=1)
    ]


def show_first(table: Table, note: str = "") -> Table:
    """The same for a part of another page, which cannot turn leaves: the first rows, and the totals of all."""
    count = len(table.rows)
    if count <= PIECES_SHOWN:
        return replace(table, note=note)
    first = f"The first {PIECES_SHOWN} of {count} lines; the page of the cost has all of them."
    return replace(table, rows=table.rows[:PIECES_SHOWN], note=f"{first} {note}".strip())
