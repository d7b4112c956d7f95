"""What waits to be cast in an alloy, and what a tree of it may weigh and hold: what the choice of the next tree needs.

The number of queries does not depend on how many designs wait.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from fractions import Fraction

from django.db.models import F
from django.utils import timezone

from costing.core.next_cast import WEEKS
from costing.core.next_tree import MetalLimit, Waiting, compute_metal_for_patterns, expect_money
from costing.core.price import MetalAt
from costing.core.quote import count_castings
from costing.models import Quote, QuoteLine
from inventory.models import Alloy, DayPractice, Design, Equipment, Studio
from inventory.queries.casting import past_loss
from inventory.queries.designs import designs_costed
from inventory.queries.needs import room_in, usual_sprues_pct100
from inventory.queries.shelf import promised, shelf_for
from studio.kit.printing import print_day, print_length
from studio.kit.units import PCT100_WHOLE
from studio.kit.working import Working

from .asked import newest_asked_of_designs
from .designs import CostedDesign, cost_designs
from .profit import count_coming, count_gone, count_left
from .quotes import unplanned_quotes

MOST_DESIGNS = 60


@dataclass(frozen=True)
class Order:
    """So many castings of a design that an order still needs; `turn` is 0 for the order that is wanted first."""

    quote: Quote
    castings: int
    turn: int

    @property
    def words(self) -> str:
        day = f", wanted on {print_day(self.quote.wanted_on)}" if self.quote.wanted_on else ""
        return f"{self.castings} for {self.quote.name}{day}"


@dataclass(frozen=True)
class Offer:
    """A design that may go on the tree. `refused` says why it may not; then it has neither room nor money."""

    design: Design
    costed: CostedDesign | None
    orders: tuple[Order, ...]
    short: int
    room: Fraction
    money_micro: int
    refused: str = ""

    @property
    def wanted(self) -> int:
        """What the orders still need, and what the shelf is short of."""
        return sum(order.castings for order in self.orders) + self.short

    @property
    def why(self) -> str:
        said = [order.words for order in self.orders]
        if self.short:
            said.append(f"{self.short} for the shelf")
        return "; ".join(said) or "nobody waits for it"

    def waits(self, most: int) -> list[Waiting]:
        """Castings as the choice takes them, at most so many: those of each order by its turn, then the rest."""
        if self.costed is None or self.refused:
            return []
        found, left = [], most
        parts = [(order.castings, order.turn) for order in self.orders] + [(most, None)]
        for castings, turn in parts:
            count = min(castings, left)
            left -= count
            if count:
                found.append(
                    Waiting(
                        label=self.design.name,
                        most=count,
                        metal_mg=self.costed.cost.making.cast_mg,
                        room=self.room,
                        money_micro=self.money_micro,
                        turn=turn,
                    )
                )
        return found


@dataclass(frozen=True)
class Bench:
    """What a tree is made in."""

    alloy: Alloy
    flask: Equipment
    crucible: Equipment | None


@dataclass(frozen=True)
class TreeWanted:
    """All that the choice needs. `limit` is what castings may weigh, None where nothing bounds them."""

    offers: tuple[Offer, ...]
    limit: tuple[int, Working] | None


def read_tree_wanted(bench: Bench, studio: Studio, practice: DayPractice) -> TreeWanted:
    alloy = bench.alloy
    orders = _read_orders(alloy)
    ordered = {line.design_id for _, lines in orders for line in lines}
    every = designs_costed().filter(archived=False, alloy=alloy).order_by("name")[:MOST_DESIGNS]
    designs = {one.pk: one for one in every}
    designs |= designs_costed().in_bulk(list(ordered - set(designs)))
    short = _read_short(designs.values())
    asked = newest_asked_of_designs(list(designs))
    costed = cost_designs([(design, alloy) for design in designs.values()])
    known = {
        pk: replace(one, asked=asked.get(pk) if one.design.alloy_id == alloy.pk else None)
        for pk, one in zip(designs, costed, strict=True)
        if one is not None
    }
    masses = {pk: (one.cost.making.cast_mg, alloy.density_mg_cm3) for pk, one in known.items()}
    rooms = room_in(bench.flask, masses)
    offers = [
        _offer(design, known.get(pk), orders, short[pk], rooms.get(pk, Fraction(0)), bench, practice)
        for pk, design in designs.items()
    ]
    return TreeWanted(tuple(sorted(offers, key=_by_turn)), _limit(bench, studio, practice))


def _by_turn(offer: Offer) -> tuple[int, int, str]:
    first = min((order.turn for order in offer.orders), default=None)
    return (first if first is not None else 10_000, -offer.short, offer.design.name)


def _read_orders(alloy: Alloy) -> list[tuple[Quote, list[QuoteLine]]]:
    """Quotes in use that are not planned yet, the one that is wanted first first, those without a day last."""
    waiting = unplanned_quotes().filter(alloy=alloy)
    rows = waiting.order_by(F("wanted_on").asc(nulls_last=True), "pk").prefetch_related("lines")
    return [(quote, list(quote.lines.all())) for quote in rows[:MOST_DESIGNS]]


def _read_short(designs: Iterable[Design]) -> dict[int, int]:
    """By design, how many more went lately than are here or coming."""
    gone = count_gone(timezone.localdate() - timedelta(weeks=WEEKS))
    left = gone - count_left() - count_coming() if gone else Counter()
    return {one.pk: left[one.name] for one in designs}


def _offer(
    design: Design,
    costed: CostedDesign | None,
    quotes: Sequence[tuple[Quote, list[QuoteLine]]],
    short: int,
    room: Fraction,
    bench: Bench,
    practice: DayPractice,
) -> Offer:
    orders = tuple(
        Order(quote, count_castings(line.quantity, costed.failed_pct100 if costed else 0), turn)
        for turn, (quote, lines) in enumerate(quotes)
        for line in lines
        if line.design_id == design.pk
    )
    refused = _refuse(design, costed, bench.flask, practice)
    money = 0 if refused or costed is None else _expect(costed)
    return Offer(design, costed, orders, short, room, money, refused)


def _refuse(design: Design, costed: CostedDesign | None, flask: Equipment, practice: DayPractice) -> str:
    if costed is None:
        return "nobody knows what it weighs: write it down, or cast it once"
    tall = (flask.height_um or 0) - practice.top_clearance_um
    if design.height_um and design.height_um > tall:
        return (
            f"it is {print_length(design.height_um)} high, and the flask leaves {print_length(max(tall, 0))}"
        )
    if _kept(costed) is None:
        return "no price of it is known: write down a rule, or what you ask"
    return ""


def _kept(costed: CostedDesign) -> int | None:
    """What is left of its price after tax and fees, through the usual channel: what is asked, else by the rule."""
    usual = costed.usual
    kept = usual.asked or usual.kept
    return None if kept is None else kept.left_micro


def _expect(costed: CostedDesign) -> int:
    parts = costed.parts
    metal, work = parts.take_metal(MetalAt.TODAY), parts.cost_micro - parts.metal_micro
    return expect_money(_kept(costed) or 0, metal, work, costed.failed_pct100)


def _limit(bench: Bench, studio: Studio, practice: DayPractice) -> tuple[int, Working] | None:
    own = [lot for lot in shelf_for(bench.alloy, None, promised(), studio) if lot.is_same]
    past = past_loss(bench.alloy)
    lost = -(-max(past.lost_mg, 0) * PCT100_WHOLE // past.charge_mg) if past.charge_mg else 0
    return compute_metal_for_patterns(
        MetalLimit(
            crucible_mg=bench.crucible.capacity_mg if bench.crucible else None,
            shelf_mg=sum(lot.usable_mg for lot in own),
            sprues_pct100=usual_sprues_pct100(),
            button_pct100=practice.button_pct100,
            least_button_mg=practice.button_least_mg,
            lost_pct100=min(lost, PCT100_WHOLE - 1),
        )
    )
