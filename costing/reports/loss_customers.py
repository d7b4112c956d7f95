"""Customers' own metal over a time, beside the account of the studio's."""

from collections.abc import Iterable, Mapping, Sequence

from costing.core.metal_account import CAME_LABELS, WENT_LABELS, MetalAccount
from inventory.core.ledger import Amount
from inventory.models import Alloy, Customer
from studio.kit.documents import Column, Filled, Table, fill_table


def table_customers(accounts: Sequence[tuple[Customer, Alloy, MetalAccount]]) -> Table:
    """Customers' own metal, a line for each owner and alloy; it carries no cost.

    What each row begins with, and what came in, is what went out and what is here at the end.
    """
    filled = [
        Filled(Column("whose", "Whose metal"), [f"{owner}, {alloy}" for owner, alloy, _ in accounts]),
        Filled(
            Column("start", "Here at the start", "mass"),
            [account.start.quantity for _, _, account in accounts],
        ),
    ]
    for word, labels, sides in (
        ("came", CAME_LABELS, [account.came for _, _, account in accounts]),
        ("went", WENT_LABELS, [account.went for _, _, account in accounts]),
    ):
        filled += [
            Filled(
                Column(f"{word}-{key}", label, "mass"), [side.get(key, Amount()).quantity for side in sides]
            )
            for key, label in labels.items()
            if _is_there(key, sides)
        ]
    filled.append(
        Filled(
            Column("end", "Here at the end", "mass", on_phone=True),
            [account.end.quantity for _, _, account in accounts],
        )
    )
    note = "What was here at the start and what came in is what went out and what is here at the end."
    return fill_table("Customers' metal, in grams", filled, note)


def _is_there(key: str, sides: Iterable[Mapping[str, Amount]]) -> bool:
    return any(key in side and not side[key].is_nothing for side in sides)
