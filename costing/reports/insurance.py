"""What to insure: pieces at what they cost and at what is asked for them, equipment, stock and customers' metal."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.utils import timezone

from costing.core.price import compute_price
from costing.queries.held import PieceValue, Thing, things_on, value_pieces
from costing.queries.policy import all_policies, policy_on
from inventory.core.ledger import total_of
from inventory.models import Equipment, Holder, Studio
from inventory.queries.setup import in_use
from inventory.queries.studio import current_studio
from inventory.reports.making import make_document
from studio.kit.documents import (
    Block,
    Column,
    Document,
    Filled,
    NoteLines,
    Prose,
    Raw,
    Table,
    fill_table,
    summed,
    summed_apart,
)
from studio.kit.printing import print_money
from studio.kit.reporting import ReportForm, report

from .cast_cost import rules_of_today
from .cost_sheet import name_rules, price_columns, say_day


@report(
    "insurance",
    "Insurance list",
    "Pieces at what they cost and at what is asked for them, equipment at what it cost, and the stock.",
    ReportForm,
    place=7,
)
def build_insurance(params: Mapping[str, Any]) -> Document:
    """What is here today: prices are asked by the rules of today."""
    studio, today = current_studio(), timezone.localdate()
    things = things_on(today)
    own = [thing for thing in things if thing.owner is None]
    return make_document(
        studio,
        "Insurance list",
        _blocks_of(own, [thing for thing in things if thing.owner], list(in_use(Equipment)), studio),
        period_text=f"as things are on {say_day(today)}",
        filename=f"insurance {today}",
    )


def _blocks_of(
    own: Sequence[Thing], theirs: Sequence[Thing], equipment: Sequence[Equipment], studio: Studio
) -> list[Block]:
    stock = total_of(thing.amount for thing in own if thing.kind != Holder.Kind.PIECE)
    pieces = value_pieces(own)
    tools_micro = sum(one.price_micro for one in equipment)
    full_micro = sum(one.today_micro for one in pieces)
    said = (
        f"At cost: pieces {print_money(full_micro)}, equipment {print_money(tools_micro)}, stock without the pieces "
        f"{print_money(stock.cost_micro)}; {print_money(full_micro + tools_micro + stock.cost_micro)} in all."
    )
    blocks: list[Block] = [
        Prose(said),
        Prose(
            "Ask your insurer which of the figures a policy goes by: what it cost, or what it is sold for. Lot by "
            "lot the stock stands in “What the stock cost”."
        ),
    ]
    blocks += [_table_pieces(pieces, studio)] if pieces else [Prose("No piece of the studio's own is here.")]
    if equipment:
        blocks.append(_table_equipment(equipment, studio))
    if theirs:
        blocks.append(_table_theirs(theirs))
    return [*blocks, NoteLines("Name, day, signature", 2)]


def _table_pieces(pieces: Sequence[PieceValue], studio: Studio) -> Table:
    policies = all_policies()
    rules = rules_of_today(policies)
    cost = Column("cost", "Cost", "money", on_phone=True)
    costs = summed_apart(cost, [one.today_micro for one in pieces], studio.penny_micro)
    prices = [[compute_price(one.today_micro, rule) for one in pieces] for rule in rules]
    asked = [
        Filled(column, _asked(row), sum(price.asked_micro for price in row if not price.problem))
        for column, row in zip(price_columns(rules), prices, strict=True)
    ]
    filled = [
        Filled(Column("piece", "Piece"), [one.piece.name for one in pieces], "Together"),
        Filled(Column("cast", "Cast", "number"), [one.piece.cast.number for one in pieces]),
        Filled(Column("metal", "Metal"), [str(one.alloy) for one in pieces]),
        summed(Column("mass", "Grams", "mass"), [one.mass_mg for one in pieces]),
        costs,
        *asked,
    ]
    note = f"What is asked follows {name_rules(policy_on(timezone.localdate(), policies), ' of today')}, tax and all."
    return fill_table("Pieces that are here", filled, note)


def _asked(prices: Sequence[Any]) -> list[Raw]:
    return ["" if price.problem else price.asked_micro for price in prices]


def _table_equipment(equipment: Sequence[Equipment], studio: Studio) -> Table:
    cost = Column("cost", "Cost", "money", on_phone=True)
    costs = summed_apart(cost, [one.price_micro for one in equipment], studio.penny_micro)
    filled = [
        Filled(Column("what", "Equipment"), [str(one) for one in equipment], "Together"),
        Filled(Column("kind", "Kind"), [one.get_kind_display() for one in equipment]),
        Filled(Column("bought", "Bought", "day"), [one.bought_on or "" for one in equipment]),
        costs,
    ]
    return fill_table("Equipment, at what it cost", filled)


def _table_theirs(things: Sequence[Thing]) -> Table:
    found = sorted(things, key=lambda thing: (str(thing.owner), thing.holder.pk))
    filled = [
        Filled(Column("owner", "Whose"), [str(thing.owner) for thing in found], "Together"),
        Filled(Column("what", "What"), [thing.name for thing in found]),
        Filled(Column("metal", "Metal"), [str(thing.alloy) for thing in found]),
        summed(Column("mass", "Grams", "mass", on_phone=True), [thing.amount.quantity for thing in found]),
    ]
    return fill_table("In your care: customers' metal", filled, "It has no cost in your books.")
