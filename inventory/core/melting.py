"""The heat that melts a charge, and how long a melter takes for it.

Heat is whole joules, power whole watts, temperatures whole degrees Celsius, masses milligrams.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from statistics import median_low

from studio.kit.printing import (
    SPACE,
    print_celsius,
    print_decimal,
    print_mass,
    print_minutes,
    print_percent,
    print_seconds,
)
from studio.kit.units import MG_PER_G, PCT100_WHOLE, SECONDS_PER_MINUTE, round_half_up
from studio.kit.working import Given, Source, Step, Working, make_working

from .metal import check_composition

HEAT_SOURCE = "CRC Handbook of Chemistry and Physics (specific heat, melting points: from memory)"
#: Specific heat near 25 C in mJ/(g K), and the latent heat of melting in J/g. Latent heat of Ag, Cu, Au, Sn and Zn:
#: read in an engineering table; the rest from memory of the CRC's molar figures.
ELEMENT_HEAT: dict[str, tuple[int, int]] = {
    "Ag": (235, 105),
    "Au": (129, 63),
    "Cu": (385, 206),
    "Pd": (244, 157),
    "Pt": (133, 114),
    "Si": (705, 1_788),
    "Sn": (227, 59),
    "Zn": (388, 112),
}
ELEMENT_MELTS_C = {
    "Ag": 962,
    "Au": 1064,
    "Cu": 1085,
    "Pd": 1555,
    "Pt": 1768,
    "Si": 1414,
    "Sn": 232,
    "Zn": 420,
}
"""Melting points: ITS-90 and the CRC, from memory."""
WARMING_PCT = 110
"""The mean specific heat up to the melting point is some 10 % above that at 25 C."""
LIQUID_PCT = 130
"""That of the liquid is some 30 % above it (both from memory: silver 32 %, copper 34 %, gold 22 %)."""
SHARE_PCT100 = 2_000
"""Of a melter's watts, what ends in the metal until a melt of the studio's own says: a guess of ours."""
RATED_LEAST_MINUTES = 5
"""A melt that is reckoned from a plate takes no less: crucible and furnace are heated too. A guess of ours."""
MELTS_LEAST = 3
"""Fewer melts say more about one charge than about the melter."""
MELT_MOST_MINUTES = 12 * 60


@dataclass(frozen=True, slots=True)
class Melt:
    """A charge: its elements as parts of any total, from where it is heated, when it is liquid, and up to where.

    `liquid_c` None: reckoned from its elements. `poured_c` None: no hotter than liquid.
    """

    mass_mg: int
    parts: Mapping[str, int] = field(default_factory=dict)
    liquid_c: int | None = None
    poured_c: int | None = None
    room_c: int = 20


def compute_melt_heat(melt: Melt) -> tuple[int, Working]:
    """Joules that heat a charge, melt it, and heat it on to the pour: m (c dT + latent heat), by mass fractions.

    Raises ValueError for a composition that nobody can use (see `check_composition`).
    """
    problems = check_composition(melt.parts)
    if problems:
        raise ValueError(problems[0])
    whole = sum(melt.parts.values())
    shares = {symbol: Fraction(part, whole) for symbol, part in melt.parts.items() if part}
    specific = sum((share * ELEMENT_HEAT[symbol][0] for symbol, share in shares.items()), Fraction(0)) / 1000
    latent = sum((share * ELEMENT_HEAT[symbol][1] for symbol, share in shares.items()), Fraction(0))
    reckoned_c = round_half_up(sum(share * ELEMENT_MELTS_C[symbol] for symbol, share in shares.items()))
    liquid_c = melt.liquid_c or reckoned_c
    over_c = max(0, (melt.poured_c or liquid_c) - liquid_c)
    warm = specific * WARMING_PCT / 100 * max(0, liquid_c - melt.room_c)
    over = specific * LIQUID_PCT / 100 * over_c
    heat_j = round_half_up((warm + latent + over) * melt.mass_mg / MG_PER_G)
    told, each = print_celsius(liquid_c), _tell_share
    working = make_working(
        "Heat that melts the charge",
        "the mass, times: the specific heat up to the melting point times the degrees, the latent heat of melting, and "
        "the specific heat of the liquid times the degrees above it",
        Given("charge", print_mass(melt.mass_mg), "the plan"),
        *(Given(f"{symbol} in it", each(share), "composition") for symbol, share in shares.items()),
        Given(
            "liquid from", told, "the alloy's own page" if melt.liquid_c else "its elements' melting points"
        ),
        Step("specific heat at 25 °C, by its elements", f"{_decimal(specific, 3)} J/(g K)"),
        Step(
            f"up to {told}: {_decimal(specific, 3)} × {WARMING_PCT} % × {max(0, liquid_c - melt.room_c)}",
            f"{_decimal(warm, 1)} J/g",
        ),
        Step("latent heat, by its elements", f"{_decimal(latent, 1)} J/g"),
        Step(
            f"{over_c} degrees hotter: {_decimal(specific, 3)} × {LIQUID_PCT} % × {over_c}",
            f"{_decimal(over, 1)} J/g",
        ),
        Step(f"{print_mass(melt.mass_mg)} × {_decimal(warm + latent + over, 1)} J/g", print_joules(heat_j)),
        source=HEAT_SOURCE,
        notes=(
            "The mean specific heat up to the melting point is taken 10 % above that at 25 °C, the liquid's 30 %.",
        ),
    )
    return heat_j, working


def print_joules(heat_j: int) -> str:
    """ "36.8 kJ"."""
    return f"{_decimal(Fraction(heat_j, 1000), 1)}{SPACE}kJ"


def _decimal(exact: Fraction, places: int) -> str:
    return print_decimal(round_half_up(exact * 10**places), places, most=places)


def _tell_share(share: Fraction) -> str:
    return print_percent(round_half_up(share * PCT100_WHOLE))


@dataclass(frozen=True, slots=True)
class Power:
    """What of a melter's power ends in the metal, where that is from, and the least minutes of a melt."""

    watts: int
    origin: str
    steps: tuple[Step, ...] = ()
    least_minutes: int = 1


