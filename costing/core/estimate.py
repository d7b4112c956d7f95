"""What a planned cast will cost: a plan put into the shape of a closed cast, so that one roll-up serves both.

Masses are milligrams, volumes thousandths of a millilitre, money millionths of the currency.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from costing.core.inputs import CastInput, Origins, PieceInput
from studio.kit.printing import SPACE, print_mass, print_minutes, print_money
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import MG_CM3_PER_G_CM3, divide_half_up, round_half_up
from studio.kit.working import Given, Step, Working, make_working

AS_PLANNED = Origins(
    charge="the lots that are planned",
    back="the rest of the charge",
    lost="what past casts lost",
    held="the plan",
    used="the lots that are planned",
    firing="the firing that is planned",
    bench="your last casts",
)


@dataclass(frozen=True, slots=True)
class PlannedPart:
    """Patterns of one kind on the tree that become pieces: all of them together, and what they are made of.

    `pattern_mg_cm3` 0: not known, and then no metal can be told. `seconds_each` at the bench where the design's own are
    known.
    """

    label: str
    mass_mg: int
    count: int
    pattern_mg_cm3: int
    seconds_each: int | None = None


@dataclass(frozen=True, slots=True)
class PlannedUse:
    """What is needed of something, how much of it lots are planned for, and what that much costs."""

    name: str
    needed: int
    planned: int
    cost_micro: int


@dataclass(frozen=True, slots=True)
class BenchMeans:
    """Minutes that a cast and a piece take at the bench by the last closed casts, to the whole minute."""

    cast_minutes: int
    piece_minutes: int
    casts: int
    note: str = ""
    working: Working | None = None


def compute_bench_means(casts: int, cast_minutes: int, pieces: int, piece_minutes: int) -> BenchMeans:
    """The means over so many casts and their pieces; 0, with a note, where there are none."""
    if not casts:
        note = "No cast is closed yet, so time at the bench costs nothing here: write it down with each."
        return BenchMeans(0, 0, 0, note)
    mean_cast = divide_half_up(cast_minutes, casts)
    mean_piece = divide_half_up(piece_minutes, pieces) if pieces else 0
    which, count = ("the last cast", "1 closed cast")
    if casts > 1:
        which, count = f"the last {casts} casts", f"the last {casts} closed casts"
    note = ""
    if not cast_minutes and not piece_minutes:
        note = f"No time was written down for {which}, so time at the bench costs nothing here."
    working = make_working(
        "Time at the bench, expected",
        "what was written down for the last casts divided by their number, and for their pieces by theirs",
        Given("casts", str(casts), count),
        Given("minutes on them as a whole", print_minutes(cast_minutes), "bench notes"),
        Given("their pieces", str(pieces), count),
        Given("minutes on single pieces", print_minutes(piece_minutes), "bench notes"),
        Step(f"a cast: {print_minutes(cast_minutes)} ÷ {casts}", print_minutes(mean_cast)),
        Step(f"a piece: {print_minutes(piece_minutes)} ÷ {pieces}", print_minutes(mean_piece)),
        result=f"{print_minutes(mean_cast)} and {print_minutes(mean_piece)}{SPACE}a{SPACE}piece",
        notes=("Pieces that nobody has finished yet count with no minutes.",),
    )
    return BenchMeans(mean_cast, mean_piece, casts, note, working)


def compute_planned_pieces(
    parts: Sequence[PlannedPart], metal_mg_cm3: int, seconds_each: int = 0
) -> tuple[PieceInput, ...]:
    """Every piece of a tree: its part's space in metal, shared by the mass of the patterns, to the milligram.

    Their cost is not in them yet. A part without a time of its own takes `seconds_each`.
    """
    pieces: list[PieceInput] = []
    for part in parts:
        known = part.pattern_mg_cm3 > 0
        whole_mg = round_half_up(Fraction(part.mass_mg * metal_mg_cm3, part.pattern_mg_cm3)) if known else 0
        weights = allocate_largest_remainder(part.mass_mg, [1] * part.count)
        metals = allocate_largest_remainder(whole_mg, weights)
        for place, (pattern_mg, metal_mg) in enumerate(zip(weights, metals, strict=True), start=1):
            pieces.append(
                PieceInput(
                    key=len(pieces),
                    label=f"{part.label} {place}" if part.count > 1 else part.label,
                    mass_mg=metal_mg,
                    pattern_volume_ul=pattern_mg * MG_CM3_PER_G_CM3 // part.pattern_mg_cm3 if known else None,
                    bench_seconds=seconds_each if part.seconds_each is None else part.seconds_each,
                )
            )
    return tuple(pieces)


def fill_up(use: PlannedUse) -> tuple[int, str]:
    """The cost of all that is needed, and the sentence that says what no lot is planned for, or "".

    What is missing is reckoned at the rate of what is there; with nothing there, nothing is known of its price.
    """
    missing = use.needed - use.planned
    if missing <= 0:
        return use.cost_micro, ""
    if not use.planned:
        return 0, f"No lot of {use.name} is planned, so it costs nothing here."
    cost_micro = divide_half_up(use.cost_micro * use.needed, use.planned)
    return cost_micro, (
        f"{print_mass(missing)} of {use.name} is not here yet: it is reckoned at what the rest costs."
    )


@dataclass(frozen=True, slots=True)
class PlannedMetal:
    """The charge as planned, what is expected to be lost of it, and the pieces without their cost."""

    charge_mg: int
    charge_micro: int
    loss_mg: int
    pieces: tuple[PieceInput, ...]
    name: str


def share_charge(metal: PlannedMetal) -> tuple[CastInput, str]:
    """The charge shared over pieces, what comes back and what is lost, by mass and to the last unit.

    A charge that cannot fill the pieces is filled up at its own rate, and the sentence says so.
    """
    held_mg = sum(piece.mass_mg for piece in metal.pieces)
    needed_mg = held_mg + metal.loss_mg
    charge_micro, note = fill_up(PlannedUse(metal.name, needed_mg, metal.charge_mg, metal.charge_micro))
    charge_mg = max(metal.charge_mg, needed_mg)
    back_mg = charge_mg - needed_mg
    weights = [*(piece.mass_mg for piece in metal.pieces), back_mg, metal.loss_mg]
    *owns, back_micro, lost_micro = allocate_largest_remainder(charge_micro, weights)
    cast = CastInput(
        charge_mg=charge_mg,
        charge_micro=charge_micro,
        back_mg=back_mg,
        back_micro=back_micro,
        lost_mg=metal.loss_mg,
        lost_micro=lost_micro,
        pieces=tuple(
            replace(piece, own_metal_micro=own_micro)
            for piece, own_micro in zip(metal.pieces, owns, strict=True)
        ),
        origins=AS_PLANNED,
    )
    return cast, note


def work_planned_metal(cast: CastInput) -> Working:
    """Where the planned charge goes, and what each part of it costs."""
    held_mg = sum(piece.mass_mg for piece in cast.pieces)
    held_micro = sum(piece.own_metal_micro for piece in cast.pieces)
    money = print_money(cast.charge_micro, 4)
    charge = f"{print_mass(cast.charge_mg)} for {money}"
    return make_working(
        "Where the planned charge goes",
        "the pieces take the space of their patterns, the loss is what past casts lost, the rest comes "
        "back as button and sprues; each part carries its grams' share of what the charge costs",
        Given("charge", charge, AS_PLANNED.charge),
        Given("in the pieces", print_mass(held_mg), "patterns and the density of the metal"),
        Given("loss to expect", print_mass(cast.lost_mg), AS_PLANNED.lost),
        *(
            Step(
                f"{name}: {money} × {print_mass(mass_mg)} ÷ {print_mass(cast.charge_mg)}",
                print_money(part_micro, 4),
            )
            for name, mass_mg, part_micro in (
                ("pieces", held_mg, held_micro),
                ("lost", cast.lost_mg, cast.lost_micro),
                ("back", cast.back_mg, cast.back_micro),
            )
            if cast.charge_mg
        ),
        result=charge,
    )
