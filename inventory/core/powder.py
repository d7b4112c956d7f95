"""Investment powder and water for a flask.

Masses are milligrams, volumes thousandths of a millilitre, lengths micrometres; the water is given per
hundred of powder by mass, in hundredths (40 per 100 = 4000).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from studio.kit.printing import (
    print_decimal,
    print_density,
    print_length,
    print_mass,
    print_percent,
    print_volume,
)
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import (
    MG_CM3_PER_G_CM3,
    MG_PER_G,
    PCT100_PER_PERCENT,
    PCT100_WHOLE,
    divide_half_up,
    round_half_up,
)
from studio.kit.working import Given, Step, Working, make_working, origin_of

# Enough digits that the volume of the largest flask is right to the last thousandth of a millilitre.
PI = Fraction(Decimal("3.14159265358979323846"))
UM3_PER_UL = 1_000_000_000


def compute_water_mg(powder_mg: int, water_pct100: int) -> int:
    """Water for powder, in milligrams: a gram of it is a millilitre in the measuring cup."""
    return round_half_up(Fraction(powder_mg * water_pct100, PCT100_WHOLE))


def compute_flask_volume(diameter_um: int, height_um: int) -> int:
    """The inside of a cylinder, in thousandths of a millilitre."""
    return round_half_up(PI * diameter_um * diameter_um * height_um / (4 * UM3_PER_UL))


WATER_MG_CM3 = Fraction("998.2")
POWDER_PARTS: tuple[tuple[str, int, int], ...] = (
    ("hemihydrate", 30, 2_750),
    ("quartz", 35, 2_650),
    ("cristobalite", 35, 2_330),
)
"""Name, parts of 100 by mass and mg/cm3 of a usual powder bonded with gypsum: handbook densities, from memory."""
PARTS_SOURCE = "worked out from handbook densities of a usual powder's parts (from memory)"
ITS_PAGE = "the powder's own page"


@dataclass(frozen=True, slots=True)
class Slurry:
    """What a powder comes to when it is mixed: `per_cm3_mg` of powder in each cm3 of slurry, and how that came about.

    `water_pct100` is the water for each hundred of powder, `water_origin` where that figure is from.
    """

    per_cm3_mg: int
    water_pct100: int
    water_origin: str = ITS_PAGE
    givens: tuple[Given, ...] = ()
    steps: tuple[Step, ...] = ()


def compute_slurry(slurry_mg_cm3: int, water_pct100: int, water_origin: str = ITS_PAGE) -> Slurry:
    """By the density on the powder's sheet, less the share of it that is water."""
    per_cm3_mg = divide_half_up(slurry_mg_cm3 * PCT100_WHOLE, PCT100_WHOLE + water_pct100)
    mixed, water = print_density(slurry_mg_cm3), _parts(water_pct100)
    return Slurry(
        per_cm3_mg,
        water_pct100,
        water_origin,
        (Given("powder and water mixed", mixed, ITS_PAGE),),
        (Step(f"powder in each cm³ of slurry: {mixed} × 100 ÷ (100 + {water})", print_density(per_cm3_mg)),),
    )


def compute_slurry_by_parts(water_pct100: int, water_origin: str = ITS_PAGE) -> Slurry:
    """Of a powder whose sheet gives no density: the space that its parts and its water take up."""
    powder_cm3 = sum((Fraction(parts * MG_PER_G, density) for _, parts, density in POWDER_PARTS), Fraction(0))
    water_cm3 = Fraction(water_pct100 * MG_PER_G, PCT100_PER_PERCENT) / WATER_MG_CM3
    per_cm3_mg = round_half_up(100 * MG_PER_G / (powder_cm3 + water_cm3))
    powder, water = (print_decimal(round_half_up(cm3 * 1000), 3, most=3) for cm3 in (powder_cm3, water_cm3))
    spaces = " + ".join(
        f"{parts} ÷ {print_decimal(density, 3, most=3)}" for _, parts, density in POWDER_PARTS
    )
    water_density = print_decimal(round_half_up(WATER_MG_CM3 * 10), 4, most=4)
    return Slurry(
        per_cm3_mg,
        water_pct100,
        water_origin,
        tuple(
            Given(f"{name} in the powder", f"{parts} of 100, at {print_density(density)}", PARTS_SOURCE)
            for name, parts, density in POWDER_PARTS
        ),
        (
            Step(f"cm³ that 100 g of powder take up: {spaces}", f"{powder} cm³"),
            Step(f"cm³ that its water takes up: {_parts(water_pct100)} ÷ {water_density}", f"{water} cm³"),
            Step(f"powder in each cm³ of slurry: 100 ÷ ({powder} + {water})", print_density(per_cm3_mg)),
        ),
    )


