"""Energy of a firing: watt-hours from a meter or from the kiln's rating, its cost, and each flask's share."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.apportion import allocate_largest_remainder
from studio.kit.printing import print_energy, print_minutes, print_money, print_percent, print_volume
from studio.kit.units import MINUTES_PER_HOUR, PCT100_WHOLE, WH_PER_KWH, divide_half_up, round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of

RATING_SOURCE = "US Department of Energy, Estimating Appliance and Home Electronic Energy Use"


@dataclass(frozen=True, slots=True)
class Energy:
    """Energy used, or the sentence that says why it cannot be told. The working is made when it is asked for."""

    energy_wh: int = 0
    problem: str = ""
    work: Callable[[], Working] | None = None

    @property
    def working(self) -> Working | None:
        return self.work() if self.work else None


def compute_energy_from_meter(before_wh: int, after_wh: int) -> Energy:
    """Watt-hours between two readings of a meter."""
    if after_wh < before_wh:
        return Energy(
            problem=f"The meter read {print_energy(after_wh)} after and {print_energy(before_wh)} before: "
            "a meter does not run backwards. Look at both readings again."
        )
    return Energy(after_wh - before_wh, work=lambda: _work_meter(before_wh, after_wh))


def _work_meter(before_wh: int, after_wh: int) -> Working:
    used = print_energy(after_wh - before_wh)
    return make_working(
        "Energy of the firing",
        "the meter after, less the meter before",
        Given("meter before", print_energy(before_wh), "read from the meter"),
        Given("meter after", print_energy(after_wh), "read from the meter"),
        Step(f"{print_energy(after_wh)} − {print_energy(before_wh)}", used),
    )


def compute_energy_from_rating(rated_w: int, minutes: int, on_pct100: int) -> Energy:
    """Watt-hours from the rating of a kiln, how long it ran, and the share of that time it was heating."""
    used_wh = round_half_up(Fraction(rated_w * minutes * on_pct100, MINUTES_PER_HOUR * PCT100_WHOLE))
    return Energy(used_wh, work=lambda: _work_rating(rated_w, minutes, on_pct100, used_wh))


def _work_rating(rated_w: int, minutes: int, on_pct100: int, used_wh: int) -> Working:
    return make_working(
        "Energy of the firing, estimated",
        "the watts of the kiln, times the hours, times the share of the time that it heats",
        Given("rating of the kiln", f"{rated_w}\u00a0W", "its plate"),
        Given("time in the kiln", print_minutes(minutes), "the firing"),
        Given(
            "share of the time heating",
            print_percent(on_pct100),
            "the firing, or else the kiln's own page",
        ),
        Step(
            f"{rated_w}\u00a0W × {print_minutes(minutes)} × {print_percent(on_pct100)}",
            print_energy(used_wh),
        ),
        source=RATING_SOURCE,
        notes=("An estimate: a meter on the kiln is better.",),
    )


def cost_of_energy(energy_wh: int, price_micro_per_kwh: int) -> int:
    """Cost of energy in millionths of the currency, rounded once."""
    return divide_half_up(energy_wh * price_micro_per_kwh, WH_PER_KWH)


def compute_energy_cost(
    energy_wh: int, price_micro_per_kwh: int, energy_origin: str = "the firing"
) -> tuple[int, Working]:
    """The same with its working."""
    cost_micro = cost_of_energy(energy_wh, price_micro_per_kwh)
    price = print_money(price_micro_per_kwh, 4)
    working = make_working(
        "Cost of the energy",
        "the kilowatt-hours times the price of one",
        Given("energy", print_energy(energy_wh), energy_origin),
        Given("price of a kilowatt-hour", price, origin_of(price_micro_per_kwh)),
        Step(f"{print_energy(energy_wh)} × {price}", print_money(cost_micro, 4)),
        source=RATING_SOURCE,
    )
    return cost_micro, working


def share_firing_cost(cost_micro: int, flask_volumes_ul: Sequence[int]) -> list[int]:
    """A firing's cost over its flasks by their volume, to the last unit; alike if no volume is known."""
    weights = list(flask_volumes_ul) if all(flask_volumes_ul) else [1] * len(flask_volumes_ul)
    return allocate_largest_remainder(cost_micro, weights)


@dataclass(frozen=True, slots=True)
class FiringCost:
    """What is shared over the flasks of a firing, in the words of its working."""

    label: str = "cost of the firing"
    origin: str = "its energy"
    title: str = "This flask's share of the kiln"


ENERGY_COST = FiringCost()
KILN_WEAR = FiringCost("wear of the kiln", "its price and life", "This flask's share of the kiln's wear")


def allocate_firing_cost(
    cost_micro: int, flask_volumes_ul: Sequence[int], which: int, what: FiringCost = ENERGY_COST
) -> tuple[list[int], Working]:
    """The same with the working of one flask's share; `which` is its place. Raises ValueError for no flask."""
    shares = share_firing_cost(cost_micro, flask_volumes_ul)
    by_volume = all(flask_volumes_ul)
    own = print_volume(flask_volumes_ul[which]) if by_volume else "1 flask"
    whole = print_volume(sum(flask_volumes_ul)) if by_volume else f"{len(shares)} flasks"
    working = make_working(
        what.title,
        f"the {what.label}, shared over the flasks of the firing by "
        + ("the volume of each" if by_volume else "their number"),
        Given(what.label, print_money(cost_micro, 4), what.origin),
        Given("this flask", own, "the flask"),
        Given("all flasks in the kiln", whole, "the firing"),
        Step(f"{print_money(cost_micro, 4)} × {own} ÷ {whole}", print_money(shares[which], 4)),
        notes=() if by_volume else ("A flask's volume is not known, so all flasks count alike.",),
    )
    return shares, working
