"""What to order, by supplier: the cheapest order of what is due, what it stands beside, and why."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from typing import Any

from django.utils import timezone

from inventory.core.choosing_words import (
    Figures,
    explain_carriage,
    explain_offer,
    explain_part,
    explain_total,
)
from inventory.core.reorder import DAYS_PER_WEEK
from inventory.forms.proposal import ToBuyForm
from inventory.models import Offer, Supplier
from inventory.queries.outlook import MaterialOutlook
from inventory.queries.proposal import MOST_AT_ONCE, Proposal, Wanted, propose, read_ahead
from inventory.queries.studio import current_studio
from studio.kit.chart_pen import Picture
from studio.kit.chart_rows import BarRow, rows_chart
from studio.kit.documents import (
    Block,
    Column,
    Document,
    Filled,
    Heading,
    Prose,
    Table,
    WorkingBlock,
    fill_table,
)
from studio.kit.measures import stock_measure
from studio.kit.printing import print_date, print_day, print_money, print_pack, print_quantity, print_roughly
from studio.kit.reporting import report
from studio.kit.units import MG_PER_G, MG_PER_KG, divide_half_up, round_half_up
from studio.kit.working import Working

from .making import make_document

UNSURE = "There are more ways to order than could be tried: tick fewer, to be sure that none costs less."
_TENTH_KG = MG_PER_KG // 10
_DEAR_MICRO = 400_000


@report(
    "to-buy",
    "What to order, by supplier",
    "What is due within the weeks ahead, as the order that costs least: packs, prices, carriage, and why.",
    ToBuyForm,
    place=7,
)
def build_to_buy(params: Mapping[str, Any]) -> Document:
    studio, today, weeks = current_studio(), timezone.localdate(), params["weeks"]
    until = today + timedelta(weeks=weeks)
    known, without = read_ahead(studio, today)
    due = [one for one in known if one.is_due(until)]
    proposal = propose(studio, due[:MOST_AT_ONCE], {}, weeks, today)
    return document_of(proposal, [one for one in without if one.is_due_in(weeks)][:MOST_AT_ONCE])


def document_of(proposal: Proposal, without: Sequence[MaterialOutlook] = ()) -> Document:
    """The order as a paper; `without` is to be ordered, and nobody's offer of it is written down."""
    blocks: list[Block] = [Prose(say_proposal(proposal)), *(Prose(_say_without(one)) for one in without)]
    for supplier in proposal.sellers:
        blocks += [table_parcel(proposal, supplier)]
        blocks += [Prose(f"How to reach them: {supplier.contact}")] if supplier.contact else []
    if proposal.choice and proposal.choice.lines:
        blocks.append(table_beside(proposal))
        blocks += [table_offers(proposal, one) for one in proposal.wanted if proposal.compare(one)]
        blocks += [Heading("How it came about"), *map(WorkingBlock, list_workings(proposal))]
    return make_document(
        current_studio(),
        "What to order",
        blocks,
        f"to order {timezone.localdate()}",
        "by supplier",
        f"lasts until about {print_date(proposal.until)}",
    )


def _say_without(one: MaterialOutlook) -> str:
    outlook = one.outlook
    order_by = outlook.order_by or outlook.asked.today
    whose = f" of {one.supplier}" if one.supplier else ""
    amount = print_roughly(outlook.amount, str(one.material.unit))
    day = print_day(order_by, with_year=True)
    return f"{one.material}: nobody's offer is written down. Order {amount}{whose} by {day}."


def say_proposal(proposal: Proposal) -> str:
    """ "Order by Tue 2 Feb 2027 of Far Side Powders: 88.50 to pay, carriage and duty in it." """
    if not proposal.wanted:
        return f"Nothing that somebody offers is due before {print_date(proposal.until)}."
    if proposal.choice is None:
        return "No order can be made up: what must come is below the least order of everybody who offers it."
    figures = proposal.figures
    if figures is None or not proposal.choice.lines:
        return "Nothing need be ordered for this time."
    names = " and ".join(one.name for one in proposal.sellers)
    day, when = proposal.order_by, ""
    if day is not None:
        when = "now " if day <= timezone.localdate() else f"by {print_day(day, with_year=True)} "
    left = " and ".join(str(one) for one in proposal.unneeded.values())
    nothing = f" Of {left} nothing need be ordered for this time." if left else ""
    unsure = "" if proposal.choice.is_sure else f" {UNSURE}"
    paid = print_money(figures.paid_micro)
    return f"Order {when}of {names}: {paid} to pay, carriage and duty in it.{nothing}{unsure}"


