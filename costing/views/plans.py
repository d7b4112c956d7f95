"""What a plan will cost, and plan beside fact: pages, and the parts that the pages of plan and cast show."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from costing.queries.estimate import PlanEstimate, estimate_plans
from costing.reports.plan_cost import (
    PlanSheet,
    make_plan_document,
    picture_plan_cost,
    table_first_pieces,
    table_plan_lines,
)
from inventory.queries.studio import current_studio
from studio.kit.report_page import lay_document, lay_table

from .costs import wants_part


@require_safe
def show_plan_cost(request: HttpRequest, pk: int) -> HttpResponse:
    """What a plan will cost, with every line open to its working."""
    estimate = _find(pk)
    sheet = PlanSheet(estimate, current_studio())
    context: dict[str, Any] = {"plan": estimate.plan, "sheet": sheet, "section": "casts"}
    if wants_part(request):
        context |= {
            "picture": picture_plan_cost(sheet),
            "pieces": lay_table(table_first_pieces(sheet)),
            "lines": lay_table(table_plan_lines(sheet)),
        }
        return render(request, "costing/plan_cost_part.html", context)
    document = make_plan_document(sheet)
    context |= {"document": document, "blocks": lay_document(document, request.GET)}
    return render(request, "costing/plan_cost.html", context)


def _find(pk: int) -> PlanEstimate:
    estimate = estimate_plans([pk]).get(pk)
    if estimate is None:
        raise Http404("There is no such plan.")
    return estimate
