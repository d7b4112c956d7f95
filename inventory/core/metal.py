"""How heavy a metal is, and how much of it a pattern asks for.

Densities are whole milligrams per cubic centimetre (10.36 g/cm3 = 10360); masses are milligrams; volumes
are thousandths of a millilitre, which are cubic millimetres.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.printing import print_decimal, print_density, print_mass, print_percent, print_volume
from studio.kit.units import MG_CM3_PER_G_CM3, PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of

ELEMENT_SOURCE = "CRC Handbook of Chemistry and Physics, 80th edition"
ELEMENT_DENSITY_MG_CM3: dict[str, int] = {
    "Ag": 10_500,
    "Au": 19_300,
    "Cu": 8_960,
    "Pd": 12_020,
    "Pt": 21_450,
    "Si": 2_330,
    "Sn": 7_310,
    "Zn": 7_133,
}

TYPED = "typed here"
ITS_OWN_PAGE = "the metal's own page"
FROM_COMPOSITION = "worked out from the composition"
"""What stands as the source of a density that nobody measured."""


def check_composition(parts: Mapping[str, int]) -> tuple[str, ...]:
    """Say what stops a composition (element symbol to parts of the whole, any total) from being used."""
    problems = [
        f"There is no density for {symbol!r} here: use {', '.join(ELEMENT_DENSITY_MG_CM3)}, "
        "or type the density of the metal instead."
        for symbol in parts
        if symbol not in ELEMENT_DENSITY_MG_CM3
    ]
    if any(part < 0 for part in parts.values()):
        problems.append("No part of a metal can be below zero: leave out what is not in it.")
    if sum(parts.values()) <= 0:
        problems.append("Say what the metal is made of, as parts of 1000.")
    return tuple(problems)


def compute_mixture_density(parts: Mapping[str, int]) -> tuple[int, Working]:
    """Density in mg/cm3 of an ideal mixture: whole mass over the volumes that its elements take up.

    `parts` are by mass and of any total. A mean weighted by mass would be up to 15 % too heavy. Raises
    ValueError for a composition that check_composition refuses.
    """
    problems = check_composition(parts)
    if problems:
        raise ValueError(problems[0])
    whole = sum(parts.values())
    space = {symbol: Fraction(part, ELEMENT_DENSITY_MG_CM3[symbol]) for symbol, part in parts.items() if part}
    density_mg_cm3 = round_half_up(whole / sum(space.values(), Fraction(0)))
    # One thousand grams of the metal make volumes that a person can follow on paper.
    cm3_per_kg = {symbol: share * 1_000_000 / whole for symbol, share in space.items()}
    steps = [
        Step(
            f"{symbol} in 1000 g: {_decimal(Fraction(parts[symbol] * 1000, whole), 3)} g ÷ "
            f"{print_density(ELEMENT_DENSITY_MG_CM3[symbol])}",
            f"{_decimal(volume, 3)} cm³",
        )
        for symbol, volume in cm3_per_kg.items()
    ]
    total_cm3 = sum(cm3_per_kg.values(), Fraction(0))
    steps.append(
        Step(f"1000 g ÷ {_decimal(total_cm3, 3)} cm³", print_density(density_mg_cm3)),
    )
    working = make_working(
        "Density of the metal",
        "the mass of the whole, divided by the sum of the volumes of its elements",
        *(
            Given(
                f"{symbol} in the metal",
                f"{_decimal(Fraction(part * 1000, whole), 2)} of 1000",
                "composition",
            )
            for symbol, part in parts.items()
        ),
        *steps,
        result=print_density(density_mg_cm3),
        source=ELEMENT_SOURCE,
        notes=(
            "Real alloys can be a few per cent denser, brass about 2 %: a measured density beats this one.",
        ),
    )
    return density_mg_cm3, working


@dataclass(frozen=True, slots=True)
class PatternPart:
    """One part of the tree that burns out: weighed (mass_mg and density_mg_cm3) or of known volume_ul."""

    label: str
    mass_mg: int = 0
    density_mg_cm3: int = 0
    volume_ul: int | None = None
    origin: str = TYPED

    @property
    def space_ul(self) -> Fraction:
        """The volume it leaves in the mould, exact. Raises ValueError for a weighed part with no density."""
        if self.volume_ul is not None:
            return Fraction(self.volume_ul)
        if self.density_mg_cm3 <= 0:
            raise ValueError(f"{self.label} has a mass and no density")
        return Fraction(self.mass_mg * MG_CM3_PER_G_CM3, self.density_mg_cm3)


def compute_metal_needed(
    parts: Sequence[PatternPart],
    metal_mg_cm3: int,
    button_pct100: int = 0,
    button_mg: int = 0,
    metal_origin: str = ITS_OWN_PAGE,
) -> tuple[int, Working]:
    """Milligrams of metal for a tree: pattern mass x metal density / pattern density, and the button on top.

    The button is a share of the tree's metal (`button_pct100`), a fixed mass, or both.
    """
    exact_mg = [part.space_ul * metal_mg_cm3 / MG_CM3_PER_G_CM3 for part in parts]
    tree_mg = sum(exact_mg, Fraction(0))
    share_mg = tree_mg * button_pct100 / PCT100_WHOLE
    needed_mg = round_half_up(tree_mg + share_mg + button_mg)
    steps = [_part_step(part, metal_mg_cm3, mass) for part, mass in zip(parts, exact_mg, strict=True)]
    givens = [_part_given(part) for part in parts]
    givens.append(Given("density of the metal", print_density(metal_mg_cm3), metal_origin))
    if button_pct100:
        givens.append(
            Given("more for the button", print_percent(button_pct100), origin_of(button_pct100, "the plan"))
        )
        steps.append(
            Step(
                f"button: {print_percent(button_pct100)} of {print_mass(round_half_up(tree_mg))}",
                print_mass(round_half_up(share_mg)),
            )
        )
    if button_mg:
        givens.append(Given("button", print_mass(button_mg), TYPED))
        steps.append(Step("button", print_mass(button_mg)))
    steps.append(Step("together", print_mass(needed_mg)))
    working = make_working(
        "Metal needed",
        "the mass of each pattern times the density of the metal, divided by the density of the "
        "pattern; then the button on top",
        *givens,
        *steps,
        result=print_mass(needed_mg),
    )
    return needed_mg, working


def _part_step(part: PatternPart, metal_mg_cm3: int, exact_mg: Fraction) -> Step:
    result = print_mass(round_half_up(exact_mg))
    metal = print_density(metal_mg_cm3)
    if part.volume_ul is not None:
        return Step(f"{part.label}: {print_volume(part.volume_ul)} × {metal}", result)
    return Step(
        f"{part.label}: {print_mass(part.mass_mg)} × {metal} ÷ {print_density(part.density_mg_cm3)}", result
    )


def _part_given(part: PatternPart) -> Given:
    if part.volume_ul is not None:
        return Given(part.label, print_volume(part.volume_ul), part.origin)
    value = f"{print_mass(part.mass_mg)}, at {print_density(part.density_mg_cm3)}"
    return Given(part.label, value, part.origin)


def _decimal(exact: Fraction, digits: int) -> str:
    return print_decimal(round_half_up(exact * 10**digits), digits, most=digits)
