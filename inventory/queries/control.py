"""What casts of a family of metals usually lose: what the first page, the reports and every form judge by."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from statistics import median_low
from typing import Any

from django.db.models import Exists, Min, OuterRef, Q, QuerySet, Subquery, Sum

from inventory.core.control_chart import (
    BASE_CASTS,
    FamilyLimits,
    Signal,
    compute_family_limits,
    find_signals,
)
from inventory.core.factors import NEW_CRUCIBLE_POURS, is_vacuum_low, say_low_vacuum
from inventory.core.picking import is_past_use_by
from inventory.core.weighing import compute_share_pct100
from inventory.models import Alloy, Cast, Entry, LossLimits, Movement
from studio.kit.chart_loss import LossPoint, loss_chart
from studio.kit.chart_pen import Picture
from studio.kit.printing import print_celsius, print_mass

from .cast_metal import CHARGE, LOST, WEIGHED_OUT
from .casting import sum_in_cast
from .ledger import STANDING

FAMILY_WORDS: dict[str, str] = {
    Alloy.Metal.SILVER: "silver",
    Alloy.Metal.GOLD: "gold",
    Alloy.Metal.PLATINUM: "platinum",
    Alloy.Metal.PALLADIUM: "palladium",
    Alloy.Metal.BASE: "bronze, brass and the like",
}
"""The families, each as it is said; alloys of one precious metal are cast alike."""


def loss_share(cast: Any) -> int | None:
    """What a cast read through `casts_with_grams` lost, in hundredths of a per cent of its charge."""
    return compute_share_pct100(cast.lost_mg, cast.charge_mg)


def chosen_limits() -> dict[str, LossLimits]:
    """The casts that the studio chose last to set the limits of each family. One query."""
    return {one.metal: one for one in LossLimits.objects.order_by("pk")}


def base_casts(chosen: dict[str, LossLimits]) -> QuerySet[Any, tuple[int, str, int, int]]:
    """The casts that set the limits: those chosen, else the first of each family in the order of their numbers.

    Each as its key, its metal, and the milligrams charged and lost, in the order of the work. Each family is asked for
    by its alloys, for ranking all casts would read every one there is.
    """
    wanted, alloys = Q(pk__in=[]), defaultdict(list)
    for metal, alloy in Alloy.objects.values_list("metal", "pk"):
        alloys[metal].append(alloy)
    for metal, found in alloys.items():
        if metal in chosen:
            one = chosen[metal]
            wanted |= Q(alloy__metal=metal, number__range=(one.first_number, one.last_number))
        else:
            casts = Cast.objects.filter(WEIGHED_OUT, alloy__in=found)
            wanted |= Q(pk__in=list(casts.order_by("number").values_list("pk", flat=True)[:BASE_CASTS]))
    return (
        Cast.objects.filter(WEIGHED_OUT, wanted)
        .order_by("day", "number")
        .values_list("pk", "alloy__metal", sum_in_cast(CHARGE), sum_in_cast(LOST))
    )


def family_limits(
    but: Cast | None = None, chosen: dict[str, LossLimits] | None = None
) -> dict[str, FamilyLimits]:
    """Of each family what its casts usually lose; one that is judged is left out of its own limits."""
    chosen = chosen_limits() if chosen is None else chosen
    shares: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for pk, metal, charge_mg, lost_mg in base_casts(chosen):
        share = compute_share_pct100(lost_mg, charge_mg)
        if share is not None:
            shares[metal].append((pk, share))
    found: dict[str, FamilyLimits] = defaultdict(FamilyLimits)
    for metal, pairs in shares.items():
        place = next((nth for nth, (pk, _) in enumerate(pairs) if but and pk == but.pk), None)
        found[metal] = compute_family_limits([share for _, share in pairs], metal in chosen, place)
    return found


def usual_loss(alloy: Alloy, but: Cast | None = None) -> FamilyLimits:
    """What casts of an alloy usually lose, without one cast where it is not weighed out for good."""
    return family_limits(but)[alloy.metal]


@dataclass(frozen=True)
class FamilyChart:
    """Casts of one family in the order of the work, each with its loss, and what the run rules say of them."""

    metal: str
    family: FamilyLimits
    casts: Sequence[Any]

    @property
    def words(self) -> str:
        return FAMILY_WORDS[self.metal]

    @cached_property
    def measured(self) -> list[tuple[Any, int]]:
        """The casts of which a loss is known, with what each lost in hundredths of a per cent of its charge."""
        return [(cast, share) for cast in self.casts if (share := loss_share(cast)) is not None]

    @cached_property
    def signals(self) -> list[tuple[Any, Signal]]:
        """Each odd cast with what makes it odd."""
        if self.family.limits is None:
            return []
        found = find_signals([share for _, share in self.measured], self.family.limits)
        return [(self.measured[one.place][0], one) for one in found]

    def picture(self, title: str, most: int) -> Picture:
        """The newest of them on a line, so that each can be told apart."""
        shown = self.measured[-most:]
        points = [LossPoint(f"Cast {cast.number}", share, _note(cast)) for cast, share in shown]
        limits = self.family.limits
        return loss_chart(
            points,
            limits.mean_pct100 if limits else None,
            limits.upper_pct100 if limits else None,
            title=title,
            least_pct100=limits.lower_pct100 if limits else None,
        )


def _note(cast: Cast) -> str:
    return "failed" if cast.outcome == Cast.Outcome.FAILED else ""


def chart_families(casts: Iterable[Any], limits: dict[str, FamilyLimits]) -> list[FamilyChart]:
    """Casts read through `casts_with_grams`, oldest first, by family: the one that was cast last comes first."""
    by_metal: dict[str, list[Any]] = {}
    for cast in casts:
        found = by_metal.pop(cast.alloy.metal, [])
        by_metal[cast.alloy.metal] = [*found, cast]
    return [FamilyChart(metal, limits[metal], of) for metal, of in reversed(by_metal.items())]


def read_circumstances(odd: Sequence[Any], beside: Sequence[Any] = ()) -> dict[int, list[str]]:
    """What stands in the record of each odd cast, by its key, in words; `beside` are casts to compare it with.

    One query, whatever their number.
    """
    vacuums = [cast.vacuum_inhg_tenths for cast in beside if cast.vacuum_inhg_tenths]
    usual_vacuum = median_low(vacuums) if vacuums else 0
    rows = _with_record([cast.pk for cast in odd])
    return {cast.pk: list(_say_record(cast, usual_vacuum)) for cast in rows}


def _with_record(keys: Sequence[int]) -> QuerySet[Cast]:
    """Casts with what was spilt, the last day of the oldest powder in the mould, and whether its crucible is used."""
    lines = Movement.objects.filter(STANDING, entry__cast=OuterRef("pk")).order_by()
    spilt = lines.filter(what=Movement.What.SPILL).values("entry__cast").annotate(all=Sum("quantity"))
    powder = lines.filter(entry__kind=Entry.Kind.POWDER).values("entry__cast")
    before = Cast.objects.filter(crucible=OuterRef("crucible"), poured=True, number__lt=OuterRef("number"))
    # Looked for and not counted: an old crucible has melted thousands of charges.
    used = before.order_by("-number").values("pk")[NEW_CRUCIBLE_POURS - 1 : NEW_CRUCIBLE_POURS]
    return (
        Cast.objects.filter(pk__in=keys)
        .select_related("alloy", "crucible")
        .annotate(
            spilt_mg=Subquery(spilt.values("all")),
            powder_until=Subquery(powder.annotate(until=Min("source__lot__use_by")).values("until")),
            crucible_used=Exists(used),
        )
    )


def _say_record(cast: Any, usual_vacuum: int) -> Iterable[str]:
    if cast.spilt_mg:
        yield f"{print_mass(cast.spilt_mg)} was spilt"
    if cast.pour_note:
        yield f"noted at the pour: {cast.pour_note}"
    if cast.crucible and not (cast.crucible_used or cast.crucible.uses_before):
        yield f"{cast.crucible} was new"
    vacuum = cast.vacuum_inhg_tenths
    if is_vacuum_low(vacuum, usual_vacuum):
        yield say_low_vacuum(vacuum, usual_vacuum)
    if is_past_use_by(cast.powder_until, cast.day):
        yield "its powder was past its last day"
    most_c = cast.alloy.pour_most_c
    if cast.metal_c and most_c and cast.metal_c > most_c:
        yield f"poured at {print_celsius(cast.metal_c)}, above the {print_celsius(most_c)} of its alloy"


def last_numbers(metal: str, most: int = BASE_CASTS) -> tuple[int, int] | None:
    """The numbers of the first and the last of a family's newest casts; None where it has none."""
    newest = Cast.objects.filter(WEIGHED_OUT, alloy__metal=metal).order_by("-number")
    numbers = list(newest.values_list("number", flat=True)[:most])
    return (numbers[-1], numbers[0]) if numbers else None


def count_weighed_out(metal: str, first: int, last: int) -> int:
    """How many casts of a family, from one number to another, were weighed out."""
    return Cast.objects.filter(WEIGHED_OUT, alloy__metal=metal, number__range=(first, last)).count()
