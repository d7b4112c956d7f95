"""How deep a vacuum is, against what the air at the studio's height allows.

Pressures are whole pascals, heights whole metres, a vacuum tenths of an inch of mercury below the air outside.
"""

from decimal import Decimal
from fractions import Fraction

from studio.kit.printing import SPACE, print_percent, print_vacuum
from studio.kit.units import PCT100_PER_PERCENT, PCT100_WHOLE, divide_half_up, round_half_up
from studio.kit.working import Given, Source, Step, Working, make_working

STANDARD_SOURCE = "ICAO standard atmosphere"
SEA_LEVEL_PA = 101_325
#: P = 101.325 kPa (1 - 2.25577e-5 h)^5.25588, up to 11,000 m.
_LAPSE, _EXPONENT = Decimal("2.25577e-5"), Decimal("5.25588")
ALTITUDE_MOST_M = 6_000
PA_PER_INHG_TENTH = Fraction("338.6389")


def compute_air_pressure(altitude_m: int) -> int:
    """Pascals of the standard atmosphere at a height."""
    return round_half_up(Fraction(SEA_LEVEL_PA * (1 - _LAPSE * altitude_m) ** _EXPONENT))


def find_most_vacuum(altitude_m: int) -> int:
    """What a gauge would show of no air at all at a height."""
    return round_half_up(compute_air_pressure(altitude_m) / PA_PER_INHG_TENTH)


def compute_vacuum_share(read_inhg_tenths: int, altitude_m: int) -> tuple[int, Working]:
    """What was read as hundredths of a per cent of all that the air there could give: 10000 would be no air at all."""
    air_pa = compute_air_pressure(altitude_m)
    most = find_most_vacuum(altitude_m)
    share_pct100 = round_half_up(read_inhg_tenths * PA_PER_INHG_TENTH * PCT100_WHOLE / air_pa)
    read, air = print_vacuum(read_inhg_tenths), f"{air_pa:,}{SPACE}Pa"
    over = (
        ("More than the air there can give: look at the gauge, and at the height in your settings.",)
        if share_pct100 > PCT100_WHOLE
        else ()
    )
    working = make_working(
        "Vacuum against what the air allows",
        "what was read, divided by the pressure of the standard atmosphere at your height",
        Given("vacuum", read, "read from the gauge"),
        Given("height above the sea", f"{altitude_m:,}{SPACE}m", Source.OWN_SETTING),
        Step("101,325 Pa × (1 − 2.25577 ÷ 100,000 × height)^5.25588", air),
        Step("as a gauge would show no air at all", print_vacuum(most)),
        Step(f"{read} ÷ {print_vacuum(most)}", print_percent(share_pct100)),
        source=STANDARD_SOURCE,
        notes=over,
    )
    return share_pct100, working


def tell_vacuum(read_inhg_tenths: int, altitude_m: int | None) -> str:
    """ "27.5 inHg, 98 % of what 500 m allow"; only what was read where nobody said how high the studio stands."""
    read = print_vacuum(read_inhg_tenths)
    if altitude_m is None:
        return read
    share, _ = compute_vacuum_share(read_inhg_tenths, altitude_m)
    over = "; more than the air can give" if share > PCT100_WHOLE else ""
    whole = print_percent(divide_half_up(share, PCT100_PER_PERCENT) * PCT100_PER_PERCENT)
    return f"{read}, {whole} of what {altitude_m:,}{SPACE}m allow{over}"
