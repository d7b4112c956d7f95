"""The closing of a cast: what was weighed after the pour becomes pieces and reclaim, and what is left is lost."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import count

from inventory.core.alloying import compute_blend_melts_milli, compute_mark
from inventory.core.fineness import Known
from inventory.core.ledger import Amount, rate_of, share_out
from inventory.core.weighing import compute_weighing_uncertainty
from inventory.models import Alloy, Cast, Design, Entry, Holder, Lot, Material, Movement, Piece
from studio.kit.printing import print_mass
from studio.kit.rounding import allocate_largest_remainder

from .assaying import say_of_charge
from .book import Book, Draft, balance_of
from .buying import make_lot
from .refusal import Refused
from .setup import mixed_alloy, reclaim_material
from .writing import blank

What = Movement.What
#: Milligrams and melts (thousandths) of each portion of a charge.
Portions = Sequence[tuple[int, int]]
#: The field beside which it stands that a charge misses its alloy's fineness, and where that is taken as it is.
AS_IT_IS = "as_it_is"


@dataclass(frozen=True)
class PieceGroup:
    """Castings weighed together: how many, and their one weight in milligrams.

    With a pattern weight for each they share it by pattern mass, otherwise equally. `pieces` are those that were made
    of them already, where the weights are written again.
    """

    name: str
    mass_mg: int
    count: int = 1
    pattern_masses_mg: Sequence[int] = ()
    pattern_material: Material | None = None
    pieces: Sequence[Piece] = ()
    design: Design | None = None

    def shares_mg(self) -> list[int]:
        by_pattern = len(self.pattern_masses_mg) == self.count
        weights = list(self.pattern_masses_mg) if by_pattern else [1] * self.count
        return allocate_largest_remainder(self.mass_mg, weights)


@dataclass(frozen=True)
class Weights:
    """What was weighed after the pour, in milligrams; `failed` when the whole cast goes back to the tin.

    Failed castings have investment on them, so they are kept apart from the button until they are cleaned; in books
    that were begun earlier, `failed_origin` says that they lie with it. `as_it_is` when a charge that misses its
    alloy's fineness is recorded for what it is: mixed metal without a mark.
    """

    groups: Sequence[PieceGroup] = ()
    back_mg: int = 0
    failed_mg: int = 0
    spill_mg: int = 0
    filings_mg: int = 0
    failed: bool = False
    failed_origin: str = Lot.Origin.FAILED
    as_it_is: bool = False

    def recovered(self) -> list[tuple[str, int]]:
        sorts = [
            (What.BACK, self.back_mg),
            (What.FAILED, self.failed_mg),
            (What.SPILL, self.spill_mg),
            (What.FILINGS, self.filings_mg),
        ]
        return [(what, mass) for what, mass in sorts if mass]

    @property
    def out_mg(self) -> int:
        return sum(group.mass_mg for group in self.groups) + sum(mass for _, mass in self.recovered())

    @property
    def weighings(self) -> int:
        return len(self.groups) + len(self.recovered())


_ORIGIN = {
    What.BACK: Lot.Origin.CLEAN,
    What.SPILL: Lot.Origin.SPILL,
    What.FILINGS: Lot.Origin.FILINGS,
}


def add_close(book: Book, cast: Cast, weights: Weights, portions: Portions, day: date) -> Mapping[str, Lot]:
    """Empty the crucible of a cast, whose charge these portions are; returns its reclaim by origin."""
    crucible = cast.crucible_holder
    _check_weights(weights, balance_of(crucible))
    _check_name(cast, weights, balance_of(crucible), len(portions))
    draft = book.begin(Entry.Kind.CLOSE, day, cast=cast)
    lost_mg = crucible.quantity - weights.out_mg
    if lost_mg < 0:
        _take_back_gain_of_pour(book, draft, crucible, -lost_mg, len(portions) + weights.weighings)
    targets = _piece_targets(book, draft, cast, weights, day)
    reclaimed, lots = _reclaim_targets(book, draft, cast, weights, portions)
    targets += reclaimed
    if lost_mg > 0:
        targets.append((book.outside(Holder.Place.LOST), lost_mg, What.LOSS))
    amounts = share_out(balance_of(crucible), [mass for _, mass, _ in targets])
    for (target, _, what), amount in zip(targets, amounts, strict=True):
        book.move(draft, crucible, target, amount, what)
    cast.closed_on = day
    cast.outcome = Cast.Outcome.FAILED if weights.failed else Cast.Outcome.GOOD
    return lots


def check_mark(alloy: Alloy, charge: Amount, portion_count: int) -> str:
    """Say what is wrong when a charge does not reach the fineness of the alloy it is named; "" when it does.

    Its fine metal is the least that it may hold, where that is not known.

    There is no minus tolerance (Hallmarking Act 1973, s. 1(4A) to (4D)), but a microgram a portion is left for
    rounding.
    """
    short_ug = charge.quantity * alloy.kept_fineness - charge.fine_ug
    if short_ug <= portion_count:
        return ""
    verdict = compute_mark(charge.quantity, charge.fine_ug, alloy.fineness)
    return f"This charge may not be called {alloy}. {verdict.sentence} Or name the alloy for what it is."


def _check_weights(weights: Weights, charge: Amount) -> None:
    if charge.quantity == 0:
        raise Refused("Nothing has been weighed into the crucible yet: record the charge first.", "charge")
    if weights.failed and weights.groups:
        raise Refused(
            "A cast that failed whole has no pieces: leave them out, or say that it did not fail.", "failed"
        )
    if not weights.failed and not weights.groups:
        raise Refused("Write at least one piece, or say that the whole cast failed.", "pieces")
    for group in weights.groups:
        if min(group.shares_mg()) == 0:
            raise Refused(
                f"{group.name} weighs too little for {group.count}: write what they weigh together.", "pieces"
            )


def _check_name(cast: Cast, weights: Weights, charge: Amount, portion_count: int) -> None:
    """A charge that misses the fineness of its alloy is refused, or recorded for what it is."""
    least_ug = charge.fine_ug if cast.fine_low_ug is None else cast.fine_low_ug
    wrong = check_mark(cast.alloy, Amount(charge.quantity, least_ug), portion_count)
    if wrong and least_ug < charge.fine_ug:
        wrong = f"Its fineness is not known for sure, and the least that it may be counts. {wrong}"
    if wrong and not weights.as_it_is:
        raise Refused(wrong, AS_IT_IS)
    if wrong:
        cast.meant_alloy, cast.alloy = cast.alloy, mixed_alloy(cast.alloy.metal)


def take_back_gain(book: Book, draft: Draft, holder: Holder, gain_mg: int, weighings: int) -> int | None:
    """Bring back from "lost" what was weighed out of a crucible or piece beyond what it held.

    Only as much as the scale's own uncertainty over so many weighings can explain: for more, nothing moves and
    the milligrams that it can explain are returned, for the caller's refusal.
    """
    explained_mg = compute_weighing_uncertainty(book.studio.scale_division_mg, weighings).tolerance_mg
    if gain_mg > explained_mg:
        return explained_mg
    lost = book.outside(Holder.Place.LOST)
    book.move(draft, lost, holder, rate_of(balance_of(holder), gain_mg), What.LOSS)
    return None


def _take_back_gain_of_pour(book: Book, draft: Draft, crucible: Holder, gain_mg: int, weighings: int) -> None:
    explained_mg = take_back_gain(book, draft, crucible, gain_mg, weighings)
    if explained_mg is not None:
        raise Refused(
            f"{print_mass(gain_mg)} more came out than went in, and the scale can explain {print_mass(explained_mg)}. "
            "Weigh again, or look for metal from another cast.",
            "pieces",
        )


def _piece_targets(
    book: Book, draft: Draft, cast: Cast, weights: Weights, day: date
) -> list[tuple[Holder, int, str]]:
    targets: list[tuple[Holder, int, str]] = []
    # A number that somebody may know a piece by goes to no other one.
    taken = set(
        Piece.objects.filter(cast=cast, void=False).values_list("number", flat=True) if book.again else ()
    )
    numbers = (number for number in count(1) if number not in taken)
    for group in weights.groups:
        by_pattern = len(group.pattern_masses_mg) == group.count
        for place, mass_mg in enumerate(group.shares_mg()):
            old = book.reuse(Piece, pk=group.pieces[place].pk) if place < len(group.pieces) else None
            piece = old or blank(Piece)
            if old is None:
                piece.holder, piece.number = book.new_holder(Holder.Kind.PIECE), next(numbers)
            piece.cast, piece.entry, piece.as_cast_mg = cast, draft.entry, mass_mg
            piece.name = group.name if group.count == 1 else f"{group.name} {place + 1}"
            piece.pattern_mass_mg = group.pattern_masses_mg[place] if by_pattern else None
            piece.pattern_material, piece.weighed_with = group.pattern_material, group.count
            if group.design is not None:
                piece.design = group.design
            if piece.state == Piece.State.CAST:
                piece.state_on = day
            book.make(piece)
            targets.append((piece.holder, mass_mg, What.PIECE))
    return targets


def _reclaim_targets(
    book: Book, draft: Draft, cast: Cast, weights: Weights, portions: Portions
) -> tuple[list[tuple[Holder, int, str]], dict[str, Lot]]:
    """Each kind of reclaim has a lot of its own, as it goes where the others do not."""
    lots: dict[str, Lot] = {}
    targets: list[tuple[Holder, int, str]] = []
    for what, mass_mg in weights.recovered():
        origin = weights.failed_origin if what == What.FAILED else _ORIGIN[What(what)]
        if origin not in lots:
            lots[origin] = make_reclaim_lot(book, draft, cast, origin, portions)
        targets.append((lots[origin].holder, mass_mg, what))
    return targets, lots


def make_reclaim_lot(book: Book, draft: Draft, cast: Cast, origin: str, portions: Portions) -> Lot:
    """A new lot for metal recovered from a cast: its owner's, with one melt more than what it came from, and its
    fineness as well known as that of its charge, whose portions these are."""
    lot = make_lot(book, draft, reclaim_material(cast.alloy), origin)
    lot.from_cast, lot.owner = cast, cast.owner
    lot.melts_milli = compute_blend_melts_milli(portions)
    charge_mg = sum(mass_mg for mass_mg, _ in portions)
    known = Known(charge_mg, 0, cast.fine_low_ug, cast.fine_high_ug, cast.fineness_is_guess)
    lot.fineness_by, lot.fine_low_ppm, lot.fine_high_ppm = say_of_charge(known)
    return lot
