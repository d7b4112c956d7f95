"""What open quotes take by the day they are wanted on, so that it is bought in time."""

from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from django.db.models import Count, Prefetch, QuerySet, Sum

from costing.models import Quote, QuoteLine
from inventory.models import Design, DesignPart, Piece
from inventory.queries.needs import most_in_a_flask
from inventory.queries.takes import Wanted, register_wanted
from studio.kit.units import round_half_up

from .quotes import FITS_OTHERWISE, unplanned_quotes


@register_wanted
def wanted_by_quotes(today: date) -> list[Wanted]:
    """The metal that stays in the pieces, their parts, and flasks of powder; four queries.

    A quote that says no day, or whose day is past, is not counted, and one that was planned stands with its plans. What
    is poured beside the pieces comes back, so that only their own metal is bought for them.
    """
    quotes = list(_open_quotes(today))
    lines = [line for quote in quotes for line in quote.lines.all()]
    designs = [line.design_id for line in lines]
    most, masses = most_in_a_flask(designs), _masses_as_cast(designs)
    return [wanted for quote in quotes for wanted in _take(quote, most, masses)]


def _open_quotes(today: date) -> QuerySet[Quote]:
    parts = Prefetch("design__parts", DesignPart.objects.order_by("place"))
    lines = Prefetch(
        "lines", QuoteLine.objects.select_related("design__pattern_material").prefetch_related(parts)
    )
    waiting = unplanned_quotes().filter(wanted_on__gte=today)
    return waiting.select_related("alloy").prefetch_related(lines)


def _masses_as_cast(designs: list[int]) -> dict[int, Fraction]:
    """What a piece of each weighed as it was cast, on average."""
    pieces = Piece.objects.filter(void=False, design__in=designs).order_by().values_list("design")
    return {
        design: Fraction(mass, count)
        for design, mass, count in pieces.annotate(Sum("as_cast_mg"), Count("pk"))
    }


def _take(quote: Quote, most: dict[int, int], masses: dict[int, Fraction]) -> Iterator[Wanted]:
    day, what = quote.wanted_on or quote.made_on, f"the quote {quote.name}"
    for line in quote.lines.all():
        mass = masses.get(line.design_id) or _mass_as_written(line.design, quote.alloy.density_mg_cm3)
        if not quote.own_metal:
            yield Wanted(day, what, round_half_up(mass * line.quantity), alloy=quote.alloy_id)
        for part in line.design.parts.all():
            yield Wanted(day, what, part.quantity * line.quantity, part.material_id)
        fits = line.fits or most.get(line.design_id, 0) or FITS_OTHERWISE
        yield Wanted(day, what, -(-line.quantity // fits), is_flasks=True)


def _mass_as_written(design: Design, density_mg_cm3: int) -> Fraction:
    """By its own record, or its pattern; 0 where nobody wrote either."""
    if design.cast_mg:
        return Fraction(design.cast_mg)
    material = design.pattern_material
    if design.pattern_mg and material is not None and material.density_mg_cm3:
        return Fraction(design.pattern_mg * density_mg_cm3, material.density_mg_cm3)
    return Fraction(0)
