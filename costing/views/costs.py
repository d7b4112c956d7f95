"""What a cast cost, and what a piece cost and is worth asking for: pages, and the parts that other pages show."""

from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from costing.core.price import PricePair, compute_prices, replace_metal
from costing.core.rates import compute_price_per_kg
from costing.core.rollup import work_piece_share
from costing.models import MetalPrice
from costing.queries import CostedCast, cost_casts, latest_metal_prices
from costing.reports.cast_cost import build_cast_cost, price_rules
from inventory.models import Cast, Piece
from studio.kit.documents import Block, Document, Facts
from studio.kit.report_page import lay_document
from studio.kit.working import Working


@require_safe
def show_cast_cost(request: HttpRequest, number: int) -> HttpResponse:
    """The cost of a cast; `?part=1` gives only the part that the page of the cast shows."""
    cast = get_object_or_404(Cast, number=number)
    part = request.GET.get("part") == "1"
    if not cast.is_closed:
        template = "costing/open_part.html" if part else "costing/open.html"
        return render(request, template, {"cast": cast, "section": "casts"})
    document = build_cast_cost({"found": cast})
    if part:
        document = replace(document, blocks=_for_the_page_of_the_cast(document))
    files = [
        (label, reverse("costing:report", args=["cast-cost", ending]) + f"?cast={number}")
        for ending, label in (("pdf", "PDF"), ("csv", "CSV"), ("xlsx", "XLSX"))
    ]
    blocks = lay_document(document)
    context = {"document": document, "blocks": blocks, "files": files, "cast": cast, "section": "casts"}
    return render(request, "costing/cast_part.html" if part else "costing/cast_cost.html", context)


def _for_the_page_of_the_cast(document: Document) -> tuple[Block, ...]:
    """The page of a cast shows its facts and grams already; the lines open to the same sums as their table."""
    told = {"Where the metal went", "Every line of the cost"}
    return tuple(
        block
        for block in document.blocks
        if not isinstance(block, Facts) and getattr(block, "caption", getattr(block, "title", "")) not in told
    )


@dataclass(frozen=True)
class PieceCost:
    """One piece's share of its cast's cost, and what to ask for it."""

    costed: CostedCast
    place: int
    price: MetalPrice | None

    @property
    def total_micro(self) -> int:
        return self.costed.cost.piece_totals_micro[self.place]

    @property
    def lines(self) -> list[Working]:
        lines = self.costed.cost.lines
        return [work_piece_share(line, self.place) for line in lines if line.piece_micro[self.place]]

    @property
    def today(self) -> tuple[int, Working] | None:
        """Its cost with metal at the newest price of its alloy; None without one, or for a customer's metal."""
        if self.price is None or self.costed.inputs.customer_metal:
            return None
        metal = ("own_metal", "lost_metal")
        carried = sum(line.piece_micro[self.place] for line in self.costed.cost.lines if line.key in metal)
        return replace_metal(
            self.total_micro,
            carried,
            self.costed.piece_mg[self.place],
            self.costed.cost.piece_lost_mg[self.place],
            compute_price_per_kg(self.price.price_micro, self.price.per_unit),
        )

    @property
    def prices(self) -> tuple[PricePair, ...]:
        today = self.today
        return compute_prices(self.total_micro, today[0] if today else None, price_rules(self.costed.policy))


@require_safe
def show_piece_cost(request: HttpRequest, pk: int) -> HttpResponse:
    """The cost and price of a piece; `?part=1` gives only the part that the page of the piece shows."""
    piece = get_object_or_404(Piece.objects.select_related("cast__alloy"), pk=pk, void=False)
    part = request.GET.get("part") == "1"
    context: dict[str, Any] = {"piece": piece, "section": "pieces"}
    costed = cost_casts([piece.cast_id]).get(piece.cast_id)
    if costed is not None:
        price = latest_metal_prices().get(piece.cast.alloy_id)
        context["cost"] = PieceCost(costed, costed.place_of(piece.pk), price)
    return render(request, "costing/piece_part.html" if part else "costing/piece_cost.html", context)
