"""When to order again: how much a week takes, what may be taken before a parcel comes, and by which day.

Quantities are in the material's small unit; uses are counted by the week, deliveries by the day. Certainty
is hundredths of a per cent. Square roots are decimals; only the factor for certainty is a float.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from statistics import NormalDist

from studio.kit.printing import (
    SPACE,
    about_decimals,
    print_about,
    print_day,
    print_decimal,
    print_percent,
    print_quantity,
)
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of

REORDER_SOURCE = "reorder point with varying use and delivery time: Stevenson, Operations Management"
POISSON_SOURCE = "Poisson distribution of single demands"
DAYS_PER_WEEK = 7
# Milligrams in a gram, microlitres in a millilitre.
SMALL_IN_A_WHOLE = 1_000
# A date beyond this says nothing that a person could plan by.
FARTHEST_DAYS = 3_650


@dataclass(frozen=True, slots=True)
class Use:
    """What a week takes: mean and variance (of a sample) over the weeks that were looked at."""

    mean: Fraction
    variance: Fraction
    weeks: int

    @property
    def deviation(self) -> Decimal:
        return _root(self.variance)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReorderInput:
    """What is known of one material. `unit` is mass, volume or items; `per_cast` its mean use in a cast.

    `one_at_a_time` is for things that go singly and seldom, such as crucibles: their demand is taken as
    Poisson, without a spread of its own. `keeps_days` is how long a new parcel is good, None for what keeps.
    """

    on_hand: int
    use: Use
    lead_days: int
    lead_spread_days: int
    certainty_pct100: int
    today: date
    unit: str = "mass"
    per_cast: Fraction | int | None = None
    one_at_a_time: bool = False
    keeps_days: int | None = None


@dataclass(frozen=True, slots=True)
class Reorder:
    """The stock at which to order, the day by which (None when it is not in sight), and casts still in it.

    `point` is rounded up to what a person would weigh, so that ordering there is never later than asked for. `most` is
    as much as would be used before it goes out of date; None of what keeps, or where none is used.
    """

    point: int
    order_by: date | None
    is_due: bool
    casts_left: int | None
    working: Working
    most: int | None = None


def compute_use(weekly: Sequence[int]) -> Use:
    """Mean and sample variance of weekly uses, weeks without use counted as 0; one week shows no spread."""
    weeks = len(weekly)
    if not weeks:
        return Use(Fraction(0), Fraction(0), 0)
    mean = Fraction(sum(weekly), weeks)
    squares = sum(((used - mean) ** 2 for used in weekly), Fraction(0))
    return Use(mean, squares / (weeks - 1) if weeks > 1 else Fraction(0), weeks)


def compute_certainty_factor(certainty_pct100: int) -> Decimal:
    """How many standard deviations cover a certainty. Raises ValueError unless it is above 0 and below 100 %."""
    _check_certainty(certainty_pct100)
    return Decimal(NormalDist().inv_cdf(certainty_pct100 / PCT100_WHOLE))


def compute_spread(use: Use, lead_days: int, lead_spread_days: int) -> Decimal:
    """Standard deviation of what is taken before a parcel comes: sqrt(L sd^2 + d^2 sL^2)."""
    lead = Fraction(lead_days, DAYS_PER_WEEK)
    lead_spread = Fraction(lead_spread_days, DAYS_PER_WEEK)
    return _root(lead * use.variance + use.mean**2 * lead_spread**2)


def compute_normal_point(use: Use, lead_days: int, lead_spread_days: int, certainty_pct100: int) -> int:
    """Stock at which to order: r = d L + z sqrt(L sd^2 + d^2 sL^2), rounded up, never below zero."""
    mean = use.mean * lead_days / DAYS_PER_WEEK
    factor = compute_certainty_factor(certainty_pct100)
    safety = factor * compute_spread(use, lead_days, lead_spread_days)
    return max(0, ceil(mean + Fraction(safety)))


def compute_poisson_point(mean: Fraction, certainty_pct100: int) -> int:
    """The fewest items that meet a Poisson demand of this mean with this certainty."""
    _check_certainty(certainty_pct100)
    wanted = Decimal(certainty_pct100) / PCT100_WHOLE
    average = Decimal(mean.numerator) / mean.denominator
    chance = covered = (-average).exp()
    items = 0
    while covered < wanted:
        items += 1
        chance = chance * average / items
        covered += chance
    return items


def compute_order_by(on_hand: int, point: int, weekly_mean: Fraction, today: date) -> date | None:
    """The day on which stock at the mean use falls to the point; today if it has; None if not in sight."""
    if on_hand <= point:
        return today
    if weekly_mean <= 0:
        return None
    days = floor((on_hand - point) * DAYS_PER_WEEK / weekly_mean)
    return today + timedelta(days=days) if days <= FARTHEST_DAYS else None


def compute_reorder(known: ReorderInput) -> Reorder:
    """Reorder point, the day to order by and the casts left of one material."""
    if known.one_at_a_time:
        lead_mean = known.use.mean * known.lead_days / DAYS_PER_WEEK
        point = compute_poisson_point(lead_mean, known.certainty_pct100)
        steps = _poisson_steps(known, lead_mean, point)
    else:
        exact = compute_normal_point(
            known.use, known.lead_days, known.lead_spread_days, known.certainty_pct100
        )
        point = round_point_up(exact, known.unit)
        steps = _normal_steps(known, exact, point)
    order_by = compute_order_by(known.on_hand, point, known.use.mean, known.today)
    casts_left = floor(known.on_hand / Fraction(known.per_cast)) if known.per_cast else None
    most, most_steps = compute_most(known, point)
    working = _work_reorder(known, point, order_by, casts_left, steps, most_steps)
    return Reorder(point, order_by, known.on_hand <= point, casts_left, working, most)


def compute_most(known: ReorderInput, point: int) -> tuple[int | None, list[Step]]:
    """The most to order: what is used while a new parcel keeps, less what is still here when it comes. Rounded down."""
    use, unit, days = known.use, known.unit, known.keeps_days
    if not days or use.mean <= 0:
        return None, []
    used = round_half_up(use.mean * days / DAYS_PER_WEEK)
    taken = use.mean * known.lead_days / DAYS_PER_WEEK
    still = max(round_half_up(min(known.on_hand, point) - taken), 0)
    most = max(round_most_down(used - still, unit), 0)
    text = f"used in the {days} days that a new parcel keeps"
    if use.weeks:
        text += f": {_total(known)} × {days} ÷ ({use.weeks} × {DAYS_PER_WEEK})"
    return most, [
        Step(text, _finely(used, unit)),
        Step("still here when it comes", _finely(still, unit)),
        Step(f"{_finely(used, unit)} − {_finely(still, unit)}", _finely(used - still, unit)),
        Step("order at most, rounded down", print_quantity(most, unit)),
    ]


def round_most_down(most: int, unit: str) -> int:
    """To a tenth of a kilogram or litre from one on, else to a whole gram or millilitre. Items stay."""
    if unit == "items":
        return most
    whole = SMALL_IN_A_WHOLE * (100 if most >= 1_000 * SMALL_IN_A_WHOLE else 1)
    return most // whole * whole


def round_point_up(point: int, unit: str) -> int:
    """The next whole gram or millilitre; a tenth below ten of them, a hundredth below one. Items stay."""
    if unit == "items":
        return point
    step = SMALL_IN_A_WHOLE // 10 ** about_decimals(Fraction(point, SMALL_IN_A_WHOLE))
    return -(-point // step) * step


def _check_certainty(certainty_pct100: int) -> None:
    if not 0 < certainty_pct100 < PCT100_WHOLE:
        raise ValueError("certainty is above 0 and below 100 %")


def _root(square: Fraction) -> Decimal:
    return (Decimal(square.numerator) / square.denominator).sqrt()


def _finely(quantity: Fraction | Decimal | int, unit: str) -> str:
    """A quantity with the digits it takes to reckon on: a thousandth of a gram, a millilitre or an item."""
    if unit != "items":
        return print_quantity(round_half_up(quantity), unit)
    number = print_decimal(round_half_up(quantity * 1000), 3, most=3)
    return number + SPACE + ("item" if number == "1" else "items")


def _mean_step(known: ReorderInput) -> Step:
    use, days = known.use, known.lead_days
    mean = _finely(use.mean * days / DAYS_PER_WEEK, known.unit)
    if not use.weeks:
        return Step(f"taken in {days} days, at the mean", mean)
    return Step(f"taken in {days} days: {_total(known)} × {days} ÷ ({use.weeks} × {DAYS_PER_WEEK})", mean)


def _total(known: ReorderInput) -> str:
    return _finely(known.use.mean * known.use.weeks, known.unit)


def _normal_steps(known: ReorderInput, exact: int, point: int) -> list[Step]:
    use, unit = known.use, known.unit
    spread = compute_spread(use, known.lead_days, known.lead_spread_days)
    factor = compute_certainty_factor(known.certainty_pct100)
    safety = factor * spread
    taken, spread_text, safety_text = (
        _finely(amount, unit) for amount in (use.mean * known.lead_days / DAYS_PER_WEEK, spread, safety)
    )
    return [
        _mean_step(known),
        Step(
            f"spread in that time, the square root of: {known.lead_days} ÷ {DAYS_PER_WEEK} × "
            f"{_finely(use.deviation, unit)} squared + {_finely(use.mean, unit)} squared × "
            f"({known.lead_spread_days} ÷ {DAYS_PER_WEEK}) squared",
            spread_text,
        ),
        Step(
            f"to be enough {print_percent(known.certainty_pct100)} of the times: "
            f"{print_decimal(round_half_up(factor * 10**7), 7, most=7)} × {spread_text}",
            safety_text,
        ),
        Step(f"{taken} + {safety_text}", print_quantity(exact, unit)),
        Step("order again at, rounded up", print_about(point, unit)),
    ]


def _poisson_steps(known: ReorderInput, lead_mean: Fraction, point: int) -> list[Step]:
    """The chance of each number up to the first that is enough; of many only the last two are told."""
    average = Decimal(lead_mean.numerator) / lead_mean.denominator
    chance = covered = (-average).exp()
    steps = [_mean_step(known)]
    for items in range(point + 1):
        if items:
            chance = chance * average / items
            covered += chance
        if items >= point - 1:
            at_most = print_decimal(round_half_up(covered * 10_000), 2, most=2)
            steps.append(
                Step(f"chance that at most {print_quantity(items, known.unit)} will be taken", f"{at_most} %")
            )
    steps.append(
        Step(
            f"the fewest with a chance of {print_percent(known.certainty_pct100)} or more",
            print_quantity(point, known.unit),
        )
    )
    return steps


def _give_reorder(known: ReorderInput) -> list[Given]:
    use, unit = known.use, known.unit
    givens = [
        Given("on hand", print_quantity(known.on_hand, unit), "the stock, what is usable of it"),
        Given("taken", _total(known), f"the last {use.weeks} weeks"),
    ]
    if not known.one_at_a_time:
        mean, deviation = _finely(use.mean, unit), _finely(use.deviation, unit)
        givens.append(Given("a week takes", mean, f"the last {use.weeks} weeks"))
        givens.append(Given("how far weeks differ", deviation, f"the last {use.weeks} weeks"))
    givens.append(Given("delivery takes", f"{known.lead_days} days", "the supplier"))
    if not known.one_at_a_time:
        givens.append(Given("spread of the delivery", f"{known.lead_spread_days} days", "the supplier"))
    certainty = known.certainty_pct100
    givens.append(Given("certainty wanted", print_percent(certainty), origin_of(certainty)))
    return givens


def _when_steps(known: ReorderInput, point: int, order_by: date | None) -> list[Step]:
    steps = []
    if order_by is not None and known.on_hand > point:
        # Through the figure that is shown, so that a calculator says the same; the day itself comes from the exact one.
        digits = 1000 if known.unit == "items" else 1
        weeks = Fraction((known.on_hand - point) * digits, max(round_half_up(known.use.mean * digits), 1))
        until = print_decimal(floor(weeks * 1000), 3, most=3)
        on_hand, mean = print_quantity(known.on_hand, known.unit), _finely(known.use.mean, known.unit)
        steps.append(
            Step(f"weeks until then: ({on_hand} − {print_quantity(point, known.unit)}) ÷ {mean}", until)
        )
    if order_by is not None:
        steps.append(Step("stock falls to that on", print_day(order_by, with_year=True)))
    return steps


def _work_reorder(
    known: ReorderInput,
    point: int,
    order_by: date | None,
    casts_left: int | None,
    steps: list[Step],
    most_steps: list[Step],
) -> Working:
    use, unit = known.use, known.unit
    givens = _give_reorder(known)
    steps += _when_steps(known, point, order_by)
    if casts_left is not None and known.per_cast:
        per_cast = _finely(Fraction(known.per_cast), unit)
        givens.append(Given("a cast takes", per_cast, "your casts"))
        whole = f"{print_quantity(known.on_hand, unit)} ÷ {per_cast}"
        steps.append(Step(f"whole casts in what is on hand: {whole}", f"{casts_left:,}"))
    steps += most_steps
    formula = "what is taken at the mean while a parcel comes, and as many spreads as the certainty asks for"
    if known.one_at_a_time:
        formula = "the fewest items that are enough while a parcel comes, when items go one at a time"
    notes = ("With fewer than two weeks of use no spread is known.",) if use.weeks < 2 else ()
    return make_working(
        "When to order again",
        formula,
        *givens,
        *steps,
        result=f"order at {print_about(point, unit)}",
        source=POISSON_SOURCE if known.one_at_a_time else REORDER_SOURCE,
        notes=notes,
    )
