"""What the demo studio casts: botanical pieces, with the weight of one pattern in wax and of one casting."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Design:
    """A design in one alloy: milligrams of one pattern and of one casting, and minutes to finish one."""

    name: str
    wax_mg: int
    cast_mg: int
    finish_minutes: int


FERN = Design("Fern stud", 370, 3_840, 14)
POD = Design("Seed pod pendant", 1_180, 12_240, 25)
LEAF = Design("Ivy leaf brooch", 1_540, 15_980, 35)
BUD = Design("Bud ring", 790, 8_190, 30)
TWIG = Design("Twig bangle", 2_930, 30_400, 50)
CONE = Design("Larch cone charm", 560, 5_810, 16)
HOOK = Design("Bramble coat hook", 5_200, 47_500, 20)
KNOB = Design("Acorn drawer knob", 3_400, 31_050, 15)

SILVER_TREES: tuple[tuple[tuple[Design, int], ...], ...] = (
    ((FERN, 4), (POD, 2)),
    ((LEAF, 2), (CONE, 3)),
    ((BUD, 4), (FERN, 2)),
    ((TWIG, 1), (CONE, 4)),
    ((POD, 3), (BUD, 1)),
    ((LEAF, 1), (FERN, 6)),
)
BRONZE_TREES: tuple[tuple[tuple[Design, int], ...], ...] = (
    ((HOOK, 2),),
    ((KNOB, 3),),
    ((HOOK, 1), (KNOB, 2)),
)


def plural(design: Design, count: int) -> str:
    """How a tree's label names so many of a design: "4 fern studs", "2 ivy leaf brooches", "an ivy leaf brooch"."""
    name = design.name.lower()
    if count > 1:
        return f"{count} {name}{'es' if name.endswith('ch') else 's'}"
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"
