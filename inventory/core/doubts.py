"""What is out of the ordinary enough to be asked about before it is written down: losses and weights.

Masses are milligrams, shares hundredths of a per cent. Each returns a sentence with the figure, or "".
"""

from collections.abc import Collection, Mapping
from fractions import Fraction

from studio.kit.printing import print_energy, print_mass, print_money, print_percent
from studio.kit.units import PCT100_WHOLE, round_half_up

from .energy import share_firing_cost
from .weighing import compute_share_pct100

#: Ten times too much is a decimal point that slipped, or grams for pennyweights read aloud.
TIMES_TOO_MUCH = 10
#: Prices move, and small packs are dear; five times either way is a figure too many or too few.
TIMES_OFF_PRICE = 5
#: While a studio has too few casts for a usual of its own. Common practice: a cast loses some 1 to 3 per cent.
FIRST_LIMIT_PCT100 = 500


def doubt_loss(lost_mg: int, charge_mg: int, limit_pct100: int | None, before_mg: int = 0) -> str:
    """Of a loss that is more than is usual here; `before_mg` was lost of the same charge already.

    What lost too much before is not asked about again for another hair: the new loss must pass the limit with it, or
    by itself.
    """
    limit = FIRST_LIMIT_PCT100 if limit_pct100 is None else limit_pct100
    share, before, alone = (
        compute_share_pct100(mass, charge_mg) or 0 for mass in (before_mg + lost_mg, before_mg, lost_mg)
    )
    if lost_mg <= 0 or share <= limit or (before > limit and alone <= limit):
        return ""
    with_before = f" with the {print_mass(before_mg)} before" if before_mg > 0 else ""
    usual = "your casts usually lose at most" if limit_pct100 is not None else "casts usually lose less than"
    return (
        f"{print_mass(lost_mg)} would be lost{with_before}, {print_percent(share)} of the charge: "
        f"{usual} {print_percent(limit)}."
    )


def doubt_mass(mass_mg: int, expected_mg: int | None, what: str) -> str:
    """Of a weight that is ten times what was to be expected; `what` says of what, "the plan says" say."""
    if not expected_mg or mass_mg < TIMES_TOO_MUCH * expected_mg:
        return ""
    times = round_half_up(Fraction(mass_mg, expected_mg))
    return f"{print_mass(mass_mg)} is {times:,} times what {what}, {print_mass(expected_mg)}."


def doubt_shrunk(mass_mg: int, before_mg: int) -> str:
    """Of a piece that weighs less than half of what it did: so much is not filed off."""
    if 2 * mass_mg >= before_mg:
        return ""
    return f"{print_mass(mass_mg)} is less than half of the {print_mass(before_mg)} that it weighed before."


def doubt_rate(cost_micro: int, quantity: int, rate: Fraction | None) -> str:
    """Of a price that is five times or a fifth of what a small unit of the material cost before, in millionths."""
    if not rate or not cost_micro or not quantity:
        return ""
    expected_micro = round_half_up(rate * quantity)
    if expected_micro < TIMES_OFF_PRICE * cost_micro and cost_micro < TIMES_OFF_PRICE * expected_micro:
        return ""
    before, now = print_money(expected_micro), print_money(cost_micro)
    return f"The last time, so much of it would have cost {before}; this says {now}."


MOST_TOLD = 3


def doubt_shares(
    firing: str,
    energy_wh: int,
    before_ul: Mapping[int, int],
    after_ul: Mapping[int, int],
    told: Collection[int],
) -> str:
    """Of a firing that other flasks share from now on, so that casts of it cost otherwise than they were told to.

    `before_ul` and `after_ul` are the volumes of the flasks in it, by the number of the cast; `told` are the casts
    whose cost was worked out already. Where the energy is not known, the shares are told in per cent.
    """
    whole = energy_wh or PCT100_WHOLE
    before, after = (_share(whole, volumes) for volumes in (before_ul, after_ul))
    moved = [number for number in before if number in told and before[number] != after.get(number, 0)]
    if not moved:
        return ""
    show = print_energy if energy_wh else print_percent
    said = [
        f"cast {number} from {show(before[number])} to {show(after.get(number, 0))}"
        for number in sorted(moved)[:MOST_TOLD]
    ]
    more = f", and {len(moved) - MOST_TOLD} more" if len(moved) > MOST_TOLD else ""
    took = f"took {print_energy(energy_wh)}" if energy_wh else "is of unknown energy"
    return (
        f"{firing.capitalize()} {took}. What earlier casts carry of it would change: {', '.join(said)}{more}."
    )


def _share(whole: int, volumes_ul: Mapping[int, int]) -> dict[int, int]:
    return dict(zip(volumes_ul, share_firing_cost(whole, list(volumes_ul.values())), strict=True))
