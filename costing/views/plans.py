"""What a plan will cost, and plan beside fact: pages, and the parts that the pages of plan and cast show."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from costing.queries.estimate import PlanEstimate, estimate_plans
from costing.queries.facts import facts_of
from costing.reports.cost_sheet import picture_cost, show_first
from costing.reports.plan_cost import PlanSheet, make_plan_document, table_plan_lines, table_plan_pieces
from costing.reports.plan_fact import FactSheet, cost_rows, figure_rows
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
            "picture": picture_cost(sheet.printed),
            "pieces": lay_table(show_first(table_plan_pieces(sheet))),
            "lines": lay_table(table_plan_lines(sheet)),
        }
        return render(request, "costing/plan_cost_part.html", context)
    document = make_plan_document(sheet)
    context |= {"document": document, "blocks": lay_document(document, request.GET)}
    return render(request, "costing/plan_cost.html", context)


@require_safe
def show_plan_fact(request: HttpRequest, pk: int) -> HttpResponse:
    """What was planned beside what happened; for a plan that was not begun a sentence."""
    fact = facts_of([pk]).get(pk)
    if fact is None:
        raise Http404("There is no such plan.")
    part = wants_part(request)
    context: dict[str, Any] = {"plan": fact.plan, "section": "casts"}
    if fact.cast is None:
        return render(request, "costing/unbegun_part.html" if part else "costing/unbegun.html", context)
    sheet = FactSheet(fact, current_studio())
    context |= {"sheet": sheet, "cast": fact.cast, "figures": figure_rows(sheet)}
    *context["costs"], context["whole"] = cost_rows(sheet)
    return render(request, "costing/plan_fact_part.html" if part else "costing/plan_fact.html", context)


def _find(pk: int) -> PlanEstimate:
    estimate = estimate_plans([pk]).get(pk)
    if estimate is None:
        raise Http404("There is no such plan.")
    return estimate
