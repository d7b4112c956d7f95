"""Reads of pieces: the list, and everything that happened to one."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from django.db.models import Count, Q, QuerySet

from inventory.core.findings import FindingMetal, add_fine
from inventory.core.fineness import Known
from inventory.core.ledger import Amount, total_of
from inventory.core.pieces import PieceMetal, explain_piece_metal, tell_mark
from inventory.models import BenchShare, BenchTime, Cast, Entry, Holder, Movement, Piece
from studio.kit.models import in_order, only_one
from studio.kit.units import SECONDS_PER_MINUTE

from .cast_metal import CHARGE, INTO, CastMetal, follow_metal, metal_of_lines
from .casting_page import is_turned_back
from .findings import metal_of
from .ledger import STANDING, TURN_OF_ITS_ENTRY, standing_entries, turn_of

HERE = (Piece.State.CAST, Piece.State.FINISHED)
#: Which of some pieces somebody else has just now, by key: who, and since when. Another app that lends them tells.
Lent = Callable[[Collection[int]], Mapping[int, tuple[str, date]]]
LENT: list[Lent] = []


def register_lent(find: Lent) -> Lent:
    """Tell of pieces that are the studio's and not in its hands; it is asked with their keys."""
    LENT.append(find)
    return find


def standing_pieces() -> QuerySet[Piece]:
    """Pieces that were not taken back, newest cast first."""
    return Piece.objects.filter(void=False).select_related("cast__alloy", "cast__owner", "holder")


def find_piece(pk: int) -> Piece | None:
    return only_one(standing_pieces().select_related("entry", "pattern_material", "design").filter(pk=pk))


def left_with(piece: Piece) -> Amount:
    """What a piece held when it left for good the last time."""
    lines = Movement.objects.filter(STANDING, source=piece.holder_id, entry__kind=Entry.Kind.SALE)
    last = lines.annotate(place=TURN_OF_ITS_ENTRY).order_by("-place", "-entry_id").first()
    return Amount() if last is None else Amount(last.quantity, last.fine_ug, last.cost_micro)


def state_when_here(piece: Piece) -> str:
    """As cast, or finished: what a piece that is here is, by what was done to it."""
    moved = Movement.objects.filter(
        Q(source=piece.holder_id) | Q(target=piece.holder_id), entry__kind=Entry.Kind.FINISH
    )
    finished = (
        piece.finished_whole_on is not None
        or standing_entries().filter(pk__in=moved.values("entry")).exists()
    )
    return Piece.State.FINISHED if finished else Piece.State.CAST


def find_of_cast(cast: int | None, number: int | None) -> Piece | None:
    """The piece with this number in a cast; the first where no number is given, of the latest cast that has one."""
    which = {"cast__number": cast, "number": number}
    named = {name: value for name, value in which.items() if value is not None}
    return standing_pieces().filter(**named).order_by("-cast__number", "number").first()


