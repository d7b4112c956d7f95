"""Reads of reclaim: how much may go back in the next charge, what there is of each kind, month by month."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.db.models import Count, F, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.core.reclaim import MetalLot, ReclaimAllowance
from inventory.core.reclaim_alloyed import compute_alloyed_allowance
from inventory.core.reclaim_kinds import ExpectedMetal, KindRule, compute_expected_metal
from inventory.core.reclaim_outlook import PricePaid
from inventory.models import Alloy, Cast, Lot, Material, Movement, Studio

from .cast_metal import CHARGE, INTO, WEIGHED_OUT
from .ledger import STANDING
from .reclaim_kinds import kind_rules, meltable_origins
from .shelf import lots_here, promised, shelves_for
from .stock import metal_sort
from .studio import charge_rules

RECENT_CHARGES = 12


@dataclass(frozen=True)
class ScrapOutlook:
    """What the next charge of one alloy may take of its clean reclaim, and the metal that is there for it."""

    alloy: Alloy
    fresh_mg: int
    allowance: ReclaimAllowance
    lots: Sequence[MetalLot]


def scrap_outlook(studio: Studio) -> list[ScrapOutlook]:
    """How much reclaim may go back, for each alloy of which the studio has metal of its own. Nine queries."""
    taken = promised()
    lots = _lots_by_alloy(studio, taken)
    charges = recent_charges_mg()
    alloys = list(Alloy.objects.filter(pk__in=list(lots)).order_by("name"))
    shelves = shelves_for(alloys, None, taken, studio)
    found = []
    for alloy in alloys:
        rules = charge_rules(alloy.kept_fineness, studio)
        recent, step_mg = charges.get(alloy.pk, []), studio.scale_division_mg
        allowance = compute_alloyed_allowance(lots[alloy.pk], shelves[alloy.pk], rules, recent, step_mg)
        working = replace(allowance.working, title=f"{alloy}: reclaim for the next charge")
        fresh_mg = sum(lot.mass_mg for lot in lots[alloy.pk] if lot.is_fresh)
        found.append(ScrapOutlook(alloy, fresh_mg, replace(allowance, working=working), lots[alloy.pk]))
    return found


_WORD_OF_SORT = {"fresh": "fresh metal", "clean": "clean reclaim", "failed": "failed castings"}


def _lots_by_alloy(studio: Studio, taken: Mapping[int, int]) -> dict[int, list[MetalLot]]:
    """The studio's own metal by alloy, fresh metal first, and which of it may be melted as it is."""
    may_go_in = meltable_origins(studio)
    rows: Iterable[Any] = (
        lots_here(owner__isnull=True, material__kind=Material.Kind.METAL)
        .annotate(sort=metal_sort())
        .order_by()
        .values_list("material__alloy_id", "pk", "sort", "holder__quantity", "melts_milli", "origin")
    )
    lots: dict[int, list[MetalLot]] = {}
    for alloy_id, key, sort, mass_mg, melts_milli, origin in sorted(
        rows, key=lambda row: (row[2] != "fresh", row[4], row[1])
    ):
        lots.setdefault(alloy_id, []).append(
            MetalLot(
                key=key,
                label=_WORD_OF_SORT.get(sort, sort),
                mass_mg=mass_mg,
                melts_milli=melts_milli,
                is_fresh=sort == "fresh",
                is_clean=origin in may_go_in,
                promised_mg=taken.get(key, 0),
            )
        )
    return lots


def recent_charges_mg() -> dict[int, list[int]]:
    """The last charges of the studio's own metal, newest first, by alloy: what a usual charge is. Three queries."""
    poured = Cast.objects.filter(WEIGHED_OUT, owner__isnull=True)
    # The first of them is found for each alloy by walking back from its newest cast: casts are numbered in the order
    # in which they are written.
    walked = poured.filter(alloy=OuterRef("pk")).order_by("-pk").values("pk")
    first = Coalesce(Subquery(walked[RECENT_CHARGES - 1 : RECENT_CHARGES]), 0)
    since = dict(Alloy.objects.order_by().values_list("pk", first))
    latest = Q(alloy__in=[alloy for alloy, cast in since.items() if not cast])
    for alloy, cast in since.items():
        latest |= Q(alloy=alloy, pk__gte=cast) if cast else Q()
    oldest = min(since.values(), default=0)
    alloy_of = dict(poured.filter(latest, pk__gte=oldest).order_by("-pk").values_list("pk", "alloy_id"))
    sums: dict[int, int] = dict(
        Movement.objects.filter(STANDING, INTO[CHARGE], entry__cast__in=list(alloy_of))
        .order_by()
        .values_list("entry__cast")
        .annotate(mass=Sum("quantity"))
    )
    charges: dict[int, list[int]] = {}
    for cast_id, alloy_id in alloy_of.items():
        if sums.get(cast_id):
            charges.setdefault(alloy_id, []).append(sums[cast_id])
    return charges


