"""Reads for the page of one cast: everything that was recorded on it, in a fixed handful of queries."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from django.db.models import Count, Q, Sum

from inventory.core.alloying import Portion
from inventory.core.casting import Grams, find_next_step
from inventory.core.charge import ChargeSums, compute_charge
from inventory.core.fineness import Known, know, print_ppm
from inventory.core.metal import ITS_OWN_PAGE, PatternPart, compute_metal_needed
from inventory.core.weighing import CrucibleBalance, compute_balance, compute_weighing_uncertainty
from inventory.models import BenchTime, Cast, Entry, Lot, Movement, Piece, Studio, TreePart
from studio.kit.models import in_order
from studio.kit.printing import print_fineness
from studio.kit.scale import round_weights
from studio.kit.working import Working

from .cast_metal import CastMetal, follow_metal, metal_of_lines
from .casting import done_steps
from .equipment import TOOLS
from .ledger import STANDING, name_lot
from .plain import row_of
from .studio import charge_rules

Kind = Entry.Kind


def find_cast(number: int) -> Cast | None:
    also = (*TOOLS, "alloy", "owner", "firing__kiln", "crucible_holder", "plan")
    return row_of(Cast, number, also, "number")


@dataclass(frozen=True)
class CastPage:
    """One cast with all that stands recorded on it. `movements` are the lines of standing entries."""

    cast: Cast
    studio: Studio
    entries: Sequence[Entry]
    movements: Sequence[Movement]
    tree: Sequence[TreePart]
    pieces: Sequence[Piece]
    times: Sequence[BenchTime]
    reclaim: Sequence[Lot]

    def lines(self, *kinds: str) -> list[Movement]:
        return [line for line in self.movements if line.entry.kind in kinds]

    def standing(self, *kinds: str) -> list[Entry]:
        """Entries of these kinds that count, oldest first."""
        return [entry for entry in self.entries if entry.kind in kinds and not is_turned_back(entry)][::-1]

    @cached_property
    def powder(self) -> list[Movement]:
        return self.lines(Kind.POWDER)

    @cached_property
    def charge(self) -> list[Movement]:
        return [line for line in self.lines(Kind.CHARGE) if line.target_id == self.cast.crucible_holder_id]

    @cached_property
    def uses(self) -> list[Movement]:
        """Things taken from stock for the cast or for a piece of it."""
        return self.lines(Kind.USE)

    @cached_property
    def done(self) -> set[str]:
        return done_steps(self.cast, bool(self.tree), bool(self.powder), bool(self.charge))

    @property
    def is_unpoured(self) -> bool:
        return self.cast.outcome == Cast.Outcome.UNPOURED

    @property
    def next_step(self) -> str:
        return "" if self.cast.is_closed else find_next_step(self.done)

    @property
    def charge_mg(self) -> int:
        return sum(line.quantity for line in self.charge)

    @property
    def powder_mg(self) -> int:
        return sum(line.quantity for line in self.powder)

    @property
    def pieces_shown(self) -> list[tuple[Piece, int, int]]:
        """Each piece with its milligrams as cast and now, as the scale shows them: they add up to what is shown."""
        as_cast = round_weights([piece.as_cast_mg for piece in self.pieces])
        now = round_weights([piece.holder.quantity for piece in self.pieces])
        return list(zip(self.pieces, as_cast, now, strict=True))

    @property
    def pieces_now_mg(self) -> int:
        return sum(piece.holder.quantity for piece in self.pieces)

    @property
    def unfinished(self) -> int:
        return sum(piece.state == Piece.State.CAST for piece in self.pieces)

    @property
    def bench_minutes(self) -> int:
        return sum(time.minutes for time in self.times)

    @cached_property
    def metal(self) -> CastMetal:
        return metal_of_lines(self.movements)

    @cached_property
    def grams_at_close(self) -> Grams:
        return self.metal.grams_at_close

    @cached_property
    def grams(self) -> Grams:
        return self.metal.grams

    @property
    def has_changed_since(self) -> bool:
        return self.cast.is_closed and self.grams != self.grams_at_close

    @property
    def found_mg(self) -> int:
        return sum(line.quantity for line in self.lines(Kind.FOUND))

    @cached_property
    def portions(self) -> list[Portion]:
        return [portion_of(line, self.cast.alloy.metal) for line in self.charge]

    @cached_property
    def sums(self) -> ChargeSums | None:
        if not self.portions:
            return None
        return compute_charge(self.portions, charge_rules(self.cast.alloy.kept_fineness, self.studio))

    @property
    def assayed_since(self) -> str:
        """What its charge is known to be by an assay of its metal after it was weighed in; "" without one."""
        cast = self.cast
        if cast.fine_low_ug is None or cast.fineness_is_guess:
            return ""
        return f"Assayed since: its charge is of {print_fineness(cast.fine_low_ug, self.charge_mg)} of 1000."

    @property
    def guessed(self) -> str:
        """What its charge may hold while that rests on a guess, "" where it does not; its lots are `guessed_lots`."""
        cast = self.cast
        if not cast.fineness_is_guess or not cast.alloy.fineness or not self.charge:
            return ""
        known = Known(self.charge_mg, 0, cast.fine_low_ug, cast.fine_high_ug)
        low_ppm, high_ppm = known.ends_ppm
        if low_ppm is None or high_ppm is None:
            return "Its fineness is as good as what was written down: nobody has proved some of its metal."
        return (
            f"Its fineness is a guess: somewhere from {print_ppm(low_ppm)} to {print_ppm(high_ppm)} of 1000."
        )

    @property
    def guessed_lots(self) -> list[Lot]:
        """The lots of its charge that an assay would prove, each once."""
        lots = {line.source.lot.pk: line.source.lot for line in self.charge}
        return [lot for lot in lots.values() if lot.fineness_is_guess and lot.material.fineness]

    @cached_property
    def balance(self) -> CrucibleBalance | None:
        """The balance as it was at the closing, judged against the scale."""
        if not self.cast.is_closed:
            return None
        grams = self.grams_at_close
        weighings = self.metal.weighings + count_weighings(piece.weighed_with for piece in self.pieces)
        uncertainty = compute_weighing_uncertainty(self.studio.scale_division_mg, weighings)
        return compute_balance(grams.charge_mg, grams.pieces_mg, grams.back_mg, grams.filings_mg, uncertainty)

    @cached_property
    def metal_needed(self) -> tuple[int, Working] | None:
        """Milligrams of metal that fill the space of the tree; None where a pattern's density is not known."""
        parts = [pattern_part(part) for part in self.tree]
        if not parts or None in parts:
            return None
        alloy = self.cast.alloy
        origin = alloy.density_note or ITS_OWN_PAGE
        return compute_metal_needed(
            [part for part in parts if part], alloy.density_mg_cm3, metal_origin=origin
        )


