"""What is in stock at the end of a day, and what it cost."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from costing.forms.reports import DayForm
from costing.queries.metal import Held, stock_on
from inventory.core.ledger import total_of
from inventory.models import Holder, Material
from inventory.queries.studio import current_studio
from studio.kit.documents import Block, Column, Document, Filled, Prose, Table, fill_table
from studio.kit.printing import print_money
from studio.kit.reporting import report
from studio.kit.rounding import round_to_unit

from .cost_sheet import PRINTED_FINE_UG, make_document, penny_of, round_column, say_day, say_rounding

_HELD_WORDS = {
    Holder.Kind.CRUCIBLE: "in open casts",
    Holder.Kind.PIECE: "in pieces",
    Holder.Kind.BATCH: "at the refiner",
}


@report(
    "stock-value",
    "What the stock cost",
    "Every material that is here at the end of a day: how much, its fine metal, and what it cost.",
    DayForm,
    place=5,
)
def build_stock_value(params: Mapping[str, Any]) -> Document:
    """The document of a day. `params` is the cleaned data of DayForm."""
    studio, day = current_studio(), params["day"]
    held = sorted(stock_on(day), key=_place_of)
    return make_document(
        studio,
        "What the stock cost",
        _blocks_of(held, penny_of(studio)) if held else [Prose("Nothing was in stock on that day.")],
        period_text=f"at the end of {say_day(day)}",
        filename=f"stock {day}",
    )


def _blocks_of(held: Sequence[Held], penny_micro: int) -> list[Block]:
    metal_micro = sum(one.amount.cost_micro for one in held if _kind_of(one) == Material.Kind.METAL)
    groups = [(group, list(found)) for group, found in groupby(held, _group_of)]
    cost_micro = sum(one.amount.cost_micro for one in held)
    note = "Pieces stand here at the cost of their metal alone. Customers' own metal is theirs and left out."
    return [
        Prose(f"The stock cost {print_money(cost_micro)}, {print_money(metal_micro)} of it metal."),
        _table("By what it is", groups, penny_micro),
        _table("Each by itself", [(_name(one), [one]) for one in held], penny_micro, note),
    ]


def _table(
    caption: str, named: Sequence[tuple[str, Sequence[Held]]], penny_micro: int, note: str = ""
) -> Table:
    """A line for each of some names, with all that is held under it; what is counted in several units has no sum."""
    amounts = [total_of(one.amount for one in same) for _, same in named]
    units = [
        {str(one.material.unit if one.material else Material.Unit.MASS) for one in same} for _, same in named
    ]
    fine = [round_to_unit(amount.fine_ug, PRINTED_FINE_UG) or "" for amount in amounts]
    cost = Column("cost", "Cost", "money", on_phone=True)
    costs = round_column(cost, [amount.cost_micro for amount in amounts], penny_micro)
    filled = [
        Filled(Column("what", "What"), [name for name, _ in named], "Together"),
        Filled(
            Column("quantity", "Quantity", "quantity", on_phone=True),
            [
                (amount.quantity, unit.pop()) if len(unit) == 1 else ""
                for amount, unit in zip(amounts, units, strict=True)
            ],
        ),
        Filled(Column("fine", "Fine metal", "fine"), fine),
        costs,
    ]
    return fill_table(caption, filled, f"{note} {say_rounding(costs)}".strip())


def _place_of(one: Held) -> tuple[int, str, int, str]:
    kinds, holders = list(Material.Kind.values), list(Holder.Kind.values)
    return kinds.index(_kind_of(one)), _group_of(one), holders.index(one.kind), _name(one)


def _kind_of(one: Held) -> str:
    return str(one.material.kind) if one.material else str(Material.Kind.METAL)


def _group_of(one: Held) -> str:
    """The alloy of a metal, and the kind of what is none."""
    alloy = one.material.alloy if one.material else one.alloy
    return str(alloy) if alloy else str(Material.Kind(_kind_of(one)).label).capitalize()


def _name(one: Held) -> str:
    if one.material is not None:
        return str(one.material)
    return f"{one.alloy}, {_HELD_WORDS[Holder.Kind(one.kind)]}"
