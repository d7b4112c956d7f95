"""The first page: what needs doing today."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.core.casting import STEP_TASKS
from inventory.core.timetable import DayLine, Moment
from inventory.models import Cast, Material, Plan, Studio
from inventory.queries.bench import (
    MORE_WAITING,
    Beginnings,
    count_waiting,
    loss_outlook,
    opened_tubs,
    read_beginnings,
    unusable_lots,
)
from inventory.queries.casting import next_step_of, open_casts
from inventory.queries.days import DaySheet
from inventory.queries.occupied import Taken, first_twice
from inventory.queries.orders import late
from inventory.queries.outlook import material_outlook, soonest_first
from inventory.queries.pieces import casts_with_unfinished_pieces
from inventory.queries.plan_outlook import next_moments
from inventory.queries.plans import open_plans
from inventory.queries.reclaim import scrap_outlook
from inventory.queries.refining import late_batches
from inventory.queries.stock import metal_on_hand
from inventory.queries.studio import studio_of
from inventory.queries.wearing import WornThing, wearing_outlook

from .wearing import address_of_worn

OLD_DAYS = 21
MOST_TO_ORDER = 4
MOST_WEARING = 6


@dataclass(frozen=True)
class CastTask:
    """The next thing to do for one cast under way."""

    cast: Cast
    task: str
    address: str
    days_open: int

    @property
    def is_old(self) -> bool:
        return self.days_open > OLD_DAYS


@dataclass(frozen=True)
class PlanTask:
    """A plan that waits, and the next thing to do by hand for it; None when its day is past."""

    plan: Plan
    moment: Moment | DayLine | None


@require_safe
def show_bench(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    tasks = [_task(cast, today) for cast in open_casts()]
    loss = loss_outlook()
    studio = studio_of(request)
    context: dict[str, Any] = {
        "today": today,
        "tasks": tasks,
        "loss": loss,
        "waiting": _waiting() + _more_waiting(today),
        "metals": [one for one in scrap_outlook(studio) if one.fresh_mg or one.allowance.on_hand_mg],
        "customers_metal": metal_on_hand()[1],
        **_to_order(studio, today),
        "tubs": opened_tubs(),
        "unusable": unusable_lots(today),
        "late_batches": late_batches(today),
        "late_orders": late(today)[:MOST_TO_ORDER],
        "wearing": _wearing(today),
    }
    context["unfinished"] = casts_with_unfinished_pieces()
    plans = open_plans()
    taken = Taken(timezone.now(), also=[plan.day_id for plan in plans]) if plans else None
    context["plans"] = _plan_tasks(plans, taken.read) if taken else []
    context["twice"] = first_twice(taken) if taken else None
    if not tasks and not context["plans"] and loss.picture is None:
        context["first_steps"] = _first_steps(read_beginnings())
    return render(request, "bench/bench.html", context)


def _to_order(studio: Studio, today: date) -> dict[str, Any]:
    """What must be ordered soonest, and how much powder there is while none of it must be."""
    outlooks = soonest_first(material_outlook(studio, today))
    soon = [one for one in outlooks if one.is_soon]
    return {
        "to_order": soon[:MOST_TO_ORDER],
        "more_to_order": len(soon[MOST_TO_ORDER:]),
        "powders": [one for one in outlooks if one.material.kind == Material.Kind.POWDER][:MOST_TO_ORDER],
    }


@dataclass(frozen=True)
class WaitingLine:
    """So many things that wait, in words, and the list that has them."""

    count: int
    words: str
    address: str


#: What waits: (one, several, the list that shows it), by the names of `count_waiting`.
WAITING = {
    "casts": ("cast under way", "casts under way", "cast-list", "open"),
    "plans": ("plan", "plans", "plan-list", "open"),
    "unfinished": ("piece to finish", "pieces to finish", "piece-list", "cast"),
    "finished": ("finished piece", "finished pieces", "piece-list", "finished"),
}


def _wearing(today: date) -> list[tuple[str, WornThing]]:
    """What is worn out before another can be here, each with the address of its page."""
    near = [one for one in wearing_outlook(today) if one.outlook.is_near]
    return [(address_of_worn(one), one) for one in near[:MOST_WEARING]]


def _waiting() -> list[WaitingLine]:
    counts = count_waiting()
    return [
        WaitingLine(
            counts[name],
            one if counts[name] == 1 else several,
            f"{reverse(f'inventory:{page}')}?state={state}",
        )
        for name, (one, several, page, state) in WAITING.items()
        if counts[name]
    ]


def _more_waiting(today: date) -> list[WaitingLine]:
    found = [count(today) for count in MORE_WAITING]
    return [
        WaitingLine(count, one if count == 1 else several, reverse(address))
        for count, one, several, address in found
        if count
    ]


def _task(cast: Cast, today: date) -> CastTask:
    address = reverse("inventory:cast-detail", args=[cast.number])
    return CastTask(cast, STEP_TASKS[next_step_of(cast)].capitalize(), address, (today - cast.day).days)


def _plan_tasks(plans: Sequence[Plan], sheets: Mapping[int, DaySheet]) -> list[PlanTask]:
    """Open plans, what is to be done first at the top; those whose day is past at the end."""
    now, moments = timezone.now(), next_moments(plans, sheets)
    waiting = [PlanTask(plan, moments[plan.pk]) for plan in plans]
    return sorted(waiting, key=lambda task: (task.moment is None, task.moment.at if task.moment else now))


def _first_steps(have: Beginnings) -> list[tuple[str, str, bool]]:
    """What to do in a new studio, in order: in words, where, and whether it is done."""
    return [
        ("Write down the alloys you cast", "inventory:starters", have.alloys),
        ("Enter the metal you have", "inventory:opening", have.metal),
        ("Enter the powder, wax and the rest", "inventory:opening", have.other_stock),
        ("Write down kiln, flasks and crucibles", "inventory:equipment-list", have.equipment),
        ("Record your last cast, or start the next one", "inventory:cast-record", have.casts),
    ]
