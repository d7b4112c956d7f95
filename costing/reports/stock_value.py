"""What is in stock at the end of a day, and what it cost: by kind, state and place, lot by lot and piece by piece."""

from collections.abc import Callable, Mapping, Sequence
from itertools import groupby
from typing import Any

from costing.forms.reports import DayForm
from costing.queries.held import Held, PieceValue, Thing, group_held, things_on, value_pieces
from inventory.core.ledger import total_of
from inventory.models import Holder, Lot, Material
from inventory.queries.studio import current_studio
from inventory.reports.making import make_document
from studio.kit.documents import (
    Block,
    Column,
    Document,
    Filled,
    NoteLines,
    Prose,
    Table,
    fill_table,
    summed,
    summed_apart,
)
from studio.kit.printing import print_money
from studio.kit.reporting import report
from studio.kit.rounding import round_to_unit

from .cost_sheet import PRINTED_FINE_UG, say_day

_HELD_WORDS = {
    Holder.Kind.CRUCIBLE: "in open casts",
    Holder.Kind.PIECE: "in pieces",
    Holder.Kind.BATCH: "at the refiner",
}
_STATES = {
    Lot.Origin.CLEAN: "Metal to melt again: buttons, sprues and old metal",
    Lot.Origin.FAILED: "Failed castings, to be cleaned",
    Lot.Origin.SPILL: "Spill, filings and sweeps",
    Lot.Origin.FILINGS: "Spill, filings and sweeps",
    Lot.Origin.SWEEPS: "Spill, filings and sweeps",
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
    things = things_on(day)
    return make_document(
        studio,
        "What the stock cost",
        _blocks_of(things, studio.penny_micro) if things else [Prose("Nothing was in stock on that day.")],
        period_text=f"at the end of {say_day(day)}",
        filename=f"stock {day}",
    )


def _blocks_of(things: Sequence[Thing], penny_micro: int) -> list[Block]:
    own = [thing for thing in things if thing.owner is None]
    held = sorted(group_held(own), key=_place_of)
    metal_micro = sum(one.amount.cost_micro for one in held if _kind_of(one) == Material.Kind.METAL)
    groups = [(group, list(found)) for group, found in groupby(held, _group_of)]
    cost_micro = sum(one.amount.cost_micro for one in held)
    pieces = value_pieces(own)
    pieces_micro = sum(one.metal_micro for one in pieces)
    said = f"The stock cost {print_money(cost_micro)}, {print_money(metal_micro)} of it metal."
    if pieces:
        full_micro = sum(one.full_micro for one in pieces)
        said += (
            f" In that are the pieces at the {print_money(pieces_micro)} of their metal; with all that was spent on "
            f"them they cost {print_money(full_micro)}, so the stock with its pieces at full cost comes to "
            f"{print_money(cost_micro - pieces_micro + full_micro)}."
        )
    note = "Pieces stand here at the cost of their metal alone. Customers' own metal is theirs and left out."
    return [
        Prose(said),
        _table("By what it is", groups, penny_micro),
        _table("By state of work", _group_by(own, _state_of), penny_micro, has_fine=False),
        _table("By place", _group_by(own, _kept_of), penny_micro, has_fine=False),
        _table("Each by itself", [(_name(one), [one]) for one in held], penny_micro, note),
        *_table_lots([thing for thing in own if thing.lot], penny_micro),
        *_table_pieces(pieces, penny_micro),
        *_table_customers([thing for thing in things if thing.owner is not None]),
        NoteLines("Counted and found right: name, day, signature", 2),
    ]


def _group_by(things: Sequence[Thing], name: Callable[[Thing], str]) -> list[tuple[str, list[Thing]]]:
    """By name; what has none comes last."""
    groups: dict[str, list[Thing]] = {}
    for thing in things:
        groups.setdefault(name(thing), []).append(thing)
    return sorted(groups.items(), key=lambda group: (group[0] == _NOWHERE, group[0].casefold()))


_NOWHERE = "No place written down"


def _state_of(thing: Thing) -> str:
    lot = thing.lot
    if lot is None:
        return f"Metal {_say_held(thing.kind)}"
    if lot.material.kind != Material.Kind.METAL:
        return "Other stock"
    return _STATES.get(Lot.Origin(lot.origin), "Metal to melt" if lot.is_fresh else _STATES[Lot.Origin.CLEAN])


def _kept_of(thing: Thing) -> str:
    if thing.lot is None:
        return _say_held(thing.kind).capitalize()
    return thing.lot.kept_in or _NOWHERE


def _say_held(kind: str) -> str:
    return _HELD_WORDS.get(Holder.Kind(kind)) or f"in a {Holder.Kind(kind).label}"


def _table_lots(things: Sequence[Thing], penny_micro: int) -> list[Table]:
    if not things:
        return []
    found = sorted(things, key=lambda thing: (thing.lot.material.kind, thing.lot.material.name, thing.lot.pk))  # type: ignore[union-attr]  # lots only
    fine = [round_to_unit(thing.amount.fine_ug, PRINTED_FINE_UG) or "" for thing in found]
    cost = Column("cost", "Cost", "money", on_phone=True)
    costs = summed_apart(cost, [thing.amount.cost_micro for thing in found], penny_micro)
    filled = [
        Filled(Column("lot", "Lot"), [thing.name for thing in found], "Together"),
        Filled(Column("kept", "Kept in"), [_kept_of(thing) for thing in found]),
        Filled(
            Column("quantity", "Quantity", "quantity", on_phone=True),
            [(thing.amount.quantity, thing.unit) for thing in found],
        ),
        Filled(Column("fine", "Fine metal", "fine"), fine),
        costs,
    ]
    return [fill_table("Lot by lot", filled)]


def _table_pieces(pieces: Sequence[PieceValue], penny_micro: int) -> list[Table]:
    if not pieces:
        return []
    metal = summed_apart(
        Column("metal", "Its metal", "money"), [one.metal_micro for one in pieces], penny_micro
    )
    full = Column("full", "Full cost", "money", on_phone=True)
    fulls = summed_apart(full, [one.full_micro for one in pieces], penny_micro)
    filled = [
        Filled(Column("piece", "Piece"), [one.piece.name for one in pieces], "Together"),
        Filled(Column("cast", "Cast", "number"), [one.piece.cast.number for one in pieces]),
        summed(Column("mass", "Grams", "mass"), [one.mass_mg for one in pieces]),
        metal,
        fulls,
    ]
    note = (
        "The full cost has all that a piece carries of its cast by the cost rules of its day, as far as it is known "
        "today."
    )
    return [fill_table("Pieces, at the cost of their metal and at full cost", filled, note)]


def _table_customers(things: Sequence[Thing]) -> list[Table]:
    """It carries no cost: grams alone."""
    if not things:
        return []
    found = sorted(things, key=lambda thing: (str(thing.owner), thing.kind, thing.holder.pk))
    filled = [
        Filled(Column("owner", "Whose"), [str(thing.owner) for thing in found]),
        Filled(Column("what", "What"), [thing.name for thing in found]),
        Filled(Column("metal", "Metal"), [str(thing.alloy) for thing in found]),
        summed(Column("mass", "Grams", "mass", on_phone=True), [thing.amount.quantity for thing in found]),
    ]
    return [fill_table("Customers' metal, apart", filled, "It is theirs: it stands in no sum above.")]


def _table(
    caption: str,
    named: Sequence[tuple[str, Sequence[Held | Thing]]],
    penny_micro: int,
    note: str = "",
    has_fine: bool = True,
) -> Table:
    """A line for each of some names, with all that is held under it; what is counted in several units has no sum."""
    amounts = [total_of(one.amount for one in same) for _, same in named]
    units = [
        {str(one.material.unit if one.material else Material.Unit.MASS) for one in same} for _, same in named
    ]
    fine = [round_to_unit(amount.fine_ug, PRINTED_FINE_UG) or "" for amount in amounts]
    cost = Column("cost", "Cost", "money", on_phone=True)
    costs = summed_apart(cost, [amount.cost_micro for amount in amounts], penny_micro)
    filled = [
        Filled(Column("what", "What"), [name for name, _ in named], "Together"),
        Filled(
            Column("quantity", "Quantity", "quantity", on_phone=True),
            [
                (amount.quantity, unit.pop()) if len(unit) == 1 else ""
                for amount, unit in zip(amounts, units, strict=True)
            ],
        ),
        # Fine silver and fine gold are not added up.
        *([Filled(Column("fine", "Fine metal", "fine"), fine)] if has_fine else []),
        costs,
    ]
    return fill_table(caption, filled, note)


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
    return f"{one.alloy}, {_say_held(one.kind)}"
