"""The pieces of a time, each with what it cost and what to ask for it."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from costing.core import inputs
from costing.core.price import PriceRule, compute_price
from costing.core.printed import compute_printed
from costing.forms.reports import MetalForm
from costing.queries import CostedCast, cost_casts
from costing.queries.choices import closed_cast_ids
from inventory.queries.studio import current_studio
from studio.kit.documents import Column, Document, Prose, Raw, Table
from studio.kit.printing import print_money
from studio.kit.reporting import Report, register
from studio.kit.rounding import round_to_unit

from .cast_cost import rules_of_today
from .layout import make_document, penny_of, say_period, say_rounding


def build_pieces_cost(params: Mapping[str, Any]) -> Document:
    """The document of a time. `params` is the cleaned data of MetalForm."""
    first, last, alloy = params["from"], params["to"], params.get("alloy")
    studio, rules = current_studio(), rules_of_today()
    penny_micro = penny_of(studio)
    costed = cost_casts(closed_cast_ids(first, last, alloy)).values()
    newest = sorted(costed, key=lambda one: (one.cast.day, one.cast.number), reverse=True)
    rows = [row for one in newest for row in _rows_of(one, rules, penny_micro)]
    totals = _add_up(newest, penny_micro)
    note = say_rounding([row[6:8] for row in rows], totals)
    columns = (
        Column("piece", "Piece"),
        Column("cast", "Cast"),
        Column("day", "Day", "day"),
        Column("alloy", "Metal"),
        Column("state", "State"),
        Column("mass", "Grams", "mass"),
        Column("metal", "Of it metal", "money"),
        Column("cost", "Cost", "money", on_phone=True),
        *(Column(rule.label.lower(), rule.label, "money") for rule in rules[:-1]),
        *(Column(rule.label.lower(), rule.label, "money", on_phone=True) for rule in rules[-1:]),
    )
    metal_micro, cost_micro = totals
    count = "1 piece was" if len(rows) == 1 else f"{len(rows)} pieces were"
    said = (
        f"{count} cast in this time and cost {print_money(cost_micro)} together, "
        f"{print_money(metal_micro)} of it metal."
    )
    table = Table(
        "Pieces, newest first",
        columns,
        rows,
        ("Together", *[None] * 4, sum(row[5] for row in rows), *totals, *[None] * len(rules)),
        "Pieces that went back in the pot are left out, and so is what was set aside in a cast, which no piece "
        f"carries. Prices follow your cost rules of today. {note}".strip(),
    )
    return make_document(
        studio,
        "pieces-cost",
        "What the pieces cost",
        [Prose(said), table] if rows else [Prose("No piece was cast in this time.")],
        subtitle=str(alloy) if alloy else "",
        period_text=f"cast {say_period(first, last)}",
        filename=f"pieces {first} to {last}",
    )


def _add_up(costed: Sequence[CostedCast], unit_micro: int) -> tuple[int, int]:
    """What the metal in all the pieces cost and what they cost: exact, then rounded, for sums of pennies drift."""
    lines = [line for one in costed for line in one.cost.lines if line.key == inputs.OWN_METAL]
    metal_micro = sum(sum(line.piece_micro) for line in lines)
    cost_micro = sum(sum(one.cost.piece_totals_micro) for one in costed)
    return round_to_unit(metal_micro, unit_micro), round_to_unit(cost_micro, unit_micro)


def _rows_of(costed: CostedCast, rules: tuple[PriceRule, ...], unit_micro: int) -> Iterator[tuple[Any, ...]]:
    """Figures as they stand in the table of their cast, so that both say the same."""
    cast = costed.cast
    printed = compute_printed(costed.cost, unit_micro)
    metal = printed.line(inputs.OWN_METAL)
    for place in costed.inputs.good_places:
        piece = costed.pieces[place]
        exact_micro = costed.cost.piece_totals_micro[place]
        asked: list[Raw] = []
        for rule in rules:
            price = compute_price(exact_micro, rule)
            asked.append("" if price.problem else price.asked_micro)
        yield (
            piece.name,
            str(cast.number),
            cast.day,
            str(cast.alloy),
            piece.get_state_display(),
            costed.piece_mg[place],
            metal.piece_micro[place],
            printed.piece_totals_micro[place],
            *asked,
        )


register(
    Report(
        name="pieces-cost",
        title="What the pieces cost",
        summary="Every piece cast in a time: its grams, what it cost and what to ask for it.",
        form_class=MetalForm,
        build=build_pieces_cost,
    )
)