def table_parcel(proposal: Proposal, supplier: Supplier) -> Table:
    """What to order of one supplier, with its carriage."""
    lines, materials = proposal.lines_of(supplier.pk), proposal.materials
    units = [str(materials[line.pack.material].unit) for line in lines]
    carriage = proposal.choice.carriage_micro.get(supplier.pk, 0) if proposal.choice else 0
    goods = sum(line.price_micro for line in lines)
    return fill_table(
        f"From {supplier.name}",
        [
            Filled(
                Column("material", "Material", on_phone=True),
                [*(str(materials[line.pack.material]) for line in lines), "Carriage"],
                "Together, without duty" if proposal.terms[supplier.pk].duty_pct100 else "Together",
            ),
            Filled(
                Column("packs", "Packs", on_phone=True),
                [
                    *(
                        f"{line.packs} × {print_pack(line.pack.quantity, unit)}"
                        for line, unit in zip(lines, units, strict=True)
                    ),
                    None,
                ],
            ),
            Filled(
                Column("quantity", "In all", "quantity"),
                [*((line.quantity, unit) for line, unit in zip(lines, units, strict=True)), None],
            ),
            Filled(
                Column("each", "A pack", "money"),
                [*(line.pack.price_micro(line.packs) for line in lines), None],
            ),
            Filled(
                Column("price", "Price", "money", on_phone=True),
                [*(line.price_micro for line in lines), carriage],
                goods + carriage,
            ),
        ],
    )


def table_beside(proposal: Proposal) -> Table:
    """The proposal, and the best order at each supplier alone."""
    shown: list[tuple[str, Figures | None]] = [("The cheapest order", proposal.figures)]
    shown += [
        (
            f"All from {one.supplier.name}" if one.figures else f"{one.supplier.name} {one.sentence}",
            one.figures,
        )
        for one in proposal.beside
    ]

    def column(key: str, label: str, name: str, on_phone: bool = False) -> Filled:
        cells = [getattr(figures, f"{name}_micro") if figures else None for _, figures in shown]
        return Filled(Column(key, label, "money", on_phone=on_phone), cells)

    return fill_table(
        "Beside the best order at each supplier alone",
        [
            Filled(Column("order", "Order", on_phone=True), [words for words, _ in shown]),
            column("goods", "Goods", "goods"),
            *([column("duty", "Duty", "duty")] if any(one and one.duty_micro for _, one in shown) else []),
            column("carriage", "Carriage", "carriage"),
            column("paid", "To pay", "paid", on_phone=True),
            column("stale", "Of it goes stale", "stale"),
            column("holding", "Money in stock", "holding"),
            column("left", "Worth left at the end", "left"),
            column("total", "Costs", "total", on_phone=True),
        ],
        "Costs: what is paid and what money in stock costs, less what is still good at the end of the time.",
    )


def name_offer(offer: Offer) -> str:
    return f"{print_pack(offer.quantity, str(offer.material.unit))}, {offer.supplier}"


def big_unit(wanted: Wanted) -> tuple[int, str]:
    """In how many small units a price is told, and its word: by the kilo where packs are of kilos."""
    unit = wanted.known.demand.unit
    measure = stock_measure(unit)
    offers = wanted.known.offers
    # So that a price has some digits: powder and wax by the kilo, metal by the gram.
    if unit == "mass" and all(one.price_micro * MG_PER_G < one.quantity * _DEAR_MICRO for one in offers):
        return MG_PER_KG, "kg"
    return 10**measure.digits, measure.one or measure.symbol


def print_rate(rate: Fraction | None, wanted: Wanted) -> str:
    small, word = big_unit(wanted)
    return "none is used" if rate is None else f"{print_money(round_half_up(rate * small))} per {word} used"


def table_offers(proposal: Proposal, wanted: Wanted) -> Table:
    """Each offer of a material ordered by itself, by what is used of it."""
    unit = wanted.known.demand.unit
    found = proposal.compare(wanted)
    small, word = big_unit(wanted)

    def column(key: str, label: str, name: str, on_phone: bool = False) -> Filled:
        rates = [getattr(one, name) if one.rate is not None else None for _, one in found]
        cells = [None if rate is None else round_half_up(rate * small) for rate in rates]
        return Filled(Column(key, label, "money", on_phone=on_phone), cells)

    return fill_table(
        f"{wanted.known.material}: each offer by itself, by what is used",
        [
            Filled(Column("offer", "Offer", on_phone=True), [name_offer(offer) for offer, _ in found]),
            Filled(Column("packs", "Packs", "count"), [one.line.packs for _, one in found]),
            Filled(
                Column("used", "Used in time", "quantity"),
                [(round_half_up(one.used), unit) for _, one in found],
            ),
            column("goods", f"Goods, per {word}", "goods"),
            column("brought", "Carriage and duty", "brought"),
            column("stale", "Goes stale", "stale"),
            column("rate", f"Per {word} used", "rate", on_phone=True),
        ],
    )


