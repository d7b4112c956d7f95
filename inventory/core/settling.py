"""How a settlement shares out what was at the refiner: what was lost in the melt, what the assay put right, and where
the rest went. Nothing is lost or made: every gram, every fine gram and every unit of cost goes somewhere.

Milligrams, micrograms fine, millionths of the currency.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from studio.kit.rounding import allocate_largest_remainder

from .ledger import Amount, draw, rate_of


@dataclass(frozen=True, slots=True)
class Back:
    """One sort of metal that came back. `amount` is of the batch; what it weighs more is base metal of the refiner's.

    `added_mg` are those grams, `fee_micro` its share of the refiner's charges.
    """

    amount: Amount
    added_mg: int
    fee_micro: int


@dataclass(frozen=True, slots=True)
class Split:
    """Where a settled part of a batch went.

    `lost` was lost in the melt and `gained` showed on the refiner's scale beyond what was sent: one of them is
    nothing. `assay_ug` is the fine metal that the assay found less than the book had, below zero where it found more.
    """

    lost: Amount
    gained: Amount
    assay_ug: int
    metals: tuple[Back, ...]
    paid: Amount
    kept: Amount


def split_settlement(
    part: Amount,
    melted_mg: int,
    fine_ug: int,
    payable_ug: int,
    metals: Sequence[tuple[int, int]],
    charges_micro: int = 0,
) -> Split:
    """Share out `part` of a batch by what was melted, assayed and paid; `metals` are (mass_mg, fine_ug) that came back.

    What is lost in the melt takes its share of fine metal and cost, as every loss does; the assay moves fine metal
    alone. What is left of the cost follows the fine metal: to the metal that came back, to what was paid in money, and
    to what the refiner keeps. Charges land on what was paid for, metal and money alike. Raises ValueError when nothing
    is drawn, or more came back than is payable.
    """
    metal_ug = sum(fine for _, fine in metals)
    paid_ug, kept_ug = payable_ug - metal_ug, fine_ug - payable_ug
    if min(paid_ug, kept_ug) < 0:
        raise ValueError("more went out than there was fine metal")
    lost = gained = Amount()
    if melted_mg <= part.quantity:
        lost = draw(part, part.quantity - melted_mg)
    else:
        gained = rate_of(part, melted_mg - part.quantity)
    melted = part - lost + gained
    fines = [*(fine for _, fine in metals), paid_ug, kept_ug]
    # Where there is no fine metal at all, what was found worthless is kept with what it cost.
    weights = fines if any(fines) else [*([0] * (len(fines) - 1)), 1]
    costs = allocate_largest_remainder(melted.cost_micro, weights)
    grams, left_mg = [], melted_mg
    for mass_mg, _ in metals:
        grams.append(min(mass_mg, left_mg))
        left_mg -= grams[-1]
    paid_mg, kept_mg = allocate_largest_remainder(left_mg, [paid_ug, kept_ug] if paid_ug else [0, 1])
    fees = allocate_largest_remainder(charges_micro if any(fines[:-1]) else 0, fines[:-1])
    backs = tuple(
        Back(Amount(of_batch_mg, fine, cost), mass_mg - of_batch_mg, fee)
        for (mass_mg, fine), of_batch_mg, cost, fee in zip(metals, grams, costs, fees, strict=False)
    )
    return Split(
        lost,
        gained,
        melted.fine_ug - fine_ug,
        backs,
        Amount(paid_mg, paid_ug, costs[-2]),
        Amount(kept_mg, kept_ug, costs[-1]),
    )


def split_by_weight(part: Amount, melted_mg: int, payable_ug: int) -> Split:
    """The same of metal that is paid for by its weight and holds no fine metal; `payable_ug` are micrograms of it."""
    split = split_settlement(
        replace(part, fine_ug=part.quantity * 1000), melted_mg, melted_mg * 1000, payable_ug, ()
    )
    bare = (replace(amount, fine_ug=0) for amount in (split.lost, split.gained, split.paid, split.kept))
    lost, gained, paid, kept = bare
    return Split(lost, gained, 0, (), paid, kept)


def split_return(held: Amount, sent: Sequence[Amount], back_mg: Sequence[int]) -> list[tuple[Amount, Amount]]:
    """(what comes back, what is missing) of each lot that was sent, when all that is `held` is sent back.

    `sent` is what each lot put in. What was settled before left at the rate of the whole, so what is held is each
    lot's in proportion; unsettled, each gets its own again to the last unit. More grams than a lot has there come
    back at its rate: the scale's hairs, which the caller bounds.
    """
    quantities = allocate_largest_remainder(held.quantity, [one.quantity for one in sent])
    fines = allocate_largest_remainder(held.fine_ug, [one.fine_ug for one in sent])
    costs = allocate_largest_remainder(held.cost_micro, [one.cost_micro for one in sent])
    # A lot of which no whole milligram is left there has nothing to carry its crumbs of fine metal and cost.
    most = max(range(len(sent)), key=lambda place: quantities[place])
    for crumbs in (fines, costs):
        crumbs[most] += sum(one for one, quantity in zip(crumbs, quantities, strict=True) if not quantity)
    shares = []
    for quantity, fine, cost, back in zip(quantities, fines, costs, back_mg, strict=True):
        own = Amount(quantity, fine, cost) if quantity else Amount()
        came = draw(own, min(back, quantity))
        if back > quantity and quantity:
            came += rate_of(own, back - quantity)
        shares.append((came, own - came))
    return shares