def _parts(pct100: int) -> str:
    return print_decimal(pct100, 2, most=2)


def _fill(space_ul: int, powder_per_cm3_mg: int, over_mix_pct100: int) -> int:
    """Milligrams of powder for a space and the over-mix."""
    return round_half_up(
        Fraction(space_ul * powder_per_cm3_mg, MG_CM3_PER_G_CM3)
        * Fraction(PCT100_WHOLE + over_mix_pct100, PCT100_WHOLE)
    )


def compute_powder_needed(
    flask_ul: int, pattern_ul: int, slurry: Slurry, over_mix_pct100: int = 0
) -> tuple[int, int, Working]:
    """Powder and water in milligrams for a flask less its tree, and over-mix for what stays in the bowl."""
    space_ul = max(0, flask_ul - pattern_ul)
    powder_mg = _fill(space_ul, slurry.per_cm3_mg, over_mix_pct100)
    water_mg = compute_water_mg(powder_mg, slurry.water_pct100)
    filled_mg = _fill(space_ul, slurry.per_cm3_mg, 0)
    flask, tree, space = (print_volume(volume_ul) for volume_ul in (flask_ul, pattern_ul, space_ul))
    water, over_mix = print_percent(slurry.water_pct100), print_percent(over_mix_pct100)
    working = make_working(
        "Powder and water",
        "the space in the flask times the powder in each cm³ of slurry, and the over-mix; "
        "water for each hundred of powder",
        Given("the flask", print_volume(flask_ul), "its inside"),
        Given("the tree in it", print_volume(pattern_ul), "its mass and density"),
        *slurry.givens,
        Given("over-mix", over_mix, origin_of(over_mix_pct100)),
        Given("water for the powder", water, slurry.water_origin),
        Step(f"space to fill: {flask} − {tree}", space),
        *slurry.steps,
        Step(f"{space} × {print_density(slurry.per_cm3_mg)}", print_mass(filled_mg)),
        Step(f"with the over-mix: {print_mass(filled_mg)} × (100 % + {over_mix})", print_mass(powder_mg)),
        Step(f"water: {water} of {print_mass(powder_mg)}", print_mass(water_mg)),
        result=_say_mix(powder_mg, water_mg),
    )
    return powder_mg, water_mg, working


POWDER_STEP_MG = 1_000
"""Powder is weighed to the gram (common practice)."""


@dataclass(frozen=True, slots=True)
class FlaskToFill:
    """A flask with its tree; volumes are thousandths of a millilitre."""

    label: str
    flask_ul: int
    pattern_ul: int = 0

    @property
    def space_ul(self) -> int:
        return max(0, self.flask_ul - self.pattern_ul)


@dataclass(frozen=True, slots=True)
class Mix:
    """One bowl for several flasks, in milligrams; `shares_mg` is the powder of each and adds up to all of it."""

    powder_mg: int
    water_mg: int
    shares_mg: tuple[int, ...]
    working: Working


def check_flasks(flasks: Sequence[FlaskToFill]) -> tuple[str, ...]:
    """What is wrong with flasks that are to be filled from one bowl."""
    if not flasks:
        return ("Choose a flask first: the powder is reckoned from its inside.",)
    return tuple(
        f"{flask.label}: its tree takes {print_volume(flask.pattern_ul)} and the flask holds "
        f"{print_volume(flask.flask_ul)}. Choose a larger flask, or weigh the tree again."
        for flask in flasks
        if flask.space_ul == 0
    )


