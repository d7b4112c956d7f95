"""What a refiner's paper comes to: the settlement of what was melted and assayed.

Masses are milligrams, fine metal micrograms, money millionths of the currency, shares hundredths of a per cent.
"""

from dataclasses import dataclass

from studio.kit.printing import print_assay, print_mass, print_money, print_percent
from studio.kit.working import Given, Source, Step, Working, make_working

from .refining import (
    BOOK,
    PAPER,
    Charges,
    Melt,
    Price,
    compute_payable,
    compute_worth,
    name_paid,
    print_exact_fine,
    print_price,
    worth_step,
)


@dataclass(frozen=True, slots=True)
class SettlementSum:
    """Fine metal as settled: all of it, what is payable, kept, paid as metal and paid in money; and the money.

    `money_micro` is below zero where the charges are more than what was paid in money: the studio pays then.
    """

    fine_ug: int
    payable_ug: int
    kept_ug: int
    metal_ug: int
    paid_ug: int
    worth_micro: int
    charges_micro: int
    money_micro: int
    working: Working


def compute_settlement(
    melt: Melt,
    payable_pct100: int,
    charges: Charges,
    price: Price | None = None,
    metal_ug: int = 0,
) -> SettlementSum:
    """What a settlement comes to. `metal_ug` is the fine metal that came back as metal; the rest is paid in money.

    Raises ValueError where more came back than is payable.
    """
    fine_ug = melt.fine_ug
    payable_ug = compute_payable(fine_ug, payable_pct100)
    paid_ug = payable_ug - metal_ug
    if paid_ug < 0:
        raise ValueError("more metal came back than is payable")
    worth_micro = compute_worth(paid_ug, price) if price else 0
    money_micro = worth_micro - charges.total_micro
    lines = [
        *_paper_givens(melt, payable_pct100, charges),
        *_fine_steps(melt, payable_pct100, metal_ug),
        *_money_steps(paid_ug, price, worth_micro, charges, name_paid(melt.by_weight)),
    ]
    rule = (
        "the melted weight is what is paid for"
        if melt.by_weight
        else "the melted weight times the assay is the fine metal"
    )
    working = make_working(
        "What the settlement comes to",
        f"{rule}; of the payable share, what did not come back as metal is paid in money at the price, less the "
        "charges",
        *lines,
        source=Source.COMMON_PRACTICE,
    )
    return SettlementSum(
        fine_ug,
        payable_ug,
        fine_ug - payable_ug,
        metal_ug,
        paid_ug,
        worth_micro,
        charges.total_micro,
        money_micro,
        working,
    )


Lines = list[Given | Step]


def _paper_givens(melt: Melt, payable_pct100: int, charges: Charges) -> Lines:
    assay = [] if melt.by_weight else [Given("assay, parts per thousand", print_assay(melt.assay), PAPER)]
    return [
        Given("weight as it was sent", print_mass(melt.received_mg), BOOK),
        Given("melted down to", print_mass(melt.melted_mg), PAPER),
        *assay,
        Given(f"payable of the {name_paid(melt.by_weight)}", print_percent(payable_pct100), PAPER),
        *(Given(name, print_money(sum_micro), PAPER) for name, sum_micro in _named(charges)),
    ]


def _fine_steps(melt: Melt, payable_pct100: int, metal_ug: int) -> Lines:
    fine_ug = melt.fine_ug
    payable_ug = compute_payable(fine_ug, payable_pct100)
    fine, payable = print_exact_fine(fine_ug), print_exact_fine(payable_ug)
    assayed = Step(f"fine metal: {print_mass(melt.melted_mg)} × {print_assay(melt.assay)} ÷ 1000", fine)
    lines: Lines = [
        *([] if melt.by_weight else [assayed]),
        Step(f"payable: {print_percent(payable_pct100)} of {fine}", payable),
        Step(f"kept by the refiner: {fine} − {payable}", print_exact_fine(fine_ug - payable_ug)),
    ]
    if metal_ug:
        lines.append(Given("came back as metal, fine", print_exact_fine(metal_ug), PAPER))
        lines.append(
            Step(
                f"paid in money for: {payable} − {print_exact_fine(metal_ug)}",
                print_exact_fine(payable_ug - metal_ug),
            )
        )
    return lines


def _money_steps(paid_ug: int, price: Price | None, worth_micro: int, charges: Charges, what: str) -> Lines:
    lines: Lines = []
    if price:
        lines.append(Given(f"price of the {what}", print_price(price), PAPER))
        lines.append(worth_step("worth", print_exact_fine(paid_ug), price, worth_micro))
    taken = " − ".join(print_money(sum_micro) for _, sum_micro in _named(charges))
    if taken:
        left = print_money(worth_micro - charges.total_micro)
        lines.append(Step(f"less the charges: {print_money(worth_micro)} − {taken}", left))
    elif not price:
        lines.append(Step("in money", print_money(0)))
    return lines


def _named(charges: Charges) -> list[tuple[str, int]]:
    named = (
        ("charge", charges.charge_micro),
        ("fee for the assay", charges.assay_fee_micro),
        ("other charges", charges.other_micro),
    )
    return [(name, sum_micro) for name, sum_micro in named if sum_micro]
