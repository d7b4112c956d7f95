"""What the precious metal in the findings of pieces and designs cost, and how many grams of their alloy it is worth."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from costing.core.lines import compute_value_at_rate
from costing.core.metal_price import AlloyPrice, DatedPrice
from costing.models import FinePrice
from inventory.core.findings import weigh_finding
from inventory.models import Alloy, Cast, DesignPart, Movement
from inventory.queries.findings import finding_lines
from inventory.queries.kept import kept_for
from inventory.queries.shelf import lots_here
from studio.kit.units import MG_PER_KG, PER_MILLE_WHOLE, round_half_up


@dataclass(frozen=True, slots=True)
class PieceFindings:
    """Findings of the metal of a piece: their cost, and their metal as milligrams of the alloy of the piece.

    `bought_micro` is what that metal cost, by the price of its pure metal on the day each lot came; None where none was
    written down by then.
    """

    cost_micro: int = 0
    metal_mg: int = 0
    bought_micro: int | None = 0

    def plus(self, other: "PieceFindings") -> "PieceFindings":
        known = self.bought_micro is not None and other.bought_micro is not None
        return PieceFindings(
            self.cost_micro + other.cost_micro,
            self.metal_mg + other.metal_mg,
            (self.bought_micro or 0) + (other.bought_micro or 0) if known else None,
        )


NO_FINDINGS = PieceFindings()


def gather_findings(casts: Iterable[Cast]) -> Mapping[int, PieceFindings]:
    """By piece, of these casts, which come with their alloy. One query. Findings of another metal stay as they cost."""
    alloys = {cast.pk: cast.alloy for cast in casts}
    found: dict[int, PieceFindings] = defaultdict(PieceFindings)
    for row in _priced_findings(alloys):
        cast, piece, quantity, cost_micro, metal, price, per, day, unit, item_mg, fineness = row
        alloy = alloys[cast]
        if metal != alloy.metal or not alloy.fineness:
            continue
        fine_mg = Fraction(weigh_finding(unit, quantity, item_mg) * fineness, PER_MILLE_WHOLE)
        per_kg = None if price is None else DatedPrice(price, per, day).exact_per_kg
        found[piece] = found[piece].plus(_of_fine(fine_mg, alloy, cost_micro, per_kg))
    return found


@kept_for
def _priced_findings(casts: Collection[int]) -> QuerySet[Movement, Any]:
    lot = "source__lot"
    priced = FinePrice.objects.filter(metal=OuterRef("metal"), day__lte=OuterRef(f"{lot}__received_on"))
    return (
        finding_lines(Q(entry__cast__in=casts, entry__piece__isnull=False))
        .annotate(metal=F(f"{lot}__material__finding_alloy__metal"))
        .annotate(
            price=Subquery(priced.order_by("-day").values("price_micro")[:1]),
            per=Subquery(priced.order_by("-day").values("per_unit")[:1]),
        )
        .values_list(
            *("entry__cast_id", "entry__piece_id", "quantity", "cost_micro", "metal", "price", "per"),
            f"{lot}__received_on",
            f"{lot}__material__unit",
            f"{lot}__material__item_mg",
            f"{lot}__material__finding_alloy__fineness",
        )
    )


def _of_fine(fine_mg: Fraction, alloy: Alloy, cost_micro: int, per_kg: Fraction | None) -> PieceFindings:
    """Findings with so much pure metal of the kind of an alloy that has a fineness, bought at so much a kilogram."""
    bought = None if per_kg is None else round_half_up(fine_mg * per_kg / MG_PER_KG)
    return PieceFindings(cost_micro, round_half_up(fine_mg * PER_MILLE_WHOLE / alloy.fineness), bought)


def price_on_shelf(parts: Iterable[DesignPart]) -> Mapping[int, Fraction | None]:
    """What a kilogram of the pure metal cost when the findings came that are here: a mean by material.

    None where no price is written down for the day of one of the lots. Parts come with their material. One query, and
    none where no part is of precious metal.
    """
    materials = {part.material_id for part in parts if part.material.finding_alloy_id}
    if not materials:
        return {}
    priced = FinePrice.objects.filter(
        metal=OuterRef("material__finding_alloy__metal"), day__lte=OuterRef("received_on")
    ).order_by("-day")
    rows = (
        lots_here(owner=None)
        .filter(material__in=materials)
        .order_by()
        .annotate(
            price=Subquery(priced.values("price_micro")[:1]), per=Subquery(priced.values("per_unit")[:1])
        )
        .values_list("material_id", "holder__quantity", "price", "per", "received_on")
    )
    held: dict[int, int] = defaultdict(int)
    worth: dict[int, Fraction] = defaultdict(Fraction)
    unknown = set()
    for material, quantity, price, per, day in rows:
        held[material] += quantity
        if price is None:
            unknown.add(material)
        else:
            worth[material] += quantity * DatedPrice(price, per, day).exact_per_kg
    return {key: None if key in unknown else worth[key] / held[key] for key in held}


def find_in_part(part: DesignPart, alloy: Alloy, cost_micro: int, per_kg: Fraction | None) -> PieceFindings:
    """What one piece of a design takes of a finding, if it is of the metal of the piece; nothing else moves with it.

    The part comes with its material and that with its alloy.
    """
    material, of = part.material, part.material.finding_alloy
    if of is None or of.metal != alloy.metal or not alloy.fineness:
        return NO_FINDINGS
    mass_mg = weigh_finding(material.unit, part.quantity, material.item_mg)
    return _of_fine(Fraction(mass_mg * of.fineness, PER_MILLE_WHOLE), alloy, cost_micro, per_kg)


def moving_micro(findings: PieceFindings, price: AlloyPrice) -> int:
    """Of what findings cost, the part that goes up and down with their metal; the rest is their making.

    As much as their metal cost when they came; by today's price where no price of that time is known.
    """
    metal_micro = findings.bought_micro
    if metal_micro is None:
        metal_micro = compute_value_at_rate(findings.metal_mg, price.micro_per_kg)
    return min(metal_micro, findings.cost_micro)
