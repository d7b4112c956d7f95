"""What to order, how much, by when and why: all materials, and one with its picture and its past."""

from collections.abc import Sequence
from functools import partial

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.models import Material
from inventory.queries.buying import latest_deliveries
from inventory.queries.orders import late
from inventory.queries.outlook import (
    MaterialOutlook,
    material_outlook,
    price_metal,
    soonest_first,
)
from inventory.queries.setup import has_materials
from inventory.queries.studio import studio_of
from inventory.queries.to_date import stock_to_date
from inventory.tables.stock import DeliveryTable
from studio.kit.chart_pen import Picture
from studio.kit.chart_stock import stock_chart
from studio.kit.measures import stock_measure
from studio.kit.printing import print_roughly
from studio.kit.tables import lay_out

LATEST = ORDERS_SHOWN = 5
OUTLOOKS_A_PAGE = 8
MOST_PICTURES = 6
"""Of what must be ordered first; each of the others has its own on its page."""
COLUMNS = (
    (
        ("powders", "Investment powder", (Material.Kind.POWDER,)),
        ("metals", "Metal", (Material.Kind.METAL,)),
    ),
    (
        (
            "others",
            "Everything else you use",
            (Material.Kind.PATTERN, Material.Kind.CONSUMABLE, Material.Kind.FINDING, Material.Kind.PACKAGING),
        ),
    ),
)
"""What the page shows apart, by the name of its pages, beside each other where there is room."""


@require_safe
def show_buying(request: HttpRequest) -> HttpResponse:
    studio, today = studio_of(request), timezone.localdate()
    outlooks = [one for one in soonest_first(material_outlook(studio, today)) if _is_told(one)]
    price_metal(outlooks)
    first = [one for one in outlooks if one.outlook.use.is_any][:MOST_PICTURES]
    stock_to_date(first, today)
    for one in first:
        one.picture = draw_outlook(one)
    latest = DeliveryTable(latest_deliveries(LATEST), orderable=False)
    latest.caption = f"Newest first, in {studio.currency}"
    columns = [
        [
            (name, heading, _page(request, name, [one for one in outlooks if one.material.kind in kinds]))
            for name, heading, kinds in column
        ]
        for column in COLUMNS
    ]
    context = {
        "soon": [one for one in outlooks if one.is_soon],
        "columns": columns,
        "latest": lay_out(latest, request),
        "has_materials": has_materials(),
        "today": today,
        "late": late(today)[:ORDERS_SHOWN],
    }
    return render(request, "buying/buying.html", context)


def _is_told(one: MaterialOutlook) -> bool:
    """Powder always; of everything else what is used, planned or guessed at."""
    is_used = one.outlook.use.is_any or one.outlook.asked.takes
    return bool(is_used) or one.material.kind == Material.Kind.POWDER


def _page(request: HttpRequest, name: str, outlooks: Sequence[MaterialOutlook]) -> object:
    return Paginator(outlooks, OUTLOOKS_A_PAGE).get_page(request.GET.get(name))


@require_safe
def show_material(request: HttpRequest, pk: int) -> HttpResponse:
    """One material: the same answer, with its picture and how well it would have served."""
    today = timezone.localdate()
    outlooks = material_outlook(studio_of(request), today)
    one = next((one for one in outlooks if one.material.pk == pk), None)
    if one is None:
        raise Http404
    price_metal([one])
    stock_to_date([one], today)
    one.picture = draw_outlook(one)
    context = {"one": one, "today": today, "section": "buying", "is_page": True}
    return render(request, "buying/material.html", context)


def draw_outlook(one: MaterialOutlook) -> Picture:
    """Stock to date and ahead. What does not count leaves the line today."""
    outlook, unit = one.outlook, one.material.unit
    fan, tell = one.fan, partial(print_roughly, unit=unit)
    last = fan[-1]
    description = (
        f"{tell(outlook.counts)} count today. In {len(fan) - 1} weeks {tell(last.middle)} may be left, "
        f"8 times in 10 from {tell(last.low)} to {tell(last.high)}. Order at {tell(outlook.point)}."
    )
    return stock_chart(
        one.to_date,
        [(week.day, week.low, week.middle, week.high) for week in fan],
        outlook.point,
        tell,
        f"{one.material}: to date, and what may be left",
        description,
        [(brought.day, brought.quantity) for brought in outlook.asked.brings],
        stock_measure(unit).print_in_column,
    )
