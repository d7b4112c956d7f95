"""What is asked for pieces here, for designs and in quotes: what the rules say now, and what fell under its floor."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from django.urls import reverse

from costing.core.channel import solve_price
from costing.core.others import compute_piece_work
from costing.core.pricing import ChannelPrice, Floor
from costing.models import QuoteLine
from costing.queries.asked import (
    castings_kept,
    designs_asked,
    designs_to_price,
    newest_asked,
    newest_asked_of_designs,
    offered_by_designs,
    pieces_of_customers,
    pieces_to_sell,
)
from costing.queries.costed import cost_casts
from costing.queries.designs import CostedDesign, cost_designs, find_designs
from costing.queries.policy import all_policies
from costing.queries.pricing import PriceBook, casting_terms, core_terms, read_price_book
from costing.queries.quotes import lines_offered
from inventory.models import Alloy, Design, Piece

from .piece_price import PiecePrices

Thing = Piece | Design | QuoteLine
_LETTERS: Mapping[type, str] = {Piece: "", Design: "d", QuoteLine: "q"}
KEY = re.compile(r"([dq]?)([0-9]{1,18})")
"""How a row is named in a form: "12" a piece, "d3" a design, "q7" a line of a quote."""


@dataclass(frozen=True)
class AskRow:
    """A piece, a design or a line of a quote with its prices. `channel` is the key of the channel it is sold through.

    `design_micro` is what is asked for the design of a piece.
    """

    thing: Thing
    prices: PiecePrices | CostedDesign
    asked_micro: int | None
    channel: int | None = None
    design_micro: int | None = None

    @property
    def key(self) -> str:
        return f"{_LETTERS[type(self.thing)]}{self.thing.pk}"

    @property
    def name(self) -> str:
        return str(self.thing.design if isinstance(self.thing, QuoteLine) else self.thing.name)

    @property
    def way_on(self) -> tuple[str, str]:
        """The address of where it is costed or offered, and what that is called."""
        thing = self.thing
        if isinstance(thing, Piece):
            return reverse("costing:piece-cost", args=[thing.pk]), f"cast {thing.cast.number}"
        if isinstance(thing, Design):
            return reverse("costing:design-cost", args=[thing.pk]), "design"
        return reverse("costing:quote-detail", args=[thing.quote_id]), str(thing.quote)

    @property
    def book(self) -> PriceBook:
        return self.prices.book

    @property
    def alloy(self) -> Alloy:
        return self.prices.alloy

    @property
    def usual(self) -> ChannelPrice:
        return (
            self.prices.usual if isinstance(self.prices, PiecePrices) else self.prices.price_in(self.channel)
        )

    @cached_property
    def floor(self) -> Floor | None:
        """Without the price of metal at which it is reached, which takes longer; None while nothing is asked."""
        if isinstance(self.prices, PiecePrices):
            return self.prices.find_floor(seeks_metal=False)
        if self.asked_micro is None:
            return None
        return self.prices.find_floor(self.asked_micro, self.usual.way, seeks_metal=False)

    @property
    def is_under(self) -> bool:
        return self.floor is not None and self.floor.is_under

    @property
    def is_of_today(self) -> bool:
        """Whether what its metal costs to buy again is known."""
        return self.prices.parts.today_micro is not None

    @property
    def cost_micro(self) -> int:
        """With metal of today; where nobody knows what that costs, as it stands in the table of its cast."""
        if self.is_of_today or not isinstance(self.prices, PiecePrices):
            return self.prices.parts.cost_today_micro
        return self.prices.printed_micro

    @property
    def old_words(self) -> str:
        return self.book.say_old(self.prices.price, self.alloy)

    @cached_property
    def suggested_micro(self) -> int | None:
        """What the rules say now, and never less than the floor; None where they say nothing."""
        usual = self.usual
        if usual.kept is None:
            return None
        floor, rule = self.floor, usual.way.rule
        if floor is None or floor.wanted.problem or usual.kept.left_micro >= floor.wanted.micro:
            return usual.kept.told_micro
        least = solve_price(floor.wanted.micro, usual.way.fees, rule.step_micro).kept
        return least.told_micro if least else None

    @property
    def offered_micro(self) -> int | None:
        """What stands in its field at first: of a piece that nothing is asked for yet, the price of its design."""
        if self.asked_micro is None and self.design_micro is not None:
            return self.design_micro
        return self.suggested_micro


def read_rows(pieces: Sequence[Piece]) -> list[AskRow]:
    """These pieces with their prices, in their order. The number of queries does not depend on how many there are."""
    policies = all_policies()
    book = read_price_book({piece.cast.alloy for piece in pieces}, policies=policies)
    asked = newest_asked([piece.pk for piece in pieces])
    by_design = offered_by_designs(pieces)
    costed = cost_casts({piece.cast_id for piece in pieces}, policies)
    rows = []
    for piece in pieces:
        cast, now = costed.get(piece.cast_id), asked.get(piece.pk)
        if cast is not None:
            prices = PiecePrices(cast, cast.place_of(piece.pk), book, now)
            told_micro = now.price_micro if now else None
            rows.append(AskRow(piece, prices, told_micro, design_micro=by_design.get(piece.pk)))
    return rows


def read_offers(designs: Sequence[Design], lines: Sequence[QuoteLine] = ()) -> list[AskRow]:
    """These designs and lines of quotes with their prices, without those that nobody can cost.

    Designs come with all that their cost is made of. The number of queries does not depend on how many there are.
    """
    if not designs and not lines:
        return []
    known = find_designs({line.design_id for line in lines}) if lines else {}
    asked = newest_asked_of_designs([design.pk for design in designs])
    things: list[Design | QuoteLine] = [*designs, *lines]
    wanted = [(design, design.alloy) for design in designs]
    costed = cost_designs([*wanted, *((known[line.design_id], line.quote.alloy) for line in lines)])
    rows = []
    for thing, one in zip(things, costed, strict=True):
        if one is None:
            continue
        if isinstance(thing, Design):
            now = asked.get(thing.pk)
            rows.append(AskRow(thing, one, now.price_micro if now else None))
        else:
            thing.design = known[thing.design_id]
            rows.append(AskRow(thing, one, thing.price_micro, thing.quote.channel_id))
    return rows


def read_theirs(unit_micro: int, most: int) -> list[tuple[Piece, int | None]]:
    """Pieces of customers' own metal with what casting each costs them, None without terms. Three queries at most."""
    pieces = list(pieces_of_customers()[:most])
    terms = casting_terms().first() if pieces else None
    if terms is None:
        return [(piece, None) for piece in pieces]
    castings = castings_kept({piece.cast_id for piece in pieces})
    found: list[tuple[Piece, int | None]] = []
    for piece in pieces:
        masses = castings[piece.cast_id]
        place = list(masses).index(piece.pk)
        found.append(
            (piece, compute_piece_work(list(masses.values()), place, core_terms(terms), unit_micro)[0])
        )
    return found


def rows_under() -> list[AskRow]:
    """All that is asked or offered under its floor at today's metal: pieces, newest cast first, designs, quotes."""
    pieces = list(pieces_to_sell().filter(asked_prices__isnull=False).distinct())
    offers = read_offers(list(designs_asked()), list(lines_offered()))
    return [row for row in [*read_rows(pieces), *offers] if row.is_under]


def rows_of(keys: Iterable[str]) -> list[AskRow]:
    """The rows of those among these keys that can still be asked for."""
    found: dict[str, list[int]] = {"": [], "d": [], "q": []}
    for key in keys:
        if match := KEY.fullmatch(key):
            found[match[1]].append(int(match[2]))
    rows = read_rows(list(pieces_to_sell().filter(pk__in=found[""]))) if found[""] else []
    designs = list(designs_to_price().filter(pk__in=found["d"])) if found["d"] else []
    lines = list(lines_offered().filter(pk__in=found["q"])) if found["q"] else []
    return rows + read_offers(designs, lines)
