"""Whether there is enough: what is wanted against what is here and what of it is promised elsewhere."""

from dataclasses import dataclass

from studio.kit.printing import print_mass


@dataclass(frozen=True, slots=True)
class Need:
    """Milligrams of one material: wanted, held in all, and free of other plans' promises."""

    label: str
    wanted_mg: int
    held_mg: int
    free_mg: int

    @property
    def short_mg(self) -> int:
        return max(self.wanted_mg - self.free_mg, 0)

    @property
    def short(self) -> bool:
        return self.short_mg > 0

    @property
    def sentence(self) -> str:
        promised_mg = self.held_mg - self.free_mg
        words = f"{self.label}: {print_mass(self.wanted_mg)} wanted, {print_mass(self.held_mg)} here"
        if promised_mg:
            words += f", {print_mass(promised_mg)} of it promised to other plans"
        return f"{words}: {print_mass(self.short_mg)} short." if self.short else f"{words}: enough."


def check_need(label: str, wanted_mg: int, held_mg: int, free_mg: int) -> Need:
    """A need of one material. Raises ValueError when more is free than is held."""
    if free_mg > held_mg:
        raise ValueError(f"{free_mg} free of {held_mg} held")
    return Need(label, wanted_mg, held_mg, free_mg)