def picture_offers(proposal: Proposal, wanted: Wanted) -> Picture | None:
    """What a kilo or a gram that is used costs by each offer; None where there is nothing to compare."""
    found = [(offer, one) for offer, one in proposal.compare(wanted) if one.rate is not None]
    if len(found) < 2:
        return None
    small, word = big_unit(wanted)
    bars, figures = [], []
    for offer, one in found:
        parts = tuple(round_half_up(rate * small) for rate in (one.goods, one.brought, one.stale))
        bars.append(BarRow(f"{one.line.packs} × {name_offer(offer)}", print_rate(one.rate, wanted), parts))
        figures.append(tuple(print_money(part) for part in parts))
    best, worst = found[0], found[-1]
    return rows_chart(
        bars,
        (("pieces", "the goods"), ("filings", "carriage and duty"), ("lost", "what goes stale")),
        f"{wanted.known.material}: what a {word} that is used costs",
        f"{name_offer(best[0])} costs least, {print_rate(best[1].rate, wanted)}; "
        f"{name_offer(worst[0])} most, {print_rate(worst[1].rate, wanted)}.",
        tuple(figures),
    )


def list_workings(proposal: Proposal) -> list[Working]:
    """How the need of each material, the order, its carriage and its cost came about."""
    choice, figures = proposal.choice, proposal.figures
    if choice is None or figures is None:
        return []
    found = []
    for wanted, part in zip(proposal.wanted, choice.parts, strict=True):
        material, unit = wanted.known.material, wanted.known.demand.unit
        found.append(_titled(wanted.working, str(material)))
        if part.lines:
            found.append(
                explain_part(part, f"{material}: what it costs", unit, dict(proposal.terms), proposal.ahead)
            )
    for supplier in proposal.sellers:
        lines = proposal.lines_of(supplier.pk)
        found.append(
            explain_carriage(
                supplier.name,
                proposal.terms[supplier.pk],
                sum(line.price_micro for line in lines),
                sum(line.weight_mg for line in lines),
                choice.carriage_micro.get(supplier.pk, 0),
            )
        )
    return [*found, explain_total(figures, print_date(proposal.until))]


def list_beside(proposal: Proposal, wanted: Wanted) -> list[Working]:
    """How each offer by itself, and the textbook's order, come about."""
    unit = wanted.known.demand.unit
    found = [
        explain_offer(
            one,
            f"{offer.material}, {name_offer(offer)}",
            unit,
            proposal.terms[offer.supplier_id],
            print_rate(one.rate, wanted),
        )
        for offer, one in proposal.compare(wanted)
    ]
    textbook = proposal.economic_order(wanted)
    return [*found, _titled(textbook[1], str(wanted.known.material))] if textbook else found


def say_textbook(proposal: Proposal, wanted: Wanted) -> str:
    textbook = proposal.economic_order(wanted)
    if textbook is None:
        return (
            "The textbook has no figure for it: it needs a known use, carriage, and a cost of money in stock."
        )
    return f"The textbook would order {print_pack_about(textbook[0], wanted)} each time."


def say_for_longer(proposal: Proposal, wanted: Wanted) -> str:
    """Why the offer that costs least by what is used of it is not ordered; "" where it is."""
    found, chosen = proposal.compare(wanted), proposal.choice.lines if proposal.choice else ()
    if not found or not chosen or found[0][0].pk in {line.pack.key for line in chosen}:
        return ""
    best, weeks = name_offer(found[0][0]), proposal.ahead.days // DAYS_PER_WEEK
    return (
        f"{best}, costs least by the time that all of it is used. Of so much as is wanted for {weeks} "
        f"week{'s' * (weeks != 1)}, with what carriage they share, the order above costs less: write more weeks to "
        "see from when on it pays."
    )


def print_pack_about(quantity: int, wanted: Wanted) -> str:
    unit = wanted.known.demand.unit
    if unit == "mass" and quantity >= MG_PER_KG:
        return print_pack(divide_half_up(quantity, _TENTH_KG) * _TENTH_KG, unit)
    return print_quantity(quantity, unit)


def _titled(working: Working, name: str) -> Working:
    return replace(working, title=f"{name}: {working.title[:1].lower()}{working.title[1:]}")
