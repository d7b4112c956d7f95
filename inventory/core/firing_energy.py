"""Energy of a schedule before it is fired, step by step, and put right by the studio's own measured firings."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from studio.kit.printing import SPACE, print_celsius, print_energy, print_minutes, print_percent
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working

from .energy import RATING_SOURCE, Energy, compute_energy_from_rating
from .schedule import ROOM_C, ScheduleStep, lay_out

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
