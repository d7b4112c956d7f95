"""What designs cost and are worth before they are cast, by what they have learnt and what casts used lately.

The number of queries does not depend on how many designs are asked for.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import Any

from django.db.models import Sum
from django.utils import timezone

from costing.core import inputs
from costing.core.channel import compute_kept
from costing.core.design_cost import DesignCost, Lately, Making, compute_design_cost
from costing.core.metal_price import AlloyPrice
from costing.core.pricing import ChannelPrice, Floor, PricedBy, find_floor, price_through
from costing.core.wanted import CostParts
from costing.models import AskedPrice, Policy
from inventory.models import Alloy, Cast, Design, Lot, Studio
from inventory.queries.casting import PAST_CASTS
from inventory.queries.designs import Learnt, designs_costed, learn, read_record
from inventory.queries.shelf import lots_here
from studio.kit.units import MG_PER_KG, round_half_up
from studio.kit.working import Working

from .costed import CostedCast, cost_casts
from .findings import NO_FINDINGS, find_in_part, moving_micro, price_on_shelf
from .policy import all_policies, policy_input, policy_on
from .pricing import METAL_LINES, TIME_LINES, PriceBook, read_price_book

_NOT_SHARED = {
    *(*METAL_LINES, *TIME_LINES, inputs.OVERHEAD),
    *(inputs.PATTERN, inputs.WRITE_DOWN, inputs.OTHER_STOCK, inputs.OUTSIDE),
}


@dataclass(frozen=True)
class CostedDesign:
    """A design in an alloy: what it has learnt, what one piece costs, and what it may be sold for.

    `notes` say what is not known.
    """

    alloy: Alloy
    learnt: Learnt
    cost: DesignCost
    book: PriceBook
    notes: tuple[str, ...]
    asked: AskedPrice | None = None

    @property
    def design(self) -> Design:
        return self.learnt.design

    @property
    def parts(self) -> CostParts:
        return self.cost.parts

    @property
    def failed_pct100(self) -> int:
        """What of it fails: its own share blended with the studio's, or the studio's where it has no pieces."""
        return self.learnt.failed.value if self.learnt.failed.is_known else self.book.failures.failed_pct100

    @cached_property
    def channels(self) -> list[ChannelPrice]:
        asked_micro = self.asked.price_micro if self.asked else None
        return [
            price_through(self.cost.parts, way, self.failed_pct100, asked_micro) for way in self.book.ways
        ]

    @property
    def price(self) -> AlloyPrice | None:
        """What its metal costs to buy again."""
        return self.book.metals.get(self.alloy.pk)

    def find_floor(self, told_micro: int, way: PricedBy, seeks_metal: bool = True) -> Floor:
        """Whether a price through a channel leaves what the floor wants of one piece."""
        metal = (self.cost.making.again_mg, self.price)
        kept = compute_kept(told_micro, way.fees)
        return find_floor(self.cost.parts, *metal, kept, self.book.floor, self.failed_pct100, seeks_metal)

    @cached_property
    def floor(self) -> Floor | None:
        """Of what is asked for it; None while nothing is."""
        return None if self.asked is None else self.find_floor(self.asked.price_micro, self.book.usual)

    @property
    def usual(self) -> ChannelPrice:
        return self.channels[0]

    def price_in(self, channel: int | None) -> ChannelPrice:
        """Through the channel with this key; the usual one where there is none of it."""
        return next((one for one in self.channels if one.way.key == channel and channel), self.usual)

    @property
    def workings(self) -> list[Working]:
        made = [self.cost.working, *(one.working for one in self.learnt.blends if one.working is not None)]
        return [*made, self.floor.working] if self.floor and not self.floor.wanted.problem else made


def cost_designs(
    wanted: Sequence[tuple[Design, Alloy | None]], studio: Studio | None = None, own_metal: bool = False
) -> list[CostedDesign | None]:
    """Each design in an alloy, in their order; None for one of which nobody knows what it weighs, or without an alloy.

    Without an alloy it is what the design is usually cast in. Designs come with parts, times, alloy and pattern. With
    a customer's own metal that costs nothing, and the cost ends where the price of casting does: with the casting.
    """
    pairs = [(design, alloy or design.alloy) for design, alloy in wanted]
    record, today = read_record(), timezone.localdate()
    policies = all_policies()
    book = read_price_book({alloy for _, alloy in pairs if alloy is not None}, studio, policies)
    lately, policy = read_lately(policies), policy_on(today, policies)
    shelf = read_shelf(pairs)
    found: list[CostedDesign | None] = []
    for design, alloy in pairs:
        learnt = learn(design, record, alloy.density_mg_cm3) if alloy is not None else None
        if alloy is None or learnt is None or not learnt.is_weighed:
            found.append(None)
            continue
        making, notes = _making_of(learnt, alloy, shelf, lately, policy, book)
        if own_metal:
            making = replace(making, **_OWN)
            notes = (*(note for note in notes if note not in (say_no_price(alloy), NO_TIME)), AS_CAST)
        cost = compute_design_cost(making, design.name)
        found.append(CostedDesign(alloy, learnt, cost, book, notes))
    return found


@dataclass(frozen=True)
class ShelfRates:
    """What a small unit of each material and of each alloy cost, of what is here, in millionths.

    `metal` is what a kilogram of the pure metal of findings cost when they came.
    """

    material: Mapping[int, Fraction]
    alloy: Mapping[int, Fraction]
    metal: Mapping[int, Fraction | None]


def read_shelf(pairs: Iterable[tuple[Design, Alloy | None]]) -> ShelfRates:
    """The studio's own lots of what these designs are made of: one query, and one for findings of precious metal."""
    materials: set[int] = set()
    alloys = {alloy.pk for _, alloy in pairs if alloy is not None}
    for design, _ in pairs:
        materials |= {part.material_id for part in design.parts.all()}
        if design.pattern_material_id:
            materials.add(design.pattern_material_id)
    own = lots_here(owner=None).filter(origin__in=(*Lot.FRESH, Lot.Origin.CLEAN)).order_by()
    rows = own.filter(material__in=materials) | own.filter(material__alloy__in=alloys)
    totals = rows.values_list("material_id", "material__alloy_id").annotate(
        held=Sum("holder__quantity"), cost=Sum("holder__cost_micro")
    )
    by_material: dict[int, Fraction] = {}
    metal: dict[int, tuple[int, int]] = {}
    for material, alloy, held, cost in totals:
        by_material[material] = Fraction(cost, held)
        if alloy:
            before = metal.get(alloy, (0, 0))
            metal[alloy] = (before[0] + held, before[1] + cost)
    parts = [part for design, _ in pairs for part in design.parts.all()]
    rates = {pk: Fraction(cost, held) for pk, (held, cost) in metal.items()}
    return ShelfRates(by_material, rates, price_on_shelf(parts))


