"""What a planned tree weighs and asks for beyond its own metal, and whether it fits its flask and its crucible.

Masses are milligrams, lengths micrometres.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from studio.kit.printing import print_length, print_mass
from studio.kit.units import round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of


@dataclass(frozen=True, slots=True)
class PastLoss:
    """What past casts of an alloy charged and lost, and how many they were."""

    casts: int = 0
    charge_mg: int = 0
    lost_mg: int = 0


def compute_metal_to_charge(needed_mg: int, past: PastLoss, step_mg: int) -> tuple[int, int, Working]:
    """The charge for a tree, the loss to expect in it, and the sum.

    Past casts lost a share of their charge, so the charge is what leaves the metal needed when that share of it is
    gone: needed / (1 - share). It goes up to the next step of the scale: a tree that is a hair short does not fill.
    """
    lost_mg = max(past.lost_mg, 0)
    came_mg = past.charge_mg - lost_mg
    # Where all of every past charge was lost, no charge can be told from it.
    exact_mg = Fraction(needed_mg * past.charge_mg, came_mg) if came_mg > 0 else Fraction(needed_mg)
    loss_mg = round_half_up(exact_mg - needed_mg)
    whole_mg = ceil(exact_mg / step_mg) * step_mg
    givens = [Given("metal needed", print_mass(needed_mg), "the tree and its button")]
    steps = []
    if came_mg > 0:
        lost = f"{print_mass(lost_mg)} of {print_mass(past.charge_mg)}"
        casts = "1 past cast" if past.casts == 1 else f"{past.casts} past casts"
        givens.append(Given("lost of the charge so far", lost, f"{casts} of this metal"))
        charged = print_mass(past.charge_mg)
        steps = [
            Step(
                f"{print_mass(needed_mg)} × {charged} ÷ ({charged} − {print_mass(lost_mg)})",
                print_mass(round_half_up(exact_mg)),
            ),
            Step(
                f"of it loss to expect: {print_mass(round_half_up(exact_mg))} − {print_mass(needed_mg)}",
                print_mass(loss_mg),
            ),
        ]
    givens.append(Given("step of the scale", print_mass(step_mg), origin_of(step_mg)))
    working = make_working(
        "Metal to charge",
        "the metal needed, divided by the share of the charge that past casts did not lose; up to the next "
        "step of the scale",
        *givens,
        *steps,
        Step("up to the next step of the scale", print_mass(whole_mg)),
        notes=() if came_mg > 0 else ("No past cast of this metal tells what is lost.",),
    )
    return whole_mg, loss_mg, working


@dataclass(frozen=True, slots=True)
class Fit:
    """A tree, the flask and crucible it is meant for, and the clearances that the studio keeps. None: not known."""

    metal_mg: int
    button_mg: int
    least_button_mg: int
    capacity_mg: int | None = None
    flask_diameter_um: int | None = None
    flask_height_um: int | None = None
    tree_height_um: int | None = None
    tree_width_um: int | None = None
    wall_um: int = 0
    top_um: int = 0


def check_fit(fit: Fit) -> tuple[str, ...]:
    """Say where a tree does not fit. Each is a warning: the person at the bench sees the flask."""
    found = []
    if fit.capacity_mg is not None and fit.metal_mg > fit.capacity_mg:
        over = print_mass(fit.metal_mg - fit.capacity_mg)
        found.append(
            f"The crucible takes {print_mass(fit.capacity_mg)} and this charge is {print_mass(fit.metal_mg)}: "
            f"{over} too much. Take a larger crucible or a smaller tree."
        )
    if fit.tree_width_um is not None and fit.flask_diameter_um is not None:
        wall_um = (fit.flask_diameter_um - fit.tree_width_um) // 2
        if wall_um < fit.wall_um:
            found.append(
                f"The tree leaves {print_length(max(wall_um, 0))} to the wall of the flask and your least is "
                f"{print_length(fit.wall_um)}: a thin wall cracks and lets the metal out. Take a wider flask."
            )
    if fit.tree_height_um is not None and fit.flask_height_um is not None:
        top_um = fit.flask_height_um - fit.tree_height_um
        if top_um < fit.top_um:
            found.append(
                f"The tree leaves {print_length(max(top_um, 0))} to the top of the flask and your least is "
                f"{print_length(fit.top_um)}. Take a taller flask or a shorter tree."
            )
    if fit.button_mg < fit.least_button_mg:
        found.append(
            f"The button would be {print_mass(fit.button_mg)} and your least is {print_mass(fit.least_button_mg)}: "
            "a small button cannot feed the tree while it cools. Allow more for the button."
        )
    return tuple(found)


def compute_sprues(whole_mg: int, base_mg: int, patterns_mg: int) -> tuple[int, Working]:
    """Milligrams of sprues and stem; below zero where the patterns weigh more than the tree."""
    tree_mg = whole_mg - base_mg
    sprues_mg = tree_mg - patterns_mg
    return sprues_mg, make_working(
        "Sprues and stem",
        "the tree on its base, less the base, less the patterns",
        Given("tree on its base", print_mass(whole_mg), "weighed"),
        Given("base alone", print_mass(base_mg), "weighed"),
        Given("patterns", print_mass(patterns_mg), "as written"),
        Step(f"{print_mass(whole_mg)} less {print_mass(base_mg)}", print_mass(tree_mg)),
        Step(f"{print_mass(tree_mg)} less {print_mass(patterns_mg)}", print_mass(sprues_mg)),
    )