@dataclass(frozen=True)
class PiecePage:
    """One piece with what stands recorded on it; `movements` are the lines of standing entries."""

    piece: Piece
    entries: Sequence[Entry]
    movements: Sequence[Movement]
    times: Sequence[BenchTime]
    shares: Sequence[BenchShare]
    charge: Amount

    def lines(self, *kinds: str) -> list[Movement]:
        return [line for line in self.movements if line.entry.kind in kinds]

    @property
    def is_here(self) -> bool:
        return self.piece.state in HERE

    @property
    def has_left(self) -> bool:
        return self.piece.state in (Piece.State.SOLD, Piece.State.HANDED)

    @property
    def uses(self) -> list[Movement]:
        return self.lines(Entry.Kind.USE)

    @cached_property
    def finishing(self) -> CastMetal:
        return metal_of_lines(self.lines(Entry.Kind.FINISH))

    @property
    def filings_mg(self) -> int:
        return self.finishing.grams.filings_mg

    @property
    def lost_mg(self) -> int:
        """Lost in finishing; below zero when it came out a hair heavier."""
        return self.finishing.grams.lost_mg

    @property
    def last_mg(self) -> int:
        """What it weighs, or weighed when it left."""
        return self.piece.as_cast_mg - self.filings_mg - self.lost_mg

    @property
    def bench_seconds(self) -> int:
        """On the piece by itself, and its shares of trays."""
        own = sum(time.minutes for time in self.times) * SECONDS_PER_MINUTE
        return own + sum(share.seconds for share in self.shares)

    @property
    def metal(self) -> PieceMetal | None:
        """What its metal cost, and how that came about; None for a customer's own metal."""
        if self.piece.cast.owner_id is not None:
            return None
        made = self.lines(Entry.Kind.CLOSE)
        as_cast_micro = sum(line.cost_micro for line in made)
        gone_micro = sum(
            -line.cost_micro if line.target_id == self.piece.holder_id else line.cost_micro
            for line in self.lines(Entry.Kind.FINISH)
        )
        return explain_piece_metal(
            charge_mg=self.charge.quantity,
            charge_micro=self.charge.cost_micro,
            as_cast_mg=self.piece.as_cast_mg,
            as_cast_micro=as_cast_micro,
            now_mg=self.last_mg,
            now_micro=as_cast_micro - gone_micro,
        )

    @property
    def last_deed(self) -> Entry | None:
        """What was done last to the piece itself: finished, sold, back, melted, handed over."""
        deeds = (Entry.Kind.FINISH, Entry.Kind.SALE, Entry.Kind.RETURN, Entry.Kind.MELT_BACK)
        done = [entry for entry in self.entries if entry.kind in deeds and not is_turned_back(entry)]
        return max(done, key=turn_of, default=None)

    @property
    def mark(self) -> str:
        """Which mark it may carry, as guidance; "" for metal that has none."""
        cast = self.piece.cast
        known = known_charge(cast, self.charge)
        return tell_mark(cast.alloy.metal, known, self.whole_mg, self.findings)

    @cached_property
    def findings(self) -> list[FindingMetal]:
        """The precious metal that was put on it."""
        found = (metal_of(line.source.lot.material, line.quantity) for line in self.uses)
        return [one for one in found if one is not None]

    @property
    def findings_mg(self) -> int:
        return sum(one.mass_mg for one in self.findings)

    @property
    def whole_mg(self) -> int:
        """With its findings of metal; stones and the like are not weighed."""
        return self.last_mg + self.findings_mg

    @property
    def whole_fine_ug(self) -> int:
        """Its fine metal with that of its findings: its own by the fineness of its charge."""
        charge = self.charge
        own_ug = charge.fine_ug * self.last_mg // charge.quantity if charge.quantity else 0
        return add_fine(own_ug, self.piece.cast.alloy.metal, self.findings)


def known_charge(cast: Cast, charge: Amount) -> Known:
    """What is known of the fineness of all that a cast was charged with."""
    return Known(charge.quantity, charge.fine_ug, cast.fine_low_ug, cast.fine_high_ug, cast.fineness_is_guess)


def read_piece_page(piece: Piece) -> PiecePage:
    moved = Movement.objects.filter(Q(source=piece.holder_id) | Q(target=piece.holder_id))
    # Finished together with others, its entry is theirs too.
    of_it = Entry.objects.filter(Q(piece=piece) | Q(pk__in=moved.values("entry")))
    entries = in_order(
        of_it.select_related("reversed_by", "reverses", "recorded_by"), "day", "pk", newest_first=True
    )
    standing = [entry.pk for entry in entries if not is_turned_back(entry)]
    movements = follow_metal(
        Q(source=piece.holder_id) | Q(target=piece.holder_id) | Q(entry__kind=Entry.Kind.USE),
        entry__in=standing,
    ).select_related("entry", "source__lot__material__finding_alloy", "target__lot__material")
    charged = Movement.objects.filter(STANDING, INTO[CHARGE], entry__cast=piece.cast)
    return PiecePage(
        piece=piece,
        entries=entries,
        movements=in_order(movements, "entry_id", "line"),
        times=list(piece.bench_times.order_by("day", "id")),
        shares=list(piece.bench_shares.select_related("time").order_by("time__day", "time_id")),
        charge=total_of(Amount(*row) for row in charged.values_list("quantity", "fine_ug", "cost_micro")),
    )


def unfinished_pieces(cast: Cast, most: int = 60) -> list[Piece]:
    """The first pieces of a cast that are as cast."""
    here = cast.pieces.filter(void=False, state=Piece.State.CAST).select_related("holder", "cast")
    return list(here.order_by("number")[:most])


def casts_with_unfinished_pieces(most: int = 8) -> list[Cast]:
    """Closed casts that have pieces as cast, the oldest first, with their number as `unfinished`."""
    # What is as cast still holds its metal: it is found among what is here, not among all pieces that ever were.
    here = Q(pieces__holder__kind=Holder.Kind.PIECE, pieces__holder__quantity__gt=0)
    rows = (
        Cast.objects.filter(here, closed_on__isnull=False, pieces__void=False, pieces__state=Piece.State.CAST)
        .annotate(unfinished=Count("pieces"))
        .order_by("day", "number")
    )
    return list(rows[:most])
