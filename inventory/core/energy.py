"""Energy of a firing: watt-hours from a meter, from the kiln's rating or step by step, its cost, each flask's share."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from studio.kit.printing import (
    SPACE,
    print_celsius,
    print_energy,
    print_minutes,
    print_money,
    print_percent,
    print_volume,
)
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import MINUTES_PER_HOUR, PCT100_WHOLE, WH_PER_KWH, divide_half_up, round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of

from .schedule import ROOM_C, ScheduleStep, lay_out

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


FIRINGS_LEAST = 3
"""Fewer say more about one day than about the kiln."""
CORRECTION_LEAST_PCT100 = PCT100_WHOLE // 4
CORRECTION_MOST_PCT100 = PCT100_WHOLE * 4


@dataclass(frozen=True, slots=True)
class HeatedPart:
    """A part of a firing: what it is called, its minutes, and the share of them that the kiln heats."""

    text: str
    minutes: int
    on_pct100: int


@dataclass(frozen=True, slots=True)
class MeasuredSums:
    """How many firings were measured, and what was measured and estimated over all of them."""

    firings: int = 0
    measured_wh: int = 0
    estimated_wh: int = 0


@dataclass(frozen=True, slots=True)
class Correction:
    """Measured over estimated energy, in hundredths of a per cent (as estimated: 10000).

    `factor_pct100` is None, with the sentence that says why, while there are too few firings. The working is
    made when it is asked for.
    """

    factor_pct100: int | None
    firings: int
    sentence: str = ""
    work: Callable[[], Working] | None = None

    @property
    def working(self) -> Working | None:
        return self.work() if self.work else None


def list_heated_parts(
    steps: Sequence[ScheduleStep], shares_on_pct100: Sequence[int], start_c: int = ROOM_C
) -> tuple[HeatedPart, ...]:
    """The steps of a schedule with their minutes. Raises ValueError unless each step has its share."""
    if len(steps) != len(shares_on_pct100):
        raise ValueError("each step of a schedule needs its share of the time heating")
    minutes = [0] * len(steps)
    for stretch in lay_out(steps, start_c):
        minutes[stretch.step] += stretch.minutes
    return tuple(
        HeatedPart(f"to {print_celsius(step.target_c)}", time, share)
        for step, time, share in zip(steps, minutes, shares_on_pct100, strict=True)
    )


def compute_energy_by_steps(rated_w: int, parts: Sequence[HeatedPart]) -> Energy:
    """Watt-hours of a kiln over the parts of a firing, each to the watt-hour and then added up."""
    each_wh = [compute_energy_from_rating(rated_w, part.minutes, part.on_pct100).energy_wh for part in parts]
    return Energy(sum(each_wh), work=lambda: _work_steps(rated_w, parts, each_wh))


def _work_steps(rated_w: int, parts: Sequence[HeatedPart], each_wh: Sequence[int]) -> Working:
    watts, total = f"{rated_w:,}{SPACE}W", print_energy(sum(each_wh))
    lines = [
        Step(
            f"{part.text}: {watts} × {print_minutes(part.minutes)} × {print_percent(part.on_pct100)}",
            print_energy(energy_wh),
        )
        for part, energy_wh in zip(parts, each_wh, strict=True)
    ]
    return make_working(
        "Energy of the schedule, estimated",
        "for each step the watts of the kiln, times its hours, times the share of them that it heats; "
        "all added up",
        Given("rating of the kiln", watts, "its plate"),
        Given("time in the kiln", print_minutes(sum(part.minutes for part in parts)), "the schedule"),
        Given("share of the time heating", "for each step", "the schedule, or else the kiln's own page"),
        *lines,
        Step("together", total),
        source=RATING_SOURCE,
        notes=("An estimate: a meter on the kiln is better.",),
    )


def compute_correction(sums: MeasuredSums) -> Correction:
    """How far the studio's meter is from its estimates: the sum of one over the sum of the other, rounded half up.

    Held between a quarter and four times, because beyond that a reading or the kiln's plate is wrong.
    """
    # A quotient of sums, and not a mean of quotients: what is multiplied by it adds up, over the firings it was taken
    # from, to what the meter showed of them all (ratio estimator: Cochran, Sampling Techniques, ch. 6; from memory).
    if sums.firings < FIRINGS_LEAST:
        return Correction(
            None,
            sums.firings,
            f"{sums.firings} of {FIRINGS_LEAST} firings have a meter reading so far. After {FIRINGS_LEAST}, the "
            "estimate is put right by what your kiln really used.",
        )
    found = round_half_up(Fraction(sums.measured_wh * PCT100_WHOLE, sums.estimated_wh))
    factor = min(max(found, CORRECTION_LEAST_PCT100), CORRECTION_MOST_PCT100)
    sentence = ""
    if factor != found:
        sentence = (
            f"The meter shows {print_percent(found)} of the estimate, which no kiln explains; {print_percent(factor)} "
            "is taken. Look at the readings, and at the watts on the kiln's plate."
        )
    return Correction(
        factor, sums.firings, sentence, work=lambda: _work_correction(sums, found, factor, sentence)
    )


def _work_correction(sums: MeasuredSums, found: int, factor: int, sentence: str) -> Working:
    measured, estimated = print_energy(sums.measured_wh), print_energy(sums.estimated_wh)
    return make_working(
        "What your kiln uses against the estimate",
        "what the meter showed over all these firings, divided by what was estimated for them",
        Given("firings with a reading", str(sums.firings), "your own firings"),
        Given("measured", measured, "the meter"),
        Given("estimated", estimated, "the kiln's plate, its hours and the share of them that it heats"),
        Step(f"{measured} ÷ {estimated}", print_percent(found)),
        result=print_percent(factor),
        notes=(sentence,) if sentence else (),
    )


def correct_energy(estimate: Energy, correction: Correction) -> Energy:
    """An estimate put right by the studio's own firings; as it was while there are too few of them."""
    factor = correction.factor_pct100
    if factor is None or estimate.work is None:
        return estimate
    energy_wh = round_half_up(Fraction(estimate.energy_wh * factor, PCT100_WHOLE))
    work = estimate.work
    return Energy(energy_wh, work=lambda: _work_corrected(work(), estimate.energy_wh, energy_wh, correction))


def _work_corrected(before: Working, before_wh: int, energy_wh: int, correction: Correction) -> Working:
    factor, after = print_percent(correction.factor_pct100), print_energy(energy_wh)
    given = Given("used against estimated", factor, f"{correction.firings} measured firings")
    return replace(
        before,
        formula=f"{before.formula}; put right by what the meter showed before",
        givens=(*before.givens, given),
        steps=(*before.steps, Step(f"{print_energy(before_wh)} × {factor}", after)),
        result=after,
    )
