"""The pieces of a time, each with what it cost and what to ask for it."""

from collections.abc import Mapping, Sequence
from typing import Any

from costing.core import inputs
from costing.core.price import PriceRule, compute_price
from costing.core.rollup import compute_printed
from costing.forms.reports import MetalForm
from costing.queries.costed import CostedCast, closed_cast_ids, cost_casts
from inventory.queries.studio import current_studio
from studio.kit.documents import Block, Column, Document, Filled, Prose, Raw, fill_table, summed
from studio.kit.printing import print_money
from studio.kit.reporting import report
from studio.kit.rounding import round_to_unit

from .cast_cost import rules_of_today
from .cost_sheet import make_document, penny_of, price_columns, say_period, say_rounding


@report(
    "pieces-cost",
    "What the pieces cost",
    "Every piece cast in a time: its grams, what it cost and what to ask for it.",
    MetalForm,
    place=4,
)
def build_pieces_cost(params: Mapping[str, Any]) -> Document:
    """The document of a time. `params` is the cleaned data of MetalForm."""
    first, last, alloy = params["from"], params["to"], params.get("alloy")
    studio = current_studio()
    costed = cost_casts(closed_cast_ids(first, last, alloy)).values()
    newest = sorted(costed, key=lambda one: (one.cast.day, one.cast.number), reverse=True)
    return make_document(
        studio,
        "What the pieces cost",
        _blocks_of(newest, rules_of_today(), penny_of(studio)),
        subtitle=str(alloy) if alloy else "",
        period_text=f"cast {say_period(first, last)}",
        filename=f"pieces {first} to {last}",
    )


def _blocks_of(costed: Sequence[CostedCast], rules: tuple[PriceRule, ...], penny_micro: int) -> list[Block]:
    """Figures as they stand in the table of their cast, so that both say the same."""
    printed = [compute_printed(one.cost, penny_micro) for one in costed]
    places = [
        (one, shown, place)
        for one, shown in zip(costed, printed, strict=True)
        for place in one.inputs.good_places
    ]
    if not places:
        return [Prose("No piece was cast in this time.")]
    metal_micro, cost_micro = _add_up(costed, penny_micro)
    metal = Filled(
        Column("metal", "Of it metal", "money"),
        [shown.line(inputs.OWN_METAL).piece_micro[place] for _, shown, place in places],
        metal_micro,
    )
    cost = Filled(
        Column("cost", "Cost", "money", on_phone=True),
        [shown.piece_totals_micro[place] for _, shown, place in places],
        cost_micro,
    )
    pieces = [(one.cast, one.pieces[place]) for one, _, place in places]
    exact = [one.cost.piece_totals_micro[place] for one, _, place in places]
    table = fill_table(
        "Pieces, newest first",
        [
            Filled(Column("piece", "Piece"), [piece.name for _, piece in pieces], "Together"),
            Filled(Column("cast", "Cast"), [str(cast.number) for cast, _ in pieces]),
            Filled(Column("day", "Day", "day"), [cast.day for cast, _ in pieces]),
            Filled(Column("alloy", "Metal"), [str(cast.alloy) for cast, _ in pieces]),
            Filled(Column("state", "State"), [piece.get_state_display() for _, piece in pieces]),
            summed(Column("mass", "Grams", "mass"), [one.piece_mg[place] for one, _, place in places]),
            metal,
            cost,
            *(
                Filled(column, [_ask(amount, rule) for amount in exact])
                for column, rule in zip(price_columns(rules), rules, strict=True)
            ),
        ],
        "Pieces that went back in the pot are left out, and so is what was set aside in a cast, which no piece "
        f"carries. Prices follow your cost rules of today. {say_rounding(metal, cost)}".strip(),
    )
    count = "1 piece was" if len(places) == 1 else f"{len(places)} pieces were"
    said = (
        f"{count} cast in this time and cost {print_money(cost_micro)} together, "
        f"{print_money(metal_micro)} of it metal."
    )
    return [Prose(said), table]


def _ask(cost_micro: int, rule: PriceRule) -> Raw:
    price = compute_price(cost_micro, rule)
    return "" if price.problem else price.asked_micro


def _add_up(costed: Sequence[CostedCast], unit_micro: int) -> tuple[int, int]:
    """What the metal in all the pieces cost and what they cost: exact, then rounded, for sums of pennies drift."""
    lines = [line for one in costed for line in one.cost.lines if line.key == inputs.OWN_METAL]
    metal_micro = sum(sum(line.piece_micro) for line in lines)
    cost_micro = sum(sum(one.cost.piece_totals_micro) for one in costed)
    return round_to_unit(metal_micro, unit_micro), round_to_unit(cost_micro, unit_micro)
