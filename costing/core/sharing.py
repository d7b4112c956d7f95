"""One line of a cost: what the pieces share of it, what is set aside, and the sum that shows it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from costing.core.inputs import LINE_LABELS, Basis, CastInput, PieceInput
from studio.kit.printing import print_mass, print_money, print_volume
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.working import Given, Source, Step, Working, make_working

ABNORMAL = "abnormal_loss"
FAILED = "failed"
UNPOURED = "unpoured"
SCRAPPED = "scrapped"
ASIDE_LABELS = {
    ABNORMAL: "Abnormal loss",
    FAILED: "Cast failed",
    UNPOURED: "Not poured",
    SCRAPPED: "Pieces scrapped",
}


@dataclass(frozen=True, slots=True)
class SetAside:
    """Cost that no piece carries, and why."""

    key: str
    label: str
    amount_micro: int


@dataclass(frozen=True, slots=True)
class Cost:
    """A cost before it is shared: what the cast used together, and what each piece used by itself.

    `own_words` say as a sum what each piece's own cost is made of. `abnormal_micro` of the shared part, by the sum
    `abnormal_words`, is set aside before the pieces share the rest.
    """

    key: str
    formula: str
    shared_micro: int = 0
    own_micro: tuple[int, ...] = ()
    own_words: tuple[str, ...] = ()
    abnormal_micro: int = 0
    abnormal_words: str = ""
    givens: Callable[[], tuple[Given, ...]] = tuple
    source: str = Source.COMMON_PRACTICE
    notes: tuple[str, ...] = ()

    @property
    def total_micro(self) -> int:
        return self.shared_micro + sum(self.own_micro)


@dataclass(frozen=True, slots=True)
class CostLine:
    """One line of a cast's cost: pieces and what was set aside add up to `total_micro`.

    `basis` is how the pieces really shared it, None for a cost that is wholly each piece's own; `weights` are
    those of the pieces at `places`, which share it. The working is made when it is asked for: ten years of casts
    are added up without a word of it.
    """

    cost: Cost
    pieces: tuple[PieceInput, ...]
    piece_micro: tuple[int, ...]
    set_aside: tuple[SetAside, ...]
    basis: Basis | None
    places: tuple[int, ...]
    weights: tuple[int, ...]
    notes: tuple[str, ...] = ()
    basis_origin: str = Source.SETTING

    @property
    def key(self) -> str:
        return self.cost.key

    @property
    def label(self) -> str:
        return LINE_LABELS[self.cost.key]

    @property
    def total_micro(self) -> int:
        return self.cost.total_micro

    @property
    def set_aside_micro(self) -> int:
        return sum(aside.amount_micro for aside in self.set_aside)

    @property
    def working(self) -> Working:
        return _work_line(self)

    def aside_micro(self, key: str) -> int:
        return sum(aside.amount_micro for aside in self.set_aside if aside.key == key)


Weights = tuple[list[int], Basis, tuple[str, ...]]


def choose_weights(basis: Basis, pieces: Sequence[PieceInput]) -> Weights:
    """Weights of the pieces, the basis that could be used, and a note where it is not the one asked for."""
    notes: tuple[str, ...] = ()
    if basis is Basis.VOLUME:
        volumes = [piece.pattern_volume_ul or 0 for piece in pieces]
        if all(volume > 0 for volume in volumes):
            return volumes, basis, ()
        basis = Basis.GRAMS
        notes = ("The volume of a pattern is not known, so the pieces share by grams.",)
    if basis is Basis.GRAMS:
        masses = [max(piece.mass_mg, 0) for piece in pieces]
        if any(masses):
            return masses, basis, notes
        notes += ("No piece has a mass, so they share equally.",)
    return [1] * len(pieces), Basis.EQUALLY, notes


def allocate_cost(
    cost: Cost, cast: CastInput, chosen: Weights | None, basis_origin: str = Source.SETTING
) -> CostLine:
    """Share a cost over the good pieces; with no good piece all of it is set aside as a failed cast.

    `chosen` are the weights of the good pieces, None for a cost that is wholly each piece's own.
    """
    places = cast.good_places
    owns = cost.own_micro or (0,) * len(cast.pieces)
    weights, used, notes = chosen or ([1] * len(places), None, ())
    amounts = [0] * len(cast.pieces)
    if places:
        shares = allocate_largest_remainder(cost.shared_micro - cost.abnormal_micro, weights)
        for place, share in zip(places, shares, strict=True):
            amounts[place] = share + owns[place]
        scrapped_micro = cost.total_micro - cost.abnormal_micro - sum(amounts)
        asides = {ABNORMAL: cost.abnormal_micro, SCRAPPED: scrapped_micro}
    else:
        asides = {FAILED if cast.charge_mg or cast.pieces else UNPOURED: cost.total_micro}
    shown = used if places else None
    return CostLine(
        cost=cost,
        pieces=cast.pieces,
        piece_micro=tuple(amounts),
        set_aside=tuple(SetAside(key, ASIDE_LABELS[key], amount) for key, amount in asides.items() if amount),
        basis=shown,
        weights=tuple(weights),
        places=places,
        notes=notes if shown else (),
        basis_origin=basis_origin,
    )


def _work_line(line: CostLine) -> Working:
    cost, total = line.cost, print_money(line.total_micro, 4)
    steps = []
    if line.basis is not None and any(cost.own_micro):
        steps.append(Step("of the cast together", print_money(cost.shared_micro, 4)))
        steps.append(Step("of single pieces", print_money(sum(cost.own_micro), 4)))
    steps.append(Step("the whole line", total))
    steps += [
        Step(f"on no piece: {aside.label}{_say_aside(cost, aside)}", print_money(aside.amount_micro, 4))
        for aside in line.set_aside
    ]
    steps += [
        Step(f"{piece.label}: {_say_share(line, place)}", print_money(line.piece_micro[place], 4))
        for place, piece in enumerate(line.pieces)
    ]
    shared = (
        (Given("the pieces share it by", _BASIS_WORDS[line.basis], line.basis_origin),) if line.basis else ()
    )
    return make_working(
        line.label,
        cost.formula,
        *cost.givens(),
        *shared,
        *steps,
        result=total,
        source=cost.source,
        notes=cost.notes + line.notes,
    )


def _say_aside(cost: Cost, aside: SetAside) -> str:
    return f": {cost.abnormal_words}" if aside.key == ABNORMAL and cost.abnormal_words else ""


_BASIS_WORDS = {
    Basis.GRAMS: "their grams as cast",
    Basis.EQUALLY: "their number, equally",
    Basis.VOLUME: "the volume of their patterns",
}


def _say_share(line: CostLine, place: int) -> str:
    """What a piece carries, as a sum."""
    cost, whole = line.cost, sum(line.weights)
    if place not in line.places:
        return "carries nothing"
    weight = line.weights[line.places.index(place)]
    shared_micro = cost.shared_micro - cost.abnormal_micro
    parts = []
    if line.basis is not None and shared_micro:
        shared = print_money(shared_micro, 4)
        if line.basis is Basis.EQUALLY:
            parts.append(f"{shared} ÷ {whole}")
        else:
            printed = print_mass if line.basis is Basis.GRAMS else print_volume
            parts.append(f"{shared} × {printed(weight)} ÷ {printed(whole)}")
    own_micro = cost.own_micro[place] if cost.own_micro else 0
    if own_micro:
        alone = "" if parts else " of its own"
        parts.append(cost.own_words[place] if cost.own_words else f"{print_money(own_micro, 4)}{alone}")
    return " + ".join(parts) or "nothing of its own"


def work_piece_share(line: CostLine, place: int) -> Working:
    """The sum of one line as one piece sees it: the steps of the whole, then only this piece's own."""
    count, working = len(line.piece_micro), line.working
    steps = working.steps
    return replace(
        working,
        steps=(*steps[: len(steps) - count], steps[len(steps) - count + place]),
        result=print_money(line.piece_micro[place], 4),
    )