def read_cast_page(cast: Cast, studio: Studio) -> CastPage:
    entries = cast.entries.select_related("reversed_by", "reverses", "recorded_by", "piece")
    movements = follow_metal(STANDING, entry__cast=cast).select_related(
        "entry__piece", "source__lot__material__alloy", "source__lot__from_cast", "target__lot"
    )
    reclaim = cast.lots_recovered.filter(void=False).select_related("holder", "material", "owner")
    return CastPage(
        cast=cast,
        studio=studio,
        entries=in_order(entries, "day", "pk", newest_first=True),
        movements=in_order(movements, "entry_id", "line"),
        tree=in_order(cast.tree_parts.filter(void=False).select_related("material", "lot", "entry"), "pk"),
        pieces=in_order(cast.pieces.filter(void=False).select_related("holder"), "number"),
        times=in_order(cast.bench_times.select_related("piece").annotate(tray=Count("shares")), "day", "pk"),
        reclaim=in_order(reclaim, "pk"),
    )


@dataclass(frozen=True)
class PowderBefore:
    """What another cast took in the same flask."""

    cast: Cast
    powder_mg: int


def powder_before(cast: Cast) -> PowderBefore | None:
    """The powder of the latest other cast in the same flask; None when there is none, or no flask is named."""
    if cast.flask_id is None:
        return None
    standing = Q(entries__kind=Kind.POWDER, entries__reverses__isnull=True, entries__reversed_by__isnull=True)
    latest = (
        Cast.objects.filter(flask=cast.flask_id)
        .exclude(pk=cast.pk)
        .annotate(powder_mg=Sum("entries__movements__quantity", filter=standing))
        .filter(powder_mg__isnull=False)
        .order_by("-number")
        .first()
    )
    return PowderBefore(latest, latest.powder_mg) if latest else None


def is_turned_back(entry: Entry) -> bool:
    """Whether an entry read with its reversal is reversed, or is a reversal itself."""
    return entry.reverses_id is not None or getattr(entry, "reversed_by", None) is not None


def portion_of(line: Movement, metal: str) -> Portion:
    """A portion weighed into the crucible. Fine metal other than the cast's own does not count in it."""
    lot = line.source.lot
    alloy = lot.material.alloy
    fine_ug = line.fine_ug if alloy is not None and alloy.metal == metal else 0
    known = know(line.quantity, fine_ug, lot.fineness_is_guess, lot.fine_low_ppm, lot.fine_high_ppm)
    return portion_known(lot, known)


def portion_known(lot: Lot, known: Known) -> Portion:
    """So much of a lot, with what is known of its fineness; nothing of its fine metal where that does not count."""
    known = known if known.fine_ug else known.without_fine
    return Portion(
        name_lot(lot),
        known.mass_mg,
        known.fine_ug,
        lot.melts_milli,
        lot.is_fresh,
        is_guess=known.is_guess,
        low_ug=known.low_ug,
    )


def pattern_part(part: TreePart) -> PatternPart | None:
    """What a part of a tree leaves as space; None where neither volume nor density tells."""
    material = part.material
    if material.unit == material.Unit.VOLUME:
        return PatternPart(str(material), volume_ul=part.quantity)
    if material.unit == material.Unit.MASS and material.density_mg_cm3:
        return PatternPart(str(material), part.quantity, material.density_mg_cm3, origin="the tree")
    return None


def count_weighings(weighed_with: Iterable[int]) -> int:
    """How often the scale was read for pieces in their order, by how many each was weighed with: castings
    weighed together count once."""
    readings, together = 0, 0
    for count in weighed_with:
        if not together:
            readings, together = readings + 1, count
        together -= 1
    return readings
