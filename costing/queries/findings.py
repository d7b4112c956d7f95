"""What the precious metal in the findings of pieces cost, and how many grams of each cast's alloy it is worth."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import F, OuterRef, Q, Subquery

from costing.core.metal_price import DatedPrice
from costing.models import FinePrice
from inventory.core.findings import weigh_finding
from inventory.models import Cast
from inventory.queries.findings import finding_lines
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
    lot = "source__lot"
    priced = FinePrice.objects.filter(metal=OuterRef("metal"), day__lte=OuterRef(f"{lot}__received_on"))
    rows = (
        finding_lines(Q(entry__cast__in=list(alloys), entry__piece__isnull=False))
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
    found: dict[int, PieceFindings] = defaultdict(PieceFindings)
    for cast, piece, quantity, cost_micro, metal, price, per, day, unit, item_mg, fineness in rows:
        alloy = alloys[cast]
        if metal != alloy.metal or not alloy.fineness:
            continue
        fine_mg = Fraction(weigh_finding(unit, quantity, item_mg) * fineness, PER_MILLE_WHOLE)
        bought = None
        if price is not None:
            bought = round_half_up(fine_mg * DatedPrice(price, per, day).exact_per_kg / MG_PER_KG)
        metal_mg = round_half_up(fine_mg * PER_MILLE_WHOLE / alloy.fineness)
        found[piece] = found[piece].plus(PieceFindings(cost_micro, metal_mg, bought))
    return found
