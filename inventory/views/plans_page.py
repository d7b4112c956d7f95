"""The page of one plan, its charge, and what is done with it: begin its cast, hold or let go, give up or take up."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.core.charge_judging import Judgement, judge_charge
from inventory.forms.plans_sheet import ChargePlanForm
from inventory.forms.sheet import Sheet
from inventory.models import Plan, PlanPortion
from inventory.posting.planning import change_charge as post_change
from inventory.posting.planning import drop_plan, post_begin, save_plan, set_hold, take_up_plan
from inventory.posting.refusal import Refused
from inventory.queries.ledger import name_lot
from inventory.queries.meeting import care_for
from inventory.queries.occupied import clashes_of
from inventory.queries.plan_figures import Worked, work_out
from inventory.queries.plan_outlook import (
    NEVER,
    Outlook,
    check_enough,
    in_its_day,
    look_at,
    read_kept_charge,
    what_never_saves,
)
from inventory.queries.plans import draft_of, other_flasks, plan_cautions, portions_for
from inventory.queries.studio import current_studio, studio_of

from .plans import find_plan_or_404
from .saving import Actions, ButtonForm, answer, sent, show

Use = PlanPortion.Use


@require_safe
def show_plan(request: HttpRequest, pk: int) -> HttpResponse:
    """A plan: while it is open, worked out anew from what is on the shelf; then as it was planned."""
    return _show(request, find_plan_or_404(pk))


def _show(request: HttpRequest, plan: Plan, sheet: Sheet | None = None) -> HttpResponse:
    context: dict[str, Any] = {
        "plan": plan,
        "others": other_flasks(plan.day, plan),
        **offer_buttons(plan),
        "powder": _name(portions_for(plan, Use.POWDER)),
        "patterns": _name(portions_for(plan, Use.PATTERN)),
        "charge": _name(portions_for(plan, Use.METAL)),
        "cautions": plan_cautions([plan]),
        "meeting": care_for(plan.alloy, plan.crucible, [], but=plan.cast).meeting if plan.is_open else "",
    }
    if plan.is_open:
        outlook = in_its_day(look_at(draft_of(plan), studio_of(request), plan), plan)
        kept = read_kept_charge(plan, outlook.worked)
        context |= {
            "outlook": outlook,
            "kept": kept,
            "enough": check_enough(outlook.worked, kept),
            "is_stale": _is_stale(plan, outlook),
            "taken": clashes_of(plan),
        }
    return show(request, "planning/plan_page.html", sheet, context)


def offer_buttons(plan: Plan) -> dict[str, Any]:
    """The buttons of a plan for a template: words and address of each, and the form that they send."""
    buttons = {
        name.replace("-", "_"): (PLAN_ACTIONS[name].task, reverse(f"inventory:plan-{name}", args=[plan.pk]))
        for name in PLAN_ACTIONS
    }
    return {"press": ButtonForm(auto_id=False), "buttons": buttons}


def _name(portions: list[PlanPortion]) -> list[tuple[str, PlanPortion]]:
    return [(name_lot(portion.lot), portion) for portion in portions]


def _is_stale(plan: Plan, outlook: Outlook) -> bool:
    """Whether the plan would be worked out otherwise today: stock or the studio's practice changed since."""
    worked = outlook.worked
    figures = (worked.metal.charge_mg, worked.powder.mix.powder_mg, worked.powder.mix.water_mg)
    if figures != (plan.metal_mg, plan.powder_mg, plan.water_mg):
        return True
    wanted = dict(worked.powder.suggestion.takes)
    for _, suggestion in worked.patterns:
        wanted |= dict(suggestion.takes)
    kept = {one.lot_id: one.quantity for one in plan.portions.all() if one.use != Use.METAL}
    return kept != wanted


PLAN_ACTIONS: Actions[Plan] = Actions(
    find_plan_or_404, lambda plan: reverse("inventory:plan-detail", args=[plan.pk])
)


@PLAN_ACTIONS.add(
    "begin",
    "Begin the cast",
    said="The cast is begun. What its plan said stands in its steps already.",
    way_on=lambda plan: reverse("inventory:cast-detail", args=[plan.cast.number if plan.cast else 0]),
)
def _begin(plan: Plan, sheet: Sheet, by: User) -> None:
    plan.cast = post_begin(plan, by)


@PLAN_ACTIONS.add("hold", "Hold the stock", said="The plan holds what it needs.")
def _hold(plan: Plan, sheet: Sheet, by: User) -> None:
    set_hold(plan, True)


@PLAN_ACTIONS.add(
    "let-go",
    "Free its stock for other plans",
    said="The plan holds nothing any more. Others may count on its stock.",
)
def _let_go(plan: Plan, sheet: Sheet, by: User) -> None:
    set_hold(plan, False)


@PLAN_ACTIONS.add("give-up", "Give it up", said="The plan is given up.")
def _drop(plan: Plan, sheet: Sheet, by: User) -> None:
    drop_plan(plan)


@PLAN_ACTIONS.add(
    "take-up",
    "Take it up again",
    said="The plan is taken up again. It holds nothing yet: press Hold the stock if it should.",
)
def _take_up(plan: Plan, sheet: Sheet, by: User) -> None:
    take_up_plan(plan)


@PLAN_ACTIONS.add("anew", "Work it out anew", said="The plan is worked out anew.")
def _propose(plan: Plan, sheet: Sheet, by: User) -> None:
    save_plan(work_out(draft_of(plan), current_studio(), plan), plan=plan)


@PLAN_ACTIONS.add("instead", "Plan this smaller charge", said="The smaller charge is planned.")
def _take_instead(plan: Plan, sheet: Sheet, by: User) -> None:
    """Plan the largest charge that keeps the rules, where none is enough."""
    instead = work_out(draft_of(plan), current_studio(), plan).proposal.instead
    if instead is None:
        raise Refused("There is no smaller charge that keeps your rules. Look at what is on the shelf again.")
    post_change(plan, {line.key: line.mass_mg for line in instead.lines})


@require_POST
def act_on_plan(request: HttpRequest, pk: int, name: str) -> HttpResponse:
    """Do one thing with a plan, once for the button that was pressed."""
    plan = find_plan_or_404(pk)
    sheet = PLAN_ACTIONS[name].make(plan, sent(request))
    return PLAN_ACTIONS.answer(request, pk, name, sheet) or _show(request, plan, sheet)


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
