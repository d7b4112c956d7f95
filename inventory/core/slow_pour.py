"""The set point of the melter for a pour that takes its time: what the metal loses on its way to the mould is added.

Temperatures are whole degrees Celsius; the cooling rate is tenths of a degree a second.
"""

from dataclasses import dataclass
from fractions import Fraction

from studio.kit.printing import print_celsius, print_cooling_rate, print_seconds
from studio.kit.units import round_half_up
from studio.kit.working import Given, Source, Step, Working, make_working

from .heat import Heats

SUPERHEAT_C = 50
"""Above the liquidus, of an alloy that nobody wrote a pouring range down for (common practice)."""
CARRY_MOST_S = 120
RATE_MOST_TENTHS = 500


@dataclass(frozen=True, slots=True)
class SlowPour:
    """How fast this studio's metal cools on its way from the crucible to the mould, and how long that takes.

    Either None: nobody measured it, and nothing is added.
    """

    fall_tenths_c_s: int | None = None
    carry_s: int | None = None


@dataclass(frozen=True, slots=True)
class MelterSetPoint:
    """What the melter is set to, and the sentence where the alloy's range does not reach so far; "" where it does."""

    set_c: int
    working: Working
    problem: str = ""


def compute_melter_set_point(heats: Heats, slow: SlowPour, alloy: str = "") -> MelterSetPoint | None:
    """What leaves the wanted temperature at the mould: that, plus the rate times the seconds, within the alloy's range.

    Wanted is the least at which the alloy is poured, or else its liquidus and some superheat. None where the alloy says
    neither, or the studio has not measured its own pour.
    """
    rate, seconds = slow.fall_tenths_c_s, slow.carry_s
    wanted_c, lines = _find_wanted(heats)
    if wanted_c is None or rate is None or seconds is None:
        return None
    lost_c = round_half_up(Fraction(rate * seconds, 10))
    most_c = heats.pour_most_c
    set_c = wanted_c + lost_c
    problem = ""
    if most_c is not None and set_c > most_c:
        left_c = most_c - lost_c
        set_c = most_c
        problem = (
            f"{alloy or 'This alloy'} is poured at {print_celsius(most_c)} at most, and you lose "
            f"{print_celsius(lost_c)} on the way: {print_celsius(left_c)} are left at the mould where "
            f"{print_celsius(wanted_c)} are wanted. Pour faster, or bring the crucible nearer."
        )
    told = print_cooling_rate(rate)
    bound = (Step("no hotter than the alloy is poured", print_celsius(set_c)),) if problem else ()
    working = make_working(
        "What the melter is set to",
        "the temperature wanted at the mould, plus your own cooling rate times your own seconds from crucible to mould",
        *(line for line in lines if isinstance(line, Given)),
        Given("the metal cools by", told, Source.OWN_SETTING),
        Given("from crucible to mould", print_seconds(seconds), Source.OWN_SETTING),
        *(line for line in lines if isinstance(line, Step)),
        Step(f"lost on the way: {told} × {print_seconds(seconds)}", print_celsius(lost_c)),
        Step(f"{print_celsius(wanted_c)} + {print_celsius(lost_c)}", print_celsius(wanted_c + lost_c)),
        *bound,
        result=print_celsius(set_c),
        notes=(problem,) if problem else (),
    )
    return MelterSetPoint(set_c, working, problem)


def _find_wanted(heats: Heats) -> tuple[int | None, list[Given | Step]]:
    """The temperature wanted at the mould and where it is from; None where nobody knows."""
    if heats.pour_least_c is not None:
        shown = print_celsius(heats.pour_least_c)
        return heats.pour_least_c, [Given("wanted at the mould", shown, "the least of the alloy's pour")]
    liquid_c = heats.liquidus_c
    if liquid_c is None:
        return None, []
    wanted_c = liquid_c + SUPERHEAT_C
    liquid, over, wanted = (print_celsius(one) for one in (liquid_c, SUPERHEAT_C, wanted_c))
    return wanted_c, [
        Given("liquid from", liquid, "the alloy's own page"),
        Given("above it", over, Source.COMMON_PRACTICE),
        Step(f"wanted at the mould: {liquid} + {over}", wanted),
    ]
