"""The list of plans, and the page on which a cast is planned or a plan is changed."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.filters import PlanFilter
from inventory.forms.plans_sheet import MOST_OF_ONE_KIND, Begun, PlanSheet, Said
from inventory.models import CastingDay, Plan
from inventory.posting.planning import save_plan, why_closed
from inventory.posting.refusal import Refused
from inventory.queries.casting_choices import PlanChoices, read_plan_choices
from inventory.queries.designs import designs_in_order, learn, read_record
from inventory.queries.occupied import Taken
from inventory.queries.plan_figures import Worked, work_out
from inventory.queries.plan_outlook import charge_to_keep, look_at
from inventory.queries.plans import draft_of, find_day, find_plan, other_flasks, plans
from inventory.queries.studio import studio_of
from inventory.tables.plans import PlanTable
from studio.kit.listing import ListingView
from studio.kit.views import or_404

from .saving import answer, sent, show

_LONGEST_KEY = 9
#: The button of a pour that is offered, with its time on the studio's clock.
TAKE = "take"
MOST_DESIGNS = 40
#: What the page folds away, because it seldom changes.
ALSO = ("title", "owner", "machine", "pump", "tree_height", "tree_width", "button", "standing", "note")


class PlanList(ListingView):
    title = "Plans"
    lead = "A plan says what a cast will need and when, and holds it. Nothing leaves the shelf until the cast is begun."
    press = ("Plan a cast", "inventory:plan-new")
    ways = (("Casts", "inventory:cast-list"),)
    table_class = PlanTable
    filterset_class = PlanFilter

    def get_queryset(self) -> Any:
        return plans().order_by("-day__wish_at", "-id")


def find_plan_or_404(pk: int) -> Plan:
    return or_404(find_plan(pk), "There is no such plan.")


@require_http_methods(["GET", "HEAD", "POST"])
def edit_plan(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Plan a cast, or change a plan that is open. `?day=` puts a new flask into a casting day that is there."""
    plan = find_plan_or_404(pk) if pk is not None else None
    if plan is not None and not plan.is_open:
        messages.warning(request, "This plan was begun or given up: it can only be read.")
        return redirect("inventory:plan-detail", plan.pk)
    day = _day_asked_for(request) if plan is None else None
    if day is not None and (closed := why_closed(day)):
        messages.warning(request, closed)
        return redirect("inventory:plan-new")
    choices = read_plan_choices()
    begun = _tree_asked_for(request, choices) if plan is None else None
    sheet = PlanSheet(choices, _with_pour_taken(sent(request)), day, plan, begun)
    said = Said(draft_of(plan) if plan is not None else None)
    if sheet.form.is_bound:
        # Read before the posting can refuse anything, for a refused figure is no longer among the clean ones.
        said = sheet.said()
        if TAKE in request.POST:
            sheet.hold_judgement()
        elif done := answer(sheet, lambda: _save(request, sheet, plan, day)):
            return done
    in_day = plan.day if plan is not None else day
    asked = f"?plan={plan.pk}" if plan is not None else f"?day={day.pk}" if day is not None else ""
    context = _sums_context(request, said, plan, day)
    context |= {
        "plan": plan,
        "day": day,
        "others": other_flasks(in_day, plan) if in_day is not None else [],
        "opens_also": _opens_also(sheet),
        "gaps": _list_gaps(choices),
        "names": choices.names,
        "sums_address": reverse("inventory:plan-sums") + asked,
    }
    return show(request, "planning/plan_edit.html", sheet, context)


def _with_pour_taken(data: Any) -> Any:
    """What was sent, with the pour that was chosen among those offered."""
    if data is None or TAKE not in data:
        return data
    changed = data.copy()
    changed["wish"], changed["wish_at"] = CastingDay.Wish.POUR.value, data[TAKE]
    return changed


def _opens_also(sheet: PlanSheet) -> bool:
    """Whether something that is folded away was written, or is to be mended."""
    form = sheet.form
    if form.is_bound:
        return any(name in form.errors for name in ALSO)
    return any(form.initial.get(name) for name in ("owner", "tree_height", "tree_width", "note"))


