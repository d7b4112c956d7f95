"""What several flasks to come need together, against what is here and not promised. A fixed handful of queries."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Count, Sum
from django.utils import timezone

from inventory.core.picking import Need, check_need, is_usable
from inventory.models import Alloy, Cast, DayPractice, Equipment, Lot, Material, Piece, Plan, PlanPart, Studio
from studio.kit.units import PCT100_WHOLE, divide_half_up

from .casting import past_loss
from .plan_figures import mix_for, pattern_masses, work_metal
from .plans import PlanDraft
from .shelf import own_metal, promised, stock_lots

LATEST_PARTS = 200


@dataclass(frozen=True)
class Needs:
    """Metal first, then powder and pattern materials; masses are of each flask, in milligrams."""

    needs: tuple[Need, ...]
    metal_mg: tuple[int, ...]
    powder_mg: tuple[int, ...]


def work_needs(
    drafts: Sequence[PlanDraft], studio: Studio, practice: DayPractice, made: Sequence[Plan] = ()
) -> Needs:
    """All flasks are of one alloy and one owner, as those of an order are. Raises IndexError for no flask.

    `made` are the plans that these flasks became: what they hold is held for them, so it counts as free.
    """
    first, taken = drafts[0], promised(None, *made)
    past, today = past_loss(first.alloy), timezone.localdate(first.day.wish_at)
    metal = [work_metal(draft, practice, studio, past).charge_mg for draft in drafts]
    powder = [mix_for(draft, practice).powder_mg for draft in drafts]
    own = own_metal(first.alloy, first.owner, studio)
    wanted: dict[Material, int] = {first.powder: sum(powder)}
    for draft in drafts:
        for material, mass_mg in pattern_masses(draft):
            wanted[material] = wanted.get(material, 0) + mass_mg
    lots = stock_lots(wanted)
    needs = [_need(first.alloy, sum(metal), own, taken)]
    for material, mass_mg in wanted.items():
        of = [lot for lot in lots if lot.material_id == material.pk and is_usable(lot, today)]
        needs.append(_need(material, mass_mg, of, taken))
    return Needs(tuple(needs), tuple(metal), tuple(powder))


def _need(of: Alloy | Material, wanted_mg: int, lots: Sequence[Lot], taken: dict[int, int]) -> Need:
    held = sum(lot.holder.quantity for lot in lots)
    free = sum(max(lot.holder.quantity - taken.get(lot.pk, 0), 0) for lot in lots)
    return check_need(str(of), wanted_mg, held, free)


def usual_sprues_pct100() -> int:
    """What sprues and stems of the latest planned trees weigh, of their patterns; 0 where none was planned."""
    masses = {True: 0, False: 0}
    for is_piece, mass_mg in PlanPart.objects.order_by("-pk").values_list("is_piece", "mass_mg")[
        :LATEST_PARTS
    ]:
        masses[is_piece] += mass_mg
    return divide_half_up(masses[False] * PCT100_WHOLE, masses[True]) if masses[True] else 0


def most_in_a_flask(designs: Sequence[int]) -> dict[int, int]:
    """The most castings of each design that came out of one flask, by design."""
    most: dict[int, int] = {}
    for design, together, _ in _count_together(designs):
        most[design] = max(most.get(design, 0), together)
    return most


def _count_together(designs: Collection[int]) -> list[tuple[int, int, int]]:
    """Of each flask that castings of these designs came out of: the design, how many, and the flask's inside."""
    pieces = Piece.objects.filter(void=False, design__in=designs).order_by()
    sized = pieces.values_list("design", "cast", "cast__flask__diameter_um", "cast__flask__height_um")
    return [
        (design, together, _inside(diameter, height))
        for design, _, diameter, height, together in sized.annotate(together=Count("pk"))
    ]


LATEST_CASTS = 200
UM3_PER_CM3 = 10**12
FIRST_FILL = Fraction(1, 50)
"""What castings fill of a flask while no cast tells: a starting figure of ours, on the careful side."""


def room_in(flask: Equipment, masses: Mapping[int, tuple[int, int]]) -> dict[int, Fraction]:
    """The share of a flask that one casting of each design takes: as full as the studio's fullest trees were.

    `masses` are milligrams and density (mg/cm3) by design. By the most of it that came out of a flask, or by its metal
    against the most that came out of one, whichever lets more stand; both by the flask's inside. Two queries.
    """
    here = _inside(flask.diameter_um, flask.height_um)
    most: dict[int, Fraction] = {}
    for design, together, inside in _count_together(masses):
        if inside:
            most[design] = max(most.get(design, Fraction(0)), Fraction(together, inside))
    fill = _fullest()
    found = {}
    for design, (mass_mg, density) in masses.items():
        by_metal = Fraction(mass_mg, density) / fill / here
        by_count = 1 / (most[design] * here) if design in most else by_metal
        found[design] = min(by_metal, by_count)
    return found


def _inside(diameter_um: int | None, height_um: int | None) -> int:
    """Cubic micrometres of the box around a flask's inside: of cylinders, the same share each."""
    return (diameter_um or 0) ** 2 * (height_um or 0)


def _fullest() -> Fraction:
    """The most metal in castings that came out of a flask lately, cm3 for each cubic micrometre of that box."""
    casts = Cast.objects.filter(closed_on__isnull=False, flask__diameter_um__gt=0, flask__height_um__gt=0)
    latest = list(casts.order_by("-number").values_list("pk", flat=True)[:LATEST_CASTS])
    pieces = Piece.objects.filter(void=False, cast__in=latest).order_by()
    sized = pieces.values_list(
        "cast", "cast__alloy__density_mg_cm3", "cast__flask__diameter_um", "cast__flask__height_um"
    )
    fills = [
        Fraction(mass_mg, density) / _inside(diameter, height)
        for _, density, diameter, height, mass_mg in sized.annotate(mass=Sum("as_cast_mg"))
        if density and mass_mg
    ]
    return max(fills, default=FIRST_FILL / UM3_PER_CM3)
