"""What a count of a lot says beside the book: agreed, no more than the scale can show, or a difference to explain."""

from studio.kit.printing import print_quantity

from .weighing import compute_weighing_uncertainty

#: The weight in the book was read from a scale, and so is the one that is counted.
READINGS = 2


def is_within_weighing(difference: int, unit: str, division_mg: int) -> bool:
    """Whether the scale may have made a difference (small units of `unit`); what is counted in items never is."""
    if unit != "mass":
        return difference == 0
    return abs(difference) <= compute_weighing_uncertainty(division_mg, READINGS).tolerance_mg


TOO_MUCH_FOR_A_SCALE = "It differs by more than the scale can show: look again, or choose another reason."


def ask_difference(book: int, counted: int, unit: str, is_blind: bool = False) -> str:
    """The sentence that asks for a reason; blind it keeps the book's figure to itself, so that a second look is one."""
    if is_blind:
        word = "less" if counted < book else "more"
        return f"That is {word} than the book has. Look again, or say why."
    word = "missing" if counted < book else "more"
    gap = print_quantity(abs(counted - book), unit)
    return f"The book has {print_quantity(book, unit)}: {gap} {word}. Look again, or say why."