def measure_power(melts: Sequence[tuple[int, int]]) -> Power | None:
    """From melts of the studio's own as (joules, seconds from the metal going in to the pour): the middle one.

    None while they are too few. The middle and not the mean: one pour that waited for its flask tells nothing.
    """
    watts = [heat_j // seconds for heat_j, seconds in melts if seconds > 0 and heat_j >= seconds]
    if len(watts) < MELTS_LEAST:
        return None
    middle = median_low(watts)
    step = Step(f"heat by seconds, the middle of {len(watts)} melts", print_watts(middle))
    return Power(middle, f"{len(watts)} melts of your own", (step,))


def rate_power(rated_w: int | None, share_pct100: int | None = None) -> Power | None:
    """From a melter's plate and the share of it that ends in the metal; None where it has no plate."""
    if not rated_w:
        return None
    share = share_pct100 or SHARE_PCT100
    watts = max(1, round_half_up(Fraction(rated_w * share, PCT100_WHOLE)))
    origin = (
        "its plate and your share"
        if share_pct100
        else "its plate, and a guess of ours of what ends in the metal"
    )
    step = Step(f"{print_watts(rated_w)} × {print_percent(share)}", print_watts(watts))
    return Power(watts, origin, (step,), RATED_LEAST_MINUTES)


def print_watts(watts: int) -> str:
    return f"{watts:,}{SPACE}W"


@dataclass(frozen=True, slots=True)
class MeltTime:
    """Whole minutes from the metal going in until it can be poured, and how they came about."""

    minutes: int
    origin: str
    working: Working


def compute_melt_time(melt: Melt, power: Power | None, otherwise_minutes: int) -> MeltTime:
    """Heat over power, rounded up to a minute; `otherwise_minutes` where nobody knows the melter's power."""
    told = print_minutes(otherwise_minutes)
    if power is None or check_composition(melt.parts):
        what = "the melter's power" if power is None else "what the alloy is made of"
        origin = f"{Source.OWN_SETTING}: {what} is not known"
        working = make_working(
            "Time to melt the charge",
            f"as long as you say that a charge takes, for {what} is not known",
            Given("metal goes in before the pour, less the flask out of the kiln", told, "the casting day"),
            Step("taken as it is", told),
        )
        return MeltTime(otherwise_minutes, origin, working)
    heat_j, heat = compute_melt_heat(melt)
    exact = -(-heat_j // (power.watts * SECONDS_PER_MINUTE))
    minutes = min(MELT_MOST_MINUTES, max(exact, power.least_minutes))
    least = (Step("no melt is reckoned shorter than", print_minutes(minutes)),) if minutes > exact else ()
    working = make_working(
        "Time to melt the charge",
        "the heat that it takes, divided by the power that ends in the metal, up to the next minute",
        *heat.givens,
        Given("power that ends in the metal", print_watts(power.watts), power.origin),
        *heat.steps,
        *power.steps,
        Step(
            f"{print_joules(heat_j)} ÷ {print_watts(power.watts)}",
            print_seconds(-(-heat_j // power.watts)),
        ),
        *least,
        result=print_minutes(minutes),
        source=heat.source,
        notes=heat.notes,
    )
    return MeltTime(minutes, power.origin, working)
