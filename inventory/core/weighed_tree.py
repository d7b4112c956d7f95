"""The sprues and stem of a tree that was weighed whole: what is left of it without its base and its patterns."""

from studio.kit.printing import print_mass
from studio.kit.working import Given, Source, Step, Working


def compute_sprues(whole_mg: int, base_mg: int, patterns_mg: int) -> tuple[int, Working]:
    """Milligrams of sprues and stem; below zero where the patterns weigh more than the tree."""
    tree_mg = whole_mg - base_mg
    sprues_mg = tree_mg - patterns_mg
    return sprues_mg, Working(
        title="Sprues and stem",
        formula="the tree on its base, less the base, less the patterns",
        givens=(
            Given("tree on its base", print_mass(whole_mg), "weighed"),
            Given("base alone", print_mass(base_mg), "weighed"),
            Given("patterns", print_mass(patterns_mg), "as written"),
        ),
        steps=(
            Step(f"{print_mass(whole_mg)} less {print_mass(base_mg)}", print_mass(tree_mg)),
            Step(f"{print_mass(tree_mg)} less {print_mass(patterns_mg)}", print_mass(sprues_mg)),
        ),
        result=print_mass(sprues_mg),
        source=Source.COMMON_PRACTICE,
    )
