"""What one use of a tool costs: crucibles, flasks, elements of the kiln, worn by the use and not by the year."""

from studio.kit.printing import print_exact_money, print_money
from studio.kit.units import divide_half_up
from studio.kit.working import Given, Step, Working, make_working

WEAR_SOURCE = "units of production: OpenStax, Principles of Accounting vol. 1, 11.3"


def check_wear(price_micro: int, end_value_micro: int, life_uses: int) -> tuple[str, ...]:
    """Say what stops a tool's price, worth at the end and life from being used."""
    problems = []
    if life_uses < 1:
        problems.append("Say how many uses it lasts: 1 or more.")
    if end_value_micro > price_micro:
        problems.append("At the end it cannot be worth more than it cost: mend one of the two.")
    return tuple(problems)


def compute_worn_so_far(price_micro: int, end_value_micro: int, life_uses: int, uses: int) -> int:
    """What all uses up to now have cost, rounded once; it stops when only the value at the end is left."""
    counted = min(max(uses, 0), life_uses)
    return divide_half_up((price_micro - end_value_micro) * counted, life_uses)


def compute_wear_cost(
    price_micro: int, end_value_micro: int, life_uses: int, used_before: int, used_now: int
) -> int:
    """What is worn after some uses of a tool, less what was worn before them.

    So single uses add up exactly to price less end value, and use beyond the expected life costs nothing.
    """
    after_micro = compute_worn_so_far(price_micro, end_value_micro, life_uses, used_before + used_now)
    return after_micro - compute_worn_so_far(price_micro, end_value_micro, life_uses, used_before)


def compute_wear(
    price_micro: int, end_value_micro: int, life_uses: int, used_before: int, used_now: int
) -> tuple[int, Working]:
    """Cost of some uses of a tool, with its working. Raises ValueError for figures that check_wear refuses."""
    problems = check_wear(price_micro, end_value_micro, life_uses)
    if problems:
        raise ValueError(problems[0])
    after_micro = compute_worn_so_far(price_micro, end_value_micro, life_uses, used_before + used_now)
    cost_micro = compute_wear_cost(price_micro, end_value_micro, life_uses, used_before, used_now)
    worth_micro = price_micro - end_value_micro
    last = used_before + used_now
    beyond = last > life_uses
    after, before = print_exact_money(after_micro), print_exact_money(after_micro - cost_micro)
    working = make_working(
        "Wear",
        "the price less the worth at the end, divided by the uses it lasts, for each use",
        Given("price", print_money(price_micro), "what it cost"),
        Given("worth at the end", print_money(end_value_micro), "its own page"),
        Given("uses it lasts", f"{life_uses:,}", "its own page"),
        Given("uses before", f"{used_before:,}", "counted from the casts"),
        Given("uses now", f"{used_now:,}", "this cast"),
        Step(
            f"one use: {print_money(worth_micro)} ÷ {life_uses:,}",
            print_exact_money(divide_half_up(worth_micro, life_uses)),
        ),
        Step(f"worn after use {last:,}: {_say_worn(worth_micro, last, life_uses)}", after),
        Step(
            f"worn before, after use {used_before:,}: {_say_worn(worth_micro, used_before, life_uses)}",
            before,
        ),
        Step(f"{after} − {before}", print_exact_money(cost_micro)),
        result=print_money(cost_micro, 4),
        source=WEAR_SOURCE,
        notes=("It has outlived the uses it was given: no more is charged for it.",) if beyond else (),
    )
    return cost_micro, working


def _say_worn(worth_micro: int, uses: int, life_uses: int) -> str:
    return f"{print_money(worth_micro)} × {min(uses, life_uses):,} ÷ {life_uses:,}"
