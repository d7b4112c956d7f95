"""What is in stock at the end of a day, and what it cost."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from costing.forms.reports import DayForm
from costing.queries.stock_value import Held, stock_on
from inventory.models import Holder, Material
from inventory.queries.studio import current_studio
from studio.kit.documents import Block, Column, Document, Prose, Raw, Table
from studio.kit.printing import print_money
from studio.kit.reporting import Report, register

from .layout import PRINTED_FINE_UG, make_document, penny_of, round_column, say_day

_KINDS = list(Material.Kind.values)
_HELD_WORDS = {Holder.Kind.CRUCIBLE: "in open casts", Holder.Kind.PIECE: "in pieces"}
_COLUMNS = (
    Column("what", "What"),
    Column("quantity", "Quantity", "quantity", on_phone=True),
    Column("fine", "Fine metal", "fine"),
    Column("cost", "Cost", "money", on_phone=True),
)

Line = tuple[Held, int, int]
"""What is held, with its micrograms fine and its cost as they are printed."""


def build_stock_value(params: Mapping[str, Any]) -> Document:
    """The document of a day. `params` is the cleaned data of DayForm."""
    studio, day = current_studio(), params["day"]
    held = sorted(stock_on(day), key=_place_of)
    fines, _ = round_column([one.amount.fine_ug for one in held], PRINTED_FINE_UG)
    costs, _ = round_column([one.amount.cost_micro for one in held], penny_of(studio))
    lines = list(zip(held, fines, costs, strict=True))
    return make_document(
        studio,
        "stock-value",
        "What the stock cost",
        _blocks_of(lines) if lines else [Prose("Nothing was in stock on that day.")],
        period_text=f"at the end of {say_day(day)}",
        filename=f"stock {day}",
    )


def _blocks_of(lines: Sequence[Line]) -> list[Block]:
    cost_micro = sum(cost for _, _, cost in lines)
    metal_micro = sum(cost for one, _, cost in lines if _kind_of(one) == Material.Kind.METAL)
    rows: list[tuple[Raw, ...]] = [
        (_name(one), (one.amount.quantity, _unit(one)), fine or "", cost) for one, fine, cost in lines
    ]
    totals = ("Together", None, None, cost_micro)
    note = "Pieces stand here at the cost of their metal alone. Customers' own metal is theirs and left out."
    return [
        Prose(f"The stock cost {print_money(cost_micro)}, {print_money(metal_micro)} of it metal."),
        Table("By what it is", _COLUMNS, _rows_by_group(lines), totals),
        Table("Each by itself", _COLUMNS, rows, totals, note),
    ]


def _rows_by_group(lines: Sequence[Line]) -> list[tuple[Raw, ...]]:
    """A line for each alloy and for each other kind of stock; what is counted in several units has no sum."""
    rows: list[tuple[Raw, ...]] = []
    for group, found in groupby(lines, lambda line: _group_of(line[0])):
        same = list(found)
        units = {_unit(one) for one, _, _ in same}
        quantity = sum(one.amount.quantity for one, _, _ in same)
        rows.append(
            (
                group,
                (quantity, units.pop()) if len(units) == 1 else "",
                sum(fine for _, fine, _ in same) or "",
                sum(cost for _, _, cost in same),
            )
        )
    return rows


def _place_of(one: Held) -> tuple[int, str, int, str]:
    return (
        _KINDS.index(_kind_of(one)),
        _group_of(one),
        list(Holder.Kind.values).index(one.kind),
        _name(one),
    )


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


def _unit(one: Held) -> str:
    return str(one.material.unit) if one.material else str(Material.Unit.MASS)


register(
    Report(
        name="stock-value",
        title="What the stock cost",
        summary="Every material that is here at the end of a day: how much, its fine metal, and what it cost.",
        form_class=DayForm,
        build=build_stock_value,
    )
)
