"""What is in stock at the end of a day, and what it cost."""

from collections.abc import Mapping
from typing import Any

from costing.forms.reports import DayForm
from costing.queries.stock_value import Held, stock_on
from inventory.models import Holder, Material
from inventory.queries.studio import current_studio
from studio.kit.documents import Column, Document, Prose, Raw, Table
from studio.kit.reporting import Report, register

from .layout import PRINTED_FINE_UG, make_document, penny_of, round_column, say_day

_KINDS = list(Material.Kind.values)
_HELD_WORDS = {Holder.Kind.CRUCIBLE: "in open casts", Holder.Kind.PIECE: "in pieces"}


def build_stock_value(params: Mapping[str, Any]) -> Document:
    """The document of a day. `params` is the cleaned data of DayForm."""
    studio, day = current_studio(), params["day"]
    held = sorted(stock_on(day), key=_place_of)
    fines, _ = round_column([one.amount.fine_ug for one in held], PRINTED_FINE_UG)
    costs, cost = round_column([one.amount.cost_micro for one in held], penny_of(studio))
    columns = (
        Column("what", "What"),
        Column("kind", "Kind"),
        Column("quantity", "Quantity", "quantity", on_phone=True),
        Column("fine", "Fine metal", "fine"),
        Column("cost", "Cost", "money", on_phone=True),
    )
    rows: list[tuple[Raw, ...]] = [
        (_name(one), _say_kind(one), (one.amount.quantity, _unit(one)), fine or "", amount)
        for one, fine, amount in zip(held, fines, costs, strict=True)
    ]
    note = "Pieces stand here at the cost of their metal alone. Customers' own metal is theirs and left out."
    table = Table("Stock", columns, rows, ("Together", None, None, None, cost), note)
    return make_document(
        studio,
        "stock-value",
        "What the stock cost",
        [table] if rows else [Prose("Nothing was in stock on that day.")],
        period_text=f"at the end of {say_day(day)}",
        filename=f"stock {day}",
    )


def _place_of(one: Held) -> tuple[int, int, str]:
    kind = one.material.kind if one.material else Material.Kind.METAL
    return _KINDS.index(kind), list(Holder.Kind.values).index(one.kind), _name(one)


def _name(one: Held) -> str:
    if one.material is not None:
        return str(one.material)
    return f"{one.alloy}, {_HELD_WORDS[Holder.Kind(one.kind)]}"


def _say_kind(one: Held) -> str:
    return str(one.material.get_kind_display()) if one.material else str(Material.Kind.METAL.label)


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
