"""What to order now and within a time ahead, the order of it that costs least, and what it stands beside."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from functools import cached_property

from inventory.core.choosing import Ahead, Choice, Line, Need, Pack, Terms
from inventory.core.choosing_search import choose_order
from inventory.core.choosing_words import (
    Compared,
    Figures,
    compare_offer,
    compute_figures,
    work_economic_order,
)
from inventory.core.needing import Demand, compute_need
from inventory.core.reorder import DAYS_PER_WEEK
from inventory.models import Material, Offer, Studio, Supplier
from studio.kit.working import Working

from .cheapest import demand_of, keeps_longest
from .offers import offers_by_material, pack_of, terms_of
from .outlook import MaterialOutlook, material_outlook, soonest_first

MOST_AT_ONCE = 6
"""So many materials are chosen for at once: each more makes the choice longer."""


@dataclass(frozen=True)
class Known:
    """What is known of the need of one material that somebody offers; `order_by` None where no day is in sight."""

    material: Material
    demand: Demand
    order_by: date | None
    working: Working | None
    offers: tuple[Offer, ...]

    def is_due(self, until: date) -> bool:
        return self.order_by is not None and self.order_by <= until


def read_ahead(studio: Studio, today: date) -> tuple[list[Known], list[MaterialOutlook]]:
    """Every material that somebody offers, and those to be ordered that nobody does, soonest first. The number of
    queries is constant."""
    by_material = offers_by_material()
    found, without = [], []
    for one in soonest_first(material_outlook(studio, today)):
        offered, outlook = by_material.get(one.material.pk), one.outlook
        if offered:
            demand = demand_of(one.material.pk, str(one.material.unit), outlook)
            found.append(Known(one.material, demand, outlook.order_by, one.when, tuple(offered)))
        elif outlook.order_by is not None:
            without.append(one)
    return found, without


def read_known(studio: Studio, today: date) -> list[Known]:
    return read_ahead(studio, today)[0]


@dataclass(frozen=True)
class Wanted:
    """One material that is to be ordered, and how much must come."""

    known: Known
    need: Need
    working: Working


@dataclass(frozen=True)
class Beside:
    """The best order at one supplier alone; `sentence` says why there is none."""

    supplier: Supplier
    figures: Figures | None
    sentence: str = ""


@dataclass(frozen=True)
class Proposal:
    """The order that costs least of some materials for some time ahead; `choice` None where there is none."""

    until: date
    ahead: Ahead
    penny_micro: int
    wanted: tuple[Wanted, ...]
    terms: Mapping[int, Terms]
    suppliers: Mapping[int, Supplier]
    choice: Choice | None

    @cached_property
    def offers(self) -> dict[int, Offer]:
        return {offer.pk: offer for one in self.wanted for offer in one.known.offers}

    @cached_property
    def packs(self) -> list[Pack]:
        return [pack_of(offer) for offer in self.offers.values()]

    @cached_property
    def figures(self) -> Figures | None:
        return compute_figures(self.choice, self.penny_micro) if self.choice else None

    @property
    def materials(self) -> dict[int, Material]:
        return {one.known.material.pk: one.known.material for one in self.wanted}

    def lines_of(self, supplier: int) -> list[Line]:
        lines = self.choice.lines if self.choice else ()
        return [line for line in lines if line.pack.supplier == supplier]

    @property
    def order_by(self) -> date | None:
        """The day by which the first of what is ordered must be; None where nobody knows one."""
        days = [one.known.order_by for one in self.wanted if one.known.material.pk not in self.unneeded]
        return min((day for day in days if day), default=None)

    @property
    def unneeded(self) -> dict[int, Material]:
        """What was asked for, and of which nothing is to be ordered."""
        ordered = {line.pack.material for line in (self.choice.lines if self.choice else ())}
        return {pk: material for pk, material in self.materials.items() if pk not in ordered}

    @cached_property
    def sellers(self) -> list[Supplier]:
        """Of whom something is to be ordered, by name."""
        found = {line.pack.supplier for line in (self.choice.lines if self.choice else ())}
        return sorted((self.suppliers[pk] for pk in found), key=lambda one: one.name)

    @cached_property
    def beside(self) -> list[Beside]:
        """The best order at each single supplier, cheapest first."""
        found = [self._at_one(one) for one in self.suppliers.values()]
        return sorted(
            found, key=lambda one: (one.figures is None, one.figures.total_micro if one.figures else 0)
        )

    def _at_one(self, supplier: Supplier) -> Beside:
        packs = [pack for pack in self.packs if pack.supplier == supplier.pk]
        there = {pack.material for pack in packs}
        missing = [
            str(one.known.material)
            for one in self.wanted
            if one.need.least > 0 and one.need.material not in there
        ]
        if missing:
            return Beside(supplier, None, f"does not offer {', '.join(missing)}")
        needs = [one.need for one in self.wanted if one.need.material in there]
        choice = choose_order(needs, packs, self.terms, self.ahead, self.packs)
        if choice is None:
            return Beside(supplier, None, "sends nothing so small: below their least order")
        return Beside(supplier, compute_figures(choice, self.penny_micro))

    @cached_property
    def _compared(self) -> dict[int, list[tuple[Offer, Compared]]]:
        return {one.need.material: self._compare(one) for one in self.wanted}

    def compare(self, wanted: Wanted) -> list[tuple[Offer, Compared]]:
        """Each offer of a material by itself, cheapest by what is used first."""
        return self._compared[wanted.need.material]

    def _compare(self, wanted: Wanted) -> list[tuple[Offer, Compared]]:
        found = []
        for offer in wanted.known.offers:
            terms = self.terms[offer.supplier_id]
            choice = choose_order([wanted.need], [pack_of(offer)], self.terms, self.ahead, self.packs)
            if choice is not None and choice.lines:
                part = choice.parts[0]
                found.append((offer, compare_offer(part.lines[0], part, terms, wanted.need)))
        return sorted(found, key=lambda one: (one[1].rate is None, one[1].rate or 0))

    def economic_order(self, wanted: Wanted) -> tuple[int, Working] | None:
        """The textbook's figure, at the carriage and the price of what is proposed; None where it has no answer."""
        lines = [
            line
            for line in (self.choice.lines if self.choice else ())
            if line.pack.material == wanted.need.material
        ]
        if not lines or self.choice is None:
            return None
        main = max(lines, key=lambda line: line.quantity)
        found = work_economic_order(
            wanted.need,
            wanted.known.demand.unit,
            self.choice.carriage_micro.get(main.pack.supplier, 0),
            Fraction(main.price_micro, main.quantity),
            self.ahead.holding_pct100,
        )
        return None if found is None else (round(found[0].quantity), found[1])


def propose(
    studio: Studio, known: Sequence[Known], own: Mapping[int, int], weeks: int, today: date
) -> Proposal:
    """The order that costs least of these materials, placed when the first of them must be; `own` is what a person
    wants of one instead. Two queries."""
    days = weeks * DAYS_PER_WEEK
    first = min((max(one.order_by, today) for one in known if one.order_by), default=today)
    wanted = []
    for one in known:
        demand = replace(one.demand, own=own.get(one.material.pk), wait_days=(first - today).days)
        need, working = compute_need(demand, days, keeps_longest(one.offers))
        wanted.append(Wanted(one, need, working))
    offers = [offer for one in known for offer in one.offers]
    terms = terms_of(offer.supplier_id for offer in offers)
    ahead = Ahead(days, studio.holding_pct100)
    packs = [pack_of(offer) for offer in offers]
    choice = choose_order([one.need for one in wanted], packs, terms, ahead) if wanted else None
    return Proposal(
        first + timedelta(days=days),
        ahead,
        studio.penny_micro,
        tuple(wanted),
        terms,
        {offer.supplier_id: offer.supplier for offer in offers},
        choice,
    )
