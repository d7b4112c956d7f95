"""What was lost in a refiner's melt, shared by what each alloy of the batch sent."""

from collections.abc import Mapping

from costing.core.metal_account import End, Flow, Key
from inventory.core.ledger import Amount
from studio.kit.units import divide_half_up

BATCH = "batch"


def share_melt(lost: Amount, sent: Mapping[Key, Amount], main: Key) -> dict[Key, Amount]:
    """The part of a loss that falls on each metal of a batch but the `main` one, to which all of it was booked.

    Grams by the grams that it sent, fine metal by its fine metal, cost by its cost.
    """
    whole = [sum(getattr(one, name) for one in sent.values()) for name in MEASURES]
    return {
        key: Amount(
            *(
                divide_half_up(getattr(lost, name) * getattr(one, name), total) if total else 0
                for name, total in zip(MEASURES, whole, strict=True)
            )
        )
        for key, one in sent.items()
        if key != main
    }


def shift_loss(
    main: Key, other: Key, place: str, entry_kind: str, during: Amount, after: Amount
) -> list[Flow]:
    """The flows by which so much of a loss is of another metal of a batch: that part became the other one again."""
    ours, theirs, outside = End(BATCH, key=main), End(BATCH, key=other), End("outside", place)
    less = Amount()
    return [
        Flow(ours, theirs, entry_kind, during, after),
        Flow(theirs, outside, entry_kind, during, after),
        Flow(ours, outside, entry_kind, less - during, less - after),
    ]


MEASURES = ("quantity", "fine_ug", "cost_micro")
