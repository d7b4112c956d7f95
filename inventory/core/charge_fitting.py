"""Which lots to weigh how much of: kinds of metal are chosen first, then the lots within each kind.

Lots that are alike for every rule are one kind, so a tin of many small lots costs no more thought than one
large lot. Masses are milligrams; a `unit` is the step of the scale, or one milligram where steps will not do.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from math import gcd, lcm

from studio.kit.units import PCT100_WHOLE, round_half_up

from .charge import compute_charge
from .charge_search import Choice, Spans, search_amounts
from .charge_shelf import ChargeWanted, ShelfLot

Masses = dict[int, int]
"""Milligrams by the key of a lot."""

# A lot that is short of the mark by its book-keeping only counts as of the mark, and the whole charge is then
# judged as the book judges it; where that fails, only what one rounding explains is overlooked.
HAIRS_UG = (10, 1)
_HAIR_PARTS = 100_000
_SHARE = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Kind:
    """Lots that every rule looks on alike, in the order in which they are to be used up."""

    lots: tuple[ShelfLot, ...]
    per_mille: Fraction
    is_lent: bool = False

    @property
    def first(self) -> ShelfLot:
        return self.lots[0]

    def pulls(self, wanted: ChargeWanted) -> tuple[Fraction, Fraction, Fraction]:
        """What a milligram of it adds to the fine metal, fresh metal and melts that the rules ask for."""
        rules = wanted.rules
        fine = self.per_mille - rules.per_mille if rules.per_mille else Fraction(0)
        fresh = Fraction(PCT100_WHOLE * self.first.counts_fresh - rules.least_fresh_pct100)
        melts = rules.most_mean_melts_milli - self.first.melts_milli if rules.most_melts_milli else 0
        return fine, fresh, Fraction(melts)


def find_masses(lots: Sequence[ShelfLot], wanted: ChargeWanted, must_fill: bool = True) -> Masses | None:
    """The best masses of usable lots that keep every rule, or None where no masses do.

    First in whole steps of the scale and portions worth weighing; where that cannot be, in milligrams; last
    with portions of any size. Without `must_fill` the charge may be smaller than wanted, in whole steps.
    """
    for hair_ug in HAIRS_UG:
        kinds = sort_into_kinds(lots, wanted, hair_ug)
        sizes = _sizes(wanted) if must_fill else _sizes(wanted)[:1]
        masses = next(filter(None, (_fit_in(kinds, wanted, *size, must_fill) for size in sizes)), None)
        if not masses:
            return None
        portions = [lot.portion(masses[lot.key]) for lot in lots if lot.key in masses]
        if not compute_charge(portions, wanted.rules).falls_short:
            return masses
    return None


def sort_into_kinds(lots: Iterable[ShelfLot], wanted: ChargeWanted, hair_ug: int = HAIRS_UG[0]) -> list[Kind]:
    """Put lots together that are alike in fineness, freshness and owner, and in melts where these matter."""
    usable = [lot for lot in lots if lot.usable_mg > 0]
    limit = wanted.rules.most_mean_melts_milli
    melts_matter = wanted.rules.most_melts_milli and any(lot.melts_milli > limit for lot in usable)
    found: dict[tuple[object, ...], list[ShelfLot]] = {}
    for lot in usable:
        per_mille = _per_mille(lot, wanted.rules.per_mille, hair_ug)
        is_lent = lot.owner != wanted.owner
        melts = lot.melts_milli if melts_matter else 0
        key = (lot.counts_fresh, lot.is_alloying, is_lent, per_mille, melts)
        found.setdefault(key, []).append(lot)
    return [
        Kind(
            tuple(sorted(members, key=_turn)),
            _per_mille(members[0], wanted.rules.per_mille, hair_ug),
            members[0].owner != wanted.owner,
        )
        for members in found.values()
    ]


def _per_mille(lot: ShelfLot, mark: int, hair_ug: int) -> Fraction:
    """Its fineness, or the mark where it is short of it by a hair."""
    wanted_ug = mark * lot.held.quantity
    short_ug = wanted_ug - lot.held.fine_ug
    is_hair = 0 < short_ug <= max(1, min(hair_ug, wanted_ug // _HAIR_PARTS))
    return Fraction(mark) if is_hair else Fraction(lot.held.fine_ug, lot.held.quantity)


def _turn(lot: ShelfLot) -> tuple[int, int, Fraction, int]:
    """Melted most, then oldest, then cheapest, so that old reclaim is used up."""
    rate = Fraction(lot.held.cost_micro, lot.held.quantity)
    return -lot.melts_milli, lot.day.toordinal(), rate, lot.key


def _sizes(wanted: ChargeWanted) -> list[tuple[int, int]]:
    """(unit, smallest portion) to try in turn."""
    step, smallest = max(1, wanted.step_mg), max(1, wanted.smallest_mg)
    return list(dict.fromkeys([(step, smallest), (1, smallest), (1, 1)]))


def _fit_in(
    kinds: Sequence[Kind], wanted: ChargeWanted, unit: int, smallest_mg: int, must_fill: bool = True
) -> Masses | None:
    units, odd_mg = divmod(wanted.needed_mg, unit)
    least = -(-smallest_mg // unit)
    kinds = [kind for kind in kinds if any(lot.usable_mg // unit >= least for lot in kind.lots)]
    amounts = search_amounts(make_choices(kinds, wanted, unit, smallest_mg), units, must_fill)
    if not amounts:
        return None
    masses = {
        key: amount * unit
        for kind, of_kind in zip(kinds, amounts, strict=True)
        for key, amount in _share_over_lots(kind, of_kind, unit, least).items()
    }
    return _add_odd(kinds, masses, wanted, odd_mg) if odd_mg and must_fill else masses


def make_choices(kinds: Sequence[Kind], wanted: ChargeWanted, unit: int, smallest_mg: int) -> list[Choice]:
    """The kinds as choices of a program, with the aims in the order that `propose_charge` states."""
    least = -(-smallest_mg // unit)
    pulls = zip(*_whole_rows([kind.pulls(wanted) for kind in kinds]), strict=True) if kinds else ()
    choices = []
    for place, (kind, of_kind) in enumerate(zip(kinds, pulls, strict=True)):
        lot = kind.first
        rooms = [lot.usable_mg // unit for lot in kind.lots]
        rate = Fraction(lot.held.cost_micro * unit, lot.held.quantity)
        choices.append(
            Choice(
                spans=_spans(rooms, least, wanted.needed_mg // unit),
                pulls=of_kind,
                leading=(-kind.is_lent, not lot.counts_fresh, -lot.is_alloying),
                lesser=(
                    -round_half_up(kind.per_mille) if wanted.rules.per_mille else 0,
                    # Taking a large lot in part counts less than taking a small one whole: few lots.
                    -(_SHARE // max(rooms)),
                    0 if lot.counts_fresh else lot.melts_milli,
                    -lot.day.toordinal(),
                    -round_half_up(rate),
                    -place,
                ),
            )
        )
    return choices


def _whole_rows(pulls: Sequence[tuple[Fraction, ...]]) -> Iterator[list[int]]:
    """The rules as rows of whole numbers. The scale of a rule is free, because each asks for 0 or more."""
    for row in zip(*pulls, strict=True):
        scale = lcm(*(pull.denominator for pull in row))
        whole = [int(pull * scale) for pull in row]
        common = gcd(*whole) or 1
        yield [pull // common for pull in whole]


def _spans(rooms: Sequence[int], least: int, total: int) -> Spans:
    """What can be taken of a kind: with so many lots from so many least portions to all that they hold."""
    fitting = sorted((room for room in rooms if room >= least), reverse=True)
    spans = [(0, 0)]
    for count, most in enumerate(accumulate(fitting), start=1):
        first = count * least
        if first > total:
            break
        if first <= spans[-1][1] + 1:
            spans[-1] = (spans[-1][0], min(most, total))
        else:
            spans.append((first, min(most, total)))
    return tuple(spans)


def _share_over_lots(kind: Kind, amount: int, unit: int, least: int) -> dict[int, int]:
    """Share an amount over the fewest lots that can give it, first those that are first in turn."""
    rooms = {lot.key: lot.usable_mg // unit for lot in kind.lots}
    rooms = {key: room for key, room in rooms.items() if room >= least}
    held = accumulate(sorted(rooms.values(), reverse=True))
    count = next((count for count, most in enumerate(held, start=1) if most >= amount), 0) if amount else 0
    chosen: list[int] = []
    waiting = list(rooms)
    while len(chosen) < count:
        key = waiting.pop(0)
        others = sorted((rooms[other] for other in waiting), reverse=True)[: count - len(chosen) - 1]
        if sum(rooms[one] for one in (*chosen, key)) + sum(others) >= amount:
            chosen.append(key)
    shares = {}
    for place, key in enumerate(chosen, start=1):
        # Each lot after this one must still give a portion worth weighing.
        shares[key] = min(rooms[key], amount - least * (count - place))
        amount -= shares[key]
    return shares


def _add_odd(kinds: Sequence[Kind], masses: Masses, wanted: ChargeWanted, odd_mg: int) -> Masses | None:
    """Put the milligrams that no step can show on one portion, so that the total is met; None if none can."""
    in_turn = sorted(
        (-(lot.usable_mg == masses[lot.key] + odd_mg), not lot.counts_fresh, -kind.per_mille, lot.key)
        for kind in kinds
        for lot in kind.lots
        if lot.key in masses and lot.usable_mg >= masses[lot.key] + odd_mg
    )
    for *_, key in in_turn:
        tried = {**masses, key: masses[key] + odd_mg}
        if keeps_rules(kinds, tried, wanted):
            return tried
    return None


def keeps_rules(kinds: Iterable[Kind], masses: Mapping[int, int], wanted: ChargeWanted) -> bool:
    """Whether masses keep the rules for fine metal, fresh metal and melts, exactly."""
    sums: list[Fraction] = [Fraction(0)] * 3
    for kind in kinds:
        mass_mg = sum(masses.get(lot.key, 0) for lot in kind.lots)
        sums = [total + mass_mg * pull for total, pull in zip(sums, kind.pulls(wanted), strict=True)]
    return min(sums) >= 0