def _making_of(
    learnt: Learnt, alloy: Alloy, shelf: ShelfRates, lately: Lately, policy: Policy, book: PriceBook
) -> tuple[Making, tuple[str, ...]]:
    design, notes = learnt.design, []
    today = book.metals.get(alloy.pk)
    rate = shelf.alloy.get(alloy.pk)
    if rate is None and today is None:
        notes.append(say_no_price(alloy))
    pattern_mg, pattern_rate = learnt.pattern_mg or 0, shelf.material.get(design.pattern_material_id or 0)
    taken, findings = [], NO_FINDINGS
    for part in design.parts.all():
        each = shelf.material.get(part.material_id)
        if each is None:
            notes.append(f"No {part.material} is here, so what it costs is not known.")
            continue
        cost_micro = round_half_up(each * part.quantity)
        taken.append((str(part.material), cost_micro))
        findings = findings.plus(find_in_part(part, alloy, cost_micro, shelf.metal.get(part.material_id)))
    if not learnt.seconds.is_known:
        notes.append(NO_TIME)
    if not lately.casts:
        notes.append("No cast is closed yet, so powder, kiln and wear cost nothing here.")
    making = Making(
        cast_mg=learnt.cast.value,
        finished_mg=learnt.finished.value if learnt.finished.is_known else learnt.cast.value,
        own_seconds=learnt.seconds.value if learnt.seconds.is_known else 0,
        pattern_micro=round_half_up(pattern_rate * pattern_mg) if pattern_rate is not None else 0,
        taken=tuple(taken),
        finding_mg=0 if today is None else findings.metal_mg,
        finding_micro=0 if today is None else moving_micro(findings, today),
        book_micro_per_kg=None if rate is None else rate * MG_PER_KG,
        today_micro_per_kg=today.micro_per_kg if today is not None else None,
        hourly_micro=policy.hourly_rate_micro,
        overhead_micro=policy.overhead_per_hour_micro,
        lately=lately,
    )
    return making, tuple(notes)


NO_TIME = "No time at the bench is written down for it: this cost pays for none of its own."
AS_CAST = "They get castings as cast: the time to finish them is neither in the price nor in the cost."
#: What is not known of a making, or costs nothing, where the metal is the customer's.
_OWN: dict[str, Any] = {
    **dict.fromkeys(("book_micro_per_kg", "today_micro_per_kg")),
    **dict.fromkeys(("finding_mg", "finding_micro", "own_seconds"), 0),
}


def say_no_price(alloy: Alloy) -> str:
    return f"No {alloy} is here and no price of it is written down, so its metal costs nothing here."


def read_lately(policies: Sequence[Policy] | None = None) -> Lately:
    """What the studio's last good casts of its own metal used together."""
    good = Cast.objects.filter(closed_on__isnull=False, outcome=Cast.Outcome.GOOD, owner=None)
    latest = good.order_by("-day", "-number").values_list("pk", flat=True)[:PAST_CASTS]
    casts = cost_casts(latest, policies)
    return add_up_lately(casts.values())


def add_up_lately(casts: Collection[CostedCast]) -> Lately:
    grams = each = lost = seconds = pieces = good_mg = 0
    for costed in casts:
        rules, cast, cost = policy_input(costed.policy), costed.inputs, costed.cost
        for line in cost.lines:
            if line.key in _NOT_SHARED:
                continue
            carried = sum(line.piece_micro)
            if line.key in inputs.DEFAULT_BASES and rules.basis_of(line.key) is not inputs.Basis.EQUALLY:
                grams += carried
            else:
                each += carried
        places = cast.good_places
        pieces += len(places)
        good_mg += sum(cast.pieces[place].mass_mg for place in places)
        lost += sum(cost.piece_lost_mg[place] for place in places)
        seconds += cast.bench_seconds
    return Lately(
        casts=len(casts),
        pieces=pieces,
        good_mg=good_mg,
        lost_mg=lost,
        by_gram_micro=grams,
        each_micro=each,
        cast_seconds=seconds,
    )


def find_designs(keys: Iterable[int]) -> dict[int, Design]:
    """Designs with all that their cost is made of, by key."""
    return designs_costed().in_bulk(list(keys))