def price_paid(alloys: Iterable[Alloy]) -> dict[int, PricePaid]:
    """What the last delivery of fresh metal of each alloy cost, as it came. Two queries."""
    bought = Lot.objects.filter(void=False, origin=Lot.Origin.BOUGHT, material__alloy=OuterRef("pk"))
    newest = bought.exclude(material__form=Material.Form.SCRAP).order_by("-received_on", "-pk").values("pk")
    keys = Alloy.objects.filter(pk__in=[alloy.pk for alloy in alloys]).order_by()
    lots = dict(keys.annotate(last=Subquery(newest[:1])).values_list("last", "pk"))
    came = Lot.objects.filter(
        pk__in=[pk for pk in lots if pk], holder__movements_in__entry=F("entry")
    ).order_by()
    sums = came.values_list("pk", "received_on").annotate(
        Sum("holder__movements_in__cost_micro"), Sum("holder__movements_in__quantity")
    )
    return {lots[pk]: PricePaid(int(cost), int(mass), day, pk) for pk, day, cost, mass in sums if mass}


@dataclass(frozen=True)
class KindOnHand:
    """The studio's reclaim of one alloy and one kind: in how many lots, and what of it is expected to be metal."""

    rule: KindRule
    lots: int
    mass_mg: int
    expected: ExpectedMetal

    @property
    def label(self) -> str:
        return str(Lot.Origin(self.rule.kind).label)


def kinds_on_hand(studio: Studio) -> dict[int, list[KindOnHand]]:
    """By alloy, in the order of the kinds. One query."""
    rules = kind_rules(studio)
    rows = (
        lots_here(owner=None, origin__in=list(rules))
        .order_by()
        .values_list("material__alloy", "origin")
        .annotate(Count("pk"), Sum("holder__quantity"), Sum("holder__fine_ug"))
    )
    found: dict[int, list[KindOnHand]] = {}
    for alloy, kind, lots, mass_mg, fine_ug in sorted(rows, key=lambda row: list(rules).index(row[1])):
        expected = compute_expected_metal(int(mass_mg), int(fine_ug), rules[kind])
        title = f"{Lot.Origin(kind).label.capitalize()}: metal to expect"
        expected = replace(expected, working=replace(expected.working, title=title))
        found.setdefault(alloy, []).append(KindOnHand(rules[kind], lots, int(mass_mg), expected))
    return found


MONTHS = 12


def reclaim_by_month(today: date, months: int = MONTHS) -> dict[int, list[tuple[date, int]]]:
    """The studio's reclaim of each alloy, milligrams as weighed, at the end of each of the last months and today.

    What is here, less what moved since: two queries over the months, and one for what is here.
    """
    firsts = [_month_before(today, back) for back in range(months - 1, -1, -1)]
    here = lots_here(owner=None, origin__in=Lot.RECLAIM).order_by()
    now = dict(here.values_list("material__alloy").annotate(Sum("holder__quantity")))
    changes: dict[tuple[int, date], int] = {}
    since = Movement.objects.filter(STANDING, entry__day__gte=firsts[0]).order_by()
    for sign, side in ((1, "target"), (-1, "source")):
        # Chosen where they are added up and not among the rows: a database that begins with the lots reads all years.
        of_lots = Q(**{f"{side}__lot__origin__in": Lot.RECLAIM, f"{side}__lot__owner": None})
        by_day = since.values_list(f"{side}__lot__material__alloy", "entry__day")
        for alloy, day, mass_mg in by_day.annotate(mass_mg=Sum("quantity", filter=of_lots)):
            if mass_mg:
                month = alloy, day.replace(day=1)
                changes[month] = changes.get(month, 0) + sign * int(mass_mg)
    found: dict[int, list[tuple[date, int]]] = {}
    for alloy in {*now, *(alloy for alloy, _ in changes)}:
        mass_mg, points = int(now.get(alloy, 0)), []
        for first in reversed(firsts):
            points.append((first, mass_mg))
            mass_mg -= changes.get((alloy, first), 0)
        found[alloy] = points[::-1]
    return found


def _month_before(day: date, back: int) -> date:
    years, month = divmod(day.year * 12 + day.month - 1 - back, 12)
    return date(years, month + 1, 1)
