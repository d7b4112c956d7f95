"""A quote on paper: for the customer without a word of what it costs, and for the studio with all of it."""

from collections.abc import Mapping
from typing import Any

from costing.forms.quotes import QuoteReportForm
from costing.models import Quote
from costing.queries.quotes import QuoteFigures, read_figures
from inventory.queries.studio import current_studio
from inventory.reports.making import make_document
from studio.kit.documents import (
    Block,
    Column,
    Document,
    Facts,
    Filled,
    Heading,
    Prose,
    Table,
    WorkingBlock,
    fill_table,
)
from studio.kit.printing import print_date, print_money, print_percent
from studio.kit.reporting import report
from studio.kit.units import round_half_up


@report(
    "quote",
    "A quote for a customer",
    "Designs, quantities and prices, to be handed over. It says nothing of what they cost you.",
    QuoteReportForm,
    place=44,
)
def build_quote(params: Mapping[str, Any]) -> Document:
    figures = read_figures(params["quote"])
    blocks: list[Block] = [_facts(figures.quote), table_offer(figures)]
    tax = say_quote_tax(figures)
    if tax:
        blocks.append(Prose(tax))
    return _document("Quote", figures, blocks, "quote")


@report(
    "quote-cost",
    "A quote for the studio",
    "The same quote with what it costs: the range, flasks, what is left of each price, and how all of it came about.",
    QuoteReportForm,
    place=45,
)
def build_quote_cost(params: Mapping[str, Any]) -> Document:
    figures = read_figures(params["quote"])
    blocks: list[Block] = [_facts(figures.quote), Prose(say_range(figures)), table_costs(figures)]
    blocks += [Prose(note) for note in figures.notes]
    workings = list_workings(figures)
    blocks += [Heading("How it came about"), *map(WorkingBlock, workings)] if workings else []
    return _document("Quote, with what it costs", figures, blocks, "quote-cost")


def _document(title: str, figures: QuoteFigures, blocks: list[Block], filename: str) -> Document:
    quote = figures.quote
    return make_document(
        current_studio(),
        title,
        blocks,
        f"{filename}-{quote.pk}",
        f"Number {quote.pk}: {quote.name}",
        f"quoted {print_date(quote.made_on)}",
    )


def _facts(quote: Quote) -> Facts:
    pairs = [("For", str(quote.customer))] if quote.customer else []
    pairs.append(("Cast in", f"{quote.alloy}, your own" if quote.own_metal else str(quote.alloy)))
    pairs += [("Wanted on", print_date(quote.wanted_on))] if quote.wanted_on else []
    return Facts(tuple(pairs))


def table_offer(figures: QuoteFigures) -> Table:
    """Each design with its price, and all of it together: what a customer sees."""
    rows = figures.rows
    each = [row.kept.told_micro if row.kept else None for row in rows]
    sums = [None if one is None else one * row.line.quantity for one, row in zip(each, rows, strict=True)]
    return fill_table(
        "Offered, by design",
        [
            Filled(Column("design", "Design"), [row.design.name for row in rows], "Together"),
            Filled(
                Column("count", "Pieces", "count", on_phone=True),
                [row.line.quantity for row in rows],
                sum(row.line.quantity for row in rows),
            ),
            Filled(Column("each", "Price of one", "money", on_phone=True), each),
            Filled(Column("sum", "Price", "money", on_phone=True), sums, figures.add_up("told_micro")),
        ],
    )


def say_quote_tax(figures: QuoteFigures) -> str:
    """What of the price is tax, or comes on top of it."""
    tax_micro, told = figures.add_up("tax_micro"), figures.add_up("paid_micro")
    kept = next((row.kept for row in figures.rows if row.kept), None)
    if not tax_micro or kept is None or told is None:
        return ""
    rate = print_percent(kept.fees.rate_pct100)
    if kept.fees.tax == "out":
        return f"Tax of {rate} comes on top: {print_money(tax_micro)}, together {print_money(told)}."
    return f"{print_money(tax_micro)} of it is tax of {rate}."


def say_range(figures: QuoteFigures) -> str:
    """ "It costs 612.40 to 701.10, most likely 656.75, in 2 flasks." """
    found, flasks = figures.range, figures.flasks
    if found is None or flasks is None:
        names = ", ".join(str(one) for one in figures.unknown)
        return f"Nobody knows what one of these weighs yet: {names}." if names else "Nothing is on it yet."
    count = "1 flask" if flasks.count == 1 else f"{flasks.count} flasks"
    if found.low_micro is None:
        return (
            f"It should cost {print_money(found.middle_micro)}, in {count}; how far off that is nobody knows."
        )
    middle = print_money(found.middle_micro)
    low, high = print_money(found.low_micro), print_money(found.high_micro)
    return f"It costs {low} to {high}, eight times in ten, and {middle} on average, in {count}."


def table_costs(figures: QuoteFigures) -> Table:
    """Each design with what one costs, what is offered, and what that leaves after tax and fees."""
    rows, known = figures.rows, [row.lot for row in figures.rows]
    costs = [None if lot is None else round_half_up(lot.each) for lot in known]
    left = [
        None if row.kept is None or cost is None else row.kept.over_micro(cost)
        for row, cost in zip(rows, costs, strict=True)
    ]
    return fill_table(
        "Cost, and what is left of each price",
        [
            Filled(Column("design", "Design"), [row.design.name for row in rows]),
            Filled(Column("count", "Pieces", "count", on_phone=True), [row.line.quantity for row in rows]),
            Filled(Column("castings", "Castings", "count"), [lot.castings if lot else None for lot in known]),
            Filled(Column("cost", "One costs", "money", on_phone=True), costs),
            Filled(
                Column("price", "Price of one", "money"),
                [row.kept.told_micro if row.kept else None for row in rows],
            ),
            Filled(Column("left", "Leaves", "money", on_phone=True), left),
        ],
    )


def list_workings(figures: QuoteFigures) -> list[Any]:
    found: list[Any] = [figures.range.working] if figures.range else []
    found += [figures.flasks.working] if figures.flasks else []
    for row in figures.rows:
        found += row.costed.workings if row.costed else []
    for row in figures.rows:
        found += row.priced.workings if row.priced else []
    return found + [row.work.working for row in figures.rows if row.work and row.work.working]
