"""How hot an alloy melts, is poured, and wants its flask: ranges, what is wrong with them, and how they are said.

Temperatures are whole degrees Celsius; None where nobody wrote one down.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from studio.kit.printing import NOTHING, print_celsius

HEAT_MOST_C = 2_000
#: Tin, which melts lowest of what studios pour, melts at 232 (from memory).
MELTS_LEAST_C = 200
#: So far above where an alloy is poured that the reading is rather wrong than the metal so hot. Our own judgement.
FAR_ABOVE_C = 300


@dataclass(frozen=True, slots=True)
class Heats:
    """Solid below the solidus, liquid above the liquidus; the metal at the pour and the flask from least to most."""

    solidus_c: int | None = None
    liquidus_c: int | None = None
    pour_least_c: int | None = None
    pour_most_c: int | None = None
    flask_least_c: int | None = None
    flask_most_c: int | None = None

    @property
    def melting(self) -> str:
        return print_range(self.solidus_c, self.liquidus_c)

    @property
    def pour(self) -> str:
        return print_range(self.pour_least_c, self.pour_most_c)

    @property
    def flask(self) -> str:
        return print_range(self.flask_least_c, self.flask_most_c)

    @property
    def facts(self) -> list[tuple[str, str]]:
        """What is known, each under its name."""
        named = (("Melts", self.melting), ("Metal at the pour", self.pour), ("Flask at the pour", self.flask))
        return [(name, shown) for name, shown in named if shown != NOTHING]

    def say_pour(self) -> str:
        """ ": metal at 950 to 1,000 °C, flask at 400 to 675 °C"; "" where neither is known."""
        said = [
            f"{what} at {shown}"
            for what, shown in (("metal", self.pour), ("flask", self.flask))
            if shown != NOTHING
        ]
        return f": {', '.join(said)}" if said else ""

    def doubt_metal(self, metal_c: int, alloy: str) -> str:
        """What is to be asked about the metal's temperature at a pour; "" where it can be."""
        liquid_c, shown = self.liquidus_c or self.solidus_c, print_celsius(metal_c)
        if liquid_c is not None and metal_c < liquid_c:
            return f"At {shown} {alloy} is not liquid: that is from {print_celsius(liquid_c)} on."
        if metal_c < MELTS_LEAST_C:
            return f"At {shown} no casting metal is liquid."
        poured_c = self.pour_most_c or self.liquidus_c
        if poured_c is not None and metal_c > poured_c + FAR_ABOVE_C:
            return f"{shown} is far above {print_celsius(poured_c)}, up to which {alloy} is poured."
        return ""

    def doubt_flask(self, flask_c: int, metal_c: int | None, alloy: str) -> str:
        """What is to be asked about the flask's temperature at a pour; "" where it can be."""
        if metal_c is not None and flask_c > metal_c:
            return (
                f"The flask at {print_celsius(flask_c)} would be hotter than the metal. Are the two swapped?"
            )
        if self.solidus_c is not None and flask_c >= self.solidus_c:
            return f"In a flask at {print_celsius(flask_c)} {alloy} would not go solid."
        return ""

    def check_flask(self, kiln_c: int, alloy: str) -> str:
        """What is to be said of a flask that comes out of a kiln at this temperature; "" where it suits."""
        least, most = self.flask_least_c, self.flask_most_c
        if (least is None or kiln_c >= least) and (most is None or kiln_c <= most):
            return ""
        return (
            f"The kiln ends at {print_celsius(kiln_c)}, and {alloy or 'this alloy'} asks for a flask at {self.flask}. "
            "Choose a schedule that ends there, or pour it in a firing of its own."
        )


def print_range(least_c: int | None, most_c: int | None) -> str:
    """ "950 to 1,000 °C", "950 °C at least", "1,085 °C" where both are one; a dash where neither is known."""
    if least_c is None and most_c is None:
        return NOTHING
    if least_c is None:
        return f"{print_celsius(most_c)} at most"
    if most_c is None:
        return f"{print_celsius(least_c)} at least"
    if least_c == most_c:
        return print_celsius(most_c)
    return f"{least_c:,} to {print_celsius(most_c)}"


def check_heats(heats: Heats) -> Iterator[tuple[str, str]]:
    """What is wrong, as the name of the figure to mend and the sentence."""
    for low, high, words in (
        ("solidus_c", "liquidus_c", "An alloy is liquid at no less than where it begins to melt."),
        ("pour_least_c", "pour_most_c", "The most is below the least. Mend one of the two."),
        ("flask_least_c", "flask_most_c", "The most is below the least. Mend one of the two."),
        (
            "liquidus_c",
            "pour_least_c",
            "Metal is poured when all of it is liquid. Mend this, or the melting range.",
        ),
    ):
        least, most = getattr(heats, low), getattr(heats, high)
        if least is not None and most is not None and most < least:
            yield high, words
