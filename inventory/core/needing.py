"""How much of a material an order must bring, so that the next one need not be placed before a day ahead.

Quantities are in the material's small unit. Use by the day is exact; what must come is rounded up.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from studio.kit.printing import print_alike, print_quantity
from studio.kit.units import round_half_up
from studio.kit.working import Given, Source, Step, Working, make_working

from .choosing import DAYS_A_YEAR, Need

_PLAIN_DAYS = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """What is known of a material: `here` is usable, `coming` is ordered, `point` the stock at which to order again.

    `a_day` is 0 where nobody knows what is used; `own` is what a person wants to come instead of what follows from it.
    It is ordered in `wait_days`, and comes `lead_days` after that.
    """

    material: int
    unit: str
    here: int
    coming: int
    a_day: Fraction
    lead_days: int
    point: int
    own: int | None = None
    wait_days: int = 0


def compute_need(demand: Demand, days: int, keeps_days: int | None) -> tuple[Need, Working]:
    """What an order must bring for `days` from the day it comes; `keeps_days` is the longest that any offer is good.

    An amount of one's own of a material whose use is not known is taken to be used evenly in these days.
    """
    own = demand.own
    a_day = demand.a_day
    if a_day <= 0 and own:
        a_day = Fraction(own, days)
        still = 0
    else:
        days_until = demand.wait_days + demand.lead_days
        still = max(floor(demand.here + demand.coming - a_day * days_until), 0)
    soon = ceil(a_day * days)
    follows = max(soon + demand.point - still, 0) if demand.a_day > 0 else 0
    least = follows if own is None else own
    longest = min(keeps_days or DAYS_A_YEAR, DAYS_A_YEAR)
    most = max(least, floor(a_day * longest) - still)
    need = Need(demand.material, least, max(soon - still, 0), still, a_day, most)
    return need, _explain(demand, need, days, soon, follows)


def _explain(demand: Demand, need: Need, days: int, soon: int, follows: int) -> Working:
    known_days, known = _exact_use(demand.a_day)
    figures = (demand.here, demand.coming, demand.point, known, soon, follows, need.least, need.still)

    def show(quantity: int) -> str:
        is_mass = demand.unit == "mass"
        return print_alike(figures)(quantity) if is_mass else print_quantity(quantity, demand.unit)

    if demand.a_day <= 0:
        return make_working(
            "How much must come",
            "the amount that you wrote, taken to be used evenly in the time ahead",
            Given("wanted", show(need.least), "typed here"),
            Given("time ahead", f"{days} days", "typed here"),
            Step("must come", show(need.least)),
            source=Source.OWN_SETTING,
            notes=("What is used of it in a week is not known yet.",),
        )
    a_day = f"{show(known)} ÷ {known_days}"
    here = f"{show(demand.here)} + {show(demand.coming)}"
    steps = [
        Step(
            f"still here when it comes, not below nothing: {here} − {demand.wait_days + demand.lead_days} × {a_day}",
            show(need.still),
        ),
        Step(f"taken in the time ahead from then on: {days} × {a_day}", show(soon)),
        Step(
            f"must come, not below nothing: {show(soon)} + {show(demand.point)} − {show(need.still)}",
            show(follows),
        ),
    ]
    steps += [Step("wanted instead", show(demand.own))] if demand.own is not None else []
    return make_working(
        "How much must come",
        "what is taken until the day ahead and what must be here then, less what is still here when it comes",
        Given("usable here", show(demand.here), "the stock"),
        Given("ordered already", show(demand.coming), "your orders"),
        Given(f"taken in {known_days} days", show(known), "your use, as the buying page reckons it"),
        *(
            [Given("it is ordered in", f"{demand.wait_days} days", "the buying page")]
            if demand.wait_days
            else []
        ),
        Given("a parcel takes", f"{demand.lead_days} days", "the supplier"),
        Given("order again at", show(demand.point), "the buying page"),
        Given("time ahead", f"{days} days", "typed here"),
        *steps,
    )


def _exact_use(a_day: Fraction) -> tuple[int, int]:
    """So many days and what they take, exactly, in numbers that a person can type; else a thousand days, rounded."""
    if a_day.denominator <= _PLAIN_DAYS:
        return a_day.denominator, a_day.numerator
    return _PLAIN_DAYS, round_half_up(a_day * _PLAIN_DAYS)
