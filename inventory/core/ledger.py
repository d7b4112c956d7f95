"""The arithmetic of the stock ledger: what leaves a holder takes its share of fine metal and of cost with it.

Amounts are whole numbers of small units: quantity in the material's small unit (milligrams, thousandths of
a millilitre or items), fine metal in micrograms, cost in millionths of the currency.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from hashlib import blake2b
from itertools import accumulate

from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import divide_half_up


@dataclass(frozen=True, slots=True)
class Amount:
    """What a holder holds, or what moves: quantity (small units), fine_ug (micrograms), cost_micro."""

    quantity: int = 0
    fine_ug: int = 0
    cost_micro: int = 0

    def __add__(self, other: "Amount") -> "Amount":
        return Amount(
            self.quantity + other.quantity,
            self.fine_ug + other.fine_ug,
            self.cost_micro + other.cost_micro,
        )

    def __sub__(self, other: "Amount") -> "Amount":
        return Amount(
            self.quantity - other.quantity,
            self.fine_ug - other.fine_ug,
            self.cost_micro - other.cost_micro,
        )

    @property
    def is_nothing(self) -> bool:
        return not (self.quantity or self.fine_ug or self.cost_micro)

    @property
    def is_sound(self) -> bool:
        """Nothing below zero, and nothing of value left where no quantity is."""
        below = min(self.quantity, self.fine_ug, self.cost_micro) < 0
        return not below and (self.quantity > 0 or (self.fine_ug == 0 and self.cost_micro == 0))


def total_of(amounts: Iterable[Amount]) -> Amount:
    quantity = fine = cost = 0
    for amount in amounts:
        quantity += amount.quantity
        fine += amount.fine_ug
        cost += amount.cost_micro
    return Amount(quantity, fine, cost)


def draw(held: Amount, quantity: int) -> Amount:
    """The amount that leaves when `quantity` is drawn from `held`.

    Fine metal and cost follow in proportion, rounded once; the last draw takes all that is left, so that
    a used-up lot holds neither. Raises ValueError when more is drawn than is held.
    """
    if quantity < 0 or quantity > held.quantity:
        raise ValueError(f"cannot draw {quantity} from {held.quantity}")
    if quantity == held.quantity:
        return held
    return Amount(
        quantity,
        divide_half_up(held.fine_ug * quantity, held.quantity),
        divide_half_up(held.cost_micro * quantity, held.quantity),
    )


def share_out(held: Amount, quantities: Sequence[int]) -> list[Amount]:
    """Split all of `held` over parts whose quantities add up to it.

    Fine metal and cost go by largest remainder, so no unit is lost or made. Raises ValueError when the
    parts do not add up to what is held.
    """
    if sum(quantities) != held.quantity:
        raise ValueError(f"parts of {sum(quantities)} do not make {held.quantity}")
    fines = allocate_largest_remainder(held.fine_ug, quantities)
    costs = allocate_largest_remainder(held.cost_micro, quantities)
    return [Amount(*part) for part in zip(quantities, fines, costs, strict=True)]


def rate_of(held: Amount, quantity: int) -> Amount:
    """`quantity` more of what is held, with fine metal and cost at the same rate, rounded once.

    For grams that come in without an origin of their own: found at a count, or weighed out of a crucible beyond
    its charge by a hair. There the scale, not the metal, made the difference: at this rate the pieces keep
    their fineness, and "lost" gives back what other weighings put there. Raises ValueError when nothing is held.
    """
    if held.quantity == 0:
        raise ValueError("nothing is held, so it has no rate")
    return Amount(
        quantity,
        divide_half_up(held.fine_ug * quantity, held.quantity),
        divide_half_up(held.cost_micro * quantity, held.quantity),
    )


def first_unsound_day(changes: Iterable[tuple[date, Amount]]) -> tuple[date, Amount] | None:
    """The first day at whose end a holder would be unsound, with its balance then; None if there is none.

    `changes` are signed amounts in any order; the days are taken in turn and each judged at its end.
    """
    days: dict[date, Amount] = {}
    for day, change in changes:
        days[day] = days.get(day, Amount()) + change
    # A balance changes on the days of movements only, and within a day nobody wrote down what came first: so the ends
    # of these days are all there is to judge.
    balance = Amount()
    for day in sorted(days):
        balance += days[day]
        if not balance.is_sound:
            return day, balance
    return None


def least_quantity(changes: Iterable[tuple[date, Amount]], since: date) -> int:
    """The least quantity that signed changes leave at the end of any day from `since` on."""
    days: dict[date, int] = {since: 0}
    for day, change in changes:
        days[max(day, since)] = days.get(max(day, since), 0) + change.quantity
    return min(accumulate(days[day] for day in sorted(days)))


def seal_of(
    entry_id: int, line: int, source_id: int, target_id: int, day: date, amount: Amount, what: str
) -> str:
    """A short fingerprint of one movement, kept with it, by which the audit finds a row that was altered.

    It guards against accidents and clumsy repair, not against a person who recomputes it.
    """
    text = (
        f"{entry_id}|{line}|{source_id}|{target_id}|{day.isoformat()}|"
        f"{amount.quantity}|{amount.fine_ug}|{amount.cost_micro}|{what}"
    )
    return blake2b(text.encode(), digest_size=8).hexdigest()
