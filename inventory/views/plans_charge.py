"""The page on which the charge of a plan is changed, and what it comes to while it is typed."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from inventory.core.charge_judging import Judgement, judge_charge
from inventory.forms.plans_charge import ChargePlanForm
from inventory.forms.sheet import Sheet
from inventory.models import Plan, PlanPortion
from inventory.posting.planning import change_charge as post_change
from inventory.posting.refusal import Refused
from inventory.queries.plan_figures import Worked, work_out
from inventory.queries.plan_outlook import NEVER, what_never_saves
from inventory.queries.plans import draft_of, portions_for
from inventory.queries.studio import studio_of

from .plans import find_plan_or_404
from .plans_page import offer_buttons
from .saving import answer, sent, show


@require_http_methods(["GET", "HEAD", "POST"])
def change_charge(request: HttpRequest, pk: int) -> HttpResponse:
    """Write other portions into a plan's charge. What breaks the mark or is not there is refused."""
    plan = find_plan_or_404(pk)
    if not plan.is_open:
        messages.warning(request, "This plan was begun or given up: its charge can only be read.")
        return redirect("inventory:plan-detail", pk)
    worked = work_out(draft_of(plan), studio_of(request), plan)
    form = _make_form(plan, worked, sent(request))
    sheet = Sheet(form)
    # Judged before the posting can refuse anything, for a refused figure is no longer among the clean ones.
    judged = _judge(form, worked)
    context = _sums(worked, judged) | {"plan": plan, **offer_buttons(plan)}
    return answer(sheet, lambda: _save(request, plan, form)) or show(
        request, "planning/plan_charge.html", sheet, context
    )


def _make_form(plan: Plan, worked: Worked, data: Any) -> ChargePlanForm:
    masses = {one.lot_id: one.quantity for one in portions_for(plan, PlanPortion.Use.METAL)}
    return ChargePlanForm(data, worked.shelf, worked.wanted, masses)


def _save(request: HttpRequest, plan: Plan, form: ChargePlanForm) -> str:
    # Worked out again inside the posting's transaction: another plan may hold the metal meanwhile.
    worked = work_out(draft_of(plan), studio_of(request), plan)
    masses = form.typed
    never = what_never_saves(worked, masses)
    if never:
        raise Refused(never[0].sentence)
    post_change(plan, masses)
    messages.success(request, "The charge is changed.")
    return reverse("inventory:plan-detail", args=[plan.pk])


@require_POST
def show_charge_sums(request: HttpRequest, pk: int) -> HttpResponse:
    """What the charge comes to so far, rule by rule. Nothing is saved."""
    plan = find_plan_or_404(pk)
    worked = work_out(draft_of(plan), studio_of(request), plan)
    judged = _judge(_make_form(plan, worked, request.POST), worked)
    return render(request, "planning/plan_charge_sums.html", _sums(worked, judged))


def _judge(form: ChargePlanForm, worked: Worked) -> Judgement:
    return judge_charge(worked.shelf, form.so_far(), worked.wanted)


def _sums(worked: Worked, judged: Judgement) -> dict[str, Any]:
    return {
        "worked": worked,
        "judged": judged,
        "refused": [problem for problem in judged.problems if problem.bind in NEVER],
        "warned": [problem for problem in judged.problems if problem.bind not in NEVER],
    }
