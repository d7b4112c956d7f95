"""What the next piece of a design costs, and what to ask for it."""

from dataclasses import replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from costing.queries.asked import newest_asked_of_designs
from costing.queries.designs import CostedDesign, cost_designs, find_designs
from costing.reports.piece_price import table_channels
from studio.kit.documents import Column, Filled, Table, fill_table
from studio.kit.printing import print_money
from studio.kit.report_page import lay_table
from studio.kit.views import or_404

from .costs import wants_part


@require_safe
def show_design_cost(request: HttpRequest, pk: int) -> HttpResponse:
    """A design in the alloy that it is usually cast in, line by line, and its price through each channel."""
    design = or_404(find_designs([pk]).get(pk), "There is no such design.")
    found, asked = cost_designs([(design, None)])[0], newest_asked_of_designs([pk]).get(pk)
    costed = replace(found, asked=asked) if found else None
    part = wants_part(request)
    context: dict[str, Any] = {"design": design, "costed": costed, "is_part": part, "section": "pieces"}
    if costed is not None:
        context |= {
            "lines": lay_table(table_lines(costed)),
            "channels": lay_table(table_channels(costed, "By channel")),
            "channel_workings": [one for channel in costed.channels for one in channel.workings],
            "problems": sorted({one.problem for one in costed.channels if one.problem}),
            "said": say_price(costed),
        }
    return render(request, "costing/design_part.html" if part else "costing/design_cost.html", context)


def table_lines(costed: CostedDesign) -> Table:
    cost = costed.cost
    return fill_table(
        f"What one {costed.design} costs",
        [
            Filled(Column("line", "Line"), [name for name, _ in cost.lines], "One piece"),
            Filled(
                Column("cost", "Cost", "money", on_phone=True),
                [micro for _, micro in cost.lines],
                cost.total_micro,
            ),
        ],
    )


def say_price(costed: CostedDesign) -> str:
    """ "Ask 64.00 at Own table.", or "Asked: 60.00, and Own table says 64.00 now." """
    kept, label = costed.usual.kept, costed.usual.way.label
    if costed.asked is None:
        return "" if kept is None else f"Ask {print_money(kept.told_micro)} at {label}."
    now = "" if kept is None else f", and {label} says {print_money(kept.told_micro)} now"
    return f"Asked: {print_money(costed.asked.price_micro)}{now}."