def compute_mix(
    flasks: Sequence[FlaskToFill], slurry: Slurry, over_mix_pct100: int = 0, step_mg: int = 1
) -> Mix:
    """Powder and water for all flasks in one bowl, with one over-mix. Raises ValueError for no flask.

    With a step, as powder is weighed, the powder of each flask goes up to the next whole one.
    """
    if not flasks:
        raise ValueError("a mix is made for a flask")
    spaces_ul = [flask.space_ul for flask in flasks]
    powder_mg, water_mg, one_space = compute_powder_needed(sum(spaces_ul), 0, slurry, over_mix_pct100)
    shares_mg = allocate_largest_remainder(powder_mg, spaces_ul)
    weighed: tuple[Step, ...] = ()
    if step_mg > 1:
        # Each flask's powder goes up by itself, so that one bowl is what its plans hold together.
        each_mg = [_fill(space_ul, slurry.per_cm3_mg, over_mix_pct100) for space_ul in spaces_ul]
        shares_mg = [-(-share // step_mg) * step_mg for share in each_mg]
        powder_mg = sum(shares_mg)
        water_mg = compute_water_mg(powder_mg, slurry.water_pct100)
        weighed = (Step("as it is weighed, flask by flask", _say_mix(powder_mg, water_mg)),)
    settings = tuple(
        given for given in one_space.givens if given.label not in ("the flask", "the tree in it")
    )
    volumes = tuple(
        Given(
            flask.label,
            f"{print_volume(flask.flask_ul)} less {print_volume(flask.pattern_ul)}",
            "flask and tree",
        )
        for flask in flasks
    )
    spaces = tuple(
        Step(
            f"space in {flask.label}: {print_volume(flask.flask_ul)} − {print_volume(flask.pattern_ul)}",
            print_volume(flask.space_ul),
        )
        for flask in flasks
    )
    together = (Step("space in all of them", one_space.steps[0].result),) if len(flasks) > 1 else ()
    working = replace(
        one_space,
        title="Powder and water for one mix",
        formula="the space in all flasks times the powder in each cm³ of slurry, and the over-mix; "
        "water for each hundred of powder",
        givens=(*volumes, *settings),
        steps=(*spaces, *together, *one_space.steps[1:], *weighed),
        result=_say_mix(powder_mg, water_mg),
    )
    return Mix(powder_mg, water_mg, tuple(shares_mg), working)


def _say_mix(powder_mg: int, water_mg: int) -> str:
    return f"{print_mass(powder_mg)} powder, {print_mass(water_mg)} water"


def compute_expected_water(powder_mg: int, water_pct100: int) -> tuple[int, Working]:
    """Water for a weighed mass of powder, in milligrams, with the sum."""
    water_mg = compute_water_mg(powder_mg, water_pct100)
    working = make_working(
        "Water for the powder",
        "the powder times the water for each hundred of it",
        Given("powder", print_mass(powder_mg), "weighed"),
        Given("water for the powder", print_percent(water_pct100), ITS_PAGE),
        Step(f"{print_percent(water_pct100)} of {print_mass(powder_mg)}", print_mass(water_mg)),
        notes=("One gram of water is one millilitre.",),
    )
    return water_mg, working


def compute_flask_inside(diameter_um: int, height_um: int) -> tuple[int, Working]:
    """Volume of a cylinder in thousandths of a millilitre, and how it comes about."""
    volume_ul = compute_flask_volume(diameter_um, height_um)
    diameter, height = print_length(diameter_um), print_length(height_um)
    working = make_working(
        "Inside of the flask",
        "3.14159265 times the inside diameter, times itself, times the inside height, divided by 4",
        Given("inside diameter", diameter, "measured"),
        Given("inside height", height, "measured"),
        Step(f"3.14159265 × {diameter} × {diameter} × {height} ÷ 4", print_volume(volume_ul)),
        notes=("A thousand cubic millimetres are one millilitre.",),
    )
    return volume_ul, working