def _save(request: HttpRequest, sheet: PlanSheet, plan: Plan | None, day: CastingDay | None) -> str:
    draft = sheet.said().draft
    if draft is None:
        raise Refused("Something that the sums need is missing. Look at each field once more.")
    worked = work_out(draft, studio_of(request), plan)
    _refuse_nonsense(worked)
    kept = charge_to_keep(plan, worked) if plan is not None else None
    saved = save_plan(worked, kept, plan, day)
    messages.success(request, "The plan is changed." if plan is not None else "The cast is planned.")
    return reverse("inventory:plan-detail", args=[saved.pk])


def _refuse_nonsense(worked: Worked) -> None:
    """A tree that needs no metal, or no room for powder, is not planned but written wrong."""
    if worked.metal.charge_mg <= 0:
        raise Refused("This tree asks for no metal that a scale can show. Weigh it again.", "parts")
    if worked.powder.problems:
        raise Refused(worked.powder.problems[0], "flask")


@require_POST
def show_sums(request: HttpRequest) -> HttpResponse:
    """What a plan comes to while it is typed. Nothing is saved."""
    key = request.GET.get("plan", "")
    plan = find_plan_or_404(int(key)) if _is_key(key) else None
    day = _day_asked_for(request)
    said = PlanSheet(read_plan_choices(), request.POST, day, plan).said()
    return render(request, "planning/plan_sums.html", _sums_context(request, said, plan, day))


def _sums_context(
    request: HttpRequest, said: Said, plan: Plan | None, day: CastingDay | None
) -> dict[str, Any]:
    if said.draft is None:
        return {"said": said, "outlook": None}
    outlook = look_at(said.draft, studio_of(request), plan)
    now, worked = timezone.now(), outlook.worked
    taken = Taken(said.draft.day.wish_at, now)
    in_day = plan.day if plan is not None else day
    context = {
        "said": said,
        "outlook": outlook,
        "taken": taken.look_at_draft(said.draft, worked.timetable, in_day, plan),
    }
    if day is None and worked.timetable is not None:
        # A day that is there keeps its time: it is moved on its own page.
        context["asleep"] = taken.list_quiet(said.draft, worked.timetable, worked.practice, plan)
    return context


def _day_asked_for(request: HttpRequest) -> CastingDay | None:
    key = request.GET.get("day", "")
    if not key:
        return None
    return or_404(find_day(int(key)) if _is_key(key) else None, "There is no such casting day.")


def _tree_asked_for(request: HttpRequest, choices: PlanChoices) -> Begun | None:
    """With `?design=` a new plan begins with a design; `?design=3x4&design=5x2` is four of one and two of another.

    Alloy, flask and crucible may be chosen too; the alloy is else what the first design is usually cast in.
    """
    asked = [one.partition("x") for one in request.GET.getlist("design")[:MOST_DESIGNS]]
    counts = {int(key): _count(count) for key, _, count in asked if _is_key(key)}
    found = designs_in_order(list(counts))
    if not found:
        return None
    record = read_record()
    offered = {
        "alloy": choices.studio.alloys,
        "flask": choices.flasks,
        "crucible": choices.studio.of_kind("crucible"),
    }
    said: dict[str, Any] = {"alloy": found[0].alloy} if found[0].alloy else {}
    for name, records in offered.items():
        key = request.GET.get(name, "")
        chosen = [one for one in records if str(one.pk) == key]
        said |= {name: chosen[0]} if chosen else {}
    return Begun(tuple((learn(design, record), counts[design.pk]) for design in found), said)


def _is_key(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) <= _LONGEST_KEY


def _count(text: str) -> int:
    return min(int(text), MOST_OF_ONE_KIND) if _is_key(text) and int(text) else 1


def _list_gaps(choices: PlanChoices) -> list[tuple[str, str]]:
    """What has to be known before a cast can be planned, and where it is written down."""
    wanted = (
        (choices.studio.alloys, "the alloys you cast", "inventory:starters"),
        (choices.patterns, "a wax or other pattern material, with its density", "inventory:material-new"),
        (choices.powders, "your investment powder", "inventory:material-new"),
        (choices.flasks, "a flask, with its inside diameter and height", "inventory:equipment-list"),
        (choices.kilns, "your kiln", "inventory:equipment-list"),
        (choices.schedules, "a kiln schedule", "inventory:setup"),
    )
    return [(words, reverse(name)) for offered, words, name in wanted if not offered]
