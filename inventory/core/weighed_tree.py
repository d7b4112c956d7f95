"""The sprues and stem of a tree that was weighed whole: what is left of it without its base and its patterns."""

from studio.kit.printing import print_mass
from studio.kit.working import Given, Step, Working, make_working


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
