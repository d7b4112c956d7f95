"""What a refiner keeps, charges and pays, and what sending metal would bring.

Masses are milligrams, fine metal micrograms, money millionths of the currency, shares hundredths of a per cent. An
assay is in hundredths of a part per thousand. A price is (millionths, "ozt"), as a field reads it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.measures import MASS
from studio.kit.printing import (
    SPACE,
    print_decimal,
    print_fine,
    print_mass,
    print_money,
    print_percent,
)
from studio.kit.units import PCT100_WHOLE, divide_half_up, round_half_up
from studio.kit.working import Given, Source, Step, Working, make_working

Price = tuple[int, str]
TERMS, PAPER, TYPED, BOOK = "the refiner's terms", "the refiner's paper", "typed here", "the book"
_ASSAY_PER_UNIT = 100
#: The assay of what is paid by its weight: all of it counts.
WHOLE_ASSAY = 100_000


@dataclass(frozen=True, slots=True)
class Terms:
    """What a refiner keeps and charges for one metal. The charge is the larger of a sum and a rate.

    Of what is paid `by_weight`, all that is metal stands where fine metal stands of the others.
    """

    payable_pct100: int
    charge_micro: int = 0
    rate: Price = (0, "ozt")
    assay_fee_micro: int = 0
    minimum_mg: int = 0
    by_weight: bool = False

    @property
    def what(self) -> str:
        """What is paid for, in words."""
        return name_paid(self.by_weight)


def name_paid(by_weight: bool) -> str:
    return "metal" if by_weight else "fine metal"


@dataclass(frozen=True, slots=True)
class Melt:
    """What a refiner found: the weight that it is of as it was sent, what it melted down to, and the assay."""

    received_mg: int
    melted_mg: int
    assay: int = WHOLE_ASSAY
    by_weight: bool = False

    @property
    def fine_ug(self) -> int:
        return compute_fine(self.melted_mg, self.assay)


@dataclass(frozen=True, slots=True)
class Charges:
    """What a refiner takes in money: the charge, the fee for the assay, and what else."""

    charge_micro: int = 0
    assay_fee_micro: int = 0
    other_micro: int = 0

    @property
    def total_micro(self) -> int:
        return self.charge_micro + self.assay_fee_micro + self.other_micro


@dataclass(frozen=True, slots=True)
class Expected:
    """What is to be sent: its weight, and the fine metal that is counted with; a guess has a low and a high end.

    `book_ug` is the fine metal in the book where that is another figure: some of what was weighed is no metal.
    """

    gross_mg: int
    fine_ug: int
    low_ug: int
    high_ug: int
    book_ug: int | None = None

    @property
    def is_guess(self) -> bool:
        return self.low_ug != self.high_ug


@dataclass(frozen=True, slots=True)
class Estimate:
    """What sending would bring. Money is None without a price; `left_micro` are (low, counted with, high).

    `turning_mg` is the weight from which the rate takes more than the fixed sum, None where there is none;
    `missing_mg` is what the refiner's smallest batch wants more. `words` say whether it is worth sending yet.
    """

    payable_ug: int
    worth_micro: int | None
    charges_micro: int
    left_micro: tuple[int, int, int] | None
    share_pct100: int | None
    turning_mg: int | None
    missing_mg: int
    words: str
    working: Working

    @property
    def short_micro(self) -> int:
        """What the charges are more than it is worth, counted with; 0 where something is left or no price is known."""
        return max(0, -self.left_micro[1]) if self.left_micro else 0


def compute_fine(mass_mg: int, assay: int) -> int:
    """Micrograms of fine metal in milligrams that assay so many hundredths of a part per thousand."""
    return divide_half_up(mass_mg * assay, _ASSAY_PER_UNIT)


def compute_worth(fine_ug: int, price: Price) -> int:
    """What fine metal comes to at a price, in millionths, rounded once."""
    return round_half_up(Fraction(fine_ug * price[0], 1000) / Fraction(MASS.factors[price[1]]))


def compute_payable(fine_ug: int, payable_pct100: int) -> int:
    """The share of fine metal that is paid for, in micrograms."""
    return divide_half_up(fine_ug * payable_pct100, PCT100_WHOLE)


def compute_charge(terms: Terms, received_mg: int) -> int:
    """The larger of the fixed sum and the rate times the weight received, in millionths."""
    return max(terms.charge_micro, compute_worth(received_mg * 1000, terms.rate))


def compute_turning(terms: Terms) -> int | None:
    """The weight received from which the rate takes more than the fixed sum, rounded up; None without both."""
    rate, unit = terms.rate
    if not rate or not terms.charge_micro:
        return None
    exact = Fraction(terms.charge_micro, rate) * Fraction(MASS.factors[unit])
    return -(-exact.numerator // exact.denominator)


def compute_estimate(expected: Expected, terms: Terms, price: Price | None = None) -> Estimate:
    """What a batch would bring by these terms, and whether it is worth sending yet."""
    payable_ug = compute_payable(expected.fine_ug, terms.payable_pct100)
    charge_micro = compute_charge(terms, expected.gross_mg)
    charges_micro = charge_micro + terms.assay_fee_micro
    worth, left, share = None, None, None
    if price is not None:
        ends = (expected.low_ug, expected.fine_ug, expected.high_ug)
        worths = [compute_worth(compute_payable(end, terms.payable_pct100), price) for end in ends]
        low, worth, high = worths
        left = (low - charges_micro, worth - charges_micro, high - charges_micro)
        share = divide_half_up(charges_micro * PCT100_WHOLE, worth) if worth else None
    missing_mg = max(terms.minimum_mg - expected.gross_mg, 0)
    turning_mg = compute_turning(terms)
    words = _say_worth(expected, terms, left, share, turning_mg, missing_mg)
    working = _work_estimate(expected, terms, price, left, words)
    return Estimate(
        payable_ug, worth, charges_micro, left, share, turning_mg, missing_mg, " ".join(words), working
    )


def _say_worth(
    expected: Expected,
    terms: Terms,
    left: tuple[int, int, int] | None,
    share: int | None,
    turning_mg: int | None,
    missing_mg: int,
) -> list[str]:
    words = []
    if missing_mg:
        least, missing = print_mass(terms.minimum_mg), print_mass(missing_mg)
        words.append(f"Not yet: they take {least} at least, and {missing} is missing.")
    if left is not None and left[1] <= 0:
        all_gone = "the charges take all that it is worth."
        words.append(all_gone.capitalize() if missing_mg else f"Not yet: {all_gone}")
    elif share is not None:
        words.append(f"The charges take {print_percent(share)} of what is payable.")
    if left is not None and left[0] <= 0 < left[1]:
        words.append("At the low end of the guess nothing would be left.")
    if turning_mg is not None and expected.gross_mg < turning_mg:
        words.append(
            f"Up to {print_mass(turning_mg)} the charge is the same sum, {print_money(terms.charge_micro)}: "
            "the more goes in one batch, the less it takes of it."
        )
    elif turning_mg is not None:
        words.append(
            f"From {print_mass(turning_mg)} on the charge grows with the weight: waiting saves none of it."
        )
    return words


def print_exact_fine(fine_ug: int) -> str:
    """Fine metal to the microgram: what money is worked out from, so that a person finds the same."""
    return print_decimal(fine_ug, 6, most=6, least=6) + f"{SPACE}g"


def print_price(price: Price) -> str:
    return f"{print_money(price[0], 6 if price[0] % 10_000 else None)} per{SPACE}{price[1]}"


def _unit_mass(unit: str) -> str:
    """How many grams the unit of a price is: "31.1034768 g"."""
    exact = Fraction(MASS.factors[unit]) / 1000
    return print_decimal(round_half_up(exact * 10**7), 7, most=7) + f"{SPACE}g"


def worth_step(what: str, fine: str, price: Price, worth_micro: int) -> Step:
    divided = "" if price[1] == "g" else f" ÷ {_unit_mass(price[1])}"
    return Step(f"{what}: {fine}{divided} × {_amount(price[0])}", print_money(worth_micro))


def _amount(micro: int) -> str:
    return print_decimal(micro, 6, most=6, least=2)


def _charge_steps(terms: Terms, received_mg: int) -> list[Step]:
    if not terms.rate[0]:
        return [Step("charge", print_money(terms.charge_micro))]
    by_rate = compute_worth(received_mg * 1000, terms.rate)
    return [
        worth_step("charge by the rate", print_mass(received_mg), terms.rate, by_rate),
        Step(
            f"the larger of that and {print_money(terms.charge_micro)}",
            print_money(compute_charge(terms, received_mg)),
        ),
    ]


def _terms_givens(terms: Terms) -> list[Given]:
    charge = print_money(terms.charge_micro)
    if terms.rate[0]:
        charge = f"the larger of {charge} and {print_price(terms.rate)} received"
    givens = [
        Given(f"payable of the {terms.what}", print_percent(terms.payable_pct100), TERMS),
        Given("charge", charge, TERMS),
    ]
    if terms.assay_fee_micro:
        givens.append(Given("fee for the assay", print_money(terms.assay_fee_micro), TERMS))
    if terms.minimum_mg:
        givens.append(Given("smallest batch", print_mass(terms.minimum_mg), TERMS))
    return givens


def _fine_givens(expected: Expected, what: str) -> list[Given]:
    """The metal in the book, and where some of the weight is no metal, what is left of it to count with."""
    counted = print_exact_fine(expected.fine_ug)
    if expected.book_ug in (None, expected.fine_ug):
        return [Given(f"{what} counted with", counted, BOOK)]
    return [
        Given(f"{what} in the book", print_exact_fine(expected.book_ug or 0), BOOK),
        Given("counted with, for some of the weight is no metal", counted, "metal to expect of such reclaim"),
    ]


def _work_estimate(
    expected: Expected,
    terms: Terms,
    price: Price | None,
    left: tuple[int, int, int] | None,
    words: Sequence[str],
) -> Working:
    payable_ug = compute_payable(expected.fine_ug, terms.payable_pct100)
    payable = print_percent(terms.payable_pct100)
    givens = [
        Given("weight", print_mass(expected.gross_mg), BOOK),
        *_fine_givens(expected, terms.what),
        *_terms_givens(terms),
    ]
    if expected.is_guess:
        ends = f"{print_fine(expected.low_ug)} to {print_fine(expected.high_ug)}"
        at = len(givens) - len(_terms_givens(terms))
        givens.insert(at, Given("it may be", ends, "the guess at its fineness"))
    steps = [
        Step(f"payable: {payable} of {print_exact_fine(expected.fine_ug)}", print_exact_fine(payable_ug))
    ]
    charges_micro = compute_charge(terms, expected.gross_mg) + terms.assay_fee_micro
    if price is not None:
        givens.append(Given(f"price of the {terms.what}", print_price(price), TYPED))
        steps.append(
            worth_step("worth", print_exact_fine(payable_ug), price, compute_worth(payable_ug, price))
        )
    steps += _charge_steps(terms, expected.gross_mg)
    if terms.assay_fee_micro:
        both = f"{print_money(charges_micro - terms.assay_fee_micro)} + {print_money(terms.assay_fee_micro)}"
        steps.append(Step(f"with the fee for the assay: {both}", print_money(charges_micro)))
    if price is not None and left is not None:
        taken = f"{print_money(left[1] + charges_micro)} − {print_money(charges_micro)}"
        steps.append(Step(f"left after charge and fee: {taken}", print_money(left[1])))
        if expected.is_guess:
            steps.append(Step("left at the low end of the guess", print_money(left[0])))
            steps.append(Step("left at the high end", print_money(left[2])))
    return make_working(
        # Without a price nobody knows more of the money than what is charged.
        "What sending it would bring" if price is not None else "What the refiner would charge",
        f"{terms.what} times the payable share, times the price, less the charge and the fee for the assay",
        *givens,
        *steps,
        source=Source.COMMON_PRACTICE,
        notes=words,
    )
