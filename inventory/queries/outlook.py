"""When each material must be ordered again, how much and why: what home and the buying page show alike."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from fractions import Fraction
from functools import cached_property
from typing import Any

from django.db.models import Case, Count, OuterRef, Q, Subquery, Sum, Value, When

from inventory.core.backtest import Backtest, compute_backtest
from inventory.core.choosing import Choice, Terms
from inventory.core.coming import Dated, Parcel
from inventory.core.demand import WEEKS_A_YEAR
from inventory.core.lasting import Ahead, compute_fan, compute_run_out
from inventory.core.outlook import Asked, Outlook, compute_outlook
from inventory.core.outlook_working import explain_how_much, explain_lasting, explain_when
from inventory.core.picking import tell_unusable
from inventory.core.reorder import DAYS_PER_WEEK
from inventory.models import Entry, Lot, Material, Movement, Offer, Studio, Supplier
from studio.kit.chart_pen import Picture
from studio.kit.units import MG_PER_KG, divide_half_up, round_half_up
from studio.kit.working import Working

from .buy_again import PriceAgain, prices_again
from .buying import LastBought, last_bought
from .cheapest import choose_alone
from .ledger import STANDING
from .offers import offers_by_material, terms_of
from .orders import expected, lead_days, leads_of
from .shelf import lots_here, usable_on
from .takes import all_wanted, metal_of_alloys, takes_of

TAKEN_BY, SOON_WEEKS = (Entry.Kind.POWDER, Entry.Kind.TREE, Entry.Kind.USE, Entry.Kind.CHARGE), 3


def is_new(lot: str) -> Q:
    """What was bought, or is no metal: reclaim is not bought again. `lot` is the path to it, such as "lots__"."""
    fresh = Q(**{f"{lot}origin__in": Lot.FRESH, f"{lot}melts_milli": 0, f"{lot}owner__isnull": True})
    return ~Q(**{f"{lot}material__kind": Material.Kind.METAL}) | fresh


@dataclass(eq=False)
class MaterialOutlook:
    """One material: when to order it, how much, and all that stands behind. `left_out` says which lots do not count;
    `choice` is the cheapest order, most of it of `offer`, `again` what metal costs on a day, where these are known."""

    material: Material
    supplier: Supplier | None
    outlook: Outlook
    unusable: int = 0
    left_out: Sequence[tuple[Lot, str]] = ()
    bought: LastBought | None = None
    offer: Offer | None = None
    choice: Choice | None = None
    again: PriceAgain | None = None
    to_date: Sequence[tuple[date, int]] = ()
    picture: Picture | None = None

    @property
    def good(self) -> int:
        return self.outlook.good

    @property
    def is_soon(self) -> bool:
        return self.is_due_in(SOON_WEEKS) or bool(self.outlook.too_early)

    def is_due_in(self, weeks: int) -> bool:
        order_by = self.outlook.order_by
        return order_by is not None and order_by <= self.outlook.asked.today + timedelta(weeks=weeks)

    @property
    def price_micro(self) -> int | None:
        """What the order would cost without carriage: as offered, at the price of a day, or at the last price paid."""
        if self.choice is not None:
            goods = sum(line.price_micro for line in self.choice.lines)
            return goods * self.outlook.amount // (self.outlook.asked.usual_parcel or 1) or None
        if self.again is not None:
            return divide_half_up(self.again.micro_per_kg * self.outlook.amount, MG_PER_KG) or None
        if self.bought is None or not self.outlook.amount:
            return None
        return round_half_up(self.bought.rate * self.outlook.amount)

    @cached_property
    def ends(self) -> tuple[date | None, date | None]:
        return compute_run_out(self.outlook)

    @cached_property
    def fan(self) -> tuple[Ahead, ...]:
        return compute_fan(self.outlook)

    @cached_property
    def backtest(self) -> Backtest | None:
        asked = self.outlook.asked
        weeks = asked.leads.covered[len(asked.leads.covered) // 2]
        return compute_backtest(asked.weekly, weeks, asked.certainty_pct100, asked.unit)

    @property
    def when(self) -> Working:
        return explain_when(self.outlook)

    @property
    def how_much(self) -> Working | None:
        return explain_how_much(self.outlook)

    @property
    def lasting(self) -> Working:
        return explain_lasting(self.outlook, self.ends)


def on_the_road() -> dict[int, list[Dated]]:
    """What open orders bring, by material. One query."""
    found: dict[int, list[Dated]] = {}
    for material, day, quantity in expected():
        found.setdefault(material.pk, []).append(Dated(day, quantity, "an order"))
    return found


def material_outlook(
    studio: Studio, today: date, kinds: Sequence[str] = tuple(Material.Kind.values)
) -> list[MaterialOutlook]:
    """Each material that is still bought, by name. Use is what standing entries took, of metal fresh into a charge; it
    looks back `studio.reorder_weeks` weeks, or those since the material first came."""
    materials = _materials(kinds)
    most_weeks = max(studio.reorder_weeks, WEEKS_A_YEAR)
    taken = _taken(materials, today, most_weeks)
    lots = _lots_here(materials, today)
    metal = metal_of_alloys(materials, {one.pk: one.last_came for one in materials})
    powder, per_flask = _usual_powder(materials, taken, studio.reorder_weeks)
    takes = takes_of(all_wanted(today), metal, powder, per_flask)
    brings, learnt = on_the_road(), lead_days()
    bought = last_bought(one.pk for one in materials)
    offered = offers_by_material()
    terms = terms_of(offer.supplier_id for offers in offered.values() for offer in offers)
    suppliers = Supplier.objects.in_bulk({m.supplier_id or m.last_supplier_id for m in materials} - {None})
    found = []
    for material in materials:
        here = lots.get(material.pk, [])
        supplier = suppliers.get(material.supplier_id or material.last_supplier_id)
        by_week, last = taken.get(material.pk, Taken()), bought.get(material.pk)
        asked = Asked(
            today=today,
            weekly=by_week.series(min(_weeks_known(material, today), most_weeks)),
            looked_back=studio.reorder_weeks,
            leads=leads_of(supplier, learnt),
            certainty_pct100=studio.reorder_certainty_pct100,
            unit=material.unit,
            guess=material.guess_a_week,
            parcels=[Parcel(str(lot), lot.holder.quantity, lot.use_by) for lot in here if lot.usable],
            takes=takes.get(material.pk, ()),
            brings=brings.get(material.pk, ()),
            per_cast=by_week.per_cast(studio.reorder_weeks),
            keeps_days=material.shelf_life_days,
            usual_parcel=last.quantity if last else None,
        )
        out = [lot for lot in here if not lot.usable]
        left_out = [(lot, tell_unusable(lot, today)) for lot in out]
        unusable = sum(lot.holder.quantity for lot in out)
        one = MaterialOutlook(material, supplier, compute_outlook(asked), unusable, left_out, last)
        _go_where_it_is_cheapest(one, offered.get(material.pk, []), terms, learnt, studio.holding_pct100)
        found.append(one)
    return found


def _go_where_it_is_cheapest(
    one: MaterialOutlook,
    offers: Sequence[Offer],
    terms: Mapping[int, Terms],
    learnt: Mapping[int, Sequence[int]],
    holding_pct100: int,
) -> None:
    """Order in packs where it costs least; but not past a usual supplier whose price nobody knows."""
    if one.supplier is not None and one.supplier.pk not in {offer.supplier_id for offer in offers}:
        return
    chosen = choose_alone(offers, terms, one.outlook, holding_pct100)
    if chosen is not None:
        one.offer, one.choice = chosen
        one.supplier = one.offer.supplier
        quantity = sum(line.quantity for line in one.choice.lines)
        leads = leads_of(one.supplier, learnt)
        asked = replace(one.outlook.asked, leads=leads, usual_parcel=quantity, whole_parcels=True)
        one.outlook = compute_outlook(asked)


def soonest_first(outlooks: Iterable[MaterialOutlook]) -> list[MaterialOutlook]:
    """What must be ordered first stands first; what is not in sight comes last."""
    return sorted(outlooks, key=lambda one: (one.outlook.order_by or date.max, one.material.name.casefold()))


def _materials(kinds: Sequence[str]) -> list[Any]:
    """What is bought, with `first_came`, `last_came` and `last_supplier_id`; reclaim, scrap and mixed metal are not."""
    came = Lot.objects.filter(material=OuterRef("pk"), void=False)
    last_lot = came.filter(supplier__isnull=False).order_by("-received_on", "-pk")
    return list(
        Material.objects.filter(archived=False, kind__in=kinds)
        .exclude(form__in=(Material.Form.RECLAIM, Material.Form.SCRAP))
        .exclude(alloy__is_mixed=True)
        .annotate(
            first_came=Subquery(came.order_by("received_on").values("received_on")[:1]),
            last_came=Subquery(came.order_by("-received_on").values("received_on")[:1]),
            last_supplier_id=Subquery(last_lot.values("supplier")[:1]),
        )
        .select_related("alloy")
        .order_by("name")
    )


@dataclass
class Taken:
    """What each week took, by how many weeks ago it ended, and of it what casts took and how many they were."""

    weeks: dict[int, int] = field(default_factory=dict)
    in_casts: dict[int, tuple[int, int]] = field(default_factory=dict)

    def add(self, week: int, quantity: int, in_casts: int, casts: int) -> None:
        self.weeks[week] = self.weeks.get(week, 0) + quantity
        before = self.in_casts.get(week, (0, 0))
        self.in_casts[week] = (before[0] + in_casts, before[1] + casts)

    def series(self, weeks: int) -> tuple[int, ...]:
        return tuple(self.weeks.get(week, 0) for week in reversed(range(weeks)))

    def per_cast(self, weeks: int) -> Fraction | None:
        lately = [pair for week, pair in self.in_casts.items() if week < weeks]
        casts = sum(pair[1] for pair in lately)
        return Fraction(sum(pair[0] for pair in lately), casts) or None if casts else None


def _taken(materials: Sequence[Material], today: date, weeks: int) -> dict[int, Taken]:
    """One query."""
    first_day = today - timedelta(days=weeks * DAYS_PER_WEEK - 1)
    # The day stands on the entry as well, where an index finds the few of these weeks.
    rows = (
        Movement.objects.filter(
            STANDING,
            is_new("source__lot__"),
            entry__kind__in=TAKEN_BY,
            entry__day__range=(first_day, today),
            source__lot__material__in=materials,
        )
        .order_by()
        .values_list("source__lot__material", "day")
        .annotate(
            total=Sum("quantity"),
            in_casts=Sum("quantity", filter=Q(entry__cast__isnull=False), default=0),
            casts=Count("entry__cast", distinct=True),
        )
    )
    found: dict[int, Taken] = {}
    for material, day, quantity, in_casts, casts in rows:
        week = (today - day).days // DAYS_PER_WEEK
        found.setdefault(material, Taken()).add(week, quantity, in_casts, casts)
    return found


def _lots_here(materials: Sequence[Material], today: date) -> dict[int, list[Any]]:
    """What is on the shelf, with whether it is `usable` today. One query."""
    usable = Case(When(usable_on(today), then=Value(True)), default=Value(False))
    rows = lots_here(material__in=materials).filter(is_new("")).annotate(usable=usable)
    found: dict[int, list[Any]] = {}
    for lot in rows.select_related("holder").order_by("received_on", "pk"):
        found.setdefault(lot.material_id, []).append(lot)
    return found


def _usual_powder(
    materials: Sequence[Material], taken: Mapping[int, Taken], weeks: int
) -> tuple[int | None, int]:
    """The powder that most was taken of lately, and how much of it a flask takes."""
    powders = [one.pk for one in materials if one.kind == Material.Kind.POWDER and one.pk in taken]
    if not powders:
        return None, 0
    most = max(powders, key=lambda pk: sum(taken[pk].series(weeks)))
    return most, round_half_up(taken[most].per_cast(weeks) or 0)


def _weeks_known(material: Any, today: date) -> int:
    """Weeks since it first came."""
    if material.first_came is None:
        return 0
    return max(0, (today - material.first_came).days // DAYS_PER_WEEK + 1)


def price_metal(outlooks: Iterable[MaterialOutlook]) -> None:
    """Give metal that is to be ordered its price of a day. The number of queries is constant."""
    metals = {one: one.material.alloy for one in outlooks if one.material.alloy and one.outlook.amount}
    known = prices_again(set(metals.values()))
    for one, alloy in metals.items():
        one.again = known.get(alloy.pk)
