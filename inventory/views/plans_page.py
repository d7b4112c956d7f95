"""The page of one plan, and what is done with it: begin its cast, hold or let go, give up, propose again."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from inventory.models import Plan, PlanPortion, Studio
from inventory.posting.once import post_once
from inventory.posting.planning import change_charge, drop_plan, post_begin, save_plan, set_hold
from inventory.posting.refusal import Refused
from inventory.queries.cautions import plan_cautions
from inventory.queries.ledger import name_lot
from inventory.queries.plan_figures import work_out
from inventory.queries.plan_outlook import Outlook, look_at, read_kept_charge
from inventory.queries.plans import draft_of, other_flasks, portions_for
from studio.kit.forms import OnceMixin, StudioForm

from .plans import find_plan_or_404
from .saving import signed_in_user
from .sheets import studio_of

Use = PlanPortion.Use


class DeedForm(OnceMixin, StudioForm):
    """Nothing but the one-time key."""


@require_safe
def show_plan(request: HttpRequest, pk: int) -> HttpResponse:
    """A plan: while it is open, worked out anew from what is on the shelf; then as it was planned."""
    plan = find_plan_or_404(pk)
    context: dict[str, Any] = {
        "plan": plan,
        "others": other_flasks(plan.day, plan),
        "deed": DeedForm(auto_id=False),
        "powder": _name(portions_for(plan, Use.POWDER)),
        "patterns": _name(portions_for(plan, Use.PATTERN)),
        "charge": _name(portions_for(plan, Use.METAL)),
        "cautions": plan_cautions([plan]),
    }
    if plan.is_open:
        outlook = look_at(draft_of(plan), studio_of(request), plan)
        context |= {
            "outlook": outlook,
            "kept": read_kept_charge(plan, outlook.worked),
            "is_stale": _is_stale(plan, outlook),
        }
    return render(request, "planning/plan_page.html", context)


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


@dataclass(frozen=True)
class Deed:
    """What a button on a plan's page does: it gives the address to go on to."""

    act: Callable[[Plan, Studio, User], str]
    done: str


@require_POST
def act_on_plan(request: HttpRequest, pk: int, deed: str) -> HttpResponse:
    """Do one thing with a plan, once for the button that was pressed."""
    plan = find_plan_or_404(pk)
    form = DeedForm(request.POST)
    if not form.is_valid():
        messages.error(request, "This page has been open too long. Press the button once more.")
        return redirect("inventory:plan-detail", pk)
    chosen, by = DEEDS[deed], signed_in_user(request)
    try:
        address = post_once(form.once_key, lambda: chosen.act(plan, studio_of(request), by))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("inventory:plan-detail", pk)
    messages.success(request, chosen.done)
    return HttpResponseRedirect(address)


def _page(plan: Plan) -> str:
    return reverse("inventory:plan-detail", args=[plan.pk])


def _begin(plan: Plan, studio: Studio, by: User) -> str:
    return reverse("inventory:cast-detail", args=[post_begin(plan, by).number])


def _hold(plan: Plan, studio: Studio, by: User) -> str:
    set_hold(plan, True)
    return _page(plan)


def _let_go(plan: Plan, studio: Studio, by: User) -> str:
    set_hold(plan, False)
    return _page(plan)


def _drop(plan: Plan, studio: Studio, by: User) -> str:
    drop_plan(plan)
    return _page(plan)


def _propose(plan: Plan, studio: Studio, by: User) -> str:
    save_plan(work_out(draft_of(plan), studio, plan), plan=plan)
    return _page(plan)


def _take_instead(plan: Plan, studio: Studio, by: User) -> str:
    """Plan the largest charge that keeps the rules, where none is enough."""
    instead = work_out(draft_of(plan), studio, plan).proposal.instead
    if instead is None:
        raise Refused("There is no smaller charge that keeps your rules. Look at what is on the shelf again.")
    change_charge(plan, {line.key: line.mass_mg for line in instead.lines})
    return _page(plan)


DEEDS: dict[str, Deed] = {
    "begin": Deed(_begin, "The cast is begun. What its plan said stands in its steps already."),
    "hold": Deed(_hold, "The plan holds what it needs."),
    "let-go": Deed(_let_go, "The plan holds nothing any more. Others may count on its stock."),
    "give-up": Deed(_drop, "The plan is given up."),
    "anew": Deed(_propose, "The plan is worked out anew."),
    "instead": Deed(_take_instead, "The smaller charge is planned."),
}
