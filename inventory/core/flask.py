"""The inside of a flask, with its sum."""

from studio.kit.printing import print_length, print_volume
from studio.kit.working import Given, Step, Working, make_working

from .powder import compute_flask_volume


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
